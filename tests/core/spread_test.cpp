// Are the bands what the draws say? Invariants of the report's spread on every preset, and the
// holds that are not flown for each draw against flying them.
#include "advise/spread.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "advise/advise.hpp"
#include "drives.hpp"
#include "near.hpp"
#include "owners.hpp"
#include "preset_setups.hpp"
#include "report/to_json.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

// A runaway has no temperature: above everything.
double or_beyond(const std::optional<double>& v) {
    return v.value_or(std::numeric_limits<double>::infinity());
}

bool in_order(const Band& b) {
    const double middle = std::isfinite(b.p50) ? b.p50 : std::numeric_limits<double>::infinity();
    return or_beyond(b.p10) <= middle && middle <= or_beyond(b.p90);
}

// Two measured rows that a learned belief hangs on.
Setup learned_drive() {
    Setup s = six_cell_drive();
    s.flight.parts = {part_of(65, 40), part_of(100, 6)};
    Chance chance(41);
    const Truth truth = draw_truth(s, chance);
    s.measured = measure_all(truth.plant, {}, chance);
    s.measured.resize(2);
    return s;
}

}  // namespace

TEST_CASE("spread: the bands of every preset are in order, and the chance goes with them") {
    constexpr double one_draw = 1.0 / 256;
    for (const Setup& s : preset_setups()) {
        INFO(s.name);
        const Report r = advise(s);
        CHECK(r.samples == 256);
        CHECK(in_order(r.esc.peak_C));
        for (const SeriesRow& row : r.flight.series) {
            CHECK(in_order(row.board_C));
        }
        for (const HoldReport& h : r.holds) {
            INFO(h.throttle_pct << " %");
            CHECK(in_order(h.hold_peak_C));
        }
        REQUIRE(r.esc.chance_over_limit);
        const double chance = *r.esc.chance_over_limit;
        CHECK(between(0, chance, 1));
        CHECK((or_beyond(r.esc.peak_C.p90) > s.esc.limit_C || chance <= 0.1 + one_draw));
        CHECK((or_beyond(r.esc.peak_C.p90) <= s.esc.limit_C || chance >= 0.1 - one_draw));
        CHECK((or_beyond(r.esc.peak_C.p10) <= s.esc.limit_C || chance >= 0.9 - one_draw));
        CHECK((or_beyond(r.esc.peak_C.p10) > s.esc.limit_C || chance <= 0.9 + one_draw));
    }
}

TEST_CASE("spread: without draws there are no 10 and 90 %, and no chance") {
    for (const Setup& s : preset_setups()) {
        const Report r = advise(s, {.samples = 0});
        CHECK(r.samples == 0);
        CHECK_FALSE(r.esc.peak_C.p10);
        CHECK_FALSE(r.esc.peak_C.p90);
        CHECK_FALSE(r.esc.chance_over_limit);
        CHECK(std::none_of(r.holds.begin(), r.holds.end(), [](const HoldReport& h) {
            return h.hold_peak_C.p10 || h.hold_peak_C.p90;
        }));
        CHECK_FALSE(r.learned.next_run);
        CHECK(report_to_json(r, s).find("\"p10\":null") != std::string::npos);
    }
}

TEST_CASE(
    "spread: a hold of a fixed propeller peaks below where it settles, and settles as its peak "
    "goes") {
    Setup s = holding(six_cell_drive(), 70);
    s.air.cooling = Cooling::closed;
    const Report middle = advise(s, {.samples = 0});
    const Report drawn = advise(s, {.samples = 64});
    const double air_C = s.air.temperature_C;
    int moved = 0;
    for (size_t i = 0; i < drawn.holds.size(); ++i) {
        const HoldReport& plain = middle.holds[i];
        const HoldReport& h = drawn.holds[i];
        if (!plain.steady_C || !h.steady_C || plain.hold_peak_C.p50 < air_C + 1) {
            continue;
        }
        CAPTURE(h.throttle_pct);
        // a hold of hours ends at a lower voltage than it settles at half way
        CHECK(h.hold_peak_C.p50 < *h.steady_C + 0.04 * (*h.steady_C - air_C));
        // (D) the same share of the way
        const double factor = (h.hold_peak_C.p50 - air_C) / (plain.hold_peak_C.p50 - air_C);
        CHECK_THAT(*h.steady_C - air_C, WithinRel(factor * (*plain.steady_C - air_C), 1e-9));
        CHECK_THAT(h.hold_mean_C - air_C, WithinRel(factor * (plain.hold_mean_C - air_C), 1e-9));
        moved += std::abs(factor - 1) > 0.02 ? 1 : 0;
    }
    CHECK(moved > 5);
    // One that starts in the cold peaks where its start lets it: what settles is the middle's.
    s.flight.start_C = air_C - 30;
    const Report cold = advise(s, {.samples = 64});
    const Report cold_middle = advise(s, {.samples = 0});
    for (size_t i = 0; i < cold.holds.size(); ++i) {
        CHECK(cold.holds[i].steady_C == cold_middle.holds[i].steady_C);
    }
}

