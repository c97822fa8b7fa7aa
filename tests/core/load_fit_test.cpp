// The load's fit and the operating point's smaller parts: duty maps, windings, means of a hold, the
// model's own error, rotors without a disc.
#include "flight/load_fit.hpp"

#include <cmath>

#include "drives.hpp"
#include "flight/hold.hpp"
#include "near.hpp"
#include "physics/constants.hpp"
#include "physics/motor.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

Source fresh_of(const Plant& p) { return source_at(p, p.pack.start, p.pack.start_C, 50, 50); }

Source middle_of(const Plant& p) {
    return source_at(p, 0.5 * (p.pack.start + p.pack.reserve), p.pack.start_C, 50, 50);
}

Setup untold() {
    Setup s = six_cell_drive();
    s.load.full_throttle_A.reset();
    return s;
}

Setup helicopter() {
    Setup s = six_cell_drive();
    s.load = {};
    s.load.kind = LoadKind::governed;
    s.load.hover_A = 22;
    s.load.rotor_rpm = 2100;
    s.load.gear_ratio = 8.5;
    s.esc.rating_A = 100;
    return s;
}

MeasuredRow hold_row(double throttle_pct, double pack_A, std::optional<double> seconds = {}) {
    MeasuredRow row;
    row.throttle_pct = throttle_pct;
    row.pack_A = pack_A;
    row.hold_s = seconds;
    return row;
}

// The plant with one unknown one sigma up.
Plant moved(const Setup& s, double Unknowns::*slot) {
    const std::vector<Prior> priors = make_priors(s);
    std::vector<double> z(priors.size(), 0);
    for (size_t i = 0; i < priors.size(); ++i) {
        z[i] = priors[i].slot == slot ? 1 : 0;
    }
    return fitted_plant(s, priors, z);
}

}  // namespace

TEST_CASE("load: without points duty is a power of throttle") {
    const Setup s = six_cell_drive();
    const Plant plain = median_plant(s);
    const Plant curved = moved(s, &Unknowns::throttle_curve);
    const double power = std::exp(0.10);
    for (const double throttle : {0.05, 0.2, 0.37, 0.5, 0.81, 1.0}) {
        // a curve through twenty knots
        CHECK_THAT(plain.load.duty_of_throttle.at(throttle), WithinAbs(throttle, 1e-9));
        CHECK_THAT(curved.load.duty_of_throttle.at(throttle),
                   WithinAbs(std::pow(throttle, power), 2e-4));
    }
}

TEST_CASE("load: told currents are scaled by their meter, the load with them") {
    const Setup s = six_cell_drive();
    const Plant p = moved(s, &Unknowns::current_scale);
    CHECK_THAT(operate(p, {.throttle = 1}, fresh_of(p)).i_pack,
               WithinRel(112 * std::exp(0.03), 1e-6));
    Setup points = untold();
    points.load.points = {{60, 35, {}}, {100, 100, {}}};
    const Plant q = moved(points, &Unknowns::current_scale);
    CHECK_THAT(operate(q, {.throttle = 0.6}, fresh_of(q)).i_pack,
               WithinRel(35 * std::exp(0.03), 1e-6));
    const Demand d = demand_for_current(q, 0.6, 40, 0.6);
    CHECK_THAT(operate(q, d, source_at(q, 0.6, 25, 50, 50)).i_pack,
               WithinRel(40 * std::exp(0.03), 1e-6));
    const Plant h = moved(helicopter(), &Unknowns::current_scale);
    CHECK_THAT(operate(h, {.throttle = 1}, middle_of(h)).i_pack,
               WithinRel(22 * std::exp(0.03), 1e-6));
}

