// What do currents and voltages do within one PWM period, once everything has settled?
//
// Model: one conducting pair of a six-step bridge as a three-state piecewise-linear circuit:
//   i_m  motor (line-to-line) current        i_s  pack current through the leads        v_c  link
//   capacitor
// Pack Voc behind R_src, L_src; capacitor C behind R_esr; high-side switch R_on on for D/f;
// otherwise the freewheel path: the complementary switch (`active`, current may go negative) or a
// diode V_f0 + r_d i (`diode`, current stops at zero); return switch R_on always on; motor R_m,
// L_m, E. The periodic steady state is exact: matrix exponentials of the linear intervals, a linear
// solve for the fixed point, second moments by doubling; nothing is sampled.
#pragma once

namespace hotband {

enum class CycleMode { active, diode };

/// One circuit. Volts, ohms, henries, farads; E >= 0, 0 <= D <= 1, f, L_src, L_m, C > 0, R >= 0
/// with a positive resistance in the motor loop and in the pack loop.
struct CycleCase {
    CycleMode mode = CycleMode::diode;
    double Voc = 0;    // pack, open circuit (V)
    double R_src = 0;  // pack and leads, both ways (Ohm)
    double L_src = 0;  // pack and leads, both ways (H)
    double C = 0;      // link capacitor (F)
    double R_esr = 0;  // its series resistance (Ohm)
    double R_on = 0;   // one switch position (Ohm)
    double V_f0 = 0;   // diode threshold (V)
    double r_d = 0;    // diode slope (Ohm)
    double R_m = 0;    // motor, line to line (Ohm)
    double L_m = 0;    // motor, line to line (H)
    double E = 0;      // back-EMF, line to line (V)
    double D = 0;      // duty (dimensionless)
    double f = 0;      // PWM frequency (Hz)
};

/// The periodic steady state. Amperes, volts, watts; powers are means over the period.
struct Cycle {
    bool continuous = true;          // CCM: the motor current never stops
    double conduction_fraction = 1;  // share of the period in which motor current flows
    double i_m_avg = 0, i_m_rms = 0, i_m_min = 0, i_m_max = 0;
    double i_valley = 0;  // motor current when the high-side switch turns on
    double i_peak = 0;    // motor current when it turns off
    double i_src_avg = 0, i_src_rms = 0, i_c_rms = 0;
    double v_link_avg = 0, v_link_min = 0, v_link_max = 0;
    double P_hs = 0, P_ret = 0, P_fw = 0, P_esr = 0, P_R_src = 0, P_R_m = 0, P_emf = 0, P_pack = 0;
    double P_on_top = 0;  // W that an averaged bridge loses beyond its P_pack; none of an exact one
    double energy_residual_rel = 0;
    bool ok = false;  // false until solved: a non-finite case stays false
};

/// Mean motor current (A) over back-EMF (V) at one pack voltage: straight for as long as the
/// current flows all the time, which through diodes it does while its valley is above zero.
struct CurrentLine {
    double at_rest, slope;                // A, A/V
    double valley_at_rest, valley_slope;  // A, A/V; infinite where current may turn round

    double at(double E) const { return at_rest + slope * E; }
    bool holds(double E) const { return valley_at_rest + valley_slope * E >= 0; }
};

/// Solves one case. With `extrema` false i_m_min/max and v_link_min/max are those at the switching
/// edges; with true the extremes between the edges are searched too.
Cycle solve_cycle(const CycleCase& c, bool extrema = false);

}  // namespace hotband
