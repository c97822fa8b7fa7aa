// The report, contract v1, as plain structs. report/ turns it into JSON; advise/ fills it.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "bridge/esc.hpp"
#include "flight/march.hpp"
#include "setup/setup.hpp"

namespace hotband {

/// 10, 50 and 90 % of the draws. Without draws only the middle is known. Thermal runaway has no
/// temperature: its p50 is not a number, its p10 and p90 are empty.
struct Band {
    std::optional<double> p10;
    double p50 = 0;
    std::optional<double> p90;
};

enum class Level { fine, watch, stop };

/// One thing that moved the verdict's level.
struct Reason {
    std::string key;
    Level level = Level::watch;
    std::string text;
};
struct Verdict {
    Level level = Level::fine;
    std::string headline;
    std::vector<Reason> reasons;  // worst first; none when all is fine
};

struct EscReport {
    Band peak_C;
    double junction_peak_C = 0;
    double limit_C = 100;
    double margin_K = 0;
    std::optional<double> chance_over_limit;
    bool runaway = false;
};

struct SeriesRow {
    double t_s = 0, throttle_pct = 0;
    Band board_C;
    double junction_C = 0, pack_V = 0, pack_A = 0, motor_A = 0, charge_pct = 0;
    double motor_C = 0;  // windings
};

struct LongestHold {
    double throttle_pct = 0, seconds = 0, peak_C = 0;
};

struct FlightReport {
    double seconds = 0;
    EndedBy ended_by = EndedBy::reserve;
    std::optional<double> cool_down_s;       // until within 5 K of the air; empty: never
    std::vector<LongestHold> longest_holds;  // shares: each share flown in one go
    bool governor_saturates = false;         // full duty cannot hold the rotor's speed somewhere
    bool rotor_speed_reached = true;         // some part holds it on the pack as it starts
    std::optional<double> limit_after_s;     // when the flight passes the limit; empty: it does not
    std::vector<SeriesRow> series;
};

/// Kelvin by cause; they add up to the rise exactly.
struct WhyParts {
    double conduction = 0;  // switches, traces and plugs
    double freewheel = 0, switching = 0, commutation = 0, capacitor = 0;
    double supply = 0;  // BEC and electronics
    double air = 0;     // less air over the ESC
    double run_time = 0;
    double other = 0;  // over the air: a warm start and the sun
};
struct Why {
    double throttle_pct = 0;
    double rise_over_full_K = 0;
    WhyParts parts;
    std::string text;
};
/// The same for the rise over the air; of a hold that runs away, the rise to the limit.
struct WhyOverAir {
    double throttle_pct = 0;
    double rise_K = 0;
    WhyParts parts;
    std::string text;
};

struct HoldReport {
    double throttle_pct = 0, duty = 0, pack_A = 0, motor_A = 0, rpm = 0;
    Losses losses;
    double esc_efficiency = 0, motor_efficiency = 0, system_efficiency = 0;
    std::optional<double> steady_C;  // empty: thermal runaway, it never settles
    double hold_s = 0, hold_mean_C = 0;
    EndedBy ended_by = EndedBy::reserve;
    Band hold_peak_C;
    Band motor_C;                // windings at the end of the hold
    Band pack_A_band, rpm_band;  // half way through the hold, asked holds alone
    std::optional<double> share_reached;
    std::optional<double> seconds_to_limit;
    double air_speed_mps = 0;
    bool saturated = false;  // full duty cannot hold the rotor's speed to the end
    bool runaway = false;    // its heat runs away before the hold ends
    Why why;
};

struct ThrottleBand {
    std::optional<double> runaway_from_pct;  // lowest throttle whose heat runs away
    double from_pct = 0, to_pct = 0, hottest_pct = 0;
    Level level = Level::fine;
    std::string text;
};

struct PwmChoice {
    double pwm_Hz = 0, esc_peak_C = 0, motor_ripple_pct = 0, esc_loss_W = 0,
           motor_ripple_loss_W = 0, total_loss_W = 0, capacitor_rms_A = 0, resonance_ratio = 0,
           flight_s = 0;
    bool runaway = false;
    std::optional<Band> esc_peak_band_C;  // empty without draws, as the next
    std::optional<double> chance_best;    // sums to 1 over the choices
};
struct PwmReport {
    std::vector<PwmChoice> choices;
    double recommended_Hz = 0;
    std::string text;
};

struct Change {
    std::string id, text;
    std::optional<double> esc_peak_change_K;  // empty: it ends a thermal runaway
    double flight_change_s = 0;
    std::string cost;
    // Of the draws, each with and without the change; empty without draws.
    std::optional<Band> esc_peak_change_band_K;
    std::optional<double> chance_helps;  // that the ESC is cooler by what one would notice
    std::optional<bool> keeps_limit;     // at least `sure`
    std::vector<std::string> ids;        // of a change of two parts
    double peak_C = 0;                   // of the flight with it
    bool runs_away = false;              // with it
    Setup changed;  // the whole setup after it; report/ writes the difference as a merge patch
};

/// Where a figure has to lie: up to its bound, from its bound on, or outside bound..bound_high.
enum class Side { at_most, at_least, outside };

/// One check: a figure against a bound, and where the bound comes from.
struct CheckItem {
    std::string key, label;
    double value = 0, bound = 0;
    std::optional<double> bound_high;  // side outside
    Side side = Side::at_most;
    std::string unit;
    bool ok = true;
    bool serious = false;  // fails by so much that this alone forbids the flight
    std::string basis;
};
struct CheckGroup {
    bool ok = true;
    std::vector<CheckItem> items;
};
struct Checks {
    CheckGroup rating, pack, capacitor, supply;
};

struct RowFit {
    int row = 0;
    double hold_mean_C = 0, hold_peak_C = 0;
    std::optional<double> steady_C, share_reached;
    double hold_s = 0, air_speed_mps = 0, motor_A = 0;
    std::optional<double> trace_rms_K;
};
struct Misfit {
    int row = 0;
    double off_K = 0;  // within 1000 either way, beyond which `text` says so; 0: of a speed
    std::string text;
    bool misleads = false;  // a current: what is told of the load follows it all the same
};
struct LearnedParameter {
    std::string key;
    std::array<double, 2> prior = {}, posterior = {};  // 10 and 90 %
};
struct NextRun {
    double throttle_pct = 0, pwm_Hz = 0;
    double band_before_K = 0, band_after_K = 0;
    std::string text;
};
struct Learned {
    int rows = 0;
    std::vector<RowFit> fit;
    std::vector<Misfit> misfit;
    std::vector<LearnedParameter> parameters;
    double widened = 1;                   // factor on the readings' errors where they disagree
    double apart = 1;                     // and on the range, where they and the estimates do
    std::optional<double> chance_active;  // of an active freewheel, where nobody told
    std::optional<NextRun> next_run;
    bool failed = false;  // the readings taught nothing
    std::string text;
};

/// The full-throttle (or hover) current where nobody told it: what is believed of it, and what a
/// reading would be worth.
struct UntoldCurrent {
    std::string key;  // load.full_throttle_A or load.hover_A
    Band pack_A;
    std::optional<double> band_before_K, band_after_K;  // of the flight's peak; without draws empty
    std::string text;
};

enum class HoverEnd { reserve, sag, limit, runaway };

/// A hover held from take-off on.
struct Hover {
    double seconds = 0;    // as likely longer as shorter
    double land_by_s = 0;  // it lasts so long with 90 % chance
    HoverEnd ended_by = HoverEnd::reserve;
    std::string text;
};

/// The last values at which the flight still keeps the ESC's limit with 90 % chance, each alone.
struct Limits {
    std::optional<double> warmest_air_C, highest_field_m, longest_flight_s, most_full_throttle_A,
        smallest_esc_A;
    std::string text;
};

struct Assumption {
    std::string key;
    double value = 0, low = 0, high = 0;
    std::string basis;
    bool told = false;
};

struct Report {
    int samples = 0;
    Verdict verdict;
    EscReport esc;
    FlightReport flight;
    std::vector<HoldReport> holds;
    std::vector<HoldReport> asked_holds;
    std::vector<ThrottleBand> bands;
    PwmReport pwm;
    std::vector<Change> changes;
    Why why;
    WhyOverAir why_over_air;
    std::optional<Hover> hover;
    std::optional<Limits> limits;  // empty without draws
    Checks checks;
    Learned learned;
    std::vector<Assumption> assumptions;
    std::optional<UntoldCurrent> untold_current;
    std::optional<std::string> told_apart;  // what is told of the load excludes each other
    std::vector<std::string> cautions;
};

}  // namespace hotband
