// Which stretches of a log are steady holds? Each is a measured row to learn from.
#pragma once

#include <cstddef>
#include <vector>

#include "learn/clean_log.hpp"
#include "setup/setup.hpp"

namespace hotband {

struct HoldOptions {
    bool by_current = false;        // steady current although there is a throttle (rotors)
    double throttle_pct = 2;        // %: a hold's throttle stays within this of its middle
    double current_share = 0.06;    // a hold's current stays within this share of its middle,
    double current_A = 1;           // A: or within this, whichever is more
    double least_s = 20;            // s: shorter ones say little of a board's heat
    double least_throttle_pct = 5;  // %: below the motor stands
    double least_current_A = 1;     // A: below the motor stands
    size_t most_holds = 100;        // the longest are offered
    size_t most_points = 40;        // of a trace
};

/// One steady hold. What was not logged is empty.
struct LoggedHold {
    size_t session = 0;
    size_t first_row = 0, last_row = 0;  // of the file, counted from 0
    double start_s = 0, end_s = 0;       // s, the log's own time
    MeasuredRow row;  // throttle, current, length, start, mean, peak and trace: to learn from
    bool throttle_told = false;  // else row.throttle_pct is yet to be found
};

enum class SteadyBy { nothing, throttle, current };

/// By what the holds of this log are told.
SteadyBy steady_by(const CleanLog& log, const HoldOptions& options);

/// The steady holds in order of time. Linear time in samples.
///
/// A hold is as long a run of samples as stays within the tolerance, running medians of five taken
/// first so that one stray value does not break it; a gap of more than 3 s (or five rows) does.
/// Throttle and current are means without the outer twentieth at each end; the temperature's mean,
/// peak and trace are of the samples; the start is the median over the 3 s before and the 2 s after
/// the hold begins.
std::vector<LoggedHold> find_holds(const CleanLog& log, const HoldOptions& options = {});

}  // namespace hotband
