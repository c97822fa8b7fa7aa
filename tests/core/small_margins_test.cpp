// Margins that few reports come near, both sides of each: a band's ends, an idling current, a
// generous pack, hours of cooling, and what is left unsaid beside a flight that must not be flown.
#include <algorithm>
#include <cmath>

#include "advice.hpp"
#include "advise/candidates.hpp"
#include "drives.hpp"
#include "flight/settle.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr Scale in = Scale::celsius;

std::vector<std::string> reasons_of(const Setup& s, const Report& r) {
    std::vector<std::string> out;
    for (const Reason& reason : judge(s, r, in).reasons) {
        out.push_back(reason.key);
    }
    return out;
}

/// The six-cell drive with a row of a current in it.
Setup with_row(double throttle_pct, double pack_A, double hold_s) {
    Setup s = holding(six_cell_drive(), 75);
    MeasuredRow row;
    row.throttle_pct = throttle_pct;
    row.pack_A = pack_A;
    row.hold_s = hold_s;
    s.measured = {row};
    return s;
}

}  // namespace

TEST_CASE("margins: a part flown at a band's very end is in it, one beside it is not") {
    // From 80 at 50 % to 100 at 60 %, back to 80 at 80 %: 90 deg C, 10 K under the limit, from 55
    // to 70 % (D).
    const std::vector<HoldReport> holds = {hold_at(50, 80), hold_at(60, 100), hold_at(80, 80)};
    Setup s;
    s.esc.limit_C = 100;
    s.air.temperature_C = 20;
    for (const auto& [throttle_pct, inside] :
         {std::pair{55.0, true}, {54.9, false}, {70.0, true}, {70.1, false}, {70.9, false}}) {
        s.flight.parts = {part_of(throttle_pct, 30), part_of(90, 10)};
        const std::vector<ThrottleBand> bands = find_bands(s, holds, in);
        REQUIRE(bands.size() == 1);
        INFO(throttle_pct << " %: " << bands[0].text);
        CHECK(has(bands[0].text, "75 % of this flight is in it") == inside);
        CHECK(has(bands[0].text, "stays out of it") == !inside);
    }
}

TEST_CASE("margins: a current of 3 % of full throttle's may be the ESC's own, more is the load's") {
    Setup s = with_row(3, 1, 10);
    Setup alone = s;
    alone.measured.clear();
    const Plant p = median_plant(alone);
    const double full_A = at_mid_pack(p, 1).i_pack;
    REQUIRE(at_mid_pack(p, 0.03).i_pack < 0.004 * full_A);
    s.measured[0].pack_A = 0.029 * full_A;
    CHECK(find_slips(s).empty());
    s.measured[0].pack_A = 0.031 * full_A;
    CHECK(find_slips(s).size() == 1);
}

TEST_CASE("margins: a pack gives a tenth more than it is sold with, no more") {
    // 5 Ah at 50 A: 360 s (D).
    CHECK(find_slips(with_row(75, 50, 1.095 * 360)).empty());
    CHECK(find_slips(with_row(75, 50, 1.105 * 360)).size() == 1);
}

TEST_CASE("margins: cooling down is told in up to six hours") {
    Plant p = median_plant(six_cell_drive());
    const HeatState warm{60, 60, 60, p.air.celsius, p.air.celsius};
    const HeatPlant light = p.heat;
    const auto of_weight = [&](double times) {
        p.heat.C_junction = times * light.C_junction;
        p.heat.C_board = times * light.C_board;
        p.heat.C_case = times * light.C_case;
        return cool_down_seconds(p, warm, 5);
    };
    const std::optional<double> once = of_weight(1);
    REQUIRE(once);
    // So many times the heat to give away to the same air takes so many times as long; the lighter
    // is told to 10 s.
    const double for_an_hour = 3600 / *once;
    const std::optional<double> long_s = of_weight(5.7 * for_an_hour);
    REQUIRE(long_s);
    CHECK_THAT(*long_s, WithinRel(5.7 * 3600, 0.02));
    CHECK_FALSE(of_weight(6.3 * for_an_hour));
}

TEST_CASE("margins: beside a heat that forbids the flight nothing else that is hot is said") {
    Setup s = holding(six_cell_drive(), 75);
    s.esc.limit_C = 100;
    MeasuredRow flown;
    flown.kind = RowKind::flight;
    flown.esc_after_C = 150;
    s.measured = {flown};
    Report r = fine_report();
    r.flight.longest_holds = {{75, 240, 120}};
    // Said where the flight itself keeps the limit,
    const std::vector<std::string> said = reasons_of(s, r);
    CHECK(std::count(said.begin(), said.end(), "longest_hold") == 1);
    CHECK(std::count(said.begin(), said.end(), "readings") == 1);
    // and not where it does not.
    r.esc.peak_C = {120, 130, 140};
    r.esc.margin_K = -30;
    r.esc.chance_over_limit = 1;
    CHECK(judge(s, r, in).level == Level::stop);
    CHECK(reasons_of(s, r) == std::vector<std::string>{"heat"});
}
