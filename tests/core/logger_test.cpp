// Is a logger's file read as it is meant? Files of every layout are written here from known figures
// and must come back as those figures, with every cell that cannot be read counted. Cells, headings
// and words are listed in tests/logs, where the page's own reader (tests/unit/log_test.ts) finds
// them too: both must read them alike. 2024-05-01 12:00 UTC is 1714564800 there (date -u -d
// 2024-05-01T12:00Z +%s). Generated files state their generator and seed.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdint>
#include <iterator>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

#include "files.hpp"
#include "logger/roles.hpp"
#include "logger/table.hpp"
#include "logger/units.hpp"
#include "logger/words.hpp"
#include "near.hpp"
#include "report/door.hpp"
#include "setup/json.hpp"

using namespace hotband;
using namespace hotband::logger;

namespace {

using Rows = std::vector<std::vector<double>>;

const Rows figures = {{0, 0, 0.5, 25.2, 24},
                      {0.5, 41.5, 12.25, 24.6, 24.5},
                      {1, 41.5, 12.5, 24.5, 25.5},
                      {1.5, 100, 88.75, 23.1, 1031.5}};

Layout layout_of_text(const std::string& text) {
    return layout_of(std::string_view(text).substr(0, head_bytes), text.size() <= head_bytes);
}

std::vector<size_t> all_places(const Layout& layout) {
    std::vector<size_t> places(layout.columns.size());
    for (size_t i = 0; i < places.size(); ++i) {
        places[i] = i;
    }
    return places;
}

Table table_of(const std::string& text, const Layout& layout, std::vector<size_t> places,
               size_t piece = std::string::npos) {
    TableReader reader(layout, std::move(places));
    for (size_t at = 0; at < text.size(); at += std::min(piece, text.size() - at)) {
        reader.add(std::string_view(text).substr(at, piece));
    }
    return reader.finish();
}

struct Read {
    Layout layout;
    Rows rows;
};

Read read(const std::string& text, size_t piece = std::string::npos) {
    Read out{layout_of_text(text), {}};
    const size_t width = out.layout.columns.size();
    const Table table = table_of(text, out.layout, all_places(out.layout), piece);
    REQUIRE(table.numbers.size() == table.rows * width);
    for (size_t row = 0; row < table.rows; ++row) {
        out.rows.emplace_back(
            table.numbers.begin() + static_cast<std::ptrdiff_t>(row * width),
            table.numbers.begin() + static_cast<std::ptrdiff_t>((row + 1) * width));
    }
    return out;
}

std::string replaced(std::string text, char from, const std::string& to) {
    const size_t at = text.find(from);
    return at == text.npos ? text : text.replace(at, 1, to);
}

std::string joined(const std::vector<std::string>& cells, const std::string& with) {
    std::string out;
    for (const std::string& cell : cells) {
        out += (&cell == &cells.front() ? "" : with) + cell;
    }
    return out;
}

const std::vector<std::string> names = {"Time (s)", "Throttle (%)", "Current (A)", "Voltage (V)",
                                        "ESC temp (\u00b0C)"};

/// One file in a dialect.
std::string written(const std::string& decimal, const std::string& delimiter, bool quoted,
                    const std::string& end) {
    const auto line = [&](std::vector<std::string> cells) {
        for (std::string& cell : cells) {
            cell = quoted ? '"' + cell + '"' : cell;
        }
        return joined(cells, delimiter) + end;
    };
    std::string out = line(names);
    for (const std::vector<double>& row : figures) {
        std::vector<std::string> cells;
        for (const double number : row) {
            cells.push_back(replaced(number_text(number), '.', decimal));
        }
        out += line(cells);
    }
    return out;
}

/// mulberry32 (T. Ettinger; from memory): numbers from 0 to 1 by a seed.
class Random {
 public:
    explicit Random(std::uint32_t seed) : state_(seed) {}
    double next() {
        state_ += 0x6d2b79f5;
        std::uint32_t t = (state_ ^ (state_ >> 15)) * (state_ | 1);
        t ^= t + (t ^ (t >> 7)) * (t | 61);
        return static_cast<double>(t ^ (t >> 14)) / 4294967296.0;
    }
    size_t below(size_t count) { return static_cast<size_t>(next() * static_cast<double>(count)); }