TEST_CASE(
    "load: of several full-throttle readings the geometric mean, they go before the told one") {
    Setup s = six_cell_drive();
    s.load.points = {{100, 100, {}}};
    const double low = median_plant(s).load.torque_coefficient;
    s.load.points = {{100, 121, {}}};
    const double high = median_plant(s).load.torque_coefficient;
    s.load.points = {{100, 100, {}}, {98, 121, {}}};  // both beyond full-on
    CHECK_THAT(median_plant(s).load.torque_coefficient, WithinRel(std::sqrt(low * high), 1e-9));
    // The told current of 112 A counts where no point is at full throttle.
    s.load.points = {{60, 35, {}}};
    const Plant p = median_plant(s);
    CHECK_THAT(operate(p, {.throttle = 1}, fresh_of(p)).i_pack, WithinRel(112, 1e-6));
    CHECK_THAT(operate(p, {.throttle = 0.6}, fresh_of(p)).i_pack, WithinRel(35, 1e-6));
}

TEST_CASE("load: part throttle alone is taken as duty for the load's sake") {
    Setup s = untold();
    // what else goes with the current is told
    s.pack.cell_resistance_mOhm = 1.3;
    s.motor.resistance_mOhm = 16;
    s.motor.inductance_uH = 9;
    s.motor.no_load_A = 3;
    s.load.points = {{60, 35, {}}};
    const Plant one = median_plant(s);
    CHECK_THAT(one.load.duty_of_throttle.at(0.6), WithinAbs(0.6, 1e-6));
    CHECK_THAT(operate(one, {.throttle = 0.6}, fresh_of(one)).i_pack, WithinRel(35, 1e-6));
    s.load.points = {{80, 62, {}}};
    const double other = median_plant(s).load.torque_coefficient;
    s.load.points = {{60, 35, {}}, {80, 62, {}}};
    const Plant both = median_plant(s);
    CHECK_THAT(both.load.torque_coefficient,
               WithinRel(std::sqrt(one.load.torque_coefficient * other), 1e-9));
    // Each point's current is met all the same.
    CHECK_THAT(operate(both, {.throttle = 0.6}, fresh_of(both)).i_pack, WithinRel(35, 1e-6));
    CHECK_THAT(operate(both, {.throttle = 0.8}, fresh_of(both)).i_pack, WithinRel(62, 1e-6));
}

TEST_CASE("load: a current below what a drive at rest draws is told by the least duty") {
    Setup s = six_cell_drive();
    s.load.points = {{.throttle_pct = 20, .pack_A = 0.001}, {.throttle_pct = 60, .pack_A = 30}};
    const Plant p = median_plant(s);
    CHECK(p.load.duty_of_throttle.at(0.2) == std::exp(std::log(0.01)));
    CHECK_THAT(operate(p, {.throttle = 0.6}, fresh_of(p)).i_pack, WithinRel(30, 1e-6));
}

TEST_CASE("load: points at one throttle are averaged, those out of order pooled (D)") {
    Setup s = six_cell_drive();
    const auto duty_at = [&](std::vector<ThrottlePoint> points, double throttle) {
        s.load.points = std::move(points);
        s.load.points.push_back({100, 110, {}});
        return median_plant(s).load.duty_of_throttle.at(throttle);
    };
    const double low = duty_at({{60, 30, {}}}, 0.6);
    const double high = duty_at({{60, 40, {}}}, 0.6);
    CHECK_THAT(duty_at({{60, 30, {}}, {60, 40, {}}}, 0.6), WithinAbs(0.5 * (low + high), 1e-6));
    const double third = duty_at({{60, 50, {}}}, 0.6);
    CHECK_THAT(duty_at({{60, 30, {}}, {60, 40, {}}, {60, 50, {}}}, 0.6),
               WithinAbs((low + high + third) / 3, 1e-6));
    // Falling currents over 60 and 70 % become one level half way between.
    const double at_60 = duty_at({{60, 40, {}}}, 0.6);
    const double at_70 = duty_at({{70, 30, {}}}, 0.7);
    REQUIRE(at_60 > at_70);
    CHECK_THAT(duty_at({{70, 30, {}}, {60, 40, {}}}, 0.65), WithinAbs(0.5 * (at_60 + at_70), 1e-6));
}

