// Encodings; see text.hpp. Source: Encoding Standard (WHATWG), its decoders and windows-1252 index.
#include "logger/text.hpp"

#include <algorithm>
#include <array>

namespace hotband::logger {
namespace {

constexpr char32_t replacement = 0xFFFD;

/// Bytes 80 to 9F of windows-1252; the rest is the character of the same number.
constexpr std::array<char16_t, 32> windows_1252 = {
    0x20AC, 0x0081, 0x201A, 0x0192, 0x201E, 0x2026, 0x2020, 0x2021, 0x02C6, 0x2030, 0x0160,
    0x2039, 0x0152, 0x008D, 0x017D, 0x008F, 0x0090, 0x2018, 0x2019, 0x201C, 0x201D, 0x2022,
    0x2013, 0x2014, 0x02DC, 0x2122, 0x0161, 0x203A, 0x0153, 0x009D, 0x017E, 0x0178};

bool is_utf_8(std::string_view head) {
    Decoder decoder(Encoding::utf_8);
    std::string text;
    // not finished: the head may end within a character
    decoder.decode(head, text);
    return !decoder.broken();
}

}  // namespace

std::string_view encoding_name(Encoding encoding) {
    switch (encoding) {
        case Encoding::utf_8:
            return "utf-8";
        case Encoding::utf_16le:
            return "utf-16le";
        case Encoding::utf_16be:
            return "utf-16be";
        case Encoding::windows_1252:
            return "windows-1252";
    }
    return "";
}

Encoding encoding_of(std::string_view head) {
    if (head.substr(0, 2) == "\xFF\xFE") {
        return Encoding::utf_16le;
    }
    if (head.substr(0, 2) == "\xFE\xFF") {
        return Encoding::utf_16be;
    }
    size_t zeros[2] = {0, 0};
    for (size_t i = 0; i < head.size(); ++i) {
        zeros[i % 2] += head[i] == '\0' ? 1 : 0;
    }
    // text of a log in UTF-16 is ASCII mostly: every second byte is zero
    const auto [even, odd] = zeros;
    if (4 * odd > head.size() && odd > 4 * even) {
        return Encoding::utf_16le;
    }
    if (4 * even > head.size() && even > 4 * odd) {
        return Encoding::utf_16be;
    }
    return is_utf_8(head) ? Encoding::utf_8 : Encoding::windows_1252;
}

void append(std::string& text, char32_t c) {
    const auto tail = [&](int shift) { text += static_cast<char>(0x80 | ((c >> shift) & 0x3F)); };
    if (c < 0x80) {
        text += static_cast<char>(c);
    } else if (c < 0x800) {
        text += static_cast<char>(0xC0 | (c >> 6));
        tail(0);
    } else if (c < 0x10000) {
        text += static_cast<char>(0xE0 | (c >> 12));
        tail(6);
        tail(0);
    } else {
        text += static_cast<char>(0xF0 | (c >> 18));
        tail(12);
        tail(6);
        tail(0);
    }
}

void Decoder::put(char32_t character, std::string& out) {
    constexpr char32_t mark = 0xFEFF;
    const bool first = !begun_;
    begun_ = true;
    if (!first || character != mark || encoding_ == Encoding::windows_1252) {
        append(out, character);
    }
}

void Decoder::put_broken(std::string& out) {
    broken_ = true;
    put(replacement, out);
}

void Decoder::decode_utf_8(unsigned char byte, std::string& out) {
    if (wanted_ == 0) {
        least_ = 0x80;
        most_ = 0xBF;
        if (byte < 0x80) {
            put(byte, out);
        } else if (byte >= 0xC2 && byte <= 0xDF) {
            wanted_ = 1;
            bits_ = byte & 0x1F;
        } else if (byte >= 0xE0 && byte <= 0xEF) {
            least_ = byte == 0xE0 ? 0xA0 : 0x80;  // no overlong form
            most_ = byte == 0xED ? 0x9F : 0xBF;   // no surrogate
            wanted_ = 2;
            bits_ = byte & 0xF;
        } else if (byte >= 0xF0 && byte <= 0xF4) {
            least_ = byte == 0xF0 ? 0x90 : 0x80;  // no overlong form
            most_ = byte == 0xF4 ? 0x8F : 0xBF;   // nothing above U+10FFFF
            wanted_ = 3;
            bits_ = byte & 0x7;
        } else {
            put_broken(out);
        }
        return;
    }
    if (byte < least_ || byte > most_) {
        wanted_ = 0;
        put_broken(out);
        decode_utf_8(byte, out);
        return;
    }
    least_ = 0x80;
    most_ = 0xBF;
    bits_ = (bits_ << 6) | (byte & 0x3F);
    if (--wanted_ == 0) {
        put(bits_, out);
    }
}

void Decoder::decode_utf_16(unsigned char byte, std::string& out) {
    if (!half_) {
        half_ = byte;
        return;
    }
    const char32_t unit = encoding_ == Encoding::utf_16be ? char32_t(*half_ << 8 | byte)
                                                          : char32_t(byte << 8 | *half_);
    half_.reset();
    const bool trails = unit >= 0xDC00 && unit <= 0xDFFF;
    if (lead_ != 0 && trails) {
        put(0x10000 + ((lead_ - 0xD800) << 10) + (unit - 0xDC00), out);
        lead_ = 0;
        return;
    }
    if (lead_ != 0) {
        put_broken(out);
        lead_ = 0;
    }
    if (unit >= 0xD800 && unit <= 0xDBFF) {
        lead_ = unit;
    } else {
        trails ? put_broken(out) : put(unit, out);
    }
}

void Decoder::decode(std::string_view piece, std::string& out) {
    for (const char c : piece) {
        const auto byte = static_cast<unsigned char>(c);
        switch (encoding_) {
            case Encoding::utf_8:
                decode_utf_8(byte, out);
                break;
            case Encoding::utf_16le:
            case Encoding::utf_16be:
                decode_utf_16(byte, out);
                break;
            case Encoding::windows_1252:
                put(byte >= 0x80 && byte <= 0x9F ? windows_1252[byte - 0x80] : byte, out);
                break;
        }
    }
}

void Decoder::finish(std::string& out) {
    if (wanted_ > 0 || half_ || lead_ != 0) {
        put_broken(out);
    }
    wanted_ = 0;
    half_.reset();
    lead_ = 0;
}

std::vector<std::string> head_lines(std::string_view head, Encoding encoding, bool whole) {
    std::vector<std::string> lines;
    const auto take = [&](std::string_view line) { lines.emplace_back(line); };
    Lines cut(encoding);
    cut.add(head, take);
    if (whole) {
        cut.finish(take);
    } else if (lines.empty()) {
        // one line longer than the head: what there is of it
        std::string text;
        Decoder(encoding).decode(head, text);
        lines.push_back(std::move(text));
    }
    return lines;
}

Character character_at(std::string_view text, size_t at) {
    const auto byte = [&](size_t i) -> char32_t {
        return at + i < text.size() ? static_cast<unsigned char>(text[at + i]) & 0x3F : 0;
    };
    const auto first = static_cast<unsigned char>(text[at]);
    if (first < 0xC0) {
        return {first, 1};
    }
    if (first < 0xE0) {
        return {(first & 0x1FU) << 6 | byte(1), 2};
    }
    if (first < 0xF0) {
        return {(first & 0xFU) << 12 | byte(1) << 6 | byte(2), 3};
    }
    return {(first & 0x7U) << 18 | byte(1) << 12 | byte(2) << 6 | byte(3), 4};
}

bool is_space(char32_t c) {
    return (c >= 0x09 && c <= 0x0D) || c == ' ' || c == 0xA0 || c == 0x1680 ||
           (c >= 0x2000 && c <= 0x200A) || c == 0x2028 || c == 0x2029 || c == 0x202F ||
           c == 0x205F || c == 0x3000 || c == 0xFEFF;
}

std::string_view trimmed(std::string_view text) {
    while (!text.empty()) {
        const Character c = character_at(text, 0);
        if (!is_space(c.value)) {
            break;
        }
        text.remove_prefix(std::min(c.bytes, text.size()));
    }
    while (!text.empty()) {
        size_t at = text.size() - 1;
        while (at > 0 && (static_cast<unsigned char>(text[at]) & 0xC0) == 0x80) {
            --at;
        }
        if (!is_space(character_at(text, at).value)) {
            break;
        }
        text.remove_suffix(text.size() - at);
    }
    return text;
}

size_t length_of(std::string_view text) {
    size_t length = 0;
    for (const char c : text) {
        const auto byte = static_cast<unsigned char>(c);
        length += (byte & 0xC0) != 0x80 ? 1 : 0;
        length += byte >= 0xF0 ? 1 : 0;
    }
    return length;
}

std::string_view first_of(std::string_view text, size_t length) {
    size_t at = 0;
    while (at < text.size() && length > 0) {
        const Character c = character_at(text, at);
        const size_t units = c.value > 0xFFFF ? 2 : 1;
        if (units > length) {
            break;
        }
        length -= units;
        at = std::min(at + c.bytes, text.size());
    }
    return text.substr(0, at);
}

}  // namespace hotband::logger
