// What stands where there is no number: nothing was measured, or nothing answers.
#pragma once

#include <limits>

namespace hotband {

inline constexpr double none = std::numeric_limits<double>::quiet_NaN();

}  // namespace hotband