 private:
    std::uint32_t state_;
};

using Line = std::vector<std::string>;

double number_at(const Json& json, std::string_view key) {
    const Json* value = find(json, key);
    REQUIRE(value != nullptr);
    REQUIRE(value->as<double>() != nullptr);
    return *value->as<double>();
}

std::string text_at(const Json& json, std::string_view key) {
    const Json* value = find(json, key);
    REQUIRE(value != nullptr);
    REQUIRE(value->as<std::string>() != nullptr);
    return *value->as<std::string>();
}

const JsonList& list_at(const Json& json, std::string_view key) {
    const Json* value = find(json, key);
    REQUIRE(value != nullptr);
    REQUIRE(value->as<JsonList>() != nullptr);
    REQUIRE_FALSE(value->as<JsonList>()->empty());
    return *value->as<JsonList>();
}

Line texts(const Json& list) {
    Line out;
    for (const Json& text : *list.as<JsonList>()) {
        out.push_back(*text.as<std::string>());
    }
    return out;
}

Line line_at(const Json& json, std::string_view key) { return texts(*find(json, key)); }

Line sorted(Line line) {
    std::sort(line.begin(), line.end());
    return line;
}

/// Words parted by spaces.
Line split(std::string_view words) {
    std::istringstream stream{std::string(words)};
    return {std::istream_iterator<std::string>(stream), {}};
}

/// What the page's own reader is held to as well (tests/unit/log_test.ts).
Json listed(const std::string& file) {
    Problems problems;
    const auto json = parse_json(test::text_of_file("tests/logs/" + file), problems);
    REQUIRE(problems.empty());
    REQUIRE(json);
    return *json;
}

const Json& listed_cells() {
    static const Json json = listed("cells.json");
    return json;
}

}  // namespace

TEST_CASE("logger: each cell is what the list says, by every way to read one") {
    size_t cells = 0;
    for (const auto& [group, rows] : *find(listed_cells(), "cells")->as<JsonObject>()) {
        CAPTURE(group);
        for (const Json& row : *rows.as<JsonList>()) {
            const std::string cell = text_at(row, "cell");
            CAPTURE(cell);
            const auto is = [&](double found, std::string_view key) {
                const Json* told = find(row, key);
                CAPTURE(key, found);
                return told == nullptr ? std::isnan(found) : found == *told->as<double>();
            };
            const double point = number_in(cell, Decimal::point);
            const double comma = number_in(cell, Decimal::comma);
            CHECK(is(point, "point"));
            CHECK(is(comma, "comma"));
            CHECK(is(clock_in(cell), "clock"));
            CHECK(is(date_in(cell), "date"));
            CHECK(is_missing(cell) == (find(row, "missing") != nullptr));
            const Json* told = find(row, "unit");
            const std::string unit = told == nullptr ? "" : *told->as<std::string>();
            CHECK(unit_behind(cell, Decimal::point) == (std::isnan(point) ? "" : unit));
            CHECK(unit_behind(cell, Decimal::comma) == (std::isnan(comma) ? "" : unit));
            ++cells;
        }
    }
    CHECK(cells > 250);
}

TEST_CASE("logger: the decimal sign is told by the cells, and doubt is said") {
    for (const Json& row : list_at(listed_cells(), "decimals")) {
        const Line cells = line_at(row, "cells");
        CAPTURE(cells);
        const DecimalFound found = decimal_of({cells.begin(), cells.end()});
        CHECK(std::string(1, static_cast<char>(found.decimal)) == text_at(row, "decimal"));
        CHECK(found.sure == *find(row, "sure")->as<bool>());
    }
}

TEST_CASE("logger: quotes that do not add up are ordinary characters, and left out") {
    for (const Json& row : list_at(listed_cells(), "lines")) {
        const std::string line = text_at(row, "line");
        CAPTURE(line);
        Line cells;
        cells_of(line, ",", cells);
        CHECK(cells == line_at(row, "cells"));
    }
}

TEST_CASE("logger: bytes are the characters that the list says, those cut off too") {
    for (const Json& row : list_at(listed_cells(), "heads")) {
        const std::string written = text_at(row, "bytes");
        CAPTURE(written);
        std::string bytes;
        for (size_t at = 0; at < written.size(); at += 3) {
            bytes += static_cast<char>(std::stoi(written.substr(at, 2), nullptr, 16));
        }
        const Encoding encoding = encoding_of(bytes);
        CHECK(encoding_name(encoding) == text_at(row, "encoding"));
        CHECK(head_lines(bytes, encoding, true) == line_at(row, "lines"));
    }
}

