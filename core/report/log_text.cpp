// The door for a log's numbers: a table and what its columns are in, damaged rows, steady holds and
// the prediction beside the log out.
#include <algorithm>
#include <cmath>
#include <limits>

#include "advise/text.hpp"
#include "learn/calibrate.hpp"
#include "learn/history.hpp"
#include "learn/steady_holds.hpp"
#include "report/door.hpp"
#include "report/log_answer.hpp"
#include "report/log_ask.hpp"
#include "report/writer.hpp"
#include "setup/field_table.hpp"
#include "setup/read.hpp"

namespace hotband {
namespace {

double rounded(double value, double step) { return std::round(value / step) * step; }

// A hundredth is finer than any logger; the last digits of a mean would only look exact.
Json hundredth(double value) { return Json{rounded(value, 0.01)}; }

/// The measured row of a setup.
Json row_json(const LoggedHold& hold) {
    const MeasuredRow& row = hold.row;
    Json out{JsonObject{}};
    put(out, "throttle_pct", hold.throttle_told ? Json{rounded(row.throttle_pct, 0.1)} : Json{});
    const auto tell = [&](const char* key, std::optional<double> value) {
        if (value) {
            put(out, key, hundredth(*value));
        }
    };
    tell("pack_A", row.pack_A);
    tell("rpm", row.rpm);
    tell("hold_s", row.hold_s);
    tell("start_C", row.start_C);
    tell("esc_mean_C", row.esc_mean_C);
    tell("esc_peak_C", row.esc_peak_C);
    if (!row.trace.empty()) {
        JsonList trace;
        for (const auto& [t, celsius] : row.trace) {
            trace.push_back(Json{JsonList{hundredth(t), hundredth(celsius)}});
        }
        put(out, "trace", Json{std::move(trace)});
    }
    return out;
}

/// Why a row cannot be one of a setup's as it stands: by the setup's own field table.
Problems row_problems(const Json& row) {
    Problems problems;
    for (const FieldInfo& field : setup_infos()) {
        if (field.key != "measured") {
            continue;
        }
        for (const FieldInfo& info : *field.rows) {
            const Json* value = find(row, info.key);
            if (value != nullptr && info.type != FieldType::rows) {
                check_value(*value, info, std::string(info.key), problems);
            }
        }
    }
    return problems;
}

// Seconds since the session began: a logger's own clock may be the day's, or the century's.
double into_session(const CleanLog& log, size_t session, double t) {
    return t - log.samples[log.sessions[session].first].begin_s;
}

std::string hold_text(const LoggedHold& hold, const CleanLog& log) {
    const MeasuredRow& row = hold.row;
    std::string text = hold.throttle_told ? say("%.0f %%", row.throttle_pct) : "Throttle not known";
    if (row.pack_A) {
        text += say(", %.0f A", *row.pack_A);
    }
    text += " for " + clock_text(row.hold_s.value_or(0)) + " from " +
            clock_text(into_session(log, hold.session, hold.start_s));
    if (row.start_C && row.esc_peak_C) {
        text += say(": ESC from %.0f deg C to %.0f deg C at most", *row.start_C, *row.esc_peak_C);
    }
    return text + ".";
}

void write_damage(Writer& w, const CleanLog& log, std::span<const std::uint32_t> lines) {
    w.key("damaged").begin('[');
    for (const DamagedRows& d : log.damaged) {
        w.begin('{')
            .pair("reason", damage_text(d.reason))
            .pair("count", static_cast<double>(d.count))
            .key("first_rows")
            .begin('[');
        for (const size_t row : d.first_rows) {
            w.value(static_cast<double>(row));
        }
        w.end(']');
        if (!lines.empty()) {
            w.key("first_lines").begin('[');
            for (const size_t row : d.first_rows) {
                w.value(static_cast<double>(lines[row]));
            }
            w.end(']');
        }
        w.end('}');
    }
    w.end(']');
}

void write_sessions(Writer& w, const CleanLog& log) {
    w.key("sessions").begin('[');
    for (const LogSession& s : log.sessions) {
        const LogSample& first = log.samples[s.first];
        const LogSample& last = log.samples[s.last - 1];
        w.begin('{')
            .pair("first_row", static_cast<double>(first.first_row))
            .pair("last_row", static_cast<double>(last.last_row))
            .pair("start_s", rounded(first.begin_s, 1e-3))
            .pair("end_s", rounded(last.end_s, 1e-3))
            .end('}');
    }
    w.end(']');
}

// Least and greatest of what is left of each column: a wrong unit or column shows there.
void write_ranges(Writer& w, const CleanLog& log) {
    struct Column {
        const char* key;
        double LogSample::*member;
    };
    const Column columns[] = {{"throttle_pct", &LogSample::throttle_pct},
                              {"current_A", &LogSample::current_A},
                              {"voltage_V", &LogSample::voltage_V},
                              {"esc_C", &LogSample::esc_C},
                              {"rpm", &LogSample::rpm}};
    w.key("ranges").begin('{');
    for (const Column& column : columns) {
        double least = std::numeric_limits<double>::infinity();
        double most = -least;
        for (const LogSample& s : log.samples) {
            least = std::min(std::isnan(s.*column.member) ? least : s.*column.member, least);
            most = std::max(std::isnan(s.*column.member) ? most : s.*column.member, most);
        }
        w.key(column.key);
        if (least <= most) {
            w.begin('[').value(rounded(least, 0.01)).value(rounded(most, 0.01)).end(']');
        } else {
            w.raw("null");
        }
    }
    w.end('}');
}

void write_hold(Writer& w, const LoggedHold& hold, const CleanLog& log) {
    const Json row = row_json(hold);
    w.begin('{')
        .pair("session", static_cast<double>(hold.session))
        .pair("first_row", static_cast<double>(hold.first_row))
        .pair("last_row", static_cast<double>(hold.last_row))
        .pair("start_s", rounded(hold.start_s, 1e-3))
        .pair("end_s", rounded(hold.end_s, 1e-3))
        .pair("text", hold_text(hold, log));
    w.key("measured").raw(write_json(row)).key("problems").begin('[');
    for (const Problem& p : row_problems(row)) {
        w.begin('{').pair("path", p.path).pair("text", p.text).end('}');
    }
    w.end(']').end('}');
}

std::string history_text(const History& h, const CleanLog& log) {
    std::string text = say("Over %s the prediction is %.1f K off (root mean square)",
                           clock_text(h.seconds).c_str(), h.rms_K);
    if (std::abs(h.mean_K) >= 0.5) {
        text +=
            say(", %.1f K too %s on average", std::abs(h.mean_K), h.mean_K > 0 ? "hot" : "cool");
    }
    text += say("; furthest at %s",
                clock_text(into_session(log, h.worst_session, h.worst_t_s)).c_str());
    if (log.sessions.size() > 1) {
        text += say(" of session %zu", h.worst_session + 1);
    }
    text += say(", %.1f K too %s.", std::abs(h.worst_K), h.worst_K > 0 ? "hot" : "cool");
    switch (h.end) {
        case HistoryEnd::whole:
            break;
        case HistoryEnd::empty:
            text += " It ends where the pack as entered would be empty.";
            break;
        case HistoryEnd::runaway:
            text += " It ends where the prediction runs away.";
            break;
        case HistoryEnd::unsolved:
            text += " It ends where the setup as entered cannot draw what was logged.";
            break;
    }
    return text;
}

void write_history(Writer& w, const History& h, const CleanLog& log) {
    w.begin('{')
        .pair("text", history_text(h, log))
        .pair("seconds", rounded(h.seconds, 0.01))
        .pair("samples", static_cast<double>(h.samples))
        .pair("by", h.by_current ? "current" : "throttle")
        .pair("rms_K", h.rms_K)
        .pair("mean_K", h.mean_K)
        .pair("worst_K", h.worst_K)
        .pair("worst_t_s", h.worst_t_s)
        .pair("worst_session", static_cast<double>(h.worst_session))
        .key("series")
        .begin('[');
    for (const HistoryPoint& p : h.series) {
        w.begin('{')
            .pair("session", static_cast<double>(p.session))
            .pair("t_s", rounded(p.t_s, 1e-3))
            .pair("logged_C", rounded(p.logged_C, 0.01))
            .pair("predicted_C", p.predicted_C)
            .end('}');
    }
    w.end(']').end('}');
}

const char* name(SteadyBy by) {
    switch (by) {
        case SteadyBy::nothing:
            return nullptr;
        case SteadyBy::throttle:
            return "throttle";
        case SteadyBy::current:
            return "current";
    }
    return nullptr;
}

}  // namespace

std::string log_answer(const Log& columns, const std::optional<Setup>& setup,
                       std::span<const std::uint32_t> lines) {
    const CleanLog log = clean_log(columns);
    const bool rotor = setup && setup->load.kind == LoadKind::governed;
    const HoldOptions options{.by_current = rotor};
    const SteadyBy by = steady_by(log, options);
    std::vector<LoggedHold> holds = find_holds(log, options);
    std::optional<Plant> plant;
    if (setup) {
        plant = middle_plant(*setup, calibrate(*setup).belief);
        for (LoggedHold& hold : holds) {
            // A rotor's stick is not its power, and without a throttle the current must tell it.
            if (hold.row.pack_A && (rotor || !hold.throttle_told)) {
                const double charge =
                    half_way_charge(plant->pack, hold.row.pack_A, hold.row.hold_s);
                hold.row.throttle_pct =
                    100 * throttle_for_current(*plant, *hold.row.pack_A, charge);
                hold.throttle_told = true;
            }
        }
    }
    Writer w;
    w.begin('{')
        .pair("rows", static_cast<double>(log.rows))
        .pair("used", static_cast<double>(log.used))
        .pair("repeated_times", static_cast<double>(log.repeated_times))
        .pair("row_s", log.row_s);
    write_damage(w, log, lines);
    write_sessions(w, log);
    write_ranges(w, log);
    w.key("steady_by");
    if (const char* word = name(by)) {
        w.value(word);
    } else {
        w.raw("null");
    }
    w.key("holds").begin('[');
    for (const LoggedHold& hold : holds) {
        write_hold(w, hold, log);
    }
    w.end(']').key("history");
    const History history = plant ? check_history(*plant, log) : History{};
    if (history.samples > 0) {
        write_history(w, history, log);
    } else {
        w.raw("null");
    }
    w.end('}');
    return w.take();
}

Result<std::string> log_text(std::span<const double> table, size_t columns,
                             std::string_view options_json) {
    if (columns == 0 || columns > most_log_columns || table.size() % columns != 0) {
        return Problems{{"table", "must be whole rows of 1 to 1000 columns, not " +
                                      number_text(static_cast<double>(table.size())) +
                                      " numbers in rows of " +
                                      number_text(static_cast<double>(columns))}};
    }
    if (table.size() / columns > most_log_rows) {
        return Problems{{"table", "has more than 4000000 rows"}};
    }
    Problems problems;
    std::optional<Json> options = parse_json(options_json, problems);
    if (!options) {
        return problems;
    }
    const Result<LogAsked> read = read_log_ask(*std::move(options), columns);
    if (const Problems* found = std::get_if<Problems>(&read)) {
        return *found;
    }
    const LogAsked& asked = *std::get_if<LogAsked>(&read);
    return log_answer(log_of(table, columns, asked.ask), asked.setup, {});
}

}  // namespace hotband
