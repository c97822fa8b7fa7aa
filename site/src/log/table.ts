// The whole log as numbers: streamed, so that only what was chosen stands in memory. A cell that holds
// no number becomes NaN and is counted; no line is passed over in silence.

import { isMissing } from "./cells.ts";
import { rowsOf, type Layout } from "./layout.ts";
import { reader } from "./roles.ts";
import { blocksOf, firstOf } from "./text.ts";

/** Lines with something wrong, the first few by number (counted from 1, as an editor shows them). */
export interface Named {
    count: number;
    firstLines: number[];
}

export interface Unreadable extends Named {
    /** place of the column in the file */
    column: number;
    /** the first cells that could not be read, as they stand */
    examples: string[];
}

interface LogTable {
    /** row by row, a number for each chosen column in the order asked for; NaN where there is none */
    table: Float64Array;
    columns: number[];
    names: string[];
    rows: number;
    /** line of each row in the file, counted from 1 */
    lines: Uint32Array;
    unreadable: Unreadable[];
    /** lines with fewer cells than the columns chosen need */
    short: Named;
    /** empty lines are no rows */
    emptyLines: number;
}

const MOST_NAMED = 5;
const DAY_S = 86400;

function name(named: Named, line: number): void {
    named.count += 1;
    if (named.firstLines.length < MOST_NAMED) named.firstLines.push(line);
}

/** Times of day that go on past midnight. */
function pastMidnight(read: (cell: string) => number): (cell: string) => number {
    let last = NaN;
    let days = 0;
    return (cell) => {
        const time = read(cell);
        if (Number.isNaN(time)) return time;
        if (last - time > DAY_S / 2) days += 1;
        last = time;
        return time + days * DAY_S;
    };
}

/** Room for numbers that grows. */
class Growing {
    private numbers: Float64Array;
    private lines: Uint32Array;
    rows = 0;

    constructor(
        private readonly width: number,
        rows: number,
    ) {
        this.numbers = new Float64Array(Math.max(rows, 16) * width);
        this.lines = new Uint32Array(Math.max(rows, 16));
    }

    /** Where the next row goes. */
    open(line: number): { into: Float64Array; at: number } {
        if (this.rows === this.lines.length) {
            const rows = Math.ceil(this.rows * 1.5);
            const numbers = new Float64Array(rows * this.width);
            numbers.set(this.numbers);
            const lines = new Uint32Array(rows);
            lines.set(this.lines);
            [this.numbers, this.lines] = [numbers, lines];
        }
        this.lines[this.rows] = line;
        this.rows += 1;
        return { into: this.numbers, at: (this.rows - 1) * this.width };
    }

    take(): { table: Float64Array; lines: Uint32Array } {
        return {
            table: this.numbers.subarray(0, this.rows * this.width),
            lines: this.lines.subarray(0, this.rows),
        };
    }
}

/** Reads the chosen columns (places counted from 0) of every line of data. */
export async function tableOf(
    file: Blob,
    layout: Layout,
    columns: number[],
    onProgress?: (share: number) => void,
): Promise<LogTable> {
    const readers = columns.map((place) => {
        const kind = layout.columns[place]?.kind ?? "number";
        const read = reader(kind, layout.decimal);
        return kind === "clock" ? pastMidnight(read) : read;
    });
    const unreadable: Unreadable[] = columns.map((column) => ({
        column,
        count: 0,
        firstLines: [],
        examples: [],
    }));
    const short: Named = { count: 0, firstLines: [] };
    const needed = Math.max(0, ...columns) + 1;
    const growing = new Growing(columns.length, Math.ceil(file.size / layout.lineBytes));
    let emptyLines = 0;
    let line = 0;

    function take(cells: string[]): void {
        line += 1;
        if (line < layout.dataLine) return;
        if (cells.length === 1 && cells[0]?.trim() === "") {
            emptyLines += 1;
            return;
        }
        if (cells.length < needed) name(short, line);
        const { into, at } = growing.open(line);
        for (let i = 0; i < columns.length; i += 1) {
            const cell = cells[columns[i] ?? 0] ?? "";
            const value = readers[i]?.(cell) ?? NaN;
            into[at + i] = value;
            if (Number.isNaN(value) && !isMissing(cell)) {
                const bad = unreadable[i];
                if (!bad) continue;
                name(bad, line);
                if (bad.examples.length < MOST_NAMED) bad.examples.push(firstOf(cell, 40));
            }
        }
    }

    for await (const { text, share } of blocksOf(file, layout.encoding)) {
        for (const cells of rowsOf(text, layout.delimiter)) take(cells);
        onProgress?.(share);
    }
    return {
        ...growing.take(),
        columns,
        names: columns.map((place) => layout.columns[place]?.name ?? ""),
        rows: growing.rows,
        unreadable: unreadable.filter(({ count }) => count > 0),
        short,
        emptyLines,
    };
}
