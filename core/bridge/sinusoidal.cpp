// Sinusoidal drive by averages; see sinusoidal.hpp.
#include "bridge/sinusoidal.hpp"

#include <algorithm>
#include <cmath>
#include <complex>

#include "physics/constants.hpp"

namespace hotband {
namespace {

struct Ripple {
    double swing, rms;  // A
};

// Current through R and L under a voltage V that is on for the share d of each period, about its
// mean, with a = R / (f L):
//   swing = V / R (1 - e^-ad) (1 - e^-a(1 - d)) / (1 - e^-a),  rms^2 = V / R (V / R d (1 - d) -
//   swing / a);
// at little a, triangular: V d (1 - d) / (f L), rms swing / sqrt 12.
Ripple ripple_of(double V, double d, double R, double L, double f) {
    constexpr double triangular = 1e-2;
    const double a = R / (f * L);
    if (a < triangular) {
        const double swing = V * d * (1 - d) / (f * L);
        return {swing, swing / std::sqrt(12.0)};
    }
    const double most = V / R;
    const double swing = most * std::expm1(-a * d) * std::expm1(-a * (1 - d)) / -std::expm1(-a);
    const double square = most * (most * d * (1 - d) - swing / a);
    return {swing, std::sqrt(std::max(0.0, square))};
}

}  // namespace

Cycle solve_sinusoidal(const CycleCase& k) {
    Cycle out;
    // Power in = power out at the averaged bridge: D V_link = E + R I, i_src = D I, V_link = Voc -
    // R_src i_src.
    const double R = k.R_m + 2 * k.R_on;
    const double I = (k.D * k.Voc - k.E) / (R + k.D * k.D * k.R_src);
    out.i_m_avg = I;
    out.i_src_avg = k.D * I;
    out.v_link_avg = k.Voc - k.R_src * out.i_src_avg;
    // A line-to-line voltage is chopped at mean |sin| duty.
    const Ripple ripple = ripple_of(out.v_link_avg, 2 / pi * k.D, R, k.L_m, k.f);
    out.i_m_rms = std::hypot(I, ripple.rms);
    out.i_m_min = out.i_valley = I - 0.5 * ripple.swing;
    out.i_m_max = out.i_peak = I + 0.5 * ripple.swing;
    // Link capacitor: I_ph sqrt(2 M (sqrt3/(4 pi) + cos2phi (sqrt3/pi - 9 M/16))), cos phi = 1,
    // M = phase peak over half the link = 2 D / sqrt3.
    const double root3 = std::numbers::sqrt3;
    const double M = 2 * k.D / root3;
    const double phase_rms = std::sqrt(2.0 / 3) * I;
    const double shape = 2 * M * (root3 / (4 * pi) + (root3 / pi - 9 * M / 16));
    out.i_c_rms = std::abs(phase_rms) * std::sqrt(std::max(0.0, shape));
    // Of that ripple, strongest at twice the PWM frequency, the pack's leads carry what the
    // capacitors do not: a current divider.
    const double omega = 2 * pi * 2 * k.f;
    const std::complex<double> Z_src(k.R_src, omega * k.L_src);
    const std::complex<double> Z_c(k.R_esr, -1 / (omega * k.C));
    const double link_ripple = out.i_c_rms;
    const double to_capacitor = std::abs(Z_src / (Z_src + Z_c));
    const double to_source = std::abs(Z_c / (Z_src + Z_c));
    out.i_c_rms = link_ripple * to_capacitor;
    out.i_src_rms = std::hypot(out.i_src_avg, link_ripple * to_source);
    const double v_swing =
        to_capacitor * (k.R_esr * std::abs(I) + k.D * (1 - k.D) * std::abs(I) / (k.f * k.C));
    out.v_link_min = out.v_link_avg - 0.5 * v_swing;
    out.v_link_max = out.v_link_avg + 0.5 * v_swing;
    const double i2 = out.i_m_rms * out.i_m_rms;
    out.P_hs = out.P_ret = k.R_on * i2;
    out.P_R_m = k.R_m * i2;
    out.P_R_src = k.R_src * out.i_src_rms * out.i_src_rms;
    out.P_esr = k.R_esr * out.i_c_rms * out.i_c_rms;
    out.P_emf = k.E * I;
    out.P_pack = k.Voc * out.i_src_avg;
    // The averaged bridge carries no ripple: what that loses in bridge, motor, capacitors and leads
    // is drawn on top.
    const double smooth_src = k.R_src * out.i_src_avg * out.i_src_avg;
    out.P_on_top = R * (i2 - I * I) + out.P_esr + out.P_R_src - smooth_src;
    const double spent = out.P_emf + R * I * I + smooth_src;
    out.energy_residual_rel = std::abs(out.P_pack - spent) / std::max(std::abs(out.P_pack), 1e-300);
    out.ok = std::isfinite(out.i_m_rms) && std::isfinite(out.i_c_rms);
    return out;
}

}  // namespace hotband
