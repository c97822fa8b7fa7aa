// Text in, Setup out, or every problem at once. The only way into the house.
#pragma once

#include <cstddef>
#include <initializer_list>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "setup/setup.hpp"

namespace hotband {

/// One thing wrong with an input: where (dotted path, `esc.rating_A`, `flight.parts[2].seconds`)
/// and what is accepted instead.
struct Problem {
    std::string path;
    std::string text;
};

/// Problems in the order they were found: the first hundred as they are, the others as a count. A
/// text of a million faults costs no more than that, and nobody reads on.
class Problems {
 public:
    static constexpr size_t most_listed = 100;

    Problems() = default;
    Problems(std::initializer_list<Problem> problems) : listed_(problems) {}

    void push_back(Problem problem);

    auto begin() const { return listed_.begin(); }
    auto end() const { return listed_.end(); }
    const Problem& front() const { return listed_.front(); }
    const Problem& operator[](size_t i) const { return listed_[i]; }
    bool empty() const { return listed_.empty(); }
    size_t size() const { return listed_.size(); }
    size_t unlisted() const { return unlisted_; }
    size_t count() const { return size() + unlisted(); }

 private:
    std::vector<Problem> listed_;
    size_t unlisted_ = 0;
};

/// Every problem as a line, `path: text`; where some are not listed, a last one that counts them.
std::vector<std::string> lines_of(const Problems& problems);

/// {"problems": [{"path": "", "text": ""}, ...]}; the last one as in `lines_of`, without a path.
std::string problems_to_json(const Problems& problems);

/// Either the answer or the full, non-empty list of problems. Errors are values.
template <class T>
using Result = std::variant<T, Problems>;

/// Setup JSON, version 1, to a Setup. Reports every problem at once; never throws.
Result<Setup> parse_setup(std::string_view json_text);

/// The Setup as canonical contract JSON holding only what differs from the defaults.
std::string setup_to_json(const Setup& setup);

/// The field table as JSON: what `hotband fields` prints and the page's form is made from.
std::string fields_to_json();

}  // namespace hotband
