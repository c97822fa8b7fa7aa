// Typing mistakes in currents, throttles and lengths are found, and what is right is left alone.
#include <cmath>

#include "advice.hpp"
#include "advise/advise.hpp"
#include "advise/candidates.hpp"
#include "advise/rooms.hpp"
#include "advise/untold.hpp"
#include "drives.hpp"
#include "physics/constants.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

// Four holds of the six-cell drive, with the currents that it draws.
Setup with_right_currents() {
    Setup s = holding(six_cell_drive(), 75);
    s.load.full_throttle_A = 60;
    for (const double pct : {40.0, 60.0, 75.0, 100.0}) {
        Setup at = s;
        at.measured.clear();
        at.ask_holds.emplace_back();
        at.ask_holds[0].throttle_pct = pct;
        MeasuredRow row;
        row.throttle_pct = pct;
        row.pack_A = advise(at, {.samples = 0}).asked_holds.at(0).pack_A;
        row.hold_s = 60;
        s.measured.push_back(row);
    }
    return s;
}

std::vector<int> slipped_rows(const Setup& s) {
    std::vector<int> out;
    for (const Misfit& m : find_slips(s)) {
        CHECK(m.misleads);
        out.push_back(m.row);
    }
    return out;
}

}  // namespace

TEST_CASE("slips: a digit too many or too few in one current is found, whichever it is") {
    const Setup right = with_right_currents();
    CHECK(slipped_rows(right).empty());
    for (int i = 0; i < 4; ++i) {
        for (const double factor : {10.0, 0.1}) {
            Setup s = right;
            s.measured[static_cast<size_t>(i)].hold_s = 5;
            *s.measured[static_cast<size_t>(i)].pack_A *= factor;
            INFO(i << " times " << factor);
            CHECK(slipped_rows(s) == std::vector<int>{i});
        }
    }
}

TEST_CASE("slips: what is two and a half times the others is one, what is less is not") {
    const auto at = [](int row, double factor) {
        Setup s = with_right_currents();
        // told as its power: a current at full throttle would be held against row 4 by itself
        const Operating full = at_mid_pack(median_plant(s), 1);
        s.load = {};
        s.load.shaft_rpm = full.omega * 30 / pi;
        s.load.shaft_W = full.shaft_W;
        *s.measured[static_cast<size_t>(row)].pack_A *= factor;
        return slipped_rows(s);
    };
    // the most stays the most, the least the least
    CHECK(at(3, 2.3).empty());
    CHECK(at(3, 2.7) == std::vector<int>{3});
    CHECK(at(0, 1 / 2.3).empty());
    CHECK(at(0, 1 / 2.7) == std::vector<int>{0});
}

TEST_CASE("slips: a throttle that lost its nought, named with its current") {
    Setup s = with_right_currents();
    s.measured[1].throttle_pct = 6;
    REQUIRE(slipped_rows(s) == std::vector<int>{1});
    const std::string text = find_slips(s)[0].text;
    CHECK(text.rfind("Row 2 (6 %): its current of ", 0) == 0);
    CHECK(has(text, three_figures(*s.measured[1].pack_A) + " A"));
}

TEST_CASE("slips: a point of the load is held against the others, without any full throttle") {
    Setup s = with_right_currents();
    s.load.full_throttle_A.reset();
    for (const MeasuredRow& row : s.measured) {
        s.load.points.push_back({.throttle_pct = row.throttle_pct, .pack_A = *row.pack_A});
    }
    s.measured.clear();
    CHECK(slipped_rows(s).empty());
    s.load.points[1].pack_A *= 10;
    REQUIRE(slipped_rows(s) == std::vector<int>{1});
    CHECK(has(find_slips(s)[0].text, "The point at 60 %"));
}

TEST_CASE("slips: one current has nothing to be held against but the load that is told") {
    Setup s = with_right_currents();
    s.measured = {s.measured[3]};
    s.measured[0].pack_A = 6;
    CHECK(slipped_rows(s) == std::vector<int>{0});  // ten times less than the 60 A told
    s.load = {};
    CHECK(slipped_rows(s).empty());
}

