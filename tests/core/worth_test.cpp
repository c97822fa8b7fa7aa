// Is a change worth saying? Both sides of its margins, half a kelvin and five seconds, and the
// small rules that make changed setups.
#include <algorithm>
#include <cmath>

#include "advice.hpp"
#include "advise/advise.hpp"
#include "advise/untold.hpp"
#include "drives.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr Scale in = Scale::celsius;

Setup cruising(double throttle_pct = 70) { return holding(six_cell_drive(), throttle_pct); }

// What the report offers without draws, and which frequency it recommends.
struct Offered {
    std::vector<Change> changes;
    double recommended_Hz = 0;
    const Change* find(const std::string& id) const { return find_change(changes, id); }
};

Offered offered(const Setup& s) {
    const Calibration taught = calibrate(s);
    const Plant p = middle_plant(s, taught.belief);
    const FlightRun flight = run_flight(p, s.flight);
    const PwmTrial pwm = compare_pwm(s, taught, {}, in);
    return {find_changes(s, taught, flight, run_checks(s, p, flight), pwm, {}, in),
            pwm.report.recommended_Hz};
}

// Warmer (K) and longer (s) by another setup, in the steps that changes are flown in.
struct Effect {
    double kelvin, seconds;
};
Effect effect(const Setup& s, const Setup& changed) {
    const March before = run_flight(median_plant(s), s.flight, Steps::trial).march;
    const March after = run_flight(median_plant(changed), changed.flight, Steps::trial).march;
    return {after.peak_board - before.peak_board, after.seconds - before.seconds};
}

// x between two ends where `falling` passes zero.
template <class F>
double where_zero(F&& falling, double low, double high) {
    for (int i = 0; i < 40; ++i) {
        const double x = 0.5 * (low + high);
        (falling(x) > 0 ? low : high) = x;
    }
    return 0.5 * (low + high);
}

}  // namespace

TEST_CASE("worth: a change that cools by half a kelvin is offered, one by less is not") {
    // A warm start matters the more the shorter the flight: a knob that sets how much.
    Setup s = cruising();
    const auto cooler_by = [&](double start_C) {
        s.flight.start_C = start_C;
        Setup cooled = s;
        cooled.flight.start_C.reset();
        return -effect(s, cooled).kelvin;
    };
    REQUIRE(cooler_by(30) < 0.49);
    REQUIRE(cooler_by(60) > 0.51);
    const double less = where_zero([&](double x) { return 0.49 - cooler_by(x); }, 30, 60);
    const double more = where_zero([&](double x) { return 0.51 - cooler_by(x); }, 30, 60);
    s.flight.start_C = less;
    CHECK(offered(s).find("cool_first") == nullptr);
    s.flight.start_C = more;
    const Offered o = offered(s);
    const Change* cool = o.find("cool_first");
    REQUIRE(cool != nullptr);
    CHECK_THAT(*cool->esc_peak_change_K, WithinAbs(-0.51, 1e-6));
    CHECK_FALSE(cool->changed.flight.start_C);
    CHECK_FALSE(has(cool->cost, "trade"));
    // Within 3 K of the air there is nothing to wait for, however short the flight.
    s.pack.capacity_mAh = 500;
    s.pack.cell_resistance_mOhm = 1;
    s.flight.start_C = 27.9;
    CHECK(offered(s).find("cool_first") == nullptr);
    s.flight.start_C = 28.1;
    REQUIRE(cooler_by(28.1) > 0.5);
    CHECK(offered(s).find("cool_first") != nullptr);
}

