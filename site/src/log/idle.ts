// Is a steady stretch of a log a hold to learn from? Not while the motor is at rest.

import type { LogAnswer, LoggedHold } from "./log.ts";

/** Below this share of the most current in the log nothing flies: an idle stretch. */
const IDLE_SHARE = 0.03;

/** Whether a steady stretch is one with the motor at rest: no hold to learn from. */
export function isIdle({ measured }: LoggedHold, { ranges }: LogAnswer): boolean {
    if (measured.throttle_pct !== null) return measured.throttle_pct <= 0;
    const most = ranges.current_A?.[1] ?? 0;
    return typeof measured.pack_A === "number" && measured.pack_A < IDLE_SHARE * most;
}
