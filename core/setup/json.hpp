// What does a JSON text hold? A small tree that keeps only what we use, read strictly: duplicate
// keys, deep nesting, broken UTF-8 and numbers beyond double are problems with a place, never
// surprises.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "setup/parse.hpp"

namespace hotband {

struct Json;
struct JsonMember;
using JsonList = std::vector<Json>;
using JsonObject = std::vector<JsonMember>;  // in the order of the text, keys unique

/// One JSON value; null is std::monostate.
struct Json {
    std::variant<std::monostate, bool, double, std::string, JsonList, JsonObject> value;

    Json();
    explicit Json(bool flag);
    explicit Json(double number);
    explicit Json(std::string text);
    explicit Json(JsonList list);
    explicit Json(JsonObject object);
    Json(const Json& other);
    Json(Json&& other) noexcept;
    Json& operator=(const Json& other);
    Json& operator=(Json&& other) noexcept;
    ~Json();

    template <class T>
    const T* as() const {
        return std::get_if<T>(&value);
    }
    template <class T>
    T* as() {
        return std::get_if<T>(&value);
    }
    bool is_null() const { return value.index() == 0; }
    bool operator==(const Json& other) const;
};

struct JsonMember {
    std::string key;
    Json value;
    bool operator==(const JsonMember& other) const;
};

inline constexpr size_t most_text_bytes = 4'000'000;
inline constexpr size_t most_nesting = 16;
inline constexpr size_t most_keys = 256;  // of one object

/// Reads a whole text. Empty when the text cannot be read at all (then exactly one problem, path
/// `JSON`); duplicate keys are added to the problems and the first one is kept.
std::optional<Json> parse_json(std::string_view text, Problems& problems);

/// Compact JSON text. A number that is not finite is written as null.
std::string write_json(const Json& json);

/// A text as a JSON string: in quotes, control characters escaped; what is not UTF-8 becomes
/// U+FFFD.
std::string string_text(std::string_view text);

/// Shortest decimal that reads back as the same double; finite.
std::string number_text(double number);

/// The text in quotes, escaped to stay on one line, cut after 40 characters.
std::string in_quotes(std::string_view text);

/// `a.b` below path `p` is `p.a.b`; a key that is not a plain word is quoted.
std::string path_join(std::string_view path, std::string_view key);
std::string path_join(std::string_view path, size_t index);

/// The value under a dotted key, or null when it is not there.
const Json* find(const Json& json, std::string_view dotted_key);

/// Sets a dotted key, making the objects on the way; `json` becomes an object when it is null.
void put(Json& json, std::string_view dotted_key, Json value);

/// Number of code points, or empty when the bytes are not UTF-8 (RFC 3629).
std::optional<size_t> count_utf8(std::string_view text);

/// True when the text holds a control character: C0, DEL or C1.
bool has_control_character(std::string_view utf8);

}  // namespace hotband
