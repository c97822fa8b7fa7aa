// What does a logger's file say, line by line? Its encoding told by its first bytes, decoded to
// UTF-8 piece by piece, so that a long file need never stand in memory as a whole.
#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace hotband::logger {

enum class Encoding { utf_8, utf_16le, utf_16be, windows_1252 };

/// As the Encoding Standard writes it.
std::string_view encoding_name(Encoding encoding);

/// Bytes that tell the encoding and the layout.
inline constexpr size_t head_bytes = size_t{256} * 1024;

/// By the byte order mark, else by zero bytes (UTF-16), else by whether it is UTF-8 at all.
Encoding encoding_of(std::string_view head);

/// Bytes to UTF-8, a piece at a time; what is no character becomes U+FFFD, as the Encoding Standard
/// has it (WHATWG), and a byte order mark is left out.
class Decoder {
 public:
    explicit Decoder(Encoding encoding) : encoding_(encoding) {}

    /// Appends the text of the next piece; a character cut off at its end waits for the next.
    void decode(std::string_view piece, std::string& out);
    /// The text's end: what still waits is no character.
    void finish(std::string& out);
    /// Was there anything that is no character?
    bool broken() const { return broken_; }

 private:
    void decode_utf_8(unsigned char byte, std::string& out);
    void decode_utf_16(unsigned char byte, std::string& out);
    void put(char32_t character, std::string& out);
    void put_broken(std::string& out);

    Encoding encoding_;
    bool begun_ = false;
    bool broken_ = false;
    // UTF-8: bytes still wanted of a character, its bits so far, what the next byte may be
    int wanted_ = 0;
    char32_t bits_ = 0;
    unsigned char least_ = 0x80, most_ = 0xBF;
    // UTF-16: the first byte of a unit, the first unit of a pair
    std::optional<unsigned char> half_;
    char32_t lead_ = 0;
};

/// Decoded text cut into lines: \n, \r\n or \r.
class Lines {
 public:
    explicit Lines(Encoding encoding) : decoder_(encoding) {}

    /// Calls `take(line)` for every line that ends in what was given so far.
    template <class F>
    void add(std::string_view piece, F&& take) {
        decoder_.decode(piece, rest_);
        cut(false, take);
    }
    /// The last line, if it has no break of its own.
    template <class F>
    void finish(F&& take) {
        decoder_.finish(rest_);
        cut(true, take);
        if (!rest_.empty()) {
            take(std::string_view(rest_));
        }
        rest_.clear();
    }

 private:
    template <class F>
    void cut(bool whole, F&& take) {
        size_t from = 0;
        for (;;) {
            const size_t at = rest_.find_first_of("\r\n", std::max(from, searched_));
            searched_ = std::min(at, rest_.size());
            // the second half of a break may be in the next piece
            if (at == rest_.npos || (!whole && rest_[at] == '\r' && at + 1 == rest_.size())) {
                break;
            }
            take(std::string_view(rest_).substr(from, at - from));
            const bool pair = rest_[at] == '\r' && at + 1 < rest_.size() && rest_[at + 1] == '\n';
            from = at + (pair ? 2 : 1);
        }
        rest_.erase(0, from);
        searched_ -= std::min(searched_, from);
    }

    Decoder decoder_;
    std::string rest_;
    size_t searched_ = 0;  // of it: no break stands before that
};

/// The lines of a file's head; the last one only if the head is the whole file.
std::vector<std::string> head_lines(std::string_view head, Encoding encoding, bool whole);

// UTF-8 text, which a logger's cells are made of:

/// The character that starts at `at` (text is well-formed) and its bytes.
struct Character {
    char32_t value;
    size_t bytes;
};
Character character_at(std::string_view text, size_t at);

/// Appends a character.
void append(std::string& text, char32_t character);

/// True for what Unicode calls white space, and a byte order mark.
bool is_space(char32_t character);

/// Without white space at both ends.
std::string_view trimmed(std::string_view text);

/// Its characters, those beyond 16 bits counted twice, as limits of length are meant here.
size_t length_of(std::string_view text);

/// The first characters of a text up to that length.
std::string_view first_of(std::string_view text, size_t length);

}  // namespace hotband::logger
