// Does every preset walk through the whole house? Each setup is advised on, each part fits onto a
// setup, and both survive the share link. The folder is found where the sources were built.
#if __has_include(<catch2/catch.hpp>)
#include <catch2/catch.hpp>
#else
#include <catch2/catch_all.hpp>
#endif

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "advise/advise.hpp"
#include "files.hpp"
#include "report/to_json.hpp"
#include "setup/field_table.hpp"
#include "setup/link.hpp"

using namespace hotband;

namespace {

using Tree = nlohmann::json;

// What of a rise may be none of the ESC's own causes; K.
constexpr double kMostUnexplained_K = 1;
// A preset is a flight worth planning; s.
constexpr double kLeastFlight_s = 60;
// Draws for the 10-90 % range: enough that each figure is filled in. A power of two.
constexpr int draws = 8;

// What may be null in a report: a hold that never settles, or settles where it starts; a limit
// never reached; a range whose hotter draws run away; a row without a trace; nothing more to
// measure.
const std::set<std::string> may_be_null = {"steady_C",
                                           "share_reached",
                                           "seconds_to_limit",
                                           "trace_rms_K",
                                           "next_run",
                                           "runaway_from_pct",
                                           "limit_after_s",
                                           "cool_down_s",
                                           "hover",
                                           "warmest_air_C",
                                           "highest_field_m",
                                           "longest_flight_s",
                                           "most_full_throttle_A",
                                           "smallest_esc_A",
                                           "band_before_K",
                                           "band_after_K",
                                           "chance_active",
                                           "p90"};

// What in a group is the pilot's and not the part's: a part leaves it as it stands.
const std::set<std::string_view> pilots_own = {
    "pack.temperature_C",  "pack.start_pct",       "pack.reserve_pct",
    "pack.lead_length_cm", "pack.lead_spacing_mm", "pack.lead_area_mm2",
    "esc.limit_C",         "esc.full_on_pct",      "motor.count",
};

// What the parts are put onto: a propeller setup with every group told.
const char* const base_setup = R"({
    "hotband": 1,
    "pack": {"cells": 4, "capacity_mAh": 4000, "cell_resistance_mOhm": 3},
    "esc": {"rating_A": 60, "pwm_Hz": 16000, "switch_resistance_mOhm": 1.6, "bec_kind": "linear"},
    "motor": {"kv_rpm_per_V": 800, "resistance_mOhm": 25, "inductance_uH": 20},
    "load": {"kind": "propeller", "full_throttle_A": 18},
    "air": {"flight_speed_mps": 12},
    "flight": {"parts": [{"throttle_pct": 60, "seconds": 40}, {"throttle_pct": 100, "seconds": 5}]}
})";

struct Preset {
    std::string file;
    Tree tree;
};

std::vector<Preset> presets(const std::string& folder) {
    std::vector<Preset> found;
    const std::filesystem::path path = HOTBAND_SOURCE_DIR "/presets/" + folder;
    for (const auto& entry : std::filesystem::directory_iterator(path)) {
        if (entry.path().extension() != ".json") {
            continue;
        }
        found.push_back({entry.path().filename().string(),
                         Tree::parse(test::text_of_file(entry.path()), nullptr, false)});
    }
    std::sort(found.begin(), found.end(),
              [](const Preset& a, const Preset& b) { return a.file < b.file; });
    return found;
}

Setup must_parse(const std::string& text) {
    const Result<Setup> result = parse_setup(text);
    if (const Problems* problems = std::get_if<Problems>(&result)) {
        for (const Problem& problem : *problems) {
            UNSCOPED_INFO(problem.path << ": " << problem.text);
        }
    }
    REQUIRE(std::holds_alternative<Setup>(result));
    return std::get<Setup>(result);
}