TEST_CASE("load: an untold current is drawn by the fresh pack, a rotor's at mid pack (P)") {
    const Plant p = median_plant(untold());
    CHECK_THAT(operate(p, {.throttle = 1}, fresh_of(p)).i_pack, WithinRel(105, 1e-6));
    Setup two = untold();
    two.motor.count = 2;
    two.pack.capacity_mAh = 20000;
    const Plant q = median_plant(two);
    CHECK_THAT(operate(q, {.throttle = 1}, fresh_of(q)).i_pack, WithinRel(105, 1e-6));
    Setup rotor = helicopter();
    rotor.load.hover_A.reset();
    const Plant h = median_plant(rotor);
    CHECK_THAT(operate(h, {.throttle = 1}, middle_of(h)).i_pack, WithinRel(0.18 * 100, 1e-6));
    rotor.motor.count = 2;
    const Plant h2 = median_plant(rotor);
    CHECK_THAT(operate(h2, {.throttle = 1}, middle_of(h2)).i_pack, WithinRel(0.18 * 100, 1e-6));
}

TEST_CASE("load: a propeller told by its size takes its coefficient's power at every speed") {
    Setup s = untold();
    s.motor.kv_rpm_per_V = 300;
    s.load.diameter_cm = 50;
    s.load.pitch_cm = 25;
    const Plant p = median_plant(s);
    for (const double rps : {30.0, 90.0}) {
        // C_P rho n^3 D^5
        const double shaft_W =
            p.u.size_coefficient * p.air_density * std::pow(rps, 3) * std::pow(0.5, 5);
        CHECK_THAT(p.load.torque_coefficient * std::pow(2 * pi * rps, 3), WithinRel(shaft_W, 1e-9));
    }
}

TEST_CASE("load: a hold that was read without its current is no point of the load") {
    Setup s = untold();
    s.measured = {hold_row(100, 90, 60.0)};
    const double k = median_plant(s).load.torque_coefficient;
    MeasuredRow hot;
    hot.throttle_pct = 70;
    hot.esc_peak_C = 55;
    s.measured.push_back(hot);
    const Plant p = median_plant(s);
    CHECK(p.load.torque_coefficient == k);
    CHECK_THAT(p.load.duty_of_throttle.at(0.7), WithinRel(0.7, 1e-6));
    // nor is a flight's
    MeasuredRow flown = hold_row(50, 20);
    flown.kind = RowKind::flight;
    s.measured = {s.measured[0], flown};
    CHECK(median_plant(s).load.torque_coefficient == k);
}

TEST_CASE("load: windings settle at their prior rise over the air, full throttle or hover") {
    for (const bool rotor : {false, true}) {
        Setup s = rotor ? helicopter() : six_cell_drive();
        s.air.temperature_C = 15;
        const Plant p = median_plant(s);
        const double rise_K = rotor ? 45 : 75;
        Source warm = middle_of(p);
        warm.winding_C = 15 + rise_K;
        const Operating o = operate(p, {.throttle = 1}, warm);
        CHECK_THAT(p.winding.conductance * rise_K, WithinRel(o.winding_W, 1e-6));
        CHECK_THAT(p.winding.omega, WithinRel(o.omega, 1e-9));
        CHECK_THAT(winding_conductance(p, p.winding.omega),
                   WithinRel(p.winding.conductance, 1e-12));
        // at rest three tenths of it (P)
        CHECK_THAT(winding_conductance(p, 0), WithinRel(0.3 * p.winding.conductance, 1e-12));
    }
}

TEST_CASE("load: half-way charge by its own length and current, else by the reserve (D)") {
    const Plant p = median_plant(six_cell_drive());
    CHECK_THAT(half_way_charge(p.pack, 50, 120), WithinAbs(1 - 0.5 * 50 * 120 / 18000, 1e-12));
    CHECK_THAT(half_way_charge(p.pack, 50, {}), WithinAbs(0.6, 1e-12));
    CHECK_THAT(half_way_charge(p.pack, {}, 120), WithinAbs(0.6, 1e-12));
    CHECK(half_way_charge(p.pack, 100, 1000) == 0.02);
}

