// What stays on this phone? The setup being edited, saved setups, and how the reader likes it shown.
// Kept by the browser for this page alone; a browser that keeps nothing loses only that.

import type { JsonObject } from "../setup/json";
import type { Scale } from "../words/scale";

export interface Tried {
    id: string;
    text: string;
    /** the patch that takes it back */
    back: JsonObject;
}

/** What is being edited, bad entries included. */
export interface Now {
    setup: JsonObject;
    /** the last setup that the core gave an answer for */
    good?: JsonObject | undefined;
    /** the fragment this page wrote last: another one came from elsewhere */
    link?: string | undefined;
    tried: Tried[];
}

export interface Saved {
    id: string;
    name: string;
    setup: JsonObject;
}

interface Kept {
    now: Now;
    before: JsonObject;
    saved: Saved[];
    scale: Scale;
    rows: Record<string, JsonObject>;
}

export function kept<Key extends keyof Kept>(key: Key): Kept[Key] | undefined {
    try {
        const text = localStorage.getItem(`hotband.${key}`);
        return text === null ? undefined : (JSON.parse(text) as Kept[Key]);
    } catch {
        return undefined;
    }
}

/** False when the browser keeps nothing (private window, no space left). */
export function keep<Key extends keyof Kept>(key: Key, value: Kept[Key]): boolean {
    try {
        localStorage.setItem(`hotband.${key}`, JSON.stringify(value));
        return true;
    } catch {
        return false;
    }
}