TEST_CASE("slips: a hold cannot take more than the pack holds") {
    Setup s = with_right_currents();
    const double pack_Ah = s.pack.capacity_mAh * s.pack.parallel / 1000;
    const double full_s = pack_Ah / *s.measured[3].pack_A * 3600;
    s.measured[3].hold_s = 1.08 * full_s;
    CHECK(slipped_rows(s).empty());
    s.measured[3].hold_s = 1.12 * full_s;
    REQUIRE(slipped_rows(s) == std::vector<int>{3});
    CHECK(has(find_slips(s)[0].text, "more than the pack holds"));
    // nor can it be said of another pack
    s.measured[3].cells = 5;
    CHECK(slipped_rows(s).empty());
    s.measured[3].cells.reset();
    s.pack.parallel = 2;
    CHECK(slipped_rows(s).empty());
}

TEST_CASE("slips: what another drive drew is not held against this one") {
    Setup s = with_right_currents();
    *s.measured[1].pack_A *= 3;
    REQUIRE(slipped_rows(s) == std::vector<int>{1});
    s.measured[1].full_throttle_A = 180;
    CHECK(slipped_rows(s).empty());
    s.measured[1].full_throttle_A.reset();
    s.measured[1].kv_rpm_per_V = 900;
    CHECK(slipped_rows(s).empty());
}

TEST_CASE("slips: an ESC's idling current is no slip, however little the load draws there") {
    Setup s = with_right_currents();
    s.measured[0].throttle_pct = 5;
    s.measured[0].pack_A = 0.5;
    CHECK(slipped_rows(s).empty());
}

TEST_CASE("slips: what reads hot or cool beside one is not blamed, and the verdict says it first") {
    Setup s = with_right_currents();
    for (MeasuredRow& row : s.measured) {
        row.esc_peak_C = 45;
        row.start_C = 25;
    }
    *s.measured[3].pack_A /= 10;
    const Report r = advise(s, {.samples = 8});
    REQUIRE(r.learned.misfit.size() == 1);
    CHECK(r.learned.misfit[0].row == 3);
    CHECK(r.verdict.level == Level::watch);
    CHECK(r.verdict.reasons.at(0).key == "readings");
    CHECK(r.verdict.headline == r.learned.misfit[0].text);
}

TEST_CASE(
    "slips: a hold whose current nobody read is named where the pack does not last nearly as "
    "long") {
    Setup s = holding(six_cell_drive(), 75);
    s.load.full_throttle_A = 60;
    Setup asked = s;
    asked.ask_holds.emplace_back();
    asked.ask_holds[0].throttle_pct = 75;
    // (D) the whole charge at the current of half way through that hold
    const double drawn_A = advise(asked, {.samples = 0}).asked_holds.at(0).pack_A;
    const double lasts_s = 3.6 * s.pack.capacity_mAh / drawn_A;
    const auto named = [&](double times) {
        MeasuredRow row;
        row.throttle_pct = 75;
        row.hold_s = times * lasts_s;
        row.esc_peak_C = 50;
        s.measured = {row};
        return find_slips(s);
    };
    CHECK(named(2.4).empty());
    const std::vector<Misfit> found = named(2.6);
    REQUIRE(found.size() == 1);
    CHECK(found[0].misleads);
    CHECK(has(found[0].text, "where the pack lasts about " + clock_text(lasts_s)));
    // with other parts it may have lasted
    s.measured[0].kv_rpm_per_V = 300;
    CHECK(find_slips(s).empty());
}

TEST_CASE("slips: a thermometer that reads more than is believed is not talked away") {
    Setup s = holding(six_cell_drive(), 60);
    const Band peak_C = advise(s, {.samples = 32}).esc.peak_C;
    // two flights that read what was to be expected, and a third one
    const auto landed = [](double read_C) {
        MeasuredRow row;
        row.kind = RowKind::flight;
        row.esc_after_C = read_C;
        return row;
    };
    const auto reasons_at = [&](const MeasuredRow& third, double usual_C, int samples) {
        s.measured = {landed(usual_C), landed(usual_C), third};
        int found = 0;
        for (const Reason& reason : advise(s, {.samples = samples}).verdict.reasons) {
            found += reason.key == "readings" && has(reason.text, "Row 3 (flight)") ? 1 : 0;
        }
        return found;
    };
    CHECK(reasons_at(landed(peak_C.p50), peak_C.p50, 32) == 0);
    CHECK(reasons_at(landed(s.esc.limit_C + 30), peak_C.p50, 32) == 1);
    // without draws there is no range that it could lie above
    CHECK(reasons_at(landed(peak_C.p50 + 3), peak_C.p50, 0) == 0);
    // a flight on a day so much warmer, or begun so, is another
    s.air.temperature_C -= 40;
    MeasuredRow warm = landed(peak_C.p50);
    CHECK(reasons_at(warm, peak_C.p50 - 40, 32) == 1);
    warm.air_C = s.air.temperature_C + 40;
    CHECK(reasons_at(warm, peak_C.p50 - 40, 32) == 0);
    warm.air_C.reset();
    warm.start_C = s.air.temperature_C + 40;
    CHECK(reasons_at(warm, peak_C.p50 - 40, 32) == 0);
}