TEST_CASE("worth: a warmer ESC for a longer flight is a trade, from half a kelvin on") {
    Setup s = cruising();
    s.pack.capacity_mAh = 30000;
    s.motor.inductance_uH = 3;
    const auto warmer_by = [&](double f) {
        Setup other = s;
        other.esc.pwm_Hz = f;
        return effect(s, other).kelvin;
    };
    REQUIRE(warmer_by(8100) < 0.49);
    REQUIRE(warmer_by(60000) > 0.51);
    for (const double kelvin : {0.49, 0.51}) {
        const double f = where_zero([&](double x) { return kelvin - warmer_by(x); }, 8100, 60000);
        s.esc.pwm_choices_Hz = {8000, f};
        const Offered o = offered(s);
        const Change* change = o.find(say("pwm_%.0f", f));
        REQUIRE(change != nullptr);
        REQUIRE(change->flight_change_s > 5);
        CHECK_THAT(*change->esc_peak_change_K, WithinAbs(kelvin, 1e-6));
        CHECK(has(change->cost, "a warmer ESC: a trade") == (kelvin > 0.5));
        CHECK(has(change->cost, "motor ripple"));
    }
}

TEST_CASE("worth: five seconds of flight are, four are not, where it does not cool") {
    // Two frequencies so near each other that neither is recommended over the other; the longer
    // the flight, the more seconds they differ by.
    Setup s = cruising(25);
    s.motor.inductance_uH = 12;
    const double f = 8100;
    const auto longer_by = [&](double capacity) {
        s.pack.capacity_mAh = capacity;
        s.pack.cell_resistance_mOhm = 1.3;
        Setup other = s;
        other.esc.pwm_Hz = f;
        return effect(s, other).seconds;
    };
    s.esc.pwm_choices_Hz = {8000, f};
    REQUIRE(longer_by(200) < 4.9);
    REQUIRE(longer_by(40000) > 5.1);
    for (const double seconds : {4.9, 5.1}) {
        const double capacity =
            where_zero([&](double x) { return seconds - longer_by(x); }, 200, 40000);
        s.pack.capacity_mAh = capacity;
        const Offered o = offered(s);
        REQUIRE(o.recommended_Hz == 8000);
        const Change* change = o.find("pwm_8100");
        INFO(capacity);
        CHECK((change != nullptr) == (seconds > 5));
    }
}

TEST_CASE("worth: the frequency that is recommended is offered, however little it warms") {
    // Less ripple in the motor is worth a change that the ESC does not notice.
    Setup s = cruising();
    s.esc.rating_A = 100;
    s.esc.freewheel = Freewheel::unknown;
    s.load.full_throttle_A = 80;
    s.motor.kv_rpm_per_V = 420;
    s.motor.resistance_mOhm = 19;
    s.motor.no_load_A = 1.6;
    s.motor.inductance_uH = 8;
    const double f = 8400;
    s.esc.pwm_choices_Hz = {8000, f};
    Setup other = s;
    other.esc.pwm_Hz = f;
    REQUIRE(between(0.01, effect(s, other).kelvin, 0.19));
    REQUIRE(std::abs(effect(s, other).seconds) < 5);
    const Offered o = offered(s);
    REQUIRE(o.recommended_Hz == f);
    CHECK(o.find("pwm_8400") != nullptr);
}

