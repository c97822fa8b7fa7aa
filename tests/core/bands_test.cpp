// Throttle bands from hand-made holds: where they begin and end, what they are called.
#include <limits>

#include "advice.hpp"
#include "owners.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr Scale in = Scale::celsius;

Setup in_air_of_20() {
    Setup s;
    s.esc.limit_C = 100;
    s.air.temperature_C = 20;
    s.flight.parts = {part_of(70, 30), part_of(100, 10)};
    return s;
}

}  // namespace

TEST_CASE("bands: ends lie where the curve crosses 10 K under the limit") {
    // From 80 at 50 % to 100 at 60 %: 90 at 55 %. Back to 80 at 80 %: 90 at 70 %.
    const auto bands = find_bands(
        in_air_of_20(), {hold_at(50, 80), hold_at(60, 100), hold_at(80, 80), hold_at(90, 70)}, in);
    REQUIRE(bands.size() == 1);
    CHECK_THAT(bands[0].from_pct, WithinAbs(55, 1e-9));
    CHECK_THAT(bands[0].to_pct, WithinAbs(70, 1e-9));
    CHECK(bands[0].hottest_pct == 60);
    CHECK_FALSE(bands[0].runaway_from_pct);
}

TEST_CASE("bands: under the limit it is warm, from the limit on it is one to keep out of") {
    const auto level_at = [](double peak_C) {
        return find_bands(in_air_of_20(), {hold_at(50, 60), hold_at(60, peak_C)}, in)[0].level;
    };
    CHECK(level_at(89.9) == Level::fine);
    CHECK(level_at(90.1) == Level::watch);
    CHECK(level_at(99.9) == Level::watch);
    CHECK(level_at(100) == Level::watch);
    CHECK(level_at(100.1) == Level::stop);
}

TEST_CASE("bands: only a band to keep out of says so, and when the limit comes") {
    std::vector<HoldReport> holds = {hold_at(50, 60), hold_at(60, 95)};
    CHECK_FALSE(has(find_bands(in_air_of_20(), holds, in)[0].text, "not hold"));
    holds[1] = hold_at(60, 110);
    holds[1].seconds_to_limit = 200;
    // From 60 at 50 % to 110 at 60 %: 90 at 56 %.
    const std::string text = find_bands(in_air_of_20(), holds, in)[0].text;
    CHECK(has(text, "do not hold"));
    CHECK(numbers_in(text) == std::vector<double>{56, 60, 200, 60});
}

TEST_CASE("bands: without a hot hold, the hottest tenth of the rise is named") {
    // Rise 60: the band goes down to 74, half way from 68 to 80.
    const auto bands = find_bands(in_air_of_20(), {hold_at(50, 68), hold_at(60, 80)}, in);
    REQUIRE(bands.size() == 1);
    CHECK(bands[0].level == Level::fine);
    CHECK_THAT(bands[0].from_pct, WithinAbs(55, 1e-9));
    CHECK(bands[0].to_pct == 60);
    CHECK(numbers_in(bands[0].text) == std::vector<double>{55, 60, 80, 60});
}

TEST_CASE("bands: two hills are two bands") {
    const auto bands = find_bands(
        in_air_of_20(), {hold_at(20, 95), hold_at(40, 60), hold_at(60, 98), hold_at(80, 60)}, in);
    REQUIRE(bands.size() == 2);
    CHECK(bands[0].from_pct == 20);
    CHECK(bands[0].hottest_pct == 20);
    CHECK(bands[1].hottest_pct == 60);
}

TEST_CASE("bands: where no hold comes near the limit, only one band is the hottest") {
    // Rises of 56, 60 and 58: all within a tenth of the highest, with a dip on either side.
    const auto bands = find_bands(
        in_air_of_20(),
        {hold_at(5, 76), hold_at(20, 50), hold_at(40, 80), hold_at(60, 50), hold_at(97, 78)}, in);
    REQUIRE(bands.size() == 1);
    CHECK(bands[0].hottest_pct == 40);
}

TEST_CASE("bands: the limit comes where it comes first, not where it is passed by most") {
    std::vector<HoldReport> holds = {hold_at(50, 130), hold_at(80, 110), hold_at(90, 105),
                                     hold_at(100, 99)};
    holds[0].seconds_to_limit = 300;
    holds[1].seconds_to_limit = 90;
    holds[2].seconds_to_limit = 120;
    holds[3].hold_s = 60;  // over before the limit comes
    const ThrottleBand band = find_bands(in_air_of_20(), holds, in)[0];
    CHECK(band.hottest_pct == 50);
    // the last is the share of the flight that is in it
    CHECK(numbers_in(band.text) == std::vector<double>{50, 100, 90, 80, 100});
}

TEST_CASE("bands: one that begins and ends at one throttle is told as that") {
    std::vector<HoldReport> holds = {hold_at(50, 60), hold_at(50.2, 95), hold_at(50.4, 60)};
    CHECK(find_bands(in_air_of_20(), holds, in)[0].text.rfind("50 %: ", 0) == 0);
}