TEST_CASE("logger: the words of units and names are those of the list, all of them") {
    const Json words = listed("words.json");
    Line want;
    for (const auto& [unit, spelled] : *find(words, "units")->as<JsonObject>()) {
        for (const std::string& word : texts(spelled)) {
            want.push_back(word + " is " + unit);
            CHECK(unit_named(word) == unit);
        }
    }
    Line have;
    for (const Spelling& spelling : spellings) {
        have.push_back(std::string(spelling.word) + " is " + std::string(spelling.unit));
    }
    CHECK(sorted(have) == sorted(want));
    CHECK(Line(std::begin(unit_letters), std::end(unit_letters)) == line_at(words, "letters"));
    for (const Role role : roles) {
        CAPTURE(role_name(role));
        const Sign& sign = signs[static_cast<size_t>(role)];
        const Json& listed_sign = *find(words, "roles." + std::string(role_name(role)));
        CHECK(split(sign.words) == line_at(listed_sign, "words"));
        CHECK(split(sign.units) == line_at(listed_sign, "units"));
        CHECK(split(sign.never) == line_at(listed_sign, "never"));
    }
    CHECK(find(words, "roles")->as<JsonObject>()->size() == roles.size());
    CHECK(split(esc_words) == line_at(words, "esc"));
}

TEST_CASE("logger: headings are parted into name and unit") {
    const Json words = listed("words.json");
    for (const Json& row : list_at(words, "headings")) {
        const Line heading = texts(row);
        CAPTURE(heading);
        const Heading found = heading_of(heading[0]);
        CHECK(found.name == heading[1]);
        CHECK(found.unit == heading[2]);
    }
}

TEST_CASE("logger: the figures come back from every dialect") {
    struct Dialect {
        std::string delimiter, decimal;
        bool quoted;
    };
    const auto dialect =
        GENERATE(Dialect{",", ".", false}, Dialect{";", ".", false}, Dialect{";", ",", false},
                 Dialect{"\t", ",", false}, Dialect{"\t", ".", false}, Dialect{"|", ".", false},
                 Dialect{",", ",", true}, Dialect{",", ".", true}, Dialect{";", ",", true});
    const std::string end = GENERATE("\n", "\r\n", "\r");
    const std::string text = written(dialect.decimal, dialect.delimiter, dialect.quoted, end);
    CAPTURE(text);
    const Read found = read(text);
    CHECK(found.layout.delimiter == dialect.delimiter);
    CHECK(std::string(1, static_cast<char>(found.layout.decimal)) == dialect.decimal);
    CHECK(found.layout.header_line == 1);
    CHECK(found.rows == figures);
    Line units;
    for (const Column& column : found.layout.columns) {
        units.push_back(column.unit);
    }
    CHECK(units == Line{"s", "pct", "A", "V", "C"});
}

TEST_CASE("logger: encodings, by marks, UTF-16 without one, and the old eight bits") {
    const std::string text = written(",", ";", false, "\r\n");
    std::string latin;
    std::string little;
    std::string big;
    for (size_t at = 0; at < text.size();) {
        const Character c = character_at(text, at);
        at += c.bytes;
        latin += static_cast<char>(c.value);
        little += {static_cast<char>(c.value), '\0'};
        big += {'\0', static_cast<char>(c.value)};
    }
    const std::vector<std::pair<std::string, std::string>> files = {
        {"\xEF\xBB\xBF" + text, "utf-8"}, {text, "utf-8"},      {"\xFF\xFE" + little, "utf-16le"},
        {"\xFE\xFF" + big, "utf-16be"},   {little, "utf-16le"}, {big, "utf-16be"},
        {latin, "windows-1252"}};
    for (const auto& [bytes, encoding] : files) {
        CAPTURE(encoding);
        for (const size_t piece : {std::string::npos, size_t{1}, size_t{7}}) {
            const Read found = read(bytes, piece);
            CHECK(encoding_name(found.layout.encoding) == encoding);
            CHECK(found.rows == figures);
            CHECK(found.layout.columns[4].unit == "C");
            CHECK(found.layout.columns[0].name == "Time");
        }
    }
}

TEST_CASE("logger: a head that ends within a character is still UTF-8") {
    CHECK(encoding_of("25 \xC2") == Encoding::utf_8);
    CHECK(encoding_of("25 \xC2 ") == Encoding::windows_1252);
}

