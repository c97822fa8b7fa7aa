// Valid setups of every shape, made from the field table with a fixed seed: what the round trips of
// JSON and share link are tried on.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "random.hpp"
#include "setup/field_table.hpp"
#include "setup/json.hpp"

namespace hotband::test {

/// Makes setups; the same seed makes the same ones.
class SetupMaker : public Random {
 public:
    using Random::Random;

    /// One valid setup as a JSON tree.
    Json make() {
        const char* const kinds[] = {"propeller", "fan", "governed"};
        kind_ = kinds[below(3)];
        governed_ = kind_ == "governed";
        shares_ = chance(0.4);
        Json setup = object(setup_infos());
        put(setup, "load.kind", text(kind_));
        put(setup, "flight.kind", text(shares_ ? "shares" : "sequence"));
        tell_load(setup);
        tell_shares(setup);
        order_limits(setup);
        return setup;
    }

 private:
    static Json text(std::string_view words) { return Json{std::string(words)}; }

    double number(const FieldInfo& info) {
        double most = info.most;
        if (info.key == "throttle_pct" && !governed_) {
            most = 100;
        }
        if (info.type == FieldType::integer) {
            const double step = info.even ? 2 : 1;
            const auto steps = static_cast<size_t>((most - info.least) / step) + 1;
            return info.least + step * static_cast<double>(below(steps));
        }
        if (chance(0.1)) {
            return most;
        }
        if (chance(0.1) && !info.above) {
            return info.least;
        }
        const double anywhere = info.least + (most - info.least) * unit();
        const double rounded = std::round(anywhere * 10) / 10;
        const bool accepted = rounded > info.least && rounded <= most;
        return accepted && chance(0.6) ? rounded : std::max(anywhere, info.least + 1e-9);
    }

    std::string words() {
        const char* const pieces[] = {"a",
                                      "Z",
                                      "7",
                                      " ",
                                      "%",
                                      "#",
                                      "/",
                                      "$",
                                      "\"",
                                      "\\",
                                      "\xC3\xA9",
                                      "\xE2\x82\xAC",
                                      "\xF0\x9F\x9A\x81"};
        std::string out;
        for (size_t i = below(81); i > 0; --i) {
            out += pieces[below(std::size(pieces))];
        }
        return out;
    }

    Json value(const FieldInfo& info) {
        switch (info.type) {
            case FieldType::number:
            case FieldType::integer:
                return Json{number(info)};
            case FieldType::text:
                return Json{words()};
            case FieldType::choice:
                return text(info.choices[below(info.choices.size())]);
            case FieldType::flag:
                return Json{chance(0.5)};
            case FieldType::numbers:
            case FieldType::rows:
                break;
        }
        JsonList list;
        const size_t span = std::min<size_t>(info.most_count - info.least_count, 4);
        for (size_t i = info.least_count + below(span + 1); i > 0; --i) {
            if (info.type == FieldType::numbers) {
                list.push_back(Json{number(info)});
            } else if (info.tuple) {
                JsonList places;
                for (const FieldInfo& place : *info.rows) {
                    places.push_back(Json{number(place)});
                }
                list.push_back(Json{std::move(places)});
            } else {
                list.push_back(info.key == "measured" ? measured(*info.rows) : object(*info.rows));
            }
        }
        if (info.tuple) {  // the only one is the trace: in order of time, no time twice
            for (size_t i = 0; i < list.size(); ++i) {
                (*list[i].as<JsonList>())[0] = Json{static_cast<double>(i) + 0.5 * unit()};
            }
        }
        return Json{std::move(list)};
    }

    bool goes_with(const FieldInfo& info) const {
        const auto fits = [&](std::string_view choice) {
            return std::find(info.only_for.begin(), info.only_for.end(), choice) !=
                   info.only_for.end();
        };
        if (info.only_with == "load.kind") {
            return fits(kind_);
        }
        if (info.only_with == "flight.kind") {
            return fits(shares_ ? "shares" : "sequence");
        }
        return info.only_with.empty();
    }

