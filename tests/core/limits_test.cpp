// Are the limits of the day the last values that keep the ESC's limit? Against flying every draw on
// both sides of each.
#include "advise/limits.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

#include "advice.hpp"
#include "advise/advise.hpp"
#include "advise/trial.hpp"
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

TEST_CASE("limits: told on the side that keeps, in steps of a hundredth to a fortieth (D)") {
    constexpr double rounding = 1e-12;
    struct Told {
        double x, below, above;
    };
    for (const auto& [x, below, above] : {Told{121.4, 120, 122},
                                          {67.8, 67, 68},
                                          {34.21, 34, 34.5},
                                          {1.999, 1.98, 2},
                                          {9.97, 9.9, 10},
                                          {1008, 1000, 1020},
                                          {0.0613, 0.061, 0.062}}) {
        CAPTURE(x);
        CHECK_THAT(step_below(x), WithinRel(below, rounding));
        CHECK_THAT(step_above(x), WithinRel(above, rounding));
        // what is on a step stays there
        CHECK_THAT(step_below(below), WithinRel(below, rounding));
        CHECK_THAT(step_above(above), WithinRel(above, rounding));
    }
    CHECK(step_below(0) == 0);
    CHECK(step_above(-3) == -3);
}

TEST_CASE("limits: the last value that keeps is found on its own side, in few flights") {
    int flights = 0;
    const auto search = [&](const Way& way, double from, auto&& room) {
        flights = 0;
        return last_keeping(
            [&](double x) {
                ++flights;
                return room(x);
            },
            way, from);
    };
    // Warmer air: 100 K of way, the limit kept up to 37.3, whatever a degree was thought to cost.
    constexpr double last = 37.3;
    const Way warmer = {
        .easy = -40, .hard = 60, .told = 20, .usual_slope = -1, .tolerance = 0.2, .ranks_hold = 30};
    for (const double thought : {-0.25, -0.5, -1.0, -2.0, -4.0}) {
        for (const double from : {-40.0, 20.0, 37.29, 37.31, 60.0}) {
            Way way = warmer;
            way.usual_slope = thought;
            const auto found = search(way, from, [](double x) { return last - x; });
            INFO(thought << " K/K from " << from << ": " << flights << " flights");
            REQUIRE(found);
            CHECK(*found <= last);
            CHECK(*found >= last - 0.2);
            CHECK(flights <= 6);
        }
    }
    // The other way round: the ESC ever smaller, its heat bent and, last, all but a wall.
    const Way smaller = {
        .easy = 6, .hard = 1, .told = 4, .usual_slope = 80, .tolerance = 0.005, .ranks_hold = 1};
    const auto bent = search(smaller, 4, [](double x) { return 60 - 300 / (x * x); });
    REQUIRE(bent);
    CHECK(*bent >= std::sqrt(5.0));
    CHECK(*bent <= std::sqrt(5.0) + 0.005);
    CHECK(flights <= 10);
    const auto wall = search(smaller, 4, [](double x) { return x > 2.5 ? 10 + x : -200; });
    REQUIRE(wall);
    CHECK(*wall > 2.5);
    CHECK(*wall < 2.6);
    CHECK(flights <= 25);
}

TEST_CASE("limits: what keeps to the hard end is that end, what fails at the easy one is nothing") {
    const Way warmer = {
        .easy = -40, .hard = 60, .told = 20, .usual_slope = -1, .tolerance = 0.2, .ranks_hold = 30};
    const auto last = [&](double kept_to) {
        return last_keeping([&](double x) { return kept_to - x; }, warmer, warmer.told);
    };
    CHECK(last(60.1) == 60);
    CHECK(last(60) == 60);
    CHECK(last(59.9) < 60);
    CHECK(last(59.9) > 59.6);
    CHECK_FALSE(last(-40.1));
    CHECK(last(-40) == -40);
    REQUIRE(last(-39.9));
    CHECK(*last(-39.9) < -39.8);
}

TEST_CASE("limits: draws are ranked anew where the answer lies far off, but for the field's end") {
    const Way way = {
        .easy = -40, .hard = 60, .told = 20, .usual_slope = -1, .tolerance = 0.2, .ranks_hold = 30};
    CHECK_FALSE(ranked_anew(way, {}));
    CHECK_FALSE(ranked_anew(way, 49.9));
    CHECK_FALSE(ranked_anew(way, 50));
    CHECK(ranked_anew(way, 50.1));
    CHECK(ranked_anew(way, -10.1));
    CHECK_FALSE(ranked_anew(way, -9.9));
    CHECK_FALSE(ranked_anew(way, 60));
    CHECK(ranked_anew(way, 59.9));
}

