// What is a column called, and what is it in? A header as loggers write them, `Temp(°C)`,
// `Current [A]`, `t/ms`, `esc_C`, parted into name and unit.
#pragma once

#include <string>
#include <string_view>

namespace hotband::logger {

/// Our name of a unit, empty where it is none that we know.
std::string_view unit_named(std::string_view text);

struct Heading {
    std::string name;
    std::string unit;  // empty where none is told
};

/// Parts a header cell into name and unit.
Heading heading_of(std::string_view cell);

}  // namespace hotband::logger
