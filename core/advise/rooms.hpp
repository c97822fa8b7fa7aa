// The rooms of the advice, one function each: every one re-runs the model, none carries rules of
// its own.
#pragma once

#include <array>
#include <span>
#include <vector>

#include "advise/report.hpp"
#include "advise/text.hpp"
#include "flight/flight_plan.hpp"
#include "flight/hold.hpp"
#include "learn/calibrate.hpp"

namespace hotband {

/// Kelvin under the limit that advice keeps: sensors, hot days and the model's own error.
inline constexpr double margin_K = 10;

/// What is called sure, and the quantile of the standard normal that goes with it.
inline constexpr double sure = 0.9;
inline constexpr double z90 = 1.2815515655446004;

/// A flight flown on one plant.
struct FlightRun {
    FlightPlan plan;
    March march;
};
FlightRun run_flight(const Plant& p, const FlightSetup& flight, Steps steps = Steps::fine);

/// The pack gives in as soon as the throttle opens: less than a second of flight or hold.
template <class Run>
bool sags_at_once(const Run& run) {
    return run.ended_by == EndedBy::sag && run.seconds < 1;
}

/// Peak of the board (deg C). A runaway has no temperature: it is hotter than everything.
double peak_of(const March& m);

/// Seconds until the board passes the limit. A runaway's junctions may be lost before the board is
/// as hot: it passes at its end. Empty: never.
std::optional<double> limit_passed_s(const March& m, double limit_C);

/// Current that the ESC stands for a few seconds (A).
double burst_rating_A(const EscSetup& esc);

/// Figures of one hold, but for its `why`.
HoldReport report_hold(const Plant& p, const HoldRun& run);

/// Heat of one cause, W, by where it enters.
struct HeatInput {
    double junction = 0, board = 0;
};
inline constexpr size_t heat_causes = 6;
/// Conduction, freewheel, switching, commutation, capacitor, supply: every loss in one of them.
using CauseHeat = std::array<HeatInput, heat_causes>;
CauseHeat heat_by_cause(const Losses& l);

/// A hold and the peak that the report gives for it (not finite: it runs away).
struct ToldHold {
    const HoldRun* run = nullptr;
    double peak_C = 0;
};

/// Split of the rise in peak temperature from the full-throttle hold to this one, in kelvin.
Why explain(const Plant& p, const ToldHold& hold, const ToldHold& full, Scale in);

/// Split of a hold's rise over the air.
WhyOverAir explain_over_air(const Plant& p, ToldHold hold, Scale in);

/// Throttle bands to avoid, or the hottest one.
std::vector<ThrottleBand> find_bands(const Setup& s, const std::vector<HoldReport>& holds,
                                     Scale in);

/// What a measured row, or behind these a point of the load, is called: "Row 2 (60 %)".
std::string row_name(const Setup& s, size_t row);

/// Currents that cannot be what was meant: by the throttle they are told at, or by the pack.
std::vector<Misfit> find_slips(const Setup& s);

/// In words, where the load's current and its size are told and exclude each other.
std::optional<std::string> told_apart(const Setup& s);

/// The verdict on an otherwise finished report.
Verdict judge(const Setup& s, const Report& r, Scale in);

/// Cautions that go with every report.
std::vector<std::string> list_cautions(const Report& r, Scale in);

/// The setup with an ESC of another rating: what was told of its own does not hold for that one.
Setup with_esc_of(const Setup& s, double rating_A);

/// The setup with a load that draws `factor` times as much.
Setup with_load_times(const Setup& s, double factor);

/// Four figures are plenty for a setup that somebody reads.
double neat(double x);

Checks run_checks(const Setup& s, const Plant& p, const FlightRun& flight);

/// A check in words: figure, what it is of, and what is right.
std::string failed_text(const CheckItem& item, Scale in);

/// Ripple current (A rms) that the link capacitors are made for: told, or by their capacitance.
double most_ripple_A(const Setup& s, const Plant& p);

/// Motor current (A) of one ESC in the hardest pull there is, as the rating's check has it.
double hardest_A(const Checks& checks);

/// Whether full duty holds a rotor's speed; true for other loads.
struct RotorSpeed {
    bool reached = true;  // in some part, on the pack as it starts
    bool kept = true;     // in every part, on the pack as it lands
};
RotorSpeed rotor_speed(const Plant& p, const FlightRun& flight);

std::vector<Assumption> list_assumptions(const Setup& s, const Calibration& calibration,
                                         const Plant& middle);

}  // namespace hotband
