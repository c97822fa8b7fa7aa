// Which circuit the plant's bridge is: six-step exactly, sinusoidal by averages. See esc.hpp.
#include "bridge/esc.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "bridge/circuit.hpp"
#include "bridge/sinusoidal.hpp"
#include "physics/constants.hpp"
#include "physics/motor.hpp"

namespace hotband {

namespace {

CycleCase cycle_case(const Plant& p, const BridgeInput& in) {
    const Unknowns& u = p.u;
    const double esr = capacitor_esr(u.capacitor_esr, u.capacitance, p.pwm, in.board_C);
    return {
        .mode = p.freewheel == Freewheel::active ? CycleMode::active : CycleMode::diode,
        .Voc = in.Voc,
        .R_src = in.R_src,
        .L_src = u.lead_inductance,
        .C = u.capacitance,
        .R_esr = esr,
        .R_on = u.switch_resistance * switch_resistance_factor(in.junction_C),
        .V_f0 = p.diode_threshold,
        .r_d = p.diode_slope,
        .R_m = u.motor_resistance * copper_factor(in.winding_C) + u.board_resistance,
        .L_m = u.motor_inductance,
        .E = in.E,
        .D = in.chopping ? in.duty : 1,
        .f = p.pwm,
    };
}

}  // namespace

double capacitor_esr(double told_esr, double capacitance, double frequency, double celsius) {
    constexpr double oxide_tan_delta = 0.06;  // from memory
    constexpr double halving_K = 62;          // from memory
    return told_esr * std::exp2(-(celsius - 25) / halving_K) +
           oxide_tan_delta / (2 * pi * frequency * capacitance);
}

Bridge::Bridge(const Plant& p, const BridgeInput& in)
    : case_(cycle_case(p, in)),
      circuit_(p.drive == Drive::sinusoidal ? nullptr : std::make_unique<Circuit>(case_)) {}

Bridge::~Bridge() = default;

Cycle Bridge::solve(double Voc, double E, bool extrema) const {
    if (circuit_) {
        return circuit_->solve(Voc, E, extrema);
    }
    CycleCase c = case_;
    c.Voc = Voc;
    c.E = E;
    return solve_sinusoidal(c);
}

double Bridge::motor_current(double Voc, double E) const {
    return circuit_ ? circuit_->motor_current(Voc, E) : solve(Voc, E).i_m_avg;
}

std::optional<CurrentLine> Bridge::current_line(double Voc) const {
    if (circuit_) {
        return circuit_->current_line(Voc);
    }
    const double at_rest = solve(Voc, 0).i_m_avg;
    return CurrentLine{at_rest, solve(Voc, 1).i_m_avg - at_rest,
                       std::numeric_limits<double>::infinity(), 0};
}

// The motor's mean voltage balance, with the pack's current smooth and the capacitor's ramps
// straight:  D (Voc - D R_src i - (1 - D) R_esr i) = E + (1 - D) V_fw + R i,
//            R = R_m + (1 + D) R_on + (1 - D) R_fw.
AveragedDuty averaged_duty(const Plant& p, const BridgeInput& in, double current) {
    const CycleCase k = cycle_case(p, in);
    const bool diode = p.drive == Drive::six_step && k.mode == CycleMode::diode;
    const double V_fw = diode ? k.V_f0 : 0;
    const double R_fw = diode ? k.r_d : k.R_on;
    const double R_esr = p.drive == Drive::six_step ? k.R_esr : 0;
    const double V = k.Voc - R_esr * current + V_fw - (k.R_on - R_fw) * current;
    const double bend = (k.R_src - R_esr) * current;
    const double wanted = k.E + V_fw + (k.R_m + k.R_on + R_fw) * current;
    // bend D^2 - V D + wanted = 0; where the pack cannot give that current, the most it can.
    const double D = 2 * wanted / (V + std::sqrt(std::max(0.0, V * V - 4 * bend * wanted)));
    const double R = k.R_m + (1 + D) * k.R_on + (1 - D) * R_fw + D * (D * k.R_src + (1 - D) * R_esr);
    return {D, (V - 2 * bend * D) / R};
}

double supply_current(const Plant& p, double V) {
    constexpr double switching_bec_efficiency = 0.88;  // common practice
    const double idle = p.u.idle_power / V;
    switch (p.bec_kind) {
        case BecKind::linear:
            return idle + p.bec_A;
        case BecKind::switching:
            return idle + p.bec_V * p.bec_A / (switching_bec_efficiency * V);
        case BecKind::none:
            return idle;
    }
    return idle;
}

}  // namespace hotband
