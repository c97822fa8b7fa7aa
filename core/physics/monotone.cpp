// Monotone piecewise cubic; see monotone.hpp.
#include "physics/monotone.hpp"

#include <algorithm>
#include <cmath>

namespace hotband {
namespace {

double end_slope(double h0, double h1, double d0, double d1) {
    const double s = ((2 * h0 + h1) * d0 - h0 * d1) / (h0 + h1);
    if (s * d0 <= 0) {
        return 0;
    }
    return d0 * d1 <= 0 && std::abs(s) > 3 * std::abs(d0) ? 3 * d0 : s;
}

}  // namespace

MonotoneCurve make_monotone(std::vector<double> x, std::vector<double> y) {
    const size_t n = x.size();
    std::vector<double> slope(n, 0);
    const auto h = [&](size_t i) { return x[i + 1] - x[i]; };
    const auto d = [&](size_t i) { return (y[i + 1] - y[i]) / h(i); };
    if (n == 2) {
        slope[0] = slope[1] = d(0);
    } else if (n > 2) {
        slope[0] = end_slope(h(0), h(1), d(0), d(1));
        slope[n - 1] = end_slope(h(n - 2), h(n - 3), d(n - 2), d(n - 3));
        for (size_t i = 1; i + 1 < n; ++i) {
            const double left = d(i - 1);
            const double right = d(i);
            if (left * right > 0) {
                const double w1 = 2 * h(i) + h(i - 1);
                const double w2 = h(i) + 2 * h(i - 1);
                slope[i] = (w1 + w2) / (w1 / left + w2 / right);
            }
        }
    }
    return {std::move(x), std::move(y), std::move(slope)};
}

double MonotoneCurve::at(double x_asked) const {
    if (x_asked <= x.front()) {
        return y.front();
    }
    if (x_asked >= x.back()) {
        return y.back();
    }
    const auto next = std::upper_bound(x.begin(), x.end(), x_asked);
    const auto i = static_cast<size_t>(next - x.begin()) - 1;
    const double h = x[i + 1] - x[i];
    const double t = (x_asked - x[i]) / h;
    const double u = 1 - t;
    return u * u * (1 + 2 * t) * y[i] + t * t * (3 - 2 * t) * y[i + 1] +
           h * t * u * (u * slope[i] - t * slope[i + 1]);
}

}  // namespace hotband