/// Every value is there, but where a null has a meaning; a number that is not finite is written as
/// null. A change's patch is a merge patch, where null takes out.
void check_filled(const Tree& tree, const std::string& key) {
    CAPTURE(key);
    if (key == "patch") {
        return;
    }
    if (tree.is_null()) {
        CHECK(may_be_null.count(key) == 1);
    }
    if (!tree.is_structured()) {
        return;
    }
    for (const auto& [inner, value] : tree.items()) {
        check_filled(value, tree.is_object() ? inner : key);
    }
}

/// The causes, without the remainder that makes any sum come out, explain the rise.
void check_why(const Tree& why) {
    double sum = 0;
    for (const auto& [cause, kelvin] : why["parts_K"].items()) {
        sum += cause == "other" ? 0 : kelvin.get<double>();
    }
    CHECK(std::abs(sum - why["rise_over_full_K"].get<double>()) < kMostUnexplained_K);
}

/// Ends at 5 and at 100 %, no gap wider than 5 %.
void check_throttles(const Tree& holds) {
    constexpr double most_step_pct = 5 + 1e-9;
    double last = 0;
    bool has_full = false;
    for (const Tree& hold : holds) {
        const double throttle = hold["throttle_pct"].get<double>();
        if (last < 100) {
            CHECK(throttle - last <= most_step_pct);
        }
        CHECK(throttle > last);
        has_full = has_full || throttle == 100;
        last = throttle;
    }
    CHECK(has_full);
}

Tree check_advice(const Setup& setup) {
    const Tree report =
        Tree::parse(report_to_json(advise(setup, {.samples = draws}), setup), nullptr, false);
    REQUIRE(report.is_object());
    check_filled(report, "report");
    CHECK(!report["verdict"]["headline"].get<std::string>().empty());
    CHECK(report["flight"]["seconds"].get<double>() > kLeastFlight_s);
    check_throttles(report["holds"]);
    return report;
}

void check_link(const Setup& setup) {
    const Result<Setup> back = from_link(to_link(setup));
    REQUIRE(std::holds_alternative<Setup>(back));
    CHECK(setup_to_json(std::get<Setup>(back)) == setup_to_json(setup));
}

}  // namespace

TEST_CASE("every preset setup is valid, advised on and shared") {
    const std::vector<Preset> setups = presets("setups");
    CHECK(setups.size() >= 6);
    std::set<std::string> names;
    for (const Preset& preset : setups) {
        CAPTURE(preset.file);
        const Setup setup = must_parse(preset.tree.dump());
        CHECK(!setup.name.empty());
        CHECK(names.insert(setup.name).second);
        const Tree report = check_advice(setup);
        check_why(report["why"]);
        for (const Tree& hold : report["holds"]) {
            check_why(hold["why"]);
        }
        check_link(setup);
    }
}

TEST_CASE("every preset part fits onto a setup") {
    const std::vector<Preset> parts = presets("parts");
    CHECK(parts.size() >= 12);
    std::set<std::string> names;
    for (const Preset& preset : parts) {
        CAPTURE(preset.file);
        const Tree& part = preset.tree;
        REQUIRE(part.is_object());
        CHECK(part.size() == 3);
        CHECK(names.insert(part.value("name", "")).second);
        Tree merged = Tree::parse(base_setup);
        merged.merge_patch(part["setup"]);
        const Setup setup = must_parse(merged.dump());
        check_advice(setup);
        check_link(setup);
    }
}

TEST_CASE("a preset part speaks of its own group, and of all that is the part's there") {
    for (const Preset& preset : presets("parts")) {
        CAPTURE(preset.file);
        const std::string group = preset.tree.value("part", "");
        const Tree& setup = preset.tree["setup"];
        REQUIRE(setup.size() == 1);
        REQUIRE(setup.contains(group));
        CHECK(preset.file.rfind(group, 0) == 0);
        // Figures of the part it replaces must not stay behind.
        for (const FieldInfo& info : setup_infos()) {
            if (info.key.rfind(group + '.', 0) != 0 || pilots_own.count(info.key) == 1) {
                continue;
            }
            CAPTURE(info.key);
            CHECK(setup[group].contains(std::string(info.key.substr(group.size() + 1))));
        }
    }
}
