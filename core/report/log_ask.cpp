// What a log's columns are, read from the door's options, and their numbers in our units.
#include "report/log_ask.hpp"

#include <algorithm>

#include "setup/read.hpp"

namespace hotband {
namespace {

using enum Presence;

// Choices stand in the order of their enums.
const FieldTable<LogAsk>& ask_table() {
    using A = LogAsk;
    constexpr double last = static_cast<double>(most_log_columns - 1);
    static constexpr Field<LogAsk> rows[] = {
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
        {{.key = "columns.rpm",
          .type = FieldType::integer,
          .presence = told,
          .least = 0,
          .most = last},
         to<&A::rpm>()},
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
    static const FieldTable<LogAsk> table(rows);
    return table;
}

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
    if (object == nullptr) {
        return {};
    }
    const auto member = std::find_if(object->begin(), object->end(),
                                     [&](const JsonMember& m) { return m.key == key; });
    if (member == object->end()) {
        return {};
    }
    Json value = std::move(member->value);
    object->erase(member);
    return value;
}

void check_columns(const LogAsk& ask, size_t columns, Problems& problems) {
    struct Place {
        const char* key;
        std::optional<double> place;
    };
    const Place all[] = {{"time_s", ask.time},       {"throttle_pct", ask.throttle},
                         {"current_A", ask.current}, {"voltage_V", ask.voltage},
                         {"esc_C", ask.esc},         {"rpm", ask.rpm}};
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

}  // namespace

Result<LogAsked> read_log_ask(Json options, size_t columns) {
    Problems problems;
    drop_nulls(options);
    if (JsonObject* object = options.as<JsonObject>()) {
        for (JsonMember& member : *object) {
            if (member.key == "columns") {
                drop_nulls(member.value);
            }
        }
    }
    LogAsked out;
    if (const std::optional<Json> setup = take(options, "setup")) {
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
    const size_t before = problems.count();
    read_object(options, ask_table().fields(), out.ask, "", problems);
    if (problems.count() == before) {
        check_columns(out.ask, columns, problems);
    }
    if (!problems.empty()) {
        return problems;
    }
    return out;
}

namespace {

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

std::vector<double> column_of(std::span<const double> table, size_t columns,
                              std::optional<double> place, Line line) {
    std::vector<double> out;
    if (!place) {
        return out;
    }
    out.reserve(table.size() / columns);
    for (size_t i = static_cast<size_t>(*place); i < table.size(); i += columns) {
        out.push_back(line.zero + line.factor * table[i]);
    }
    return out;
}

}  // namespace

Log log_of(std::span<const double> table, size_t columns, const LogAsk& a) {
    const bool fahrenheit = a.temperature_unit == TemperatureUnit::fahrenheit;
    const auto column = [&](std::optional<double> place, Line line) {
        return column_of(table, columns, place, line);
    };
    Log log{column(a.time, seconds_of(a)),
            column(a.throttle, percent_of(a)),
            column(a.current, {0, a.current_unit == CurrentUnit::milliampere ? 1e-3 : 1}),
            column(a.voltage, {0, a.voltage_unit == VoltageUnit::millivolt ? 1e-3 : 1}),
            column(a.esc, fahrenheit ? Line{-32 / 1.8, 1 / 1.8} : Line{}),
            column(a.rpm, Line{})};
    if (!a.time) {
        for (size_t i = 0; i < table.size() / columns; ++i) {
            log.time_s.push_back(static_cast<double>(i) * *a.row_s);
        }
    }
    return log;
}

}  // namespace hotband
