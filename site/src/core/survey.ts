// What would the peak be in other air, and a hold's at another frequency? Other air moves all draws alike: the
// report's own figures are carried there, each rise over the air in proportion, by what the core answers without
// draws. Another frequency does not, nor does air in which some draws run away: there the core is asked for all.
// At the air and the frequency as told they are the report's own, to the last digit.

import { isObject, merged, valueAt, type Json, type JsonObject } from "../setup/json.ts";
import type { Report, Spread } from "./report.ts";

/** The report on a setup, with so many draws or as many as the core takes; undefined where it has none. */
export type Ask = (setup: JsonObject, draws?: number) => Promise<Report | undefined>;

export interface AirPeak {
    air_C: number;
    peak_C: Spread;
}

export interface PwmPeaks {
    pwm_Hz: number;
    /** one for each hold of the report; null where the heat runs away */
    peaks_C: (number | null)[];
}

/** Without draws: the middle plant alone. */
const MIDDLE = 0;

/** A rise too small to be carried in proportion, K. */
const LEAST_RISE_K = 1;

/** A peak `told_C` in air of `air_C`, where the middle plant goes from one peak to another. */
export function carried(
    told_C: number,
    air_C: number,
    from_C: number,
    to: { air_C: number; peak_C: number },
): number {
    const before = from_C - air_C;
    const after = to.peak_C - to.air_C;
    return before > LEAST_RISE_K && after > LEAST_RISE_K
        ? to.air_C + ((told_C - air_C) * after) / before
        : told_C + to.peak_C - from_C;
}

const inAir = (setup: JsonObject, air_C: number): JsonObject =>
    merged(setup, { air: { temperature_C: air_C } }) as JsonObject;

/** At another frequency; what was measured was measured at the one as told. */
export function atFrequency(setup: JsonObject, pwm_Hz: number): JsonObject {
    const told = valueAt(setup, "esc.pwm_Hz") as Json;
    const rows = setup.measured;
    return merged(setup, {
        esc: { pwm_Hz },
        ...(Array.isArray(rows) && {
            measured: rows.map((row) => (isObject(row) ? { pwm_Hz: told, ...row } : row)),
        }),
    }) as JsonObject;
}

/** The flight's peak in airs from cold to hot, the one as told among them. `live` turns false when nobody
 *  waits for it any more. */
export async function overAir(
    { report, setup }: { report: Report; setup: JsonObject },
    ask: Ask,
    live: () => boolean,
    air_C: number,
): Promise<AirPeak[] | undefined> {
    const told = report.esc.peak_C;
    const from = (await ask(inAir(setup, air_C), MIDDLE))?.esc.peak_C.p50 ?? null;
    const peaks: AirPeak[] = [];
    for (const there of airs(air_C)) {
        if (!live()) return undefined;
        if (there === air_C) {
            peaks.push({ air_C, peak_C: told });
            continue;
        }
        const changed = inAir(setup, there);
        const to = (await ask(changed, MIDDLE))?.esc.peak_C.p50 ?? null;
        const all = [told.p10, told.p50, told.p90].map((celsius) =>
            celsius === null || from === null || to === null
                ? null
                : carried(celsius, air_C, from, { air_C: there, peak_C: to }),
        );
        if (all.every((celsius) => celsius !== null)) {
            const [p10 = null, p50 = null, p90 = null] = all;
            peaks.push({ air_C: there, peak_C: { p10, p50, p90 } });
        } else {
            const whole = await ask(changed);
            if (whole) peaks.push({ air_C: there, peak_C: whole.esc.peak_C });
        }
    }
    return peaks;
}

/** Airs that are flown in, deg C. */
const COLDEST = -10;
const WARMEST = 50;
const STEP = 10;

function airs(told: number): number[] {
    const all = new Set([told]);
    for (let air = COLDEST; air <= WARMEST; air += STEP) all.add(air);
    return [...all].sort((a, b) => a - b);
}

/** The holds' peaks at each of the frequencies that the report compares. */
export async function overPwm(
    { report, setup }: { report: Report; setup: JsonObject },
    ask: Ask,
    live: () => boolean,
): Promise<PwmPeaks[] | undefined> {
    const told_Hz = valueAt(setup, "esc.pwm_Hz");
    const rows: PwmPeaks[] = [];
    for (const { pwm_Hz } of report.pwm.choices) {
        if (!live()) return undefined;
        const there = pwm_Hz === told_Hz ? report : await ask(atFrequency(setup, pwm_Hz));
        const peaks = new Map(
            there?.holds.map((hold) => [hold.throttle_pct, hold.hold_peak_C.p50]),
        );
        rows.push({
            pwm_Hz,
            peaks_C: report.holds.map((hold) => peaks.get(hold.throttle_pct) ?? null),
        });
    }
    return rows;
}
