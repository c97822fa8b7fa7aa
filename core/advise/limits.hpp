// How the limits of the day are searched: which draws decide, and the way to the last value that
// keeps the limit.
#pragma once

#include <functional>
#include <optional>
#include <vector>

#include "advise/spread.hpp"

namespace hotband {

/// What is asked of one value: the way it goes from easy to hard, where it is told, how many kelvin
/// it is usually worth and how closely it is wanted.
struct Way {
    double easy, hard, told, usual_slope, tolerance;
    double ranks_hold;  // so far from `told` the draws' order by heat is still that of the report
};

/// Last value on the way that keeps the limit, to within the tolerance and on the keeping side.
/// `room` (K under the limit) falls on the way; the search begins at `from`. Empty: none keeps it.
std::optional<double> last_keeping(const std::function<double(double)>& room, const Way& way,
                                   double from);

/// Whether the draws must be ranked anew there: what was found lies far from the setup as told.
bool ranked_anew(const Way& way, const std::optional<double>& found);

/// Draws around the one that must keep the limit so that nine in ten do, and its place among them,
/// from the coolest on.
struct Deciding {
    std::vector<size_t> draws;
    size_t place = 0;
};
inline constexpr size_t most_to_decide = 12;
/// `outcomes`: of every draw, on a setup not far from those asked about.
Deciding deciding(const std::vector<Outcome>& outcomes, size_t most = most_to_decide);

/// How many draws decide: fewer where a flight is so dear that changes are tried on few.
size_t draws_to_decide(const Setup& s, const Draws& draws);

/// The value, or the next one below or above it, in steps of 1, 2 or 5 of a power of ten, a
/// hundredth to a fortieth of the value: as closely as a limit is told. What is not above nought
/// stays.
double step_below(double x);
double step_above(double x);

}  // namespace hotband