TEST_CASE("logger: what is no character becomes U+FFFD, once for each longest beginning of one") {
    // Unicode 15, table 3-8 (from memory), and a pair of UTF-16 cut in two
    const auto decoded = [](Encoding encoding, std::string_view bytes) {
        std::string out;
        Decoder decoder(encoding);
        for (const char byte : bytes) {
            decoder.decode(std::string_view(&byte, 1), out);
        }
        decoder.finish(out);
        return out;
    };
    CHECK(decoded(Encoding::utf_8,
                  "a\xF1\x80\x80\xE1\x80\xC2"
                  "b\x80"
                  "c\x80\xBF"
                  "d") == "a\uFFFD\uFFFD\uFFFDb\uFFFDc\uFFFD\uFFFDd");
    CHECK(decoded(Encoding::utf_8, "\xF0\x9F\x9B\xA9") == "\U0001F6E9");
    CHECK(decoded(Encoding::utf_8, "x\xF0\x9F") == "x\uFFFD");
    CHECK(decoded(Encoding::utf_16be, std::string_view("\xD8\x3D\xDE\xE9\xD8\x3D\0a\xD8", 9)) ==
          "\U0001F6E9\uFFFDa\uFFFD");
    CHECK(decoded(Encoding::windows_1252, "\x80\xB0") == "\u20AC\u00b0");
}

TEST_CASE("logger: a preamble, a line of units and empty lines are no data") {
    const std::string text =
        "Device log\nStarted;2024-05-01 12:00:00\n\nTime;Current;ESC "
        "temperature\n[ms];[A];[\u00b0C]\n0;1.5;24\n\n100;2.5;25\n200;3.5;26\n";
    const Layout layout = layout_of_text(text);
    CHECK(layout.header_line == 4);
    CHECK(layout.data_line == 6);
    REQUIRE(layout.columns.size() == 3);
    CHECK(layout.columns[0].name == "Time");
    CHECK(layout.columns[0].unit == "ms");
    CHECK(layout.columns[1].unit == "A");
    CHECK(layout.columns[2].name == "ESC temperature");
    CHECK(layout.columns[2].unit == "C");
    const Table table = table_of(text, layout, {0, 2});
    CHECK(table.numbers == std::vector<double>{0, 24, 100, 25, 200, 26});
    CHECK(table.lines == std::vector<std::uint32_t>{6, 8, 9});
    CHECK(table.empty_lines == 1);
}

TEST_CASE("logger: a spreadsheet's hint names the delimiter, and is no header") {
    const Read found = read("sep=;\nt;A\n0;1,5\n1;2,5\n");
    CHECK(found.layout.delimiter == ";");
    CHECK(found.rows == Rows{{0, 1.5}, {1, 2.5}});
    CHECK(read("sep=;\n0;1,5\n1;2,5\n").layout.header_line == 0);
    CHECK(read("\"sep=;\"\r\n0;1,5\r\n1;2,5\r\n").layout.header_line == 0);
    const Read tabbed = read("sep=\t\n0\t1,5\n1\t2,5\n");
    CHECK(tabbed.layout.delimiter == "\t");
    CHECK(tabbed.layout.header_line == 0);
    CHECK(tabbed.rows == Rows{{0, 1.5}, {1, 2.5}});
    // no delimiter is named: the line is one of the preamble
    for (const char* none : {"sep=", "sep= ", "sep=x", "\"sep=\""}) {
        CAPTURE(none);
        const Read unnamed = read(std::string(none) + "\n0;1,5\n1;2,5\n");
        CHECK(unnamed.layout.delimiter == ";");
        CHECK(unnamed.rows == Rows{{0, 1.5}, {1, 2.5}});
    }
}

TEST_CASE("logger: without a header columns are numbered, and the first line is data") {
    const Read found = read("0,1.5\n0.1,2.5\n0.2,3.5\n");
    CHECK(found.layout.header_line == 0);
    REQUIRE(found.layout.columns.size() == 2);
    CHECK(found.layout.columns[0].name == "Column 1");
    CHECK(found.layout.columns[1].name == "Column 2");
    CHECK(found.rows.size() == 3);
}

