// Bare physics cases in: one switching-cycle or thermal-network case, or an array of them, read by
// tables as a setup is.
#pragma once

#include <string_view>
#include <vector>

#include "bridge/cycle.hpp"
#include "flight/heat.hpp"
#include "setup/parse.hpp"

namespace hotband {

/// The cases of a text, and whether it was an array of them.
template <class Case>
struct Cases {
    std::vector<Case> cases;
    bool is_array = false;
};

/// One switching-cycle case of the contract or an array of them; every problem at once, a case of
/// an array by its place, `[3].L_m`.
Result<Cases<CycleCase>> parse_cycles(std::string_view json_text);

/// The same for thermal-network cases.
Result<Cases<HeatCase>> parse_heats(std::string_view json_text);

}  // namespace hotband
