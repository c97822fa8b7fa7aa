// How does a setup become a file and come back? JSON, as the contract has it.

import type { Door } from "../core/door";
import { isObject, type Json, type JsonObject } from "../setup/json";

export function saveFile(setup: JsonObject, name: string): void {
    const blob = new Blob([JSON.stringify(setup, null, 2)], { type: "application/json" });
    const anchor = document.createElement("a");
    anchor.href = URL.createObjectURL(blob);
    anchor.download = `${name.replace(/[^\p{L}\p{N}]+/gu, "-").replace(/^-|-$/g, "") || "setup"}.json`;
    anchor.click();
    setTimeout(() => URL.revokeObjectURL(anchor.href), 1000);
}

/** The setup in a file's text, or why it is none. */
export async function openFile(
    door: Door,
    text: string,
): Promise<{ setup?: JsonObject; text: string }> {
    const refused = "The file was not opened: ";
    const setup = parsed(text);
    if (!isObject(setup)) return { text: `${refused}it holds no setup.` };
    const answer = await door.adviseQuick(setup);
    if ("ok" in answer) return { setup, text: "" };
    const why = answer.problems.map((problem) => `${problem.path} ${problem.text}`);
    return { text: `${refused}${why.join("; ")}.` };
}

function parsed(text: string): Json | undefined {
    try {
        return JSON.parse(text) as Json;
    } catch {
        return undefined;
    }
}
