// Where does the page start? It is drawn while the core is fetched and compiled; what stops either is said in
// place of it.

import "./words/speech";
import { render } from "preact";
import { App } from "./app";
import { openDoor } from "./core/door";
import { messageOf } from "./core/messages";
import { table } from "./core/table";
import { keptAnswer } from "./keep/answer";
import { takeEntry } from "./keep/back";
import { firstStart } from "./keep/link";
import { openPhone } from "./keep/phone";
import { watchRoom } from "./look/room";
import "./look/base.css";
import "./look/form.css";
import "./look/figures.css";
import "./look/print.css";

watchRoom();

const page = document.getElementById("page") as HTMLElement;

async function open(): Promise<void> {
    const phone = openPhone();
    const door = openDoor();
    // waited for below, once there is a page to say it on
    door.started.catch(() => undefined);
    const first = await firstStart(door, phone);
    const start = { ...first, known: keptAnswer(first.now.setup) };
    // worked out while the page is drawn, which says so itself if the core fails
    if (!start.known) door.adviseQuick(start.now.setup).catch(() => undefined);
    takeEntry();
    page.replaceChildren();
    render(<App door={door} table={table} start={start} />, page);
    await door.started;
}

open().catch((cause: unknown) => {
    const mast = page.querySelector("header") ?? "";
    const main = document.createElement("main");
    const words = document.createElement("p");
    words.setAttribute("role", "alert");
    words.textContent = `Hotband could not start: ${messageOf(cause)}`;
    main.append(words);
    render(null, page);
    page.replaceChildren(mast, main);
});
