// How sure is all this? The belief's draws, each through the whole chain.
#pragma once

#include <vector>

#include "advise/rooms.hpp"

namespace hotband {

/// Fills the 10-50-90 bands of flight, series, holds and asked holds, and the chance of passing the
/// limit, from `samples` draws of what is believed. `report` already holds the middle plant's
/// answers, which set the times of the series and the throttles of the holds. Gives the raw draws
/// back.
Draws fill_bands(const Setup& s, const Calibration& calibration, int samples,
                 const std::vector<BenchRun>& asked, Report& report);

}  // namespace hotband
