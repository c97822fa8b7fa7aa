// How far does it go before it is too much? The limits of the day and of the model, each the last value at
// which the flight still keeps its limit.

import type { Limits, Report } from "../core/report";
import { useAxis } from "../figures/axis";
import { Readings } from "../figures/Figure";
import { clock, written } from "../words/numbers";
import { useWords, type Wording } from "../words/scale";

type LimitKey = Exclude<keyof Limits, "text">;

const NAMES: [LimitKey, string, (value: number, words: Wording) => string][] = [
    ["warmest_air_C", "Warmest air", (value, words) => words.quantity(value, "deg C")],
    ["highest_field_m", "Highest field", (value) => `${written(value)} m`],
    ["longest_flight_s", "Longest flight", (value) => clock(value)],
    ["most_full_throttle_A", "Most current at full throttle", (value) => `${written(value)} A`],
    ["smallest_esc_A", "Smallest ESC", (value) => `${written(value)} A`],
];

export const hasLimits = ({ limits }: Report): boolean => limits !== undefined && limits !== null;

export function LimitList({ report: { limits } }: { report: Report }) {
    const words = useWords();
    const axis = useAxis();
    if (!limits) return null;
    // a rotor has no full throttle
    const asked = NAMES.filter(
        ([key]) =>
            limits[key] !== undefined &&
            !(key === "most_full_throttle_A" && axis.name === "Power" && limits[key] === null),
    );
    const pairs = asked.map(([key, name, shown]): [string, string] => {
        const value = limits[key];
        return [name, value === null ? "none" : shown(value, words)];
    });
    return (
        <>
            {limits.text && <p class="figure-title">{words.sentence(limits.text)}</p>}
            <Readings pairs={pairs} />
        </>
    );
}
