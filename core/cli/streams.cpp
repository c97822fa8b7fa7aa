// Reading and writing; see streams.hpp. C streams, because they say what failed.
#include "cli/streams.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <system_error>
#include <utility>
#include <vector>

namespace hotband::cli {
namespace {

std::string words_of(int error) { return std::generic_category().message(error); }

Problem cannot_read(const std::string& name, int error) {
    return {"", "cannot read " + name + ": " + words_of(error)};
}

}  // namespace

std::string in_quotes(std::string_view word) { return '`' + std::string(word) + '`'; }

void Input::Close::operator()(std::FILE* file) const {
    if (file != stdin) {
        std::fclose(file);
    }
}

Result<Input> Input::open(const std::optional<std::string>& operand) {
    if (!operand || *operand == "-") {
        return Input(stdin, "standard input");
    }
    const std::string name = in_quotes(*operand);
    if (std::FILE* file = std::fopen(operand->c_str(), "rb")) {
        return Input(file, name);
    }
    return Problems{cannot_read(name, errno)};
}

Result<std::string> Input::whole(size_t most_bytes) {
    std::string text;
    std::array<char, 1 << 16> piece;
    while (text.size() <= most_bytes) {
        const size_t wanted = std::min(piece.size(), most_bytes + 1 - text.size());
        const size_t read = std::fread(piece.data(), 1, wanted, file_.get());
        text.append(piece.data(), read);
        if (read < wanted) {
            break;
        }
    }
    if (std::ferror(file_.get()) != 0) {
        return Problems{cannot_read(name_, errno)};
    }
    return text;
}

std::optional<std::string> Input::line(size_t most_bytes) {
    std::string text;
    int next = std::getc(file_.get());
    if (next == EOF) {
        error_ = std::ferror(file_.get()) != 0 ? errno : 0;
        return std::nullopt;
    }
    for (; next != EOF && next != '\n'; next = std::getc(file_.get())) {
        if (text.size() <= most_bytes) {
            text += static_cast<char>(next);
        }
    }
    return text;
}

std::optional<Problem> Input::failure() const {
    if (error_ == 0) {
        return std::nullopt;
    }
    return cannot_read(name_, error_);
}

bool print_line(std::string_view text) {
    const bool arrived = std::fwrite(text.data(), 1, text.size(), stdout) == text.size() &&
                         std::fputc('\n', stdout) != EOF && std::fflush(stdout) == 0;
    if (!arrived) {
        const std::string words = words_of(errno);
        std::fprintf(stderr, "cannot write to standard output: %s\n", words.c_str());
    }
    return arrived;
}

void print_problems(const Problems& problems) {
    for (const std::string& line : lines_of(problems)) {
        std::fprintf(stderr, "%s\n", line.c_str());
    }
}

}  // namespace hotband::cli