TEST_CASE("worth: what a change does to the readings stands beside what else it costs") {
    Setup s = cruising(60);
    s.air.cooling = Cooling::closed;
    s.load.full_throttle_A = 50;
    s.motor.inductance_uH = 40;
    s.esc.pwm_Hz = 24000;
    s.esc.pwm_choices_Hz = {8000};
    const std::string again = "your readings then count as taken with it: read again";
    const std::string gone = "your readings were taken without it and no longer count";
    const auto cost = [&](const std::string& id) {
        const Offered o = offered(s);
        const Change* change = o.find(id);
        INFO(id);
        REQUIRE(change != nullptr);
        return change->cost;
    };
    const std::string holes = cost("vent_bay");
    const std::string grams = cost("bigger_esc");
    CHECK_FALSE(holes.empty());
    MeasuredRow row;
    row.throttle_pct = 60;
    row.hold_s = 200;
    row.start_C = 25;
    row.esc_peak_C = 60;
    s.measured = {row};
    // Rows say in which mounting and at which frequency they were read; of another ESC they tell
    // nothing.
    CHECK(cost("vent_bay") == holes);
    // how much of its promise is nothing but that is said with it
    const Setup unread = without_readings(s);
    const auto peak_C = [](const Setup& of) {
        const Calibration c = calibrate(of);
        return run_flight(middle_plant(of, c.belief), of.flight, Steps::trial).march.peak_board;
    };
    const double forgotten_K = peak_C(unread) - peak_C(s);
    REQUIRE(std::abs(forgotten_K) > 0.5);
    CHECK(cost("bigger_esc") == grams + "; " + gone + ", which alone makes " +
                                    change_text(forgotten_K, Scale::celsius) + " of that");
    CHECK_FALSE(has(cost("pwm_8000"), "readings"));
    // A cost of nothing else is empty, and no reading's.
    s.air.cooling = Cooling::open;
    s.air.wash_share = 0.1;
    s.air.sun = true;
    CHECK(cost("shade").empty());
    // What was read after a flight is not that of another way to fly.
    s.flight.parts = {part_of(40, 40), part_of(90, 40)};
    MeasuredRow landed;
    landed.kind = RowKind::flight;
    landed.esc_after_C = 75;
    s.measured = {landed};
    CHECK(has(cost("shorter_holds"), again));
    // Nor of another motor, with which it is flown at other throttles; a hold stays.
    s = holding(small_drive(), 60);
    s.measured = {row, landed};
    s.measured[0].pack_A = 6;
    CHECK(has(cost("lower_kv"),
              "; your flights' readings were taken without it and no longer count"));
    s.measured = {landed};
    CHECK(has(cost("lower_kv"), "; " + gone));
}

TEST_CASE("worth: the next class of ESC, as they are sold (P)") {
    const auto class_after = [](double rating_A) {
        Setup s = cruising();
        s.esc.rating_A = rating_A;
        s.load.full_throttle_A = 0.9 * rating_A;
        s.pack.capacity_mAh = 60 * rating_A;
        const Offered o = offered(s);
        const Change* bigger = o.find("bigger_esc");
        REQUIRE(bigger != nullptr);
        CHECK(numbers_in(bigger->text).at(0) == bigger->changed.esc.rating_A);
        // about a gram for each ampere more
        CHECK(numbers_in(bigger->cost).at(0) ==
              std::round(0.95 * (bigger->changed.esc.rating_A - rating_A)));
        return bigger->changed.esc.rating_A;
    };
    CHECK(class_after(30) == 40);
    CHECK(class_after(36) == 40);  // a tenth more at least
    CHECK(class_after(37) == 50);
    CHECK(class_after(80) == 100);
    CHECK(class_after(100) == 120);
}

TEST_CASE("worth: fewer cells, in the counts that packs are sold in (P)") {
    const auto fewer = [](double cells) {
        Setup s = cruising(40);
        s.pack.cells = cells;
        s.load.full_throttle_A = 60;
        const Offered o = offered(s);
        const Change* change = o.find("fewer_cells");
        if (change == nullptr) {
            return 0.0;
        }
        CHECK(numbers_in(change->text)[0] == change->changed.pack.cells);
        CHECK(numbers_in(change->text)[1] == cells);
        return change->changed.pack.cells;
    };
    CHECK(fewer(6) == 5);
    CHECK(fewer(8) == 7);
    CHECK(fewer(9) == 8);
    CHECK(fewer(12) == 10);
    CHECK(fewer(10) == 8);
    CHECK(fewer(3) == 2);
    CHECK(fewer(2) == 0);
}

TEST_CASE("worth: four figures are plenty (D)") {
    CHECK_THAT(neat(123456), WithinRel(123500, 1e-12));
    CHECK_THAT(neat(1.23456), WithinRel(1.235, 1e-12));
    CHECK_THAT(neat(-0.00123449), WithinRel(-0.001234, 1e-12));
    CHECK_THAT(neat(1000), WithinRel(1000, 1e-12));
    CHECK_THAT(neat(999.96), WithinRel(1000, 1e-12));
    CHECK(neat(0) == 0);
}

