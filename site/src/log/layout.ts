// How is a log laid out? Delimiter, header, decimal sign and the kind of each column, told by the first
// lines of the file. A record is one line, but for a header whose quoted names hold line breaks.

import {
    decimalOf,
    isFigure,
    isMissing,
    kindOf,
    unitBehind,
    type Decimal,
    type Kind,
} from "./cells.ts";
import { headOf, type Encoding } from "./text.ts";
import { headingOf, unitNamed, type Heading } from "./units.ts";

export interface LogColumn extends Heading {
    kind: Kind;
}

export interface Layout {
    encoding: Encoding;
    delimiter: string;
    decimal: Decimal;
    /** false where the cells leave it open: ask the pilot */
    decimalSure: boolean;
    /** line of the header counted from 1; 0 where there is none */
    headerLine: number;
    /** first line of data, counted from 1 */
    dataLine: number;
    columns: LogColumn[];
    /** cells of the first lines of data, for judging by */
    sample: string[][];
    /** nothing is written in its first lines */
    blank: boolean;
    /** mean length of a line in bytes */
    lineBytes: number;
}

const DELIMITERS = [",", ";", "\t", "|"];
const SAMPLE_LINES = 400;
const MOST_HEADER_LINES = 100;

const quotes = (text: string): number => text.split('"').length - 1;

/** Whether a quoted cell is still open at the end of a line: its quote stood at the cell's beginning. */
function leavesOpen(line: string): boolean {
    let open = false;
    for (let at = line.indexOf('"'); at >= 0; at = line.indexOf('"', at + 1)) {
        // a doubled quote closes and opens again
        open = !open && (at === 0 || ',;\t|"'.includes(line[at - 1] ?? ""));
    }
    return open;
}

