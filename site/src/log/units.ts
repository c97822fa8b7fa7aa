// What is a column called, and what is it in? A header as loggers write them, `Temp(°C)`, `Current [A]`,
// `t/ms`, `esc_C`, parted into name and unit.

import { firstOf } from "./text.ts";

/** Units as they are written, and ours; these words and those of roles.ts are the core's own too
 *  (core/logger/words.hpp). */
export const SPELLINGS: Record<string, string[]> = {
    s: ["sec", "secs", "second", "seconds", "sek", "sekunden"],
    ms: ["ms", "msec", "millis", "milliseconds", "millisekunden"],
    us: ["us", "µs", "μs", "usec", "microseconds"],
    min: ["min", "mins", "minutes", "minuten"],
    pct: ["%", "pct", "percent", "prozent"],
    C: ["°c", "ºc", "degc", "deg c", "°", "celsius", "grad"],
    F: ["°f", "ºf", "degf", "deg f", "fahrenheit"],
    A: ["amp", "amps", "ampere", "amperes"],
    mA: ["ma", "milliamps"],
    V: ["volt", "volts"],
    mV: ["mv", "millivolts"],
    W: ["watt", "watts"],
    mAh: ["mah"],
    rpm: ["rpm", "1/min", "u/min"],
    Hz: ["hz", "khz"],
    "m/s": ["m/s", "mps", "km/h", "kph", "mph"],
    m: ["meter", "metres", "meters"],
};

/** One letter is a unit only as it is written by the rules. */
export const LETTERS = new Set(["s", "C", "F", "A", "V", "W", "m", "K", "g"]);

const KNOWN = new Map(
    Object.entries(SPELLINGS).flatMap(([unit, words]) => words.map((word) => [word, unit])),
);

/** Our name of a unit, or undefined. */
export function unitNamed(text: string): string | undefined {
    const word = text.trim();
    if (LETTERS.has(word)) return word;
    return word.length > 1 || /[%°]/.test(word) ? KNOWN.get(word.toLowerCase()) : undefined;
}

export interface Heading {
    name: string;
    /** empty where none is told */
    unit: string;
}

const MOST_NAME = 80;

/** Parts a header cell into name and unit. */
export function headingOf(cell: string): Heading {
    const text = firstOf(cell, MOST_NAME).replace(/\s+/g, " ").trim();
    const patterns = [
        /^(.*?)[\s_]*[([{<]\s*([^)\]}>]+?)\s*[)\]}>]$/,
        /^(.+?)\s*\/\s*([^/\s]+(?:\/[^/\s]+)?)$/,
        /^(.+?)[\s_,;:-]+([^\s_,;:-]+)$/,
        /^(.+?)(%|[°º][CF]?)$/i,
    ];
    for (const pattern of patterns) {
        const [, name = "", told = ""] = pattern.exec(text) ?? [];
        const unit = unitNamed(told);
        if (unit !== undefined) return { name: name.trim() || text, unit };
    }
    return { name: text, unit: unitNamed(text) ?? "" };
}