TEST_CASE("spread: the same setup gives the same report, bit for bit") {
    const Setup s = learned_drive();
    CHECK(report_to_json(advise(s), s) == report_to_json(advise(s), s));
}

TEST_CASE("spread: the flight's band is that of the believed plants, in coarser steps") {
    constexpr double coarse_K = 0.5;  // the draws' march against the fine one
    const Setup s = learned_drive();
    const Report r = advise(s);
    const Quantiles fine = quantiles_of(believed_peaks(s, calibrate(s), 256));
    CHECK_THAT(or_beyond(r.esc.peak_C.p10), WithinAbs(fine.p10, coarse_K));
    CHECK_THAT(r.esc.peak_C.p50, WithinAbs(fine.p50, coarse_K));
    CHECK_THAT(or_beyond(r.esc.peak_C.p90), WithinAbs(fine.p90, coarse_K));
}

TEST_CASE("spread: bands of 256 draws are those of thousands, at both ends alike") {
    // Parts of the band's width. Chance alone gives 0.04 at either end of a normal's band; a
    // systematic error is all drives' own, for they share the draws.
    constexpr double each_apart = 0.1;
    constexpr double middle_apart = 0.06;
    constexpr double systematic = 0.02;
    constexpr int drives = 12;
    double colder = 0;
    double hotter = 0;
    for (int k = 501; k < 501 + drives; ++k) {
        Chance chance(static_cast<std::uint64_t>(k) * 1000003);
        const Setup s = told_drive(chance);
        const Calibration c = calibrate(s);
        const Quantiles few = quantiles_of(believed_peaks(s, c, 256));
        const Quantiles many = quantiles_of(believed_peaks(s, c, 2048));
        INFO("drive " << k << ": " << few.p10 << " " << few.p50 << " " << few.p90 << ", of many "
                      << many.p10 << " " << many.p50 << " " << many.p90);
        CHECK_THAT(few.p10, WithinAbs(many.p10, each_apart * many.width()));
        CHECK_THAT(few.p50, WithinAbs(many.p50, middle_apart * many.width()));
        CHECK_THAT(few.p90, WithinAbs(many.p90, each_apart * many.width()));
        colder += (few.p10 - many.p10) / many.width() / drives;
        hotter += (few.p90 - many.p90) / many.width() / drives;
    }
    CHECK_THAT(colder, WithinAbs(0, systematic));
    CHECK_THAT(hotter, WithinAbs(0, systematic));
}

TEST_CASE("spread: holds between the drawn throttles against flying each for every draw") {
    // A twentieth of the band's width, and never 2.5 K.
    constexpr double least_near_K = 1;
    constexpr double of_width = 0.05;
    constexpr double worst_K = 2.5;
    int near = 0;
    int all = 0;
    std::vector<Setup> setups = {learned_drive(), small_drive(), six_cell_drive()};
    setups[1].flight.parts = {part_of(60, 30), part_of(100, 5)};
    setups[2].flight.parts = setups[1].flight.parts;
    setups[2].esc.freewheel = Freewheel::active;
    setups[2].air.cooling = Cooling::closed;
    setups[2].load.full_throttle_A = 70;
    for (const Setup& s : setups) {
        const Report r = advise(s);
        const Calibration c = calibrate(s);
        const size_t n = c.belief.priors.size();
        const std::vector<double> z = posterior_draws(c, 256);
        std::vector<std::vector<double>> peaks(r.holds.size());
        for (size_t k = 0; k < 256; ++k) {
            const Plant p = fitted_plant(s, c.belief.priors, std::span(z).subspan(k * n, n));
            for (size_t i = 0; i < r.holds.size(); ++i) {
                const double throttle = r.holds[i].throttle_pct / 100;
                const March m =
                    fly_hold(p, {{.throttle = throttle}, {}, p.esc_start_C}, Steps::drawn);
                peaks[i].push_back(m.ended_by == EndedBy::runaway
                                       ? std::numeric_limits<double>::infinity()
                                       : m.peak_board);
            }
        }
        for (size_t i = 0; i < r.holds.size(); ++i) {
            const Quantiles flown = quantiles_of(peaks[i]);
            const Band& b = r.holds[i].hold_peak_C;
            INFO(s.esc.rating_A << " A, " << r.holds[i].throttle_pct << " %: flown " << flown.p10
                                << " " << flown.p50 << " " << flown.p90);
            const double off =
                std::max({std::abs(or_beyond(b.p10) - flown.p10), std::abs(b.p50 - flown.p50),
                          std::abs(or_beyond(b.p90) - flown.p90)});
            CHECK(off < worst_K);
            near += off < std::max(least_near_K, of_width * flown.width()) ? 1 : 0;
            ++all;
        }
    }
    CHECK(near >= all - 2);
}

