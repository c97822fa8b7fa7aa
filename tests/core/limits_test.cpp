// Are the limits of the day the last values that keep the ESC's limit? Against flying every draw on
// both sides of each.
#include <cmath>

#include "advice.hpp"
#include "advise/advise.hpp"
#include "drives.hpp"
#include "owners.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

// A limit is solved to half a percent and on draws ranked near the decisive one: a few draws of 256
// to either side.
constexpr double few_draws = 0.035;

double chance_over(const Setup& s, const Belief& belief, const Draws& draws) {
    const Belief carried = carried_to(s, belief);
    const size_t rows = carried.priors.size();
    double over = 0;
    for (size_t k = 0; k < draws.count(); ++k) {
        const Plant p = fitted_plant(s, carried.priors, std::span(draws.z).subspan(k * rows, rows));
        over += peak_of(run_flight(p, s.flight, Steps::drawn).march) > s.esc.limit_C ? 1 : 0;
    }
    return over / static_cast<double>(draws.count());
}

// Everything find_limits asks for, for one setup.
struct Case {
    Setup setup;
    Calibration calibration;
    Draws draws;
    Report report;
    Limits limits;

    explicit Case(const Setup& s) : setup(s), calibration(calibrate(s)) {
        draws = draw_plants(s, calibration, 256);
        report = advise(s, {.samples = 0});
        fly_draws(s, draws, report);
        limits =
            *find_limits(s, calibration.belief, report.flight, report.holds, draws, Scale::celsius);
    }
    double chance(const Setup& s) const { return chance_over(s, calibration.belief, draws); }

    template <class Change>
    void check_both_sides(const char* what, std::optional<double> value, double step,
                          Change&& change) const {
        INFO(what);
        REQUIRE(value);
        INFO(*value);
        CHECK(chance(change(*value)) <= 0.1 + few_draws);
        CHECK(chance(change(*value + step)) > 0.1 - few_draws);
        CHECK(chance(change(*value + 4 * step)) > 0.1);
        CHECK(chance(change(*value - 4 * step)) <= 0.1);
    }
};

Setup hot_plane() {
    Setup s = six_cell_drive();
    s.esc.rating_A = 100;
    s.esc.freewheel = Freewheel::diode;
    s.air.cooling = Cooling::vented;
    s.load.full_throttle_A = 85;
    s.flight.parts = {part_of(70, 40), part_of(100, 8)};
    return s;
}

}  // namespace

TEST_CASE("limits: on either side of each the chance is what it should be") {
    const Case c(hot_plane());
    const Limits& l = c.limits;
    c.check_both_sides("air", l.warmest_air_C, 1, [&](double x) {
        Setup s = c.setup;
        s.air.temperature_C = x;
        return s;
    });
    c.check_both_sides("load", l.most_full_throttle_A, 1, [&](double x) {
        Setup s = c.setup;
        s.load.full_throttle_A = x;
        return s;
    });
    c.check_both_sides("esc", l.smallest_esc_A, -1.2,
                       [&](double x) { return with_esc_of(c.setup, x); });
    // High fields cool worse, and this plane stays cool up there, or does not at sea level.
    if (l.highest_field_m && *l.highest_field_m < 5000) {
        c.check_both_sides("field", l.highest_field_m, 200, [&](double x) {
            Setup s = c.setup;
            s.air.altitude_m = x;
            return s;
        });
    }
    CHECK(l.longest_flight_s);
}

