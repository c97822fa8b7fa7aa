// The ripple's current divider; see resonance.hpp.
//
// The bridge's chopped current at the angular frequency w splits between the pack's path R + j w L
// and the capacitor esr + 1 / (j w C). With x = w sqrt(L C), Z = sqrt(L / C), r = R / Z and
// e = esr / Z, the capacitor's part is
//   |i_c / i|^2 = (r^2 + x^2) / ((r + e)^2 + (x - 1/x)^2),
// and with y = x^2 the condition |i_c / i| >= g is the quadratic
//   (g^2 - 1) y^2 + (g^2 ((r + e)^2 - 2) - r^2) y + g^2 <= 0.
#include "advise/resonance.hpp"

#include <cmath>

#include "flight/operating.hpp"
#include "physics/constants.hpp"

namespace hotband {

double resonance_ratio(const Plant& p) {
    return p.pwm * 2 * pi * std::sqrt(p.u.lead_inductance * p.u.capacitance);
}

std::optional<ResonanceWindow> resonance_window(double R, double L, double C, double esr) {
    const double Z = std::sqrt(L / C);
    const double r = R / Z;
    const double all = r + esr / Z;
    constexpr double g2 = resonant_growth * resonant_growth;
    const double a = g2 - 1;
    const double b = g2 * (all * all - 2) - r * r;
    const double root = b * b - 4 * a * g2;
    if (b >= 0 || root <= 0) {
        return {};
    }
    return ResonanceWindow{std::sqrt((-b - std::sqrt(root)) / (2 * a)),
                           std::sqrt((-b + std::sqrt(root)) / (2 * a))};
}

std::optional<ResonanceWindow> resonance_window(const Plant& p) {
    constexpr double board_C = 50;
    const double charge = 0.5 * (p.pack.start + p.pack.reserve);
    const Source s = source_at(p, charge, p.pack.start_C, board_C, board_C);
    return resonance_window(s.R_src, p.u.lead_inductance, p.u.capacitance,
                            capacitor_esr(p.u.capacitor_esr, p.u.capacitance, p.pwm, board_C));
}

bool resonates(const Plant& p) {
    const auto window = resonance_window(p);
    const double ratio = resonance_ratio(p);
    return window && ratio > window->low && ratio < window->high;
}

}  // namespace hotband
