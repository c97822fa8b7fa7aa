// How the physics tests compare: absolutely or relatively, within a tolerance that has a name, a
// unit and a reason where it is defined. Works with Catch2 v2 and v3. A NaN is never near.
//
// Tags beside expected values: S seen in stored public material, S2 second-hand, M from memory,
// D arithmetic from stated inputs, P common practice, no source.
#pragma once

#if __has_include(<catch2/catch.hpp>)
#include <catch2/catch.hpp>
#else
#include <catch2/catch_all.hpp>
#endif

namespace hotband::test {

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

/// For a value between two bounds, both allowed.
inline bool between(double low, double x, double high) { return low <= x && x <= high; }

/// How many times wider than its fit a belief is in a row: the coming flight's own is as it was.
template <class Calibration>
double times_wider(const Calibration& c, size_t row) {
    return is_of_coming_flight(c.belief.priors[row]) ? 1 : c.apart;
}

}  // namespace hotband::test
