// How does the page ask the core? One door: typed calls, each answering a value or the full list of
// problems; a failure of the core itself is a rejected promise. Behind it stand workers of their own for short
// answers, for whole ones and for pictures, so that no answer waits for a longer one.

import type { Answer } from "../../../wasm/load.mjs";
import type { LogAnswer, LogCells, LogLook, LogMapping, Units } from "../log/log";
import type { JsonObject } from "../setup/json";
import type { Report } from "./report";
import { callsTo, type Caller } from "./messages";
import { startWorker } from "./start-worker";
import { wasmModule } from "./wasm-module";
import type { CoreCalls } from "./worker";

export type { Answer, Problem } from "../../../wasm/load.mjs";

export interface Door {
    /** Fails where this browser cannot start the core. */
    started: Promise<unknown>;
    /** The quickest answer: without the spread. Asked twice for the same object, it is worked out once. */
    adviseQuick(setup: JsonObject): Promise<Answer<Report>>;
    /** The whole answer, with as many draws as the core thinks right. */
    adviseWhole(setup: JsonObject): Promise<Answer<Report>>;
    /** Of a setup or a changed one, for a picture: with so many draws, or all. */
    adviseAside(setup: JsonObject, draws?: number): Promise<Answer<Report>>;
    link(setup: JsonObject): Promise<Answer<string>>;
    unlink(link: string): Promise<Answer<JsonObject>>;
    /** A logger's file before it is read: columns, first rows, guesses. */
    lookAtLog(file: Blob): Promise<LogLook>;
    /** The units of other columns than those guessed. */
    unitsOf(look: LogLook, columns: LogMapping["columns"]): Promise<Units>;
    /** The whole file read as the pilot said; `setup` null: no prediction beside it. `onProgress` is
     *  told the share read, 0..1. */
    readLog(
        file: Blob,
        look: LogLook,
        mapping: LogMapping,
        setup: JsonObject | null,
        onProgress: (share: number) => void,
    ): Promise<LogReading>;
}

export interface LogReading {
    answer: Answer<LogAnswer>;
    cells: LogCells;
}

const NO_DRAWS = 0;

/** A worker that has not started in this time, far longer than a slow phone takes, may never: a browser can lose
 *  its script on the way. The next one is given twice as long, ms. */
const PATIENCE_MS = 8000;

const after = (ms: number): Promise<undefined> =>
    new Promise((done) => setTimeout(() => done(undefined), ms));

type Core = Promise<Caller<CoreCalls>>;

/** A core in a worker of its own, started when first asked for, and anew after it ended. */
function coreOf(module: Promise<WebAssembly.Module>): () => Core {
    let core: Core | undefined;
    const start = async (patience_ms: number): Core => {
        const worker = startWorker();
        const call = callsTo<CoreCalls>(worker, () => (core = undefined));
        try {
            // the worker's script and the module arrive side by side
            const begun = call("start", await module).then(() => call);
            const ready = await Promise.race([begun, after(patience_ms)]);
            if (ready) return ready;
        } catch (cause) {
            // a core that failed to start is not the one to be asked next
            core = undefined;
            worker.terminate();
            throw cause;
        }
        worker.terminate();
        return start(2 * patience_ms);
    };
    return () => (core ??= start(PATIENCE_MS));
}

export function openDoor(): Door {
    const module = wasmModule();
    const quick = coreOf(module);
    const whole = coreOf(module);
    const aside = coreOf(module);
    let last: { setup: JsonObject; answer: Promise<Answer<Report>> } | undefined;
    return {
        started: quick(),
        adviseQuick(setup) {
            if (last?.setup === setup) return last.answer;
            const text = JSON.stringify(setup);
            const answer = quick().then((call) => call("advise", text, NO_DRAWS)) as Promise<
                Answer<Report>
            >;
            last = { setup, answer };
            return answer;
        },
        async adviseWhole(setup) {
            return (await whole())("advise", JSON.stringify(setup)) as Promise<Answer<Report>>;
        },
        async adviseAside(setup, draws) {
            return (await aside())("advise", JSON.stringify(setup), draws) as Promise<
                Answer<Report>
            >;
        },
        link: async (setup) => (await quick())("link", JSON.stringify(setup)),
        unlink: async (link) => (await quick())("unlink", link) as Promise<Answer<JsonObject>>,
        lookAtLog: async (file) => (await whole())("lookAtLog", file),
        unitsOf: async (look, columns) => (await whole())("unitsOf", look, columns),
        readLog: async (file, look, mapping, setup, onProgress) =>
            (await whole())("readLog", file, look, mapping, setup, onProgress),
    };
}
