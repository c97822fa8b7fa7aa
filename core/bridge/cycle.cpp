// Periodic steady state of one PWM period. Circuit and symbols: cycle.hpp; exact intervals:
// interval.hpp.
//
// On, states (i_m, i_s, v_c):   L_m i_m' = v_link - (R_m + 2 R_on) i_m - E,  v_link = v_c + R_esr
// (i_s - i_m)
//                               L_s i_s' = Voc - R_src i_s - v_link,         C v_c' = i_s - i_m
// Off: the motor loop (i_m alone) and the pack loop (i_s, v_c) no longer touch each other.
#include "bridge/cycle.hpp"

#include <array>
#include <cmath>

#include "bridge/interval.hpp"

namespace hotband {
namespace {

using Eigen::Matrix2d;
using Eigen::Matrix3d;
using Eigen::Vector2d;
using Eigen::Vector3d;

// States are scaled by the square root of their inductance or capacitance, so that their square is
// an energy and the matrices are well balanced.
struct Scale {
    double m, s, c;  // divide the scaled state by these
};

Scale scale_of(const CycleCase& k) {
    return {std::sqrt(k.L_m), std::sqrt(k.L_src), std::sqrt(k.C)};
}

Linear<3> on_system(const CycleCase& k, const Scale& q) {
    const double r_motor = k.R_m + 2 * k.R_on + k.R_esr;
    Linear<3> s;
    s.A << -r_motor / (q.m * q.m), k.R_esr / (q.m * q.s), 1 / (q.m * q.c), k.R_esr / (q.m * q.s),
        -(k.R_src + k.R_esr) / (q.s * q.s), -1 / (q.s * q.c), -1 / (q.m * q.c), 1 / (q.s * q.c), 0;
    s.b << -k.E / q.m, k.Voc / q.s, 0;
    return s;
}

Linear<2> pack_system(const CycleCase& k, const Scale& q) {
    Linear<2> s;
    s.A << -(k.R_src + k.R_esr) / (q.s * q.s), -1 / (q.s * q.c), 1 / (q.s * q.c), 0;
    s.b << k.Voc / q.s, 0;
    return s;
}

struct FreewheelPath {
    double V, R;  // threshold and resistance of the element itself
};

FreewheelPath freewheel_path(const CycleCase& k) {
    return k.mode == CycleMode::active ? FreewheelPath{0, k.R_on} : FreewheelPath{k.V_f0, k.r_d};
}

Linear<1> coast_system(const CycleCase& k, const Scale& q, const FreewheelPath& fw) {
    Linear<1> s;
    s.A << -(k.R_m + k.R_on + fw.R) / (q.m * q.m);
    s.b << -(k.E + fw.V) / q.m;
    return s;
}

Cycle finish(const CycleCase& k, Cycle out) {
    out.v_link_avg = k.Voc - k.R_src * out.i_src_avg;
    out.P_pack = k.Voc * out.i_src_avg;
    out.P_emf = k.E * out.i_m_avg;
    out.P_R_src = k.R_src * out.i_src_rms * out.i_src_rms;
    out.P_R_m = k.R_m * out.i_m_rms * out.i_m_rms;
    out.P_esr = k.R_esr * out.i_c_rms * out.i_c_rms;
    out.P_ret = k.R_on * out.i_m_rms * out.i_m_rms;
    const double spent =
        out.P_hs + out.P_ret + out.P_fw + out.P_esr + out.P_R_src + out.P_R_m + out.P_emf;
    const double size = std::max({std::abs(out.P_pack), std::abs(out.P_emf), out.P_R_m, 1e-300});
    out.energy_residual_rel = std::abs(out.P_pack - spent) / size;
    out.ok = std::isfinite(out.i_m_rms) && std::isfinite(out.i_src_rms) &&
             std::isfinite(out.i_c_rms) && std::isfinite(spent);
    return out;
}

// No chopping: plain direct current.
Cycle direct_current(const CycleCase& k, double i_m, double i_s, double p_hs, double p_fw) {
    Cycle out;
    out.i_m_avg = out.i_m_min = out.i_m_max = out.i_valley = out.i_peak = i_m;
    out.i_m_rms = std::abs(i_m);
    out.i_src_avg = i_s;
    out.i_src_rms = std::abs(i_s);
    out.v_link_min = out.v_link_max = k.Voc - k.R_src * i_s;
    out.P_hs = p_hs;
    out.P_fw = p_fw;
    return finish(k, out);
}

Cycle nothing_flows(const CycleCase& k) {
    Cycle out = direct_current(k, 0, 0, 0, 0);
    out.continuous = false;
    out.conduction_fraction = 0;
    return out;
}

// Joins the intervals' integrals into means. All arguments are in scaled states.
struct Joined {
    Moments<3> on;
    Moments<2> pack_off;
    Moments<1> coast;
};

Cycle means(const CycleCase& k, const Scale& q, const FreewheelPath& fw, const Joined& j) {
    Cycle out;
    const double f = k.f;
    const double on_mm = j.on.S(0, 0) / (q.m * q.m);
    const double on_ss = j.on.S(1, 1) / (q.s * q.s);
    const double on_ms = j.on.S(0, 1) / (q.m * q.s);
    const double off_mm = j.coast.S(0, 0) / (q.m * q.m);
    const double off_m = j.coast.m(0) / q.m;
    const double off_ss = j.pack_off.S(0, 0) / (q.s * q.s);
    out.i_m_avg = f * (j.on.m(0) / q.m + off_m);
    out.i_m_rms = std::sqrt(f * (on_mm + off_mm));
    out.i_src_avg = f * (j.on.m(1) + j.pack_off.m(0)) / q.s;
    out.i_src_rms = std::sqrt(f * (on_ss + off_ss));
    out.i_c_rms = std::sqrt(std::max(0.0, f * (on_ss - 2 * on_ms + on_mm + off_ss)));
    out.P_hs = k.R_on * f * on_mm;
    out.P_fw = f * (fw.V * off_m + fw.R * off_mm);
    return out;
}

}  // namespace

Cycle solve_cycle(const CycleCase& k, bool extrema) {
    const FreewheelPath fw = freewheel_path(k);
    const bool diode = k.mode == CycleMode::diode;
    const double r_motor = k.R_m + 2 * k.R_on;
    if (k.D >= 1) {
        const double i = (k.Voc - k.E) / (k.R_src + r_motor);
        return direct_current(k, i, i, k.R_on * i * i, 0);
    }
    if (k.D <= 0) {
        if (diode) {
            return nothing_flows(k);
        }
        const double i = -k.E / r_motor;
        return direct_current(k, i, 0, 0, k.R_on * i * i);
    }

    const Scale q = scale_of(k);
    const double t_on = k.D / k.f;
    const double t_off = (1 - k.D) / k.f;
    const Linear<3> on = on_system(k, q);
    const Linear<2> pack = pack_system(k, q);
    const Linear<1> coast = coast_system(k, q, fw);
    const Interval<3> on_iv = make_interval(on, t_on);
    const Interval<2> pack_iv = make_interval(pack, t_off);
    Interval<1> coast_iv = make_interval(coast, t_off);

    // Continuous conduction: x0 = Phi_off (Phi_on x0 + g_on) + g_off.
    Matrix3d phi_off = Matrix3d::Zero();
    phi_off(0, 0) = coast_iv.phi(0, 0);
    phi_off.bottomRightCorner<2, 2>() = pack_iv.phi;
    Vector3d g_off;
    g_off << coast_iv.g, pack_iv.g;
    const Matrix3d loop = Matrix3d::Identity() - phi_off * on_iv.phi;
    Vector3d x0 = loop.partialPivLu().solve(phi_off * on_iv.g + g_off);
    bool continuous = true;
    double t_coast = t_off;
    if (diode && !(x0(0) >= 0)) {
        // Discontinuous: the motor current starts and ends at zero, the pack loop alone is
        // periodic.
        continuous = false;
        const Matrix2d pack_on = on_iv.phi.bottomRightCorner<2, 2>();
        const Vector2d g_on = on_iv.g.tail<2>();
        const Matrix2d pack_loop = Matrix2d::Identity() - pack_iv.phi * pack_on;
        x0 << 0, pack_loop.partialPivLu().solve(pack_iv.phi * g_on + pack_iv.g);
    }
    const Vector3d x1 = on_iv.phi * x0 + on_iv.g;
    if (!continuous) {
        if (!(x1(0) > 0)) {
            return nothing_flows(k);
        }
        // The decay i(t) = (i1 + I) exp(-t R/L) - I reaches zero at (L/R) ln(1 + i1/I), I = (E +
        // V_f)/R.
        const double decay = -coast.A(0, 0);
        const double pull = -coast.b(0) / x1(0);
        t_coast = std::min(t_off, decay > 0 ? std::log1p(decay / pull) / decay : 1 / pull);
        coast_iv = make_interval(coast, t_coast);
    }

    const Eigen::Matrix<double, 1, 1> motor1 = x1.head<1>();
    const Vector2d pack1 = x1.tail<2>();
    const Joined joined{moments(on, on_iv, x0), moments(pack, pack_iv, pack1),
                        moments(coast, coast_iv, motor1)};
    Cycle out = means(k, q, fw, joined);
    out.continuous = continuous;
    out.conduction_fraction = continuous ? 1 : k.D + t_coast * k.f;
    out.i_valley = x0(0) / q.m;
    out.i_peak = x1(0) / q.m;

    // Extremes: first the edges, both sides; the ESR drop jumps there by R_esr i_m.
    Range i_m{out.i_valley, out.i_valley};
    i_m.take(out.i_peak);
    const auto v_link = [&](const Vector3d& x, double i) {
        return x(2) / q.c + k.R_esr * (x(1) / q.s - i);
    };
    Range v{v_link(x0, out.i_valley), v_link(x0, out.i_valley)};
    v.take(v_link(x0, 0));
    v.take(v_link(x1, out.i_peak));
    v.take(v_link(x1, 0));
    if (extrema) {
        const Eigen::RowVector3d w_i(1 / q.m, 0, 0);
        const Eigen::RowVector3d w_v(-k.R_esr / q.m, k.R_esr / q.s, 1 / q.c);
        const Eigen::RowVector2d w_off(k.R_esr / q.s, 1 / q.c);
        widen_by_extremes<3>(on, on_iv, x0, w_i, 0, i_m);
        widen_by_extremes<3>(on, on_iv, x0, w_v, 0, v);
        widen_by_extremes<2>(pack, pack_iv, pack1, w_off, 0, v);
    }
    out.i_m_min = i_m.least;
    out.i_m_max = i_m.most;
    out.v_link_min = v.least;
    out.v_link_max = v.most;
    return finish(k, out);
}

}  // namespace hotband
