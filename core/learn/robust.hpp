// The middle of values, whatever a few strays among them are.
#pragma once

#include <vector>

namespace hotband {

/// NaN of none; reorders them.
double median_of(std::vector<double>& values);

/// Mean without the outer twentieth at each end; NaN of none.
double trimmed_mean(std::vector<double> values);

}  // namespace hotband
