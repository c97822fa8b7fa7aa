// What must hold for every drive, whatever its numbers: generated drives (rapidcheck), fixed seed.
// Sources: conservation of energy, dimensional analysis, monotonicity of the physics as stated.
#ifdef HOTBAND_RAPIDCHECK

#include "core/near.hpp"

#include <rapidcheck.h>
#include <rapidcheck/catch.h>

#include <cmath>
#include <cstdlib>
#include <string>

#include "core/drives.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

// The same drives in every run; RC_PARAMS in the environment overrides it.
[[maybe_unused]] const int fixed_seed = setenv("RC_PARAMS", "seed=20240101 max_success=150", 0);

constexpr double balance = 1e-9;     // of powers (relative), as the contract promises
constexpr double rounding_K = 1e-3;  // K, what root finding and stepping leave

// A whole number in [low, high), evenly from the first case on.
int count(int low, int high) {
    return *rc::gen::resize(rc::kNominalSize, rc::gen::inRange(low, high));
}

double pick(double low, double high) { return low + (high - low) * count(0, 1000001) * 1e-6; }

double pick_log(double low, double high) { return std::exp(pick(std::log(low), std::log(high))); }

// A drive as the field sees them: its ESC used at 40-100 % of its rating, its pack at 10-30 C.
Setup any_drive() {
    Setup s;
    s.esc.rating_A = pick_log(8, 220);
    s.pack.cells = count(2, 13);
    s.load.full_throttle_A = s.esc.rating_A * pick(0.4, 1);
    s.pack.capacity_mAh = 1000 * *s.load.full_throttle_A / pick(10, 30);
    s.pack.sag_floor_V = 2;
    s.esc.pwm_Hz = pick_log(8e3, 48e3);
    s.esc.freewheel = count(0, 2) == 0 ? Freewheel::active : Freewheel::diode;
    s.air.temperature_C = pick(-5, 38);
    s.air.altitude_m = pick(0, 2500);
    s.air.flight_speed_mps = pick(0, 30);
    s.air.cooling = *rc::gen::element(Cooling::open, Cooling::vented, Cooling::closed);
    s.motor.poles = 2 * count(1, 15);
    return s;
}

std::string told(const Setup& s) {
    return std::to_string(s.esc.rating_A) + " A class, " + std::to_string(s.pack.cells) +
           " cells, " + std::to_string(*s.load.full_throttle_A) + " A, " +
           std::to_string(s.esc.pwm_Hz) + " Hz, " +
           (s.esc.freewheel == Freewheel::active ? "active" : "diode") + ", air " +
           std::to_string(s.air.temperature_C) + " C, " + std::to_string(s.air.altitude_m) +
           " m, " + std::to_string(s.air.flight_speed_mps) + " m/s, cooling " +
           std::to_string(static_cast<int>(s.air.cooling)) + ", poles " +
           std::to_string(*s.motor.poles);
}

double settled(const Plant& p, double throttle) {
    const DemandMap map = map_demand(p, {.throttle = throttle});
    RC_ASSERT(map.ok);
    const Steady steady = settle(p, map, link_voltage(p, map, 0.6, p.pack.start_C));
    return steady.runaway ? 1e6 : steady.heat.board;
}

double hold_peak(const Plant& p, double throttle) {
    const March m = hold(p, throttle, p.esc_start_C);
    return m.ended_by == EndedBy::runaway ? 1e6 : m.peak_board;
}

// Neither the settled nor the held ESC gets cooler.
void never_cooler(const Plant& p, const Plant& q, double throttle) {
    RC_LOG() << "throttle " << throttle << '\n';
    const double settled_p = settled(p, throttle);
    const double settled_q = settled(q, throttle);
    RC_LOG() << "settled " << settled_p << " -> " << settled_q << '\n';
    RC_ASSERT(settled_q >= settled_p - rounding_K);
    const double peak_p = hold_peak(p, throttle);
    const double peak_q = hold_peak(q, throttle);
    RC_LOG() << "peak " << peak_p << " -> " << peak_q << '\n';
    RC_ASSERT(peak_q >= peak_p - rounding_K);
}

void never_cooler(const Setup& before, const Setup& after, double throttle) {
    RC_LOG() << told(before) << '\n';
    never_cooler(median_plant(before), median_plant(after), throttle);
}

}  // namespace

TEST_CASE("invariant: energy closes in every drive's circuit") {
    rc::prop("pack power = resistances, switches, diode and motor", [] {
        const Setup s = any_drive();
        const Plant p = median_plant(s);
        const double throttle = pick(0.03, 1);
        const Operating o = operate(p, {.throttle = throttle},
                                    source_at(p, pick(0.2, 1), p.pack.start_C, pick(0, 150), 60));
        RC_LOG() << told(s) << ", throttle " << throttle << '\n';
        RC_ASSERT(o.ok);
        RC_ASSERT(o.cycle.energy_residual_rel <= balance);
    });
}

