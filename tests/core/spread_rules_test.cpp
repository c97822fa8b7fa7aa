// The draws' rules by hand: which holds are flown for every draw, what stands at a moment, who
// tells of heat, when half have passed the limit.
#include <algorithm>
#include <cmath>
#include <limits>

#include "advice.hpp"
#include "advise/advise.hpp"
#include "drives.hpp"
#include "learn/sampling.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr double never = std::numeric_limits<double>::infinity();

Setup cruise_and_climb() {
    Setup s = six_cell_drive();
    s.flight.parts = {part_of(70, 60), part_of(100, 10)};
    return s;
}

Outcome peaks(double C, bool cut_short = false) {
    Outcome o;
    o.peak_C = C;
    o.cut_short = cut_short;
    return o;
}

// A report without draws, and its draws, of a setup.
struct Flown {
    Report report;
    Draws draws;
    Flown(const Setup& s, int count)
        : report(advise(s, {.samples = 0})), draws(draw_plants(s, calibrate(s), count)) {}
};

bool was_flown(const std::vector<Outcome>& hold) { return hold.front().seconds > 0; }

}  // namespace

TEST_CASE("spread: a band's ends and middle are linear between the values in order (D)") {
    const Band b = band_of({50, 10, 30, 40, 20});
    CHECK_THAT(*b.p10, WithinAbs(14, 1e-12));
    CHECK(b.p50 == 30);
    CHECK_THAT(*b.p90, WithinAbs(46, 1e-12));
    const Band open = band_of({10, 20, 30, 40, never});
    CHECK(open.p10);
    CHECK(open.p50 == 30);
    CHECK_FALSE(open.p90);
    CHECK(std::isnan(band_of({10, 20, never, never, never}).p50));
}

TEST_CASE("spread: a pack that gave in early tells of no heat, unless most did") {
    CHECK(peak_band({peaks(60), peaks(70), peaks(30, true)}).p50 == 65);
    CHECK(peak_band({peaks(60), peaks(30, true)}).p50 == 60);  // half tell: they do
    CHECK(peak_band({peaks(60), peaks(30, true), peaks(32, true)}).p50 == 32);
}

TEST_CASE("spread: a sag before half of the charge is flown is an early end") {
    March m;
    m.moments.resize(1);
    m.ended_by = EndedBy::sag;
    m.charge_share = 0.49;
    CHECK(outcome_of(m, 100).cut_short);
    m.charge_share = 0.51;
    CHECK_FALSE(outcome_of(m, 100).cut_short);
    m.charge_share = 0.49;
    m.ended_by = EndedBy::time;
    CHECK_FALSE(outcome_of(m, 100).cut_short);
}

TEST_CASE("spread: nine throttles, full and the last that chops are flown for every draw") {
    Setup s = cruise_and_climb();
    s.air.cooling = Cooling::vented;
    s.load.full_throttle_A = 60;
    s.esc.limit_C = 50;
    Flown f(s, 8);
    hold_draws(s, f.draws, f.report);
    constexpr double few_moments_K = 0.3;  // against those of `drawn`
    double worst_K = 0;
    int passed = 0;
    for (size_t i = 0; i < f.report.holds.size(); ++i) {
        const double pct = f.report.holds[i].throttle_pct;
        INFO(pct);
        const bool wanted = pct == 5 || pct == 10 || pct == 20 || pct == 30 || pct == 45 ||
                            pct == 60 || pct == 75 || pct == 90 || pct > 96;
        CHECK(was_flown(f.draws.holds[i]) == wanted);
        CHECK(f.draws.holds[i].size() == 8);
        for (size_t k = 0; k < 8; ++k) {
            const March m =
                fly_hold(f.draws.plants[k], {{.throttle = pct / 100}, {}, 25}, Steps::drawn);
            const double off = f.draws.holds[i][k].peak_C - peak_of(m);
            CHECK((!wanted || std::abs(off) < few_moments_K));
            worst_K = std::max(worst_K, std::abs(off));
            CHECK_THAT(f.draws.holds[i][k].winding_C,
                       WithinAbs(m.moments.back().heat.winding, wanted ? few_moments_K : 5));
            CHECK((!wanted || f.draws.holds[i][k].limit_s == outcome_of(m, s.esc.limit_C).limit_s));
            passed += f.draws.holds[i][k].limit_s < never ? 1 : 0;
        }
        // what the report says of the hold is theirs
        CHECK(f.report.holds[i].hold_peak_C.p50 == peak_band(f.draws.holds[i]).p50);
        CHECK_FALSE(f.report.holds[i].runaway);
    }
    // between the flown ones by the middle plant's ratio: a draw as far off as the bands may be
    CHECK(worst_K < 2.5);
    CHECK(passed > 0);
}

