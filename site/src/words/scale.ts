// In which words and units does the reader want it? Temperatures in deg C or deg F, units with their
// proper signs, and the core's own sentences turned to the same units.

import { createContext } from "preact";
import { useContext } from "preact/hooks";
import type { Field } from "../core/fields";
import { isTemperature } from "../core/fields";
import type { Spread } from "../core/report";
import { decimalSign, signed, written } from "./numbers";

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
const DIFFERENCE = /([+−]?\d+(?:\.\d+)?)\s?K\b/g;

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
        return written(Number(this.toShown(celsius).toFixed(decimals)), 4);
    }
    difference(kelvin: number | null | undefined): string {
        if (kelvin === null || kelvin === undefined) return "–";
        const shown = this.scale === "F" ? kelvin * 1.8 : kelvin;
        // tenths are all that a difference of temperatures is worth
        return signed(Number(shown.toFixed(1)), 2);
    }
    quantity(value: number, unit: string): string {
        if (unit === "deg C") return `${this.temperature(value)}\u00a0${this.degree}`;
        if (unit === "K") return `${this.difference(value)}\u00a0${this.kelvin}`;
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
        if (unit === "deg C") return this.degree;
        if (unit === "K") return this.kelvin;
        return SIGNS.reduce((text, [pattern, sign]) => text.replace(pattern, sign), unit);
    }

    /** A field's value as the number that is shown. */
    shown(field: Field, value: number): number {
        return isTemperature(field) ? this.toShown(value) : value;
    }
    entered(field: Field, shown: number): number {
        return isTemperature(field) ? this.fromShown(shown) : shown;
    }

    /** A sentence of the core in the reader's units and decimal sign. */
    sentence(text: string): string {
        let turned = this.unit(` ${text}`).slice(1);
        if (this.scale === "F") {
            const value = (number: string): number => Number(number.replace("−", "-"));
            const there = (number: string): string => written(Math.round(toF(value(number))));
            turned = turned
                .replace(ABSOLUTE, (_all, first: string, joined?: string, second?: string) => {
                    if (!joined || second === undefined) return `${there(first)} °F`;
                    return `${there(first)}${joined.replace(second, there(second))} °F`;
                })
                .replace(DIFFERENCE, (_all, k: string) => {
                    const rise = written(Math.round(value(k) * 1.8));
                    return `${k.startsWith("+") ? "+" : ""}${rise} °F`;
                });
        }
        const sign = decimalSign();
        return sign === "." ? turned : turned.replace(/(\d)\.(?=\d)/g, `$1${sign}`);
    }
}

export const Words = createContext(new Wording("C"));
export const useWords = (): Wording => useContext(Words);

/** Names whose capitals the trade keeps. */
const SPELLED: Record<string, string> = {
    lipo: "LiPo",
    lihv: "LiHV",
    liion: "Li-ion",
    lifepo4: "LiFePO4",
};

/** A choice of the field table as the trade spells it. */
export const spelled = (choice: string): string => SPELLED[choice] ?? plainWord(choice);

/** `dead_time` as a word for the reader. */
export const plainWord = (key: string): string => key.replace(/[_-]/g, " ");
