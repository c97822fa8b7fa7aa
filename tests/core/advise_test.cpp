// How the report is put together: which holds, which moments, which of them stand for the whole.
#include "advise/advise.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "advice.hpp"
#include "drives.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

Setup cruise_and_climb() {
    Setup s = six_cell_drive();
    s.flight.parts = {part_of(60, 40), part_of(100, 6)};
    return s;
}

Setup helicopter() {
    Setup s = six_cell_drive();
    s.esc.rating_A = 100;
    s.load = {};
    s.load.kind = LoadKind::governed;
    s.load.hover_A = 22;
    s.load.rotor_rpm = 2100;
    s.load.gear_ratio = 8.5;
    s.flight.parts = {part_of(100, 60)};
    return s;
}

Report nominal(const Setup& s) { return advise(s, {.samples = 0}); }

std::vector<double> throttles(const Setup& s) {
    std::vector<double> out;
    for (const HoldReport& h : nominal(s).holds) {
        out.push_back(h.throttle_pct);
    }
    return out;
}

bool holds_at(const Setup& s, double pct) {
    const std::vector<double> all = throttles(s);
    return std::any_of(all.begin(), all.end(), [&](double x) { return std::abs(x - pct) < 1e-9; });
}

}  // namespace

TEST_CASE("advise: holds in fives, and the last throttle that chops") {
    Setup s = cruise_and_climb();
    std::vector<double> all = throttles(s);
    CHECK(all.size() == 21);
    CHECK(all.front() == 5);
    CHECK(all.back() == 100);
    CHECK(std::is_sorted(all.begin(), all.end()));
    CHECK(holds_at(s, 96.9));
    s.esc.full_on_pct = 95.1;  // its last is 95 itself
    CHECK(throttles(s).size() == 20);
    s.esc.full_on_pct = 100;
    CHECK(throttles(s).size() == 20);
    s.esc.full_on_pct = 97;
    s.esc.drive = Drive::sinusoidal;
    CHECK(throttles(s).size() == 20);
}

TEST_CASE("advise: a rotor's holds go on to its hardest part, in tens of hover power") {
    Setup s = helicopter();
    CHECK(throttles(s).back() == 100);
    CHECK(throttles(s).size() == 20);
    s.flight.parts.push_back(part_of(125, 5));
    s.flight.parts.push_back(part_of(90, 5));
    std::vector<double> all = throttles(s);
    REQUIRE(all.size() == 23);
    CHECK(all[20] == 110);
    CHECK(all[21] == 120);
    CHECK(all[22] == 125);
    s.flight.parts[1].throttle_pct = 120;
    CHECK(throttles(s).size() == 22);
    CHECK(throttles(s).back() == 120);
    s.flight.parts[1].throttle_pct = 104;
    CHECK(throttles(s).size() == 21);
    CHECK(throttles(s).back() == 104);
}

