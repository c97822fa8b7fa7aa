// What does the core answer? Types of what the page reads of the report, version 1 (units stand in the names), and nothing
// computed. What is optional here came later: an older core leaves it out. p10 and p90 are null in the first, quick answer; a temperature is null where the ESC's heat
// runs away and there is none.

export interface Spread {
    p10: number | null;
    p50: number | null;
    p90: number | null;
}

export type Level = "fine" | "watch" | "stop";

/** The rise of a hold over full throttle by cause; the parts add up. */
export interface Why {
    throttle_pct: number;
    text: string;
    parts_K: Record<string, number | null>;
}

/** The rise of the hottest hold over the air by cause: for a hover there is no full throttle to compare with. */
export interface WhyOverAir {
    throttle_pct: number;
    text: string;
    parts_K: Record<string, number | null>;
}

/** How long a rotor can hover. */
export interface Hover {
    seconds: number | null;
    /** 90 % sure */
    land_by_s: number | null;
    ended_by: string;
    text: string;
}

/** The last value of each at which the flight still keeps its limit with 90 % chance; null where none does. */
export interface Limits {
    warmest_air_C: number | null;
    highest_field_m: number | null;
    longest_flight_s: number | null;
    most_full_throttle_A: number | null;
    smallest_esc_A: number | null;
    text: string;
}

export interface Reason {
    key: string;
    level: Level;
    text: string;
}

export interface Hold {
    throttle_pct: number;
    duty: number;
    pack_A: number;
    motor_A: number;
    rpm: number;
    losses_W: Record<string, number>;
    esc_efficiency: number;
    motor_efficiency: number;
    steady_C: number | null;
    hold_s: number;
    hold_mean_C: number | null;
    hold_peak_C: Spread;
    seconds_to_limit: number | null;
    air_speed_mps: number;
    why: Why;
    /** windings, at the end of the hold */
    motor_C?: Spread | null;
    ended_by?: string;
}

export interface Moment {
    t_s: number;
    throttle_pct: number;
    board_C: Spread;
    junction_C: number | null;
    pack_V: number;
    pack_A: number;
    motor_A: number;
    charge_pct: number;
    motor_C?: number | null;
}

export interface Band {
    from_pct: number;
    to_pct: number;
    level: Level;
    text: string;
}

export interface PwmChoice {
    pwm_Hz: number;
    esc_peak_C: number | null;
    runaway: boolean;
    motor_ripple_pct: number;
    esc_loss_W: number;
    motor_ripple_loss_W: number;
    total_loss_W: number;
    capacitor_rms_A: number;
    resonance_ratio: number;
    flight_s: number;
    /** sums to 1 over the choices */
    chance_best?: number | null;
    esc_peak_band_C?: Spread | null;
}

export interface Change {
    id: string;
    text: string;
    esc_peak_change_K: number | null;
    flight_change_s: number;
    cost: string;
    /** JSON merge patch on the setup (RFC 7396). */
    patch: Record<string, unknown>;
    esc_peak_change_band_K?: Spread | null;
    chance_helps?: number | null;
    /** with it the flight keeps its limit */
    keeps_limit?: boolean | null;
    /** of a change of two parts: both */
    ids?: string[];
}

export interface Check {
    key: string;
    label: string;
    value: number;
    bound: number;
    unit: string;
    ok: boolean;
    basis: string;
    side?: "at_most" | "at_least" | "outside";
    /** of "outside": the upper end of what is to be kept away from */
    bound_high?: number | null;
    /** failing it alone forbids the flight */
    serious?: boolean;
}

export interface Assumption {
    key: string;
    value: number;
    low: number;
    high: number;
    /** from the pilot: what stands here is how exactly */
    told: boolean;
    basis: string;
}

export interface Report {
    /** `reasons`: what moved the level, worst first */
    verdict: { level: Level; headline: string; reasons?: Reason[] };
    esc: {
        peak_C: Spread;
        limit_C: number;
        margin_K: number | null;
        chance_over_limit: number | null;
        runaway: boolean;
    };
    flight: {
        seconds: number;
        ended_by: string;
        cool_down_s: number | null;
        /** null: the flight does not pass the limit */
        limit_after_s: number | null;
        /** of a mix told in shares: each share flown in one go */
        longest_holds: { throttle_pct: number; seconds: number; peak_C: number | null }[];
        series: Moment[];
    };
    holds: Hold[];
    bands: Band[];
    pwm: { choices: PwmChoice[]; recommended_Hz: number; text: string };
    changes: Change[];
    why: Why;
    why_over_air?: WhyOverAir | null;
    hover?: Hover | null;
    limits?: Limits | null;
    checks: Record<string, { ok: boolean; items: Check[] }>;
    learned: {
        rows: number;
        text: string;
        misfit: { row: number; text: string }[];
        fit: { row: number; hold_mean_C: number; hold_peak_C: number }[];
        next_run: { text: string } | null;
        parameters: { key: string; prior: [number, number]; posterior: [number, number] }[];
    };
    /** where no current is told */
    untold_current?: { text: string };
    assumptions: Assumption[];
    cautions: string[];
}

export const failedChecks = (report: Report): number =>
    Object.values(report.checks).reduce(
        (sum, { items }) => sum + items.filter((check) => !check.ok).length,
        0,
    );
