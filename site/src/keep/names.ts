// What is a kept setup called, on the page and among the others?

import type { JsonObject } from "../setup/json";

export const freshId = (): string =>
    globalThis.crypto.randomUUID?.() ?? `${Date.now()}-${Math.random()}`;

/** A name as it is shown: within other text it turns nothing round but itself (Unicode Standard Annex 9). */
export function shown(name: string): string {
    const plain = name.replace(/[\u061C\u200E\u200F\u202A-\u202E\u2066-\u2069]/g, "");
    const toLeft = /[\u0590-\u08FF\uFB1D-\uFDFF\uFE70-\uFEFF]|[\u{10800}-\u{10FFF}]/u.test(plain);
    return toLeft ? `\u2068${plain}\u2069` : plain;
}

export const nameOfSetup = (setup: JsonObject): string =>
    (typeof setup.name === "string" && shown(setup.name)) || "Model without a name";