    Json object(const std::vector<FieldInfo>& infos) {
        Json out{JsonObject{}};
        for (const FieldInfo& info : infos) {
            if (!goes_with(info)) {
                continue;
            }
            const bool part = info.key == "seconds" || info.key == "share_pct";
            if (info.presence != Presence::required && !part && chance(0.5)) {
                continue;
            }
            put(out, info.key, value(info));
        }
        return out;
    }

    Json measured(const std::vector<FieldInfo>& infos) {
        Json row = object(infos);
        const bool flight = chance(0.3);
        put(row, "kind", text(flight ? "flight" : "hold"));
        const double mean = -40 + 100 * unit();
        if (flight) {
            put(row, "esc_after_C", Json{mean});
        } else if (find(row, "trace") == nullptr) {
            put(row, "pack_A", Json{1 + unit()});
        }
        if (find(row, "esc_mean_C") != nullptr) {
            put(row, "esc_mean_C", Json{mean});
            put(row, "esc_peak_C", Json{mean + 80 * unit()});
        }
        return row;
    }

    void tell_load(Json& setup) {
        if (governed_) {
            put(setup, "load.hover_A", Json{20 + unit()});
            put(setup, "load.rotor_rpm", Json{2000.0});
            return;
        }
        put(setup, "load.shaft_W", Json{100 + 100 * unit()});
        put(setup, "load.shaft_rpm", Json{9000.0});
    }

    void tell_shares(Json& setup) {
        if (!shares_) {
            return;
        }
        JsonList rows = *find(setup, "flight.parts")->as<JsonList>();
        double rest = 100;
        for (size_t i = 0; i < rows.size(); ++i) {
            const double share = i + 1 == rows.size() ? rest : rest * (0.1 + 0.8 * unit());
            put(rows[i], "share_pct", Json{share});
            rest -= share;
        }
        put(setup, "flight.parts", Json{std::move(rows)});
    }

    void order_limits(Json& setup) {
        put(setup, "pack.start_pct", Json{60 + 40 * unit()});
        put(setup, "pack.reserve_pct", Json{59 * unit()});
        if (find(setup, "pack.sag_floor_V") != nullptr) {
            put(setup, "pack.sag_floor_V", Json{2.9});
        }
        if (find(setup, "esc.burst_A") != nullptr) {
            put(setup, "esc.burst_A", Json{*find(setup, "esc.rating_A")->as<double>() + 1});
        }
        if (find(setup, "esc.bec_kind") != nullptr &&
            *find(setup, "esc.bec_kind") == text("linear")) {
            put(setup, "esc.bec_max_A", Json{3.5});
        }
    }

    std::string_view kind_;
    bool governed_ = false;
    bool shares_ = false;
};

/// True when `written` holds every value of `made`, but for those that are the defaults.
inline bool holds_all_of(const Json& written, const Json& made,
                         const std::vector<FieldInfo>& infos) {
    return std::all_of(infos.begin(), infos.end(), [&](const FieldInfo& info) {
        const Json* told = find(made, info.key);
        const Json* kept = find(written, info.key);
        if (told == nullptr) {
            return kept == nullptr;
        }
        if (info.type == FieldType::numbers) {
            return true;
        }  // sorted and joined by the set one
        if (kept == nullptr) {
            return *told == *info.standard;
        }
        if (info.type != FieldType::rows || info.tuple) {
            return *told == *kept;
        }
        const JsonList& rows = *told->as<JsonList>();
        const JsonList& kept_rows = *kept->as<JsonList>();
        if (rows.size() != kept_rows.size()) {
            return false;
        }
        for (size_t i = 0; i < rows.size(); ++i) {
            if (!holds_all_of(kept_rows[i], rows[i], *info.rows)) {
                return false;
            }
        }
        return true;
    });
}

}  // namespace hotband::test