TEST_CASE(
    "worth: an ESC of another rating keeps what is the pilot's and forgets what was its own") {
    Setup s = cruising();
    s.esc.pwm_choices_Hz = {8000, 12000};
    s.esc.drive = Drive::sinusoidal;
    s.esc.full_on_pct = 95;
    s.esc.limit_C = 90;
    s.esc.cells_max = 8;
    s.esc.bec_kind = BecKind::linear;
    s.esc.bec_V = 6;
    s.esc.bec_A = 2;
    s.esc.switch_resistance_mOhm = 1;
    s.esc.surface_cm2 = 90;
    s.esc.burst_A = 200;
    const EscSetup e = with_esc_of(s, 200).esc;
    CHECK(e.rating_A == 200);
    CHECK(e.pwm_Hz == 8000);
    CHECK(e.pwm_choices_Hz == s.esc.pwm_choices_Hz);
    CHECK(e.freewheel == Freewheel::diode);
    CHECK(e.drive == Drive::sinusoidal);
    CHECK(e.full_on_pct == 95);
    CHECK(e.limit_C == 90);
    CHECK(*e.cells_max == 8);
    CHECK(e.bec_kind == BecKind::linear);
    CHECK(e.bec_V == 6);
    CHECK(e.bec_A == 2);
    CHECK_FALSE(e.switch_resistance_mOhm);
    CHECK_FALSE(e.surface_cm2);
    CHECK_FALSE(e.burst_A);
    CHECK(with_esc_of(s, 200).load.full_throttle_A == 112);
}

TEST_CASE("worth: a load that draws so many times as much, however it was told (D)") {
    Setup s = cruising();
    CHECK_THAT(*with_load_times(s, 0.9).load.full_throttle_A, WithinRel(100.8, 1e-12));
    CHECK_FALSE(with_load_times(s, 0.9).load.shaft_W);
    s.load.full_throttle_A.reset();
    s.load.shaft_W = 1000;
    s.load.points = {{50, 20, {}}, {100, 100, 7000}};
    MeasuredRow row;
    row.pack_A = 40;
    s.measured = {row, MeasuredRow{}};
    const Setup half = with_load_times(s, 0.5);
    CHECK_FALSE(half.load.full_throttle_A);
    CHECK(*half.load.shaft_W == 500);
    CHECK(half.load.points[0].pack_A == 10);
    CHECK(half.load.points[1].pack_A == 50);
    CHECK(half.load.points[1].throttle_pct == 100);
    CHECK(*half.measured[0].pack_A == 20);
    CHECK_FALSE(half.measured[1].pack_A);
}

TEST_CASE("worth: behind another ESC motor and load stay what they are believed to be") {
    for (const LoadKind kind : {LoadKind::propeller, LoadKind::fan, LoadKind::governed}) {
        for (const bool sized : {false, true}) {
            Setup s = holding(at_rating(60, 4), 80);
            s.load = {};
            s.load.kind = kind;
            if (sized) {
                s.load.diameter_cm = kind == LoadKind::fan ? 7 : 33;
            }
            const Plant before = median_plant(s);
            const Setup other = with_esc_of(s, 200);
            const Plant after = median_plant(other);
            CAPTURE(static_cast<int>(kind), sized);
            CHECK(other.load.for_esc_A == 60);
            CHECK_THAT(fresh_current(after), WithinRel(fresh_current(before), 0.02));
            CHECK(after.u.motor_resistance == before.u.motor_resistance);
            CHECK(after.rating_A == 200);
            // and behind a third one, what they were chosen for
            CHECK(with_esc_of(other, 300).load.for_esc_A == 60);
            // told by hand the rating says how large the drive is
            Setup larger = s;
            larger.esc.rating_A = 200;
            const bool by_size = sized && kind != LoadKind::governed;
            CHECK((fresh_current(median_plant(larger)) > 2 * fresh_current(before)) == !by_size);
        }
    }
}