TEST_CASE("logger: a header whose quoted names hold line breaks") {
    const Read found = read("\"Time\n(s)\",\"ESC temp\n(\u00b0C)\"\n0,24.5\n1,25.5\n2,26.5\n");
    CHECK(found.layout.data_line == 4);
    REQUIRE(found.layout.columns.size() == 2);
    CHECK(found.layout.columns[0].name == "Time");
    CHECK(found.layout.columns[0].unit == "s");
    CHECK(found.layout.columns[1].name == "ESC temp");
    CHECK(found.rows == Rows{{0, 24.5}, {1, 25.5}, {2, 26.5}});
}

TEST_CASE("logger: a name with a stray quote, and a cell with one, cost no other cell") {
    const Read open = read("\"Time\",I,ESC temp\n0,\"1,24\n1,\"2,25\n2,3,26\n");
    CHECK(open.layout.data_line == 2);
    CHECK(open.rows == Rows{{0, 1, 24}, {1, 2, 25}, {2, 3, 26}});
    const Read inch = read("Time,Propeller 5\",ESC temp\n0,\"1,24\n1,2,25\n2,3,26\n");
    REQUIRE(inch.layout.columns.size() == 3);
    CHECK(inch.layout.columns[1].name == "Propeller 5\"");
    CHECK(inch.rows == Rows{{0, 1, 24}, {1, 2, 25}, {2, 3, 26}});
}

TEST_CASE("logger: garbage, cut lines and trailing text are counted and named") {
    std::string text = "time,current,temp\n";
    const auto good = [](int i) {
        return std::to_string(i) + "," + std::to_string(20 + i) + "," + std::to_string(30 + i) +
               "\n";
    };
    for (int i = 0; i < 6; ++i) {
        text += good(i);
    }
    text += "0x1F,FFFF,1A2B\n" + good(7);   // lines 8 and 9
    text += "8,2\n9,\"29,39\n" + good(10);  // line 10: cut; line 11: a stray quote
    text += "end of log\n\n";               // line 13
    const Layout layout = layout_of_text(text);
    const Table table = table_of(text, layout, {0, 1, 2});
    CHECK(table.rows == 12);
    CHECK(table.empty_lines == 1);
    using Numbers = std::vector<size_t>;
    CHECK(table.short_lines.count == 2);
    CHECK(table.short_lines.first_lines == Numbers{10, 13});
    REQUIRE(table.unreadable.size() == 3);
    CHECK(table.unreadable[0].lines.first_lines == Numbers{8, 13});
    CHECK(table.unreadable[0].examples == Line{"0x1F", "end of log"});
    CHECK(table.unreadable[1].lines.first_lines == Numbers{8});
    CHECK(table.unreadable[1].examples == Line{"FFFF"});
    CHECK(table.unreadable[2].examples == Line{"1A2B"});
    CHECK(std::vector<double>(table.numbers.begin() + 27, table.numbers.begin() + 30) ==
          std::vector<double>{9, 29, 39});
    CHECK(table.lines[9] == 11);
}

TEST_CASE("logger: an example that is cut short ends with a whole character") {
    const std::string long_name(39, 'x');
    const std::string text = "t,a\n0,1\n1,2\n2," + long_name + "\U0001F6E9\n3,4\n";
    const Table table = table_of(text, layout_of_text(text), {0, 1});
    REQUIRE(table.unreadable.size() == 1);
    CHECK(table.unreadable[0].examples == Line{long_name});
}

TEST_CASE("logger: a clock past midnight goes on, dates with their time are seconds") {
    const Rows clock = read("time,A\n23:59:59.5,1\n00:00:00.0,2\n00:00:00.5,3\n").rows;
    REQUIRE(clock.size() == 3);
    CHECK(clock[1][0] - clock[0][0] == 0.5);
    CHECK(clock[2][0] - clock[0][0] == 1);
    const Read date = read("stamp;esc_C\n01.05.2024 12:00:00,5;30,5\n01.05.2024 12:00:01,5;31,5\n");
    CHECK(date.layout.columns[0].kind == Kind::date);
    REQUIRE(date.rows.size() == 2);
    CHECK(date.rows[1][0] - date.rows[0][0] == 1);
    CHECK(date.rows[1][1] == 31.5);
}

