// The leads between pack and ESC: resistance and inductance of the two-wire loop.
#pragma once

#include <cmath>

#include "physics/constants.hpp"

namespace hotband {

/// Resistance (Ohm) of a copper lead pair, both ways; length one way (m), area (m2), deg C.
inline double lead_resistance(double length, double area, double celsius) {
    return 2 * copper_resistivity * length / area * (1 + copper_tempco * (celsius - 20));
}

/// Inductance (H) of a parallel round pair, both ways; length one way (m), centre spacing and
/// conductor radius (m), spacing >= 2 radius: mu0/pi (ln(s/r) + 1/4) l (textbook two-wire line with
/// the wires' internal inductance).
inline double lead_inductance(double length, double spacing, double radius) {
    constexpr double mu0_over_pi = 4e-7;  // H/m
    return mu0_over_pi * (std::log(spacing / radius) + 0.25) * length;
}

}  // namespace hotband
