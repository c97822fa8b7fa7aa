// What does the program read, and did what it wrote arrive? Files and standard streams with every
// failure named, and never more of them in memory than is accepted.
#pragma once

#include <cstdio>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <variant>

#include "setup/parse.hpp"

namespace hotband::cli {

/// A file, or standard input where none is named or `-` is.
class Input {
 public:
    static Result<Input> open(const std::optional<std::string>& operand);

    /// The whole text. One longer than `most_bytes` comes cut, one byte longer than that: the doors
    /// refuse it.
    Result<std::string> whole(size_t most_bytes);

    /// The next line without its break, as soon as it is there; nothing behind the last one. A line
    /// longer than `most_bytes` comes cut as a text does, and the rest of it is passed over.
    std::optional<std::string> line(size_t most_bytes);

    /// Why the reading broke off, if it did.
    std::optional<Problem> failure() const;

 private:
    struct Close {
        void operator()(std::FILE* file) const;
    };
    Input(std::FILE* file, std::string name) : file_(file), name_(std::move(name)) {}

    std::unique_ptr<std::FILE, Close> file_;
    std::string name_;
    int error_ = 0;  // of errno
};

/// Writes the text and a line break to standard output, at once. False when it did not arrive; then
/// standard error says so.
bool print_line(std::string_view text);

/// The problems on standard error, a line each.
void print_problems(const Problems& problems);

/// The word in quotes for a message.
std::string in_quotes(std::string_view word);

}  // namespace hotband::cli
