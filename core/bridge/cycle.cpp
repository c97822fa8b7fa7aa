// Periodic steady state of one PWM period. Circuit and symbols: cycle.hpp; exact intervals:
// interval.hpp.
//
// On, states (i_m, i_s, u):   L_m i_m' = v_link - (R_m + 2 R_on) i_m - E
//                             v_link = Voc + u + R_esr (i_s - i_m)
//                             L_s i_s' = Voc - R_src i_s - v_link,   C u' = i_s - i_m
// u = v_c - Voc is the capacitor's voltage below the resting pack's: small, so that the squares of
// the pack current lose no digits to the voltage's, and the pack loop has no input of its own. Off:
// the motor loop (i_m alone) and the pack loop (i_s, v_c) no longer touch each other.
#include "bridge/cycle.hpp"

#include <cmath>
#include <limits>

#include "bridge/circuit.hpp"

namespace hotband {
namespace {

using Eigen::Matrix2d;
using Eigen::Matrix3d;
using Eigen::Vector2d;
using Eigen::Vector3d;
using Vector1d = Eigen::Matrix<double, 1, 1>;

}  // namespace

Circuit::Circuit(const CycleCase& c)
    : k_(c),
      q_{std::sqrt(c.L_m), std::sqrt(c.L_src), std::sqrt(c.C)},
      V_fw_(c.mode == CycleMode::active ? 0 : c.V_f0),
      R_fw_(c.mode == CycleMode::active ? c.R_on : c.r_d) {
    if (!chops()) {
        return;
    }
    t_on_ = k_.D / k_.f;
    t_off_ = (1 - k_.D) / k_.f;
    const double r_on = k_.R_m + 2 * k_.R_on + k_.R_esr;
    const double r_pack = k_.R_src + k_.R_esr;
    Matrix3d on;
    on << -r_on / (q_.m * q_.m), k_.R_esr / (q_.m * q_.s), 1 / (q_.m * q_.c),
        k_.R_esr / (q_.m * q_.s), -r_pack / (q_.s * q_.s), -1 / (q_.s * q_.c), -1 / (q_.m * q_.c),
        1 / (q_.s * q_.c), 0;
    Matrix2d pack;
    pack << -r_pack / (q_.s * q_.s), -1 / (q_.s * q_.c), 1 / (q_.s * q_.c), 0;
    const Vector1d coast(-(k_.R_m + k_.R_on + R_fw_) / (q_.m * q_.m));
    on_ = make_interval<3>(on, t_on_);
    pack_ = make_interval<2>(pack, t_off_);
    coast_ = make_interval<1>(coast, t_off_);
    Matrix3d off = Matrix3d::Zero();
    off(0, 0) = coast_.phi(0, 0);
    off.bottomRightCorner<2, 2>() = pack_.phi;
    const Matrix3d loop = Matrix3d::Identity() - off * on_.phi;
    continuous_.compute(loop);
    const Matrix2d pack_loop = Matrix2d::Identity() - pack_.phi * on_.phi.bottomRightCorner<2, 2>();
    discontinuous_.compute(pack_loop);
}

Circuit::Inputs Circuit::inputs(double Voc, double E) const {
    return {Vector3d((Voc - E) / q_.m, 0, 0), Vector1d(-(E + V_fw_) / q_.m)};
}

// Continuous conduction: x0 = Phi_off (Phi_on x0 + g_on) + g_off.
Vector3d Circuit::continuous_start(const Vector3d& g_on, const Vector1d& g_coast) const {
    Vector3d g;
    g << coast_.phi * g_on.head<1>() + g_coast, pack_.phi * g_on.tail<2>();
    return continuous_.solve(g);
}

Circuit::Edges Circuit::edges(const Inputs& b) const {
    Edges e;
    const Vector3d g_on = on_.sum * b.on;
    const Vector1d g_coast = coast_.sum * b.coast;
    e.x0 = continuous_start(g_on, g_coast);
    e.t_coast = t_off_;
    if (k_.mode == CycleMode::diode && !(e.x0(0) >= 0)) {
        // Discontinuous: the motor current starts and ends at zero, the pack loop alone is
        // periodic.
        e.continuous = false;
        const Vector2d g_link = pack_.phi * g_on.tail<2>();
        e.x0 << 0, discontinuous_.solve(g_link);
    }
    e.x1 = on_.phi * e.x0 + g_on;
    if (!e.continuous) {
        e.flows = !(e.x1(0) <= 0);  // what is not a number must not pass for rest
        // The decay i(t) = (i1 + I) exp(-t R/L) - I reaches zero at (L/R) ln(1 + i1/I),
        // I = (E + V_f)/R.
        const double decay = -coast_.A(0, 0);
        const double pull = -b.coast(0) / e.x1(0);
        e.t_coast = std::min(t_off_, decay > 0 ? std::log1p(decay / pull) / decay : 1 / pull);
    }
    return e;
}

Interval<1> Circuit::coast_interval(const Edges& e) const {
    return e.continuous ? coast_ : make_interval<1>(coast_.A, e.t_coast);
}

Cycle Circuit::finish(double Voc, double E, Cycle out) const {
    out.v_link_avg = Voc - k_.R_src * out.i_src_avg;
    out.P_pack = Voc * out.i_src_avg;
    out.P_emf = E * out.i_m_avg;
    out.P_R_src = k_.R_src * out.i_src_rms * out.i_src_rms;
    out.P_R_m = k_.R_m * out.i_m_rms * out.i_m_rms;
    out.P_esr = k_.R_esr * out.i_c_rms * out.i_c_rms;
    out.P_ret = k_.R_on * out.i_m_rms * out.i_m_rms;
    const double spent =
        out.P_hs + out.P_ret + out.P_fw + out.P_esr + out.P_R_src + out.P_R_m + out.P_emf;
    const double size = std::max({std::abs(out.P_pack), std::abs(out.P_emf), out.P_R_m, 1e-300});
    out.energy_residual_rel = std::abs(out.P_pack - spent) / size;
    out.ok = std::isfinite(out.i_m_rms) && std::isfinite(out.i_src_rms) &&
             std::isfinite(out.i_c_rms) && std::isfinite(spent) && std::isfinite(k_.D * k_.f);
    return out;
}

// No chopping: plain direct current.
Cycle Circuit::direct_current(double Voc, double E, double i_m, double i_s) const {
    Cycle out;
    out.i_m_avg = out.i_m_min = out.i_m_max = out.i_valley = out.i_peak = i_m;
    out.i_m_rms = std::abs(i_m);
    out.i_src_avg = i_s;
    out.i_src_rms = std::abs(i_s);
    out.v_link_min = out.v_link_max = Voc - k_.R_src * i_s;
    const double element = k_.R_on * i_m * i_m;
    (k_.D >= 1 ? out.P_hs : out.P_fw) = element;
    return finish(Voc, E, out);
}

Cycle Circuit::unchopped(double Voc, double E) const {
    const double r_motor = k_.R_m + 2 * k_.R_on;
    if (k_.D >= 1) {
        const double i = (Voc - E) / (k_.R_src + r_motor);
        return direct_current(Voc, E, i, i);
    }
    if (k_.mode == CycleMode::active) {
        return direct_current(Voc, E, -E / r_motor, 0);
    }
    Cycle out = direct_current(Voc, E, 0, 0);
    out.continuous = false;
    out.conduction_fraction = 0;
    return out;
}

double Circuit::motor_current(double Voc, double E) const {
    if (!chops()) {
        return unchopped(Voc, E).i_m_avg;
    }
    const Inputs b = inputs(Voc, E);
    const Edges e = edges(b);
    if (!e.flows) {
        return 0;
    }
    const Vector1d turn_off = e.x1.head<1>();
    return k_.f / q_.m *
           (on_.integral(e.x0, b.on)(0) + coast_interval(e).integral(turn_off, b.coast)(0));
}

std::optional<CurrentLine> Circuit::current_line(double Voc) const {
    constexpr double unlimited = std::numeric_limits<double>::infinity();
    const bool diode = k_.mode == CycleMode::diode;
    if (!chops()) {
        const double at_rest = unchopped(Voc, 0).i_m_avg;
        return diode && k_.D <= 0
                   ? std::nullopt
                   : std::optional(
                         CurrentLine{at_rest, unchopped(Voc, 1).i_m_avg - at_rest, unlimited, 0});
    }
    // Mean and valley of what an input alone drives through the motor; compiled once, for the
    // page's weight.
    struct Driven {
        double mean, valley;
    };
    const auto driven = [&](const Inputs& b) __attribute__((noinline)) {
        const Vector3d g_on = on_.sum.lazyProduct(b.on);
        const Vector3d x0 = continuous_start(g_on, coast_.sum.lazyProduct(b.coast));
        const Vector1d turn_off = (on_.phi.lazyProduct(x0) + g_on).head<1>();
        return Driven{
            k_.f / q_.m * (on_.integral(x0, b.on)(0) + coast_.integral(turn_off, b.coast)(0)),
            x0(0) / q_.m};
    };
    const Driven at_rest = driven(inputs(Voc, 0));
    // A volt of back-EMF alone: neither the pack nor the freewheel element's threshold.
    const Driven volt = driven({Vector3d(-1 / q_.m, 0, 0), Vector1d(-1 / q_.m)});
    CurrentLine line{at_rest.mean, volt.mean, unlimited, 0};
    if (diode) {
        line.valley_at_rest = at_rest.valley;
        line.valley_slope = volt.valley;
    }
    return line;
}

Cycle Circuit::solve(double Voc, double E, bool extrema) const {
    if (!chops()) {
        return unchopped(Voc, E);
    }
    const Inputs b = inputs(Voc, E);
    const Edges e = edges(b);
    if (!e.flows) {
        Cycle out = direct_current(Voc, E, 0, 0);
        out.continuous = false;
        out.conduction_fraction = 0;
        return out;
    }
    const double f = k_.f;
    const Vector1d motor1 = e.x1.head<1>();
    const Vector2d pack1 = e.x1.tail<2>();
    const Vector2d rest = Vector2d::Zero();  // the pack loop's input
    const Interval<1> coast = coast_interval(e);
    const Vector3d on_m = on_.integral(e.x0, b.on);
    const Vector1d coast_m = coast.integral(motor1, b.coast);
    const Vector2d pack_m = pack_.integral(pack1, rest);
    const Matrix3d on_S = second_moments<3>(on_, e.x0, e.x1, on_m, b.on);
    const double off_mm =
        second_moments<1>(coast, motor1, coast.end(motor1, b.coast), coast_m, b.coast)(0) /
        (q_.m * q_.m);
    const double off_ss =
        second_moments<2>(pack_, pack1, pack_.end(pack1, rest), pack_m, rest)(0, 0) / (q_.s * q_.s);
    const double off_m = coast_m(0) / q_.m;
    const double on_mm = on_S(0, 0) / (q_.m * q_.m);
    const double on_ss = on_S(1, 1) / (q_.s * q_.s);
    const double on_ms = on_S(0, 1) / (q_.m * q_.s);

    Cycle out;
    out.continuous = e.continuous;
    out.conduction_fraction = e.continuous ? 1 : k_.D + e.t_coast * f;
    out.i_m_avg = f * (on_m(0) / q_.m + off_m);
    out.i_m_rms = std::sqrt(f * (on_mm + off_mm));
    out.i_src_avg = f * (on_m(1) + pack_m(0)) / q_.s;
    out.i_src_rms = std::sqrt(f * (on_ss + off_ss));
    out.i_c_rms = std::sqrt(std::max(0.0, f * (on_ss - 2 * on_ms + on_mm + off_ss)));
    out.P_hs = k_.R_on * f * on_mm;
    out.P_fw = f * (V_fw_ * off_m + R_fw_ * off_mm);
    out.i_valley = e.x0(0) / q_.m;
    out.i_peak = e.x1(0) / q_.m;

    // Extremes: first the edges, both sides; the ESR drop jumps there by R_esr i_m.
    Range i_m{out.i_valley, out.i_valley};
    i_m.take(out.i_peak);
    const auto v_link = [&](const Vector3d& x, double i) {
        return Voc + x(2) / q_.c + k_.R_esr * (x(1) / q_.s - i);
    };
    Range v{v_link(e.x0, out.i_valley), v_link(e.x0, out.i_valley)};
    v.take(v_link(e.x0, 0));
    v.take(v_link(e.x1, out.i_peak));
    v.take(v_link(e.x1, 0));
    if (extrema) {
        const Eigen::RowVector3d w_i(1 / q_.m, 0, 0);
        const Eigen::RowVector3d w_v(-k_.R_esr / q_.m, k_.R_esr / q_.s, 1 / q_.c);
        const Eigen::RowVector2d w_off(k_.R_esr / q_.s, 1 / q_.c);
        widen_by_extremes<3>(on_, e.x0, b.on, w_i, 0, i_m);
        widen_by_extremes<3>(on_, e.x0, b.on, w_v, Voc, v);
        widen_by_extremes<2>(pack_, pack1, rest, w_off, Voc, v);
    }
    out.i_m_min = i_m.least;
    out.i_m_max = i_m.most;
    out.v_link_min = v.least;
    out.v_link_max = v.most;
    return finish(Voc, E, out);
}

Cycle solve_cycle(const CycleCase& c, bool extrema) {
    return Circuit(c).solve(c.Voc, c.E, extrema);
}

}  // namespace hotband
