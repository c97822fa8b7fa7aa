// Types of load.mjs: the core as seven calls, for the page's worker and for the tests in node.

/** One thing wrong with an input: where (`esc.rating_A`; empty for the text as a whole) and what
 *  is accepted instead. */
export interface Problem {
    path: string;
    text: string;
}

/** The answer, or every problem at once. */
export type Answer<T> = { ok: T } | { problems: Problem[] };

/**
 * Every call is synchronous and pure. A call that traps is asked once more, of a fresh instance. It
 * throws an Error only if the core itself fails (out of memory, a defect): the next call then starts
 * on a fresh instance.
 */
export interface Hotband {
    /** Setup JSON -> report. `samples` quasi-random plants make the band (the core's own number when
     *  not told); 0 leaves the band out for the quickest answer. */
    advise<Report = unknown>(setupJson: string, samples?: number): Answer<Report>;
    /** One switching-cycle case or an array of them -> results of the same shape. */
    cycle<Cycle = unknown>(caseJson: string): Answer<Cycle>;
    /** One thermal-network case or an array of them -> results of the same shape. */
    heat<Heat = unknown>(caseJson: string): Answer<Heat>;
    /** Setup JSON -> share-link text. */
    link(setupJson: string): Answer<string>;
    /** Share-link text -> setup. */
    unlink<Setup = unknown>(link: string): Answer<Setup>;
    /** A logger's file -> damaged rows, steady holds, the prediction beside the log. `table` holds
     *  `columns` numbers a row, NaN where a cell is missing; the options say what the columns are
     *  (core/report/door.hpp has both shapes). */
    log<Log = unknown>(table: Float64Array, columns: number, optionsJson: string): Answer<Log>;
    /** The field table. */
    fields<Fields = unknown>(): Answer<Fields>;
}

/** Starts the core from hotband.wasm: its bytes, or the module already compiled. */
export function load(source: WebAssembly.Module | BufferSource): Promise<Hotband>;
