// Has every accepted setup a report, and is every other text refused in words? A mutator that knows
// the field table keeps most setups accepted: bytes alone are refused at the door.
#include <algorithm>
#include <random>
#include <vector>

#include "fuzz.hpp"
#include "setup/field_table.hpp"
#include "setup/link.hpp"

using namespace hotband;
using namespace hotband::fuzz;

namespace {

constexpr std::string_view least_setup =
    R"({"hotband":1,"pack":{"cells":4,"capacity_mAh":3300},"esc":{"rating_A":60,"pwm_Hz":16000},)"
    R"("load":{"kind":"propeller","full_throttle_A":45},"flight":{"parts":[{"throttle_pct":60,)"
    R"("seconds":40}]}})";

class Mutator {
 public:
    explicit Mutator(unsigned seed) : random_(seed) {}

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
    std::size_t below(std::size_t count) {
        return count == 0 ? 0 : std::uniform_int_distribution<std::size_t>(0, count - 1)(random_);
    }
    double share() { return std::uniform_real_distribution<double>(0, 1)(random_); }

    static void drop(Json& json, std::string_view dotted) {
        const std::size_t dot = dotted.find('.');
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
                value = std::pow(10, 40 * share() - 20);
                break;
            case 5:
                value = least + (most - least) * share();
                break;
            default: {
                const double low = std::max(least, most * 1e-6);
                value = low > 0 ? low * std::pow(most / low, share()) : most * share();
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
        const std::size_t count = std::max<std::size_t>(info.least_count, 1 + below(4));
        for (std::size_t i = 0; i < count; ++i) {
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
        const std::size_t what = below(8);
        if (what == 0) {
            drop(owner, info.key);
        } else if (rows == nullptr || rows->empty() || what == 1) {
            put(owner, info.key, value(info));
        } else {
            JsonList list = *rows;
            const std::size_t at = below(list.size());
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

    std::minstd_rand random_;
};

Json parsed(std::string_view text) {
    Problems problems;
    auto json = parse_json(text, problems);
    if (json && json->as<JsonObject>() != nullptr) {
        return *std::move(json);
    }
    return *parse_json(least_setup, problems);
}

}  // namespace

extern "C" std::size_t LLVMFuzzerMutate(std::uint8_t* data, std::size_t size, std::size_t most);

extern "C" std::size_t LLVMFuzzerCustomMutator(std::uint8_t* data, std::size_t size,
                                               std::size_t most, unsigned seed) {
    if (seed % 32 == 0) {
        return LLVMFuzzerMutate(data, size, most);
    }
    Json setup = parsed({reinterpret_cast<const char*>(data), size});
    Mutator mutator(seed);
    for (unsigned i = 0; i <= seed % 5; ++i) {
        mutator.mutate(setup);
    }
    mutator.mend(setup);
    const std::string text = write_json(setup);
    if (text.size() > most) {
        return LLVMFuzzerMutate(data, size, most);
    }
    std::copy(text.begin(), text.end(), data);
    return text.size();
}

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string_view text(reinterpret_cast<const char*>(data), size);
    const auto read = parse_setup(text);
    if (const Setup* setup = std::get_if<Setup>(&read)) {
        const std::string canonical = setup_to_json(*setup);
        const auto again = parse_setup(canonical);
        require(std::holds_alternative<Setup>(again), "a setup that was read can be written");
        require(setup_to_json(*std::get_if<Setup>(&again)) == canonical, "and is the same setup");
        const auto linked = from_link(to_link(*setup));
        require(std::holds_alternative<Setup>(linked) &&
                    setup_to_json(*std::get_if<Setup>(&linked)) == canonical,
                "and as a link too");
    }
    const auto report = advise_text(text, 0);
    answer_of(report);
    require(std::holds_alternative<std::string>(report) == std::holds_alternative<Setup>(read),
            "every accepted setup has a report");
    return 0;
}
