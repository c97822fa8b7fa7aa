// How a text becomes the tree: nlohmann's event parser feeds a builder that watches nesting, keys
// and places. No exception is thrown on the way.
#include "setup/json.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <nlohmann/json.hpp>

namespace hotband {
namespace {

using Parser = nlohmann::json;

std::string place(std::string_view text, size_t offset) {
    const std::string_view before = text.substr(0, std::min(offset, text.size()));
    const auto line = 1 + std::count(before.begin(), before.end(), '\n');
    const size_t line_start = before.rfind('\n') == before.npos ? 0 : before.rfind('\n') + 1;
    const size_t column = 1 + count_utf8(before.substr(line_start)).value_or(0);
    return "line " + std::to_string(line) + ", column " + std::to_string(column);
}

bool word_character(char c) {
    return (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || c == '_' ||
           c == '+' || c == '-' || c == '.';
}

/// The word (or single character) around an offset.
std::string_view word_at(std::string_view text, size_t offset) {
    size_t first = offset;
    while (first > 0 && word_character(text[first - 1]) && word_character(text[offset])) {
        --first;
    }
    size_t last = offset;
    while (last < text.size() && word_character(text[last])) {
        ++last;
    }
    return text.substr(first, std::max<size_t>(last - first, 1));
}

class Builder {
 public:
    Builder(std::string_view text, Problems& problems) : text_(text), problems_(problems) {}

    bool null() { return add(Json{}); }
    bool boolean(bool value) { return add(Json{value}); }
    bool number_integer(std::int64_t value) { return add(Json{static_cast<double>(value)}); }
    bool number_unsigned(std::uint64_t value) { return add(Json{static_cast<double>(value)}); }
    bool number_float(double value, const std::string& /*as_written*/) { return add(Json{value}); }
    bool string(std::string& value) { return add(Json{std::move(value)}); }
    bool binary(Parser::binary_t& /*value*/) { return false; }
    bool start_object(size_t /*size*/) { return open(Json{JsonObject{}}); }
    bool start_array(size_t /*size*/) { return open(Json{JsonList{}}); }
    bool end_object() { return close(); }
    bool end_array() { return close(); }

    bool key(std::string& value) {
        Level& level = levels_.back();
        if (level.node == nullptr) {
            return true;
        }
        auto& members = *level.node->as<JsonObject>();
        level.skip_next = std::any_of(members.begin(), members.end(),
                                      [&](const JsonMember& m) { return m.key == value; });
        if (level.skip_next) {
            problems_.push_back({path_join(here(), value), "is given twice"});
            return true;
        }
        if (members.size() == most_keys) {
            return fail("holds an object of more than " + std::to_string(most_keys) + " keys");
        }
        members.push_back({std::move(value), Json{}});
        return true;
    }

    bool parse_error(size_t position, const std::string& /*token*/,
                     const Parser::exception& error) {
        constexpr int out_of_range = 406;  // nlohmann's number for "does not fit a double"
        const size_t offset = position == 0 ? 0 : position - 1;
        if (error.id == out_of_range) {
            // The position is that of the number's last character or the one behind it.
            const size_t in_number = std::min(offset, text_.size() - 1);
            return fail("holds a number too large for a double at " + place(text_, in_number));
        }
        if (offset >= text_.size()) {
            return fail(text_.find_first_not_of(" \t\r\n") == text_.npos
                            ? "is empty"
                            : "ends too early, at " + place(text_, offset));
        }
        if (whole_) {
            return fail("goes on after its end, at " + place(text_, offset));
        }
        const std::string_view word = word_at(text_, offset);
        const std::string_view bare = word.substr(
            word.find_first_not_of("+-") == word.npos ? 0 : word.find_first_not_of("+-"));
        if (bare == "NaN" || bare == "nan" || bare == "Infinity" || bare == "inf") {
            return fail("holds " + std::string(word) + " at " + place(text_, offset) +
                        ", which is not a number JSON has");
        }
        return fail("is broken at " + place(text_, offset) + ", near " + in_quotes(word));
    }

    bool failed() const { return failed_; }
    Json take() { return std::move(root_); }

 private:
    /// An open object or list; `node` is null inside the value of a duplicate key.
    struct Level {
        Json* node = nullptr;
        bool skip_next = false;
    };

    bool fail(std::string text) {
        failed_ = true;
        problems_ = {{"JSON", std::move(text)}};
        return false;
    }

    std::string here() const {
        std::string path;
        for (size_t i = 0; i + 1 < levels_.size(); ++i) {
            if (levels_[i].node == nullptr) {
                break;
            }
            if (const auto* list = levels_[i].node->as<JsonList>()) {
                path = path_join(path, list->size() - 1);
            } else {
                path = path_join(path, levels_[i].node->as<JsonObject>()->back().key);
            }
        }
        return path;
    }

    /// Puts a value where the text is now; null when the value is dropped with its duplicate key.
    Json* place_value(Json value) {
        if (levels_.empty()) {
            root_ = std::move(value);
            return &root_;
        }
        Level& level = levels_.back();
        if (level.node == nullptr || level.skip_next) {
            return nullptr;
        }
        if (auto* list = level.node->as<JsonList>()) {
            list->push_back(std::move(value));
            return &list->back();
        }
        Json& slot = level.node->as<JsonObject>()->back().value;
        slot = std::move(value);
        return &slot;
    }

    bool add(Json value) {
        place_value(std::move(value));
        whole_ = levels_.empty();
        return true;
    }

    bool open(Json container) {
        if (levels_.size() == most_nesting) {
            return fail("is nested deeper than " + std::to_string(most_nesting) + " levels");
        }
        levels_.push_back({place_value(std::move(container))});
        return true;
    }

    bool close() {
        levels_.pop_back();
        whole_ = levels_.empty();
        return true;
    }

    std::string_view text_;
    Problems& problems_;
    Json root_;
    std::vector<Level> levels_;
    bool whole_ = false;
    bool failed_ = false;
};

bool plain_word(std::string_view key) {
    return !key.empty() && std::all_of(key.begin(), key.end(), [](char c) {
        return (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') ||
               c == '_';
    });
}

/// Bytes of the code point that starts at `at`, or 0 when it is not well-formed (RFC 3629, section
/// 4).
size_t utf8_length(std::string_view text, size_t at) {
    const auto byte = [&](size_t i) {
        return i < text.size() ? static_cast<unsigned char>(text[i]) : 0U;
    };
    const auto within = [&](size_t i, unsigned least, unsigned most) {
        return byte(i) >= least && byte(i) <= most;
    };
    const unsigned first = byte(at);
    if (first < 0x80) {
        return 1;
    }
    if (first >= 0xC2 && first <= 0xDF) {
        return within(at + 1, 0x80, 0xBF) ? 2 : 0;
    }
    if (first >= 0xE0 && first <= 0xEF) {
        const unsigned least = first == 0xE0 ? 0xA0 : 0x80;  // no overlong form
        const unsigned most = first == 0xED ? 0x9F : 0xBF;   // no surrogate
        return within(at + 1, least, most) && within(at + 2, 0x80, 0xBF) ? 3 : 0;
    }
    if (first >= 0xF0 && first <= 0xF4) {
        const unsigned least = first == 0xF0 ? 0x90 : 0x80;  // no overlong form
        const unsigned most = first == 0xF4 ? 0x8F : 0xBF;   // nothing above U+10FFFF
        const bool good =
            within(at + 1, least, most) && within(at + 2, 0x80, 0xBF) && within(at + 3, 0x80, 0xBF);
        return good ? 4 : 0;
    }
    return 0;
}

/// Bytes of the control character that starts at `at`, or 0 where none does: C0, DEL or C1.
size_t control_length(std::string_view utf8, size_t at) {
    const auto byte = [&](size_t i) {
        return i < utf8.size() ? static_cast<unsigned char>(utf8[i]) : 0xFFU;
    };
    if (byte(at) < 0x20 || byte(at) == 0x7F) {
        return 1;
    }
    return byte(at) == 0xC2 && byte(at + 1) < 0xA0 ? 2 : 0;
}

/// The escape of a character that no JSON string may hold as it is (RFC 8259, section 7), or of a
/// control character beyond those, whose code point is its last byte.
std::string escape_of(char last_byte) {
    constexpr std::string_view plain = "\"\\\b\f\n\r\t";
    constexpr std::string_view letters = "\"\\bfnrt";
    constexpr std::string_view digits = "0123456789abcdef";
    if (const size_t letter = plain.find(last_byte); letter != plain.npos) {
        return {'\\', letters[letter]};
    }
    const auto code = static_cast<unsigned char>(last_byte);
    return {'\\', 'u', '0', '0', digits[code >> 4], digits[code & 0xF]};
}

void write(const Json& json, std::string& out) {
    if (json.is_null()) {
        out += "null";
    } else if (const bool* flag = json.as<bool>()) {
        out += *flag ? "true" : "false";
    } else if (const double* number = json.as<double>()) {
        out += std::isfinite(*number) ? number_text(*number) : "null";
    } else if (const std::string* text = json.as<std::string>()) {
        out += string_text(*text);
    } else if (const JsonList* list = json.as<JsonList>()) {
        out += '[';
        for (const Json& item : *list) {
            if (&item != &list->front()) {
                out += ',';
            }
            write(item, out);
        }
        out += ']';
    } else if (const JsonObject* object = json.as<JsonObject>()) {
        out += '{';
        for (const JsonMember& member : *object) {
            if (&member != &object->front()) {
                out += ',';
            }
            out += string_text(member.key);
            out += ':';
            write(member.value, out);
        }
        out += '}';
    }
}

}  // namespace

Json::Json() = default;
Json::Json(bool flag) : value(flag) {}
Json::Json(double number) : value(number) {}
Json::Json(std::string text) : value(std::move(text)) {}
Json::Json(JsonList list) : value(std::move(list)) {}
Json::Json(JsonObject object) : value(std::move(object)) {}
Json::Json(const Json& other) = default;
Json::Json(Json&& other) noexcept = default;
Json& Json::operator=(const Json& other) = default;
Json& Json::operator=(Json&& other) noexcept = default;
Json::~Json() = default;

bool Json::operator==(const Json& other) const { return value == other.value; }
bool JsonMember::operator==(const JsonMember& other) const {
    return key == other.key && value == other.value;
}

std::optional<Json> parse_json(std::string_view text, Problems& problems) {
    if (text.size() > most_text_bytes) {
        problems = {{"JSON", "is longer than 4 MB"}};
        return std::nullopt;
    }
    if (!count_utf8(text)) {
        problems = {{"JSON", "is not UTF-8 text"}};
        return std::nullopt;
    }
    // The parser would take a zero byte for the end of the text.
    if (const size_t zero = text.find('\0'); zero != text.npos) {
        problems = {{"JSON", "holds a zero byte at " + place(text, zero)}};
        return std::nullopt;
    }
    Builder builder(text, problems);
    const bool read = Parser::sax_parse(text.begin(), text.end(), &builder);
    if (!read || builder.failed()) {
        return std::nullopt;
    }
    return builder.take();
}

std::string write_json(const Json& json) {
    std::string out;
    write(json, out);
    return out;
}

std::string string_text(std::string_view text) {
    std::string out = "\"";
    for (size_t at = 0; at < text.size();) {
        const size_t length = utf8_length(text, at);
        if (length == 0) {
            out += "\xEF\xBF\xBD";
        } else if (text[at] == '"' || text[at] == '\\' || control_length(text, at) > 0) {
            out += escape_of(text[at + length - 1]);
        } else {
            out += text.substr(at, length);
        }
        at += std::max<size_t>(length, 1);
    }
    out += '"';
    return out;
}

std::string number_text(double number) {
    constexpr double exact_whole = 9.0e15;  // below 2^53 every whole double is an exact int64
    if (number == std::floor(number) && std::abs(number) < exact_whole) {
        return std::to_string(static_cast<std::int64_t>(number));
    }
    // The shortest text of a finite double, as the library's own writer has it, without a tree.
    constexpr size_t most_digits = 32;
    std::array<char, most_digits> digits{};
    const char* end =
        nlohmann::detail::to_chars(digits.data(), digits.data() + most_digits, number);
    return {digits.data(), static_cast<size_t>(end - digits.data())};
}

std::string in_quotes(std::string_view text) {
    constexpr size_t most_shown = 40;
    size_t end = 0;
    for (size_t shown = 0; shown < most_shown && end < text.size(); ++shown) {
        end += std::max<size_t>(utf8_length(text, end), 1);
    }
    end = std::min(end, text.size());
    std::string out = string_text(text.substr(0, end));
    if (end < text.size()) {
        out.insert(out.size() - 1, "...");
    }
    return out;
}

std::string path_join(std::string_view path, std::string_view key) {
    std::string out(path);
    if (!out.empty()) {
        out += '.';
    }
    const bool dotted_words = std::all_of(key.begin(), key.end(), [](char c) {
        return c == '.' || plain_word(std::string_view(&c, 1));
    });
    const bool short_enough = key.size() <= 80;
    out += !key.empty() && dotted_words && short_enough ? std::string(key) : in_quotes(key);
    return out;
}

std::string path_join(std::string_view path, size_t index) {
    return std::string(path) + "[" + std::to_string(index) + "]";
}

const Json* find(const Json& json, std::string_view dotted_key) {
    const JsonObject* object = json.as<JsonObject>();
    if (object == nullptr) {
        return nullptr;
    }
    const size_t dot = dotted_key.find('.');
    const std::string_view key = dotted_key.substr(0, dot);
    const auto member = std::find_if(object->begin(), object->end(),
                                     [&](const JsonMember& m) { return m.key == key; });
    if (member == object->end()) {
        return nullptr;
    }
    return dot == dotted_key.npos ? &member->value
                                  : find(member->value, dotted_key.substr(dot + 1));
}

void put(Json& json, std::string_view dotted_key, Json value) {
    if (json.is_null()) {
        json.value = JsonObject{};
    }
    JsonObject& object = *json.as<JsonObject>();
    const size_t dot = dotted_key.find('.');
    const std::string_view key = dotted_key.substr(0, dot);
    auto member = std::find_if(object.begin(), object.end(),
                               [&](const JsonMember& m) { return m.key == key; });
    if (member == object.end()) {
        object.push_back({std::string(key), Json{}});
        member = object.end() - 1;
    }
    if (dot == dotted_key.npos) {
        member->value = std::move(value);
    } else {
        put(member->value, dotted_key.substr(dot + 1), std::move(value));
    }
}

std::optional<size_t> count_utf8(std::string_view text) {
    size_t count = 0;
    for (size_t at = 0; at < text.size(); ++count) {
        const size_t length = utf8_length(text, at);
        if (length == 0) {
            return std::nullopt;
        }
        at += length;
    }
    return count;
}

bool has_control_character(std::string_view utf8) {
    for (size_t at = 0; at < utf8.size(); ++at) {
        if (control_length(utf8, at) > 0) {
            return true;
        }
    }
    return false;
}

}  // namespace hotband
