// What every fuzz target needs: bytes read as choices and numbers, and a check that ends the run.
#pragma once

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <optional>
#include <string>
#include <string_view>

#include "report/door.hpp"
#include "setup/json.hpp"

namespace hotband::fuzz {

/// Bytes read from the front; zeros when they are used up.
class Bytes {
 public:
    Bytes(const std::uint8_t* data, size_t size)
        : text_(reinterpret_cast<const char*>(data), size) {}

    std::uint8_t byte() {
        if (text_.empty()) {
            return 0;
        }
        const auto first = static_cast<std::uint8_t>(text_.front());
        text_.remove_prefix(1);
        return first;
    }
    /// A number about `usual`, at the ends 30 powers of ten away from it; its sign stays.
    double about(double usual) {
        const int high = byte();
        const double x = (high * 256 + byte()) / 32767.5 - 1;  // -1..1; zeros: far below
        return usual * std::pow(10, 30 * x * x * x);
    }
    std::string_view rest() const { return text_; }
    bool empty() const { return text_.empty(); }

 private:
    std::string_view text_;
};

inline void require(bool holds, const char* what) {
    if (!holds) {
        std::fprintf(stderr, "does not hold: %s\n", what);
        std::abort();
    }
}

/// The answer as JSON, which it must be; nothing where there were problems, of which there must be
/// some.
inline std::optional<Json> answer_of(const Result<std::string>& result) {
    if (const auto* problems = std::get_if<Problems>(&result)) {
        require(!problems->empty(), "no answer without a problem");
        for (const Problem& problem : *problems) {
            require(!problem.text.empty() && count_utf8(problem.text) && count_utf8(problem.path),
                    "a problem is said in words");
        }
        return std::nullopt;
    }
    Problems broken;
    // a report is longer than what is taken in, and no one reads one in here
    auto json = parse_json(*std::get_if<std::string>(&result), broken);
    require(json || std::get_if<std::string>(&result)->size() > most_text_bytes,
            "the answer is JSON");
    return json;
}

}  // namespace hotband::fuzz
