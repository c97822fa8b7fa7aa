// Which number stands in a cell? Decimal point or comma, grouped thousands, a unit behind the number,
// clock times and dates. What is no number is told apart from what is merely missing.

export type Decimal = "." | ",";
export type Kind = "number" | "clock" | "date" | "text" | "empty";

/** No number is longer, and the patterns below are for short texts. */
const MOST_LENGTH = 64;

/** A cell that holds nothing on purpose. */
const MISSING = /^(?:-+|–|—|n\/?a|nan|null|none|nil|\?+|\*+)?$/i;

/** What may stand behind a number. */
const UNIT_BEHIND =
    /\s*(?:°\s*[CF]?|º\s*[CF]?|deg\s?[CF]?|%|[mµμu]?s|sec|min|[mµμk]?[VAW]|m?Ah|[CFKgm]|rpm|[kM]?Hz|km\/h|m\/s|mph)$/;

// an exponent wants a point or a sign: 1E5 is as likely a hexadecimal number
const PLAIN = /^[+-]?(?:\d+\.?\d*|\.\d+)$/;
const SCIENTIFIC = /^[+-]?(?:\d+\.\d*e[+-]?|\.\d+e[+-]?|\d+e[+-])\d{1,3}$/i;
const GROUPED: Record<Decimal, RegExp> = {
    ".": /^[+-]?\d{1,3}(?:,\d{3})+(?:\.\d*)?$/,
    ",": /^[+-]?\d{1,3}(?:\.\d{3})+(?:,\d*)?$/,
};
const SPACED = /^[+-]?\d{1,3}(?:[\s\u00a0\u202f'’]\d{3})+(?:[.,]\d*)?$/;

export const isMissing = (cell: string): boolean =>
    cell.length <= MOST_LENGTH ? MISSING.test(cell.trim()) : cell.trim() === "";

function bareNumber(text: string, decimal: Decimal): number {
    if (PLAIN.test(text) && !(decimal === "," && GROUPED[","].test(text))) return Number(text);
    if (SPACED.test(text)) return bareNumber(text.replace(/[\s\u00a0\u202f'’]/g, ""), decimal);
    if (GROUPED[decimal].test(text)) {
        const bare = text.replaceAll(decimal === "." ? "," : ".", "");
        return Number(bare.replace(",", "."));
    }
    const pointed = decimal === "," ? text.replace(",", ".") : text;
    if (PLAIN.test(pointed) || SCIENTIFIC.test(pointed)) return Number(pointed);
    return NaN;
}

/** Without white space around it, a minus sign or a dash before it written as ours. */
const plain = (cell: string): string => cell.trim().replace(/^[−–]/, "-");

/** The number in a cell, NaN where there is none. */
export function numberIn(cell: string, decimal: Decimal): number {
    if (cell.length > MOST_LENGTH) return NaN;
    const text = plain(cell);
    const bare = bareNumber(text, decimal);
    if (!Number.isNaN(bare)) return bare;
    const unit = UNIT_BEHIND.exec(text);
    return unit ? bareNumber(text.slice(0, unit.index), decimal) : NaN;
}

/** The unit behind a number, empty where there is none. */
export function unitBehind(cell: string, decimal: Decimal): string {
    if (cell.length > MOST_LENGTH) return "";
    const text = plain(cell);
    const unit = UNIT_BEHIND.exec(text);
    if (!unit || Number.isNaN(bareNumber(text.slice(0, unit.index), decimal))) return "";
    return unit[0].trim();
}

const CLOCK = /^(\d{1,4}):(\d{1,2})(?::(\d{1,2}))?(?:[.,:](\d{1,9}))?\s*([ap])?\.?(?:m\.?)?$/i;
const DATE =
    /^(?:(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})|(\d{1,2})[-/.](\d{1,2})[-/.](\d{4}|\d{2}))(?:[T\s,]+(\d{1,2}:\d{2}.*?))?\s*(Z|[+-]\d{2}:?\d{2})?$/is;

/** Seconds of a time of day, or of a time run: h:mm:ss, h:mm:ss.fff, mm:ss. */
export function clockIn(cell: string): number {
    if (cell.length > MOST_LENGTH) return NaN;
    const match = CLOCK.exec(cell.trim());
    if (!match) return NaN;
    const [, first, second, third, fraction, half] = match;
    // of two numbers the first are minutes, unless it is a time of day
    const parts = (third ?? half) ? [first, second, third ?? 0] : [0, first, second];
    const [h = 0, m = 0, s = 0] = parts.map(Number);
    if (m >= 60 || s >= 60) return NaN;
    const afternoon = half ? (h % 12) + (half.toLowerCase() === "p" ? 12 : 0) : h;
    return afternoon * 3600 + m * 60 + s + (fraction ? Number(`0.${fraction}`) : 0);
}

/** Seconds since 1970 of a date with its time of day. Where day and month may be either, the day
 *  comes first: only differences of time count. */
export function dateIn(cell: string): number {
    if (cell.length > MOST_LENGTH) return NaN;
    const match = DATE.exec(cell.trim());
    if (!match) return NaN;
    const [, year, month, day, a, b, shortYear, clock, zone] = match;
    const monthFirst = Number(b) > 12;
    const y = Number(year ?? (shortYear?.length === 2 ? `20${shortYear}` : shortYear));
    const m = Number(month ?? (monthFirst ? a : b));
    const d = Number(day ?? (monthFirst ? b : a));
    const midnight = Date.UTC(y, m - 1, d) / 1000;
    if (m < 1 || m > 12 || new Date(midnight * 1000).getUTCDate() !== d) return NaN;
    const seconds =
        clock === undefined ? 0 : clockIn(clock.match(/^\d+:\d+$/) ? `${clock}:00` : clock);
    return midnight + seconds - zoneSeconds(zone);
}

function zoneSeconds(zone: string | undefined): number {
    const match = /([+-])(\d{2}):?(\d{2})/.exec(zone ?? "");
    if (!match) return 0;
    const [, sign, hours, minutes] = match;
    return (sign === "-" ? -60 : 60) * (Number(hours) * 60 + Number(minutes));
}

/** What most of the cells are. */
export function kindOf(cells: string[], decimal: Decimal): Kind {
    const told = cells.filter((cell) => !isMissing(cell));
    if (told.length === 0) return "empty";
    const share = (read: (cell: string) => number): number =>
        told.filter((cell) => !Number.isNaN(read(cell))).length / told.length;
    if (share((cell) => numberIn(cell, decimal)) > 0.5) return "number";
    if (share(clockIn) > 0.5) return "clock";
    if (share(dateIn) > 0.5) return "date";
    return "text";
}

/** True for what stands in data rather than in a header. */
export const isFigure = (cell: string): boolean =>
    [numberIn(cell, "."), numberIn(cell, ","), clockIn(cell), dateIn(cell)].some(
        (n) => !Number.isNaN(n),
    );

/** Which sign do these cells use, and is it beyond doubt? `1,234` alone may be either. */
export function decimalOf(cells: Iterable<string>): { decimal: Decimal; sure: boolean } {
    let point = 0;
    let comma = 0;
    let either = 0;
    for (const cell of cells) {
        if (cell.length > MOST_LENGTH) continue;
        const text = plain(cell).replace(UNIT_BEHIND, "");
        if (/^[+-]?(?:\d{1,3}(?:[\s'’,]\d{3})*|\d+)?\.\d+$/.test(text)) {
            const doubtful = /^[+-]?[1-9]\d{0,2}\.\d{3}$/.test(text);
            if (!doubtful) point += 1;
        } else if (/^[+-]?(?:\d{1,3}(?:[\s'’.]\d{3})*|\d+),\d+$/.test(text)) {
            const doubtful = /^[+-]?[1-9]\d{0,2},\d{3}$/.test(text);
            doubtful ? (either += 1) : (comma += 1);
        }
    }
    if (comma > point) return { decimal: ",", sure: true };
    // loggers seldom group thousands: a lone comma is a decimal one
    if (point === 0 && either > 0) return { decimal: ",", sure: false };
    return { decimal: ".", sure: point > 0 || either === 0 };
}
