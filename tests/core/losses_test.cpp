// Each loss term alone, against application notes, data sheets and a commutation integrated in
// time.
#include <array>
#include <cmath>

#include "bridge/esc.hpp"
#include "bridge/sinusoidal.hpp"
#include "drives.hpp"
#include "near.hpp"
#include "physics/constants.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

// Worked examples are compared as printed, in mW or four digits (relative).
constexpr double printed = 1e-3;
// One formula against the same formula written otherwise: rounding (relative).
constexpr double exact = 1e-12;

// A bridge of which only the named term is on.
Plant bare_plant() {
    Plant p;
    p.u = {};
    p.u.kv = 100;
    p.u.motor_inductance = 1e-9;
    p.freewheel = Freewheel::active;
    p.pwm = 24000;
    return p;
}

// Currents as a textbook has them: flat at I, with the link at V.
Cycle flat(double V, double I) {
    Cycle c;
    c.v_link_avg = V;
    c.i_valley = c.i_peak = c.i_m_avg = c.i_m_rms = c.i_m_min = c.i_m_max = I;
    c.ok = true;
    return c;
}

const BridgeInput chopping{.duty = 0.5, .chopping = true};
const BridgeInput full_on{.duty = 1, .chopping = false};

}  // namespace

TEST_CASE("losses: 12 to 5 V, 3 A, 2 MHz converter, ROHM AEK59-D1-0065-2 (S2): switching 360 mW") {
    // Rise and fall of 4 and 6 ns: the model has one transition time, their mean.
    Plant p = bare_plant();
    p.pwm = 2e6;
    p.u.transition = 5e-9;
    CHECK_THAT(bridge_losses(p, chopping, flat(12, 3), 0).switching, WithinRel(0.360, printed));
}

TEST_CASE("losses: the same converter: dead time 2 x 30 ns, 0.5 V diode: 180 mW") {
    Plant p = bare_plant();
    p.pwm = 2e6;
    p.u.dead_time = 30e-9;
    p.diode_threshold = 0.5;
    CHECK_THAT(bridge_losses(p, chopping, flat(12, 3), 0).dead_time, WithinRel(0.180, printed));
}

TEST_CASE("losses: the same converter: gate charge 2 x 1 nC at 5 V: 20 mW, supply 1 mA: 12 mW") {
    // The model drives gates with 10 V; half the charge at twice the voltage is the same energy.
    Plant p = bare_plant();
    p.pwm = 2e6;
    p.u.gate_charge = 1e-9;
    CHECK_THAT(bridge_losses(p, chopping, flat(12, 3), 0).charge, WithinRel(0.020, printed));
    p.u.idle_power = 12 * 1e-3;
    CHECK_THAT(bridge_losses(p, chopping, flat(12, 3), 0).supply, WithinRel(0.012, printed));
}

TEST_CASE("losses: the same converter: conduction without ripple 375 and 367.5 mW") {
    CycleCase k{.mode = CycleMode::active,
                .Voc = 12,
                .R_src = 1e-6,
                .L_src = 1e-9,
                .C = 1,
                .R_esr = 1e-6,
                .R_on = 0.1,
                .R_m = 1e-3,
                .L_m = 1e-2,
                .D = 5.0 / 12,
                .f = 2e6};
    k.E = 5 - 3 * (1e-3 + 0.2);
    CHECK_THAT(solve_cycle(k).P_hs, WithinRel(0.375, printed));
    k.R_on = 0.07;
    k.E = 5 - 3 * (1e-3 + 0.14);
    CHECK_THAT(solve_cycle(k).P_fw, WithinRel(0.3675, printed));
}

TEST_CASE("losses: ROHM 64AN035E, 1 MHz (inputs S2, outputs D): switching 180, dead time 90 mW") {
    Plant p = bare_plant();
    p.pwm = 1e6;
    p.u.transition = 5e-9;
    p.u.dead_time = 30e-9;
    p.diode_threshold = 0.5;
    Cycle c = flat(12, 3);
    c.i_valley = 3 - 0.5 * 0.620567;
    c.i_peak = 3 + 0.5 * 0.620567;
    const Losses l = bridge_losses(p, chopping, c, 0);
    CHECK_THAT(l.switching, WithinRel(0.180, printed));
    CHECK_THAT(l.dead_time, WithinRel(0.090, printed));
}