TEST_CASE("invariant: warmer air never cools the ESC") {
    // The same drive in warmer air. (A setup's air also warms the motor's copper and the pack
    // before the load is fitted to the told current.)
    rc::prop("settled and held", [] {
        const Setup s = any_drive();
        const Plant p = median_plant(s);
        Plant warmer = p;
        const double rise = pick(1, 15);
        warmer.air.celsius += rise;
        warmer.esc_start_C += rise;
        RC_LOG() << told(s) << ", " << rise << " K\n";
        never_cooler(p, warmer, pick(0.2, 1));
    });
}

TEST_CASE("invariant: more switch resistance never cools the ESC") {
    rc::prop("settled and held", [] {
        Setup s = any_drive();
        s.esc.switch_resistance_mOhm = 8.5 * std::pow(s.esc.rating_A / 15, -1.167) * pick(0.5, 1.5);
        Setup more = s;
        *more.esc.switch_resistance_mOhm *= pick(1.05, 1.5);
        never_cooler(s, more, pick(0.2, 1));
    });
}

TEST_CASE("invariant: a higher PWM frequency never cools the ESC where ripple is small") {
    // It may cool it otherwise, and rightly so: large ripple, discontinuous conduction and the
    // resonance of leads and capacitor all cost heat that a higher frequency saves.
    rc::prop("settled and held, continuous, ripple below a tenth, above thrice the resonance", [] {
        Setup s = any_drive();
        s.esc.pwm_Hz = pick_log(16e3, 48e3);
        const double throttle = pick(0.3, 0.96);
        // enough inductance for 6 % ripple of a current that falls with the throttle squared, and
        // a resonance at 3.5 kHz or so
        const double volts = 4 * s.pack.cells;
        const double ripple = 0.06 * *s.load.full_throttle_A * throttle * throttle;
        s.motor.inductance_uH = 1e6 * volts / (4 * s.esc.pwm_Hz * ripple);
        s.pack.lead_length_cm = 100;
        s.esc.capacitor_uF = 3000;
        const Plant p = median_plant(s);
        const Operating o =
            operate(p, {.throttle = throttle}, source_at(p, 0.3, p.pack.start_C, 60, 50));
        const double resonance =
            1 / (2 * 3.14159265 * std::sqrt(p.u.lead_inductance * p.u.capacitance));
        RC_PRE(o.cycle.continuous && o.cycle.i_valley > 0);
        RC_PRE(o.cycle.i_peak - o.cycle.i_valley < 0.1 * o.i_motor);
        RC_PRE(s.esc.pwm_Hz > 3 * resonance);
        Setup faster = s;
        faster.esc.pwm_Hz *= pick(1.2, 3);
        never_cooler(s, faster, throttle);
    });
}

TEST_CASE("invariant: a slower switch, a larger diode drop, more commutations never cool the ESC") {
    rc::prop("held", [] {
        Setup s = any_drive();
        s.esc.transition_ns = pick(50, 250);
        s.esc.diode_V = pick(0.4, 0.8);
        s.esc.dead_time_ns = pick(200, 1000);
        const double throttle = pick(0.3, 0.96);
        const double before = settled(median_plant(s), throttle);
        Setup slower = s;
        *slower.esc.transition_ns *= 1.5;
        RC_ASSERT(settled(median_plant(slower), throttle) >= before - rounding_K);
        Setup longer = s;
        *longer.esc.dead_time_ns *= 1.5;
        RC_ASSERT(settled(median_plant(longer), throttle) >= before - rounding_K);
        // by the loss itself: at one duty a larger drop also draws less current
        const Plant p = median_plant(s);
        Plant q = p;
        q.diode_threshold *= 1.1;
        const Source source = source_at(p, 0.6, p.pack.start_C, 60, 50);
        const Losses one = operate(p, {.throttle = throttle}, source).losses;
        const Losses two = operate(q, {.throttle = throttle}, source).losses;
        RC_LOG() << told(s) << ", throttle " << throttle << '\n';
        RC_ASSERT(two.freewheel + two.dead_time + two.commutation >
                  one.freewheel + one.dead_time + one.commutation);
    });
}

TEST_CASE("invariant: nothing jumps when an input moves by its last digit") {
    rc::prop("losses and currents", [] {
        const Setup s = any_drive();
        const Plant p = median_plant(s);
        const double throttle = pick(0.05, 0.96);
        const Source source = source_at(p, 0.6, p.pack.start_C, 60, 50);
        const Operating o = operate(p, {.throttle = throttle}, source);
        RC_ASSERT(o.ok);
        const auto same = [&](const Operating& moved) {
            constexpr double last_digits = 1e-7;  // relative; a step would be of the order of 1e-2
            RC_ASSERT(std::abs(moved.losses.total() - o.losses.total()) <=
                      last_digits * o.losses.total());
            RC_ASSERT(std::abs(moved.i_pack - o.i_pack) <= last_digits * o.i_pack);
        };
        RC_LOG() << told(s) << ", throttle " << throttle << '\n';
        same(operate(p, {.throttle = std::nextafter(throttle, 2.0)}, source));
        Source warmer = source;
        warmer.junction_C = std::nextafter(source.junction_C, 1e3);
        warmer.board_C = std::nextafter(source.board_C, 1e3);
        same(operate(p, {.throttle = throttle}, warmer));
        Source higher = source;
        higher.Voc = std::nextafter(source.Voc, 1e3);
        same(operate(p, {.throttle = throttle}, higher));
        for (double Unknowns::*member :
             {&Unknowns::motor_inductance, &Unknowns::lead_inductance, &Unknowns::capacitance,
              &Unknowns::kv, &Unknowns::switch_resistance, &Unknowns::no_load_current}) {
            Plant q = p;
            q.u.*member = std::nextafter(p.u.*member, 1e9);
            same(operate(q, {.throttle = throttle}, source));
        }
        Plant q = p;
        q.pwm = std::nextafter(p.pwm, 1e9);
        same(operate(q, {.throttle = throttle}, source));
    });
}

