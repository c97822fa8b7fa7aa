// ESC losses, term by term. Each formula stands once, here, with its source.
//
// Symbols: f PWM frequency, V link voltage, i_v and i_p motor current at turn-on (valley) and
// turn-off (peak), t transition time, t_d dead time, V_f(i) = V_f0 + r_d i the diode.
#include <algorithm>
#include <cmath>

#include "bridge/esc.hpp"
#include "bridge/sinusoidal.hpp"
#include "physics/motor.hpp"

namespace hotband {
namespace {

constexpr double gate_drive_V = 10;  // V, common practice

double diode_drop(const Plant& p, double i) { return p.diode_threshold + p.diode_slope * i; }

// Six commutations in each electrical turn: the outgoing phase's current falls to zero through a
// diode in t_c = 3 L_ph I / (V + 2 E_ph), capped by the sixth of a turn it has; V_f I t_c / 2 each.
// It exists at full throttle too. Time: Carlson, Lajoie-Mazenc and Fagundes, IEEE Trans. Ind. Appl.
// 28(3), 1992 (from memory).
double commutation_loss(const Plant& p, double V, double I, double omega) {
    const double turns_per_s = electrical_frequency(omega, p.poles);
    if (turns_per_s <= 0 || I <= 0) {
        return 0;
    }
    const double L_phase = 0.5 * p.u.motor_inductance;
    const double E_phase = 0.5 * omega / p.u.kv;
    const double t_c = std::min(3 * L_phase * I / (V + 2 * E_phase), 1 / (6 * turns_per_s));
    return 6 * turns_per_s * diode_drop(p, I) * I * t_c / 2;
}

double supply_loss(const Plant& p, double V) {
    const double drawn = supply_current(p, V) * V;
    const double given = p.bec_kind == BecKind::none ? 0 : p.bec_V * p.bec_A;
    // A pack that has sagged below the supply's voltage gives nothing to regulate.
    return std::max(0.0, drawn - given);
}

// Overlap of voltage and current while a switch turns on or off: 1/2 V i t (textbook). Turn-on at a
// negative valley is soft, and the complementary switch pays at its own turn-off instead: |i_v|
// serves both signs.
double overlap_loss(const Plant& p, double V, double i_valley, double i_peak) {
    return 0.5 * V * p.u.transition * p.pwm * (std::abs(i_valley) + std::abs(i_peak));
}

Losses six_step(const Plant& p, const BridgeInput& in, const Cycle& c) {
    Losses l;
    const double V = c.v_link_avg;
    const bool active = p.freewheel == Freewheel::active;
    l.conduction = c.P_hs + c.P_ret + (active ? c.P_fw : 0);
    l.freewheel = active ? 0 : c.P_fw;
    if (!in.chopping) {
        return l;
    }
    l.switching = overlap_loss(p, V, c.i_valley, c.i_peak);
    // Reverse recovery where a diode hands over a positive current; output and gate charge always.
    const bool recovers = c.i_valley > 0 && c.continuous;
    l.charge = p.pwm * (V * (p.u.output_charge + (recovers ? p.u.recovery_charge : 0)) +
                        gate_drive_V * p.u.gate_charge);
    if (active) {
        const double i_v = std::abs(c.i_valley);
        const double i_p = std::abs(c.i_peak);
        l.dead_time = p.u.dead_time * p.pwm * (diode_drop(p, i_v) * i_v + diode_drop(p, i_p) * i_p);
    }
    return l;
}

// Three legs chop at every throttle; the current's mean over the sine is what each hands over.
Losses sinusoidal(const Plant& p, const Cycle& c) {
    Losses l;
    const double V = c.v_link_avg;
    const double i_mean = sine_mean_per_dc * std::abs(c.i_m_avg);
    l.conduction = c.P_hs + c.P_ret;
    l.switching = 3 * overlap_loss(p, V, i_mean, i_mean);
    l.charge = 3 * p.pwm *
               (V * (p.u.output_charge + p.u.recovery_charge) + gate_drive_V * p.u.gate_charge);
    l.dead_time = 3 * 2 * p.u.dead_time * p.pwm * diode_drop(p, i_mean) * i_mean;
    return l;
}

}  // namespace

Losses times(const Losses& l, double factor) {
    Losses out;
    for (const LossTerm& term : loss_terms) {
        out.*term.watts = factor * (l.*term.watts);
    }
    return out;
}

Losses bridge_losses(const Plant& p, const BridgeInput& in, const Cycle& c, double omega) {
    const double V = c.v_link_avg;
    const bool sine = p.drive == Drive::sinusoidal;
    Losses l = sine ? sinusoidal(p, c) : six_step(p, in, c);
    l.commutation = sine ? 0 : commutation_loss(p, V, c.i_m_avg, omega);
    l.capacitor = c.P_esr;
    l.board = p.u.board_resistance * c.i_m_rms * c.i_m_rms;
    l.supply = supply_loss(p, V);
    return l;
}

}  // namespace hotband
