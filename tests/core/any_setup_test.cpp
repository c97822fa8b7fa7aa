// Has any accepted setup a finite, physical, ordered report? Random setups of fixed seeds, and
// those that once had none. bench_any_setup tries other seeds by the hundred thousand.
#include <filesystem>

#include "any_setups.hpp"
#include "files.hpp"
#include "near.hpp"
#include "report/door.hpp"
#include "report_rules.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

void check_rules(const std::string& text, int samples) {
    const Result<Setup> setup = parse_setup(text);
    REQUIRE(std::holds_alternative<Setup>(setup));
    const Setup& s = std::get<Setup>(setup);
    const std::vector<BrokenRule> broken = broken_rules(s, advise(s, {.samples = samples}));
    for (const BrokenRule& b : broken) {
        UNSCOPED_INFO(b.rule << ": " << b.what);
    }
    CAPTURE(samples);
    INFO(text);
    CHECK(broken.empty());
}

void check_many(std::uint64_t from, std::uint64_t to) {
    for (std::uint64_t i = from; i < to; ++i) {
        check_rules(any_setup_text(12, i), 0);
    }
}

}  // namespace

// In quarters, which run side by side.
constexpr std::uint64_t quarter = 485;

TEST_CASE("any accepted setup has a finite, physical, ordered report: first quarter") {
    check_many(0, quarter);
}
TEST_CASE("any accepted setup has a finite, physical, ordered report: second quarter") {
    check_many(quarter, 2 * quarter);
}
TEST_CASE("any accepted setup has a finite, physical, ordered report: third quarter") {
    check_many(2 * quarter, 3 * quarter);
}
TEST_CASE("any accepted setup has a finite, physical, ordered report: last quarter") {
    check_many(3 * quarter, 4 * quarter);
}

TEST_CASE("any accepted setup has a finite, physical, ordered report: with draws") {
    constexpr std::uint64_t setups = 60;
    for (std::uint64_t i = 0; i < setups; ++i) {
        check_rules(any_setup_text(13, i), 12);
    }
}

TEST_CASE("hostile setups keep every rule") {
    for (const auto& entry :
         std::filesystem::directory_iterator(HOTBAND_SOURCE_DIR "/tests/hostile")) {
        if (entry.path().filename() == "heat_hang.json") {
            continue;  // a case of the bare network: the next test's
        }
        CAPTURE(entry.path().filename().string());
        const std::string text = text_of_file(entry.path());
        check_rules(text, 0);
        check_rules(text, 8);
    }
}

TEST_CASE("a bare network whose junction is all but part of its board keeps to it") {
    const auto answer = heat_text(text_of_file("tests/hostile/heat_hang.json"));
    REQUIRE(std::holds_alternative<std::string>(answer));
    Problems none;
    const auto json = parse_json(std::get<std::string>(answer), none);
    REQUIRE(json);
    const JsonList& rows = *find(*json, "T")->as<JsonList>();
    REQUIRE_FALSE(rows.empty());
    for (const Json& row : rows) {
        const JsonList& T = *row.as<JsonList>();
        const double junction = *T[0].as<double>();
        const double board = *T[1].as<double>();
        // 1e15 W/K between the two: what kilowatts make there is below a nanokelvin (D)
        CHECK_THAT(junction, WithinAbs(board, 1e-6));
        CHECK(between(-14, junction, 100));
    }
}