TEST_CASE("bands: the band ends where the bridge stops chopping, the curve being a step there") {
    std::vector<HoldReport> holds = {hold_at(80, 95), hold_at(96.9, 98), hold_at(100, 60, 1)};
    CHECK(find_bands(in_air_of_20(), holds, in)[0].to_pct == 96.9);
    holds[1] = hold_at(95, 98);  // too far apart for a step
    CHECK(find_bands(in_air_of_20(), holds, in)[0].to_pct > 95);
    holds[1] = hold_at(96.4, 98);  // 3.6 and 3.4 % of throttle: steps of the grid are five
    CHECK(find_bands(in_air_of_20(), holds, in)[0].to_pct > 96.4);
    holds[1] = hold_at(96.6, 98);
    CHECK(find_bands(in_air_of_20(), holds, in)[0].to_pct == 96.6);
    // No step where neither chops, or both do: 98 to 60 over 2 % of throttle, 90 at 98 + 2 * 8
    // / 38.
    for (const double duty : {1.0, 0.98}) {
        holds = {hold_at(80, 95), hold_at(98, 98, duty), hold_at(100, 60, duty)};
        CHECK_THAT(find_bands(in_air_of_20(), holds, in)[0].to_pct,
                   WithinAbs(98 + 2 * 8.0 / 38, 1e-9));
    }
    // Nor on the way into a band: full throttle alone hot, it begins where the chopping ends.
    holds = {hold_at(80, 60), hold_at(97, 60), hold_at(100, 95, 1)};
    CHECK(find_bands(in_air_of_20(), holds, in)[0].from_pct == 97);
}

TEST_CASE("bands: the first hold of a band is no crossing, nor the last of all") {
    const auto bands = find_bands(in_air_of_20(), {hold_at(5, 95), hold_at(10, 92)}, in);
    REQUIRE(bands.size() == 1);
    CHECK(bands[0].from_pct == 5);
    CHECK(bands[0].to_pct == 10);
}

TEST_CASE("bands: 10 K under the limit is already in, a hair below it is not") {
    CHECK(find_bands(in_air_of_20(), {hold_at(50, 60), hold_at(60, 90)}, in)[0].level ==
          Level::watch);
    const auto near = find_bands(
        in_air_of_20(), {hold_at(50, 95), hold_at(60, 90), hold_at(70, 89.9), hold_at(80, 90)}, in);
    REQUIRE(near.size() == 2);
    CHECK(near[0].to_pct == 60);
    CHECK(near[1].from_pct == 80);
}

TEST_CASE("bands: of two holds as hot as each other the lower is named") {
    const auto bands =
        find_bands(in_air_of_20(), {hold_at(50, 95), hold_at(60, 95), hold_at(70, 60)}, in);
    REQUIRE(bands.size() == 1);
    CHECK(bands[0].hottest_pct == 50);
}

TEST_CASE("bands: a hold that never passes the limit by its median is told by its own length") {
    std::vector<HoldReport> holds = {hold_at(50, 60), hold_at(60, 110)};
    holds[1].hold_s = 250;
    CHECK(numbers_in(find_bands(in_air_of_20(), holds, in)[0].text)[2] == 250);
}

TEST_CASE("bands: the lowest throttle that runs away is named, hotter than everything") {
    HoldReport away = hold_at(70, 0);
    away.hold_peak_C = {95, std::numeric_limits<double>::quiet_NaN(), {}};
    away.runaway = true;
    HoldReport more = away;
    more.throttle_pct = 80;
    const auto bands =
        find_bands(in_air_of_20(), {hold_at(60, 95), away, more, hold_at(90, 60)}, in);
    REQUIRE(bands.size() == 1);
    REQUIRE(bands[0].runaway_from_pct);
    CHECK(*bands[0].runaway_from_pct == 70);
    CHECK(bands[0].hottest_pct == 70);
    CHECK(bands[0].level == Level::stop);
    CHECK(has(bands[0].text, "about 70 %"));
}

TEST_CASE("bands: how much of the flight is in it, both ends counted") {
    Setup s = in_air_of_20();
    const std::vector<HoldReport> holds = {hold_at(70, 95), hold_at(80, 60)};
    CHECK(has(find_bands(s, holds, in)[0].text, "75 % of this flight"));
    s.flight.parts = {part_of(70, 0.3), part_of(100, 0.1)};
    CHECK(has(find_bands(s, holds, in)[0].text, "75 % of this flight"));
    s.flight.parts.clear();
    CHECK(has(find_bands(s, holds, in)[0].text, "stays out"));
    s = in_air_of_20();
    s.flight.parts[0].throttle_pct = 69;
    CHECK(has(find_bands(s, holds, in)[0].text, "stays out"));
    s.flight.kind = FlightKind::shares;
    s.flight.parts = {share_of(70, 0.2), share_of(90, 99.8)};
    CHECK(has(find_bands(s, holds, in)[0].text, "1 % of this flight"));
}

TEST_CASE("bands: a rotor's throttle is hover power, and its degrees go by the scale") {
    Setup s = in_air_of_20();
    s.load.kind = LoadKind::governed;
    const std::string text =
        find_bands(s, {hold_at(70, 60), hold_at(80, 95)}, Scale::fahrenheit)[0].text;
    CHECK(has(text, "% of hover power"));
    CHECK(has(text, "within 18 deg F"));
    CHECK(has(text, "203 deg F"));
}
