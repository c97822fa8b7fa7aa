// What does a motor's winding do when it is warm and turning?
#pragma once

#include <algorithm>

#include "physics/constants.hpp"

namespace hotband {

/// Windings beyond this are lost: insulation and magnets are rated for 120-200 deg C (common
/// practice, no source). Nothing is computed hotter.
inline constexpr double lost_winding_C = 250;

/// Frequency of the motor's electrical turn (Hz); speed of the shaft in rad/s, magnet poles.
constexpr double electrical_frequency(double omega, double poles) {
    return omega / (2 * pi) * poles / 2;
}

/// Copper resistance over its value at 25 deg C (dimensionless), up to `lost_winding_C`.
inline double copper_factor(double celsius) {
    return 1 + copper_tempco * (std::min(celsius, lost_winding_C) - 25);
}

/// Growth of a running motor's extra loss with electrical frequency f (Hz), 1 at
/// `running_loss_Hz`: eddy currents in copper, iron and magnets lose with f squared (textbook; for
/// windings P. L. Dowell, Proc. IEE 113(8), 1966, from memory), less steeply once the skin depth
/// nears the wire's size, here from 3 kHz on (strands of 0.5 to 1 mm have as much skin depth at
/// 5 to 15 kHz; common practice, no source).
inline constexpr double running_loss_Hz = 1500;
constexpr double running_loss_growth(double f) {
    constexpr double skin_Hz = 3000;
    const double x = f / running_loss_Hz;
    return x * x * (1 + running_loss_Hz / skin_Hz) / (1 + f / skin_Hz);
}

}  // namespace hotband
