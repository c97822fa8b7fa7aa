// How well is each reading read, what is left of a setup without them, and when do they read
// otherwise than before?
#include <cmath>

#include "drives.hpp"
#include "learn/readings.hpp"
#include "learn/reread.hpp"
#include "near.hpp"
#include "physics/constants.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

/// A flight read after landing.
MeasuredRow landed(double after_C) {
    MeasuredRow row;
    row.kind = RowKind::flight;
    row.esc_after_C = after_C;
    return row;
}

/// A hold that tells its current.
MeasuredRow held(double throttle_pct, double pack_A) {
    MeasuredRow row;
    row.throttle_pct = throttle_pct;
    row.pack_A = pack_A;
    row.hold_s = 120;
    row.start_C = 25;
    return row;
}

/// What the setup's readings are where the plant is as far from its middle as that (one standard
/// deviation of the unknown in that slot).
std::vector<double> shown_with(const Setup& s, double Unknowns::*slot, double deviations) {
    const std::vector<Prior> priors = make_priors(s);
    std::vector<double> z(priors.size(), 0.0);
    for (size_t i = 0; i < priors.size(); ++i) {
        z[i] = priors[i].slot == slot ? deviations : 0;
    }
    return predict(s, priors, readings_of(s), z);
}

double value_at(const Setup& s, double Unknowns::*slot, double deviations) {
    for (const Prior& row : make_priors(s)) {
        if (row.slot == slot) {
            return row.to_si * prior_value(row, deviations);
        }
    }
    return 0;
}

}  // namespace

TEST_CASE("readings: after landing 4 K off where nobody told, as told otherwise, an error apart") {
    Setup s = holding(six_cell_drive(), 75);
    s.measured = {landed(50)};
    std::vector<Reading> all = readings_of(s);
    REQUIRE(all.size() == 1);
    CHECK(all[0].kind == ReadingKind::after);
    CHECK(all[0].sigma == 4);  // P
    CHECK(all[0].shared == 0);
    s.measured[0].sensor_K = 1;
    all = readings_of(s);
    CHECK(all[0].sigma == 1);
    CHECK(all[0].shared == 0);
}

TEST_CASE("readings: a board's sensor 2.5 K off, three tenths of its variance in common") {
    Setup s = holding(six_cell_drive(), 75);
    s.measured = {landed(50)};
    s.measured[0].esc_mean_C = 44;
    s.measured[0].esc_peak_C = 52;
    for (const double told_K : {0.0, 1.0}) {
        s.measured[0].sensor_K = told_K > 0 ? std::optional(told_K) : std::nullopt;
        const double sensor_K = told_K > 0 ? told_K : 2.5;  // P
        const std::vector<Reading> all = readings_of(s);
        REQUIRE(all.size() == 3);
        for (const Reading& r : all) {
            const bool of_board = r.kind != ReadingKind::after;
            CHECK(r.sigma == (of_board ? sensor_K : told_K > 0 ? told_K : 4));
            CHECK_THAT(r.shared, WithinAbs(of_board ? std::sqrt(0.3) * sensor_K : 0, 1e-12));
        }
    }
}

TEST_CASE("readings: a speed is read to 1.4 %, of a row as of a point, whatever the sensor") {
    Setup s = six_cell_drive();
    s.load.points = {{60, 40, 5000}};
    s.measured = {held(75, 60)};
    s.measured[0].rpm = 6000;
    s.measured[0].sensor_K = 1;
    const std::vector<Reading> all = readings_of(s);
    REQUIRE(all.size() == 2);
    for (const Reading& r : all) {
        CHECK(r.kind == ReadingKind::speed);
        CHECK(r.sigma == 1.4);  // P
        CHECK(r.shared == 0);
        // 100 ln(rpm pi/30) (D)
        const double rpm = r.row == 0 ? 6000 : 5000;
        CHECK_THAT(r.measured, WithinAbs(100 * std::log(rpm * pi / 30), 1e-9));
    }
}

TEST_CASE("readings: bench and flights each show the rise over the air by a factor of their own") {
    // A flight and a hold on the bench in air of 25 deg C: each only by its own (D).
    Setup s = holding(six_cell_drive(), 75);
    s.measured = {landed(50), held(75, 60)};
    s.measured[1].esc_peak_C = 55;
    constexpr double air_C = 25;
    const std::vector<double> usual = shown_with(s, &Unknowns::flown_gain, 0);
    for (const double deviations : {-1.0, 1.0}) {
        const std::vector<double> flown = shown_with(s, &Unknowns::flown_gain, deviations);
        const double flown_by =
            value_at(s, &Unknowns::flown_gain, deviations) / value_at(s, &Unknowns::flown_gain, 0);
        CHECK(std::abs(flown_by - 1) > 0.01);
        CHECK_THAT(flown[0], WithinAbs(air_C + flown_by * (usual[0] - air_C), 1e-9));
        CHECK_THAT(flown[1], WithinAbs(usual[1], 1e-9));
        const std::vector<double> bench = shown_with(s, &Unknowns::bench_gain, deviations);
        const double bench_by =
            value_at(s, &Unknowns::bench_gain, deviations) / value_at(s, &Unknowns::bench_gain, 0);
        CHECK_THAT(bench[0], WithinAbs(usual[0], 1e-9));
        CHECK_THAT(bench[1], WithinAbs(air_C + bench_by * (usual[1] - air_C), 1e-9));
    }
}

