// What stays on this phone? The setup being edited with its way back, setups kept by name, what stood here
// before, and how the reader likes it shown. Each tab has work of its own; what another tab or an earlier
// visit was at is never written over, but moved to what stood here before.

import type { Level } from "../core/report";
import { alike, type JsonObject } from "../setup/json";
import type { Scale } from "../words/scale";
import { freshId, nameOfSetup } from "./names";
import { layDown, onShelf, openShelf } from "./shelf";
import { readAside, readList, readNow, readRows, readScale, type Read } from "./sound";

export interface Tried {
    id: string;
    text: string;
    /** the patch that takes it back */
    back: JsonObject;
    /** readings that there were with it: later ones are not its own */
    rows?: number;
}

/** What the pilot is at. */
export interface Work {
    setup: JsonObject;
    /** name of the example that this still is */
    example?: string | undefined;
    tried: Tried[];
    /** questions answered with "not measured" */
    unmeasured: string[];
}

/** One step back: what was done, and the work before it. */
export interface Step {
    text: string;
    /** the entry that was edited: typing on is the same step */
    path?: string | undefined;
    work: Work;
}

/** The work as it is kept, bad entries included. */
export interface Now extends Work {
    /** the last setup that the core gave an answer for */
    good?: JsonObject | undefined;
    /** the fragment this page wrote last: another one came from elsewhere */
    link?: string | undefined;
    undo: Step[];
    /** which tab wrote it */
    tab?: string | undefined;
}

/** The verdict that stood over a setup when it was kept. */
export interface Brief {
    level: Level;
    peak_C: number | null;
}

export interface Saved {
    id: string;
    name: string;
    setup: JsonObject;
    /** ms since 1970; none in lists of the first version */
    date?: number;
    /** null: it had none, an entry was missing or not accepted */
    verdict?: Brief | null;
}

interface Kept {
    now: Now;
    before: Saved[];
    saved: Saved[];
    scale: Scale;
    rows: Record<string, JsonObject>;
    /** what stood under the others and could not be read */
    aside: unknown[];
}

const READ: { [Key in keyof Kept]: (value: unknown) => Read<Kept[Key]> } = {
    now: readNow,
    before: readList,
    saved: readList,
    scale: readScale,
    rows: readRows,
    aside: readAside,
};
const KEYS = Object.keys(READ) as (keyof Kept)[];
const MOST_BEFORE = 8;
const MOST_STEPS = 20;
/** Steps that together are longer than this (characters of JSON) are forgotten, the oldest first. */
const LONGEST_UNDO = 200_000;

const tab = freshId();
/** Tabs whose work this one goes on with. */
const own = new Set([tab]);

export function kept<Key extends keyof Kept>(key: Key): Kept[Key] | undefined {
    const value = onShelf(key);
    return value === undefined ? undefined : READ[key](value).value;
}

/** Whether it is kept: false in a private window, or with no space left. */
export const keep = <Key extends keyof Kept>(key: Key, value: Kept[Key]): Promise<boolean> =>
    layDown(key, value);

/** A list of setups, whatever another version left there. */
export const keptList = (key: "saved" | "before"): Saved[] => kept(key) ?? [];

/** Puts aside what cannot be read, before anything is written in its place. */
function putAside(): void {
    const aside = new Map((kept("aside") ?? []).map((one) => [JSON.stringify(one), one]));
    const before = aside.size;
    for (const key of KEYS) {
        const value = onShelf(key);
        if (value === undefined) continue;
        for (const one of READ[key](value).rest) aside.set(JSON.stringify(one), one);
    }
    if (aside.size > before) void keep("aside", [...aside.values()]);
}

/** Puts what stood here in front of the list of such; a tab has one place in it. */
export function keepBefore(one: Saved): void {
    const rest = keptList("before").filter(
        ({ id, setup }) => id !== one.id && !own.has(id) && !alike(setup, one.setup),
    );
    void keep("before", [one, ...rest].slice(0, MOST_BEFORE));
}

const TAB_KEY = "hotband.tab";

function inTab(): Now | undefined {
    try {
        return readNow(JSON.parse(sessionStorage.getItem(TAB_KEY) ?? "")).value;
    } catch {
        return undefined;
    }
}

/** Opens what is kept and says what this tab goes on with. */
export async function openPhone(): Promise<Now | undefined> {
    await openShelf(KEYS);
    putAside();
    const mine = inTab();
    const last = kept("now");
    if (mine?.tab) own.add(mine.tab);
    const another = mine !== undefined && last?.tab !== undefined && last.tab !== mine.tab;
    if (last?.tab && !another && !(await isAlive(last.tab))) own.add(last.tab);
    void navigator.locks?.request(lockOf(tab), () => new Promise(() => undefined));
    return another ? mine : (last ?? mine);
}

const lockOf = (name: string): string => `hotband ${name}`;

/** Whether the tab is still open; where a browser does not tell, it may be. */
async function isAlive(name: string): Promise<boolean> {
    try {
        const { held } = await navigator.locks.query();
        return (held ?? []).some((lock) => lock.name === lockOf(name));
    } catch {
        return true;
    }
}

/** Keeps the work at once. What the page notes by itself, not `byPilot`, never takes the place of another
 *  tab's work. */
export function keepNow(now: Now, byPilot: boolean): Promise<boolean> {
    const last = kept("now");
    const foreign = last?.tab !== undefined && !own.has(last.tab);
    const mine = { ...now, undo: fitting(now.undo), tab };
    try {
        sessionStorage.setItem(TAB_KEY, JSON.stringify(mine));
    } catch {
        // the tab's own copy is the third one
    }
    if (foreign && !byPilot) return Promise.resolve(true);
    if (foreign && last.tab !== undefined) {
        const { setup } = last;
        keepBefore({ id: last.tab, name: nameOfSetup(setup), setup, date: Date.now() });
    }
    return keep("now", mine);
}

function fitting(steps: Step[]): Step[] {
    const taken: Step[] = [];
    let length = 0;
    for (const step of [...steps].reverse().slice(0, MOST_STEPS)) {
        length += JSON.stringify(step).length;
        if (length > LONGEST_UNDO) break;
        taken.push(step);
    }
    return taken.reverse();
}
