// Where does the page start? The core is fetched and compiled, then the page is drawn; what stops it is
// said in place of it.

import "./words/speech";
import { render } from "preact";
import { App } from "./app";
import { openDoor } from "./core/door";
import { takeEntry } from "./keep/back";
import { firstStart, type Start } from "./keep/link";
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
    const door = await openDoor();
    const begin = async (): Promise<Start> => {
        const start = await firstStart(door, phone);
        // worked out while the page is drawn, which says so itself if the core fails
        door.adviseQuick(start.now.setup).catch(() => undefined);
        return start;
    };
    const [table, start] = await Promise.all([door.fields(), begin()]);
    takeEntry();
    page.replaceChildren();
    render(<App door={door} table={table} start={start} />, page);
}

open().catch((cause: unknown) => {
    const words = document.createElement("p");
    words.setAttribute("role", "alert");
    words.textContent = `Hotband could not start: ${cause instanceof Error ? cause.message : cause}`;
    page.querySelector("main")?.replaceChildren(words);
});