TEST_CASE("losses: ROHM 64AN035E: recovery 45 mW, output capacitance 11.52 mW, gate 10 mW") {
    Plant p = bare_plant();
    p.pwm = 1e6;
    p.u.recovery_charge = 0.5 * 0.3 * 25e-9;  // Irr 0.3 A, trr 25 ns
    CHECK_THAT(bridge_losses(p, chopping, flat(12, 3), 0).charge, WithinRel(0.045, printed));
    p = bare_plant();
    p.pwm = 1e6;
    // 80 pF on each switch: 1/2 C V^2 twice a period is V Q with the charge of one switch
    p.u.output_charge = 80e-12 * 12;
    CHECK_THAT(bridge_losses(p, chopping, flat(12, 3), 0).charge, WithinRel(0.01152, printed));
    p = bare_plant();
    p.pwm = 1e6;
    p.u.gate_charge = 1e-9;
    CHECK_THAT(bridge_losses(p, chopping, flat(12, 3), 0).charge, WithinRel(0.010, printed));
}

TEST_CASE("losses: 22.2 V, 40 A, 24 kHz: overlap 0.5042 W, dead time 0.768 W (D)") {
    // Rg 10.8 Ohm, 10 V drive, 3 V plateau, Qgs2 + Qgd 9.2 nC: t = Q / I
    Plant p = bare_plant();
    const double t_on = 9.2e-9 / ((10 - 3) / 10.8);
    const double t_off = 9.2e-9 / (3 / 10.8);
    p.u.transition = 0.5 * (t_on + t_off);
    p.u.dead_time = 500e-9;
    p.diode_threshold = 0.8;
    Cycle c = flat(22.2, 40);
    c.i_valley = 40 - 2.9;
    c.i_peak = 40 + 2.9;
    const Losses l = bridge_losses(p, chopping, c, 0);
    CHECK_THAT(l.switching, WithinRel(0.5042, printed));
    CHECK_THAT(l.dead_time, WithinRel(0.768, printed));
}

TEST_CASE("losses: overlap 1/2 V I (t_r + t_f) f for data-sheet switches (S)") {
    Plant p = bare_plant();
    p.pwm = 16000;
    p.u.transition = 100e-9;
    CHECK_THAT(bridge_losses(p, chopping, flat(50, 60), 0).switching,
               WithinRel(0.5 * 50 * 60 * 200e-9 * 16000, exact));
}

TEST_CASE(
    "losses: switching goes with frequency, voltage and transition time, each to the first power") {
    Plant p = bare_plant();
    p.u.transition = 150e-9;
    const double once = bridge_losses(p, chopping, flat(22, 40), 0).switching;
    Plant twice = p;
    twice.pwm *= 2;
    CHECK_THAT(bridge_losses(twice, chopping, flat(22, 40), 0).switching,
               WithinRel(2 * once, exact));
    twice = p;
    twice.u.transition *= 2;
    CHECK_THAT(bridge_losses(twice, chopping, flat(22, 40), 0).switching,
               WithinRel(2 * once, exact));
    CHECK_THAT(bridge_losses(p, chopping, flat(44, 40), 0).switching, WithinRel(2 * once, exact));
}

TEST_CASE("losses: a negative valley pays at the other switch, and no diode recovers there") {
    Plant p = bare_plant();
    p.u.transition = 150e-9;
    p.u.recovery_charge = 100e-9;
    Cycle c = flat(22, 10);
    c.i_valley = -5;
    c.i_peak = 25;
    const Losses l = bridge_losses(p, chopping, c, 0);
    CHECK_THAT(l.switching, WithinRel(0.5 * 22 * 150e-9 * 24000 * (5 + 25), exact));
    CHECK(l.charge == 0);
    c.i_valley = 5;
    CHECK_THAT(bridge_losses(p, chopping, c, 0).charge, WithinRel(24000 * 22 * 100e-9, exact));
}

TEST_CASE("losses: a diode whose current has stopped does not recover") {
    Plant p = bare_plant();
    p.freewheel = Freewheel::diode;
    p.u.recovery_charge = 100e-9;
    Cycle c = flat(22, 10);
    c.i_valley = 0;
    c.continuous = false;
    CHECK(bridge_losses(p, chopping, c, 0).charge == 0);
}

TEST_CASE("losses: output charge by data sheets, not 1/2 C V^2 (S)") {
    // One 60 V switch: Qoss 83 nC where 1/2 C V^2 would suggest 18.7 nC. 24 kHz, 22 V: 44 mW.
    Plant p = bare_plant();
    p.u.output_charge = 83e-9;
    CHECK_THAT(bridge_losses(p, chopping, flat(22, 10), 0).charge,
               WithinRel(24000 * 22 * 83e-9, exact));
}