TEST_CASE("logger: roles are guessed from names as the list says, with how sure that is") {
    const Json words = listed("words.json");
    for (const Json& row : list_at(words, "guesses")) {
        const Line header = line_at(row, "header");
        CAPTURE(header);
        // figures that go on, so that the names alone tell
        std::string text = joined(header, ",") + "\n";
        for (size_t i = 0; i < 20; ++i) {
            Line figures_on;
            for (size_t k = 0; k < header.size(); ++k) {
                figures_on.push_back(std::to_string(i + k));
            }
            text += joined(figures_on, ",") + "\n";
        }
        const auto guesses = guess_roles(layout_of_text(text));
        for (const Role role : roles) {
            CAPTURE(role_name(role));
            const auto& guess = guesses[static_cast<size_t>(role)];
            const Json* told = find(row, "roles." + std::string(role_name(role)));
            const std::string found = guess ? std::to_string(guess->column) + " " +
                                                  std::string(confidence_name(guess->confidence))
                                            : "";
            CHECK(found == (told == nullptr ? "" : *told->as<std::string>()));
        }
    }
}

TEST_CASE("logger: units are told by the file, or by the size of the figures") {
    const auto units = [](const std::string& header, double time_step, double from, double step) {
        std::string text = header + "\n";
        for (int i = 0; i < 30; ++i) {
            text += number_text(i * time_step) + "," + number_text(from + i * step) + "\n";
        }
        const Layout layout = layout_of_text(text);
        ByRole<size_t> places;
        const auto guesses = guess_roles(layout);
        for (size_t i = 0; i < places.size(); ++i) {
            if (guesses[i]) {
                places[i] = guesses[i]->column;
            }
        }
        return guess_units(layout, places);
    };
    CHECK(units("time,thr", 100, 1000, 1).time == "ms");
    CHECK(units("time,thr", 20000, 1, 0).time == "us");
    CHECK(units("time,thr", 0.1, 1, 0).time == "s");
    CHECK(units("time,thr", 1, 1000, 1).throttle == "us");
    CHECK(units("time,thr", 1, 0, 1.0 / 30).throttle == "share");
    CHECK(units("time,thr", 1, 0, 1).throttle == "pct");
    CHECK(units("time,esc temp (\u00b0F)", 1, 0, 1).temperature == "F");
    CHECK(units("time,current [mA]", 1, 0, 1).current == "mA");
    CHECK(units("time,a [mV]", 1, 0, 1).voltage == "mV");
    // no figures tell nothing
    CHECK(units("time,a", 1, 0, 1).throttle == "pct");
}

TEST_CASE("logger: pieces of a large file join without a seam") {
    // generator: mulberry32, seed 5; rows with a multi-byte sign in each, CRLF
    Random random(5);
    std::string text = "t;temp;note\r\n";
    Rows want;
    for (int i = 0; i < 20000; ++i) {
        want.push_back({i / 10.0, std::round(random.next() * 1e4) / 100});
        text += number_text(want.back()[0]) + ";\"" + number_text(want.back()[1]) +
                " \u00b0C\";\u2713 note\r\n";
    }
    const Layout layout = layout_of_text(text);
    const size_t piece = GENERATE(size_t{1000}, size_t{4096}, size_t{1} << 20);
    const Table table = table_of(text, layout, {0, 1}, piece);
    CHECK(table.unreadable.empty());
    REQUIRE(table.rows == want.size());
    for (size_t row = 0; row < want.size(); ++row) {
        REQUIRE(table.numbers[2 * row] == want[row][0]);
        REQUIRE(table.numbers[2 * row + 1] == want[row][1]);
    }
}

TEST_CASE("logger: a file of damage is read to its end") {
    // generator: mulberry32, seed 11; a sound log with bytes overwritten at random, quotes among
    // them
    Random random(11);
    constexpr size_t lines = 5000;
    std::string text = "time,throttle,temp\n";
    for (size_t i = 0; i < lines; ++i) {
        const auto n = static_cast<double>(i);
        text += number_text(n / 10) + "," + std::to_string(50 + (i % 7)) + "," +
                number_text(20 + n / 500) + "\n";
    }
    size_t breaks = 0;
    const char damage[] = {'"', '\0', '\xFF', ',', 'A'};
    for (int i = 0; i < 400; ++i) {
        const size_t at = 20 + random.below(text.size() - 21);
        breaks += text[at] == '\n' ? 1 : 0;
        text[at] = damage[random.below(5)];
    }
    const Table table = table_of(text, layout_of_text(text), {0, 1, 2});
    CHECK(table.rows == lines - breaks);
    size_t sound = 0;
    for (const double number : table.numbers) {
        sound += std::isnan(number) ? 0 : 1;
    }
    CHECK(sound > 3 * lines - 3 * 400);
    CHECK_FALSE(table.unreadable.empty());
}