TEST_CASE("invariant: the full-on threshold is the only step in throttle") {
    rc::prop("losses between neighbouring throttles", [] {
        const Setup s = any_drive();
        const Plant p = median_plant(s);
        const Source source = source_at(p, 0.6, p.pack.start_C, 60, 50);
        const double throttle = pick(0.1, 0.96);
        const double a = operate(p, {.throttle = throttle}, source).losses.total();
        const double b = operate(p, {.throttle = throttle + 1e-6}, source).losses.total();
        RC_LOG() << told(s) << ", throttle " << throttle << '\n';
        RC_ASSERT(std::abs(b - a) < 1e-4 * a);
    });
}

TEST_CASE("invariant: six-step drive approaches plain conduction as the duty approaches one") {
    rc::prop("conduction, freewheel, capacitor and current", [] {
        const Setup s = any_drive();
        const Plant p = median_plant(s);
        const Source source = source_at(p, 0.6, p.pack.start_C, 60, 50);
        const Operating full = operate(p, {.throttle = 1}, source);
        const Operating near = operate(p, {.throttle = 0.9, .duty = 1 - 1e-8}, source);
        RC_LOG() << told(s) << '\n';
        RC_ASSERT(near.chopping && !full.chopping);
        // While it chops at all, edges cost what they cost; the link supplies that on top.
        const Losses& l = near.losses;
        const double edges_A = (l.switching + l.charge + l.dead_time) / near.v_link;
        RC_ASSERT(std::abs(near.i_pack - edges_A - full.i_pack) < 1e-6 * full.i_pack);
        RC_ASSERT(std::abs(near.losses.conduction - full.losses.conduction) <
                  1e-6 * full.losses.conduction);
        RC_ASSERT(near.losses.freewheel < 1e-6 * full.losses.conduction);
        RC_ASSERT(near.losses.capacitor < 1e-4 * full.losses.conduction);
        RC_ASSERT(near.losses.commutation > 0.999 * full.losses.commutation);
    });
}

TEST_CASE("invariant: everything twice as heavy and a pack twice as large take twice as long") {
    rc::prop("peak, mean and duration of a hold", [] {
        const Setup s = any_drive();
        const Plant p = median_plant(s);
        Plant q = p;
        q.pack.charge *= 2;
        q.pack.heat_capacity *= 2;
        q.heat.C_junction *= 2;
        q.heat.C_board *= 2;
        q.heat.C_case *= 2;
        q.heat.C_bay *= 2;
        q.winding.capacity *= 2;
        const double throttle = pick(0.3, 1);
        const March one = hold(p, throttle);
        const March two = hold(q, throttle);
        RC_LOG() << told(s) << ", throttle " << throttle << '\n';
        RC_PRE(one.ended_by == EndedBy::reserve);
        constexpr double stepped_K = 0.2;  // K, both marches within 0.1 K of the truth
        RC_ASSERT(std::abs(two.peak_board - one.peak_board) < stepped_K);
        RC_ASSERT(std::abs(two.mean_board - one.mean_board) < stepped_K);
        RC_ASSERT(std::abs(two.seconds - 2 * one.seconds) < 4e-3 * two.seconds);
    });
}

TEST_CASE("invariant: a hold of an ESC at air temperature never passes where it would settle") {
    rc::prop("peak of the hold against the settled board", [] {
        const Setup s = any_drive();
        const Plant p = median_plant(s);
        const double throttle = pick(0.2, 1);
        const DemandMap map = map_demand(p, {.throttle = throttle});
        const March m = hold(p, throttle, p.esc_start_C);
        // the hottest of settled temperatures over the flight's link voltages
        double most = 0;
        for (const Moment& now : m.moments) {
            const Steady steady = settle(p, map, now.v_link);
            most = std::max(most, steady.runaway ? 1e6 : steady.heat.board);
        }
        RC_LOG() << told(s) << ", throttle " << throttle << ", " << m.peak_board << " of " << most
                 << '\n';
        RC_ASSERT(m.peak_board <= most + 0.1);  // K, the march's own error
    });
}

#endif
