// Numbers, clock times and dates out of cells; see cells.hpp. Patterns are read by hand, forwards
// only, so that no cell takes more than its length.
#include "logger/cells.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <string>

#include "logger/text.hpp"
#include "physics/none.hpp"

namespace hotband::logger {
namespace {

constexpr size_t most_length = 64;  // no number is longer

bool too_long(std::string_view cell) {
    return cell.size() > most_length && length_of(cell) > most_length;
}

bool is_digit(char c) { return c >= '0' && c <= '9'; }
char small(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

/// A text read forwards.
class Scan {
 public:
    explicit Scan(std::string_view text) : text_(text) {}

    bool done() const { return at_ == text_.size(); }
    size_t at() const { return at_; }
    std::string_view rest() const { return text_.substr(at_); }
    void go(size_t at) { at_ = at; }

    bool next_is_digit() const { return !done() && is_digit(text_[at_]); }

    /// One of these characters, whichever case.
    bool take(std::string_view any) {
        if (done() || any.find(small(text_[at_])) == any.npos) {
            return false;
        }
        ++at_;
        return true;
    }
    bool take_space() {
        if (done()) {
            return false;
        }
        const Character c = character_at(text_, at_);
        if (!is_space(c.value)) {
            return false;
        }
        at_ += std::min(c.bytes, text_.size() - at_);
        return true;
    }
    void take_spaces() {
        while (take_space()) {
        }
    }
    /// A run of digits, all of it; how many there were.
    size_t take_digits() {
        const size_t from = at_;
        while (next_is_digit()) {
            ++at_;
        }
        return at_ - from;
    }
    /// A run of `least` to `most` digits, or nothing.
    std::string_view digits(size_t least, size_t most) {
        const size_t from = at_;
        const size_t count = take_digits();
        if (count < least || count > most) {
            at_ = from;
            return {};
        }
        return text_.substr(from, count);
    }

 private:
    std::string_view text_;
    size_t at_ = 0;
};

/// What may stand between groups of thousands.
enum class Group { comma, point, space };

bool take_group(Scan& scan, Group group) {
    switch (group) {
        case Group::comma:
            return scan.take(",");
        case Group::point:
            return scan.take(".");
        case Group::space: {
            constexpr std::string_view apostrophe = "\u2019";
            if (scan.rest().substr(0, apostrophe.size()) == apostrophe) {
                scan.go(scan.at() + apostrophe.size());
                return true;
            }
            return scan.take("'") || scan.take_space();
        }
    }
    return false;
}

/// One to three digits, then groups of three: how many groups; -1 where the digits are none or go
/// on without a separator.
int take_groups(Scan& scan, std::initializer_list<Group> separators) {
    const size_t first = scan.take_digits();
    if (first == 0 || first > 3) {
        return -1;
    }
    int groups = 0;
    for (;;) {
        const size_t before = scan.at();
        const bool parted = std::any_of(separators.begin(), separators.end(),
                                        [&](Group group) { return take_group(scan, group); });
        if (!parted || scan.digits(3, 3).empty()) {
            scan.go(before);
            return groups;
        }
        ++groups;
    }
}

bool is_plain(std::string_view text) {
    Scan scan(text);
    scan.take("+-");
    const size_t whole = scan.take_digits();
    const bool point = scan.take(".");
    const size_t fraction = scan.take_digits();
    return scan.done() && (whole > 0 || (point && fraction > 0));
}

// an exponent wants a point or a sign: 1E5 is as likely a hexadecimal number
bool is_scientific(std::string_view text) {
    Scan scan(text);
    scan.take("+-");
    const size_t whole = scan.take_digits();
    const bool point = scan.take(".");
    const size_t fraction = scan.take_digits();
    if ((whole == 0 && fraction == 0) || !scan.take("e")) {
        return false;
    }
    const bool sign = scan.take("+-");
    return (point || sign) && !scan.digits(1, 3).empty() && scan.done();
}

/// `1,234.5` with groups of that kind and a decimal sign that may be left out.
bool is_grouped(std::string_view text, Group group, std::string_view decimal) {
    Scan scan(text);
    scan.take("+-");
    if (take_groups(scan, {group}) < 1) {
        return false;
    }
    if (scan.take(decimal)) {
        scan.take_digits();
    }
    return scan.done();
}

Group thousands_of(Decimal decimal) {
    return decimal == Decimal::point ? Group::comma : Group::point;
}

bool is_grouped(std::string_view text, Decimal decimal) {
    return is_grouped(text, thousands_of(decimal), decimal == Decimal::point ? "." : ",");
}

/// The text is a number of ours: digits, a point, an exponent.
double value_of(std::string_view text) {
    // Up to 15 digits and a power of ten up to 22 are exact doubles, and so their quotient is the
    // nearest one (W. D. Clinger, "How to read floating point numbers accurately", PLDI 1990).
    constexpr std::array<double, 16> tens = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                             1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
    std::int64_t digits = 0;
    size_t count = 0;
    size_t behind = 0;
    bool point = false;
    const bool signs = !text.empty() && (text[0] == '-' || text[0] == '+');
    for (const char c : text.substr(signs ? 1 : 0)) {
        if (c == '.') {
            point = true;
        } else if (is_digit(c) && count < tens.size() - 1) {
            digits = 10 * digits + (c - '0');
            ++count;
            behind += point ? 1 : 0;
        } else {
            return std::strtod(std::string(text).c_str(), nullptr);
        }
    }
    const double value = static_cast<double>(digits) / tens[behind];
    return text[0] == '-' ? -value : value;
}

std::string without(std::string_view text, Group group) {
    std::string out;
    Scan scan(text);
    while (!scan.done()) {
        if (!take_group(scan, group)) {
            out += text[scan.at()];
            scan.go(scan.at() + 1);
        }
    }
    return out;
}

/// The text with a minus sign or a dash before it written as ours.
std::string with_plain_minus(std::string_view text) {
    for (const std::string_view minus : {"\u2212", "\u2013"}) {
        if (text.substr(0, minus.size()) == minus) {
            return '-' + std::string(text.substr(minus.size()));
        }
    }
    return std::string(text);
}

double bare_number(std::string_view text, Decimal decimal) {
    if (is_plain(text) && !(decimal == Decimal::comma && is_grouped(text, decimal))) {
        return value_of(text);
    }
    if (is_grouped(text, Group::space, ".,")) {
        return bare_number(without(text, Group::space), decimal);
    }
    const bool grouped = is_grouped(text, decimal);
    std::string pointed = grouped ? without(text, thousands_of(decimal)) : std::string(text);
    if (decimal == Decimal::comma) {
        const size_t comma = pointed.find(',');
        if (comma != pointed.npos) {
            pointed[comma] = '.';
        }
    }
    return grouped || is_plain(pointed) || is_scientific(pointed) ? value_of(pointed) : none;
}

constexpr std::string_view degree_signs[] = {"\u00b0", "\u00ba"};

/// Where `25.3 \u00b0C` goes on behind its number, white space included; the end where nothing that
/// may stand there does. What is before may be no number.
size_t unit_start(std::string_view text) {
    constexpr std::string_view units[] = {
        "%",       "s",       "ms",      "\u00b5s", "\u03bcs", "us", "sec",     "min",
        "V",       "A",       "W",       "mV",      "mA",      "mW", "\u00b5V", "\u00b5A",
        "\u00b5W", "\u03bcV", "\u03bcA", "\u03bcW", "kV",      "kA", "kW",      "Ah",
        "mAh",     "C",       "F",       "K",       "g",       "m",  "rpm",     "Hz",
        "kHz",     "MHz",     "km/h",    "m/s",     "mph"};
    const auto ends = [](std::string_view in, std::string_view with) {
        return in.size() >= with.size() && in.substr(in.size() - with.size()) == with;
    };
    size_t start = text.size();
    for (const std::string_view unit : units) {
        if (ends(text, unit)) {
            start = std::min(start, text.size() - unit.size());
        }
    }
    // degrees: the sign, white space, a scale
    const bool scale = ends(text, "C") || ends(text, "F");
    const std::string_view before = text.substr(0, text.size() - (scale ? 1 : 0));
    const std::string_view bare = trimmed(before);
    const size_t lead = static_cast<size_t>(bare.data() - before.data());
    for (const std::string_view sign : degree_signs) {
        if (ends(bare, sign)) {
            start = std::min(start, lead + bare.size() - sign.size());
        }
    }
    const bool near = length_of(before.substr(std::min(before.size(), lead + bare.size()))) <= 1;
    if (ends(bare, "deg") && near) {
        start = std::min(start, lead + bare.size() - 3);
    }
    if (start == text.size()) {
        return start;
    }
    const std::string_view number = trimmed(text.substr(0, start));
    return static_cast<size_t>(number.data() - text.data()) + number.size();
}

double whole_of(std::string_view digits) { return digits.empty() ? none : value_of(digits); }

/// What may stand behind a clock time: white space, am or pm in their spellings.
bool take_half(Scan& scan, char& half) {
    scan.take_spaces();
    const std::string_view rest = scan.rest();
    if (scan.take("ap")) {
        half = small(rest[0]);
    }
    scan.take(".");
    if (scan.take("m")) {
        scan.take(".");
    }
    return scan.done();
}

// Days from 1970-01-01 to a date of the Gregorian calendar. Howard Hinnant, "chrono-compatible
// low-level date algorithms", days_from_civil.
std::int64_t days_to(int year, int month, int day) {
    const std::int64_t y = month <= 2 ? year - 1 : year;
    const std::int64_t era = (y >= 0 ? y : y - 399) / 400;
    const std::int64_t of_era = y - era * 400;
    const std::int64_t of_year = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + day - 1;
    return era * 146097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719468;
}

int days_in(int year, int month) {
    constexpr std::array<int, 12> days = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    const bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    return days[static_cast<size_t>(month - 1)] + (month == 2 && leap ? 1 : 0);
}

/// Offset from UTC, +02:00 or Z, as all that is left but white space; NaN where it is not.
double zone_at_end(Scan scan) {
    scan.take_spaces();
    if (scan.done()) {
        return 0;
    }
    if (scan.take("z")) {
        return scan.done() ? 0 : none;
    }
    const double sign = scan.rest().substr(0, 1) == "-" ? -60 : 60;
    if (!scan.take("+-")) {
        return none;
    }
    const std::string_view digits = scan.rest();
    const size_t first = scan.take_digits();
    std::string_view minutes;
    if (first == 4) {
        minutes = digits.substr(2, 2);
    } else if (first == 2 && scan.take(":")) {
        minutes = scan.digits(2, 2);
    }
    if (minutes.empty() || !scan.done()) {
        return none;
    }
    return sign * (60 * whole_of(digits.substr(0, 2)) + whole_of(minutes));
}

/// The time of day behind a date and its zone; NaN where that is neither.
double time_and_zone(Scan scan) {
    const Scan bare = scan;
    bool parted = false;
    while (scan.take("t,") || scan.take_space()) {
        parted = true;
    }
    const Scan clock = scan;
    const std::string_view text = scan.rest();
    const auto two_digits = [](std::string_view in) {
        return in.size() >= 2 && is_digit(in[0]) && is_digit(in[1]);
    };
    if (parted && !scan.digits(1, 2).empty() && scan.take(":") && two_digits(scan.rest())) {
        // the shortest time that a zone, or nothing, follows
        for (size_t length = scan.at() - clock.at() + 2; length <= text.size(); ++length) {
            constexpr unsigned char inside_mask = 0xC0;
            constexpr unsigned char inside = 0x80;  // a character: it is not cut
            if (length < text.size() &&
                (static_cast<unsigned char>(text[length]) & inside_mask) == inside) {
                continue;
            }
            Scan behind = clock;
            behind.go(clock.at() + length);
            const double zone = zone_at_end(behind);
            if (std::isnan(zone)) {
                continue;
            }
            const std::string time(text.substr(0, length));
            const bool minutes = time.find_first_not_of("0123456789:") == time.npos &&
                                 std::count(time.begin(), time.end(), ':') == 1;
            return clock_in(minutes ? time + ":00" : time) - zone;
        }
    }
    return -zone_at_end(bare);
}

}  // namespace

std::string_view kind_name(Kind kind) {
    switch (kind) {
        case Kind::number:
            return "number";
        case Kind::clock:
            return "clock";
        case Kind::date:
            return "date";
        case Kind::text:
            return "text";
        case Kind::empty:
            return "empty";
    }
    return "";
}

bool is_missing(std::string_view cell) {
    const std::string_view text = trimmed(cell);
    if (text.empty()) {
        return true;
    }
    if (too_long(cell)) {
        return false;
    }
    for (const char run : {'-', '?', '*'}) {
        if (text.find_first_not_of(run) == text.npos) {
            return true;
        }
    }
    std::string word;
    for (const char c : text) {
        word += small(c);
    }
    constexpr std::string_view words[] = {"\u2013", "\u2014", "n/a",  "na",
                                          "nan",    "null",   "none", "nil"};
    return std::find(std::begin(words), std::end(words), word) != std::end(words);
}

double number_in(std::string_view cell, Decimal decimal) {
    if (too_long(cell)) {
        return none;
    }
    const std::string text = with_plain_minus(trimmed(cell));
    const double bare = bare_number(text, decimal);
    if (!std::isnan(bare)) {
        return bare;
    }
    const size_t unit = unit_start(text);
    return unit < text.size() ? bare_number(text.substr(0, unit), decimal) : none;
}

std::string_view unit_behind(std::string_view cell, Decimal decimal) {
    if (too_long(cell)) {
        return {};
    }
    const std::string_view text = trimmed(cell);
    const size_t unit = unit_start(text);
    if (unit == text.size() ||
        std::isnan(bare_number(with_plain_minus(text.substr(0, unit)), decimal))) {
        return {};
    }
    return trimmed(text.substr(unit));
}

double clock_in(std::string_view cell) {
    if (too_long(cell)) {
        return none;
    }
    Scan scan(trimmed(cell));
    const double first = whole_of(scan.digits(1, 4));
    if (std::isnan(first) || !scan.take(":")) {
        return none;
    }
    const double second = whole_of(scan.digits(1, 2));
    if (std::isnan(second)) {
        return none;
    }
    double third = none;
    const size_t before = scan.at();
    if (scan.take(":")) {
        third = whole_of(scan.digits(1, 2));
        if (std::isnan(third)) {
            scan.go(before);
        }
    }
    double fraction = 0;
    const size_t before_fraction = scan.at();
    if (scan.take(".,:")) {
        const std::string_view digits = scan.digits(1, 9);
        if (digits.empty()) {
            scan.go(before_fraction);
        } else {
            fraction = value_of("0." + std::string(digits));
        }
    }
    char half = 0;
    if (!take_half(scan, half)) {
        return none;
    }
    // of two numbers the first are minutes, unless it is a time of day
    const bool hours = !std::isnan(third) || half != 0;
    double h = hours ? first : 0;
    const double m = hours ? second : first;
    const double s = std::isnan(third) ? (hours ? 0 : second) : third;
    if (m >= 60 || s >= 60) {
        return none;
    }
    if (half != 0) {
        h = std::fmod(h, 12) + (half == 'p' ? 12 : 0);
    }
    return h * 3600 + m * 60 + s + fraction;
}

double date_in(std::string_view cell) {
    if (too_long(cell)) {
        return none;
    }
    Scan scan(trimmed(cell));
    const std::string_view first = scan.digits(1, 4);
    if (first.empty() || first.size() == 3 || !scan.take("-/.")) {
        return none;
    }
    const bool year_first = first.size() == 4;
    const double second = whole_of(scan.digits(1, 2));
    if (std::isnan(second) || !scan.take("-/.")) {
        return none;
    }
    const std::string_view last = year_first ? scan.digits(1, 2) : scan.digits(2, 4);
    if (last.empty() || last.size() == 3) {
        return none;
    }
    const auto whole = [](double number) { return static_cast<int>(number); };
    int year = whole(whole_of(year_first ? first : last));
    year += year < 100 ? (last.size() == 2 && !year_first ? 2000 : 1900) : 0;
    const bool month_first = !year_first && second > 12;
    const int other = whole(whole_of(year_first ? last : first));
    const int month = month_first ? other : whole(second);
    const int day = month_first ? whole(second) : other;
    if (month < 1 || month > 12 || day < 1 || day > days_in(year, month)) {
        return none;
    }
    constexpr double day_s = 86400;
    return day_s * static_cast<double>(days_to(year, month, day)) + time_and_zone(scan);
}

double value_in(std::string_view cell, Kind kind, Decimal decimal) {
    switch (kind) {
        case Kind::clock:
            return clock_in(cell);
        case Kind::date:
            return date_in(cell);
        case Kind::number:
        case Kind::text:
        case Kind::empty:
            return number_in(cell, decimal);
    }
    return none;
}

bool is_figure(std::string_view cell) {
    return !std::isnan(number_in(cell, Decimal::point)) ||
           !std::isnan(number_in(cell, Decimal::comma)) || !std::isnan(clock_in(cell)) ||
           !std::isnan(date_in(cell));
}

Kind kind_of(const std::vector<std::string_view>& cells, Decimal decimal) {
    size_t told = 0;
    for (const std::string_view cell : cells) {
        told += is_missing(cell) ? 0 : 1;
    }
    if (told == 0) {
        return Kind::empty;
    }
    for (const Kind kind : {Kind::number, Kind::clock, Kind::date}) {
        size_t read = 0;
        for (const std::string_view cell : cells) {
            read += !is_missing(cell) && !std::isnan(value_in(cell, kind, decimal)) ? 1 : 0;
        }
        if (2 * read > told) {
            return kind;
        }
    }
    return Kind::text;
}

DecimalFound decimal_of(const std::vector<std::string_view>& cells) {
    size_t point = 0;
    size_t comma = 0;
    size_t either = 0;
    for (const std::string_view cell : cells) {
        if (too_long(cell)) {
            continue;
        }
        const std::string whole = with_plain_minus(trimmed(cell));
        const std::string_view text = std::string_view(whole).substr(0, unit_start(whole));
        // digits, in groups or not, then the sign and digits; 1,234 may be a group itself
        const auto written_with = [&](Decimal decimal) {
            Scan scan(text);
            scan.take("+-");
            const size_t from = scan.at();
            const bool digits = scan.next_is_digit();
            if (digits && take_groups(scan, {Group::space, thousands_of(decimal)}) < 0) {
                scan.go(from);
                scan.take_digits();
            }
            return (digits || decimal == Decimal::point) &&
                   scan.take(decimal == Decimal::point ? "." : ",") && scan.take_digits() > 0 &&
                   scan.done();
        };
        const auto doubtful = [&] {
            Scan scan(text);
            scan.take("+-");
            const std::string_view first = scan.digits(1, 3);
            return !first.empty() && first[0] != '0' && scan.take(".,") &&
                   !scan.digits(3, 3).empty() && scan.done();
        };
        if (written_with(Decimal::point)) {
            point += doubtful() ? 0 : 1;
        } else if (written_with(Decimal::comma)) {
            (doubtful() ? either : comma) += 1;
        }
    }
    if (comma > point) {
        return {Decimal::comma, true};
    }
    // loggers seldom group thousands: a lone comma is a decimal one
    if (point == 0 && either > 0) {
        return {Decimal::comma, false};
    }
    return {Decimal::point, point > 0 || either == 0};
}

}  // namespace hotband::logger
