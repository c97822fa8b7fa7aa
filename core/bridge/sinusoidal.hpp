// The second drive model: sinusoidal (field-oriented) drive by averages over the electrical turn.
//
// The motor is the same first-order motor. With sine currents in phase with a sine back-EMF of
// line-to-line peak E, a DC-equivalent current I (torque I / Kv) flows as phase current of rms
// sqrt(2/3) I, and three phases of R_m / 2 lose R_m I^2, the same copper loss. Space-vector
// modulation reaches a line-to-line peak equal to the link voltage, so D = peak / V_link runs to 1.
#pragma once

#include "bridge/cycle.hpp"

namespace hotband {

/// Averages for the sinusoidal drive in the terms of Cycle: i_m is the DC-equivalent current, its
/// rms carries the ripple; P_hs + P_ret is the conduction of three legs, 2 R_on I^2; i_c_rms by
/// Kolar and Round, IEE Proc. Electr. Power Appl. 153(4), 2006 (from memory).
Cycle solve_sinusoidal(const CycleCase& k);

/// Mean of |phase current| over its DC equivalent: (2 / pi) sqrt(2) sqrt(2 / 3).
inline constexpr double sine_mean_per_dc = 0.7351051938957226;

}  // namespace hotband
