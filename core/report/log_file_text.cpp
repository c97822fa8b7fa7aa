// The door for a logger's file: its bytes in; what its columns are, as found and guessed, and what
// the log says out.
#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

#include "logger/roles.hpp"
#include "logger/table.hpp"
#include "report/door.hpp"
#include "report/log_answer.hpp"
#include "report/log_ask.hpp"
#include "report/writer.hpp"
#include "setup/read.hpp"

namespace hotband {
namespace {

using namespace logger;

constexpr size_t piece_bytes = 1 << 20;

Problems no_log(std::string text) { return {{"log", std::move(text)}}; }

std::optional<size_t>& place_of(ByRole<size_t>& places, Role role) {
    return places[static_cast<size_t>(role)];
}

/// What was told wins over what is guessed; a column that is told to be one thing is no other.
struct Choice {
    ByRole<size_t> places;
    ByRole<Guess> guesses;  // those that were taken
};

Choice choose(const Layout& layout, const Json& options) {
    Choice out;
    out.guesses = guess_roles(layout);
    // without a clock of its own the log runs by its rows; a clock is nothing else besides
    auto& clock = out.guesses[static_cast<size_t>(Role::time)];
    for (const Role role : roles) {
        const auto& guess = out.guesses[static_cast<size_t>(role)];
        if (role != Role::time && clock && guess && guess->column == clock->column) {
            clock.reset();
        }
    }
    if (find(options, "row_s") != nullptr) {
        clock.reset();
    }
    std::vector<double> told;
    for (const Role role : roles) {
        auto& guess = out.guesses[static_cast<size_t>(role)];
        if (const Json* column = find(options, path_join("columns", role_name(role)))) {
            guess.reset();
            const double* place = column->as<double>();
            if (place != nullptr && *place == std::floor(*place) && *place >= 0 &&
                *place < static_cast<double>(layout.columns.size())) {
                place_of(out.places, role) = static_cast<size_t>(*place);
                told.push_back(*place);
            }
        }
    }
    for (const Role role : roles) {
        auto& guess = out.guesses[static_cast<size_t>(role)];
        if (guess &&
            std::find(told.begin(), told.end(), static_cast<double>(guess->column)) != told.end()) {
            guess.reset();
        }
        if (guess) {
            place_of(out.places, role) = guess->column;
        }
    }
    return out;
}

/// The options with the guesses filled in.
Json filled(Json options, const Choice& choice, const Units& units) {
    for (const Role role : roles) {
        if (const auto& guess = choice.guesses[static_cast<size_t>(role)]) {
            put(options, path_join("columns", role_name(role)),
                Json(static_cast<double>(guess->column)));
        }
    }
    const std::pair<std::string_view, std::string_view> found[] = {
        {"time_unit", units.time},
        {"throttle_unit", units.throttle},
        {"current_unit", units.current},
        {"voltage_unit", units.voltage},
        {"temperature_unit", units.temperature}};
    for (const auto& [key, unit] : found) {
        const Json* told = find(options, key);
        if (told == nullptr || told->is_null()) {
            put(options, key, Json(std::string(unit)));
        }
    }
    return options;
}

void write_lines(Writer& w, const NamedLines& lines) {
    w.pair("count", static_cast<double>(lines.count)).key("first_lines").begin('[');
    for (const size_t line : lines.first_lines) {
        w.value(static_cast<double>(line));
    }
    w.end(']');
}

std::string file_json(const Layout& layout, const Choice& choice, const Json& options,
                      const Table& table) {
    Writer w;
    w.begin('{')
        .pair("encoding", encoding_name(layout.encoding))
        .pair("delimiter", std::string_view(layout.delimiter))
        .pair("decimal", layout.decimal == Decimal::comma ? "," : ".")
        .pair("decimal_sure", layout.decimal_sure)
        .pair("header_line", static_cast<double>(layout.header_line))
        .pair("first_data_line", static_cast<double>(layout.data_line))
        .key("columns")
        .begin('[');
    for (const Column& column : layout.columns) {
        w.begin('{')
            .pair("name", std::string_view(column.name))
            .pair("unit", std::string_view(column.unit))
            .pair("kind", kind_name(column.kind))
            .end('}');
    }
    w.end(']').key("roles").begin('{');
    for (const Role role : roles) {
        const auto place = choice.places[static_cast<size_t>(role)];
        w.key(role_name(role));
        if (!place) {
            w.raw("null");
            continue;
        }
        const auto& guess = choice.guesses[static_cast<size_t>(role)];
        w.begin('{')
            .pair("column", static_cast<double>(*place))
            .pair("name", std::string_view(layout.columns[*place].name))
            .pair("confidence", guess ? confidence_name(guess->confidence) : "told")
            .end('}');
    }
    w.end('}').key("units").begin('{');
    for (const char* key :
         {"time_unit", "throttle_unit", "current_unit", "voltage_unit", "temperature_unit"}) {
        w.key(key).raw(write_json(*find(options, key)));
    }
    w.end('}').key("unreadable").begin('[');
    for (const Unreadable& bad : table.unreadable) {
        w.begin('{')
            .pair("column", static_cast<double>(bad.column))
            .pair("name", std::string_view(layout.columns[bad.column].name));
        write_lines(w, bad.lines);
        w.key("examples").begin('[');
        for (const std::string& example : bad.examples) {
            w.value(std::string_view(example));
        }
        w.end(']').end('}');
    }
    w.end(']').key("short_lines").begin('{');
    write_lines(w, table.short_lines);
    w.end('}').pair("empty_lines", static_cast<double>(table.empty_lines)).end('}');
    return w.take();
}

/// The place of a file's column among those read.
void to_table(std::optional<double>& place, const std::vector<size_t>& read) {
    if (place) {
        const auto at = std::find(read.begin(), read.end(), static_cast<size_t>(*place));
        place = static_cast<double>(at - read.begin());
    }
}

}  // namespace

Result<std::string> log_file_text(std::string_view bytes, std::string_view options_json) {
    if (bytes.empty()) {
        return no_log("is empty");
    }
    if (bytes.size() > most_log_bytes) {
        return no_log("is longer than 256 MB");
    }
    Problems problems;
    std::optional<Json> options = parse_json(options_json, problems);
    if (!options) {
        return Problems{{"options", problems.front().text}};
    }
    if (options->as<JsonObject>() == nullptr) {
        return Problems{{"options", "must be an object"}};
    }
    const Json* columns = find(*options, "columns");
    if (columns != nullptr && !columns->is_null() && columns->as<JsonObject>() == nullptr) {
        return Problems{{"columns", "must be an object, not " + described(*columns)}};
    }
    const Layout layout = layout_of(bytes.substr(0, head_bytes), bytes.size() <= head_bytes);
    if (layout.sample.empty()) {
        return no_log(
            "holds no rows of figures: a log is text with a row for each moment and a column for "
            "each figure");
    }
    if (layout.columns.size() > most_log_columns) {
        return no_log("has more than 1000 columns");
    }
    const Choice choice = choose(layout, *options);
    const Json told = filled(*std::move(options), choice, guess_units(layout, choice.places));
    Result<LogAsked> read = read_log_ask(told, layout.columns.size());
    if (Problems* found = std::get_if<Problems>(&read)) {
        return std::move(*found);
    }
    const LogAsked& asked = *std::get_if<LogAsked>(&read);
    LogAsk ask = asked.ask;
    if (!ask.throttle && !ask.current && !ask.voltage && !ask.esc && !ask.rpm) {
        return no_log(
            "holds no column that shows itself as throttle, current, voltage, ESC temperature or "
            "motor speed; tell which are (columns)");
    }
    std::vector<size_t> places;
    for (const auto& place : choice.places) {
        if (place && std::find(places.begin(), places.end(), *place) == places.end()) {
            places.push_back(*place);
        }
    }
    TableReader reader(layout, places);
    for (size_t at = 0; at < bytes.size(); at += piece_bytes) {
        reader.add(bytes.substr(at, piece_bytes));
        if (reader.rows() > most_log_rows) {
            return no_log("has more than 4000000 rows");
        }
    }
    const Table table = reader.finish();
    if (ask.time && layout.columns[static_cast<size_t>(*ask.time)].kind != Kind::number) {
        ask.time_unit = TimeUnit::seconds;
    }
    for (auto* place : {&ask.time, &ask.throttle, &ask.current, &ask.voltage, &ask.esc, &ask.rpm}) {
        to_table(*place, places);
    }
    const Log log = log_of(table.numbers, places.size(), ask);
    const std::string answer = log_answer(log, asked.setup, table.lines);
    return "{\"file\":" + file_json(layout, choice, told, table) + "," + answer.substr(1);
}

}  // namespace hotband
