// How sure is all this? The belief's draws, each through the whole chain.
#pragma once

#include <vector>

#include "advise/rooms.hpp"
#include "physics/monotone.hpp"

namespace hotband {

/// How a draw's flight or hold went.
struct Outcome {
    double peak_C = 0;           // infinite: its heat runs away
    double peak_junction_C = 0;  // infinite with it
    double limit_s = 0;          // until the limit is passed; infinite: never
    double seconds = 0;
    EndedBy ended_by = EndedBy::reserve;
    double winding_C = 0;    // of the motor, at the end
    bool cut_short = false;  // the pack gave in early: no cool one, but none that tells of heat
};
Outcome outcome_of(const March& m, double limit_C);

/// A hold that was flown: in a draw, and on the middle plant (deg C).
struct FlownHold {
    double throttle_pct, own_C, middle_C;
};

/// What holds between those that were flown reach in a draw: their rises go with the middle
/// plant's, by a ratio whose logarithm is monotone over throttle between two of them. Where one of
/// these two rises is too small for a ratio, or has none, by a straight line of ratios or of the
/// rises themselves. A neighbour that runs away is hotter than everything, and so is what lies
/// beside it.
class FlownHolds {
 public:
    /// Rises are over `start_C`.
    explicit FlownHolds(double start_C) : start_C_(start_C) {}
    /// In the order of their throttles, two at least; `join` when all are there.
    void add(const FlownHold& hold) { flown_.push_back(hold); }
    void join();
    /// Temperature (deg C) between two of them, where the middle plant reaches `middle_C`.
    double at(double throttle_pct, double middle_C) const;

 private:
    bool tells(const FlownHold& hold) const;
    bool is_joined(const FlownHold& hold) const;

    double start_C_;
    std::vector<FlownHold> flown_;
    MonotoneCurve log_ratio_;  // over throttle (%), through those that have a ratio
};

/// 10, 50 and 90 % of values. One that is not finite is left open (10, 90) or not a number (50).
Band band_of(std::vector<double> values);

/// Band of the peaks of those that tell of heat: a pack that gives in early leaves the ESC cool for
/// no merit of its own. Where most do, all are taken: there is nothing else to go by.
Band peak_band(const std::vector<Outcome>& outcomes);

/// The draws and what became of them, for what is asked of them next. Outcomes stand one for each
/// draw; of a hold that was not flown for every draw only peak, limit_s and winding are known.
struct Draws {
    std::vector<double> z;  // of the priors, draw-major
    std::vector<Plant> plants;
    std::vector<Outcome> flight;
    std::vector<std::vector<Outcome>> holds;  // for each of the report's
    std::vector<std::vector<Outcome>> asked;  // for each of the report's
    std::vector<double> full_A;  // untold: of the fresh pack at full throttle, or in hover

    size_t count() const { return plants.size(); }
};

/// `samples` draws of what is believed, nothing flown yet.
Draws draw_plants(const Setup& s, const Calibration& calibration, int samples);

/// Flies the flight on every draw: fills the peak, its chance, the limit's time and the bands of
/// the series, whose times `report` already holds.
void fly_draws(const Setup& s, Draws& draws, Report& report);

/// Holds every throttle on every draw: fills the bands of the holds and their times to the limit.
void hold_draws(const Setup& s, Draws& draws, Report& report);

/// The same for the asked holds.
void ask_draws(const Setup& s, const std::vector<BenchRun>& asked, Draws& draws, Report& report);

/// Peaks of outcomes, deg C; infinite where it runs away.
std::vector<double> peaks_of(const std::vector<Outcome>& outcomes);

/// Index of the draw whose peak is the median of those that tell of heat: the cooler of the middle
/// two, or the hotter where the median itself runs away.
size_t median_draw(const std::vector<Outcome>& outcomes, bool runs_away);

/// The longest time (or whatever `values` are) that at least nine draws in ten reach.
double surely_reached(std::vector<double> values);

/// The frequencies to choose from, and the flights of the draws at each (none without draws).
struct PwmTrial {
    PwmReport report;
    std::vector<std::vector<Outcome>> flights;
};
PwmTrial compare_pwm(const Setup& s, const Calibration& taught, const Draws& draws, Scale in);

/// Changed setups, flown: those that keep the limit first, then by kelvin. Where none does, the
/// best pair of them is tried too.
std::vector<Change> find_changes(const Setup& s, const Calibration& taught, const FlightRun& flight,
                                 const Checks& checks, const PwmTrial& pwm, const Draws& draws,
                                 Scale in);

/// What the measured rows taught, row by row; `draws` empty leaves the next bench run out.
Learned report_learning(const Setup& s, const Calibration& calibration, const Plant& p,
                        const Draws& draws, Scale in);

/// A hover held from take-off: what the draws' holds at hover power say. Empty for other loads, and
/// without draws.
std::optional<Hover> find_hover(const Setup& s, const std::vector<HoldReport>& holds,
                                const Draws& draws);

/// How far this day, this field, this flight, this load and this ESC can go. Empty without draws.
std::optional<Limits> find_limits(const Setup& s, const Belief& belief, const FlightReport& flight,
                                  const std::vector<HoldReport>& holds, const Draws& draws,
                                  Scale in);

}  // namespace hotband
