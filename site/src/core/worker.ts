// Where is everything computed? Here, off the page's thread: the worker holds the core and answers
// the calls of door.ts. The page compiles the module and posts it, so that one worker serves both
// builds.

import { expose } from "comlink";
import { load, type Hotband } from "../../../wasm/load.mjs";

let core: Hotband | undefined;

function started(): Hotband {
    if (!core) throw new Error("the core has not been started");
    return core;
}

const calls = {
    async start(module: WebAssembly.Module): Promise<void> {
        core = await load(module);
    },
    advise: (setup: string, samples?: number) => started().advise(setup, samples),
    link: (setup: string) => started().link(setup),
    unlink: (link: string) => started().unlink(link),
    fields: () => started().fields(),
};

export type CoreCalls = typeof calls;

expose(calls);
