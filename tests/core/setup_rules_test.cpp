// Are the rules between fields kept on both sides? What a rotor's hover current needs beside it,
// and how high a cell's floor may be.
#include "near.hpp"
#include "setup/parse.hpp"

using namespace hotband;

namespace {

using Lines = std::vector<std::string>;

Lines problems_of(const std::string& pack, const std::string& load) {
    const Result<Setup> read =
        parse_setup(R"({"hotband":1,"pack":{"cells":6,"capacity_mAh":5000)" + pack +
                    R"(},"esc":{"rating_A":100,"pwm_Hz":8000},"load":{)" + load +
                    R"(},"flight":{"parts":[{"throttle_pct":60,"seconds":40}]}})");
    const Problems* problems = std::get_if<Problems>(&read);
    return problems != nullptr ? lines_of(*problems) : Lines{};
}

}  // namespace

TEST_CASE("rules: a hover current needs the rotor's speed, or both mass and disc") {
    const auto with = [](const std::string& more) {
        return problems_of("", R"("kind":"governed","hover_A":20)" + more);
    };
    const Lines no_speed = {"load.rotor_rpm: is missing: it is required with load.hover_A"};
    CHECK(with("") == no_speed);
    CHECK(with(R"(,"mass_kg":3)") == no_speed);
    CHECK(with(R"(,"rotor_diameter_m":1.2)") == no_speed);
    CHECK(with(R"(,"mass_kg":3,"rotor_diameter_m":1.2)").empty());
    CHECK(with(R"(,"rotor_rpm":2000)").empty());
    CHECK(with(R"(,"mass_kg":3,"rotor_rpm":2000)").empty());
}

TEST_CASE("rules: a cell's floor lies below the full cell, whatever its chemistry") {
    struct Cell {
        const char *chemistry, *full, *below;
    };
    // Charged, without load: 4.20 V, 4.35 V with high-voltage LiPo, 3.65 V with LiFePO4 (M). A
    // floor of more than 4.3 V is beyond the field.
    for (const Cell& cell : {Cell{"lipo", "4.2", "4.19"}, Cell{"liion", "4.2", "4.19"},
                             Cell{"lifepo4", "3.65", "3.64"}}) {
        const auto with = [&](const std::string& floor_V) {
            return problems_of(
                std::string(R"(,"chemistry":")") + cell.chemistry + R"(","sag_floor_V":)" + floor_V,
                R"("full_throttle_A":80)");
        };
        const auto too_high = [&](const std::string& floor_V) {
            return Lines{"pack.sag_floor_V: " + floor_V + " must be below the full cell's " +
                         cell.full + " V"};
        };
        INFO(cell.chemistry);
        CHECK(with(cell.below).empty());
        CHECK(with(cell.full) == too_high(cell.full));
        const std::string above = std::string(cell.full) + "9";
        CHECK(with(above) == too_high(above));
    }
    CHECK(problems_of(R"(,"chemistry":"lifepo4","sag_floor_V":3.7)", R"("full_throttle_A":80)")
              .size() == 1);
    CHECK(
        problems_of(R"(,"chemistry":"lihv","sag_floor_V":4.3)", R"("full_throttle_A":80)").empty());
}
