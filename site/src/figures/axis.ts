// Along which axis is a hold told? Throttle for propellers and fans; for rotors shaft power with hover as
// 100 %, to the rotor's own maximum.

import { createContext } from "preact";
import { useContext } from "preact/hooks";
import type { Field } from "../core/fields";
import type { Report } from "../core/report";

/** Left of the axes and right of their end, rem: the slider below a plot keeps to the same. */
export const AXIS_REM = 2.4;
export const END_REM = 0.75;

export interface Axis {
    /** "Throttle" or "Power": of a figure, and of an entry */
    name: string;
    /** behind the last number of the axis */
    unit: string;
    /** the axis' title with its unit */
    title: string;
    /** behind a number in a sentence or a reading */
    of: string;
    most: (report: Report) => number;
    /** what the core compares a hold with */
    whole: string;
}

const THROTTLE: Axis = {
    name: "Throttle",
    unit: "% throttle",
    title: "Throttle, %",
    of: "%",
    most: () => 100,
    whole: "100 %",
};

const HOVER: Axis = {
    name: "Power",
    unit: "% of hover",
    title: "Power, % of hover",
    of: "% of hover",
    most: ({ holds, bands, flight }) =>
        Math.max(
            100,
            ...holds.map((hold) => hold.throttle_pct),
            ...bands.map((band) => band.to_pct),
            ...flight.series.map((moment) => moment.throttle_pct),
        ),
    whole: "hover (100 %)",
};

export const axisFor = (loadKind: unknown): Axis => (loadKind === "governed" ? HOVER : THROTTLE);

/** The columns of a list as such a load's are told: a rotor's throttle is its power. */
export const toldFor = (loadKind: unknown, columns: Field[] = []): Field[] => {
    const { name, of } = axisFor(loadKind);
    return columns.map((column) =>
        column.key === "throttle_pct" ? { ...column, label: name, unit: of } : column,
    );
};

export const AxisContext = createContext(THROTTLE);
export const useAxis = (): Axis => useContext(AxisContext);