TEST_CASE("limits: a dozen draws decide, a tenth of all to either side of the ninetieth in 100") {
    constexpr double never = std::numeric_limits<double>::infinity();
    // Peaks in an order of their own: draw k ranks (k * 7 mod n)-th, n no multiple of 7.
    const auto ranked = [&](size_t n) {
        std::vector<Outcome> out(n);
        for (size_t k = 0; k < n; ++k) {
            out[k].peak_C = 40 + 0.1 * static_cast<double>(k * 7 % n);
        }
        return out;
    };
    const auto ranks_of = [&](const std::vector<Outcome>& outcomes) {
        std::vector<size_t> out;
        for (const size_t k : deciding(outcomes).draws) {
            out.push_back(k * 7 % outcomes.size());
        }
        return out;
    };
    // Of 256, 230.4 must keep it: the 231st from below, rank 230. Every fourth from 206 to 254.
    std::vector<size_t> wanted;
    for (size_t rank = 206; rank <= 254; rank += 4) {
        wanted.push_back(rank);
    }
    CHECK(ranks_of(ranked(256)) == wanted);
    CHECK(deciding(ranked(256)).place == 6);
    // Of ten nine must, of 20 eighteen; of one that one.
    CHECK(ranks_of(ranked(10)) == std::vector<size_t>{7, 8, 9});
    CHECK(deciding(ranked(10)).place == 1);
    CHECK(ranks_of(ranked(20)) == std::vector<size_t>{15, 16, 17, 18, 19});
    CHECK(deciding(ranked(20)).place == 2);
    CHECK(ranks_of(ranked(1)) == std::vector<size_t>{0});
    CHECK(ranks_of(ranked(60)).size() == 13);  // 6 to either side, each
    // Of those that run away the one that lasts longest is the coolest.
    std::vector<Outcome> lost(10);
    for (size_t k = 0; k < 10; ++k) {
        lost[k].peak_C = k < 6 ? 50 : never;
        lost[k].limit_s = k < 6 ? never : 10 * static_cast<double>(k);
    }
    CHECK(deciding(lost).draws == std::vector<size_t>{8, 7, 6});
}

TEST_CASE("limits: of a dear flight fewer draws decide, half those a change is tried on") {
    Draws draws;
    draws.plants.resize(256);
    draws.flight.assign(256, {});
    const auto flown = [&](int parts, double seconds) {
        Setup s = six_cell_drive();
        s.flight.parts.clear();
        for (int i = 0; i < parts; ++i) {
            s.flight.parts.push_back(part_of(40 + 0.2 * i, 5));
        }
        for (Outcome& o : draws.flight) {
            o.seconds = seconds;
        }
        return s;
    };
    const Setup everyday = flown(3, 400);
    CHECK(draws_to_decide(everyday, draws) == 12);
    const Setup dear = flown(200, 40000);
    REQUIRE(trial_draws(dear, draws) < 12);
    CHECK(draws_to_decide(dear, draws) == 6);
    const Setup between_them = flown(200, 2000);
    REQUIRE(between(14, static_cast<double>(trial_draws(between_them, draws)), 22));
    CHECK(draws_to_decide(between_them, draws) == trial_draws(between_them, draws) / 2);
    // Of 256 every eighth from rank 206 on.
    std::vector<Outcome> ranked(256);
    for (size_t k = 0; k < ranked.size(); ++k) {
        ranked[k].peak_C = static_cast<double>(k);
    }
    CHECK(deciding(ranked, 6).draws == std::vector<size_t>{206, 214, 222, 230, 238, 246, 254});
    CHECK(deciding(ranked, 6).place == 3);
}

TEST_CASE("limits: a load that sags the pack at once is beyond the limit, however cool the ESC") {
    Setup s = six_cell_drive();
    s.pack.capacity_mAh = 1800;
    s.pack.cell_resistance_mOhm = 9;
    s.load.full_throttle_A = 30;
    s.flight.parts = {part_of(100, 30)};
    const Calibration c = calibrate(s);
    Draws draws = draw_plants(s, c, 40);
    Report report = advise(s, {.samples = 0});
    fly_draws(s, draws, report);
    const auto limits =
        find_limits(s, c.belief, report.flight, report.holds, draws, Scale::celsius);
    REQUIRE(limits);
    REQUIRE(limits->most_full_throttle_A);
    const auto sag_at = [&](double amperes) {
        Setup changed = s;
        changed.load.full_throttle_A = amperes;
        const Belief carried = carried_to(changed, c.belief);
        const size_t rows = carried.priors.size();
        int sagging = 0;
        for (size_t k = 0; k < draws.count(); ++k) {
            const Plant p =
                fitted_plant(changed, carried.priors, std::span(draws.z).subspan(k * rows, rows));
            const March m = run_flight(p, changed.flight, Steps::drawn).march;
            CHECK(m.peak_board < s.esc.limit_C);
            sagging += m.ended_by == EndedBy::sag && m.seconds < 1 ? 1 : 0;
        }
        return sagging;
    };
    INFO(*limits->most_full_throttle_A << " A");
    CHECK(sag_at(*limits->most_full_throttle_A) <= 4);
    CHECK(sag_at(1.03 * *limits->most_full_throttle_A) >= 4);
}

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

