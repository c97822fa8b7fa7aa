// The same draws on a changed setup: what a change does, with everything else that is not known
// staying as it is.
#pragma once

#include <Eigen/Core>
#include <optional>
#include <vector>

#include "advise/spread.hpp"
#include "learn/reread.hpp"

namespace hotband {

/// Draws that a change is flown on. Both sides of a difference share them, so that fewer do.
inline constexpr size_t most_trial_draws = 64;

/// The same for a flight of very many legs, which costs as much as many flights.
size_t trial_draws(const Setup& s, const Draws& draws);

/// The setup at another frequency; its readings stay what they were, taken at the one of before.
Setup at_frequency(Setup s, double pwm_Hz);

/// Whether the change leaves behind some of the readings that taught the draws.
bool leaves_readings(const Setup& s, const Setup& changed);

/// What is believed of a changed setup: what is carried to it from the readings as they are read
/// there. Where they are left behind, or then tell of another ESC or for another kind of freewheel,
/// all is learned anew.
struct Carried {
    Belief belief;
    std::optional<Calibration> anew;
    Reread moved;                // the likelier kind's fit
    Reread other;                // the other's, where the freewheel is open
    bool only_followed = false;  // for a first look: all is still to be learned anew
};
Carried carry(const Setup& s, const Calibration& calibration, const Setup& changed);

/// The same, but what the readings tell is followed where that is enough for a first look.
Carried carry_at_first(const Setup& s, const Calibration& calibration, const Setup& changed);
void learn_anew(const Setup& changed, Carried& carried);

/// The draws with a change: each row's z as it was, but for what the change itself tells anew, and
/// what the readings say where they count as taken with it; of what is learned anew, draws of its
/// own.
class ChangedDraws {
 public:
    ChangedDraws(const Setup& s, const Calibration& calibration, const Draws& draws,
                 const Setup& changed, const Carried& carried);

    /// Whether they are the changed setup's own.
    bool own() const { return own_; }
    const std::vector<double>& z() const { return z_; }
    double limit_C() const { return changed_->esc.limit_C; }
    Plant plant(size_t k) const;
    Outcome fly(size_t k) const;

 private:
    const Setup* changed_;
    std::vector<Prior> priors_;
    std::vector<double> z_;  // draw-major
    bool own_;
};

/// What a change does to every draw, from what it does to those it was flown on: the logarithm of
/// the ratio of rises over the air, and of flight times, as a function of z (ridge regression with
/// a quadratic kernel; Saunders, Gammerman and Vovk, ICML 1998, from memory).
class Trial {
 public:
    /// Rises are over the setup's air.
    Trial(const Setup& s, const Draws& draws);
    /// The same for draws with unknowns `z` of their own and flights that are not known yet.
    Trial(const Setup& s, const Draws& draws, const std::vector<double>& z);

    /// Flights with the change of all draws, from those of the first ones; of one that runs away
    /// without the change it is a runaway still. Where most of the first ones run away with the
    /// change or without, it is these alone.
    std::vector<Outcome> all(const std::vector<Outcome>& flown) const;

 private:
    Trial(const Setup& s, const Draws& draws, const std::vector<double>& z, bool own);
    double over_air(double celsius) const;
    std::vector<Outcome> before(const std::vector<Outcome>& flown) const;
    const Draws& draws_;
    bool own_;
    double air_C_;
    Eigen::MatrixXd carry_;  // from each that was flown (rows) to each that was not
};

/// Flies, of flights of which all but the first `flown` are estimates, those that are lost or as
/// hot as `lost_from_C`, those next to the middle, as far from it as estimates prove wrong, and as
/// many next to the limit as it takes to say whether nine in ten keep it: what stands there is then
/// no estimate. Where a flight is dear (fewer than `most_trial_draws` flown) those next to the
/// middle alone, half as many at most.
void settle(std::vector<Outcome>& all, size_t flown, const ChangedDraws& changed,
            double lost_from_C);

/// Flights of all draws with the change, from those of the first ones: those next to the middle and
/// those that it may have lost are flown, or all where they cannot be estimated. Of a flight of
/// very many parts then the first ones alone.
std::vector<Outcome> fly_others(const Setup& s, const Draws& draws, const Trial& trial,
                                const ChangedDraws& changed, std::vector<Outcome> flown);

/// The same with the first ones flown as well.
std::vector<Outcome> fly_changed(const Setup& s, const Draws& draws, const Trial& trial,
                                 const ChangedDraws& changed);

/// Differences of peaks, draw by draw (K): infinite where one of the two runs away, nought where
/// both do.
std::vector<double> peak_differences(const std::vector<Outcome>& before,
                                     const std::vector<Outcome>& after);

}  // namespace hotband