TEST_CASE(
    "losses: dead time is the active bridge's alone, the diode bridge has freewheel instead") {
    Plant p = bare_plant();
    p.u.dead_time = 500e-9;
    p.diode_threshold = 0.8;
    p.freewheel = Freewheel::diode;
    Cycle c = flat(22, 40);
    c.P_fw = 7;
    c.P_hs = 2;
    c.P_ret = 3;
    const Losses diode = bridge_losses(p, chopping, c, 0);
    CHECK(diode.dead_time == 0);
    CHECK(diode.freewheel == 7);
    CHECK(diode.conduction == 5);
    p.freewheel = Freewheel::active;
    const Losses active = bridge_losses(p, chopping, c, 0);
    CHECK(active.dead_time > 0);
    CHECK(active.freewheel == 0);
    CHECK(active.conduction == 12);
}

TEST_CASE("losses: at full throttle nothing chops: no switching, charge or dead time") {
    Plant p = bare_plant();
    p.u.transition = 150e-9;
    p.u.dead_time = 500e-9;
    p.u.output_charge = 100e-9;
    p.u.gate_charge = 100e-9;
    const Losses l = bridge_losses(p, full_on, flat(22, 40), 500);
    CHECK(l.switching == 0);
    CHECK(l.charge == 0);
    CHECK(l.dead_time == 0);
}

TEST_CASE("losses: commutation against the three phases integrated in time") {
    // Star of L and back-EMF E per phase, no resistance. Phase a leaves through the lower diode
    // (terminal at 0), b enters at V, c returns at 0; e_a = e_b = E, e_c = -E. Closed form
    // 3 L I / (V + 2 E): Carlson, Lajoie-Mazenc and Fagundes, IEEE Trans. Ind. Appl. 28(3), 1992
    // (M).
    const double V = 22;
    const double L_phase = 5e-6;
    const double I = 80;
    const double E_phase = GENERATE(2.0, 6.0, 10.0);
    std::array<double, 3> i = {I, 0, -I};
    const std::array<double, 3> terminal = {0, V, 0};
    const std::array<double, 3> emf = {E_phase, E_phase, -E_phase};
    const double dt = 1e-10;
    double t = 0;
    double diode_charge = 0;  // A s through the diode
    while (i[0] > 0) {
        double neutral = 0;
        for (size_t n = 0; n < 3; ++n) {
            neutral += (terminal[n] - emf[n]) / 3;
        }
        diode_charge += i[0] * dt;
        for (size_t n = 0; n < 3; ++n) {
            i[n] += dt * (terminal[n] - emf[n] - neutral) / L_phase;
        }
        t += dt;
    }
    constexpr double stepped = 1e-4;  // time step over commutation time (relative)
    CHECK_THAT(t, WithinRel(3 * L_phase * I / (V + 2 * E_phase), stepped));

    // The model's term: drop times charge, six times in each electrical turn.
    Plant p = bare_plant();
    p.poles = 14;
    p.u.motor_inductance = 2 * L_phase;
    p.diode_threshold = 0.7;
    const double omega = 2 * E_phase * p.u.kv;
    const double turns_per_s = omega / (2 * pi) * 7;
    REQUIRE(6 * turns_per_s * t < 1);
    CHECK_THAT(bridge_losses(p, full_on, flat(V, I), omega).commutation,
               WithinRel(6 * turns_per_s * 0.7 * diode_charge, 1e-3));
}

TEST_CASE("losses: commutation never takes longer than the sixth of a turn it has") {
    Plant p = bare_plant();
    p.poles = 28;
    p.u.motor_inductance = 1e-3;
    p.diode_threshold = 0.7;
    // the outgoing phase then conducts all the time, falling: half of V_f I
    CHECK_THAT(bridge_losses(p, full_on, flat(22, 40), 2000).commutation,
               WithinRel(0.5 * 0.7 * 40, exact));
    CHECK(bridge_losses(p, full_on, flat(22, 40), 0).commutation == 0);
    CHECK(bridge_losses(p, full_on, flat(22, 0), 2000).commutation == 0);
}

TEST_CASE("losses: commutation at full throttle grows with speed and pole count") {
    Plant p = bare_plant();
    p.u.motor_inductance = 1e-5;
    p.diode_threshold = 0.7;
    p.poles = 14;
    const double slow = bridge_losses(p, full_on, flat(22, 40), 500).commutation;
    CHECK(slow > 0);
    CHECK(bridge_losses(p, full_on, flat(22, 40), 1000).commutation > slow);
    p.poles = 28;
    CHECK_THAT(bridge_losses(p, full_on, flat(22, 40), 500).commutation,
               WithinRel(2 * slow, exact));
}