TEST_CASE("logger: no file makes it fail or hang") {
    // generator: mulberry32, seed 17; files of random bytes, and of the pieces that logs are made
    // of
    Random random(17);
    const Line pieces = {"\"",  ",",   ";", "\t", "\r",   "\n",     "1",
                         "2.5", "1,5", "a", " ",  "sep=", "\u00b0C"};
    for (int i = 0; i < 300; ++i) {
        const size_t length = random.below(2000);
        std::string text;
        for (size_t k = 0; k < length; ++k) {
            text += i % 2 == 0 ? std::string(1, static_cast<char>(random.below(256)))
                               : pieces[random.below(pieces.size())];
        }
        read(text, 1 + random.below(64));
        log_file_text(text);
    }
    // long runs of one character, where a careless pattern takes for ever
    for (const char* run : {" ", "(", "_", "-", "1", ",", "\"", "1 ", "/", "\n"}) {
        std::string text = "x";
        for (int i = 0; i < 200'000; ++i) {
            text += run;
        }
        log_file_text(text + "y\n1,2\n");
    }
}

namespace {

/// A log of three holds: generator mulberry32, noise of 0.3 K and 0.4 A, ten rows a second.
Rows three_holds(std::uint32_t seed) {
    Random random(seed);
    const std::vector<std::pair<double, int>> parts = {{0, 10}, {50, 60},  {75, 80},
                                                       {0, 20}, {100, 25}, {0, 10}};
    Rows rows;
    double board = 25;
    double t = 0;
    for (const auto& [throttle, seconds] : parts) {
        for (int i = 0; i < seconds * 10; ++i) {
            const double current = 80 * std::pow(throttle / 100, 3);
            board += (25 + 0.7 * current - board) * (1 - std::exp(-0.1 / 60));
            rows.push_back({t, throttle, current + 0.4 * (random.next() - 0.5), 25 - t / 100,
                            board + 0.3 * (random.next() - 0.5)});
            t += 0.1;
        }
    }
    return rows;
}

std::string fixed(double number) {
    char text[32];
    std::snprintf(text, sizeof text, "%.3f", number);
    return replaced(text, '.', ",");
}

Json answer_of(const Result<std::string>& result) {
    if (const auto* problems = std::get_if<Problems>(&result)) {
        FAIL(joined(lines_of(*problems), "\n"));
    }
    Problems problems;
    const auto json = parse_json(*std::get_if<std::string>(&result), problems);
    REQUIRE(json);
    return *json;
}

Line problems_of(const Result<std::string>& result) {
    const auto* problems = std::get_if<Problems>(&result);
    return problems != nullptr ? lines_of(*problems) : Line{};
}

std::string logged(std::uint32_t seed) {
    std::string text = "Time [ms];Throttle [us];Current [A];Voltage [V];ESC temp [\u00b0F]\n";
    const Rows rows = three_holds(seed);
    for (size_t i = 0; i < rows.size(); ++i) {
        const auto& row = rows[i];
        text += i == 300 ? "xx;yy;;;"
                         : joined({fixed(row[0] * 1000), fixed(1000 + 10 * row[1]), fixed(row[2]),
                                   fixed(row[3]), fixed(32 + 1.8 * row[4])},
                                  ";");
        text += "\n";
    }
    return text;
}

constexpr const char* setup_text =
    R"({"hotband":1,"pack":{"cells":6,"capacity_mAh":5000},"esc":{"rating_A":100,"pwm_Hz":16000},)"
    R"("load":{"kind":"propeller","full_throttle_A":80},"flight":{"parts":[{"throttle_pct":60,)"
    R"("seconds":40}]}})";

}  // namespace

