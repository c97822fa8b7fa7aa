// How is a setup shared with no signal? As a line of the characters a QR code stores most densely
// (ISO/IEC 18004, alphanumeric mode) and that a URL fragment takes as they are (RFC 3986, 3.5).
//
//   link    = "HB" version "/" pair ("/" pair)* "/" check
//   pair    = code value                      the code of a row of the field table
//   value   = number                          shortest decimal, exponent without "+"
//           | choice                          its index in the row's choices
//           | flag                            0 or 1
//           | text                            UTF-8 in hexadecimal
//           | (":" item)* "$"                 numbers, or rows
//   item    = number | pair ("/" pair)* | number ("/" number)*      the last for rows without keys
//   check   = CRC-32 (ISO 3309) of all before it, 8 hexadecimal digits
//
// Only what differs from the defaults is told. The reader makes the same tree that JSON makes, so
// that a link passes the same checks.
#include "setup/link.hpp"

#include <algorithm>
#include <array>
#include <cstdint>

#include "setup/field_table.hpp"
#include "setup/setup_json.hpp"

namespace hotband {
namespace {

constexpr std::string_view mark = "HB";
constexpr std::string_view link_version = "3";
// In links of the first version a freewheel left out was a diode, in those of the first two poles
// that were left out were fourteen, and a rotor was turned directly.
constexpr std::string_view first_link_version = "1";
constexpr std::string_view second_link_version = "2";
constexpr size_t check_length = 8;
constexpr const char* not_a_link = "is not in the form of a share link";
constexpr std::string_view hex_digits = "0123456789ABCDEF";

/// CRC-32 of ISO 3309 and ITU-T V.42: reflected polynomial EDB88320.
std::uint32_t crc32(std::string_view text) {
    std::uint32_t crc = 0xFFFFFFFF;
    for (const char c : text) {
        crc ^= static_cast<unsigned char>(c);
        for (int bit = 0; bit < 8; ++bit) {
            crc = (crc >> 1) ^ ((crc & 1) != 0 ? 0xEDB88320 : 0);
        }
    }
    return ~crc;
}

std::string check_text(std::string_view text) {
    const std::uint32_t crc = crc32(text);
    std::string out;
    for (int shift = 28; shift >= 0; shift -= 4) {
        out += hex_digits[(crc >> shift) & 0xF];
    }
    return out;
}

std::string link_number(double number) {
    std::string text = number_text(number);
    text.erase(std::remove(text.begin(), text.end(), '+'), text.end());
    std::replace(text.begin(), text.end(), 'e', 'E');
    return text;
}

std::string pairs_text(const Json& object, const std::vector<FieldInfo>& infos);

std::string value_text(const Json& value, const FieldInfo& info) {
    if (const bool* flag = value.as<bool>()) {
        return *flag ? "1" : "0";
    }
    if (const double* number = value.as<double>()) {
        return link_number(*number);
    }
    if (const std::string* text = value.as<std::string>()) {
        if (info.type == FieldType::choice) {
            const auto* const choice = std::find(info.choices.begin(), info.choices.end(), *text);
            return std::to_string(choice - info.choices.begin());
        }
        std::string out;
        for (const char c : *text) {
            const auto byte = static_cast<unsigned char>(c);
            out += hex_digits[byte >> 4];
            out += hex_digits[byte & 0xF];
        }
        return out;
    }
    std::string out;
    for (const Json& item : *value.as<JsonList>()) {
        out += ':';
        if (info.type == FieldType::numbers) {
            out += value_text(item, {});
        } else if (info.tuple) {
            const JsonList& places = *item.as<JsonList>();
            for (const Json& place : places) {
                if (&place != &places.front()) {
                    out += '/';
                }
                out += value_text(place, {});
            }
        } else {
            out += pairs_text(item, *info.rows);
        }
    }
    return out + '$';
}

std::string pairs_text(const Json& object, const std::vector<FieldInfo>& infos) {
    std::string out;
    for (const FieldInfo& info : infos) {
        const Json* value = find(object, info.key);
        if (value == nullptr) {
            continue;
        }
        if (!out.empty()) {
            out += '/';
        }
        out.append(info.code).append(value_text(*value, info));
    }
    return out;
}

/// Reads the pairs of a link whose check is right. The first fault ends the reading.
class Reader {
 public:
    explicit Reader(std::string_view text) : text_(text) {}

    Json read(const std::vector<FieldInfo>& infos) {
        Json object = pairs(infos);
        if (fault_.empty() && at_ != text_.size()) {
            fault_ = not_a_link;
        }
        return object;
    }
    const std::string& fault() const { return fault_; }

 private:
    bool next_is(char c) const { return at_ < text_.size() && text_[at_] == c; }

    bool take(char c) {
        if (!next_is(c)) {
            return false;
        }
        ++at_;
        return true;
    }

    /// The characters up to the next separator.
    std::string_view word() {
        const size_t end = std::min(text_.find_first_of("/:$", at_), text_.size());
        const std::string_view word = text_.substr(at_, end - at_);
        at_ = end;
        return word;
    }

    Json malformed() {
        fault_ = not_a_link;
        return Json{};
    }

    Json pairs(const std::vector<FieldInfo>& infos) {
        constexpr size_t code_length = 2;
        Json object{JsonObject{}};
        if (at_ == text_.size() || next_is(':') || next_is('$')) {
            return object;
        }
        do {
            const std::string_view code = text_.substr(at_, code_length);
            const auto info = std::find_if(infos.begin(), infos.end(),
                                           [&](const FieldInfo& i) { return i.code == code; });
            if (info == infos.end()) {
                fault_ = "holds " + in_quotes(code) +
                         ", which this version does not know: it was made by a newer one";
                return object;
            }
            at_ += code_length;
            if (find(object, info->key) != nullptr) {
                return malformed();
            }
            put(object, info->key, value(*info));
        } while (fault_.empty() && take('/'));
        return object;
    }