TEST_CASE("load: the mean pack of a hold, against small steps of its charge and warmth") {
    Setup s = six_cell_drive();
    s.pack.temperature_C = 10;
    const Plant p = median_plant(s);
    struct Case {
        double amperes;
        std::optional<double> seconds;
    };
    constexpr double charge_C = 18000 * 0.94;  // 5 Ah, 10 K under 20 deg C (P)
    for (const Case& c : {Case{50, 100}, Case{60, {}}, Case{100, 60}}) {
        const double whole = c.seconds.value_or(0.8 * charge_C / c.amperes);
        double Voc = 0;
        double R = 0;
        double pack_C = 10;
        const double dt = whole / 20000;
        for (double t = 0.5 * dt; t < whole; t += dt) {
            const double charge = 1 - c.amperes * t / charge_C;
            const Source now = source_at(p, charge, pack_C, 50, 50);
            Voc += now.Voc * dt / whole;
            R += now.R_src * dt / whole;
            const double cells = now.R_src - p.pack.lead_resistance;
            pack_C += dt / p.pack.heat_capacity *
                      (cells * c.amperes * c.amperes - p.pack.cooling * (pack_C - 25));
        }
        const Source mean = mean_source(p, c.amperes, c.seconds);
        CHECK_THAT(mean.Voc, WithinRel(Voc, 5e-4));
        CHECK_THAT(mean.R_src, WithinRel(R, 4e-3));
        CHECK(mean.winding_C == 65);
        CHECK(mean.board_C == 50);
    }
}

TEST_CASE("load: a hold's windings warm with it, and its demand draws what was told of its mean") {
    const Plant p = median_plant(six_cell_drive());
    for (const double seconds : {30.0, 120.0, 400.0}) {
        const double amperes = 0.7 * 18000 / std::max(250.0, seconds);
        const Source mean = mean_source(p, amperes, seconds);
        const Demand d = demand_for_current(p, 0.8, amperes, mean, seconds);
        REQUIRE(d.duty);
        Plant free = p;
        free.pack.reserve = 0.01;
        free.pack.sag_floor_V = 0;
        const March m = fly_hold(free, {d, seconds, 25});
        CHECK_THAT(mean_current(m), WithinRel(amperes, 3e-3));
    }
    // At full throttle it is the load that gives way, not the duty.
    const Demand full = demand_for_current(p, 1, 90, mean_source(p, 90, 60), 60);
    CHECK_FALSE(full.duty);
    CHECK(full.load_scale < 1);
    Plant free = p;
    free.pack.reserve = 0.01;
    free.pack.sag_floor_V = 0;
    CHECK_THAT(mean_current(fly_hold(free, {full, 60, 25})), WithinRel(90, 2e-3));
}

TEST_CASE("load: measured currents of a hold are met by the hold flown, full throttle too") {
    for (const std::optional<double> seconds :
         {std::optional<double>(40), std::optional<double>()}) {
        Setup s = untold();
        s.measured = {hold_row(75, 50, seconds), hold_row(100, 105, seconds)};
        const Plant p = median_plant(s);
        for (const MeasuredRow& row : s.measured) {
            const BenchCase bench = bench_case(
                p, {.throttle = row.throttle_pct / 100, .day = Day::bench, .seconds = seconds});
            INFO(row.throttle_pct << " %, " << seconds.value_or(-1) << " s");
            CHECK_THAT(mean_current(fly_hold(bench.plant, bench.ask)),
                       WithinRel(*row.pack_A, 6e-3));
        }
    }
    // A flight's row tells no current of a throttle.
    Setup s = six_cell_drive();
    s.measured = {hold_row(75, 20)};
    s.measured[0].kind = RowKind::flight;
    const Plant p = median_plant(s);
    CHECK_THAT(p.load.duty_of_throttle.at(0.75), WithinAbs(0.75, 1e-6));
}

