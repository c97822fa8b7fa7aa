// The doors; see door.hpp. Each reads, calls one room, writes.
#include "report/door.hpp"

#include "advise/advise.hpp"
#include "report/case_table.hpp"
#include "report/to_json.hpp"
#include "report/writer.hpp"
#include "setup/json.hpp"
#include "setup/link.hpp"

namespace hotband {
namespace {

void write_cycle(Writer& w, const Cycle& c) {
    w.begin('{')
        .pair("conduction", c.continuous ? "CCM" : "DCM")
        .pair("conduction_fraction", c.conduction_fraction)
        .pair("i_m_avg", c.i_m_avg)
        .pair("i_m_rms", c.i_m_rms)
        .pair("i_m_min", c.i_m_min)
        .pair("i_m_max", c.i_m_max)
        .pair("i_src_avg", c.i_src_avg)
        .pair("i_src_rms", c.i_src_rms)
        .pair("i_c_rms", c.i_c_rms)
        .pair("v_link_avg", c.v_link_avg)
        .pair("v_link_min", c.v_link_min)
        .pair("v_link_max", c.v_link_max)
        .pair("P_hs", c.P_hs)
        .pair("P_ret", c.P_ret)
        .pair("P_fw", c.P_fw)
        .pair("P_esr", c.P_esr)
        .pair("P_R_src", c.P_R_src)
        .pair("P_R_m", c.P_R_m)
        .pair("P_emf", c.P_emf)
        .pair("P_pack", c.P_pack)
        .pair("energy_residual_rel", c.energy_residual_rel)
        .end('}');
}

void write_heat(Writer& w, const std::vector<std::array<double, 3>>& rows) {
    w.begin('{').key("T").begin('[');
    for (const auto& T : rows) {
        w.begin('[').value(T[0]).value(T[1]).value(T[2]).end(']');
    }
    w.end(']').end('}');
}

// Why a case has no answer, or null.
const char* no_answer(HeatEnd end) {
    switch (end) {
        case HeatEnd::unsolved:
            return "takes too many steps: its values are too far apart";
        case HeatEnd::below_zero:
            return "falls below absolute zero: more heat is drawn out than it holds";
        case HeatEnd::whole:
        case HeatEnd::runaway:
            return nullptr;
    }
    return nullptr;
}

// One answer for one case, a list for a list; `each` writes one and says what is amiss.
template <class Case, class F>
Result<std::string> answer_cases(const Cases<Case>& asked, F&& each) {
    Problems unsolved;
    Writer w;
    if (asked.is_array) {
        w.begin('[');
    }
    for (size_t i = 0; i < asked.cases.size(); ++i) {
        if (const char* reason = each(w, asked.cases[i])) {
            unsolved.push_back({asked.is_array ? path_join("", i) : "", reason});
        }
    }
    if (!unsolved.empty()) {
        return unsolved;
    }
    if (asked.is_array) {
        w.end(']');
    }
    return w.take();
}

// Passes problems on, or the value through `next`.
template <class T, class F>
Result<std::string> then(Result<T> read, F&& next) {
    if (auto* problems = std::get_if<Problems>(&read)) {
        return std::move(*problems);
    }
    return next(*std::get_if<T>(&read));
}

}  // namespace

Result<std::string> advise_text(std::string_view setup_json, int samples, Scale scale) {
    if (samples < 0 || samples > most_samples) {
        return Problems{{"samples", "must be a whole number from 0 to " +
                                        std::to_string(most_samples) + ", not " +
                                        std::to_string(samples)}};
    }
    return then(parse_setup(setup_json), [&](const Setup& setup) -> Result<std::string> {
        return report_to_json(advise(setup, {.samples = samples, .scale = scale}), setup);
    });
}

Result<std::string> cycle_text(std::string_view case_json) {
    return then(parse_cycles(case_json), [](const Cases<CycleCase>& asked) {
        return answer_cases(asked, [](Writer& w, const CycleCase& c) -> const char* {
            const Cycle cycle = solve_cycle(c, true);
            write_cycle(w, cycle);
            return cycle.ok ? nullptr : "has no finite steady state: its values are too far apart";
        });
    });
}

Result<std::string> heat_text(std::string_view case_json) {
    return then(parse_heats(case_json), [](const Cases<HeatCase>& asked) {
        return answer_cases(asked, [](Writer& w, const HeatCase& c) -> const char* {
            const HeatMarch march = march_heat(c);
            write_heat(w, march.rows);
            return no_answer(march.end);
        });
    });
}

Result<std::string> link_text(std::string_view setup_json) {
    return then(parse_setup(setup_json),
                [](const Setup& setup) -> Result<std::string> { return to_link(setup); });
}

Result<std::string> unlink_text(std::string_view link) {
    return then(from_link(link),
                [](const Setup& setup) -> Result<std::string> { return setup_to_json(setup); });
}

std::string fields_text() { return fields_to_json(); }

}  // namespace hotband
