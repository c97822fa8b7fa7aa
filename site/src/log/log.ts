// How is a logger's file read? Look at it, let the pilot say what is what, read it and ask the core.
// Runs in the worker, where the core is: only the answer crosses to the page.

import type { Answer, Hotband, Problem } from "../../../wasm/load.mjs";
import { layoutOf, type Layout, type LogColumn } from "./layout.ts";
import { guessRoles, guessUnits, ROLES, type Guess, type Role, type Units } from "./roles.ts";
import { tableOf, type Named, type Unreadable } from "./table.ts";

export { ROLES } from "./roles.ts";
export type { Confidence, Guess, Role, Units } from "./roles.ts";
export type { LogColumn } from "./layout.ts";
export type { Named, Unreadable } from "./table.ts";

/** What the file looks like, before it is read. */
export interface LogLook {
    columns: LogColumn[];
    /** the first lines of data as they stand */
    preview: string[][];
    guesses: Record<Role, Guess | null>;
    units: Units;
    layout: Layout;
    /** why it is no log; empty where it may be one */
    refusal: string;
}

/** What the pilot says. */
export interface LogMapping {
    /** place of each role's column, counted from 0; null: not logged */
    columns: Record<Role, number | null>;
    units: Units;
    /** seconds from row to row, where no column is the time */
    row_s?: number;
    /** raw values of no and of full throttle, where they are not 0 and 100 %, 1000 and 2000 us */
    throttle_ends?: [number, number];
}

export interface LoggedHold {
    session: number;
    first_row: number;
    last_row: number;
    /** s, the log's own time */
    start_s: number;
    end_s: number;
    text: string;
    /** a row for the setup's `measured`; a throttle of null is for the pilot to tell */
    measured: { throttle_pct: number | null } & Record<string, unknown>;
    /** what a setup would refuse in it */
    problems: Problem[];
}

export interface LogHistory {
    text: string;
    seconds: number;
    samples: number;
    by: "current" | "throttle";
    rms_K: number;
    mean_K: number;
    worst_K: number;
    worst_t_s: number;
    worst_session: number;
    series: { session: number; t_s: number; logged_C: number; predicted_C: number }[];
}

/** The core's answer (`log_text` in core/report/door.hpp). */
export interface LogAnswer {
    rows: number;
    used: number;
    repeated_times: number;
    row_s: number;
    damaged: { reason: string; count: number; first_rows: number[]; first_lines: number[] }[];
    sessions: { first_row: number; last_row: number; start_s: number; end_s: number }[];
    /** of each quantity that was logged; the speed came later */
    ranges: Record<Exclude<Role, "time_s" | "rpm">, [number, number] | null> & {
        rpm?: [number, number] | null;
    };
    steady_by: "throttle" | "current" | null;
    holds: LoggedHold[];
    history: LogHistory | null;
}

/** What the file itself had wrong with it. */
export interface LogCells {
    unreadable: Unreadable[];
    short: Named;
    emptyLines: number;
}

const PREVIEW_ROWS = 8;

/** Looks at the first lines: columns, a preview, and a guess at which is which. */
export async function lookAtLog(file: Blob): Promise<LogLook> {
    const layout = await layoutOf(file);
    const guesses = guessRoles(layout);
    const places = Object.fromEntries(
        ROLES.map((role) => [role, guesses[role]?.column ?? null]),
    ) as Record<Role, number | null>;
    return {
        columns: layout.columns,
        preview: layout.sample.slice(0, PREVIEW_ROWS),
        guesses,
        units: guessUnits(layout, places),
        layout,
        refusal: await refusalOf(file, layout),
    };
}

const LEAST_ROWS = 2;
const LEAST_COLUMNS = 2;

/** Why a file is no log, in words. */
async function refusalOf(file: Blob, layout: Layout): Promise<string> {
    if (layout.blank) return "it is empty.";
    if (await isBinary(file, layout.encoding)) {
        return "it is no text: a picture, a packed file or a logger's own format. Save it as CSV first.";
    }
    const figures = layout.columns.filter(({ kind }) => kind !== "text" && kind !== "empty");
    if (figures.length < LEAST_COLUMNS || layout.sample.length < LEAST_ROWS) {
        return "it holds no rows of figures side by side, as a log does.";
    }
    return "";
}

/** Whether its head holds what no text does. */
async function isBinary(file: Blob, encoding: Layout["encoding"]): Promise<boolean> {
    if (encoding.startsWith("utf-16")) return false;
    const head = new Uint8Array(await file.slice(0, 4096).arrayBuffer());
    const control = head.filter((byte) => byte < 9 || (byte > 13 && byte < 32)).length;
    return control > head.length / 100;
}

/** The units of other columns than those guessed. */
export const unitsOf = (look: LogLook, columns: LogMapping["columns"]): Units =>
    guessUnits(look.layout, columns);

/** Reads the whole file as the pilot said and asks the core. `setup` null: no prediction beside it. */
export async function readLog(
    core: Pick<Hotband, "log">,
    file: Blob,
    look: LogLook,
    mapping: LogMapping,
    setup: object | null,
    onProgress?: (share: number) => void,
): Promise<{ answer: Answer<LogAnswer>; cells: LogCells }> {
    const told = ROLES.filter((role) => mapping.columns[role] !== null);
    const places = [...new Set(told.map((role) => mapping.columns[role] ?? 0))];
    const { table, lines, unreadable, short, emptyLines } = await tableOf(
        file,
        look.layout,
        places,
        onProgress,
    );
    const time = look.columns[mapping.columns.time_s ?? -1];
    const options = {
        setup,
        columns: Object.fromEntries(
            told.map((role) => [role, places.indexOf(mapping.columns[role] ?? 0)]),
        ),
        ...mapping.units,
        // clock times are read as seconds
        time_unit: time && time.kind !== "number" ? "s" : mapping.units.time_unit,
        row_s: mapping.row_s ?? null,
        throttle_ends: mapping.throttle_ends ?? null,
    };
    const answer = core.log<LogAnswer>(table, places.length, JSON.stringify(options));
    if ("ok" in answer) {
        for (const damage of answer.ok.damaged) {
            damage.first_lines = damage.first_rows.map((row) => lines[row] ?? 0);
        }
    }
    return { answer, cells: { unreadable, short, emptyLines } };
}
