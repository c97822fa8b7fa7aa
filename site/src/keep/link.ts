// Which setup does the page start with? The one in the address, unless that is the one this page wrote
// itself; else what was on this phone; else an example. A damaged link says so and changes nothing.

import type { Door } from "../core/door";
import { firstSetup } from "../setup/examples";
import type { JsonObject } from "../setup/json";
import { keep, kept, type Tried } from "./phone";

export interface Start {
    setup: JsonObject;
    good?: JsonObject | undefined;
    link?: string | undefined;
    tried: Tried[];
    notice?: { text: string; back?: JsonObject | undefined } | undefined;
}

interface Opened {
    setup?: JsonObject;
    text: string;
}

export async function openLink(door: Door, text: string): Promise<Opened> {
    const answer = await door.unlink(text);
    if ("ok" in answer) return { setup: answer.ok, text: "" };
    const why = answer.problems.map((problem) => problem.text).join(" ");
    return { text: `The link was not opened: it ${why}. What was on this phone is untouched.` };
}

export async function firstStart(door: Door): Promise<Start> {
    const now = kept("now");
    const stay: Start = now
        ? { setup: now.setup, good: now.good, link: now.link, tried: now.tried }
        : { setup: firstSetup, tried: [] };
    const fragment = decoded(location.hash.slice(1));
    if (!fragment || fragment === now?.link) return stay;
    const opened = await openLink(door, fragment);
    if (!opened.setup) return { ...stay, notice: { text: opened.text } };
    if (now) keep("before", now.setup);
    return {
        setup: opened.setup,
        tried: [],
        notice: { text: "Opened from the link.", back: now?.setup },
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

export const addressOf = (link: string): string => `${location.href.replace(/#.*/s, "")}#${link}`;

/** Puts the link into the address bar, without a new entry in the browser's history. */
export function showLink(link: string): void {
    try {
        history.replaceState(null, "", `#${link}`);
    } catch {
        // a browser may limit how often, or a page opened from a file: the link stays on the page
    }
}