TEST_CASE(
    "slips: a current that a higher throttle undercuts is named, the one that is further off") {
    const auto named = [](double low_A, double high_A, double high_pct) {
        Setup s = with_right_currents();
        s.measured[1].pack_A = low_A;  // at 60 %
        s.measured[2].pack_A = high_A;
        s.measured[2].throttle_pct = high_pct;
        s.measured.resize(3);
        return s;
    };
    const Setup right = with_right_currents();
    const double at_60 = *right.measured[1].pack_A;
    const double at_75 = *right.measured[2].pack_A;
    CHECK(slipped_rows(named(1.22 * at_75, at_75, 75)).empty());
    CHECK(slipped_rows(named(1.28 * at_75, at_75, 75)) == std::vector<int>{1});
    CHECK(slipped_rows(named(at_60, at_60 / 1.28, 75)) == std::vector<int>{2});
    CHECK(slipped_rows(named(at_60, at_60 / 1.28, 64)).empty());  // as near as packs are apart
    CHECK(slipped_rows(named(at_60, at_60 / 1.28, 66)) == std::vector<int>{2});
    const Setup s = named(at_60, at_60 / 1.28, 75);
    const std::string text = find_slips(s).at(0).text;
    CHECK(text == "Row 3 (75 %): " + three_figures(at_60 / 1.28) + " A, where row 2 (60 %) draws " +
                      three_figures(at_60) +
                      " A: a higher throttle draws more. Check both currents and throttles.");
}

TEST_CASE("slips: neither in the air nor with other parts is a current held against the bench's") {
    Setup s = with_right_currents();
    s.measured[2].pack_A = *s.measured[1].pack_A / 1.4;
    REQUIRE(slipped_rows(s) == std::vector<int>{2});
    s.measured[2].where = Where::flight;
    CHECK(slipped_rows(s).empty());
    s.measured[2].where = Where::by_kind;
    s.measured[2].kv_rpm_per_V = 900;
    CHECK(slipped_rows(s).empty());
}

TEST_CASE("slips: part throttle does not draw more than full throttle as told") {
    const auto named = [](double full_A) {
        Setup s = with_right_currents();
        s.measured = {s.measured[2]};
        s.measured[0].throttle_pct = 90;
        s.measured[0].pack_A = 60;
        s.load.full_throttle_A = full_A;
        return find_slips(s);
    };
    CHECK(named(60 / 1.22).empty());
    const std::vector<Misfit> found = named(60 / 1.28);
    REQUIRE(found.size() == 1);
    CHECK(found[0].row == 0);
    CHECK(has(found[0].text, "Row 1 (90 %): 60 A, where full throttle, as told, draws 46.9 A:"));
}

TEST_CASE("slips: a load's size and its current that exclude each other are said before all else") {
    Setup s = holding(small_drive(), 60);
    s.load.diameter_cm = 25.4;
    s.load.full_throttle_A.reset();
    CHECK(!told_apart(s));  // nothing to be held against
    const double by_size_A = fresh_current(median_plant(s));
    const double spread = fresh_current_spread(s, median_plant(s), prior_belief(s));
    REQUIRE(3 * spread < std::log(2.4));  // the factor of slips is the wider
    const auto told = [&](double times) {
        Setup t = s;
        t.load.full_throttle_A = times * by_size_A;
        return told_apart(t);
    };
    CHECK(!told(2.4));
    CHECK(told(2.6));
    CHECK(!told(1 / 2.4));
    CHECK(told(1 / 2.6));
    s.load.full_throttle_A = by_size_A / 3;
    const Report r = advise(s, {.samples = 0});
    CHECK(r.verdict.level >= Level::watch);
    CHECK(r.verdict.reasons.at(0).key == "load");
    CHECK(r.verdict.reasons.at(0).text ==
          "What is told of the load's size leads to expect about " + three_figures(by_size_A) +
              " A, where " + three_figures(by_size_A / 3) +
              " A are told: check its size, Kv, cells and current.");
    s.load.full_throttle_A.reset();
    s.load.points = {{.throttle_pct = 100, .pack_A = 3 * by_size_A}};
    CHECK(told_apart(s));
    s.load.diameter_cm.reset();
    CHECK(!told_apart(s));
}

