// Which column is the time, the throttle, the current, the voltage, the ESC's temperature, the
// motor's speed? A guess from names, units and figures, with how sure it is.
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string_view>

#include "logger/layout.hpp"

namespace hotband::logger {

enum class Role { time, throttle, current, voltage, esc, rpm };
inline constexpr std::array roles = {Role::time,    Role::throttle, Role::current,
                                     Role::voltage, Role::esc,      Role::rpm};

/// As the log door's options name it: `time_s`.
std::string_view role_name(Role role);

/// `sure`: name and unit agree and no other column is like it; `likely`: one of them tells it;
/// `unsure`: others may be it as well.
enum class Confidence { unsure, likely, sure };

std::string_view confidence_name(Confidence confidence);

struct Guess {
    size_t column = 0;  // counted from 0
    Confidence confidence = Confidence::unsure;
};

/// One for each role in its order, empty where no column is like it.
template <class T>
using ByRole = std::array<std::optional<T>, roles.size()>;

ByRole<Guess> guess_roles(const Layout& layout);

/// What the columns are in, in the words of the log door's options.
struct Units {
    std::string_view time = "s", throttle = "pct", current = "A", voltage = "V", temperature = "C";
};

/// The units of the columns chosen: as told in the file, else by the size of the figures.
Units guess_units(const Layout& layout, const ByRole<size_t>& columns);

}  // namespace hotband::logger