TEST_CASE(
    "operating: what the model may be wrong about scales its heat at its duty, not currents") {
    Plant p = median_plant(six_cell_drive());
    const Plant right = p;
    p.u.heat_30 = 2;
    p.u.heat_45 = 3;
    p.u.heat_60 = 5;
    p.u.heat_75 = 5.5;
    p.u.heat_88 = 6;
    p.u.heat_100 = 8;
    const auto factor = [&](double duty) {
        const Demand d{.throttle = duty, .duty = duty};
        const Operating wrong = operate(p, d, middle_of(p));
        const Operating o = operate(right, d, middle_of(right));
        CHECK(wrong.i_pack == o.i_pack);
        CHECK(wrong.losses.switching / o.losses.switching ==
              Approx(wrong.losses.conduction / o.losses.conduction).epsilon(1e-12));
        return wrong.losses.conduction / o.losses.conduction;
    };
    constexpr double by_hand = 1e-9;
    CHECK_THAT(factor(0.2), WithinRel(2, by_hand));
    CHECK_THAT(factor(0.30), WithinRel(2, by_hand));
    CHECK_THAT(factor(0.36), WithinRel(2.4, by_hand));
    CHECK_THAT(factor(0.45), WithinRel(3, by_hand));
    CHECK_THAT(factor(0.525), WithinRel(4, by_hand));
    CHECK_THAT(factor(0.60), WithinRel(5, by_hand));
    CHECK_THAT(factor(0.75), WithinRel(5.5, by_hand));
    CHECK_THAT(factor(0.88), WithinRel(6, by_hand));
    CHECK_THAT(factor(0.94), WithinRel(7, by_hand));
    const Operating full = operate(p, {.throttle = 1}, middle_of(p));
    CHECK_THAT(full.losses.conduction /
                   operate(right, {.throttle = 1}, middle_of(right)).losses.conduction,
               WithinRel(8, by_hand));
}

TEST_CASE("operating: however wrong the model is, the ESC loses no more than it draws") {
    Plant p = median_plant(six_cell_drive());
    p.u.heat_88 = 1e6;
    const Operating o = operate(p, {.throttle = 0.88, .duty = 0.88}, middle_of(p));
    CHECK_THAT(o.losses.total(), WithinRel(o.v_link * o.i_pack - o.shaft_W, 1e-12));
    // and a model that is right loses what it does, even of a stalled motor
    const Plant right = median_plant(six_cell_drive());
    Plant stalled = right;
    stalled.load.torque_coefficient *= 1e9;
    Plant again = stalled;
    again.u.heat_88 = 1e6;
    const Demand d{.throttle = 0.88, .duty = 0.88};
    const Operating still = operate(again, d, middle_of(again));
    CHECK(still.losses.total() >= operate(stalled, d, middle_of(stalled)).losses.total());
}

TEST_CASE("operating: 85 % of the no-load current is there at a stand, the rest grows with speed") {
    const Plant p = median_plant(small_drive());
    CHECK_THAT(needed_current(p, 0, 1), WithinRel(0.85 * 1.4, 1e-12));
    const double unloaded = p.u.kv * p.pack.nominal_V;
    CHECK_THAT(needed_current(p, unloaded, 0), WithinRel(1.4, 1e-12));
    CHECK_THAT(needed_current(p, 500, 2) - needed_current(p, 500, 0),
               WithinRel(2 * p.load.torque_coefficient * 250000 * p.u.kv, 1e-9));
}

