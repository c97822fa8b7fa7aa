// How does a setup become a file and come back? JSON, as the contract has it; all that is kept on the phone
// goes into one file, each setup as it stands.

import type { Door } from "../core/door";
import { isObject, type Json, type JsonObject } from "../setup/json";
import { freshId } from "./names";
import type { Saved } from "./phone";
import { isText, savedIn } from "./sound";

const ALL = "hotband_kept";

function saveText(text: string, name: string): void {
    const blob = new Blob([text], { type: "application/json" });
    const anchor = document.createElement("a");
    anchor.href = URL.createObjectURL(blob);
    anchor.download = `${name.replace(/[^\p{L}\p{N}]+/gu, "-").replace(/^-|-$/g, "") || "setup"}.json`;
    anchor.click();
    setTimeout(() => URL.revokeObjectURL(anchor.href), 1000);
}

export const saveFile = (setup: JsonObject, name: string): void =>
    saveText(JSON.stringify(setup, null, 2), name);

/** The whole list in one file; of what could not be read, another version may make more. */
export const saveAll = (list: Saved[] | unknown[], name = "hotband-all"): void =>
    saveText(JSON.stringify({ [ALL]: 1, setups: list }, null, 2), name);

/** The setups of a file that holds a whole list; undefined when it is none. */
export function listIn(text: string): Saved[] | undefined {
    const value = parsed(text);
    if (!isObject(value) || value[ALL] !== 1 || !Array.isArray(value.setups)) return undefined;
    return value.setups
        .filter(isObject)
        .flatMap((one) => savedIn({ ...one, id: isText(one.id) ? one.id : freshId() }) ?? []);
}

/** More characters than this of what is not accepted no pilot has typed: a whole trace is a third of it. */
const MOST_TYPED = 1_000_000;

/** The setup in a file's text, or why it is none. One that this page saved opens as it stood, with whatever
 *  entry was not accepted in it. */
export async function openFile(
    door: Door,
    text: string,
): Promise<{ setup?: JsonObject; text: string }> {
    const refused = "The file was not opened: ";
    const setup = parsed(text);
    if (!isObject(setup)) return { text: `${refused}it holds no setup.` };
    const answer = await door.adviseQuick(setup);
    if ("ok" in answer || (setup.hotband === 1 && text.length <= MOST_TYPED))
        return { setup, text: "" };
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
