// Where is everything computed? Here, off the page's thread: the worker holds the core and answers
// the calls of door.ts. The page compiles the module and posts it, so that one worker serves both
// builds.

import { load, type Hotband } from "../../../wasm/load.mjs";
import type { LogLook, LogMapping } from "../log/log.ts";
import { answerWith } from "./messages.ts";

let core: Hotband | undefined;

function started(): Hotband {
    if (!core) throw new Error("the core has not been started");
    return core;
}

/** Fetched when a file is first opened. */
const reading = () => import("../log/log.ts");

const calls = {
    async start(module: WebAssembly.Module): Promise<void> {
        core = await load(module);
    },
    advise: (setup: string, samples?: number) => started().advise(setup, samples),
    link: (setup: string) => started().link(setup),
    unlink: (link: string) => started().unlink(link),
    lookAtLog: async (file: Blob) => (await reading()).lookAtLog(file),
    unitsOf: async (look: LogLook, columns: LogMapping["columns"]) =>
        (await reading()).unitsOf(look, columns),
    readLog: async (
        file: Blob,
        look: LogLook,
        mapping: LogMapping,
        setup: object | null,
        onProgress: (share: number) => void,
    ) => (await reading()).readLog(started(), file, look, mapping, setup, onProgress),
};

export type CoreCalls = typeof calls;

answerWith(calls);
