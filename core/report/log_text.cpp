// The door for a logger's file: a table of numbers and what its columns are in, damaged rows,
// steady holds and the prediction beside the log out.
#include <algorithm>
#include <cmath>
#include <limits>

#include "advise/text.hpp"
#include "learn/calibrate.hpp"
#include "learn/history.hpp"
#include "learn/log.hpp"
#include "report/door.hpp"
#include "report/writer.hpp"
#include "setup/field_table.hpp"
#include "setup/read.hpp"

namespace hotband {
namespace {

using enum Presence;

constexpr double kMostRows = 4e6;
constexpr double kMostColumns = 1000;

enum class TimeUnit { seconds, milliseconds, microseconds, minutes };
enum class TemperatureUnit { celsius, fahrenheit };
enum class ThrottleUnit { percent, microseconds, share };
enum class CurrentUnit { ampere, milliampere };
enum class VoltageUnit { volt, millivolt };

/// What the table's columns are, told by the pilot.
struct LogAsk {
    std::optional<double> time, throttle, current, voltage, esc;  // places of columns, from 0
    std::optional<double> row_s;                                  // s from row to row
    TimeUnit time_unit = TimeUnit::seconds;
    TemperatureUnit temperature_unit = TemperatureUnit::celsius;
    ThrottleUnit throttle_unit = ThrottleUnit::percent;
    CurrentUnit current_unit = CurrentUnit::ampere;
    VoltageUnit voltage_unit = VoltageUnit::volt;
    std::vector<double> throttle_ends;  // raw values of no and of full throttle
};

// Order of choices: of the enums above.
const FieldTable<LogAsk>& ask_table() {
    using A = LogAsk;
    constexpr double last = kMostColumns - 1;
    static constexpr Field<LogAsk> kRows[] = {
        {{.key = "columns.time_s",
          .type = FieldType::integer,
          .presence = told,
          .least = 0,
          .most = last},
         to<&A::time>()},
        {{.key = "columns.throttle_pct",
          .type = FieldType::integer,
          .presence = told,
          .least = 0,
          .most = last},
         to<&A::throttle>()},
        {{.key = "columns.current_A",
          .type = FieldType::integer,
          .presence = told,
          .least = 0,
          .most = last},
         to<&A::current>()},
        {{.key = "columns.voltage_V",
          .type = FieldType::integer,
          .presence = told,
          .least = 0,
          .most = last},
         to<&A::voltage>()},
        {{.key = "columns.esc_C",
          .type = FieldType::integer,
          .presence = told,
          .least = 0,
          .most = last},
         to<&A::esc>()},
        {{.key = "row_s", .presence = told, .unit = "s", .least = 0, .most = 3600, .above = true},
         to<&A::row_s>()},
        {{.key = "time_unit", .choices = {"s", "ms", "us", "min"}}, to<&A::time_unit>()},
        {{.key = "temperature_unit", .choices = {"C", "F"}}, to<&A::temperature_unit>()},
        {{.key = "throttle_unit", .choices = {"pct", "us", "share"}}, to<&A::throttle_unit>()},
        {{.key = "current_unit", .choices = {"A", "mA"}}, to<&A::current_unit>()},
        {{.key = "voltage_unit", .choices = {"V", "mV"}}, to<&A::voltage_unit>()},
        {{.key = "throttle_ends", .presence = told, .least_count = 2, .most_count = 2},
         to<&A::throttle_ends>()},
    };
    static const FieldTable<LogAsk> table(kRows);
    return table;
}

struct Asked {
    LogAsk ask;
    std::optional<Setup> setup;
};

// Null means not told: the page writes it so.
void drop_nulls(Json& json) {
    if (JsonObject* object = json.as<JsonObject>()) {
        object->erase(std::remove_if(object->begin(), object->end(),
                                     [](const JsonMember& m) { return m.value.is_null(); }),
                      object->end());
    }
}

std::optional<Json> take(Json& json, std::string_view key) {
    JsonObject* object = json.as<JsonObject>();
    if (object == nullptr) return {};
    const auto member = std::find_if(object->begin(), object->end(),
                                     [&](const JsonMember& m) { return m.key == key; });
    if (member == object->end()) return {};
    Json value = std::move(member->value);
    object->erase(member);
    return value;
}

void check_columns(const LogAsk& ask, std::size_t columns, Problems& problems) {
    struct Place {
        const char* key;
        std::optional<double> place;
    };
    const Place all[] = {{"time_s", ask.time},
                         {"throttle_pct", ask.throttle},
                         {"current_A", ask.current},
                         {"voltage_V", ask.voltage},
                         {"esc_C", ask.esc}};
    for (const Place& one : all) {
        if (one.place && *one.place >= static_cast<double>(columns)) {
            problems.push_back({path_join("columns", one.key),
                                number_text(*one.place) + " is beyond the table's last column, " +
                                    number_text(static_cast<double>(columns) - 1)});
        }
    }
    if (!ask.time && !ask.row_s) {
        problems.push_back(
            {"columns.time_s",
             "is missing: tell the time's column, or the seconds from row to row (row_s)"});
    }
    if (ask.throttle_ends.size() == 2 && ask.throttle_ends[0] == ask.throttle_ends[1]) {
        problems.push_back({"throttle_ends", "no and full throttle must differ"});
    }
}

Result<Asked> read_ask(std::string_view options_json, std::size_t columns) {
    Problems problems;
    std::optional<Json> json = parse_json(options_json, problems);
    if (!json) return problems;
    drop_nulls(*json);
    if (JsonObject* object = json->as<JsonObject>()) {
        for (JsonMember& member : *object) {
            if (member.key == "columns") drop_nulls(member.value);
        }
    }
    Asked out;
    if (const std::optional<Json> setup = take(*json, "setup")) {
        Result<Setup> read = parse_setup(write_json(*setup));
        if (const Problems* found = std::get_if<Problems>(&read)) {
            for (const Problem& p : *found) {
                problems.push_back(
                    {p.path.empty() ? std::string("setup") : "setup." + p.path, p.text});
            }
        } else {
            out.setup = std::move(*std::get_if<Setup>(&read));
        }
    }
    const std::size_t before = problems.count();
    read_object(*json, ask_table().fields(), out.ask, "", problems);
    if (problems.count() == before) check_columns(out.ask, columns, problems);
    if (!problems.empty()) return problems;
    return out;
}

/// value = zero + factor * raw.
struct Line {
    double zero = 0, factor = 1;
};

Line seconds_of(const LogAsk& a) {
    switch (a.time_unit) {
        case TimeUnit::seconds:
            return {0, 1};
        case TimeUnit::milliseconds:
            return {0, 1e-3};
        case TimeUnit::microseconds:
            return {0, 1e-6};
        case TimeUnit::minutes:
            return {0, 60};
    }
    return {};
}

Line percent_of(const LogAsk& a) {
    // A servo pulse is 1 to 2 ms from end to end (common practice, no source).
    constexpr double pulse_none_us = 1000;
    constexpr double pulse_full_us = 2000;
    double none = 0;
    double full = 100;
    if (a.throttle_unit == ThrottleUnit::microseconds) {
        none = pulse_none_us;
        full = pulse_full_us;
    } else if (a.throttle_unit == ThrottleUnit::share) {
        full = 1;
    }
    if (a.throttle_ends.size() == 2) {
        none = a.throttle_ends[0];
        full = a.throttle_ends[1];
    }
    const double factor = 100 / (full - none);
    return {-none * factor, factor};
}

std::vector<double> column_of(std::span<const double> table, std::size_t columns,
                              std::optional<double> place, Line line) {
    std::vector<double> out;
    if (!place) return out;
    out.reserve(table.size() / columns);
    for (std::size_t i = static_cast<std::size_t>(*place); i < table.size(); i += columns) {
        out.push_back(line.zero + line.factor * table[i]);
    }
    return out;
}

Log log_of(std::span<const double> table, std::size_t columns, const LogAsk& a) {
    const bool fahrenheit = a.temperature_unit == TemperatureUnit::fahrenheit;
    const auto column = [&](std::optional<double> place, Line line) {
        return column_of(table, columns, place, line);
    };
    Log log{column(a.time, seconds_of(a)), column(a.throttle, percent_of(a)),
            column(a.current, {0, a.current_unit == CurrentUnit::milliampere ? 1e-3 : 1}),
            column(a.voltage, {0, a.voltage_unit == VoltageUnit::millivolt ? 1e-3 : 1}),
            column(a.esc, fahrenheit ? Line{-32 / 1.8, 1 / 1.8} : Line{})};
    if (!a.time) {
        for (std::size_t i = 0; i < table.size() / columns; ++i) {
            log.time_s.push_back(static_cast<double>(i) * *a.row_s);
        }
    }
    return log;
}

double rounded(double value, double step) { return std::round(value / step) * step; }

// A hundredth is finer than any logger; the last digits of a mean would only look exact.
Json hundredth(double value) { return Json{rounded(value, 0.01)}; }

/// The measured row of a setup.
Json row_json(const LoggedHold& hold) {
    const MeasuredRow& row = hold.row;
    Json out{JsonObject{}};
    put(out, "throttle_pct", hold.throttle_told ? Json{rounded(row.throttle_pct, 0.1)} : Json{});
    const auto tell = [&](const char* key, std::optional<double> value) {
        if (value) put(out, key, hundredth(*value));
    };
    tell("pack_A", row.pack_A);
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
        if (field.key != "measured") continue;
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
double into_session(const CleanLog& log, std::size_t session, double t) {
    return t - log.samples[log.sessions[session].first].begin_s;
}

std::string hold_text(const LoggedHold& hold, const CleanLog& log) {
    const MeasuredRow& row = hold.row;
    std::string text = hold.throttle_told ? say("%.0f %%", row.throttle_pct) : "Throttle not known";
    if (row.pack_A) text += say(", %.0f A", *row.pack_A);
    text += " for " + clock_text(row.hold_s.value_or(0)) + " from " +
            clock_text(into_session(log, hold.session, hold.start_s));
    if (row.start_C && row.esc_peak_C) {
        text += say(": ESC from %.0f deg C to %.0f deg C at most", *row.start_C, *row.esc_peak_C);
    }
    return text + ".";
}

void write_damage(Writer& w, const CleanLog& log) {
    w.key("damaged").begin('[');
    for (const DamagedRows& d : log.damaged) {
        w.begin('{')
            .pair("reason", damage_text(d.reason))
            .pair("count", static_cast<double>(d.count))
            .key("first_rows")
            .begin('[');
        for (const std::size_t row : d.first_rows) w.value(static_cast<double>(row));
        w.end(']').end('}');
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
                              {"esc_C", &LogSample::esc_C}};
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
    if (log.sessions.size() > 1) text += say(" of session %zu", h.worst_session + 1);
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

std::string answer(const Log& columns, const std::optional<Setup>& setup) {
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
    write_damage(w, log);
    write_sessions(w, log);
    write_ranges(w, log);
    w.key("steady_by");
    if (const char* word = name(by)) {
        w.value(word);
    } else {
        w.raw("null");
    }
    w.key("holds").begin('[');
    for (const LoggedHold& hold : holds) write_hold(w, hold, log);
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

}  // namespace

Result<std::string> log_text(std::span<const double> table, std::size_t columns,
                             std::string_view options_json) {
    if (columns == 0 || static_cast<double>(columns) > kMostColumns ||
        table.size() % columns != 0) {
        return Problems{{"table", "must be whole rows of 1 to 1000 columns, not " +
                                      number_text(static_cast<double>(table.size())) +
                                      " numbers in rows of " +
                                      number_text(static_cast<double>(columns))}};
    }
    if (static_cast<double>(table.size()) > kMostRows * static_cast<double>(columns)) {
        return Problems{{"table", "has more than 4000000 rows"}};
    }
    const Result<Asked> read = read_ask(options_json, columns);
    if (const Problems* problems = std::get_if<Problems>(&read)) return *problems;
    const Asked& asked = *std::get_if<Asked>(&read);
    return answer(log_of(table, columns, asked.ask), asked.setup);
}

}  // namespace hotband
