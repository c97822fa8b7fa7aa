// What a change says of the draws, of a flight that runs away and of its cost: known answers.
#include <algorithm>
#include <cmath>

#include "advice.hpp"
#include "advise/advise.hpp"
#include "advise/candidates.hpp"
#include "advise/trial.hpp"
#include "drives.hpp"
#include "near.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr Scale in = Scale::celsius;
constexpr double other_Hz = 16000;

std::vector<Outcome> outcomes(const std::vector<double>& peaks_C) {
    std::vector<Outcome> out;
    for (const double C : peaks_C) {
        Outcome o;
        o.peak_C = C;
        o.seconds = 300;
        out.push_back(o);
    }
    return out;
}

std::vector<double> times(double C, size_t count) { return std::vector<double>(count, C); }

std::vector<double> joined(std::vector<double> a, const std::vector<double>& b) {
    a.insert(a.end(), b.begin(), b.end());
    return a;
}

/// What is said of another frequency, recommended, whose flights peak at `after_C` in draws that
/// peak at `before_C` without it.
Change said_of(const std::vector<double>& before_C, const std::vector<double>& after_C) {
    Setup s = holding(six_cell_drive(), 75);
    s.esc.limit_C = 100;
    const Calibration taught = calibrate(s);
    const Plant p = middle_plant(s, taught.belief);
    const FlightRun flight = run_flight(p, s.flight);
    Draws draws = draw_plants(s, taught, static_cast<int>(before_C.size()));
    draws.flight = outcomes(before_C);
    PwmTrial pwm;
    for (const double Hz : {s.esc.pwm_Hz, other_Hz}) {
        PwmChoice c;
        c.pwm_Hz = Hz;
        pwm.report.choices.push_back(c);
    }
    pwm.report.recommended_Hz = other_Hz;
    pwm.flights = {draws.flight, outcomes(after_C)};
    const std::vector<Change> all =
        find_changes(s, taught, flight, run_checks(s, p, flight), pwm, draws, in);
    const Change* there = find_change(all, pwm_id(other_Hz));
    REQUIRE(there != nullptr);
    return *there;
}

const Change* pair_among(const std::vector<Change>& changes) {
    const auto there = std::find_if(changes.begin(), changes.end(),
                                    [](const Change& c) { return !c.ids.empty(); });
    return there == changes.end() ? nullptr : &*there;
}

std::vector<Candidate> candidates_of(const Setup& s) {
    const Plant p = median_plant(s);
    return find_candidates(s, p, run_checks(s, p, run_flight(p, s.flight)), {});
}

}  // namespace

TEST_CASE("change numbers: the limit is kept where it is in 18 flights of 20, not in 17") {
    for (const size_t kept : {20U, 19U, 18U, 17U, 10U}) {
        // At the limit itself it is kept.
        const Change c =
            said_of(times(101, 20), joined(times(100, kept), times(100.01, 20 - kept)));
        INFO(kept);
        REQUIRE(c.keeps_limit);
        CHECK(*c.keeps_limit == (kept >= 18));
    }
}

TEST_CASE("change numbers: it helps where the ESC is cooler by more than half a kelvin") {
    // 6 that are not noticed, 14 that are; the middle of all is 0.51 K cooler (D).
    std::vector<double> after_C = joined(times(59.51, 5), {59.5});
    after_C = joined(joined(after_C, times(59.49, 7)), times(59.45, 7));
    const Change c = said_of(times(60, 20), after_C);
    REQUIRE(c.chance_helps);
    CHECK_THAT(*c.chance_helps, WithinAbs(14.0 / 20, 1e-12));
    REQUIRE(c.esc_peak_change_K);
    CHECK_THAT(*c.esc_peak_change_K, WithinAbs(-0.51, 1e-9));
    const Change none = said_of(times(60, 20), times(60.3, 20));
    CHECK(*none.chance_helps == 0);
}

TEST_CASE("change numbers: without draws a flight that runs away has no kelvin to differ by") {
    Setup s = overloaded_in_a_bay(40);
    s.esc.rating_A = 40;
    const Report r = advise(s, {.samples = 0});
    REQUIRE(r.esc.runaway);
    REQUIRE_FALSE(r.changes.empty());
    for (const Change& c : r.changes) {
        INFO(c.id);
        CHECK_FALSE(c.esc_peak_change_K);
        CHECK_FALSE(c.runs_away);
        CHECK(has(c.text, "(ends the runaway: near " + degrees(c.peak_C, in) + ")"));
    }
    // One that keeps clear of it has.
    const Report cool = advise(holding(six_cell_drive(), 75), {.samples = 0});
    REQUIRE_FALSE(cool.changes.empty());
    for (const Change& c : cool.changes) {
        CHECK(c.esc_peak_change_K);
    }
}

TEST_CASE("change numbers: a pair costs what both of its changes cost") {
    Setup s = holding(six_cell_drive(), 85);
    s.air.cooling = Cooling::closed;
    const std::vector<Candidate> singles = candidates_of(s);
    const auto cost_of = [&](const std::string& id) {
        const auto there = std::find_if(singles.begin(), singles.end(),
                                        [&](const Candidate& c) { return c.change.id == id; });
        return there == singles.end() ? "" : there->change.cost;
    };
    int told = 0;
    for (const double limit_C : {35.0, 40.0, 45.0, 50.0, 55.0}) {
        s.esc.limit_C = limit_C;
        const Report r = advise(s, {.samples = 0});
        const Change* pair = pair_among(r.changes);
        if (pair == nullptr) {
            continue;
        }
        const std::string first = cost_of(pair->ids[0]);
        const std::string second = cost_of(pair->ids[1]);
        INFO(pair->id << ": " << pair->cost);
        CHECK(has(pair->cost, first));
        CHECK(has(pair->cost, second));
        const bool both = !first.empty() && !second.empty();
        CHECK((!both || has(pair->cost, first + "; " + second)));
        told += both ? 1 : 0;
    }
    CHECK(told > 0);
}

TEST_CASE("change numbers: where all is learned anew the middle is flown with it") {
    Setup s = holding(six_cell_drive(), 75);
    s.measured.resize(2);
    s.measured[0].throttle_pct = 75;
    s.measured[0].pack_A = 55;
    s.measured[0].esc_peak_C = 60;
    s.measured[1].pack_A = 105;
    s.measured[1].esc_peak_C = 49;
    const Report r = advise(s, {.samples = 0});
    const Calibration taught = calibrate(s);
    const auto flown_s = [](const Setup& of, const Belief& belief) {
        return run_flight(middle_plant(of, belief), of.flight, Steps::trial).march.seconds;
    };
    const double before_s = flown_s(s, taught.belief);
    int learned = 0;
    for (const Change& c : r.changes) {
        const Carried first = carry_at_first(s, taught, c.changed);
        if (!first.only_followed) {
            continue;
        }
        // Followed for a first look, it is some thousandths of a second off.
        const Calibration anew = calibrate(c.changed, most_fit_work / 4);
        INFO(c.id);
        CHECK_THAT(c.flight_change_s, WithinAbs(flown_s(c.changed, anew.belief) - before_s, 1e-6));
        CHECK(std::abs(c.flight_change_s - (flown_s(c.changed, first.belief) - before_s)) > 1e-4);
        ++learned;
    }
    CHECK(learned > 0);
}
