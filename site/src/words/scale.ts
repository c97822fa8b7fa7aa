// In which words and units does the reader want it? Temperatures in deg C or deg F, units with their
// proper signs, and the core's own sentences turned to the same units.

import { createContext } from "preact";
import { useContext } from "preact/hooks";
import type { Field } from "../core/fields.ts";
import { isTemperature } from "../core/fields.ts";
import type { Spread } from "../core/report";
import { clock, signed, written } from "./numbers.ts";
import { decimalSign } from "./speech.ts";

export type Scale = "C" | "F";

const SIGNS: [RegExp, string][] = [
    [/\bdeg C\b/g, "°C"],
    [/\bmOhm\b/g, "mΩ"],
    [/\bOhm\b/g, "Ω"],
    [/\buF\b/g, "µF"],
    [/\buH\b/g, "µH"],
    [/\bus\b/g, "µs"],
    [/\b(mm|cm|m)2\b/g, "$1²"],
    [/\bmps\b/g, "m/s"],
    [/(\d)-(?=\d)/g, "$1–"],
    [/(^|[\s(])-(?=\d)/g, "$1−"],
    // a figure and its unit stay on one line
    [
        /(\d) (?=(%|°C|K|[kM]?Hz|m?Ω|µ?F|µH|m?V|k?A|k?W|Wh|m?Ah|rpm|s|min|m\/s|cm²|mm²|cm|mm|m|k?g)(?![\w]))/g,
        "$1\u00a0",
    ],
];

const toF = (celsius: number): number => celsius * 1.8 + 32;

/** `90 °C`, `86–103 °C`, `86 to 103 °C`: the numbers that stand before the sign. */
const ABSOLUTE = /(−?\d+(?:\.\d+)?)((?:–|\s(?:to|and|\.\.)\s)(−?\d+(?:\.\d+)?))?\s?°C/g;
const DIFFERENCE = /([+−]?)(\d+(?:\.\d+)?)\s?K\b/g;

/** What has a name and a unit: a field, or what the core names by a key. */
export type Quantity = Pick<Field, "label" | "unit">;

export class Wording {
    constructor(readonly scale: Scale) {}

    get degree(): string {
        return this.scale === "F" ? "°F" : "°C";
    }
    get kelvin(): string {
        return this.scale === "F" ? "°F" : "K";
    }

    /** A temperature in deg C as the number that is shown. */
    toShown(celsius: number): number {
        return this.scale === "F" ? toF(celsius) : celsius;
    }
    fromShown(shown: number): number {
        return this.scale === "F" ? Number(((shown - 32) / 1.8).toFixed(2)) : shown;
    }
    temperature(celsius: number | null | undefined, decimals = 0): string {
        if (celsius === null || celsius === undefined) return "–";
        // rounded in deg C first: the core's sentences are, and a screen is to agree with itself
        const rounded = Number(celsius.toFixed(decimals));
        return written(Number(this.toShown(rounded).toFixed(decimals)), 4);
    }
    difference(kelvin: number | null | undefined): string {
        if (kelvin === null || kelvin === undefined) return "–";
        // tenths are all that a difference of temperatures is worth
        const decimals = Math.abs(kelvin) < 9.95 ? 1 : 0;
        const rounded = Number(kelvin.toFixed(decimals));
        const shown = this.scale === "F" ? rounded * 1.8 : rounded;
        return signed(Number(shown.toFixed(decimals)), 4);
    }
    quantity(value: number, unit: string): string {
        if (unit === "deg C") return `${this.temperature(value)}\u00a0${this.degree}`;
        if (unit === "K") return `${this.difference(value)}\u00a0${this.kelvin}`;
        if (unit === "Hz") return `${written(value / 1000)}\u00a0kHz`;
        if (unit === "s") return clock(value);
        return unit ? `${written(value)}\u00a0${this.unit(unit)}` : written(value);
    }
    /** A peak with its unit; where the heat runs away there is none. */
    peak(celsius: number | null): string {
        return celsius === null ? "runs away" : `${this.temperature(celsius)}\u00a0${this.degree}`;
    }
    /** `86–103`; open above where the warmest tenth runs away, empty while it is not known. */
    range(spread: Spread): string {
        if (spread.p10 === null) return "";
        if (spread.p90 === null) return `${this.temperature(spread.p10)} and up`;
        return `${this.temperature(spread.p10)}–${this.temperature(spread.p90)}`;
    }

    unit(unit: string): string {
        if (unit === "Hz") return "kHz";
        return this.signs(unit);
    }
    /** `Current, A`: with its unit, where there is one. */
    named({ label, unit }: Quantity): string {
        return label + (unit && `, ${this.unit(unit)}`);
    }

    private signs(unit: string): string {
        if (unit === "deg C") return this.degree;
        if (unit === "K") return this.kelvin;
        return SIGNS.reduce((text, [pattern, sign]) => text.replace(pattern, sign), unit);
    }

    /** A field's value as the number that is shown: frequencies in kHz, as the trade names them. */
    shown(field: Quantity, value: number): number {
        if (field.unit === "Hz") return value / 1000;
        if (this.scale === "F" && field.unit === "K") return value * 1.8;
        return isTemperature(field) ? this.toShown(value) : value;
    }
    entered(field: Field, shown: number): number {
        if (field.unit === "Hz") return Number((shown * 1000).toPrecision(9));
        if (this.scale === "F" && field.unit === "K") return Number((shown / 1.8).toPrecision(4));
        return isTemperature(field) ? this.fromShown(shown) : shown;
    }

    /** What the core says of a field's value: it begins with the value, in the core's own unit. */
    problem(field: Field | undefined, text: string): string {
        if (!field) return this.sentence(text);
        return this.sentence(
            text.replace(/^-?\d+(\.\d+)?(?= )/, (n) => written(this.shown(field, Number(n)), 6)),
        );
    }

    /** A sentence of the core in the reader's units and decimal sign. */
    sentence(text: string): string {
        const kilo = text.replace(
            /(\d+(?:\.\d+)?) Hz\b/g,
            (_all, n: string) => `${Number(n) / 1000} kHz`,
        );
        let turned = this.signs(` ${kilo}`).slice(1);
        if (this.scale === "F") {
            const value = (number: string): number => Number(number.replace("−", "-"));
            const there = (number: string): string => written(Math.round(toF(value(number))));
            turned = turned
                .replace(ABSOLUTE, (_all, first: string, joined?: string, second?: string) => {
                    if (!joined || second === undefined) return `${there(first)} °F`;
                    return `${there(first)}${joined.replace(second, there(second))} °F`;
                })
                .replace(DIFFERENCE, (_all, sign: string, k: string) => {
                    const decimals = k.includes(".") ? 1 : 0;
                    const rise = written(Number((value(k) * 1.8).toFixed(decimals)), 4);
                    // with its sign nought too: it is no temperature
                    return `${sign}${rise} °F`;
                });
        }
        return turned.replace(/(\d)\.(?=\d)/g, (_all, digit: string) => digit + decimalSign());
    }
}

export const Words = createContext(new Wording("C"));
export const useWords = (): Wording => useContext(Words);

/** What the trade writes in its own way. */
const SPELLED: Record<string, string> = {
    lipo: "LiPo",
    lihv: "LiHV",
    liion: "Li-ion",
    lifepo4: "LiFePO4",
    unknown: "do not know",
    governed: "rotor",
    sequence: "by time",
    shares: "by share",
    rating: "ESC and receiver supply",
    charge: "switch charge",
    supply: "receiver supply",
    board: "board and joints",
    capacitor: "capacitors",
    freewheel: "freewheeling",
    air: "less air",
    run_time: "length of the hold",
    time: "the time asked for",
};

/** A choice of the field table, or a key of the report, as the trade spells it. */
export const spelled = (key: string): string => SPELLED[key] ?? plainWord(key);

export const UNIT_SUFFIX =
    /_(mOhm|uF|uH|ns|nC|nH|rpm_per_V|[KJ]_per_[WK]|mps|pct|mAh|cm2|mm2|rpm|kHz|Hz|kg|mm|cm|[VAWCKmgs])$/;

/** `dead_time` as words for the reader. */
export const plainWord = (key: string): string =>
    key
        .replace(UNIT_SUFFIX, "")
        .replace(/[_-]/g, " ")
        .replace(/\b(esc|pwm|bec|esr|ac)\b/gi, (word) => word.toUpperCase());

/** What ends a flight or a hold, after "until". */
const ENDS: Record<string, string> = {
    reserve: "the pack is down to its reserve",
    sag: "the pack sags to its lowest voltage",
    runaway: "the ESC’s heat runs away",
    limit: "the ESC is at its limit",
    time: "its time is over",
    steps: "its calculation was ended early",
};
export const endsWhen = (cause: string): string => ENDS[cause] ?? spelled(cause);
