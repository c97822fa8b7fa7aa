// Which column is the time, the throttle, the current, the voltage, the ESC's temperature, the motor's speed?
// A guess from names, units and figures, with how sure it is. Nothing is taken without the pilot: a guess only fills
// in the choices that the page shows.

import { clockIn, dateIn, numberIn, type Decimal } from "./cells.ts";
import type { Layout, LogColumn } from "./layout.ts";

export const ROLES = ["time_s", "throttle_pct", "current_A", "voltage_V", "esc_C", "rpm"] as const;
export type Role = (typeof ROLES)[number];

/** `sure`: name and unit agree and no other column is like it; `likely`: one of them tells it;
 *  `unsure`: others may be it as well. */
export type Confidence = "sure" | "likely" | "unsure";

export interface Guess {
    /** place of the column, counted from 0 */
    column: number;
    confidence: Confidence;
}

/** What the columns are in, as the core takes it. */
export interface Units {
    time_unit: "s" | "ms" | "us" | "min";
    throttle_unit: "pct" | "us" | "share";
    current_unit: "A" | "mA";
    voltage_unit: "V" | "mV";
    temperature_unit: "C" | "F";
}

interface Sign {
    /** words of a name, in several languages, accents left out */
    words: string[];
    units: string[];
    /** words that make it something else */
    never: string[];
}

const TEMPERATURE = ["temp", "tmp", "temperature", "temperatur", "temperatura", "templ"];
export const ESC = [
    ...["esc", "regler", "controller", "speedcontroller", "steller", "fahrtregler", "fet", "fets"],
    ...["mosfet", "board", "variateur", "controleur", "variador", "regolatore", "regelaar"],
];
const NOT_THE_ESC = [
    ...["motor", "moteur", "motore", "batt", "battery", "batterie", "bateria", "pack", "akku"],
    ...["accu", "cell", "zelle", "rx", "receiver", "empfanger", "gps", "ambient", "air", "luft"],
    ...["outside", "aussen", "cpu", "mcu", "baro", "bec", "servo", "sensor2"],
];

export const SIGNS: Record<Role, Sign> = {
    time_s: {
        words: [
            ...["time", "timestamp", "elapsed", "clock", "zeit", "uhrzeit", "temps", "tiempo"],
            ...["tempo", "tijd", "tid", "seconds", "sekunden", "t", "date", "datum", "fecha"],
        ],
        units: ["s", "ms", "us", "min"],
        never: ["flight", "total", "remaining", "rest", "on", "air", "delay", "step", "delta"],
    },
    throttle_pct: {
        words: [
            ...["throttle", "thr", "thro", "gas", "gaz", "acelerador", "manetta", "gashebel"],
            ...["drossel", "gasknuppel", "acceleratore"],
        ],
        units: ["pct", "us"],
        never: ["rpm", "limit", "curve"],
    },
    current_A: {
        words: ["current", "curr", "amp", "amps", "ampere", "strom", "courant", "corriente", "i"],
        units: ["A", "mA"],
        never: ["bec", "servo", "rx", "charge", "limit", "phase", "max", "cell", "time"],
    },
    voltage_V: {
        words: ["voltage", "volt", "volts", "spannung", "tension", "voltaje", "tensione", "u"],
        units: ["V", "mV"],
        never: ["bec", "servo", "rx", "receiver", "cell", "zelle", "min", "lowest", "sensor"],
    },
    esc_C: { words: TEMPERATURE, units: ["C", "F"], never: NOT_THE_ESC },
    rpm: {
        words: [
            ...["rpm", "drehzahl", "revs", "revolutions", "motorspeed", "motordrehzahl", "regime"],
            ...["toeren", "giri", "revoluciones"],
        ],
        units: ["rpm"],
        never: ["rotor", "head", "kopf", "electrical", "erpm", "max", "limit", "fan", "gps"],
    },
};

/** The words of a name, small, without accents: `escTemp_max` is esc, temp, max. */
function wordsOf(name: string): string[] {
    return name
        .normalize("NFD")
        .replace(/[\u0300-\u036f]/g, "")
        .replace(/([a-z])([A-Z])/g, "$1 $2")
        .toLowerCase()
        .split(/[^a-z0-9]+/)
        .flatMap((word) => [word, word.replace(/\d+$/, "")])
        .filter((word, i, all) => word !== "" && all.indexOf(word) === i);
}

const NAMED = 2;
const MEASURED = 2;
const SURE = NAMED + MEASURED;
const LIKELY = 2;

