// Does the verdict read every room, worst first, and never say fine beside a failure?
#include <algorithm>
#include <limits>

#include "advice.hpp"
#include "advise/advise.hpp"
#include "drives.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();
constexpr Scale in = Scale::celsius;

Verdict verdict_of(const Report& r) {
    Setup s;
    s.esc.limit_C = r.esc.limit_C;
    return judge(s, r, in);
}

}  // namespace

TEST_CASE("verdict: all fine has no reasons and says by how much") {
    const Verdict v = verdict_of(fine_report());
    CHECK(v.level == Level::fine);
    CHECK(v.reasons.empty());
    CHECK(numbers_in(v.headline) == std::vector<double>{60, 400, 40});
    CHECK(has(v.headline, "fine"));
}

TEST_CASE("verdict: the band's top 10 K under the limit is watched, a tenth below it is not") {
    Report r = fine_report();
    r.esc.peak_C = {70, 80, 89.9};
    CHECK(verdict_of(r).level == Level::fine);
    r.esc.peak_C.p90 = 90.1;
    const Verdict v = verdict_of(r);
    CHECK(v.level == Level::watch);
    REQUIRE(v.reasons.size() == 1);
    CHECK(v.reasons[0].key == "heat");
    CHECK(numbers_in(v.headline) == std::vector<double>{80, 400, 90, 100});
}

TEST_CASE("verdict: without draws the middle itself is held against the margin") {
    Report r = fine_report();
    r.esc.chance_over_limit.reset();
    r.esc.peak_C = {{}, 89.9, {}};
    CHECK(verdict_of(r).level == Level::fine);
    r.esc.peak_C.p50 = 90.1;
    const Verdict v = verdict_of(r);
    CHECK(v.level == Level::watch);
    CHECK_FALSE(has(v.headline, "one flight in ten"));
}

TEST_CASE("verdict: one flight in twenty beyond the limit is watched") {
    Report r = fine_report();
    r.esc.chance_over_limit = 0.05;
    CHECK(verdict_of(r).level == Level::fine);
    r.esc.chance_over_limit = 0.051;
    CHECK(verdict_of(r).level == Level::watch);
}

TEST_CASE("verdict: a likely peak over the limit forbids the flight and says when") {
    Report r = fine_report();
    r.esc.peak_C = {90, 100, 110};
    CHECK(verdict_of(r).level == Level::watch);
    r.esc.peak_C.p50 = 112;
    r.flight.limit_after_s = 200;
    const Verdict v = verdict_of(r);
    CHECK(v.level == Level::stop);
    CHECK(numbers_in(v.headline) == std::vector<double>{112, 12, 200});
}

TEST_CASE("verdict: a runaway forbids it, one among the hotter draws is watched, with its chance") {
    Report r = fine_report();
    r.esc.peak_C = {80, 85, {}};
    r.esc.chance_over_limit = 0.17;
    Verdict v = verdict_of(r);
    CHECK(v.level == Level::watch);
    CHECK(numbers_in(v.headline) == std::vector<double>{85, 400, 17});
    r.esc.peak_C = {80, none, {}};
    r.esc.runaway = true;
    r.flight.limit_after_s = 150;
    v = verdict_of(r);
    CHECK(v.level == Level::stop);
    CHECK(numbers_in(v.headline) == std::vector<double>{150});
}

TEST_CASE("verdict: a failed check is never fine, a serious one forbids the flight") {
    const std::vector<CheckGroup Checks::*> groups = {&Checks::rating, &Checks::pack,
                                                      &Checks::capacitor, &Checks::supply};
    for (CheckGroup Checks::*group : groups) {
        Report r = fine_report();
        r.checks.*group = {false, {failed_item("some_A", 112, 100)}};
        Verdict v = verdict_of(r);
        CHECK(v.level == Level::watch);
        REQUIRE(v.reasons.size() == 1);
        CHECK(v.reasons[0].key == "some_A");
        CHECK(v.headline == v.reasons[0].text);
        CHECK(numbers_in(v.headline) == std::vector<double>{112, 100});
        CHECK(has(v.headline, "at most 100 A"));
        CHECK_FALSE(has(v.headline, "do not fly"));
        (r.checks.*group).items[0].serious = true;
        v = verdict_of(r);
        CHECK(v.level == Level::stop);
        CHECK(has(v.headline, "do not fly"));
    }
}

TEST_CASE("verdict: a passed check moves nothing, whatever its figures") {
    Report r = fine_report();
    CheckItem item = failed_item("some_A", 112, 100);
    item.ok = true;
    r.checks.rating.items = {item};
    CHECK(verdict_of(r).reasons.empty());
}

TEST_CASE("verdict: a check says its side and its degrees in the scale asked for") {
    Report r = fine_report();
    CheckItem least = failed_item("least_V", 3.05, 3.2);
    least.unit = "V";
    least.side = Side::at_least;
    CheckItem outside = failed_item("ratio", 1.1, 0.8);
    outside.unit = "x";
    outside.side = Side::outside;
    outside.bound_high = 1.25;
    CheckItem warm = failed_item("pack_C", 65, 60);
    warm.unit = "deg C";
    r.checks.pack = {false, {least, outside, warm}};
    const Verdict v = judge({}, r, Scale::fahrenheit);
    REQUIRE(v.reasons.size() == 3);
    CHECK(has(v.reasons[0].text, "3.05 V motor current, where at least 3.2 V"));
    CHECK(has(v.reasons[1].text, "1.1 x motor current, where outside 0.8 to 1.25 x"));
    CHECK(has(v.reasons[2].text, "149 deg F motor current, where at most 140 deg F"));
}

