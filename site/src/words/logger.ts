// In which words are a logger's columns asked for and named?

import type { LogColumn, Role, Units } from "../log/log";

interface RoleWords {
    label: string;
    /** where it may be in several: the choices, and how they are written */
    unit?: keyof Units;
    units?: Record<string, string>;
}

/** In the order they are asked. */
export const ROLE_WORDS: Record<Role, RoleWords> = {
    time_s: {
        label: "Time",
        unit: "time_unit",
        units: { s: "s", ms: "ms", us: "µs", min: "min" },
    },
    throttle_pct: {
        label: "Throttle",
        unit: "throttle_unit",
        units: { pct: "%", us: "µs", share: "0 to 1" },
    },
    current_A: { label: "Current", unit: "current_unit", units: { A: "A", mA: "mA" } },
    voltage_V: { label: "Voltage", unit: "voltage_unit", units: { V: "V", mV: "mV" } },
    esc_C: {
        label: "ESC temperature",
        unit: "temperature_unit",
        units: { C: "°C", F: "°F" },
    },
    rpm: { label: "Motor speed, rpm" },
};

const UNIT_SIGNS: Record<string, string> = { pct: "%", us: "µs", C: "°C", F: "°F" };

/** The name with its unit, as far as the file tells it. */
export const nameOfColumn = ({ name, unit }: LogColumn): string =>
    unit ? `${name}, ${UNIT_SIGNS[unit] ?? unit}` : name;
