// The rules between fields, one function for each part of the setup.
#include "setup/rules.hpp"

#include <cmath>

#include "setup/field_table.hpp"
#include "setup/read.hpp"

namespace hotband {
namespace {

/// Charged cell without load (V); from memory, common practice of chargers.
double full_cell_V(Chemistry chemistry) {
    switch (chemistry) {
        case Chemistry::lipo:
        case Chemistry::liion:
            return 4.20;
        case Chemistry::lihv:
            return 4.35;
        case Chemistry::lifepo4:
            return 3.65;
    }
    return 0;
}

struct Check {
    const Json& told;
    const Setup& setup;
    Problems& problems;

    bool has(std::string_view key) const { return find(told, key) != nullptr; }
    /// True when what stands there can be asked for its keys: an object, or nothing.
    bool open(std::string_view key) const {
        const Json* json = find(told, key);
        return json == nullptr || json->as<JsonObject>() != nullptr;
    }
    bool good(std::string_view path) const { return sound(problems, path); }
    void refuse(std::string path, std::string text) {
        problems.push_back({std::move(path), std::move(text)});
    }
};

void check_pack(Check& check) {
    const PackSetup& pack = check.setup.pack;
    if (check.good("pack.start_pct") && check.good("pack.reserve_pct") &&
        pack.reserve_pct >= pack.start_pct) {
        check.refuse("pack.reserve_pct", number_text(pack.reserve_pct) +
                                             " must be below pack.start_pct, " +
                                             number_text(pack.start_pct) + " %");
    }
    const double full_V = full_cell_V(pack.chemistry);
    if (check.good("pack.sag_floor_V") && check.good("pack.chemistry") && pack.sag_floor_V &&
        *pack.sag_floor_V >= full_V) {
        check.refuse("pack.sag_floor_V", number_text(*pack.sag_floor_V) +
                                             " must be below the full cell's " +
                                             number_text(full_V) + " V");
    }
}

void check_esc(Check& check) {
    const EscSetup& esc = check.setup.esc;
    if (check.good("esc.rating_A") && check.good("esc.burst_A") && esc.burst_A &&
        *esc.burst_A < esc.rating_A) {
        check.refuse("esc.burst_A", number_text(*esc.burst_A) +
                                        " must not be below esc.rating_A, " +
                                        number_text(esc.rating_A) + " A");
    }
}

void check_load(Check& check) {
    if (!check.open("load") || !check.good("load.kind")) {
        return;
    }
    if (check.setup.load.kind == LoadKind::governed) {
        const bool mass = check.has("load.mass_kg");
        const bool rotor = check.has("load.rotor_diameter_m");
        if (check.has("load.hover_A") && !(mass && rotor) && !check.has("load.rotor_rpm")) {
            check.refuse("load.rotor_rpm", "is missing: it is required with load.hover_A");
        } else if (!check.has("load.hover_A") && mass != rotor) {
            check.refuse(mass ? "load.rotor_diameter_m" : "load.mass_kg",
                         std::string("is missing: it is required with ") +
                             (mass ? "load.mass_kg" : "load.rotor_diameter_m"));
        }
        return;
    }
    const bool power = check.has("load.shaft_W");
    const bool speed = check.has("load.shaft_rpm");
    if (power != speed) {
        check.refuse(power ? "load.shaft_rpm" : "load.shaft_W",
                     std::string("is missing: it is required with ") +
                         (power ? "load.shaft_W" : "load.shaft_rpm"));
    }
}

void check_throttle(Check& check, const std::string& row_path, double throttle_pct) {
    const std::string path = path_join(row_path, "throttle_pct");
    const bool governed = check.setup.load.kind == LoadKind::governed;
    if (!governed && throttle_pct > 100 && check.good("load.kind") && check.good(path)) {
        check.refuse(path, number_text(throttle_pct) +
                               " is above the most accepted, 100 % (more goes only with load.kind "
                               "governed)");
    }
}

void check_flight(Check& check) {
    const FlightSetup& flight = check.setup.flight;
    const Json* rows = find(check.told, "flight.parts");
    if (rows == nullptr) {
        return;
    }
    const bool kind_known = check.good("flight.kind");
    const bool shares = flight.kind == FlightKind::shares;
    const std::string_view needed = shares ? "share_pct" : "seconds";
    double sum_pct = 0;
    for (size_t i = 0; i < flight.parts.size(); ++i) {
        const std::string path = path_join("flight.parts", i);
        check_throttle(check, path, flight.parts[i].throttle_pct);
        sum_pct += flight.parts[i].share_pct;
        const Json& row = (*rows->as<JsonList>())[i];
        if (kind_known && row.as<JsonObject>() != nullptr && find(row, needed) == nullptr) {
            check.refuse(path_join(path, needed),
                         std::string("is missing: each part needs it with flight.kind ") +
                             (shares ? "shares" : "sequence"));
        }
    }
    constexpr double sum_tolerance_pct = 0.5;
    constexpr double rounding_pct = 1e-9;
    if (shares && kind_known && check.good("flight.parts") &&
        std::abs(sum_pct - 100) > sum_tolerance_pct + rounding_pct) {
        check.refuse("flight.parts", "shares sum to " + number_text(sum_pct) +
                                         " %: they must sum to 100 within 0.5");
    }
}

void check_measured_row(Check& check, const std::string& path, const Json& told,
                        const MeasuredRow& row) {
    check_throttle(check, path, row.throttle_pct);
    const auto good = [&](std::string_view key) { return check.good(path_join(path, key)); };
    if (good("trace")) {
        for (size_t i = 1; i < row.trace.size(); ++i) {
            if (row.trace[i][0] > row.trace[i - 1][0]) {
                continue;
            }
            check.refuse(path_join(path_join(path, "trace"), i),
                         "time " + number_text(row.trace[i][0]) +
                             " s must be later than the one before, " +
                             number_text(row.trace[i - 1][0]) + " s");
            break;  // one disorder brings many: the first one says it
        }
    }
    if (row.esc_peak_C && row.esc_mean_C && *row.esc_peak_C < *row.esc_mean_C) {
        check.refuse(path_join(path, "esc_peak_C"), number_text(*row.esc_peak_C) +
                                                        " must not be below esc_mean_C, " +
                                                        number_text(*row.esc_mean_C) + " deg C");
    }
    if (told.as<JsonObject>() == nullptr || !good("kind")) {
        return;
    }
    const auto has = [&](std::string_view key) { return find(told, key) != nullptr; };
    const bool reading = has("esc_mean_C") || has("esc_peak_C");
    if (row.kind == RowKind::hold && !reading && !has("pack_A") && !has("rpm") && !has("trace")) {
        check.refuse(path, "needs at least one of pack_A, rpm, esc_mean_C, esc_peak_C, trace");
    }
    if (row.kind == RowKind::flight && !reading && !has("esc_after_C")) {
        check.refuse(path, "kind flight needs at least one of esc_after_C, esc_peak_C, esc_mean_C");
    }
}

}  // namespace

void check_rules(const Json& told, const Setup& setup, Problems& problems) {
    check_only_with(told, setup_infos(), problems);
    Check check{told, setup, problems};
    check_pack(check);
    check_esc(check);
    check_load(check);
    check_flight(check);
    for (size_t i = 0; i < setup.measured.size(); ++i) {
        const Json& row = (*find(told, "measured")->as<JsonList>())[i];
        check_measured_row(check, path_join("measured", i), row, setup.measured[i]);
    }
    for (size_t i = 0; i < setup.ask_holds.size(); ++i) {
        check_throttle(check, path_join("ask_holds", i), setup.ask_holds[i].throttle_pct);
    }
}

}  // namespace hotband