namespace {

// Between two holds, at 40 and 60 %: what a draw reaches at a share of the way, where the middle
// plant reaches `middle_C`.
double between_two(FlownHold lower, FlownHold upper, double share, double middle_C,
                   double start_C) {
    FlownHolds holds(start_C);
    holds.add({40, lower.own_C, lower.middle_C});
    holds.add({60, upper.own_C, upper.middle_C});
    holds.join();
    return holds.at(40 + 20 * share, middle_C);
}

FlownHold hold_of(double own_C, double middle_C) { return {0, own_C, middle_C}; }

}  // namespace

TEST_CASE("spread: a hold that was not flown has its neighbours' ratio to the middle plant (D)") {
    constexpr double by_hand = 1e-9;
    // From 20: a quarter hotter below (rise 50 for 40), a tenth above (66 for 60); here 50. Of two
    // ratios the logarithm goes straight.
    const FlownHold a = hold_of(70, 60);
    const FlownHold b = hold_of(86, 80);
    CHECK_THAT(between_two(a, b, 0.5, 70, 20), WithinAbs(20 + std::sqrt(1.25 * 1.1) * 50, by_hand));
    CHECK_THAT(between_two(a, b, 0.2, 70, 20),
               WithinAbs(20 + std::pow(1.25, 0.8) * std::pow(1.1, 0.2) * 50, by_hand));
    CHECK_THAT(between_two(a, b, 0, 70, 20), WithinAbs(20 + 1.25 * 50, by_hand));
    // A start as hot as a landing: what cools has a ratio as well.
    CHECK_THAT(between_two(hold_of(40, 50), hold_of(45, 55), 0.5, 51, 60),
               WithinAbs(60 - 9 * std::sqrt(2 * 3), by_hand));
    // Half a kelvin is no rise to have a ratio to, on either side: the line between the two.
    CHECK_THAT(between_two(hold_of(22, 20.49), hold_of(30, 40), 0.5, 70, 20),
               WithinAbs(26, by_hand));
    CHECK_THAT(between_two(hold_of(22, 20.51), hold_of(30, 40), 0.5, 70, 20),
               WithinAbs(20 + 50 * std::sqrt(2 / 0.51 * 0.5), by_hand));
    CHECK_THAT(between_two(hold_of(30, 40), hold_of(22, 20.49), 0.5, 70, 20),
               WithinAbs(26, by_hand));
    // Warmer here and cooler there is no ratio either, for that side alone.
    CHECK_THAT(between_two(hold_of(30, 40), hold_of(22, 19.4), 0.25, 70, 20),
               WithinAbs(20 + 0.75 * 25 + 0.5, by_hand));
    CHECK_THAT(between_two(hold_of(18, 40), hold_of(30, 40), 0.5, 70, 20),
               WithinAbs(20 - 1 + 0.25 * 50, by_hand));
    // Nor has a runaway of the middle plant; one of a neighbour is hotter than everything.
    CHECK_THAT(between_two(a, b, 0.5, never, 20), WithinAbs(78, by_hand));
    CHECK(between_two(hold_of(never, 60), b, 0.5, 70, 20) == never);
}

TEST_CASE(
    "spread: a draw's ratio to the middle plant is smooth over throttle, and never overshoots") {
    // SciPy's PchipInterpolator gives these values for the logarithms of ratios.
    constexpr double digits = 1e-6;
    FlownHolds holds(20);
    for (const double pct : {20.0, 30.0, 45.0, 60.0}) {
        holds.add({pct, 20 + 40 * std::pow(pct / 20, 0.8), 60});
    }
    holds.join();
    CHECK_THAT(holds.at(25, 60), WithinAbs(67.662392050, digits));
    CHECK_THAT(holds.at(38, 60), WithinAbs(86.800629681, digits));
    CHECK_THAT(holds.at(50, 60), WithinAbs(103.397840690, digits));
    // one without a ratio among them: straight beside it, smooth beyond
    FlownHolds gap(20);
    for (const double pct : {20.0, 30.0, 45.0, 60.0}) {
        gap.add({pct, 60, pct == 45 ? 20.0 : 60});
    }
    gap.join();
    CHECK_THAT(gap.at(40, 70), WithinAbs(60, digits));
    CHECK_THAT(gap.at(50, 70), WithinAbs(60, digits));
    CHECK_THAT(gap.at(25, 70), WithinAbs(70, digits));
    // a step is passed without a bump
    FlownHolds step(0);
    for (const double pct : {10.0, 20.0, 30.0, 40.0, 50.0}) {
        step.add({pct, pct < 25 ? 50.0 : 100.0, 50});
    }
    step.join();
    for (double pct = 11; pct < 50; pct += 1) {
        CHECK(step.at(pct, 50) >= 50 - digits);
        CHECK(step.at(pct, 50) <= 100 + digits);
    }
}