TEST_CASE(
    "limits: on the edge of a runaway the least load does not hang on a kelvin of the limit") {
    // At the load as told nearly all draws run away, and are ranked by when: another order than
    // that of those that do not, a third below it.
    std::vector<double> found;
    for (const double limit_C : {100.0, 101.0, 102.0, 104.0}) {
        Setup s = six_cell_drive();
        s.esc.rating_A = 40;
        s.esc.pwm_Hz = 16000;
        s.esc.freewheel = Freewheel::unknown;
        s.esc.limit_C = limit_C;
        s.load.full_throttle_A = 60;
        s.air.cooling = Cooling::closed;
        s.flight.parts = {part_of(70, 60), part_of(100, 10)};
        const auto limits = advise(s, {.samples = 256}).limits;
        REQUIRE((limits && limits->most_full_throttle_A));
        found.push_back(*limits->most_full_throttle_A);
    }
    const auto [least, most] = std::minmax_element(found.begin(), found.end());
    INFO(*least << " to " << *most << " A");
    CHECK(*most < 1.1 * *least);
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

TEST_CASE("limits: what is told and keeps the limit is not denied for a step") {
    struct Told {
        const char* name;
        std::optional<double> Limits::*limit;
        Setup (*with)(Setup s, double x);
        double hard;  // the way to where the limit is passed
        double load;  // with which that is within the field's range
    };
    const Told told = GENERATE(Told{"air", &Limits::warmest_air_C,
                                    [](Setup s, double x) {
                                        s.air.temperature_C = x;
                                        return s;
                                    },
                                    1, 1},
                               Told{"field", &Limits::highest_field_m,
                                    [](Setup s, double x) {
                                        s.air.altitude_m = x;
                                        return s;
                                    },
                                    1, 1.1},
                               Told{"esc", &Limits::smallest_esc_A,
                                    [](Setup s, double x) { return with_esc_of(s, x); }, -1, 1});
    CAPTURE(told.name);
    int kept = 0;
    int not_kept = 0;
    for (const double load : {1.0, 1.004, 1.008, 1.012}) {
        Setup s = hot_plane();
        *s.load.full_throttle_A *= told.load * load;
        const std::optional<double> limit = Case(s).limits.*told.limit;
        REQUIRE(limit);
        const double step = told.limit == &Limits::warmest_air_C
                                ? 1
                                : step_above(*limit * 1.0001) - step_below(*limit * 0.9999);
        for (const double beyond : {-0.3, 0.3, 0.6}) {
            const double x = *limit + told.hard * beyond * step;
            const Case c(told.with(s, x));
            REQUIRE(c.limits.*told.limit);
            const bool keeps = c.report.esc.chance_over_limit <= 0.1;
            (keeps ? kept : not_kept) += 1;
            CAPTURE(load, beyond, *limit, x, *(c.limits.*told.limit));
            CHECK((told.hard * (*(c.limits.*told.limit) - x) >= -1e-9) == keeps);
        }
    }
    CHECK(kept > 0);
    CHECK(not_kept > 0);
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
    CHECK(has(c.limits.text, "deg C of air at most"));
    CHECK(has(c.limits.text, "A at full throttle at most"));
    CHECK(has(c.limits.text, "each alone, the rest as told"));
    const auto fahrenheit = find_limits(c.setup, c.calibration.belief, c.report.flight,
                                        c.report.holds, c.draws, Scale::fahrenheit);
    CHECK(numbers_in(fahrenheit->text)[0] == std::round(1.8 * *c.limits.warmest_air_C + 32));
}

TEST_CASE("limits: what only air keeps that nobody flies in is no limit") {
    const auto warmest = [](double full_A) {
        Setup s = six_cell_drive();
        s.esc.rating_A = 60;
        s.load.full_throttle_A = full_A;
        s.flight.parts = {part_of(85, 60)};
        return advise(s, {.samples = 64}).limits->warmest_air_C;
    };
    double coldest = 100;
    bool none = false;
    for (double full_A = 40; full_A < 130; full_A += 6) {
        const std::optional<double> air_C = warmest(full_A);
        coldest = std::min(coldest, air_C.value_or(coldest));
        none = none || !air_C;
    }
    CHECK(none);
    CHECK(between(-20, coldest, 10));
}
