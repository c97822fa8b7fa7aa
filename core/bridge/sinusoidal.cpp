// Sinusoidal drive by averages; see sinusoidal.hpp.
#include "bridge/sinusoidal.hpp"

#include <algorithm>
#include <cmath>

#include "physics/constants.hpp"

namespace hotband {

Cycle solve_sinusoidal(const CycleCase& k) {
    Cycle out;
    // Power in = power out at the averaged bridge: D V_link = E + R I, i_src = D I, V_link = Voc -
    // R_src i_src.
    const double R = k.R_m + 2 * k.R_on;
    const double I = (k.D * k.Voc - k.E) / (R + k.D * k.D * k.R_src);
    out.i_m_avg = I;
    out.i_src_avg = out.i_src_rms = k.D * I;
    out.v_link_avg = k.Voc - k.R_src * out.i_src_avg;
    // Ripple of a line-to-line voltage chopped at mean |sin| duty: V d (1 - d) / (f L), triangular.
    const double d = 2 / pi * k.D;
    const double swing = out.v_link_avg * d * (1 - d) / (k.f * k.L_m);
    out.i_m_rms = std::sqrt(I * I + swing * swing / 12);
    out.i_m_min = out.i_valley = I - 0.5 * swing;
    out.i_m_max = out.i_peak = I + 0.5 * swing;
    // Link capacitor: I_ph sqrt(2 M (sqrt3/(4 pi) + cos2phi (sqrt3/pi - 9 M/16))), cos phi = 1,
    // M = phase peak over half the link = 2 D / sqrt3.
    const double root3 = std::numbers::sqrt3;
    const double M = 2 * k.D / root3;
    const double phase_rms = std::sqrt(2.0 / 3) * I;
    const double shape = 2 * M * (root3 / (4 * pi) + (root3 / pi - 9 * M / 16));
    out.i_c_rms = std::abs(phase_rms) * std::sqrt(std::max(0.0, shape));
    const double v_swing = k.R_esr * std::abs(I) + k.D * (1 - k.D) * std::abs(I) / (k.f * k.C);
    out.v_link_min = out.v_link_avg - 0.5 * v_swing;
    out.v_link_max = out.v_link_avg + 0.5 * v_swing;
    const double i2 = out.i_m_rms * out.i_m_rms;
    out.P_hs = out.P_ret = k.R_on * i2;
    out.P_R_m = k.R_m * i2;
    out.P_R_src = k.R_src * out.i_src_rms * out.i_src_rms;
    out.P_esr = k.R_esr * out.i_c_rms * out.i_c_rms;
    out.P_emf = k.E * I;
    out.P_pack = k.Voc * out.i_src_avg;
    // The averaged bridge carries no ripple, so ripple and capacitor losses stand outside this
    // balance.
    const double spent = out.P_emf + (R * I * I) + out.P_R_src;
    out.energy_residual_rel = std::abs(out.P_pack - spent) / std::max(std::abs(out.P_pack), 1e-300);
    out.ok = std::isfinite(out.i_m_rms) && std::isfinite(out.i_c_rms);
    return out;
}

}  // namespace hotband
