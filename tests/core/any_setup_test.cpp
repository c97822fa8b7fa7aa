// Has any accepted setup a finite, physical, ordered report? Random setups of fixed seeds, and those
// that once had none. bench_any_setup tries other seeds by the hundred thousand.
#include <filesystem>
#include <fstream>
#include <iterator>

#include "any_setups.hpp"
#include "near.hpp"
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

}  // namespace

TEST_CASE("any accepted setup has a finite, physical, ordered report: without draws") {
    constexpr std::uint64_t setups = 1940;
    for (std::uint64_t i = 0; i < setups; ++i) {
        check_rules(any_setup_text(12, i), 0);
    }
}

TEST_CASE("any accepted setup has a finite, physical, ordered report: with draws") {
    constexpr std::uint64_t setups = 60;
    for (std::uint64_t i = 0; i < setups; ++i) {
        check_rules(any_setup_text(13, i), 24);
    }
}

TEST_CASE("hostile setups keep every rule") {
    for (const auto& entry :
         std::filesystem::directory_iterator(HOTBAND_SOURCE_DIR "/tests/hostile")) {
        if (entry.path().filename() == "heat_hang.json") {
            continue;  // a case of the bare network
        }
        CAPTURE(entry.path().filename().string());
        std::ifstream stream(entry.path());
        const std::string text{std::istreambuf_iterator<char>(stream), {}};
        check_rules(text, 0);
        check_rules(text, 12);
    }
}
