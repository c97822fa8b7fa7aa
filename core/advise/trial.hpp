// The same draws on a changed setup: what a change does, with everything else that is not known
// staying as it is.
#pragma once

#include <vector>

#include "advise/spread.hpp"

namespace hotband {

/// Draws that a change is flown on. Both sides of a difference share them, so that fewer do.
inline constexpr size_t most_trial_draws = 64;

/// The same for a flight of very many parts, which costs as much as many flights.
size_t trial_draws(const Setup& s, const Draws& draws);

/// Whether the change leaves behind the readings that taught the draws.
bool leaves_readings(const Setup& s, const Setup& changed);

/// Plants of the changed setup, one for each of the first draws: each row's z as it was, but for
/// what the change itself tells anew where there are readings. Where it leaves the readings
/// behind they are the changed setup's own, as if never taught.
std::vector<Plant> changed_plants(const Setup& s, const std::vector<Prior>& priors,
                                  const Draws& draws, const Setup& changed);

/// The flight of each plant.
std::vector<Outcome> fly_all(const std::vector<Plant>& plants, const Setup& s);

/// What a change does to every draw, from what it does to those it was flown on: the logarithm of
/// the ratio of rises over the air, and of flight times, as a function of z (ridge regression with
/// a quadratic kernel; Saunders, Gammerman and Vovk, ICML 1998, from memory).
class Trial {
 public:
    /// Rises are over the setup's air.
    Trial(const Setup& s, const Draws& draws);

    /// Flights with the change of all draws, from those of the first ones. Where a draw that was
    /// flown runs away with the change or without, it is these first ones alone.
    std::vector<Outcome> all(const std::vector<Outcome>& flown) const;

 private:
    double over_air(double celsius) const;
    const Draws& draws_;
    double air_C_;
    std::vector<double> carry_;  // from each that was flown (rows) to each that was not
};

/// Differences of peaks, draw by draw (K): infinite where one of the two runs away, nought where
/// both do.
std::vector<double> peak_differences(const std::vector<Outcome>& before,
                                     const std::vector<Outcome>& after);

}  // namespace hotband