TEST_CASE("spread: where the middle plant runs away, draws that do not still have their place") {
    // A closed bay far too small for its load: some draws run away, some do not.
    Setup s = six_cell_drive();
    s.esc.rating_A = 40;
    s.load.full_throttle_A = 70;
    s.air.cooling = Cooling::closed;
    s.air.temperature_C = 40;
    s.pack.capacity_mAh = 20000;
    s.flight.parts = {part_of(75, 60)};
    const Report r = advise(s);
    bool between_neighbours = false;
    for (size_t i = 1; i + 1 < r.holds.size(); ++i) {
        INFO(r.holds[i].throttle_pct);
        CHECK(in_order(r.holds[i].hold_peak_C));
        between_neighbours = between_neighbours || !std::isfinite(r.holds[i].hold_peak_C.p50);
    }
    CHECK(between_neighbours);  // the case does run away somewhere
}

TEST_CASE("spread: packs that give in early do not stand for the median, unless most do") {
    constexpr double inf = std::numeric_limits<double>::infinity();
    std::vector<Outcome> outcomes(6);
    outcomes[0] = {.peak_C = 20, .limit_s = inf, .cut_short = true};
    outcomes[1] = {.peak_C = inf, .limit_s = 100};
    outcomes[2] = {.peak_C = 21, .limit_s = inf, .cut_short = true};
    outcomes[3] = {.peak_C = inf, .limit_s = 90};
    outcomes[4] = {.peak_C = 22, .limit_s = inf, .cut_short = true};
    outcomes[5] = {.peak_C = 95, .limit_s = 300};
    CHECK_FALSE(std::isfinite(peak_band(outcomes).p50));
    CHECK(median_draw(outcomes, true) == 1);
    outcomes[1].cut_short = true;  // now most do
    CHECK(median_draw(outcomes, false) == 4);
}

TEST_CASE("spread: the draw that stands for the median, and what nine draws in ten reach") {
    constexpr double inf = std::numeric_limits<double>::infinity();
    std::vector<Outcome> outcomes(4);
    outcomes[0].peak_C = 90;
    outcomes[1].peak_C = inf;
    outcomes[2].peak_C = 70;
    outcomes[3].peak_C = 80;
    CHECK(median_draw(outcomes, false) == 3);  // the cooler of the middle two
    CHECK(median_draw(outcomes, true) == 0);   // the hotter
    outcomes.pop_back();
    CHECK(median_draw(outcomes, false) == 0);
    CHECK(median_draw(outcomes, true) == 0);
    std::vector<double> times;
    for (int i = 20; i > 0; --i) {
        times.push_back(i);
    }
    CHECK(surely_reached(times) == 3);  // eighteen of twenty are 3 or more
    times.resize(9);
    CHECK(surely_reached(times) == 12);  // 20 down to 12: none may fall short
}

TEST_CASE("spread: an outcome is what its march did") {
    constexpr double inf = std::numeric_limits<double>::infinity();
    March m;
    m.moments.resize(2);
    m.moments[1].t = m.seconds = 50;
    m.moments[1].heat = {.junction = 80, .board = 70, .body = 60, .bay = 25, .winding = 95};
    m.peak_board = 70;
    m.peak_junction = 80;
    m.ended_by = EndedBy::sag;
    Outcome o = outcome_of(m, 100);
    CHECK(o.peak_C == 70);
    CHECK(o.peak_junction_C == 80);
    CHECK(o.limit_s == inf);
    CHECK(o.seconds == 50);
    CHECK(o.ended_by == EndedBy::sag);
    CHECK(o.winding_C == 95);
    CHECK(outcome_of(m, 60).limit_s < 50);
    m.ended_by = EndedBy::runaway;
    o = outcome_of(m, 100);
    CHECK(o.peak_C == inf);
    CHECK(o.peak_junction_C == inf);
    CHECK(o.limit_s == 50);
}

TEST_CASE("spread: half of the draws have passed the limit when the report says the flight does") {
    Setup s = six_cell_drive();
    s.esc.rating_A = 90;
    s.esc.freewheel = Freewheel::diode;
    s.air.cooling = Cooling::closed;
    s.flight.parts = {part_of(85, 60), part_of(100, 10)};
    Report r = advise(s);
    REQUIRE(r.flight.limit_after_s);
    const Calibration c = calibrate(s);
    Draws draws = draw_plants(s, c, 256);
    int by_then = 0;
    int before = 0;
    for (const Plant& p : draws.plants) {
        const auto passed =
            limit_passed_s(run_flight(p, s.flight, Steps::drawn).march, s.esc.limit_C);
        by_then += passed && *passed <= *r.flight.limit_after_s ? 1 : 0;
        before += passed && *passed < *r.flight.limit_after_s ? 1 : 0;
    }
    CHECK(by_then >= 128);
    CHECK(before < 128);
}