TEST_CASE("advise: the series is the flight, thinned, with both sides of a change of throttle") {
    Setup s = cruise_and_climb();
    s.motor.count = 2;
    s.load.full_throttle_A = 180;
    const auto flown_in = [&](double seconds) {
        s.flight.parts = {part_of(60, 0.8 * seconds), part_of(100, 0.2 * seconds)};
        return run_flight(median_plant(s), s.flight).march;
    };
    // Every moment is one of the march's, in its order.
    const auto check_rows = [&](const std::vector<SeriesRow>& rows, const March& m) {
        CHECK(rows.front().t_s == 0);
        CHECK(rows.back().t_s == m.seconds);
        size_t i = 0;
        for (const SeriesRow& row : rows) {
            while (i < m.moments.size() &&
                   (m.moments[i].t != row.t_s || 100 * m.moments[i].throttle != row.throttle_pct)) {
                ++i;
            }
            REQUIRE(i < m.moments.size());
            const Moment& now = m.moments[i];
            CHECK(row.board_C.p50 == now.heat.board);
            CHECK(row.junction_C == now.heat.junction);
            CHECK(row.motor_C == now.heat.winding);
            CHECK(row.motor_A == now.i_motor);
            // the pack's: both motors, six cells
            CHECK_THAT(row.pack_A, WithinRel(2 * now.i_pack, 1e-12));
            CHECK_THAT(row.pack_V, WithinRel(6 * now.cell_V, 1e-12));
            CHECK_THAT(row.charge_pct, WithinAbs(100 * now.charge, 1e-9));
        }
    };
    const auto changes = [](const std::vector<SeriesRow>& rows) {
        size_t pairs = 0;
        for (size_t i = 1; i < rows.size(); ++i) {
            pairs += rows[i].t_s == rows[i - 1].t_s ? 1 : 0;
            // what is drawn between two rows is one throttle, where all changes are there
            if (rows[i].t_s > rows[i - 1].t_s && rows.size() < 100) {
                CHECK(rows[i].throttle_pct == rows[i - 1].throttle_pct);
            }
        }
        return pairs;
    };
    const March few = flown_in(60);
    const std::vector<SeriesRow> all_changes = nominal(s).flight.series;
    REQUIRE(few.moments.size() > 60);
    const double turns = std::floor(few.seconds / 60);
    const bool begun = few.seconds > 60 * turns + 48;
    CHECK(changes(all_changes) == static_cast<size_t>(2 * turns) + (begun ? 1 : 0));
    check_rows(all_changes, few);
    const March m = flown_in(5);
    const Report r = nominal(s);
    const std::vector<SeriesRow>& rows = r.flight.series;
    REQUIRE(2 * m.seconds / 5 > 60);
    REQUIRE(m.moments.size() > 250);
    CHECK(changes(rows) == 48);
    CHECK(between(48 * 2 + 48, static_cast<double>(rows.size()), 48 * 2 + 48 + 2));
    check_rows(rows, m);
    CHECK(r.flight.seconds == m.seconds);
    CHECK_THAT(rows.back().charge_pct, WithinAbs(20, 0.01));
    CHECK(r.esc.peak_C.p50 == m.peak_board);
    CHECK(r.esc.junction_peak_C == m.peak_junction);
    CHECK(r.esc.limit_C == 100);
    CHECK_THAT(r.esc.margin_K, WithinAbs(100 - m.peak_board, 1e-12));
    // A short flight keeps every moment.
    s = cruise_and_climb();
    s.flight.parts = {part_of(100, 600)};
    const March brief = run_flight(median_plant(s), s.flight).march;
    REQUIRE(brief.moments.size() < 50);
    CHECK(nominal(s).flight.series.size() == brief.moments.size());
    // Until within 5 K of the air again.
    CHECK(nominal(s).flight.cool_down_s ==
          cool_down_seconds(median_plant(s), brief.moments.back().heat, 5));
}

TEST_CASE("advise: each share flown in one go") {
    Setup s = cruise_and_climb();
    s.flight.kind = FlightKind::shares;
    s.flight.parts = {share_of(60, 80), share_of(100, 20)};
    const Report r = nominal(s);
    REQUIRE(r.flight.longest_holds.size() == 2);
    const Plant p = median_plant(s);
    for (size_t i = 0; i < 2; ++i) {
        const LongestHold& h = r.flight.longest_holds[i];
        const double share = i == 0 ? 0.8 : 0.2;
        CHECK(h.throttle_pct == s.flight.parts[i].throttle_pct);
        CHECK_THAT(h.seconds, WithinRel(share * r.flight.seconds, 1e-12));
        const March m = fly_hold(p, {{.throttle = h.throttle_pct / 100}, h.seconds, 25});
        CHECK_THAT(h.peak_C, WithinAbs(m.peak_board, 1e-9));
    }
    CHECK(nominal(cruise_and_climb()).flight.longest_holds.empty());
}