TEST_CASE("verdict: figures have three digits and no empty ones") {
    Report r = fine_report();
    r.checks.rating = {false,
                       {failed_item("a", 9.994, 9), failed_item("b", 9.996, 8.5),
                        failed_item("c", 99.94, 50), failed_item("d", 99.96, 1200)}};
    const Verdict v = verdict_of(r);
    REQUIRE(v.reasons.size() == 4);
    CHECK(has(v.reasons[0].text, "9.99 A "));
    CHECK(has(v.reasons[0].text, " 9 A "));
    CHECK(has(v.reasons[1].text, "10 A "));
    CHECK(has(v.reasons[1].text, " 8.5 A "));
    CHECK(has(v.reasons[2].text, "99.9 A "));
    CHECK(has(v.reasons[3].text, "100 A "));
    CHECK(has(v.reasons[3].text, " 1200 A "));
}

TEST_CASE("verdict: sag ends a flight with a warning, and at once forbids it") {
    Report r = fine_report();
    r.flight.ended_by = EndedBy::sag;
    Verdict v = verdict_of(r);
    CHECK(v.level == Level::watch);
    CHECK(v.reasons[0].key == "sag");
    CHECK(numbers_in(v.headline) == std::vector<double>{400});
    r.flight.seconds = 1;
    CHECK(verdict_of(r).level == Level::watch);
    r.flight.seconds = 0.9;
    CheckItem low = failed_item("lowest_cell_V", 3, 3.2);
    low.unit = "V";
    r.checks.pack = {false, {low, failed_item("rate_C", 50, 40)}};
    v = verdict_of(r);
    CHECK(v.level == Level::stop);
    REQUIRE(v.reasons.size() == 2);  // the sag says what the low cell would
    CHECK(v.reasons[0].key == "sag");
    CHECK(v.reasons[1].key == "rate_C");
    r.flight.ended_by = EndedBy::reserve;
    CHECK(verdict_of(r).level == Level::watch);
}

TEST_CASE("verdict: a rotor short of speed is watched, one that never has it is no flight") {
    Report r = fine_report();
    r.flight.governor_saturates = true;
    CHECK(verdict_of(r).level == Level::watch);
    CHECK(verdict_of(r).reasons[0].key == "headroom");
    r.flight.rotor_speed_reached = false;
    CHECK(verdict_of(r).level == Level::stop);
}

TEST_CASE(
    "verdict: a motor that stands at full throttle is no flight, at less it is none of this") {
    Report r = fine_report();
    HoldReport part;
    part.throttle_pct = 5;
    part.rpm = 0;
    HoldReport full;
    full.throttle_pct = 100;
    full.rpm = 1;
    full.motor_A = 3.26;
    r.holds = {part, full};
    CHECK(verdict_of(r).level == Level::fine);
    r.holds[1].rpm = 0;
    const Verdict v = verdict_of(r);
    CHECK(v.level == Level::stop);
    REQUIRE(v.reasons.size() == 1);
    CHECK(v.reasons[0].key == "standstill");
    CHECK(numbers_in(v.headline) == std::vector<double>{3.26});
}

TEST_CASE("verdict: a no-load current beyond what the windings let through is said to stand") {
    Setup s = holding(six_cell_drive(), 60);
    s.motor.kv_rpm_per_V = 1000;
    s.motor.resistance_mOhm = 5000;
    const auto stands = [&](double no_load_A) {
        s.motor.no_load_A = no_load_A;
        const std::vector<Reason> reasons = advise(s, {0}).verdict.reasons;
        return std::any_of(reasons.begin(), reasons.end(),
                           [](const Reason& one) { return one.key == "standstill"; });
    };
    // Half charged 23 V, of windings at 65 deg C 5.8 Ohm.
    CHECK_FALSE(stands(3));
    CHECK(stands(5));
}

TEST_CASE("verdict: a band to keep out of is a reason, a warm one is not") {
    Report r = fine_report();
    ThrottleBand band;
    band.level = Level::watch;
    band.text = "70-90 %: held to the pack's end";
    r.bands = {band};
    CHECK(verdict_of(r).level == Level::fine);
    r.bands[0].level = Level::stop;
    const Verdict v = verdict_of(r);
    CHECK(v.level == Level::watch);
    CHECK(v.reasons[0].key == "band");
    CHECK(v.headline == band.text);
}

TEST_CASE("verdict: a share flown in one go over the limit is a reason") {
    Report r = fine_report();
    r.flight.longest_holds = {{60, 240, 100}};
    CHECK(verdict_of(r).level == Level::fine);
    r.flight.longest_holds[0].peak_C = 100.1;
    const Verdict v = verdict_of(r);
    CHECK(v.level == Level::watch);
    CHECK(numbers_in(v.headline) == std::vector<double>{60, 240});
}

TEST_CASE("verdict: reasons stand worst first, and the headline is the first") {
    Report r = fine_report();
    r.esc.peak_C = {80, 85, 95};
    CheckItem serious = failed_item("cells", 12, 6);
    serious.serious = true;
    r.checks.capacitor = {false, {failed_item("ripple_A", 20, 10), serious}};
    const Verdict v = verdict_of(r);
    CHECK(v.level == Level::stop);
    REQUIRE(v.reasons.size() == 3);
    CHECK(v.reasons[0].key == "cells");
    CHECK(v.reasons[1].key == "heat");
    CHECK(v.reasons[2].key == "ripple_A");
    CHECK(v.headline == v.reasons[0].text);
}
