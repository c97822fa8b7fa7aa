// Guesses; see roles.hpp.
#include "logger/roles.hpp"

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "logger/text.hpp"
#include "logger/words.hpp"

namespace hotband::logger {
namespace {

static_assert(signs.size() == roles.size());

bool holds(WordList list, std::string_view word) {
    for (size_t from = 0; from < list.size();) {
        const size_t end = std::min(list.find(' ', from), list.size());
        if (list.substr(from, end - from) == word) {
            return true;
        }
        from = end + 1;
    }
    return false;
}

/// Letters with accents from that character on, and the letter under each, a space where none is
/// (Unicode 14's canonical decompositions).
struct Accented {
    char32_t first;
    std::string_view letters;
};
constexpr Accented accented[] = {
    {0xC0,
     "AAAAAA CEEEEIIII NOOOOO  UUUUY  aaaaaa ceeeeiiii nooooo  uuuuy yAaAaAaCcCcCcCcDd"
     "  EeEeEeEeEeGgGgGgGgHh  IiIiIiIiI   JjKk LlLlLl    NnNnNn   OoOoOo  RrRrRrSsSsSs"
     "SsTtTt  UuUuUuUuUuUuWwYyYZzZzZz "},
    {0x1A0,
     "Oo             Uu                            AaIiOoUuUuUuUuUu AaAa    GgKkOoOo  "
     "j   Gg  NnAa    AaAaEeEeIiIiOoOoRrRrUuUuSsTt  Hh      AaEeOoOoOoOoYy"},
    {0x1E00,
     "AaBbBbBbCcDdDdDdDdDdEeEeEeEeEeFfGgHhHhHhHhHhIiIiKkKkKkLlLlLlLlMmMmMmNnNnNnNnOoOo"
     "OoOoPpPpRrRrRrRrSsSsSsSsSsTtTtTtTtUuUuUuUuUuVvVvWwWwWwWwWwXxXxYyZzZzZzhtwy      "
     "AaAaAaAaAaAaAaAaAaAaAaAaEeEeEeEeEeEeEeEeIiIiOoOoOoOoOoOoOoOoOoOoOoOoUuUuUuUuUuUu"
     "UuYyYyYyYy"},
    // the signs of kelvin and angstrom
    {0x212A, "KA"},
};

/// The letter under its accents; others as they are, marks of their own as nothing.
std::optional<char32_t> without_accents(char32_t c) {
    if (c >= 0x300 && c <= 0x36F) {
        return std::nullopt;
    }
    for (const Accented& row : accented) {
        if (c >= row.first && c - row.first < row.letters.size()) {
            const char letter = row.letters[c - row.first];
            return letter == ' ' ? c : static_cast<char32_t>(letter);
        }
    }
    return c;
}

/// The words of a name, small, without accents: `escTemp_max` is esc, temp, max. A word with a
/// number behind it is also the word alone.
std::vector<std::string> words_of(std::string_view name) {
    std::vector<std::string> words;
    std::string word;
    const auto is_small = [](char c) { return c >= 'a' && c <= 'z'; };
    const auto end_word = [&] {
        if (word.empty()) {
            return;
        }
        words.push_back(word);
        const size_t letters = word.find_last_not_of("0123456789") + 1;
        if (letters > 0 && letters < word.size()) {
            words.push_back(word.substr(0, letters));
        }
        word.clear();
    };
    char before = ' ';
    for (size_t at = 0; at < name.size();) {
        const Character next = character_at(name, at);
        at += next.bytes;
        const auto bare = without_accents(next.value);
        if (!bare) {
            continue;
        }
        const char c = *bare < 0x80 ? static_cast<char>(*bare) : ' ';
        const bool large = c >= 'A' && c <= 'Z';
        if (large && is_small(before)) {
            end_word();
        }
        if (large || is_small(c) || (c >= '0' && c <= '9')) {
            word += large ? static_cast<char>(c - 'A' + 'a') : c;
        } else {
            end_word();
        }
        before = c;
    }
    end_word();
    return words;
}

constexpr int named = 2;
constexpr int measured = 2;
constexpr int sure = named + measured;
constexpr int likely = 2;

int score(Role role, const Column& column) {
    const Sign& sign = signs[static_cast<size_t>(role)];
    const std::vector<std::string> words = words_of(column.name);
    const auto has = [&](WordList list) {
        return std::any_of(words.begin(), words.end(),
                           [&](const std::string& word) { return holds(list, word); });
    };
    const bool told = has(sign.words);
    const bool unit = !column.unit.empty() && holds(sign.units, column.unit);
    int points = (told ? named : 0) + (unit ? measured : 0);
    switch (role) {
        case Role::esc:
            // a name of the ESC without a unit or the word temperature may be anything of it
            points = points > 0 && has(esc_words) ? points + named : std::min(points, likely);
            break;
        case Role::time:
            points += column.kind == Kind::clock || column.kind == Kind::date ? measured : 0;
            // a duration among other figures: only its name makes it the time
            if (!told && column.kind == Kind::number) {
                points = std::min(points, 1);
            }
            break;
        case Role::throttle:
            // per cent may be a charge or a signal, microseconds any servo's pulse
            points = told ? points : std::min(points, 1);
            break;
        case Role::rpm:
            // a rotor's speed is not the motor's; the unit is part of the name, or all of it
            if (has(sign.never)) {
                return 0;
            }
            points = points > 0 && unit ? sure : points;
            break;
        case Role::current:
        case Role::voltage:
            break;
    }
    return has(sign.never) ? points - named - 1 : points;
}

std::vector<double> figures(const Layout& layout, size_t place) {
    std::vector<double> values;
    for (const std::vector<std::string>& cells : layout.sample) {
        const double value =
            place < cells.size()
                ? value_in(cells[place], layout.columns[place].kind, layout.decimal)
                : std::nan("");
        if (!std::isnan(value)) {
            values.push_back(value);
        }
    }
    return values;
}

/// A clock goes on: hardly a step back, and not all one time.
bool goes_on(const std::vector<double>& values) {
    size_t back = 0;
    bool on = false;
    for (size_t i = 1; i < values.size(); ++i) {
        back += values[i] < values[i - 1] ? 1 : 0;
        on = on || values[i] > values[i - 1];
    }
    return on && 50 * back <= values.size() - 1;
}

bool fits(Role role, const Layout& layout, size_t place) {
    const Kind kind = layout.columns[place].kind;
    if (role == Role::time) {
        return (kind == Kind::number || kind == Kind::clock || kind == Kind::date) &&
               goes_on(figures(layout, place));
    }
    return kind == Kind::number;
}

/// Without a name the first column that goes on like a clock.
std::optional<Guess> first_clock(const Layout& layout) {
    for (size_t place = 0; place < layout.columns.size(); ++place) {
        if (fits(Role::time, layout, place)) {
            return Guess{place, Confidence::unsure};
        }
    }
    return std::nullopt;
}

std::optional<Guess> guess(Role role, const Layout& layout, std::vector<bool>& taken) {
    std::optional<size_t> best;
    int most = 0;
    int next = -100;  // points of the second best
    for (size_t place = 0; place < layout.columns.size(); ++place) {
        if (taken[place] || !fits(role, layout, place)) {
            continue;
        }
        const int points = score(role, layout.columns[place]);
        if (!best || points > most) {
            next = best ? most : next;
            best = place;
            most = points;
        } else {
            next = std::max(next, points);
        }
    }
    if (!best || most <= 0) {
        return role == Role::time ? first_clock(layout) : std::nullopt;
    }
    Guess out{*best, Confidence::unsure};
    if (next < most) {
        out.confidence = most >= sure     ? Confidence::sure
                         : most >= likely ? Confidence::likely
                                          : Confidence::unsure;
    }
    taken[*best] = true;
    return out;
}

std::string_view time_unit(const Layout& layout, std::optional<size_t> column) {
    if (!column || layout.columns[*column].kind != Kind::number) {
        return "s";  // clock times are read as seconds
    }
    for (const std::string_view unit : {"s", "ms", "us", "min"}) {
        if (layout.columns[*column].unit == unit) {
            return unit;
        }
    }
    const std::vector<double> values = figures(layout, *column);
    std::vector<double> steps;
    for (size_t i = 1; i < values.size(); ++i) {
        if (values[i] > values[i - 1]) {
            steps.push_back(values[i] - values[i - 1]);
        }
    }
    std::sort(steps.begin(), steps.end());
    const double usual = steps.empty() ? 0 : steps[steps.size() / 2];
    // loggers write 1 to 200 rows a second: 5 to 1000 ms, 5000 us and more
    if (usual >= 4000) {
        return "us";
    }
    const bool whole = std::all_of(values.begin(), values.end(),
                                   [](double value) { return value == std::floor(value); });
    return usual >= 5 && whole ? "ms" : "s";
}

std::string_view throttle_unit(const Layout& layout, std::optional<size_t> column) {
    if (!column) {
        return "pct";
    }
    for (const std::string_view unit : {"pct", "us"}) {
        if (layout.columns[*column].unit == unit) {
            return unit;
        }
    }
    const std::vector<double> values = figures(layout, *column);
    if (values.empty()) {
        return "pct";
    }
    const auto [least, most] = std::minmax_element(values.begin(), values.end());
    if (*least >= 700 && *most <= 2400) {
        return "us";
    }
    return *most > 0 && *most <= 1.1 && *least >= -1.1 ? "share" : "pct";
}

}  // namespace

std::string_view role_name(Role role) {
    switch (role) {
        case Role::time:
            return "time_s";
        case Role::throttle:
            return "throttle_pct";
        case Role::current:
            return "current_A";
        case Role::voltage:
            return "voltage_V";
        case Role::esc:
            return "esc_C";
        case Role::rpm:
            return "rpm";
    }
    return "";
}

std::string_view confidence_name(Confidence confidence) {
    switch (confidence) {
        case Confidence::unsure:
            return "unsure";
        case Confidence::likely:
            return "likely";
        case Confidence::sure:
            return "sure";
    }
    return "";
}

ByRole<Guess> guess_roles(const Layout& layout) {
    std::vector<bool> taken(layout.columns.size(), false);
    ByRole<Guess> out;
    for (const Role role : roles) {
        out[static_cast<size_t>(role)] = guess(role, layout, taken);
    }
    return out;
}

Units guess_units(const Layout& layout, const ByRole<size_t>& columns) {
    const auto is = [&](Role role, std::string_view unit) {
        const auto column = columns[static_cast<size_t>(role)];
        return column && layout.columns[*column].unit == unit;
    };
    return {.time = time_unit(layout, columns[0]),
            .throttle = throttle_unit(layout, columns[1]),
            .current = is(Role::current, "mA") ? "mA" : "A",
            .voltage = is(Role::voltage, "mV") ? "mV" : "V",
            .temperature = is(Role::esc, "F") ? "F" : "C"};
}

}  // namespace hotband::logger