TEST_CASE("operating: a running motor's extra drop (D)") {
    const Plant p = median_plant(small_drive());
    // 45 mOhm warmed by 40 K, 1.2 times over at 1.5 kHz: 1500 Hz is 7 pole pairs at 1346.4 rad/s
    const double omega = 1500 * 2 * pi / 7;
    CHECK_THAT(running_drop(p, omega, 10, 65),
               WithinRel(10 * 0.045 * (1 + 0.00393 * 40) * 1.2, 1e-9));
    CHECK_THAT(running_drop(p, omega, 20, 25), WithinRel(20 * 0.045 * 1.2, 1e-9));
    CHECK(running_drop(p, 0, 20, 25) == 0);
}

TEST_CASE("operating: a rotor of untold diameter blows its usual downwash on the ESC (P)") {
    Setup s = helicopter();
    Plant p = median_plant(s);
    REQUIRE(p.load.disc_area == 0);
    p.u.wash_share = 0.5;
    CHECK_THAT(air_speed_at_esc(p, p.load.hover_power, 0), WithinRel(0.5 * 4.5, 1e-9));
    CHECK_THAT(air_speed_at_esc(p, 8 * p.load.hover_power, 3), WithinRel(0.5 * (3 + 9), 1e-9));
    CHECK_THAT(air_speed_at_esc(p, 0, 3), WithinRel(1.5, 1e-9));
    CHECK_THAT(air_speed_at_esc(p, -1, 3), WithinRel(1.5, 1e-9));
    p.air_factor = 0.5;
    CHECK_THAT(air_speed_at_esc(p, p.load.hover_power, 0), WithinRel(0.25 * 4.5, 1e-9));
    p.load.wake_factor = 1.5;
    CHECK_THAT(air_speed_at_esc(p, p.load.hover_power, 0), WithinRel(0.375 * 4.5, 1e-9));
    p.load.hover_power = 0;
    CHECK_THAT(air_speed_at_esc(p, 100, 3), WithinRel(0.75, 1e-9));
    Plant plane = median_plant(six_cell_drive());
    const double whole = air_speed_at_esc(plane, 800, 10);
    plane.air_factor = 0.5;
    CHECK_THAT(air_speed_at_esc(plane, 800, 10), WithinRel(0.5 * whole, 1e-12));
}

TEST_CASE("operating: rotors turn at their speed, fixed pitch with the cube root of its power") {
    Setup s = helicopter();
    const Plant heli = median_plant(s);
    s.load = {};
    s.load.kind = LoadKind::governed;
    s.load.hover_A = 22;
    s.motor.count = 4;
    const Plant multi = median_plant(s);
    for (const double share : {0.5, 1.0, 1.5}) {
        const Operating a = operate(heli, {.throttle = share}, middle_of(heli));
        const Operating b = operate(multi, {.throttle = share}, middle_of(multi));
        REQUIRE(a.ok);
        REQUIRE(b.ok);
        CHECK_THAT(a.omega, WithinRel(2100 * 8.5 * pi / 30, 1e-9));
        CHECK_THAT(b.omega, WithinRel(multi.load.hover_speed * std::cbrt(share), 1e-9));
        CHECK_THAT(a.shaft_W, WithinRel(share * heli.load.hover_power, 1e-6));
        CHECK_THAT(b.shaft_W, WithinRel(share * multi.load.hover_power, 1e-6));
        CHECK_FALSE(a.saturated);
        CHECK(a.duty < 1);
    }
    const Operating none = operate(heli, {.throttle = 0}, middle_of(heli));
    CHECK(none.ok);
    CHECK(none.shaft_W == 0);
    CHECK(none.omega == 0);
    CHECK(none.chopping);
    // Lost, it turns as slowly as full duty lets its pitch turn: torque as the square of speed.
    const Operating lost = operate(heli, {.throttle = 30}, middle_of(heli));
    REQUIRE(lost.saturated);
    CHECK(lost.duty == 1);
    const double wanted = 30 * heli.load.hover_power;
    CHECK_THAT(lost.shaft_W / wanted,
               WithinRel(std::pow(lost.omega / heli.load.hover_speed, 3), 1e-6));
    // The change from held to lost is no jump.
    double held = 1;
    double gone = 30;
    for (int i = 0; i < 50; ++i) {
        const double middle = 0.5 * (held + gone);
        (operate(heli, {.throttle = middle}, middle_of(heli)).saturated ? gone : held) = middle;
    }
    const Operating a = operate(heli, {.throttle = held}, middle_of(heli));
    const Operating b = operate(heli, {.throttle = gone}, middle_of(heli));
    CHECK(a.duty > 0.99);
    CHECK_THAT(b.omega / a.omega, WithinAbs(1, 2e-3));
    CHECK_THAT(b.i_pack / a.i_pack, WithinAbs(1, 0.01));
}

