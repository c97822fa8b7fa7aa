// How is one value of a setup read, replaced and put back? Plain JSON objects, dotted paths as the
// core names them (`flight.parts[2].seconds`), and JSON merge patches (RFC 7396). Nothing is mutated.

export type Json = string | number | boolean | null | Json[] | JsonObject;
export interface JsonObject {
    [key: string]: Json | undefined;
}

type Step = string | number;

function steps(path: string): Step[] {
    return [...path.matchAll(/([^.[\]]+)/g)].map((m) => {
        const name = m[0];
        return /^\d+$/.test(name) ? Number(name) : name;
    });
}

export function isObject(value: unknown): value is JsonObject {
    return typeof value === "object" && value !== null && !Array.isArray(value);
}

/** The value at `path`, or undefined where the setup does not go so far. */
export function valueAt(setup: JsonObject, path: string): Json | undefined {
    let here: Json | undefined = setup;
    for (const step of steps(path)) {
        if (Array.isArray(here)) here = here[Number(step)];
        else if (isObject(here)) here = here[step];
        else return undefined;
    }
    return here;
}

/** A copy with `value` at `path`; undefined takes the entry out, and objects left empty with it. */
export function withValue(setup: JsonObject, path: string, value: Json | undefined): JsonObject {
    const placed = place(setup, steps(path), value);
    return isObject(placed) ? placed : {};
}

function place(here: Json | undefined, path: Step[], value: Json | undefined): Json | undefined {
    const [first, ...rest] = path;
    if (first === undefined) return value;
    if (typeof first === "number") {
        const list = Array.isArray(here) ? [...here] : [];
        const placed = place(list[first], rest, value);
        if (placed === undefined) list.splice(first, 1);
        else list[first] = placed;
        return list;
    }
    const object: JsonObject = isObject(here) ? { ...here } : {};
    const placed = place(object[first], rest, value);
    if (placed === undefined || (isObject(placed) && Object.keys(placed).length === 0)) {
        delete object[first];
    } else {
        object[first] = placed;
    }
    return object;
}

/** RFC 7396: objects merge, null takes out, everything else replaces. */
export function merged(target: Json | undefined, patch: Json): Json {
    if (!isObject(patch)) return patch;
    const result: JsonObject = isObject(target) ? { ...target } : {};
    for (const [key, value] of Object.entries(patch)) {
        if (value === null || value === undefined) delete result[key];
        else result[key] = merged(result[key], value);
    }
    return result;
}

/** The patch that takes `patch` back again from what `target` becomes by it. */
export function inverse(target: Json | undefined, patch: JsonObject): JsonObject {
    const back: JsonObject = {};
    for (const [key, value] of Object.entries(patch)) {
        const before = isObject(target) ? target[key] : undefined;
        if (before === undefined) back[key] = null;
        else if (isObject(value) && isObject(before)) back[key] = inverse(before, value);
        else back[key] = before;
    }
    return back;
}

/** What is behind the first `count` of the list under `key` is kept by `next`, at the list's end. */
export function withLater(
    next: JsonObject,
    of: JsonObject,
    key: string,
    count: number,
): JsonObject {
    const list = (value: Json | undefined): Json[] => (Array.isArray(value) ? value : []);
    const later = list(of[key]).slice(count);
    return later.length > 0 ? { ...next, [key]: [...list(next[key]), ...later] } : next;
}

/** Whether they hold the same, in the same order. */
export const alike = (a: JsonObject, b: JsonObject): boolean =>
    JSON.stringify(a) === JSON.stringify(b);
