// Units and headings; see units.hpp.
#include "logger/units.hpp"

#include <algorithm>
#include <optional>

#include "logger/text.hpp"
#include "logger/words.hpp"

namespace hotband::logger {
namespace {

constexpr size_t most_name = 80;

/// In small letters, as far as the spellings have letters; the kelvin sign is a K.
std::string small(std::string_view text) {
    constexpr std::string_view kelvin = "\u212a";
    constexpr std::string_view large_mu = "\u039c";
    std::string out;
    while (!text.empty()) {
        if (text.substr(0, kelvin.size()) == kelvin) {
            out += 'k';
            text.remove_prefix(kelvin.size());
        } else if (text.substr(0, large_mu.size()) == large_mu) {
            out += "\u03bc";
            text.remove_prefix(large_mu.size());
        } else {
            const char c = text[0];
            out += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
            text.remove_prefix(1);
        }
    }
    return out;
}

/// Runs of white space as one space, none at the ends.
std::string single_spaced(std::string_view text) {
    std::string out;
    for (size_t at = 0; at < text.size();) {
        const Character c = character_at(text, at);
        if (!is_space(c.value)) {
            out += text.substr(at, c.bytes);
        } else if (!out.empty() && out.back() != ' ') {
            out += ' ';
        }
        at += c.bytes;
    }
    return std::string(trimmed(out));
}

struct Parted {
    std::string_view name, unit;
};

// `Temp (°C)`, in whichever brackets
std::optional<Parted> in_brackets(std::string_view text) {
    constexpr std::string_view opens = "([{<";
    constexpr std::string_view closes = ")]}>";
    if (text.empty() || closes.find(text.back()) == closes.npos) {
        return {};
    }
    const std::string_view inner = text.substr(0, text.size() - 1);
    const size_t closed = inner.find_last_of(closes);
    const size_t open = inner.find_first_of(opens, closed == inner.npos ? 0 : closed + 1);
    if (open == inner.npos) {
        return {};
    }
    const std::string_view name = text.substr(0, open);
    return Parted{name.substr(0, name.find_last_not_of(" _") + 1), inner.substr(open + 1)};
}

// `t/ms`, `speed / m/s`
std::optional<Parted> behind_slash(std::string_view text) {
    for (size_t at = text.find('/', 1); at != text.npos; at = text.find('/', at + 1)) {
        const std::string_view unit = trimmed(text.substr(at + 1));
        const size_t slash = unit.find('/');
        const bool one = slash == unit.npos || (slash > 0 && slash + 1 < unit.size() &&
                                                unit.find('/', slash + 1) == unit.npos);
        if (!unit.empty() && one && unit.find(' ') == unit.npos) {
            return Parted{text.substr(0, at), unit};
        }
    }
    return {};
}

// `esc_C`, `Voltage, mV`
std::optional<Parted> last_word(std::string_view text) {
    constexpr std::string_view separators = " _,;:-";
    const size_t parted = text.find_last_of(separators);
    if (parted == text.npos || parted == 0 || parted + 1 == text.size()) {
        return {};
    }
    const size_t end = text.find_last_not_of(separators, parted);
    return Parted{text.substr(0, end == text.npos ? 1 : end + 1), text.substr(parted + 1)};
}

// `Gas%`, `Temp°C`
std::optional<Parted> behind_sign(std::string_view text) {
    const bool scale =
        !text.empty() && std::string_view("CFcf").find(text.back()) != std::string_view::npos;
    const auto ends_at = [&](std::string_view sign, size_t end) -> std::optional<Parted> {
        const size_t from = end - std::min(end, sign.size());
        if (from == 0 || text.substr(from, end - from) != sign) {
            return {};
        }
        return Parted{text.substr(0, from), text.substr(from)};
    };
    for (const std::string_view sign : {"\u00b0", "\u00ba"}) {
        if (const auto parted = ends_at(sign, text.size() - (scale ? 1 : 0))) {
            return parted;
        }
    }
    return ends_at("%", text.size());
}

}  // namespace

std::string_view unit_named(std::string_view text) {
    const std::string_view word = trimmed(text);
    for (const std::string_view letter : unit_letters) {
        if (word == letter) {
            return letter;
        }
    }
    const std::string written = small(word);
    for (const Spelling& spelling : spellings) {
        if (written == spelling.word) {
            return spelling.unit;
        }
    }
    return {};
}

Heading heading_of(std::string_view cell) {
    const std::string text = single_spaced(first_of(cell, most_name));
    for (const auto part : {in_brackets, behind_slash, last_word, behind_sign}) {
        const auto parted = part(text);
        const std::string_view unit = parted ? unit_named(parted->unit) : std::string_view();
        if (!unit.empty()) {
            const std::string_view name = trimmed(parted->name);
            return {name.empty() ? text : std::string(name), std::string(unit)};
        }
    }
    return {text, std::string(unit_named(text))};
}

}  // namespace hotband::logger
