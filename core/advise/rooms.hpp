// The rooms of the advice, one function each: every one re-runs the model, none carries rules of
// its own.
#pragma once

#include <span>
#include <vector>

#include "advise/report.hpp"
#include "flight/hold.hpp"
#include "learn/calibrate.hpp"

namespace hotband {

/// Kelvin under the limit that advice keeps: sensors, hot days and the model's own error.
inline constexpr double margin_K = 10;

/// The draws' own peaks, deg C, for what is asked of them next.
struct Draws {
    std::vector<double> z;                   // of the priors, draw-major
    std::vector<double> flight_peak;         // one for each draw
    std::vector<std::vector<double>> holds;  // for each of the report's holds, one for each draw
    std::vector<double> full_A;  // pack current of the fresh pack at full throttle, or in hover
};

/// A flight flown on one plant.
struct FlightRun {
    FlightPlan plan;
    March march;
};
FlightRun run_flight(const Plant& p, const FlightSetup& flight, bool coarse = false);

/// What 100 % means: full throttle, or hover for a rotor.
const char* reference_name(const Plant& p);

/// Figures of one hold; `full` is the full-throttle hold that `why` compares with.
HoldReport report_hold(const Plant& p, const HoldRun& run, const HoldRun& full, double start_C);

/// Split of the rise in peak temperature from the full-throttle hold to this one, in kelvin.
Why explain(const Plant& p, const HoldRun& hold, const HoldRun& full, double start_C);

/// Throttle bands to avoid, or the hottest one.
std::vector<ThrottleBand> find_bands(const Setup& s, const std::vector<HoldReport>& holds);

/// The verdict on an otherwise finished report.
Verdict judge(const Setup& s, const Report& r);

/// Cautions that go with every report.
std::vector<std::string> list_cautions(const Report& r);

PwmReport compare_pwm(const Setup& s, const Belief& belief);

/// Changed setups, flown, ranked by kelvin.
std::vector<Change> find_changes(const Setup& s, const Belief& belief, const FlightRun& flight,
                                 const PwmReport& pwm);

Checks run_checks(const Setup& s, const Plant& p, const FlightRun& flight);

std::vector<Assumption> list_assumptions(const Setup& s, const Belief& belief);

/// What the measured rows taught, row by row; `draws` empty leaves the next bench run out.
Learned report_learning(const Setup& s, const Calibration& calibration, const Plant& p,
                        const std::vector<HoldReport>& holds, const Draws& draws);

}  // namespace hotband
