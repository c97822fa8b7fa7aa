// Does a change's merge patch make the changed setup of the one that was told? Merged here by RFC
// 7396 as it is written (S), apart from the code that made the patch.
#include <algorithm>

#include "advise/candidates.hpp"
#include "drives.hpp"
#include "near.hpp"
#include "preset_setups.hpp"
#include "report/to_json.hpp"
#include "setup/json.hpp"
#include "setup/setup_json.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

/// MergePatch(Target, Patch), RFC 7396, section 2.
Json merged(Json target, const Json& patch) {
    const auto* members = patch.as<JsonObject>();
    if (members == nullptr) {
        return patch;
    }
    if (target.as<JsonObject>() == nullptr) {
        target = Json(JsonObject{});
    }
    auto& into = *target.as<JsonObject>();
    for (const JsonMember& m : *members) {
        const auto there = std::find_if(into.begin(), into.end(),
                                        [&](const JsonMember& old) { return old.key == m.key; });
        if (m.value.is_null()) {
            if (there != into.end()) {
                into.erase(there);
            }
        } else if (there != into.end()) {
            there->value = merged(std::move(there->value), m.value);
        } else {
            into.push_back({m.key, merged(Json(), m.value)});
        }
    }
    return target;
}

/// Keys in the order of the alphabet: an object's order means nothing.
Json in_order(Json json) {
    if (auto* object = json.as<JsonObject>()) {
        for (JsonMember& m : *object) {
            m.value = in_order(std::move(m.value));
        }
        std::sort(object->begin(), object->end(),
                  [](const JsonMember& a, const JsonMember& b) { return a.key < b.key; });
    } else if (auto* list = json.as<JsonList>()) {
        for (Json& item : *list) {
            item = in_order(std::move(item));
        }
    }
    return json;
}

bool takes_out(const Json& patch) {
    const auto* object = patch.as<JsonObject>();
    return patch.is_null() ||
           (object != nullptr && std::any_of(object->begin(), object->end(),
                                             [](const auto& m) { return takes_out(m.value); }));
}

bool holds_a_list(const Json& patch) {
    const auto* object = patch.as<JsonObject>();
    return patch.as<JsonList>() != nullptr ||
           (object != nullptr && std::any_of(object->begin(), object->end(),
                                             [](const auto& m) { return holds_a_list(m.value); }));
}

/// The patches that the report writes for these changed setups.
JsonList patches_of(const Setup& s, const std::vector<Setup>& changed) {
    Report r;
    for (const Setup& to : changed) {
        r.changes.emplace_back().changed = to;
    }
    Problems problems;
    const std::optional<Json> json = parse_json(report_to_json(r, s), problems);
    REQUIRE(json);
    JsonList out;
    for (const Json& change : *find(*json, "changes")->as<JsonList>()) {
        out.push_back(*find(change, "patch"));
    }
    REQUIRE(out.size() == changed.size());
    return out;
}

void check_merges(const Setup& s, const Setup& changed, const Json& patch) {
    const Json after = merged(write_setup(s), patch);
    CHECK(write_json(in_order(after)) == write_json(in_order(write_setup(changed))));
    // And it is a setup again, the changed one.
    Problems problems;
    Json whole = after;
    put(whole, "hotband", Json(1.0));
    const Setup read = read_setup(whole, problems);
    CHECK(problems.empty());
    CHECK(write_json(write_setup(read)) == write_json(write_setup(changed)));
}

}  // namespace

TEST_CASE("merge patch: of every change of a preset it makes the changed setup") {
    int tried = 0;
    int without_something = 0;
    int with_a_list = 0;
    for (const Setup& s : preset_setups()) {
        const Plant p = median_plant(s);
        std::vector<Setup> changed;
        std::vector<std::string> ids;
        for (const Candidate& c :
             find_candidates(s, p, run_checks(s, p, run_flight(p, s.flight)), {})) {
            changed.push_back(c.change.changed);
            ids.push_back(c.change.id);
        }
        const JsonList patches = patches_of(s, changed);
        for (size_t i = 0; i < patches.size(); ++i) {
            INFO(s.name << ", " << ids[i] << ": " << write_json(patches[i]));
            check_merges(s, changed[i], patches[i]);
            without_something += takes_out(patches[i]) ? 1 : 0;
            with_a_list += holds_a_list(patches[i]) ? 1 : 0;
            ++tried;
        }
    }
    CHECK(tried > 40);
    CHECK(without_something > 5);
    CHECK(with_a_list > 5);
}

TEST_CASE("merge patch: by hand, what is new, other, gone, and what is left as it is") {
    Setup s = holding(six_cell_drive(), 75);
    s.esc.limit_C = 90;
    s.esc.mass_g = 100;
    s.esc.capacitor_uF = 1000;
    s.measured = {MeasuredRow{}, MeasuredRow{}};
    s.measured[0].pack_A = 60;
    s.measured[1].pack_A = 100;
    Setup changed = s;
    changed.esc.mass_g.reset();       // no longer told
    changed.esc.limit_C = 100;        // as usual again
    changed.esc.capacitor_uF = 2000;  // other
    changed.pack.label_C = 40;        // new
    changed.measured.erase(changed.measured.begin());
    const JsonList patches = patches_of(s, {changed, s});
    Problems problems;
    const Json by_hand = *parse_json(
        R"({"pack":{"label_C":40},"esc":{"limit_C":null,"mass_g":null,"capacitor_uF":2000},)"
        R"("measured":[{"pack_A":100}]})",
        problems);
    CHECK(write_json(in_order(patches[0])) == write_json(in_order(by_hand)));
    CHECK(write_json(patches[1]) == "{}");
    check_merges(s, changed, patches[0]);
}

TEST_CASE("merge patch: where nothing of a part is told any more, all of it goes") {
    Setup s = holding(six_cell_drive(), 75);
    s.motor.kv_rpm_per_V = 500;
    s.measured = {MeasuredRow{}};
    s.measured[0].pack_A = 100;
    Setup changed = s;
    changed.motor.kv_rpm_per_V.reset();
    changed.measured.clear();
    const JsonList patches = patches_of(s, {changed});
    check_merges(s, changed, patches[0]);
    const Json after = merged(write_setup(s), patches[0]);
    CHECK(find(after, "motor.kv_rpm_per_V") == nullptr);
    CHECK(find(after, "measured") == nullptr);
}