    Json value(const FieldInfo& info) {
        switch (info.type) {
            case FieldType::number:
            case FieldType::integer:
                return number();
            case FieldType::flag: {
                const std::string_view flag = word();
                return flag == "0" || flag == "1" ? Json{flag == "1"} : malformed();
            }
            case FieldType::choice: {
                const Json index = number();
                for (size_t i = 0; i < info.choices.size(); ++i) {
                    if (index == Json{static_cast<double>(i)}) {
                        return Json{std::string(info.choices[i])};
                    }
                }
                if (fault_.empty()) {
                    fault_ = "holds a choice of " + std::string(info.key) +
                             " this version does not know: it was made by a newer one";
                }
                return Json{};
            }
            case FieldType::text:
                return text();
            case FieldType::numbers:
            case FieldType::rows:
                return list(info);
        }
        return Json{};
    }

    /// A number in JSON's own grammar, so that only JSON's reader decides what one is.
    Json number() {
        Problems problems;
        std::optional<Json> number = parse_json(word(), problems);
        if (!number || number->as<double>() == nullptr) {
            return malformed();
        }
        return std::move(*number);
    }

    Json text() {
        const std::string_view hex = word();
        if (hex.size() % 2 != 0 || hex.find_first_not_of(hex_digits) != hex.npos) {
            return malformed();
        }
        std::string bytes;
        for (size_t i = 0; i < hex.size(); i += 2) {
            bytes += static_cast<char>(16 * hex_digits.find(hex[i]) + hex_digits.find(hex[i + 1]));
        }
        return count_utf8(bytes) ? Json{std::move(bytes)} : malformed();
    }

    Json list(const FieldInfo& info) {
        JsonList items;
        while (fault_.empty() && take(':')) {
            if (info.type == FieldType::numbers) {
                items.push_back(number());
            } else if (info.tuple) {
                JsonList places;
                do {
                    places.push_back(number());
                } while (fault_.empty() && take('/'));
                items.push_back(Json{std::move(places)});
            } else {
                items.push_back(pairs(*info.rows));
            }
        }
        if (fault_.empty() && !take('$')) {
            return malformed();
        }
        return Json{std::move(items)};
    }

    std::string_view text_;
    size_t at_ = 0;
    std::string fault_;
};

Problems link_problem(std::string text) { return {{"link", std::move(text)}}; }

/// The share text within a whole address: behind its last `#`, without white space, in upper case.
std::string bare_link(std::string_view text) {
    if (const size_t hash = text.rfind('#'); hash != text.npos) {
        text.remove_prefix(hash + 1);
    }
    std::string out(text.size(), '\0');
    size_t size = 0;
    for (const char c : text) {
        if (c == ' ' || (c >= '\t' && c <= '\r')) {
            continue;
        }
        out[size++] = c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
    }
    out.resize(size);
    return out;
}

}  // namespace

std::string to_link(const Setup& setup) {
    std::string text;
    text.append(mark).append(link_version).append(1, '/');
    text.append(pairs_text(write_setup(setup), setup_infos())).append(1, '/');
    return text + check_text(text);
}

namespace {

void put_where_none(Json& json, std::string_view key, Json value) {
    if (find(json, key) == nullptr) {
        put(json, key, std::move(value));
    }
}

// What was left out of a link of an earlier version, as it was meant then.
void put_as_meant(Json& json, std::string_view version) {
    if (version == first_link_version) {
        put_where_none(json, "esc.freewheel", Json{std::string("diode")});
    }
    if (version != link_version) {
        put_where_none(json, "motor.poles", Json{14.0});
        const Json* kind = find(json, "load.kind");
        if (kind != nullptr && *kind == Json{std::string("governed")}) {
            put_where_none(json, "load.gear_ratio", Json{1.0});
        }
    }
}

}  // namespace

Result<Setup> from_link(std::string_view given) {
    if (given.size() > most_text_bytes) {
        return link_problem("is longer than 4 MB");
    }
    const std::string link = bare_link(given);
    const std::string_view text = link;
    if (text.substr(0, mark.size()) != mark) {
        return link_problem("is not a share link: one begins with " + std::string(mark));
    }
    const size_t body_end = text.size() < check_length ? 0 : text.size() - check_length;
    if (text.substr(body_end) != check_text(text.substr(0, body_end))) {
        return link_problem("is damaged or cut off: its check sum does not fit; copy it again");
    }
    std::string_view body = text.substr(0, body_end);
    if (body.back() != '/') {
        return link_problem(not_a_link);
    }
    body.remove_suffix(1);
    const size_t slash = std::min(body.find('/'), body.size());
    const std::string_view version = body.substr(mark.size(), slash - mark.size());
    if (version != link_version && version != second_link_version &&
        version != first_link_version) {
        return link_problem("is of version " + in_quotes(version) +
                            ", newer than this one reads, " + std::string(link_version));
    }
    Problems problems;
    Reader reader(body.substr(std::min(slash + 1, body.size())));
    Json json = reader.read(setup_infos());
    put_as_meant(json, version);
    if (!reader.fault().empty()) {
        return link_problem(reader.fault());
    }
    Setup setup = read_setup(json, problems);
    if (!problems.empty()) {
        return problems;
    }
    return setup;
}

}  // namespace hotband