TEST_CASE("readings: without them none is left, and of a row its current and its length") {
    Setup s = holding(six_cell_drive(), 75);
    s.load.points = {{60, 40, 5000}, {100, 110, 8000}};
    MeasuredRow whole = held(75, 60);
    whole.rpm = 6000;
    whole.esc_mean_C = 45;
    whole.esc_peak_C = 50;
    MeasuredRow traced = held(60, 40);
    traced.trace = {{10, 30}, {60, 40}};
    MeasuredRow no_current = whole;
    no_current.pack_A.reset();
    s.measured = {whole, landed(50), traced, no_current};
    CHECK(readings_of(s).size() == 11);  // 3, 1, 2, 3 and the two points' speeds
    const Setup without = without_readings(s);
    CHECK(readings_of(without).empty());
    REQUIRE(without.measured.size() == 2);
    CHECK(without.measured[0].pack_A == 60.0);
    CHECK(without.measured[1].pack_A == 40.0);
    for (const MeasuredRow& row : without.measured) {
        CHECK(row.hold_s == 120.0);
        CHECK_FALSE(row.rpm);
        CHECK(row.trace.empty());
    }
    REQUIRE(without.load.points.size() == 2);
    CHECK(without.load.points[0].pack_A == 40);
}

namespace {

/// A temperature read with a motor and a propeller that the row tells, and a speed with those of
/// the setup. Nothing of the ESC hangs on the setup's own Kv.
Setup heat_of_one_motor_speed_of_another() {
    Setup s = six_cell_drive();
    s.motor.kv_rpm_per_V = 500;
    s.motor.resistance_mOhm = 15;
    s.motor.inductance_uH = 12;
    s.motor.no_load_A = 2;
    s.load.diameter_cm = 40;
    s.measured = {held(100, 105), held(100, 105)};
    s.measured[0].esc_peak_C = 50;
    s.measured[0].kv_rpm_per_V = 500;
    s.measured[0].full_throttle_A = 112;
    s.measured[1].rpm = 8000;
    return holding(s, 75);
}

}  // namespace

TEST_CASE("reread: a speed that reads otherwise counts no kelvin") {
    Setup s = heat_of_one_motor_speed_of_another();
    // They read what is expected.
    const std::vector<double> expected = shown_with(s, &Unknowns::flown_gain, 0);
    s.measured[0].esc_peak_C = expected[0];
    s.measured[1].rpm = std::exp(expected[1] / speed_scale) * 30 / pi;
    const Calibration before = calibrate(s);
    REQUIRE(before.fit);
    Setup changed = s;
    changed.motor.kv_rpm_per_V = 520;
    // The speed moves by about 4 %, as much as 4 K would count.
    const std::vector<double> was = shown_with(s, &Unknowns::flown_gain, 0);
    const std::vector<double> is = shown_with(changed, &Unknowns::flown_gain, 0);
    REQUIRE(was.size() == 2);
    CHECK_THAT(is[0], WithinAbs(was[0], 0.01));
    CHECK(is[1] - was[1] > 1);
    const Reread moved = reread(before, changed);
    CHECK(moved.most_K < 0.01);
    CHECK_FALSE(moved.another);
}

TEST_CASE("reread: from a quarter of a kelvin on all is learned anew") {
    Setup s = holding(six_cell_drive(), 75);
    s.esc.switch_resistance_mOhm = 0.6;
    s.measured = {held(75, 60)};
    s.measured[0].esc_peak_C = 50;
    const Calibration before = calibrate(s);
    const auto with_more = [&](double share) {
        Setup changed = s;
        changed.esc.switch_resistance_mOhm = 0.6 * (1 + share);
        return reread(before, changed);
    };
    // As much more as reads so many kelvin hotter.
    const auto share_for = [&](double K) {
        double share = 0.05;
        for (int i = 0; i < 5; ++i) {
            share *= K / with_more(share).most_K;
        }
        return share;
    };
    for (const double K : {0.24, 0.26}) {
        const Reread moved = with_more(share_for(K));
        INFO(moved.most_K << " K");
        CHECK_THAT(moved.most_K, WithinAbs(K, 0.005));
        CHECK(moved.another == (K > 0.25));
        CHECK_FALSE(moved.by.empty());
    }
}