TEST_CASE("slips: where little is known of a load's size its current is believed") {
    Setup s = holding(small_drive(), 60);
    s.load.diameter_cm = 25.4;
    s.load.full_throttle_A.reset();
    s.motor.kv_rpm_per_V.reset();
    const double spread = fresh_current_spread(s, median_plant(s), prior_belief(s));
    REQUIRE(3 * spread > std::log(2.6));
    const double by_size_A = fresh_current(median_plant(s));
    s.load.full_throttle_A = by_size_A * std::exp(2.9 * spread);
    CHECK(!told_apart(s));
    s.load.full_throttle_A = by_size_A * std::exp(3.1 * spread);
    CHECK(told_apart(s));
}

TEST_CASE("slips: a rotor's hover current and its mass and diameter exclude each other") {
    Setup s = six_cell_rotor(1800);
    s.flight.parts = {part_of(100, 60)};
    s.load.mass_kg = 4;
    s.load.rotor_diameter_m = 1.4;
    s.load.hover_A.reset();
    const double by_size_A = fresh_current(median_plant(s));
    s.load.hover_A = by_size_A;
    CHECK(!told_apart(s));
    s.load.hover_A = 10 * by_size_A;
    REQUIRE(told_apart(s));
    CHECK(has(*told_apart(s), "What is told of the rotor's size leads to expect about"));
}

TEST_CASE("slips: at one throttle a pack does not draw one current and another") {
    const auto named = [](double times, double at_pct = 75) {
        Setup s = with_right_currents();
        s.measured[1] = s.measured[2];
        s.measured[1].throttle_pct = at_pct;
        *s.measured[1].pack_A *= times;
        return slipped_rows(s);
    };
    CHECK(named(1.45).empty());
    CHECK(named(1.55) == std::vector<int>{1});
    CHECK(named(1 / 1.55) == std::vector<int>{1});
    CHECK(named(1.55, 73.5) == std::vector<int>{1});
    // a full throttle that was told is held against one that was read
    Setup s = with_right_currents();
    s.measured = {s.measured[3]};
    s.load.full_throttle_A = 1.45 * *s.measured[0].pack_A;
    CHECK(slipped_rows(s).empty());
    s.load.full_throttle_A = 1.6 * *s.measured[0].pack_A;
    REQUIRE(slipped_rows(s) == std::vector<int>{0});
    CHECK(has(find_slips(s)[0].text,
              "at one throttle a pack does not differ so much. Check both currents"));
}

TEST_CASE("slips: what was told with the load is never the one that is named") {
    // Three rows agree that full throttle draws half of what was told; the one at full throttle is
    // the only one that can be held against it.
    Setup s = with_right_currents();
    for (MeasuredRow& row : s.measured) {
        *row.pack_A /= 1.8;
    }
    CHECK(slipped_rows(s) == std::vector<int>{3});
    CHECK(has(find_slips(s)[0].text, "where full throttle, as told, draws 60 A:"));
}

TEST_CASE("slips: a hover that was told is held against one that was read") {
    const auto named = [](double pct, double times) {
        Setup s = six_cell_rotor(2000);
        s.flight.parts = {part_of(100, 60)};
        MeasuredRow row;
        row.throttle_pct = pct;
        row.pack_A = times * *s.load.hover_A;
        row.hold_s = 60;
        s.measured = {row};
        return find_slips(s);
    };
    CHECK(named(100, 1.45).empty());
    CHECK(named(100, 1 / 1.45).empty());
    for (const double times : {1.6, 1 / 1.6}) {
        const std::vector<Misfit> found = named(100, times);
        REQUIRE(found.size() == 1);
        CHECK(found[0].row == 0);
        CHECK(has(found[0].text, "where hover, as told, draws 40 A: at one throttle"));
    }
    // less power than hover's does not draw more
    CHECK(named(80, 1.2).empty());
    CHECK(has(named(80, 1.3).at(0).text, "where hover, as told, draws 40 A: a higher throttle"));
    CHECK(has(named(130, 0.7).at(0).text, "where hover, as told, draws 40 A: a higher throttle"));
}