TEST_CASE("advise: a hold that is asked for is run as it is asked") {
    Setup s = cruise_and_climb();
    AskedHold plain;
    plain.throttle_pct = 70;
    AskedHold told;
    told.throttle_pct = 85;
    told.pack_A = 80;
    told.hold_s = 100;
    told.start_C = 40;
    told.flight_speed_mps = 20;
    s.ask_holds = {plain, told};
    const Report r = nominal(s);
    REQUIRE(r.asked_holds.size() == 2);
    const HoldReport& a = r.asked_holds[0];
    CHECK(a.throttle_pct == 70);
    const auto same = std::find_if(r.holds.begin(), r.holds.end(),
                                   [](const HoldReport& h) { return h.throttle_pct == 70; });
    CHECK_THAT(a.hold_peak_C.p50, WithinAbs(same->hold_peak_C.p50, 1e-9));
    CHECK_THAT(a.why.rise_over_full_K, WithinAbs(same->why.rise_over_full_K, 1e-9));
    const HoldReport& b = r.asked_holds[1];
    CHECK(b.throttle_pct == 85);
    CHECK_THAT(b.hold_s, WithinRel(100, 1e-9));
    CHECK(b.ended_by == EndedBy::time);
    CHECK_THAT(b.pack_A, WithinRel(80, 0.02));  // half way through it
    const Plant p = median_plant(s);
    const BenchCase bench = bench_case(
        p, {.throttle = 0.85, .pack_A = 80, .seconds = 100, .start_C = 40, .speed_mps = 20});
    CHECK_THAT(b.hold_peak_C.p50, WithinAbs(fly_hold(bench.plant, bench.ask).peak_board, 1e-9));
    CHECK_THAT(b.air_speed_mps,
               WithinRel(air_speed_at_esc(p, b.motor_efficiency * b.pack_A * 20, 20),
                         0.05));  // about 20 V at the motor
    // Its rise is over the same full-throttle hold as the others'.
    CHECK_THAT(b.why.rise_over_full_K,
               WithinAbs(b.hold_peak_C.p50 - r.holds.back().hold_peak_C.p50, 1e-9));
}

TEST_CASE("advise: why is told of the hottest hold, over full throttle and over the air") {
    Setup s = cruise_and_climb();
    const Report r = nominal(s);
    const auto hottest = std::max_element(r.holds.begin(), r.holds.end(),
                                          [](const HoldReport& a, const HoldReport& b) {
                                              return a.hold_peak_C.p50 < b.hold_peak_C.p50;
                                          });
    REQUIRE(hottest->throttle_pct < 100);
    CHECK(r.why.throttle_pct == hottest->throttle_pct);
    CHECK(r.why_over_air.throttle_pct == hottest->throttle_pct);
    CHECK_THAT(r.why.rise_over_full_K,
               WithinAbs(hottest->hold_peak_C.p50 - r.holds.back().hold_peak_C.p50, 1e-9));
    CHECK_THAT(r.why_over_air.rise_K, WithinAbs(hottest->hold_peak_C.p50 - 25, 1e-9));
    for (const HoldReport& h : r.holds) {
        CHECK(h.why.throttle_pct == h.throttle_pct);
        CHECK_THAT(h.why.rise_over_full_K,
                   WithinAbs(h.hold_peak_C.p50 - r.holds.back().hold_peak_C.p50, 1e-9));
    }
}

TEST_CASE("advise: one draw is a spread, no draw is none") {
    Setup s = cruise_and_climb();
    s.esc.pwm_choices_Hz = {8000, 16000};
    AskedHold ask;
    ask.throttle_pct = 80;
    s.ask_holds = {ask};
    const Draws draws = draw_plants(s, calibrate(s), 1);
    const Plant& p = draws.plants.at(0);
    const Report one = advise(s, {.samples = 1});
    const double peak_C = run_flight(p, s.flight, Steps::drawn).march.peak_board;
    CHECK(one.esc.peak_C.p50 == peak_C);
    CHECK(one.esc.peak_C.p10 == peak_C);
    CHECK(one.esc.peak_C.p90 == peak_C);
    for (const HoldReport& h : one.holds) {
        CHECK(h.hold_peak_C.p10 == h.hold_peak_C.p90);
        if (h.throttle_pct == 100) {
            const March m = fly_hold(p, {{.throttle = 1}, {}, p.esc_start_C}, Steps::trial);
            CHECK(h.hold_peak_C.p50 == m.peak_board);
            CHECK(h.hold_peak_C.p10 == m.peak_board);
        }
    }
    CHECK(one.asked_holds.at(0).pack_A_band.p10.has_value());
    for (const PwmChoice& c : one.pwm.choices) {
        CHECK(c.esc_peak_band_C.has_value());
        CHECK((*c.chance_best == 0 || *c.chance_best == 1));
    }
    REQUIRE_FALSE(one.changes.empty());
    CHECK(one.changes[0].chance_helps.has_value());
    CHECK(one.limits.has_value());
    Setup heli = helicopter();
    CHECK(advise(heli, {.samples = 1}).hover.has_value());

    const Report none = nominal(s);
    CHECK_FALSE(none.esc.peak_C.p10);
    CHECK_FALSE(none.esc.chance_over_limit);
    CHECK_FALSE(none.holds.at(0).hold_peak_C.p10);
    CHECK_FALSE(none.asked_holds.at(0).pack_A_band.p10);
    CHECK_FALSE(none.pwm.choices.at(0).chance_best);
    REQUIRE_FALSE(none.changes.empty());
    CHECK_FALSE(none.changes[0].chance_helps);
    CHECK_FALSE(none.limits);
    CHECK_FALSE(nominal(heli).hover);
}

