// The tables of the bare physics cases (SI units), and the rules between their fields.
#include "report/case_table.hpp"

#include "physics/constants.hpp"
#include "setup/read.hpp"

namespace hotband {
namespace {

using enum Presence;

constexpr size_t most_cases = 20000;

const FieldTable<CycleCase>& cycle_table() {
    using C = CycleCase;
    static constexpr Field<CycleCase> rows[] = {
        {{.key = "mode", .presence = required, .choices = {"active", "diode"}}, to<&C::mode>()},
        {{.key = "Voc", .presence = required, .unit = "V", .least = 0}, to<&C::Voc>()},
        {{.key = "R_src", .presence = required, .unit = "Ohm", .least = 0}, to<&C::R_src>()},
        {{.key = "L_src", .presence = required, .unit = "H", .least = 0, .above = true},
         to<&C::L_src>()},
        {{.key = "C", .presence = required, .unit = "F", .least = 0, .above = true}, to<&C::C>()},
        {{.key = "R_esr", .presence = required, .unit = "Ohm", .least = 0}, to<&C::R_esr>()},
        {{.key = "R_on", .presence = required, .unit = "Ohm", .least = 0}, to<&C::R_on>()},
        {{.key = "V_f0", .presence = told, .unit = "V", .least = 0}, to<&C::V_f0>()},
        {{.key = "r_d", .presence = told, .unit = "Ohm", .least = 0}, to<&C::r_d>()},
        {{.key = "R_m", .presence = required, .unit = "Ohm", .least = 0}, to<&C::R_m>()},
        {{.key = "L_m", .presence = required, .unit = "H", .least = 0, .above = true},
         to<&C::L_m>()},
        {{.key = "E", .presence = required, .unit = "V", .least = 0}, to<&C::E>()},
        {{.key = "D", .presence = required, .least = 0, .most = 1}, to<&C::D>()},
        {{.key = "f", .presence = required, .unit = "Hz", .least = 0, .above = true}, to<&C::f>()},
    };
    static const FieldTable<CycleCase> table(rows);
    return table;
}

/// A heat case as it is told: the start temperatures as a list of three.
struct HeatTold {
    HeatCase heat;
    std::vector<double> T_init;
};

const FieldTable<HeatPart>& heat_part_table() {
    using P = HeatPart;
    static constexpr Field<HeatPart> rows[] = {
        {{.key = "t_end", .presence = required, .unit = "s", .least = 0, .above = true},
         to<&P::t_end>()},
        {{.key = "P0", .presence = required, .unit = "W"}, to<&P::P0>()},
        {{.key = "v", .presence = required, .unit = "m/s", .least = 0}, to<&P::v>()},
        {{.key = "T_amb",
          .presence = required,
          .unit = "deg C",
          .least = -zero_celsius_K,
          .above = true},
         to<&P::T_amb>()},
    };
    static const FieldTable<HeatPart> table(rows);
    return table;
}

const FieldTable<HeatTold>& heat_table() {
    using H = HeatCase;
    constexpr auto heat = &HeatTold::heat;
    static constexpr Field<HeatTold> rows[] = {
        {{.key = "Cj", .presence = required, .unit = "J/K", .least = 0, .above = true},
         to<heat, &H::Cj>()},
        {{.key = "Cb", .presence = required, .unit = "J/K", .least = 0, .above = true},
         to<heat, &H::Cb>()},
        {{.key = "Cs", .presence = required, .unit = "J/K", .least = 0, .above = true},
         to<heat, &H::Cs>()},
        {{.key = "Gjb", .presence = required, .unit = "W/K", .least = 0}, to<heat, &H::Gjb>()},
        {{.key = "Gbs", .presence = required, .unit = "W/K", .least = 0}, to<heat, &H::Gbs>()},
        {{.key = "A", .presence = required, .unit = "m2", .least = 0}, to<heat, &H::A>()},
        {{.key = "H", .presence = required, .unit = "m", .least = 0, .above = true},
         to<heat, &H::H>()},
        {{.key = "L", .presence = required, .unit = "m", .least = 0, .above = true},
         to<heat, &H::L>()},
        {{.key = "p", .unit = "Pa", .least = 0, .above = true}, to<heat, &H::p>()},
        {{.key = "eps", .presence = required, .least = 0, .most = 1}, to<heat, &H::eps>()},
        {{.key = "a"}, to<heat, &H::a>()},
        {{.key = "b"}, to<heat, &H::b>()},
        {{.key = "alpha", .unit = "1/K"}, to<heat, &H::alpha>()},
        {{.key = "schedule", .presence = required, .least_count = 1, .most_count = 10000},
         to_rows<&heat_part_table, heat, &H::schedule>()},
        {{.key = "T_init",
          .presence = required,
          .unit = "deg C",
          .least = -zero_celsius_K,
          .above = true,
          .least_count = 3,
          .most_count = 3},
         to<&HeatTold::T_init>()},
        {{.key = "times", .presence = required, .unit = "s", .least = 0, .most_count = 100000},
         to<heat, &H::times>()},
    };
    static const FieldTable<HeatTold> table(rows);
    return table;
}

void refuse_missing_diode(const Json& json, const std::string& path, std::string_view key,
                          Problems& problems) {
    if (find(json, key) == nullptr) {
        problems.push_back({path_join(path, key), "is missing: mode diode requires it"});
    }
}

CycleCase read_cycle(const Json& json, const std::string& path, Problems& problems) {
    CycleCase c;
    const size_t problems_before = problems.count();
    read_object(json, cycle_table().fields(), c, path, problems);
    const Json* mode = find(json, "mode");
    if (mode != nullptr && *mode == Json{std::string("diode")}) {
        refuse_missing_diode(json, path, "V_f0", problems);
        refuse_missing_diode(json, path, "r_d", problems);
    }
    if (problems.count() != problems_before) {
        return c;
    }
    if (c.R_m + 2 * c.R_on <= 0) {
        problems.push_back({path_join(path, "R_m"),
                            "R_m + 2 R_on is 0: the motor loop needs a resistance above 0 Ohm"});
    }
    if (c.R_src + c.R_esr <= 0) {
        problems.push_back({path_join(path, "R_src"),
                            "R_src + R_esr is 0: the pack loop needs a resistance above 0 Ohm"});
    }
    return c;
}

HeatCase read_heat(const Json& json, const std::string& path, Problems& problems) {
    HeatTold read;
    const size_t problems_before = problems.count();
    read_object(json, heat_table().fields(), read, path, problems);
    HeatCase& heat = read.heat;
    if (problems.count() != problems_before) {
        return heat;
    }
    for (size_t i = 0; i < heat.T_init.size(); ++i) {
        heat.T_init[i] = read.T_init[i];
    }
    for (size_t i = 1; i < heat.schedule.size(); ++i) {
        if (heat.schedule[i].t_end > heat.schedule[i - 1].t_end) {
            continue;
        }
        problems.push_back({path_join(path_join(path_join(path, "schedule"), i), "t_end"),
                            number_text(heat.schedule[i].t_end) +
                                " s must be later than the part before, " +
                                number_text(heat.schedule[i - 1].t_end) + " s"});
    }
    const double end = heat.schedule.back().t_end;
    for (size_t i = 0; i < heat.times.size(); ++i) {
        if (heat.times[i] <= end) {
            continue;
        }
        problems.push_back({path_join(path_join(path, "times"), i),
                            number_text(heat.times[i]) + " is after the schedule's end, " +
                                number_text(end) + " s"});
    }
    return heat;
}

template <class Case, class Read>
Result<Cases<Case>> parse_cases(std::string_view text, Read read) {
    Problems problems;
    const std::optional<Json> json = parse_json(text, problems);
    if (!json) {
        return problems;
    }
    Cases<Case> out;
    if (const JsonList* list = json->as<JsonList>()) {
        out.is_array = true;
        if (list->size() > most_cases) {
            problems.push_back({"JSON", "holds " + std::to_string(list->size()) +
                                            " cases, more than the most accepted, " +
                                            std::to_string(most_cases)});
            return problems;
        }
        for (size_t i = 0; i < list->size(); ++i) {
            out.cases.push_back(read((*list)[i], path_join("", i), problems));
        }
    } else {
        out.cases.push_back(read(*json, "", problems));
    }
    if (!problems.empty()) {
        return problems;
    }
    return out;
}

}  // namespace

Result<Cases<CycleCase>> parse_cycles(std::string_view json_text) {
    return parse_cases<CycleCase>(json_text, read_cycle);
}

Result<Cases<HeatCase>> parse_heats(std::string_view json_text) {
    return parse_cases<HeatCase>(json_text, read_heat);
}

}  // namespace hotband
