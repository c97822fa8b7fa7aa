// Setup JSON in, Setup out, and back; the field table as JSON.
#include "setup/parse.hpp"

#include <algorithm>
#include <cmath>

#include "setup/field_table.hpp"
#include "setup/read.hpp"
#include "setup/rules.hpp"
#include "setup/setup_json.hpp"

namespace hotband {
namespace {

constexpr double setup_version = 1;
constexpr std::string_view version_key = "hotband";

/// Takes the version out of the object and checks it. A missing one counts as version 1.
void take_version(Json& json, Problems& problems) {
    JsonObject* object = json.as<JsonObject>();
    if (object == nullptr) {
        return;
    }
    const auto member = std::find_if(object->begin(), object->end(),
                                     [](const JsonMember& m) { return m.key == version_key; });
    if (member == object->end()) {
        return;
    }
    if (const double* version = member->value.as<double>(); !version || *version != setup_version) {
        problems.push_back({std::string(version_key),
                            "must be the setup version 1, not " + described(member->value)});
    }
    object->erase(member);
}

std::vector<double> with_choice(std::vector<double> choices, double frequency) {
    choices.push_back(frequency);
    std::sort(choices.begin(), choices.end());
    choices.erase(std::unique(choices.begin(), choices.end()), choices.end());
    return choices;
}

Json text_json(std::string_view text) { return Json{std::string(text)}; }

Json texts_json(const Words& texts) {
    JsonList list;
    for (const std::string_view text : texts) {
        list.push_back(text_json(text));
    }
    return Json{std::move(list)};
}

Json limit_json(double limit) { return std::isfinite(limit) ? Json{limit} : Json{}; }

std::string_view type_name(FieldType type) {
    switch (type) {
        case FieldType::number:
            return "number";
        case FieldType::integer:
            return "integer";
        case FieldType::text:
            return "text";
        case FieldType::choice:
            return "choice";
        case FieldType::flag:
            return "flag";
        case FieldType::numbers:
            return "numbers";
        case FieldType::rows:
            return "rows";
    }
    return "";
}

Json infos_json(const std::vector<FieldInfo>& infos);

Json info_json(const FieldInfo& info) {
    const size_t dot = info.key.find('.');
    Json out{JsonObject{}};
    put(out, "key", text_json(info.key));
    put(out, "group", text_json(dot == info.key.npos ? "" : info.key.substr(0, dot)));
    put(out, "label", text_json(info.label));
    put(out, "type", text_json(type_name(info.type)));
    put(out, "unit", text_json(info.unit));
    put(out, "least", limit_json(info.least));
    put(out, "above", Json{info.above});
    put(out, "most", limit_json(info.most));
    if (info.even) {
        put(out, "even", Json{true});
    }
    if (info.type == FieldType::numbers || info.type == FieldType::rows) {
        put(out, "least_count", Json{static_cast<double>(info.least_count)});
        put(out, "most_count", Json{static_cast<double>(info.most_count)});
    }
    put(out, "default", info.presence == Presence::standard ? *info.standard : Json{});
    put(out, "estimated", Json{info.presence == Presence::estimated});
    put(out, "required", Json{info.presence == Presence::required});
    put(out, "quick", Json{info.quick});
    if (!info.choices.empty()) {
        put(out, "choices", texts_json(info.choices));
    }
    if (!info.only_with.empty()) {
        put(out, "only_with", text_json(info.only_with));
        put(out, "only_for", texts_json(info.only_for));
    }
    put(out, "help", text_json(info.help));
    if (info.type == FieldType::rows) {
        put(out, "tuple", Json{info.tuple});
        put(out, "rows", infos_json(*info.rows));
    }
    return out;
}

Json infos_json(const std::vector<FieldInfo>& infos) {
    JsonList list;
    for (const FieldInfo& info : infos) {
        list.push_back(info_json(info));
    }
    return Json{std::move(list)};
}

/// Digits in groups of three: 9,980.
std::string grouped(size_t number) {
    std::string text = std::to_string(number);
    for (size_t at = text.size(); at > 3;) {
        at -= 3;
        text.insert(at, 1, ',');
    }
    return text;
}

std::string unlisted_text(const Problems& problems) {
    return "and " + grouped(problems.unlisted()) + " more";
}

}  // namespace

void Problems::push_back(Problem problem) {
    if (listed_.size() < most_listed) {
        listed_.push_back(std::move(problem));
    } else {
        ++unlisted_;
    }
}

std::vector<std::string> lines_of(const Problems& problems) {
    std::vector<std::string> lines;
    for (const auto& [path, text] : problems) {
        std::string& line = lines.emplace_back(path);
        line.append(path.empty() ? "" : ": ").append(text);
    }
    if (problems.unlisted() > 0) {
        lines.push_back(unlisted_text(problems));
    }
    return lines;
}

std::string problems_to_json(const Problems& problems) {
    JsonList list;
    for (const auto& [path, text] : problems) {
        list.emplace_back(JsonObject{{"path", Json(path)}, {"text", Json(text)}});
    }
    if (problems.unlisted() > 0) {
        list.emplace_back(
            JsonObject{{"path", Json(std::string())}, {"text", Json(unlisted_text(problems))}});
    }
    return write_json(Json(JsonObject{{"problems", Json(std::move(list))}}));
}

Setup read_setup(const Json& json, Problems& problems) {
    Json told = json;
    take_version(told, problems);
    Setup setup;
    read_object(told, setup_fields(), setup, "", problems);
    if (told.as<JsonObject>() == nullptr) {
        return setup;
    }
    check_rules(told, setup, problems);
    setup.esc.pwm_choices_Hz = with_choice(setup.esc.pwm_choices_Hz, setup.esc.pwm_Hz);
    return setup;
}

Json write_setup(const Setup& setup) {
    Setup written = setup;
    // The set frequency joins the choices on reading, so only choices beyond that are worth a word.
    const std::vector<double> usual = EscSetup{}.pwm_choices_Hz;
    if (written.esc.pwm_choices_Hz == with_choice(usual, written.esc.pwm_Hz)) {
        written.esc.pwm_choices_Hz = usual;
    }
    return write_object(setup_fields(), written);
}

Result<Setup> parse_setup(std::string_view json_text) {
    Problems problems;
    const std::optional<Json> json = parse_json(json_text, problems);
    if (!json) {
        return problems;
    }
    Setup setup = read_setup(*json, problems);
    if (!problems.empty()) {
        return problems;
    }
    return setup;
}

std::string setup_to_json(const Setup& setup) {
    Json out{JsonObject{}};
    put(out, version_key, Json{setup_version});
    Json written = write_setup(setup);
    for (JsonMember& member : *written.as<JsonObject>()) {
        out.as<JsonObject>()->push_back(std::move(member));
    }
    return write_json(out);
}

std::string fields_to_json() {
    struct Group {
        std::string_view key;
        std::string_view label;
    };
    constexpr Group all[] = {{"pack", "Pack"}, {"esc", "Speed controller"}, {"motor", "Motor"},
                             {"load", "Load"}, {"air", "Air and mounting"}, {"flight", "Flight"}};
    JsonList groups;
    for (const Group& group : all) {
        Json one{JsonObject{}};
        put(one, "key", text_json(group.key));
        put(one, "label", text_json(group.label));
        groups.push_back(std::move(one));
    }
    Json out{JsonObject{}};
    put(out, version_key, Json{setup_version});
    put(out, "groups", Json{std::move(groups)});
    put(out, "fields", infos_json(setup_infos()));
    return write_json(out);
}

}  // namespace hotband