TEST_CASE("limits: far from the setup as told they still hold") {
    Setup s = hot_plane();
    s.air.cooling = Cooling::closed;
    s.load.full_throttle_A = 100;
    s.flight.parts = {part_of(85, 60), part_of(100, 20)};
    const Case c(s);
    REQUIRE(c.report.esc.chance_over_limit.value_or(0) > 0.5);
    const Limits& l = c.limits;
    c.check_both_sides("load", l.most_full_throttle_A, 1, [&](double x) {
        Setup changed = c.setup;
        changed.load.full_throttle_A = x;
        return changed;
    });
    c.check_both_sides("esc", l.smallest_esc_A, -2,
                       [&](double x) { return with_esc_of(c.setup, x); });
    REQUIRE(l.longest_flight_s);
    CHECK(*l.longest_flight_s < c.report.flight.seconds);
    // Nine draws in ten have not passed the limit until then, and soon after fewer.
    double passed = 0;
    double soon = 0;
    for (const Outcome& o : c.draws.flight) {
        passed += o.limit_s < *l.longest_flight_s ? 1 : 0;
        soon += o.limit_s <= 1.05 * *l.longest_flight_s ? 1 : 0;
    }
    CHECK(passed <= 0.1 * 256);
    CHECK(soon > 0.1 * 256);
}

TEST_CASE("limits: a cool flight goes as far as the fields do, one that is lost nowhere") {
    Setup s = six_cell_drive();
    s.load.full_throttle_A = 40;
    s.flight.parts = {part_of(30, 60)};
    const Case cool(s);
    CHECK(cool.limits.warmest_air_C == 60);
    CHECK(cool.limits.highest_field_m == 6000);
    CHECK(cool.limits.longest_flight_s == cool.report.flight.seconds);
    CHECK(has(cool.limits.text, "60 deg C of air and more"));
    CHECK(has(cool.limits.text, "6000 m of field height and more"));
    CHECK(has(cool.limits.text, "as the pack lasts"));

    s.flight.start_C = 130;
    const Case lost(s);
    CHECK_FALSE(lost.limits.warmest_air_C);
    CHECK_FALSE(lost.limits.highest_field_m);
    CHECK_FALSE(lost.limits.longest_flight_s);
    CHECK_FALSE(lost.limits.most_full_throttle_A);
    CHECK_FALSE(lost.limits.smallest_esc_A);
    CHECK(has(lost.limits.text, "No change"));
}

TEST_CASE(
    "limits: a rotor has no full throttle, a pack that sags at once no flight, no draws none") {
    Setup s = six_cell_drive();
    s.load = {};
    s.load.kind = LoadKind::governed;
    s.load.hover_A = 20;
    s.load.rotor_rpm = 1800;
    s.load.gear_ratio = 9;
    s.motor.kv_rpm_per_V = 1100;
    s.flight.parts = {part_of(100, 60)};
    const Report rotor = advise(s, {.samples = 32});
    REQUIRE(rotor.limits);
    CHECK_FALSE(rotor.limits->most_full_throttle_A);
    CHECK(rotor.limits->smallest_esc_A);
    CHECK_FALSE(advise(s, {.samples = 0}).limits);

    Setup weak = hot_plane();
    weak.pack.cell_resistance_mOhm = 40;
    const Case sagging(weak);
    REQUIRE(sagging.report.flight.seconds < 1);
    CHECK_FALSE(sagging.limits.warmest_air_C);
    CHECK_FALSE(sagging.limits.smallest_esc_A);
    CHECK(has(sagging.limits.text, "sags"));
}

TEST_CASE("limits: the sentence says the numbers, in either scale") {
    const Case c(hot_plane());
    const std::vector<double> said = numbers_in(c.limits.text);
    REQUIRE(said.size() >= 5);
    CHECK(said[0] == std::round(*c.limits.warmest_air_C));
    CHECK(said[1] == std::round(*c.limits.highest_field_m));
    CHECK(said[2] == std::round(*c.limits.longest_flight_s));
    CHECK_THAT(said[3], WithinRel(*c.limits.most_full_throttle_A, 5e-3));
    CHECK_THAT(said[4], WithinRel(*c.limits.smallest_esc_A, 5e-3));
    const auto fahrenheit = find_limits(c.setup, c.calibration.belief, c.report.flight,
                                        c.report.holds, c.draws, Scale::fahrenheit);
    CHECK(numbers_in(fahrenheit->text)[0] == std::round(1.8 * *c.limits.warmest_air_C + 32));
}