namespace {

// Four motors under 1.8 kg, and what the whole pack gave in hover or at a share of its power.
Setup read_hover(std::vector<std::array<double, 2>> rows) {
    Setup s;
    s.pack.cells = 4;
    s.pack.capacity_mAh = 5000;
    s.esc.rating_A = 30;
    s.esc.pwm_Hz = 24000;
    s.esc.freewheel = Freewheel::active;
    s.motor.kv_rpm_per_V = 700;
    s.motor.count = 4;
    s.load.kind = LoadKind::governed;
    s.load.mass_kg = 1.8;
    s.load.rotor_diameter_m = 0.254;
    for (const auto& [pct, pack_A] : rows) {
        MeasuredRow row;
        row.throttle_pct = pct;
        row.pack_A = pack_A;
        row.hold_s = 300;
        s.measured.push_back(row);
    }
    return s;
}

// What the pack gives in hover (A) while it gives about `pack_A` for 300 s.
double hover_A(const Setup& s, double pct = 100, double pack_A = 20) {
    const Plant p = median_plant(s);
    return operate(p, {.throttle = pct / 100}, mean_source(p, pack_A, 300)).i_pack * p.pack.share;
}

}  // namespace

TEST_CASE("fit: a hover's current that was read is what the rotor draws, and its mass is no more") {
    CHECK(hover_A(read_hover({})) < 16);
    for (const double pack_A : {10.0, 15.0, 20.0}) {
        const Setup s = read_hover({{100, pack_A}});
        CHECK(load_told(s) == LoadTold::points);
        CHECK_THAT(hover_A(s, 100, pack_A), WithinRel(pack_A, 0.01));
        Setup told = s;
        told.load.hover_A = pack_A;  // that says the same, of a half empty pack
        CHECK_THAT(hover_A(told, 100, pack_A), WithinRel(pack_A, 0.03));
    }
    // at a share of hover's power, and two that are apart: the middle of their powers
    const Setup share = read_hover({{130, 26}});
    CHECK_THAT(hover_A(share, 130), WithinRel(26, 0.01));
    const double apart = hover_A(read_hover({{100, 15}, {100, 20}}));
    CHECK_THAT(apart, WithinRel(std::sqrt(15.0 * 20), 0.01));
    // with another rotor it says nothing of this one
    Setup other = read_hover({{100, 15}, {100, 40}});
    other.measured[1].full_throttle_A = 100;
    CHECK_THAT(hover_A(other, 100, 15), WithinRel(15, 0.01));
    // one told counts as one that was read
    Setup both = read_hover({{100, 15}});
    both.load.hover_A = 20;
    CHECK(between(15.5, hover_A(both), 19.5));
}

TEST_CASE("fit: a current that full duty does not draw is taken at the motor's usual efficiency") {
    Setup s = read_hover({{100, 4000}});
    const Plant p = median_plant(s);
    const double V = mean_source(p, 4000, 300).Voc;
    CHECK_THAT(p.load.hover_power, WithinRel(0.8 * 1000 * p.u.current_scale * V, 0.01));
    s.measured[0].kv_rpm_per_V = 600;  // with other parts it counts as well
    CHECK(median_plant(s).load.hover_power > 1000);
}
