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

// The bridge of a case by averages: what its freewheel path and its capacitors put in the way.
struct Averaged {
    CycleCase c;
    double V_fw = 0, R_fw = 0, R_esr = 0;

    Averaged(const Plant& p, const BridgeInput& in) : c(cycle_case(p, in)), R_fw(c.R_on) {
        if (p.drive == Drive::six_step) {
            R_esr = c.R_esr;
            if (c.mode == CycleMode::diode) {
                V_fw = c.V_f0;
                R_fw = c.r_d;
            }
        }
    }

    double resistance(double D) const {
        return c.R_m + (1 + D) * c.R_on + (1 - D) * R_fw + D * (D * c.R_src + (1 - D) * R_esr);
    }
};

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
// straight:  D Voc - (1 - D) V_fw = E + R i,
//            R = R_m + (1 + D) R_on + (1 - D) R_fw + D^2 R_src + D (1 - D) R_esr.
AveragedBridge averaged_bridge(const Plant& p, const BridgeInput& in) {
    const Averaged k(p, in);
    const double D = k.c.D;
    return {D * (k.c.Voc + k.V_fw) - k.V_fw, k.resistance(D)};
}

AveragedDuty averaged_duty(const Plant& p, const BridgeInput& in, double current) {
    // The same balance as a square in D:  bend D^2 - V D + wanted = 0.
    const Averaged k(p, in);
    const double V = k.c.Voc + k.V_fw - (k.R_esr + k.c.R_on - k.R_fw) * current;
    const double bend = (k.c.R_src - k.R_esr) * current;
    const double wanted = k.c.E + k.V_fw + k.resistance(0) * current;
    const double square = V * V - 4 * bend * wanted;
    if (!(square > 0)) {
        return {1, V / k.resistance(1)};
    }
    const double D = 2 * wanted / (V + std::sqrt(square));
    return {D, (V - 2 * bend * D) / k.resistance(D)};
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