/** Figures do not stand in a name; where there are quotes, it takes two side by side to tell. */
const onlyFigures = (line: string): boolean =>
    /^[\d.,;\s-]+$/.test(line) ||
    (/^[\d.,;\s"-]+$/.test(line) && /\d[,;\t]-?[\d.]/.test(line.replaceAll('"', "")));

/** The cells of one line; undefined where its quotes do not add up. Quotes as in RFC 4180, white space
 *  allowed behind a closing one. */
function parted(line: string, delimiter: string): string[] | undefined {
    const cells: string[] = [];
    for (let at = 0; ;) {
        let end: number;
        const until = (from: number): number => {
            const found = line.indexOf(delimiter, from);
            return found < 0 ? line.length : found;
        };
        if (line[at] === '"') {
            let cell = "";
            let quote = line.indexOf('"', at + 1);
            let from = at + 1;
            while (quote >= 0 && line[quote + 1] === '"') {
                cell += line.slice(from, quote + 1);
                from = quote + 2;
                quote = line.indexOf('"', from);
            }
            if (quote < 0) return undefined;
            end = until(quote + 1);
            if (line.slice(quote + 1, end).trim() !== "") return undefined;
            cells.push(cell + line.slice(from, quote));
        } else {
            end = until(at);
            cells.push(line.slice(at, end));
        }
        if (end === line.length) return cells;
        at = end + delimiter.length;
    }
}

/** The cells of one line. Where its quotes do not add up they are ordinary characters, and left out. */
export function cellsOf(line: string, delimiter: string): string[] {
    if (!line.includes('"')) return line.split(delimiter);
    return parted(line, delimiter) ?? parted(line.replaceAll('"', ""), delimiter) ?? [line];
}

/** The cells of a block of lines, one row a line whatever quotes are left open in it. */
export const rowsOf = (block: string, delimiter: string): string[][] =>
    block.split("\n").map((line) => cellsOf(line, delimiter));

interface Line {
    /** counted from 1 */
    number: number;
    text: string;
}

/** The lines, with those joined that a quoted name of the header breaks apart. */
function joined(lines: string[]): Line[] {
    const out: Line[] = [];
    for (let i = 0; i < lines.length; i += 1) {
        const number = i + 1;
        let text = lines[i] ?? "";
        if (i < MOST_HEADER_LINES && leavesOpen(text)) {
            let whole = text;
            for (let k = i + 1; k < Math.min(lines.length, i + MOST_HEADER_LINES); k += 1) {
                whole += ` ${lines[k]}`;
                if (quotes(lines[k] ?? "") % 2 === 0) continue;
                if (!lines.slice(i, k + 1).some(onlyFigures)) {
                    text = whole;
                    i = k;
                }
                break;
            }
        }
        out.push({ number, text });
    }
    return out;
}

interface Parsed {
    number: number;
    cells: string[];
    figures: number; // share of its told cells that are figures
}

function parsed(lines: Line[], delimiter: string): Parsed[] {
    return lines
        .filter(({ text }) => text.trim() !== "")
        .map(({ number, text }) => {
            const cells = cellsOf(text, delimiter);
            const told = cells.filter((cell) => !isMissing(cell));
            const figures = told.filter(isFigure).length / Math.max(told.length, 1);
            return { number, cells, figures };
        });
}

/** The usual number of cells in rows of figures. */
function usualWidth(rows: Parsed[]): { width: number; share: number } {
    const counts = new Map<number, number>();
    const data = rows.filter((row) => row.figures >= 0.5);
    for (const { cells } of data) counts.set(cells.length, (counts.get(cells.length) ?? 0) + 1);
    let width = 1;
    let most = 0;
    for (const [cells, count] of counts) {
        if (count > most) [width, most] = [cells, count];
    }
    return { width, share: data.length > 0 ? most / data.length : 0 };
}

/** A spreadsheet's `sep=;`, quoted or not: the delimiter, undefined where the line is none. */
const hinted = (line: Line | undefined): string | undefined =>
    /^\s*("?)sep=(\t|[^\s\w"])\1\s*$/i.exec(line?.text ?? "")?.[2];

/** The delimiter that gives rows of one width full of figures. */
function delimiterOf(lines: Line[]): string {
    const hint = hinted(lines[0]);
    if (hint !== undefined) return hint;
    let best = ",";
    let most = 0;
    for (const delimiter of DELIMITERS) {
        const rows = parsed(lines, delimiter);
        const { width, share } = usualWidth(rows);
        if (width < 2) continue;
        const figures = rows.reduce((sum, row) => sum + row.figures, 0) / Math.max(rows.length, 1);
        const score = share * figures;
        if (score > most * 1.05) [best, most] = [delimiter, score];
    }
    return best;
}

/** A line under the header that holds nothing but units. */
function isUnitLine(cells: string[]): boolean {
    const told = cells.map((cell) => cell.replace(/[()[\]]/g, "").trim()).filter(Boolean);
    const units = told.filter((cell) => unitNamed(cell) !== undefined);
    return told.length > 0 && units.length >= 0.7 * told.length;
}

interface Header {
    headerLine: number;
    dataLine: number;
    headings: string[];
    units: string[];
}

function headerOf(rows: Parsed[], width: number): Header {
    // `Rate;10` in a preamble is half a figure: data has more, where any line has
    const half = rows.every((row) => row.figures <= 0.5);
    const isData = (row: Parsed | undefined): boolean =>
        row !== undefined && (half ? row.figures === 0.5 : row.figures > 0.5);
    // the first row of figures, of the usual width, that others follow
    let first = rows.findIndex((row, i) => {
        const next = rows.slice(i + 1, i + 6);
        const followed = next.length === 0 || isData(next[0]);
        return (
            isData(row) &&
            row.cells.length === width &&
            followed &&
            next.filter(isData).length >= next.length / 2
        );
    });
    if (first < 0) first = rows.length;
    const names = (i: number): boolean => {
        const row = rows[i];
        return row !== undefined && row.figures < 0.5 && row.cells.length >= width / 2;
    };
    const dataLine = rows[first]?.number ?? (rows.at(-1)?.number ?? 0) + 1;
    const units = names(first - 1) && isUnitLine(rows[first - 1]?.cells ?? []) && names(first - 2);
    const at = units ? first - 2 : first - 1;
    return {
        headerLine: names(at) ? (rows[at]?.number ?? 0) : 0,
        dataLine,
        headings: names(at) ? (rows[at]?.cells ?? []) : [],
        units: units ? (rows[first - 1]?.cells ?? []) : [],
    };
}

function columnOf(
    heading: string,
    unitCell: string,
    place: number,
    cells: string[],
    decimal: Decimal,
): LogColumn {
    const { name, unit } = headingOf(heading);
    const told = unit || unitNamed(unitCell.replace(/[()[\]]/g, "")) || commonUnit(cells, decimal);
    return { name: name || `Column ${place + 1}`, unit: told, kind: kindOf(cells, decimal) };
}

/** The unit that most cells carry behind their number. */
function commonUnit(cells: string[], decimal: Decimal): string {
    const counts = new Map<string, number>();
    for (const cell of cells) {
        const unit = unitNamed(unitBehind(cell, decimal));
        if (unit) counts.set(unit, (counts.get(unit) ?? 0) + 1);
    }
    for (const [unit, count] of counts) if (count > cells.length / 2) return unit;
    return "";
}

export async function layoutOf(file: Blob): Promise<Layout> {
    const { encoding, lines: all } = await headOf(file);
    const lines = joined(all.slice(0, SAMPLE_LINES));
    const delimiter = delimiterOf(lines);
    const rows = parsed(hinted(lines[0]) === undefined ? lines : lines.slice(1), delimiter);
    const { width } = usualWidth(rows);
    const header = headerOf(rows, width);
    const sample = rows.filter((row) => row.number >= header.dataLine).map((row) => row.cells);
    const { decimal, sure } = decimalOf(sample.flat());
    const count = Math.max(width, header.headings.length, 1);
    const columns = Array.from({ length: count }, (_, place) =>
        columnOf(
            header.headings[place] ?? "",
            header.units[place] ?? "",
            place,
            sample.map((cells) => cells[place] ?? ""),
            decimal,
        ),
    );
    const characters = all.reduce((sum, line) => sum + line.length + 1, 0);
    const perCharacter = encoding.startsWith("utf-16") ? 2 : 1;
    return {
        encoding,
        delimiter,
        decimal,
        decimalSure: sure,
        headerLine: header.headerLine,
        dataLine: header.dataLine,
        columns,
        sample,
        blank: all.every((line) => line.trim() === ""),
        // a file of nothing but its byte order mark has no line to measure
        lineBytes: Math.max((perCharacter * characters) / Math.max(all.length, 1), 1),
    };
}
