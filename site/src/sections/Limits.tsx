// How far does it go before it is too much? The limits of the day and of the model, each the last value at
// which the flight still keeps its limit.

import type { Good } from "../core/answer";
import type { Limits, Report } from "../core/report";
import { Readings } from "../figures/Figure";
import { useEditing } from "../form/editing";
import { belongs } from "../setup/model";
import { useWords } from "../words/scale";

type LimitKey = Exclude<keyof Limits, "text">;

/** With its unit, and the field at whose end the search ends: asked where that field goes with the model. */
const NAMES: [LimitKey, string, string, string?][] = [
    ["warmest_air_C", "Warmest air", "deg C", "air.temperature_C"],
    ["highest_field_m", "Highest field", "m", "air.altitude_m"],
    ["longest_flight_s", "Longest flight", "s"],
    [
        "most_full_throttle_A",
        "Most current at full throttle, by heat alone",
        "A",
        "load.full_throttle_A",
    ],
    ["smallest_esc_A", "Smallest ESC, by heat alone", "A"],
];

export const hasLimits = ({ limits }: Report): boolean => limits !== undefined && limits !== null;

export function LimitList({ good: { report, setup } }: { good: Good }) {
    const { limits } = report;
    const words = useWords();
    const { table } = useEditing();
    if (!limits) return null;
    const pairs = NAMES.flatMap(([key, name, unit, sought = ""]): [string, string][] => {
        const field = table.find(sought);
        if (field && !belongs(field, table, setup)) return [];
        const value = limits[key];
        if (value === null) return [[name, "none"]];
        const most = field?.most ?? Infinity;
        return [[name, words.quantity(value, unit) + (value < most ? "" : " and more")]];
    });
    return (
        <>
            <p class="figure-title">{words.sentence(limits.text)}</p>
            <Readings pairs={pairs} />
        </>
    );
}
