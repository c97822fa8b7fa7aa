// What does a log say? Damaged rows, steady holds, the prediction beside it, as JSON (door.hpp).
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>

#include "learn/steady_holds.hpp"
#include "setup/setup.hpp"

namespace hotband {

/// `lines`, where given, are the rows' lines in the file: damaged rows are then named by them too.
std::string log_answer(const Log& columns, const std::optional<Setup>& setup,
                       std::span<const std::uint32_t> lines);

}  // namespace hotband
