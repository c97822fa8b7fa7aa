// Is a steady stretch of a log a hold to learn from? Not while the motor is at rest.

import type { LogAnswer, LoggedHold } from "./log.ts";

/** Below this share of the most current in the log nothing flies: an idle stretch. */
const IDLE_SHARE = 0.03;

/** A stick at its end may read up to this, %; from here on little current is only a light load. */
const STICK_END_PCT = 10;

/** Whether a steady stretch is one with the motor at rest: no hold to learn from. */
export function isIdle({ measured }: LoggedHold, { ranges }: LogAnswer): boolean {
    const { throttle_pct, pack_A } = measured;
    if (throttle_pct !== null && throttle_pct <= 0) return true;
    const most = ranges.current_A?.[1] ?? 0;
    const draws = typeof pack_A !== "number" || pack_A >= IDLE_SHARE * most;
    return !draws && (throttle_pct === null || throttle_pct < STICK_END_PCT);
}
