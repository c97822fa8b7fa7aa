// Is a logger's file read as it is meant? Files of every layout are written here from known figures
// and must come back as those figures, with every cell that cannot be read counted. The inputs are
// those of the page's own reader (tests/unit/log_test.ts): both must read them alike. Generated
// ones state their generator and seed.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "logger/roles.hpp"
#include "logger/table.hpp"
#include "logger/units.hpp"
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

// Seconds since 1970 of 2024-05-01 12:00 UTC; date -u -d 2024-05-01T12:00Z +%s
constexpr double noon = 1714564800;

Layout layout_of_text(const std::string& text) {
    return layout_of(std::string_view(text).substr(0, head_bytes), text.size() <= head_bytes);
}

std::vector<std::size_t> all_places(const Layout& layout) {
    std::vector<std::size_t> places(layout.columns.size());
    for (std::size_t i = 0; i < places.size(); ++i) {
        places[i] = i;
    }
    return places;
}

Table table_of(const std::string& text, const Layout& layout, std::vector<std::size_t> places,
               std::size_t piece = std::string::npos) {
    TableReader reader(layout, std::move(places));
    for (std::size_t at = 0; at < text.size(); at += std::min(piece, text.size() - at)) {
        reader.add(std::string_view(text).substr(at, piece));
    }
    return reader.finish();
}

struct Read {
    Layout layout;
    Rows rows;
};

Read read(const std::string& text, std::size_t piece = std::string::npos) {
    Read out{layout_of_text(text), {}};
    const std::size_t width = out.layout.columns.size();
    const Table table = table_of(text, out.layout, all_places(out.layout), piece);
    REQUIRE(table.numbers.size() == table.rows * width);
    for (std::size_t row = 0; row < table.rows; ++row) {
        out.rows.emplace_back(
            table.numbers.begin() + static_cast<std::ptrdiff_t>(row * width),
            table.numbers.begin() + static_cast<std::ptrdiff_t>((row + 1) * width));
    }
    return out;
}

std::string replaced(std::string text, char from, const std::string& to) {
    const std::size_t at = text.find(from);
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
    std::size_t below(std::size_t count) {
        return static_cast<std::size_t>(next() * static_cast<double>(count));
    }

 private:
    std::uint32_t state_;
};

using Line = std::vector<std::string>;

}  // namespace

TEST_CASE("logger: numbers as loggers write them") {
    const std::vector<std::pair<std::string, double>> point = {
        {"12", 12},
        {" 12.5 ", 12.5},
        {"-0.5", -0.5},
        {"\u22127", -7},
        {"+3.", 3},
        {".25", 0.25},
        {"1.5e3", 1500},
        {"2e-3", 0.002},
        {"1,234.5", 1234.5},
        {"1,234,567", 1234567},
        {"1 234.5", 1234.5},
        {"1'234.5", 1234.5},
        {"25.3 \u00b0C", 25.3},
        {"25\u00b0", 25},
        {"12.1V", 12.1},
        {"45 %", 45},
        {"12A", 12},
        {"1.7976931348623157e+308", 1.7976931348623157e308},
        {"0.30000000000000004", 0.30000000000000004}};
    for (const auto& [cell, value] : point) {
        CAPTURE(cell);
        CHECK(number_in(cell, Decimal::point) == value);
    }
    const std::vector<std::pair<std::string, double>> comma = {
        {"12,5", 12.5},           {"1.234,5", 1234.5}, {"1.234", 1234}, {"12.5", 12.5},
        {"1\u00a0234,5", 1234.5}, {"-3,25 A", -3.25},  {"0,125", 0.125}};
    for (const auto& [cell, value] : comma) {
        CAPTURE(cell);
        CHECK(number_in(cell, Decimal::comma) == value);
    }
}

TEST_CASE("logger: what is no number is none, and what is missing is told apart") {
    for (const char* cell :
         {"0x1F3A", "1A2B", "FFFF", "1E5", "12..5", "1,2,3", "on", "12 34", "--5"}) {
        CAPTURE(cell);
        CHECK(std::isnan(number_in(cell, Decimal::point)));
        CHECK_FALSE(is_missing(cell));
    }
    for (const char* cell : {"", "  ", "-", "--", "n/a", "NaN", "null", "?"}) {
        CAPTURE(cell);
        CHECK(std::isnan(number_in(cell, Decimal::point)));
        CHECK(is_missing(cell));
    }
    CHECK(unit_behind("25.3 \u00b0C", Decimal::point) == "\u00b0C");
    CHECK(unit_behind("1A2B", Decimal::point).empty());
}