TEST_CASE("losses: board and capacitor are R I^2") {
    Plant p = bare_plant();
    p.u.board_resistance = 0.5e-3;
    Cycle c = flat(22, 100);
    c.i_m_rms = 110;
    c.P_esr = 3.25;
    const Losses l = bridge_losses(p, full_on, c, 0);
    CHECK_THAT(l.board, WithinRel(0.5e-3 * 110 * 110, exact));
    CHECK(l.capacitor == 3.25);
    CHECK_THAT(l.at_board() + l.at_junction(), WithinRel(l.total(), exact));
}

TEST_CASE("losses: a linear supply burns (V - V_bec) I: 22.2 V to 5 V at 1.5 A is 25.8 W") {
    Plant p = bare_plant();
    p.bec_kind = BecKind::linear;
    p.bec_V = 5;
    p.bec_A = 1.5;
    CHECK_THAT(bridge_losses(p, full_on, flat(22.2, 0), 0).supply, WithinRel(25.8, exact));
    CHECK_THAT(supply_current(p, 22.2), WithinRel(1.5, exact));
}

TEST_CASE(
    "losses: a switching supply at 85-92 % (P) takes its share of the power, not of the volts") {
    Plant p = bare_plant();
    p.bec_kind = BecKind::switching;
    p.bec_V = 6;
    p.bec_A = 3;
    const double at_12 = bridge_losses(p, full_on, flat(12, 0), 0).supply;
    CHECK(between(18 * (1 / 0.92 - 1), at_12, 18 * (1 / 0.85 - 1)));
    CHECK_THAT(bridge_losses(p, full_on, flat(48, 0), 0).supply, WithinRel(at_12, exact));
    CHECK_THAT(supply_current(p, 12) * 12, WithinRel(18 + at_12, exact));
}

TEST_CASE(
    "losses: switch resistance rises 1.43-1.50 times at 100 deg C, 1.61-1.71 at 125 (D from data"
    " sheets)") {
    CHECK_THAT(switch_resistance_factor(25), WithinAbs(1, exact));
    CHECK(between(1.43, switch_resistance_factor(100), 1.50));
    CHECK(between(1.61, switch_resistance_factor(125), 1.71));
    double last = 0;
    for (int celsius = -40; celsius <= 250; celsius += 5) {
        CHECK(switch_resistance_factor(celsius) > last);
        last = switch_resistance_factor(celsius);
    }
}

TEST_CASE(
    "losses: sinusoidal drive switches three legs at every throttle, with no relief at full") {
    Plant p = bare_plant();
    p.drive = Drive::sinusoidal;
    p.u.transition = 150e-9;
    p.u.dead_time = 500e-9;
    p.diode_threshold = 0.7;
    // mean of the rectified phase current over its direct-current equivalent: 0.735 (D)
    const double i = 0.7351 * 40;
    const Losses l = bridge_losses(p, full_on, flat(22, 40), 800);
    CHECK_THAT(l.switching, WithinRel(3 * 22 * i * 150e-9 * 24000, printed));
    CHECK_THAT(l.dead_time, WithinRel(3 * 2 * 500e-9 * 24000 * 0.7 * i, printed));
    CHECK(l.commutation == 0);
    CHECK(l.freewheel == 0);
}

TEST_CASE("losses: ESC efficiency 95-98 % full, 85-93 % mid, below 80 % at low throttle (P)") {
    // The range is that of small drives; a large ESC run below its rating does better, in the same
    // order.
    const auto efficiency = [](const Setup& s, double throttle) {
        const Plant p = median_plant(s);
        const Operating o = operate(p, {.throttle = throttle}, source_at(p, 0.6, 25, 60, 50));
        REQUIRE(o.ok);
        return 1 - o.losses.total() / (o.i_pack * o.v_link);
    };
    CHECK(between(0.95, efficiency(small_drive(), 1), 0.98));
    CHECK(between(0.85, efficiency(small_drive(), 0.4), 0.93));
    CHECK(efficiency(small_drive(), 0.1) < 0.80);
    double last = 1;
    for (const double throttle : {1.0, 0.8, 0.6, 0.4, 0.2, 0.1}) {
        const double here = efficiency(six_cell_drive(), throttle);
        CHECK(here < last);
        last = here;
    }
}