TEST_CASE("logger: from the file to rows to learn from") {
    const Json answer = answer_of(log_file_text(logged(42)));
    CHECK(number_at(answer, "rows") == 2050);
    CHECK(text_at(answer, "file.units.time_unit") == "ms");
    CHECK(text_at(answer, "file.units.throttle_unit") == "us");
    CHECK(text_at(answer, "file.units.temperature_unit") == "F");
    CHECK(text_at(answer, "file.roles.esc_C.confidence") == "sure");
    CHECK(text_at(answer, "file.decimal") == ",");
    const JsonList& damaged = *find(answer, "damaged")->as<JsonList>();
    REQUIRE(damaged.size() == 1);
    CHECK(*find(damaged[0], "first_rows") == Json(JsonList{Json(300.0)}));
    CHECK(*find(damaged[0], "first_lines") == Json(JsonList{Json(302.0)}));
    const JsonList& unreadable = *find(answer, "file.unreadable")->as<JsonList>();
    REQUIRE(unreadable.size() == 2);
    CHECK(number_at(unreadable[0], "count") == 1);
    std::vector<double> throttles;
    for (const Json& hold : *find(answer, "holds")->as<JsonList>()) {
        throttles.push_back(number_at(hold, "measured.throttle_pct"));
    }
    CHECK(throttles == std::vector<double>{50, 75, 100});
    CHECK(find(answer, "history")->is_null());

    const Json beside =
        answer_of(log_file_text(logged(42), "{\"setup\":" + std::string(setup_text) + "}"));
    CHECK(number_at(beside, "history.samples") > 0);
}

TEST_CASE("logger: what is told wins over the guess") {
    std::string text = "throttle,current,esc temp\n";
    for (const auto& row : three_holds(43)) {
        text += number_text(row[1]) + "," + number_text(row[2]) + "," + number_text(row[4]) + "\n";
    }
    // every column falls, so none is like a clock
    CHECK(problems_of(log_file_text(text)).size() == 1);
    const Json answer = answer_of(log_file_text(text, R"({"row_s":0.1})"));
    CHECK(find(answer, "holds")->as<JsonList>()->size() == 3);
    CHECK(find(answer, "file.roles.time_s")->is_null());
    const Json turned = answer_of(log_file_text(
        text, R"({"row_s":0.1,"columns":{"current_A":0,"esc_C":null},"current_unit":"mA"})"));
    CHECK(text_at(turned, "file.roles.current_A.confidence") == "told");
    CHECK(find(turned, "file.roles.throttle_pct")->is_null());
    CHECK(find(turned, "file.roles.esc_C")->is_null());
    CHECK(text_at(turned, "file.units.current_unit") == "mA");
}

TEST_CASE("logger: a motor's speed is read from the column that is told, alone or beside others") {
    std::string text = "a,b,c\n";
    for (int i = 0; i < 200; ++i) {
        text += number_text(i) + ",7," + number_text(9000 - 10 * i) + "\n";
    }
    for (const char* options :
         {R"({"columns":{"time_s":0,"rpm":2}})", R"({"row_s":1,"columns":{"rpm":2}})"}) {
        const Json answer = answer_of(log_file_text(text, options));
        CAPTURE(options);
        CHECK(text_at(answer, "file.roles.rpm.name") == "c");
        CHECK(*find(answer, "ranges.rpm") == Json(JsonList{Json(7010.0), Json(9000.0)}));
    }
}

TEST_CASE("logger: a file that is no log is refused in words") {
    for (const std::string text : {"", "\n", "\r\n\r\n", "just words\n", "a,b,c\n", setup_text,
                                   "{}", "%PDF-1.7\n1 0 obj\n"}) {
        CAPTURE(text);
        const Line lines = problems_of(log_file_text(text));
        REQUIRE(lines.size() == 1);
        CHECK(lines[0].substr(0, 5) == "log: ");
    }
    const std::string log = logged(44);
    CHECK(problems_of(log_file_text(log, "{"))[0].substr(0, 8) == "options:");
    CHECK(problems_of(log_file_text(log, "[]")).size() == 1);
    CHECK(problems_of(log_file_text(log, R"({"columns":{"esc_C":7}})")).size() == 1);
    CHECK(problems_of(log_file_text(log, R"({"columns":{"esc_C":1.5}})")).size() == 1);
    CHECK(problems_of(log_file_text(log, R"({"columns":5})")).size() == 1);
    CHECK(problems_of(log_file_text(log, R"({"colour":5})")).size() == 1);
    CHECK(problems_of(log_file_text(log, R"({"setup":{"pack":{}}})"))[0].substr(0, 6) == "setup.");
}

TEST_CASE("logger: a line without end, and a header of a thousand columns") {
    CHECK(head_lines(std::string(300 * 1024, 'x'), Encoding::utf_8, false).size() == 1);
    std::string wide = "time";
    std::string row = "0";
    for (int i = 0; i < 1200; ++i) {
        wide += ",c";
        row += ",1";
    }
    CHECK(problems_of(log_file_text(wide + "\n" + row + "\n" + row + "\n")).size() == 1);
}
