// How is a number read and written? With the reader's own decimal sign; a comma or a point is accepted.

import { decimalSign, speech } from "./speech.ts";

/** At most so many decimals, none that is nought at the end; no grouping: a grouped number typed back would be
 *  read as a decimal one. */
function decimals(value: number, most: number): string {
    const text = value.toFixed(most);
    if (most === 0) return text;
    const short = text.replace(/\.?0+$/, "");
    return short.includes(".") ? short.replace(".", decimalSign()) : short;
}

/** Written with `significant` figures, whole numbers never cut; a dash for what is not a number. */
export function written(value: number | null | undefined, significant = 3): string {
    if (value === null || value === undefined || !Number.isFinite(value)) return "–";
    const size = value === 0 ? 0 : Math.floor(Math.log10(Math.abs(value)));
    const digits = Math.min(Math.max(significant - 1 - size, 0), 8);
    const text = decimals(value, digits);
    return /[1-9]/.test(text) ? text.replace("-", "−") : "0";
}

/** Written to the tenth, so that a column of them lines up. */
export function tenths(value: number | null | undefined): string {
    if (value === null || value === undefined || !Number.isFinite(value)) return "–";
    const rounded = Math.round(value * 10) / 10;
    const [whole, tenth] = Math.abs(rounded).toFixed(1).split(".");
    return `${rounded < 0 ? "−" : ""}${whole}${decimalSign()}${tenth}`;
}

/** Written with its sign, `+3` or `−3`. */
export function signed(value: number | null | undefined, significant = 2): string {
    const text = written(value, significant);
    return value !== null && value !== undefined && value > 0 && text !== "0" ? `+${text}` : text;
}

/** Minutes and seconds, `5:07`; from an hour on `1 h 05 min`. */
export function clock(seconds: number | null | undefined): string {
    if (seconds === null || seconds === undefined || !Number.isFinite(seconds)) return "–";
    const whole = Math.round(Math.abs(seconds));
    const two = (n: number): string => String(n).padStart(2, "0");
    const minutes = Math.floor(whole / 60);
    const text =
        minutes < 60
            ? `${minutes}:${two(whole % 60)}`
            : `${Math.floor(minutes / 60)}\u00a0h\u00a0${two(minutes % 60)}\u00a0min`;
    return seconds < 0 && whole > 0 ? `−${text}` : text;
}

/** A day and its time, as the reader writes them. */
export const day = (date: number): string =>
    new Intl.DateTimeFormat(speech, { dateStyle: "medium", timeStyle: "short" }).format(date);

/** After how long a limit is reached, if it is. */
export const reached = (seconds: number | null): string =>
    seconds === null ? "not reached" : clock(seconds);

/** A chance, 0..1, in per cent: counted on some hundred draws it is never "0" or "100". */
export function percent(chance: number | null | undefined): string {
    if (chance === null || chance === undefined) return "–";
    if (chance < 0.01) return "under 1\u00a0%";
    if (chance > 0.99) return "over 99\u00a0%";
    return `${written(Math.round(100 * chance))}\u00a0%`;
}

/** What was typed as a number; undefined when it is none. Comma or point, spaces, any minus sign. */
export function read(text: string): number | undefined {
    const plain = text
        .replace(/[\s\u00a0\u202f]/g, "")
        .replace(/[−–]/, "-")
        .replace(",", ".");
    if (!/^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(plain)) return undefined;
    return Number(plain);
}

/** A size as typed, in cm: `25,4`, or as it is marked: `10 in`, `10"`; undefined when it is none. */
export function readSize(text: string): number | undefined {
    const inches = text.replace(/ *(in|["″”]) *$/i, "");
    const size = read(inches);
    if (size === undefined || inches === text) return size;
    return Number((2.54 * size).toPrecision(9));
}

/** A time as typed, in seconds: `90`, `1:30`, `1.5 min`, `2 h`; undefined when it is none. */
export function readTime(text: string, perUnit: number): number | undefined {
    const parts = /^\s*(\d+):([0-5]?\d(?:[.,]\d+)?)\s*$/.exec(text);
    if (parts) return 60 * Number(parts[1]) + (read(parts[2] ?? "") ?? 0);
    const [, figure = "", unit = ""] = /^\s*([^a-z]*?)\s*(s|sec|min|m|h)?\s*$/i.exec(text) ?? [];
    const number = read(figure);
    if (number === undefined) return undefined;
    const seconds = { s: 1, sec: 1, min: 60, m: 60, h: 3600 }[unit.toLowerCase()] ?? perUnit;
    return Number((number * seconds).toPrecision(9));
}

/** Several numbers, parted by spaces or semicolons, or by commas that a space follows. */
export function readSeveral(text: string): number[] | undefined {
    const words = text.split(/;|,\s|\s/).filter((word) => word.trim() !== "");
    const numbers = words.map(read);
    return numbers.every((n) => n !== undefined) ? (numbers as number[]) : undefined;
}

/** The step of a stepper near `value`: 1, 2 or 5 times a power of ten, a few per cent of it. */
function stepNear(value: number, integer: boolean): number {
    if (value === 0) return 1;
    const wish = Math.abs(value) / 20;
    const power = 10 ** Math.floor(Math.log10(wish));
    const mantissa = wish / power;
    const step = (mantissa >= 5 ? 5 : mantissa >= 2 ? 2 : 1) * power;
    return integer ? Math.max(1, Math.round(step)) : step;
}

/** The next multiple of the step above or below. */
export function stepped(value: number, direction: 1 | -1, integer: boolean): number {
    const step = stepNear(value, integer);
    const count = value / step;
    const next = direction > 0 ? Math.floor(count + 1e-6) + 1 : Math.ceil(count - 1e-6) - 1;
    return Number((next * step).toPrecision(6));
}
