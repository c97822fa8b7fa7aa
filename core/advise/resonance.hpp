// Where do leads and link capacitors ring, and does the ripple really grow there?
#pragma once

#include <optional>

#include "plant/plant.hpp"

namespace hotband {

/// PWM frequencies over the resonance between which the ripple current in the link capacitors is
/// more than `resonant_growth` times what the bridge chops.
struct ResonanceWindow {
    double low = 0, high = 0;  // dimensionless
};
inline constexpr double resonant_growth = 1.5;

/// PWM frequency over the resonance of lead inductance and link capacitance (dimensionless).
double resonance_ratio(const Plant& p);

/// The window of a pack path `R` (Ohm), `L` (H) beside a capacitor `C` (F), `esr` (Ohm); empty when
/// the resistances damp the peak away.
std::optional<ResonanceWindow> resonance_window(double R, double L, double C, double esr);

/// The plant's own, on its pack half empty and at working temperature.
std::optional<ResonanceWindow> resonance_window(const Plant& p);

/// Whether the plant's PWM frequency lies in it.
bool resonates(const Plant& p);

}  // namespace hotband