function score(role: Role, column: LogColumn): number {
    const { words, units, never } = SIGNS[role];
    const named = wordsOf(column.name);
    const has = (list: string[]): boolean => named.some((word) => list.includes(word));
    let points = (has(words) ? NAMED : 0) + (units.includes(column.unit) ? MEASURED : 0);
    if (role === "esc_C") {
        // a name of the ESC without a unit or the word temperature may be anything of it
        if (points > 0 && has(ESC)) points += NAMED;
        else points = Math.min(points, LIKELY);
    } else if (role === "time_s") {
        points += column.kind === "clock" || column.kind === "date" ? MEASURED : 0;
        // a duration among other figures: only its name makes it the time
        if (!has(words) && column.kind === "number") points = Math.min(points, 1);
    } else if (role === "throttle_pct" && !has(words)) {
        // per cent may be a charge or a signal, microseconds any servo's pulse
        points = Math.min(points, 1);
    }
    if (role === "rpm") {
        // a rotor's speed is not the motor's; the unit is part of the name, or all of it
        if (has(never)) return 0;
        if (points > 0 && column.unit === "rpm") points = SURE;
    }
    if (has(never)) points -= NAMED + 1;
    return points;
}

/** Reads a cell of the kind that the column is of. */
export function reader(kind: LogColumn["kind"], decimal: Decimal): (cell: string) => number {
    if (kind === "clock") return clockIn;
    if (kind === "date") return dateIn;
    return (cell) => numberIn(cell, decimal);
}

function figures(layout: Layout, place: number): number[] {
    const kind = layout.columns[place]?.kind ?? "text";
    return layout.sample
        .map((cells) => reader(kind, layout.decimal)(cells[place] ?? ""))
        .filter((n) => !Number.isNaN(n));
}

/** A clock goes on: hardly a step back, and not all one time. */
function goesOn(values: number[]): boolean {
    const steps = values.slice(1).map((value, i) => value - (values[i] ?? value));
    const back = steps.filter((step) => step < 0).length;
    return steps.some((step) => step > 0) && back <= steps.length / 50;
}

function fits(role: Role, layout: Layout, place: number): boolean {
    const kind = layout.columns[place]?.kind;
    if (role === "time_s") {
        return (
            (kind === "number" || kind === "clock" || kind === "date") &&
            goesOn(figures(layout, place))
        );
    }
    return kind === "number";
}

/** The best column for each role, or null where none is like it. */
export function guessRoles(layout: Layout): Record<Role, Guess | null> {
    const taken = new Set<number>();
    const guess = (role: Role): Guess | null => {
        const scored = layout.columns
            .map((column, place) => ({ place, points: score(role, column) }))
            .filter(({ place }) => !taken.has(place) && fits(role, layout, place))
            .sort((a, b) => b.points - a.points || a.place - b.place);
        const [best, next] = scored;
        if (!best || best.points <= 0) return role === "time_s" ? firstClock(layout) : null;
        const alone = next === undefined || next.points < best.points;
        let confidence: Confidence = "unsure";
        if (alone && best.points >= SURE) confidence = "sure";
        else if (alone && best.points >= LIKELY) confidence = "likely";
        taken.add(best.place);
        return { column: best.place, confidence };
    };
    return Object.fromEntries(ROLES.map((role) => [role, guess(role)])) as Record<
        Role,
        Guess | null
    >;
}

/** Without a name the first column that goes on like a clock. */
function firstClock(layout: Layout): Guess | null {
    const place = layout.columns.findIndex((_, i) => fits("time_s", layout, i));
    return place < 0 ? null : { column: place, confidence: "unsure" };
}

/** The units of the columns chosen: as told in the file, else by the size of the figures. */
export function guessUnits(layout: Layout, columns: Record<Role, number | null>): Units {
    const unit = (role: Role): string => layout.columns[columns[role] ?? -1]?.unit ?? "";
    const values = (role: Role): number[] =>
        columns[role] === null ? [] : figures(layout, columns[role]);
    return {
        time_unit: timeUnit(layout, columns.time_s, unit("time_s"), values("time_s")),
        throttle_unit: throttleUnit(unit("throttle_pct"), values("throttle_pct")),
        current_unit: unit("current_A") === "mA" ? "mA" : "A",
        voltage_unit: unit("voltage_V") === "mV" ? "mV" : "V",
        temperature_unit: unit("esc_C") === "F" ? "F" : "C",
    };
}

function timeUnit(
    layout: Layout,
    column: number | null,
    unit: string,
    values: number[],
): Units["time_unit"] {
    if (column === null || layout.columns[column]?.kind !== "number") return "s";
    if (unit === "s" || unit === "ms" || unit === "us" || unit === "min") return unit;
    const steps = values
        .slice(1)
        .map((value, i) => value - (values[i] ?? value))
        .filter((step) => step > 0)
        .sort((a, b) => a - b);
    const usual = steps[Math.floor(steps.length / 2)] ?? 0;
    // loggers write 1 to 200 rows a second: 5 to 1000 ms, 5000 us and more
    if (usual >= 4000) return "us";
    return usual >= 5 && values.every(Number.isInteger) ? "ms" : "s";
}

function throttleUnit(unit: string, values: number[]): Units["throttle_unit"] {
    if (unit === "pct" || unit === "us") return unit;
    if (values.length === 0) return "pct";
    const most = Math.max(...values);
    const least = Math.min(...values);
    if (least >= 700 && most <= 2400) return "us";
    return most > 0 && most <= 1.1 && least >= -1.1 ? "share" : "pct";
}
