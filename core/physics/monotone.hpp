// A smooth curve through a few points that never overshoots: monotone piecewise cubic.
// Slopes by Fritsch and Butland 1984 (weighted harmonic mean), ends by the shape-preserving
// three-point formula; SciPy's PchipInterpolator is the same scheme.
#pragma once

#include <vector>

namespace hotband {

/// y(x) through (x_i, y_i), x strictly increasing, at least two points. Outside: the end value.
struct MonotoneCurve {
    std::vector<double> x, y, slope;

    double at(double x_asked) const;
};

MonotoneCurve make_monotone(std::vector<double> x, std::vector<double> y);

}  // namespace hotband