TEST_CASE("spread: full throttle is no part of how the holds below it go on") {
    const Setup s = cruise_and_climb();
    Flown f(s, 4);
    const std::vector<HoldReport> middle = f.report.holds;
    hold_draws(s, f.draws, f.report);
    int between = 0;
    for (size_t k = 0; k < 4; ++k) {
        FlownHolds chopping(f.draws.plants[k].esc_start_C);
        for (size_t i = 0; i < middle.size(); ++i) {
            if (middle[i].throttle_pct < 100 && was_flown(f.draws.holds[i])) {
                chopping.add({middle[i].throttle_pct, f.draws.holds[i][k].peak_C,
                              middle[i].hold_peak_C.p50});
            }
        }
        chopping.join();
        for (size_t i = 0; i < middle.size(); ++i) {
            if (!was_flown(f.draws.holds[i])) {
                INFO(middle[i].throttle_pct);
                CHECK(f.draws.holds[i][k].peak_C ==
                      chopping.at(middle[i].throttle_pct, middle[i].hold_peak_C.p50));
                between += middle[i].throttle_pct > 90 ? 1 : 0;
            }
        }
    }
    CHECK(between > 0);
}

TEST_CASE("spread: a hold between two is passed at the mean of their rates") {
    Setup s = cruise_and_climb();
    s.air.cooling = Cooling::closed;
    s.esc.limit_C = 55;
    Flown f(s, 8);
    hold_draws(s, f.draws, f.report);
    int between_two = 0;
    for (size_t i = 1; i + 1 < f.report.holds.size(); ++i) {
        // 65 and 70 %, a third and two thirds of the way from 60 to 75
        const double pct = f.report.holds[i].throttle_pct;
        if (pct != 65 && pct != 70) {
            continue;
        }
        const size_t a = pct == 65 ? i - 1 : i - 2;
        for (size_t k = 0; k < 8; ++k) {
            const double below = f.draws.holds[a][k].limit_s;
            const double above = f.draws.holds[a + 3][k].limit_s;
            const double share = (pct - 60) / 15;
            const double here = f.draws.holds[i][k].limit_s;
            if (std::isfinite(above)) {
                CHECK_THAT(1 / here, WithinAbs((1 - share) / below + share / above, 1e-12));
                between_two += std::isfinite(below) ? 1 : 0;
            } else {
                CHECK(here == never);
            }
        }
    }
    CHECK(between_two > 0);
    // Half of the draws have passed it by the time that is told, never later than the hold's end.
    for (size_t i = 0; i < f.report.holds.size(); ++i) {
        const HoldReport& h = f.report.holds[i];
        INFO(h.throttle_pct);
        CHECK(h.seconds_to_limit.has_value() == (h.hold_peak_C.p50 > 55));
        if (h.seconds_to_limit) {
            std::vector<double> times;
            for (const Outcome& o : f.draws.holds[i]) {
                times.push_back(o.limit_s);
            }
            std::sort(times.begin(), times.end());
            CHECK(*h.seconds_to_limit == std::min(times[3], h.hold_s));
        }
    }
}

TEST_CASE("spread: where a runaway begins between two holds, the ones between are flown as well") {
    Setup s = overloaded_in_a_bay(15);
    s.flight = cruise_and_climb().flight;
    Flown f(s, 8);
    hold_draws(s, f.draws, f.report);
    int flown_more = 0;
    for (size_t i = 0; i < f.report.holds.size(); ++i) {
        const HoldReport& h = f.report.holds[i];
        const double pct = h.throttle_pct;
        const bool wanted = pct == 5 || pct == 10 || pct == 20 || pct == 30 || pct == 45 ||
                            pct == 60 || pct == 75 || pct == 90 || pct > 96;
        flown_more += !wanted && was_flown(f.draws.holds[i]) ? 1 : 0;
        CHECK(f.draws.holds[i].size() == 8);
        CHECK(h.runaway == std::isnan(h.hold_peak_C.p50));
        if (was_flown(f.draws.holds[i])) {
            int lost = 0;
            for (const Outcome& o : f.draws.holds[i]) {
                lost += o.peak_C == never ? 1 : 0;
            }
            CHECK(h.runaway == (lost >= 4));
        }
    }
    CHECK(flown_more > 0);
}

