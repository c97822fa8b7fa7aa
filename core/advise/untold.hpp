// The current that nobody told: what is believed of it, and what a reading of it would be worth.
#pragma once

#include <optional>

#include "advise/spread.hpp"

namespace hotband {

/// Whether no current, power or points are told: it is believed by size, or by the ESC's rating.
bool is_current_untold(const Setup& s);

/// Empty where a current, a power or points are told. Without draws the range is that of
/// each unknown moved by itself.
std::optional<UntoldCurrent> report_untold_current(const Setup& s, const Plant& p,
                                                   const Belief& belief, const Draws& draws,
                                                   Scale in);

/// Pack current (A, all motors together) of the fresh pack at full throttle, or of a rotor in
/// hover.
double fresh_current(const Plant& p);

/// Standard deviation of its logarithm on the middle plant, each unknown moved by itself by one
/// sigma.
double fresh_current_spread(const Setup& s, const Plant& p, const Belief& belief);

}  // namespace hotband
