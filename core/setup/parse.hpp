// Text in, Setup out, or every problem at once. The only way into the house.
#pragma once

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
using Problems = std::vector<Problem>;

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
