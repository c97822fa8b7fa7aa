// Which setup does the page start with? The one in the address, unless that is the one this page wrote
// itself; else what was on this phone; else an empty one. A damaged link says so and changes nothing.

import type { Good } from "../core/answer";
import type { Door } from "../core/door";
import { emptySetup } from "../setup/model";
import type { JsonObject } from "../setup/json";
import { nameOfSetup } from "./names";
import { keep, keepBefore, openPhone, type Now, type Step } from "./phone";

export interface Start {
    now: Now;
    notice?: string | undefined;
    /** what was said of it on an earlier visit */
    known?: Good | undefined;
}

interface Opened {
    setup?: JsonObject;
    text: string;
}

/** A pasted text may be the whole address, or what stands behind its #. */
const codeIn = (text: string): string => text.trim().replace(/^.*#/s, "");

export async function openLink(door: Door, text: string): Promise<Opened> {
    const answer = await door.unlink(decoded(codeIn(text)));
    if ("ok" in answer) return { setup: answer.ok, text: "" };
    const why = answer.problems.map((problem) => problem.text).join(" ");
    return { text: `The link was not opened: it ${why}. What was on this phone is untouched.` };
}

/** `phone`: what was on it, asked for while the core arrives. */
export async function firstStart(door: Door, phone: ReturnType<typeof openPhone>): Promise<Start> {
    const now = await phone;
    const stay: Start = {
        now: now ?? { setup: emptySetup, tried: [], unmeasured: [], undo: [] },
    };
    const fragment = decoded(location.hash.slice(1));
    if (!fragment || fragment === now?.link) return stay;
    const opened = await openLink(door, fragment);
    if (!opened.setup) return { ...stay, notice: opened.text };
    // a half-written reading is of its model
    void keep("rows", {});
    const undo: Step[] = [];
    if (now) {
        const { setup } = now;
        undo.push(...now.undo, { text: "The link opened", work: now });
        keepBefore({ id: "link", name: nameOfSetup(setup), setup, date: Date.now() });
    }
    return {
        now: { setup: opened.setup, tried: [], unmeasured: [], undo },
        notice: "Opened from the link.",
    };
}

/** Some programs escape what a fragment may hold as it is. */
function decoded(fragment: string): string {
    try {
        return decodeURIComponent(fragment);
    } catch {
        return fragment;
    }
}

/** A page that lies on this phone as a file has no address that another phone could open. */
export const hasAddress = location.protocol !== "file:";

export const addressOf = (link: string): string =>
    hasAddress ? `${location.href.replace(/#.*/s, "")}#${link}` : link;
