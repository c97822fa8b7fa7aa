// Setups changed a field at a time, by the field table: ends of ranges, powers of ten, rows doubled
// and taken out, and what is refused mended, so that most of what comes out is accepted.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "random.hpp"
#include "setup/field_table.hpp"
#include "setup/json.hpp"
#include "setup/parse.hpp"

namespace hotband::test {

/// Changes setups field by field; the same seed makes the same changes.
class SetupMutator : public Random {
 public:
    explicit SetupMutator(std::uint64_t seed) : Random(seed) {}

    void mutate(Json& setup) {
        const auto& fields = setup_infos();
        change(setup, fields[below(fields.size())]);
    }

    /// Takes out what is refused, puts in what is missing: some rounds of it accept most setups.
    void mend(Json& setup) {
        for (int round = 0; round < 4; ++round) {
            const auto read = parse_setup(write_json(setup));
            const auto* problems = std::get_if<Problems>(&read);
            if (problems == nullptr || below(16) == 0) {
                return;
            }
            for (const Problem& problem : *problems) {
                const auto& fields = setup_infos();
                const std::string top = problem.path.substr(0, problem.path.find('['));
                const auto field =
                    std::find_if(fields.begin(), fields.end(),
                                 [&](const FieldInfo& info) { return info.key == top; });
                if (field == fields.end()) {
                    continue;
                }
                if (problem.text.find("is missing") == std::string::npos &&
                    field->presence != Presence::required) {
                    drop(setup, field->key);
                } else {
                    put(setup, field->key, value(*field));
                }
            }
        }
    }

 private:
    static void drop(Json& json, std::string_view dotted) {
        const size_t dot = dotted.find('.');
        JsonObject* object = json.as<JsonObject>();
        if (object == nullptr) {
            return;
        }
        const auto member = std::find_if(object->begin(), object->end(), [&](const JsonMember& m) {
            return m.key == dotted.substr(0, dot);
        });
        if (member == object->end()) {
            return;
        }
        if (dot == dotted.npos) {
            object->erase(member);
        } else {
            drop(member->value, dotted.substr(dot + 1));
        }
    }

    double number(const FieldInfo& info) {
        const double least = std::isfinite(info.least) ? info.least : -1e6;
        const double most = std::isfinite(info.most) ? info.most : 1e6;
        double value = 0;
        switch (below(8)) {
            case 0:
                value = least;
                break;
            case 1:
                value = most;
                break;
            case 2:
                value = least + (most - least) * 1e-9;
                break;
            case 3:
                value = most - (most - least) * 1e-9;
                break;
            case 4:
                value = std::pow(10, 40 * unit() - 20);
                break;
            case 5:
                value = least + (most - least) * unit();
                break;
            default: {
                const double low = std::max(least, most * 1e-6);
                value = low > 0 ? low * std::pow(most / low, unit()) : most * unit();
            }
        }
        if (info.type == FieldType::integer) {
            value = std::round(info.even ? 2 * std::round(value / 2) : value);
        }
        return value;
    }

    Json value(const FieldInfo& info) {
        switch (info.type) {
            case FieldType::number:
            case FieldType::integer:
                return Json(number(info));
            case FieldType::text:
                return Json(std::string(below(12), 'n'));
            case FieldType::choice:
                return Json(std::string(info.choices[below(info.choices.size())]));
            case FieldType::flag:
                return Json(below(2) == 0);
            case FieldType::numbers:
            case FieldType::rows:
                break;
        }
        JsonList list;
        const size_t count = std::max<size_t>(info.least_count, 1 + below(4));
        for (size_t i = 0; i < count; ++i) {
            list.push_back(info.type == FieldType::rows ? row(info) : Json(number(info)));
        }
        return Json(std::move(list));
    }

    Json row(const FieldInfo& info) {
        if (info.tuple) {
            JsonList places;
            for (const FieldInfo& place : *info.rows) {
                places.push_back(value(place));
            }
            return Json(std::move(places));
        }
        Json out{JsonObject{}};
        for (const FieldInfo& field : *info.rows) {
            if (field.presence == Presence::required || below(4) == 0) {
                put(out, field.key, value(field));
            }
        }
        return out;
    }

    void change(Json& owner, const FieldInfo& info) {
        const Json* told = find(owner, info.key);
        const JsonList* rows = told != nullptr ? told->as<JsonList>() : nullptr;
        const size_t what = below(8);
        if (what == 0) {
            drop(owner, info.key);
        } else if (rows == nullptr || rows->empty() || what == 1) {
            put(owner, info.key, value(info));
        } else {
            JsonList list = *rows;
            const size_t at = below(list.size());
            if (what < 4) {
                list.insert(list.begin() + static_cast<std::ptrdiff_t>(at), list[at]);
            } else if (what == 4) {
                list.erase(list.begin() + static_cast<std::ptrdiff_t>(at));
            } else if (info.type == FieldType::rows && list[at].as<JsonObject>() != nullptr) {
                change(list[at], (*info.rows)[below(info.rows->size())]);
            } else {
                list[at] = info.type == FieldType::rows ? row(info) : Json(number(info));
            }
            put(owner, info.key, Json(std::move(list)));
        }
    }
};

}  // namespace hotband::test