TEST_CASE("spread: at each moment of the flight the draws stand where their own marches do") {
    Setup s = cruise_and_climb();
    s.esc.limit_C = 52;
    Flown f(s, 5);
    fly_draws(s, f.draws, f.report);
    CHECK(f.report.samples == 5);
    std::vector<March> marches;
    int over = 0;
    std::vector<double> passed;
    std::vector<double> junctions;
    for (const Plant& p : f.draws.plants) {
        marches.push_back(run_flight(p, s.flight, Steps::drawn).march);
        over += marches.back().peak_board > 52 ? 1 : 0;
        passed.push_back(seconds_to(marches.back(), 52).value_or(never));
        junctions.push_back(marches.back().peak_junction);
    }
    std::sort(passed.begin(), passed.end());
    std::sort(junctions.begin(), junctions.end());
    CHECK_THAT(*f.report.esc.chance_over_limit, WithinAbs(over / 5.0, 1e-12));
    CHECK(f.report.esc.peak_C.p50 == peak_band(f.draws.flight).p50);
    CHECK(f.report.esc.junction_peak_C == junctions[2]);
    CHECK_FALSE(f.report.esc.runaway);
    CHECK(f.report.flight.limit_after_s.has_value() == (f.report.esc.peak_C.p50 > 52));
    if (f.report.flight.limit_after_s) {
        CHECK(*f.report.flight.limit_after_s == passed[2]);
    }
    for (const SeriesRow& row : f.report.flight.series) {
        std::vector<double> boards;
        std::vector<double> inside;
        for (const March& m : marches) {
            // by a straight line between two moments; after the landing as at it
            size_t i = 0;
            while (i + 1 < m.moments.size() && m.moments[i + 1].t < row.t_s) {
                ++i;
            }
            if (i + 1 == m.moments.size()) {
                boards.push_back(m.moments[i].heat.board);
                inside.push_back(m.moments[i].heat.junction);
                continue;
            }
            const Moment& a = m.moments[i];
            const Moment& b = m.moments[i + 1];
            const double share = b.t > a.t ? (row.t_s - a.t) / (b.t - a.t) : 1;
            boards.push_back((1 - share) * a.heat.board + share * b.heat.board);
            inside.push_back((1 - share) * a.heat.junction + share * b.heat.junction);
        }
        std::sort(boards.begin(), boards.end());
        std::sort(inside.begin(), inside.end());
        CHECK_THAT(row.board_C.p50, WithinAbs(boards[2], 1e-9));
        CHECK_THAT(*row.board_C.p10, WithinAbs(0.6 * boards[0] + 0.4 * boards[1], 1e-9));
        CHECK_THAT(row.junction_C, WithinAbs(inside[2], 1e-9));
    }
}

TEST_CASE("spread: an asked hold's currents and speeds are the draws' own, half way through") {
    Setup s = cruise_and_climb();
    s.motor.count = 2;
    s.load.full_throttle_A = 200;
    AskedHold ask;
    ask.throttle_pct = 80;
    ask.hold_s = 90;
    s.ask_holds = {ask};
    Flown f(s, 5);
    ask_draws(s, {{.throttle = 0.8, .seconds = 90}}, f.draws, f.report);
    REQUIRE(f.draws.asked.size() == 1);
    REQUIRE(f.draws.asked[0].size() == 5);
    std::vector<double> amperes;
    std::vector<double> rpm;
    for (const Plant& p : f.draws.plants) {
        const Demand d{.throttle = 0.8};
        Plant free = p;
        free.pack.reserve = 0.01;
        free.pack.sag_floor_V = 0;
        const March m = fly_hold(free, {d, 90, p.air.celsius}, Steps::drawn);
        amperes.push_back(2 * half_way_moment(free, m).i_pack);
        rpm.push_back(half_way_moment(free, m).omega * 60 / (2 * 3.14159265358979));
    }
    std::sort(amperes.begin(), amperes.end());
    std::sort(rpm.begin(), rpm.end());
    const HoldReport& h = f.report.asked_holds.at(0);
    CHECK_THAT(h.pack_A_band.p50, WithinRel(amperes[2], 1e-6));
    CHECK_THAT(*h.pack_A_band.p90, WithinRel(0.4 * amperes[3] + 0.6 * amperes[4], 1e-6));
    CHECK_THAT(h.rpm_band.p50, WithinRel(rpm[2], 1e-6));
    CHECK(h.hold_peak_C.p50 == peak_band(f.draws.asked[0]).p50);
}

TEST_CASE("spread: draws follow the belief row by row") {
    const Setup s = cruise_and_climb();
    const Calibration c = calibrate(s);
    const Draws draws = draw_plants(s, c, 8);
    const size_t rows = c.belief.priors.size();
    REQUIRE(draws.z.size() == 8 * rows);
    REQUIRE(draws.count() == 8);
    for (size_t k = 0; k < 8; ++k) {
        for (size_t i = 0; i < rows; ++i) {
            const Prior& row = c.belief.priors[i];
            CHECK_THAT(draws.plants[k].u.*row.slot,
                       WithinRel(row.to_si * prior_value(row, draws.z[k * rows + i]), 1e-12));
        }
    }
}