TEST_CASE("logger: times of day, times run and dates") {
    CHECK(clock_in("01:02:03") == 3723);
    CHECK(clock_in("00:00:10.250") == 10.25);
    CHECK(clock_in("0:00:10,5") == 10.5);
    CHECK(clock_in("02:30") == 150);
    CHECK(clock_in("1:00:00 PM") == 13 * 3600);
    CHECK(clock_in("12:00:01 a.m.") == 1);
    CHECK(std::isnan(clock_in("00:61:00")));
    CHECK(std::isnan(clock_in("12")));
    CHECK(date_in("2024-05-01T12:00:00Z") == noon);
    CHECK(date_in("2024-05-01 12:00:00.500") == noon + 0.5);
    CHECK(date_in("2024-05-01T14:00:00+02:00") == noon);
    CHECK(date_in("01.05.2024 12:00:00") == noon);
    CHECK(date_in("5/25/2024 12:00") == noon + 24 * 86400);
    CHECK(std::isnan(date_in("2024-02-31 12:00:00")));
    CHECK(std::isnan(date_in("12.5")));
}

TEST_CASE("logger: the decimal sign is told by the cells, and doubt is said") {
    const auto check = [](std::vector<std::string_view> cells, Decimal decimal, bool sure) {
        const DecimalFound found = decimal_of(cells);
        CAPTURE(cells);
        CHECK(found.decimal == decimal);
        CHECK(found.sure == sure);
    };
    check({"1,5", "22,75", "0"}, Decimal::comma, true);
    check({"1.5", "22.75"}, Decimal::point, true);
    check({"1,234.5", "2"}, Decimal::point, true);
    check({"1.234,5", "2"}, Decimal::comma, true);
    check({"1,234", "2,500"}, Decimal::comma, false);
    check({"0,125"}, Decimal::comma, true);
    check({"1", "2"}, Decimal::point, true);
}