TEST_CASE("advise: nothing is hotter than a hold that runs away, and the first of those counts") {
    const Report r = nominal(overloaded_in_a_bay(40));
    REQUIRE(r.esc.runaway);
    CHECK(std::isnan(r.esc.peak_C.p50));
    CHECK(std::isnan(r.esc.junction_peak_C));
    CHECK(r.flight.ended_by == EndedBy::runaway);
    REQUIRE(r.flight.limit_after_s);
    CHECK(*r.flight.limit_after_s <= r.flight.seconds);
    const auto first =
        std::find_if(r.holds.begin(), r.holds.end(), [](const HoldReport& h) { return h.runaway; });
    REQUIRE(first != r.holds.end());
    CHECK(r.why.throttle_pct == first->throttle_pct);
    CHECK(r.why_over_air.throttle_pct == first->throttle_pct);
    CHECK(has(r.why_over_air.text, "until the limit"));
}

TEST_CASE("advise: where half of the draws run away a draw stands for them, not the middle plant") {
    // Air just as warm as makes about half of 32 draws run away, the middle plant near the edge:
    // on either side of it figures and flight are of the kind that most draws are.
    Setup s = overloaded_in_a_bay(25);
    int against_middle = 0;
    for (const double air_C : {-4.0, 0.0, 4.0, 8.0, 12.0}) {
        s.air.temperature_C = air_C;
        const Report middle = nominal(s);
        const Report r = advise(s, {.samples = 16});
        CHECK((r.flight.ended_by == EndedBy::runaway) == r.esc.runaway);
        CHECK(std::isfinite(r.esc.peak_C.p50) == !r.esc.runaway);
        for (size_t i = 0; i < r.holds.size(); ++i) {
            const HoldReport& h = r.holds[i];
            against_middle += h.runaway != middle.holds[i].runaway ? 1 : 0;
            INFO(air_C << " deg C, " << h.throttle_pct << " %");
            CHECK((h.ended_by == EndedBy::runaway) == h.runaway);
            CHECK(std::isfinite(h.hold_peak_C.p50) == !h.runaway);
            CHECK(std::isnan(h.why.rise_over_full_K) == (h.runaway || r.holds.back().runaway));
        }
    }
    CHECK(against_middle > 0);
}

TEST_CASE("advise: a current by size is listed among what was assumed, with its range") {
    Setup s = cruise_and_climb();
    const auto listed = [](const Report& r) {
        return std::find_if(r.assumptions.begin(), r.assumptions.end(), [](const Assumption& a) {
            return a.key == "load.full_throttle_A" && has(a.basis, "operating point");
        });
    };
    Report r = nominal(s);
    CHECK_FALSE(r.untold_current);
    CHECK(listed(r) == r.assumptions.end());
    s.load.full_throttle_A.reset();
    r = nominal(s);
    REQUIRE(r.untold_current);
    CHECK(listed(r) == r.assumptions.end());  // its prior row is listed already
    s.motor.kv_rpm_per_V = 300;
    s.load.diameter_cm = 50;
    r = nominal(s);
    REQUIRE(listed(r) != r.assumptions.end());
    CHECK(listed(r)->value == r.untold_current->pack_A.p50);
    CHECK(listed(r)->low == *r.untold_current->pack_A.p10);
    CHECK(listed(r)->high == *r.untold_current->pack_A.p90);
    CHECK_FALSE(listed(r)->told);
}
