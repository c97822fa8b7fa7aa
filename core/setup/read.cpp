// The words of the problems: what is accepted, what was given, which key was perhaps meant.
#include "setup/read.hpp"

#include <algorithm>
#include <cmath>

namespace hotband {
namespace {

std::string with_unit(double number, std::string_view unit) {
    std::string text = number_text(number);
    if (!unit.empty()) {
        text.append(1, ' ').append(unit);
    }
    return text;
}

/// `from 1 to 600 A`, `above 0 s`, ... ; empty when every number is accepted.
std::string range_text(const FieldInfo& info) {
    const bool low = std::isfinite(info.least);
    const bool high = std::isfinite(info.most);
    if (low && high && !info.above) {
        return "from " + number_text(info.least) + " to " + with_unit(info.most, info.unit);
    }
    std::string text;
    if (low && info.above) {
        text = "above " + (high ? number_text(info.least) : with_unit(info.least, info.unit));
    } else if (low) {
        text = "of at least " + with_unit(info.least, info.unit);
    }
    if (high) {
        text += (low ? " and up to " : "of at most ") + with_unit(info.most, info.unit);
    }
    return text;
}

std::string joined(const Words& words, std::string_view last_separator) {
    std::string text;
    for (size_t i = 0; i < words.size(); ++i) {
        if (i > 0) {
            text += i + 1 == words.size() ? std::string(last_separator) : ", ";
        }
        text += words[i];
    }
    return text;
}

std::string count_text(size_t least, size_t most, std::string_view what) {
    if (least == most) {
        return std::to_string(least) + " " + std::string(what);
    }
    return (least > 0 ? std::to_string(least) + " to " : "up to ") + std::to_string(most) + " " +
           std::string(what);
}

bool wrong_type(const Json& value, const FieldInfo& info, const std::string& path,
                Problems& problems) {
    std::string text = "must be " + accepted(info) + ", not " + described(value);
    if (value.is_null()) {
        text += " (leave out what you do not know)";
    }
    problems.push_back({path, std::move(text)});
    return false;
}

bool check_number(const Json& value, const FieldInfo& info, const std::string& path,
                  Problems& problems) {
    const double* number = value.as<double>();
    if (number == nullptr || std::isnan(*number)) {
        return wrong_type(value, info, path, problems);
    }
    const bool whole = *number == std::floor(*number);
    std::string text;
    if (info.type == FieldType::integer && !whole) {
        text = number_text(*number) + " is not a whole number: " + accepted(info) + " is accepted";
    } else if (*number < info.least && !info.above) {
        text = number_text(*number) + " is below the least accepted, " +
               with_unit(info.least, info.unit);
    } else if (*number <= info.least && info.above) {
        text = number_text(*number) + " is too low: it must be above " +
               with_unit(info.least, info.unit);
    } else if (*number > info.most) {
        text = number_text(*number) + " is above the most accepted, " +
               with_unit(info.most, info.unit);
    } else if (info.even && std::fmod(*number, 2.0) != 0.0) {
        text = number_text(*number) + " is odd: " + accepted(info) + " is accepted";
    } else {
        return true;
    }
    problems.push_back({path, std::move(text)});
    return false;
}

bool check_numbers(const Json& value, const FieldInfo& info, const std::string& path,
                   Problems& problems) {
    if (!check_rows(value, info, path, problems)) {
        return false;
    }
    const JsonList* list = value.as<JsonList>();
    FieldInfo one = info;
    one.type = FieldType::number;
    bool good = true;
    for (size_t i = 0; i < list->size(); ++i) {
        good = check_number((*list)[i], one, path_join(path, i), problems) && good;
    }
    return good;
}

bool check_text(const Json& value, const FieldInfo& info, const std::string& path,
                Problems& problems) {
    const std::string* text = value.as<std::string>();
    if (text == nullptr) {
        return wrong_type(value, info, path, problems);
    }
    const size_t characters = count_utf8(*text).value_or(text->size());
    if (static_cast<double>(characters) > info.most) {
        problems.push_back({path, std::to_string(characters) +
                                      " characters are more than the most "
                                      "accepted, " +
                                      number_text(info.most)});
        return false;
    }
    if (has_control_character(*text)) {
        problems.push_back({path, "holds a control character: " + accepted(info) + " is accepted"});
        return false;
    }
    return true;
}

char lower(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

/// Levenshtein distance, letter case ignored.
size_t distance(std::string_view a, std::string_view b) {
    std::vector<size_t> row(b.size() + 1);
    for (size_t j = 0; j <= b.size(); ++j) {
        row[j] = j;
    }
    for (size_t i = 1; i <= a.size(); ++i) {
        size_t diagonal = row[0];
        row[0] = i;
        for (size_t j = 1; j <= b.size(); ++j) {
            const size_t above = row[j];
            const size_t change = lower(a[i - 1]) == lower(b[j - 1]) ? 0 : 1;
            row[j] = std::min({row[j] + 1, row[j - 1] + 1, diagonal + change});
            diagonal = above;
        }
    }
    return row[b.size()];
}

bool starts_with_word(std::string_view key, std::string_view start) {
    return start.size() >= 3 && distance(key.substr(0, start.size()), start) == 0;
}

/// The key of this level that was perhaps meant, or the same leaf at another place, or nothing.
std::string nearest_key(std::string_view wrong, const std::vector<std::string_view>& keys,
                        std::string_view group) {
    constexpr size_t longest_guessed = 40;
    if (wrong.size() > longest_guessed) {
        return {};
    }
    const std::string prefix = group.empty() ? std::string() : std::string(group) + ".";
    std::string best;
    size_t best_distance = 1 + std::max<size_t>(1, wrong.size() / 3);
    for (const std::string_view key : keys) {
        if (key.substr(0, prefix.size()) != prefix) {
            continue;
        }
        const std::string_view rest = key.substr(prefix.size());
        const std::string_view level = rest.substr(0, rest.find('.'));
        const size_t d = starts_with_word(level, wrong) ? 1 : distance(wrong, level);
        if (d < best_distance) {
            best_distance = d;
            best = level;
        }
    }
    if (!best.empty()) {
        return best;
    }
    for (const std::string_view key : keys) {
        if (key.substr(key.rfind('.') + 1) == wrong) {
            return std::string(key);
        }
    }
    return {};
}

bool check_level(const Json& json, const std::vector<std::string_view>& keys,
                 const std::string& group, const std::string& path, Problems& problems) {
    const JsonObject* object = json.as<JsonObject>();
    if (object == nullptr) {
        problems.push_back(
            {path.empty() ? "JSON" : path, "must be an object, not " + described(json)});
        return false;
    }
    for (const JsonMember& member : *object) {
        const std::string full = group.empty() ? member.key : group + "." + member.key;
        const bool word = member.key.find('.') == std::string::npos;
        const auto names = [&](std::string_view key) { return key == full; };
        const auto contains = [&](std::string_view key) {
            return key.size() > full.size() && key.substr(0, full.size()) == full &&
                   key[full.size()] == '.';
        };
        if (word && std::any_of(keys.begin(), keys.end(), names)) {
            continue;
        }
        const std::string member_path = path_join(path, member.key);
        if (word && std::any_of(keys.begin(), keys.end(), contains)) {
            check_level(member.value, keys, full, member_path, problems);
            continue;
        }
        const std::string meant = nearest_key(member.key, keys, group);
        problems.push_back(
            {member_path,
             "is not a known key" + (meant.empty() ? "" : "; did you mean " + meant + "?")});
    }
    return true;
}

const FieldInfo* info_of(const std::vector<FieldInfo>& infos, std::string_view key) {
    const auto info =
        std::find_if(infos.begin(), infos.end(), [&](const FieldInfo& i) { return i.key == key; });
    return info == infos.end() ? nullptr : &*info;
}

/// A place in the input and the table it is read by.
struct Scope {
    const Json& json;
    const std::vector<FieldInfo>& infos;
    std::string path;
};

/// The choice made in a scope: as told, or the default; empty when what was told is no choice.
std::string_view choice_made(const Scope& scope, std::string_view key) {
    const FieldInfo* info = info_of(scope.infos, key);
    const Json* told = find(scope.json, key);
    const Json* made = told != nullptr || info == nullptr ? told : info->standard;
    const std::string* text = made != nullptr ? made->as<std::string>() : nullptr;
    if (text == nullptr || info == nullptr) {
        return {};
    }
    const auto* const choice = std::find(info->choices.begin(), info->choices.end(), *text);
    return choice == info->choices.end() ? std::string_view() : *choice;
}

void check_scope(const Scope& scope, const Scope& root, Problems& problems) {
    for (const FieldInfo& info : scope.infos) {
        const Json* told = find(scope.json, info.key);
        if (told == nullptr) {
            continue;
        }
        const std::string path = path_join(scope.path, info.key);
        if (!info.only_with.empty()) {
            const bool from_root = info.only_with.find('.') != info.only_with.npos;
            const std::string_view choice = choice_made(from_root ? root : scope, info.only_with);
            const bool fits = std::find(info.only_for.begin(), info.only_for.end(), choice) !=
                              info.only_for.end();
            if (!choice.empty() && !fits) {
                problems.push_back({path, "goes only with " + std::string(info.only_with) + " " +
                                              joined(info.only_for, " or ") + ", not with " +
                                              std::string(choice)});
            }
        }
        const JsonList* rows = told->as<JsonList>();
        if (info.type != FieldType::rows || info.tuple || rows == nullptr) {
            continue;
        }
        for (size_t i = 0; i < rows->size(); ++i) {
            check_scope({(*rows)[i], *info.rows, path_join(path, i)}, root, problems);
        }
    }
}

}  // namespace

std::string accepted(const FieldInfo& info) {
    const std::string range = range_text(info);
    const std::string behind = range.empty() ? "" : " " + range;
    switch (info.type) {
        case FieldType::number:
            return "a number" + behind;
        case FieldType::integer:
            return (info.even ? "an even whole number" : "a whole number") + behind;
        case FieldType::text:
            return "text of up to " + number_text(info.most) + " characters on one line";
        case FieldType::choice:
            return "one of " + joined(info.choices, ", ");
        case FieldType::flag:
            return "true or false";
        case FieldType::numbers:
            return "a list of " + count_text(info.least_count, info.most_count, "numbers") +
                   (range.empty() ? "" : ", each " + range);
        case FieldType::rows:
            return "a list of " + count_text(info.least_count, info.most_count, "rows");
    }
    return {};
}

std::string described(const Json& json) {
    if (json.is_null()) {
        return "null";
    }
    if (const bool* flag = json.as<bool>()) {
        return *flag ? "true" : "false";
    }
    if (const double* number = json.as<double>()) {
        return number_text(*number);
    }
    if (const std::string* text = json.as<std::string>()) {
        return "text " + in_quotes(*text);
    }
    if (const JsonList* list = json.as<JsonList>()) {
        return "a list of " + std::to_string(list->size());
    }
    return "an object";
}

bool check_value(const Json& value, const FieldInfo& info, const std::string& path,
                 Problems& problems) {
    switch (info.type) {
        case FieldType::number:
        case FieldType::integer:
            return check_number(value, info, path, problems);
        case FieldType::numbers:
            return check_numbers(value, info, path, problems);
        case FieldType::text:
            return check_text(value, info, path, problems);
        case FieldType::flag:
            return value.as<bool>() != nullptr || wrong_type(value, info, path, problems);
        case FieldType::choice: {
            const std::string* text = value.as<std::string>();
            const bool known =
                text != nullptr &&
                std::find(info.choices.begin(), info.choices.end(), *text) != info.choices.end();
            return known || wrong_type(value, info, path, problems);
        }
        case FieldType::rows:
            return check_rows(value, info, path, problems);
    }
    return false;
}

bool check_rows(const Json& value, const FieldInfo& info, const std::string& path,
                Problems& problems) {
    const JsonList* list = value.as<JsonList>();
    const bool fits =
        list != nullptr && list->size() >= info.least_count && list->size() <= info.most_count;
    return fits || wrong_type(value, info, path, problems);
}

bool check_keys(const Json& json, const std::vector<std::string_view>& keys,
                const std::string& path, Problems& problems) {
    return check_level(json, keys, "", path, problems);
}

void check_only_with(const Json& json, const std::vector<FieldInfo>& infos, Problems& problems) {
    const Scope root{json, infos, ""};
    check_scope(root, root, problems);
}

bool sound(const Problems& problems, std::string_view path) {
    // What is not listed may be anywhere.
    if (problems.unlisted() > 0) {
        return false;
    }
    return std::none_of(problems.begin(), problems.end(), [&](const Problem& problem) {
        const std::string_view at = problem.path;
        if (at.substr(0, path.size()) != path) {
            return false;
        }
        return at.size() == path.size() || at[path.size()] == '.' || at[path.size()] == '[';
    });
}

}  // namespace hotband