TEST_CASE("logger: headings are parted into name and unit") {
    const std::vector<Line> headings = {{"Temp(\u00b0C)", "Temp", "C"},
                                        {"Current [A]", "Current", "A"},
                                        {"t/ms", "t", "ms"},
                                        {"esc_C", "esc", "C"},
                                        {"throttle_pct", "throttle", "pct"},
                                        {"ESC temp \u00b0F", "ESC temp", "F"},
                                        {"Voltage, mV", "Voltage", "mV"},
                                        {"Gas%", "Gas", "pct"},
                                        {"RPM", "RPM", "rpm"},
                                        {"Motor speed", "Motor speed", ""},
                                        {"Option A (1)", "Option A (1)", ""},
                                        {"Strom {A}", "Strom", "A"},
                                        {"(s)", "(s)", "s"}};
    for (const Line& heading : headings) {
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
    for (std::size_t at = 0; at < text.size();) {
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
        for (const std::size_t piece : {std::string::npos, std::size_t{1}, std::size_t{7}}) {
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

TEST_CASE("logger: a quote left open swallows nothing") {
    const auto cells = [](std::string_view line) {
        Line out;
        cells_of(line, ",", out);
        return out;
    };
    CHECK(cells("0,1") == Line{"0", "1"});
    CHECK(cells("1,\"2") == Line{"1", "2"});
    CHECK(cells("\"a\"b,c") == Line{"ab", "c"});
    CHECK(cells("5,\"6\"") == Line{"5", "6"});
    CHECK(cells("7,8\"") == Line{"7", "8\""});
    CHECK(cells("\"a \"\"b\"\", c\" ,d") == Line{"a \"b\", c", "d"});
    CHECK(cells("") == Line{""});
    CHECK(cells(",") == Line{"", ""});
    CHECK(cells("\"\",") == Line{"", ""});
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
    using Numbers = std::vector<std::size_t>;
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

namespace {

/// Header names of the guesses with how sure they are, by header names alone over figures that go
/// on.
std::vector<std::pair<std::string, std::string>> guessed(const Line& header) {
    std::string text = joined(header, ",") + "\n";
    for (std::size_t i = 0; i < 20; ++i) {
        Line row;
        for (std::size_t k = 0; k < header.size(); ++k) {
            row.push_back(std::to_string(i + k));
        }
        text += joined(row, ",") + "\n";
    }
    std::vector<std::pair<std::string, std::string>> out;
    const auto guesses = guess_roles(layout_of_text(text));
    for (const Role role : roles) {
        if (const auto& guess = guesses[static_cast<std::size_t>(role)]) {
            out.emplace_back(role_name(role), header[guess->column] + " " +
                                                  std::string(confidence_name(guess->confidence)));
        }
    }
    return out;
}

}  // namespace

TEST_CASE("logger: roles are guessed from plain names, with how sure that is") {
    using Guesses = std::vector<std::pair<std::string, std::string>>;
    CHECK(guessed(names) == Guesses{{"time_s", "Time (s) sure"},
                                    {"throttle_pct", "Throttle (%) sure"},
                                    {"current_A", "Current (A) sure"},
                                    {"voltage_V", "Voltage (V) sure"},
                                    {"esc_C", "ESC temp (\u00b0C) sure"}});
    CHECK(guessed({"Zeit [ms]", "Gas [%]", "Strom [A]", "Spannung [V]",
                   "Regler Temperatur [\u00b0C]"}) ==
          Guesses{{"time_s", "Zeit [ms] sure"},
                  {"throttle_pct", "Gas [%] sure"},
                  {"current_A", "Strom [A] sure"},
                  {"voltage_V", "Spannung [V] sure"},
                  {"esc_C", "Regler Temperatur [\u00b0C] sure"}});
    CHECK(
        guessed({"t", "motorTemp", "escTemp", "batteryTemp", "bec_V", "pack_V"}) ==
        Guesses{{"time_s", "t likely"}, {"voltage_V", "pack_V likely"}, {"esc_C", "escTemp sure"}});
    // accents are left out, whole or as a mark of their own
    CHECK(guessed({"temps", "Contr\u00f4leur temp", "empfa\u0308nger temp"}) ==
          Guesses{{"time_s", "temps likely"}, {"esc_C", "Contr\u00f4leur temp sure"}});
    CHECK(guessed({"time", "temp 1", "temp 2"}) ==
          Guesses{{"time_s", "time likely"}, {"esc_C", "temp 1 unsure"}});
    CHECK(guessed({"altitude", "speed", "heading"}) == Guesses{{"time_s", "altitude unsure"}});
    CHECK(guessed({"time", "signal (%)"}) ==
          Guesses{{"time_s", "time likely"}, {"throttle_pct", "signal (%) unsure"}});
    // a rotor's speed is not the motor's
    CHECK(guessed({"Time (s)", "Current (A)", "RPM"}) == Guesses{{"time_s", "Time (s) sure"},
                                                                 {"current_A", "Current (A) sure"},
                                                                 {"rpm", "RPM sure"}});
    CHECK(guessed({"t", "I [A]", "Motor speed [rpm]"}).back() ==
          std::pair<std::string, std::string>{"rpm", "Motor speed [rpm] sure"});
    CHECK(guessed({"t", "I [A]", "Rotor rpm"}).size() == 2);
}

TEST_CASE("logger: units are told by the file, or by the size of the figures") {
    const auto units = [](const std::string& header, double time_step, double from, double step) {
        std::string text = header + "\n";
        for (int i = 0; i < 30; ++i) {
            text += number_text(i * time_step) + "," + number_text(from + i * step) + "\n";
        }
        const Layout layout = layout_of_text(text);
        ByRole<std::size_t> places;
        const auto guesses = guess_roles(layout);
        for (std::size_t i = 0; i < places.size(); ++i) {
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
    const std::size_t piece = GENERATE(std::size_t{1000}, std::size_t{4096}, std::size_t{1} << 20);
    const Table table = table_of(text, layout, {0, 1}, piece);
    CHECK(table.unreadable.empty());
    REQUIRE(table.rows == want.size());
    for (std::size_t row = 0; row < want.size(); ++row) {
        REQUIRE(table.numbers[2 * row] == want[row][0]);
        REQUIRE(table.numbers[2 * row + 1] == want[row][1]);
    }
}

TEST_CASE("logger: a file of damage is read to its end") {
    // generator: mulberry32, seed 11; a sound log with bytes overwritten at random, quotes among
    // them
    Random random(11);
    constexpr std::size_t lines = 5000;
    std::string text = "time,throttle,temp\n";
    for (std::size_t i = 0; i < lines; ++i) {
        const auto n = static_cast<double>(i);
        text += number_text(n / 10) + "," + std::to_string(50 + (i % 7)) + "," +
                number_text(20 + n / 500) + "\n";
    }
    std::size_t breaks = 0;
    const char damage[] = {'"', '\0', '\xFF', ',', 'A'};
    for (int i = 0; i < 400; ++i) {
        const std::size_t at = 20 + random.below(text.size() - 21);
        breaks += text[at] == '\n' ? 1 : 0;
        text[at] = damage[random.below(5)];
    }
    const Table table = table_of(text, layout_of_text(text), {0, 1, 2});
    CHECK(table.rows == lines - breaks);
    std::size_t sound = 0;
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
        const std::size_t length = random.below(2000);
        std::string text;
        for (std::size_t k = 0; k < length; ++k) {
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

Line problems_of(const Result<std::string>& result) {
    const auto* problems = std::get_if<Problems>(&result);
    return problems != nullptr ? lines_of(*problems) : Line{};
}

std::string logged(std::uint32_t seed) {
    std::string text = "Time [ms];Throttle [us];Current [A];Voltage [V];ESC temp [\u00b0F]\n";
    const Rows rows = three_holds(seed);
    for (std::size_t i = 0; i < rows.size(); ++i) {
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
