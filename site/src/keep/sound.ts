// What of the storage can this version read? Another one may have left anything there, and so may a hand: what
// is not as it should be is told apart, so that it neither breaks the page nor is written over.

import { isObject, type JsonObject } from "../setup/json";
import { nameOfSetup } from "./names";
import type { Brief, Now, Saved, Step, Tried, Work } from "./phone";

/** What was read, and what was not to be. */
export interface Read<T> {
    value: T | undefined;
    rest: unknown[];
}

const listOf = <T>(value: unknown, is: (one: unknown) => one is T): T[] =>
    Array.isArray(value) ? value.filter(is) : [];

export const isText = (value: unknown): value is string => typeof value === "string";

const isCount = (value: unknown): value is number | undefined =>
    value === undefined || (Number.isInteger(value) && (value as number) >= 0);

const isTried = (one: unknown): one is Tried =>
    isObject(one) && isText(one.id) && isText(one.text) && isObject(one.back) && isCount(one.rows);

/** Undefined where there is no setup in it. */
function workIn(value: unknown): Work | undefined {
    if (!isObject(value) || !isObject(value.setup)) return undefined;
    return {
        setup: value.setup,
        ...(isText(value.example) && { example: value.example }),
        tried: listOf(value.tried, isTried),
        unmeasured: listOf(value.unmeasured, isText),
    };
}

const stepsIn = (value: unknown): Step[] =>
    listOf(value, isObject).flatMap(({ text, path, work }): Step[] => {
        const before = workIn(work);
        return before && isText(text)
            ? [{ text, ...(isText(path) && { path }), work: before }]
            : [];
    });

export function readNow(value: unknown): Read<Now> {
    const work = workIn(value);
    if (!work || !isObject(value)) return { value: undefined, rest: [value] };
    const { good, link, tab } = value;
    return {
        value: {
            ...work,
            undo: stepsIn(value.undo),
            ...(isObject(good) && { good }),
            ...(isText(link) && { link }),
            ...(isText(tab) && { tab }),
        },
        rest: [],
    };
}

const LEVELS: unknown[] = ["fine", "watch", "stop"] satisfies Brief["level"][];

const isBrief = (value: unknown): value is Brief & JsonObject =>
    isObject(value) &&
    LEVELS.includes(value.level) &&
    (value.peak_C === null || typeof value.peak_C === "number");

/** A kept setup with what is sound of what goes with it; undefined where there is none. */
export function savedIn(one: unknown): Saved | undefined {
    if (!isObject(one) || !isObject(one.setup) || !isText(one.id)) return undefined;
    const { id, name, setup, date, verdict, ...more } = one;
    return {
        ...more,
        id,
        name: isText(name) ? name : nameOfSetup(setup),
        setup,
        ...(typeof date === "number" && { date }),
        ...(verdict !== undefined && { verdict: isBrief(verdict) ? verdict : null }),
    };
}

export function readList(value: unknown): Read<Saved[]> {
    if (!Array.isArray(value)) return { value: undefined, rest: [value] };
    const list: Saved[] = [];
    const rest: unknown[] = [];
    for (const one of value as unknown[]) {
        const read = savedIn(one);
        if (read) list.push(read);
        const { name, date, verdict } = (isObject(one) ? one : {}) as Partial<Saved>;
        const whole = read?.name === name && read?.date === date && read?.verdict === verdict;
        if (!read || !whole) rest.push(one);
    }
    return { value: list, rest };
}

export const readScale = (value: unknown): Read<"C" | "F"> =>
    value === "C" || value === "F" ? { value, rest: [] } : { value: undefined, rest: [value] };

export const readRows = (value: unknown): Read<Record<string, JsonObject>> =>
    isObject(value) && Object.values(value).every(isObject)
        ? { value: value as Record<string, JsonObject>, rest: [] }
        : { value: undefined, rest: [value] };

/** What was put aside before: any list. */
export const readAside = (value: unknown): Read<unknown[]> =>
    Array.isArray(value) ? { value, rest: [] } : { value: undefined, rest: [] };
