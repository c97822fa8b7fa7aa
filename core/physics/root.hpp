// Where does a falling function cross zero? Secant steps kept inside a shrinking bracket.
#pragma once

#include <cmath>
#include <limits>

namespace hotband {

/// A root, and whether it was reached.
struct Root {
    double x = 0;
    bool found = false;
};

/// Root of f, falling, f(low) >= 0 >= f(high) (the ends are taken on trust, not evaluated), from a
/// guess with an estimate of the slope there (< 0). Stops when a step is below `tolerance` (same
/// unit as x), or when what a secant leaves is: f'' / 2 f' times its step and the one before, with
/// `bend` the most that the first of these can be.
template <class F>
Root falling_root(F&& f, double low, double high, double guess, double slope, double tolerance,
                  double bend = std::numeric_limits<double>::infinity()) {
    double x = guess > low && guess < high ? guess : 0.5 * (low + high);
    double x_last = x;
    double f_last = 0;
    bool have_last = false;
    for (int i = 0; i < 100; ++i) {
        const double fx = f(x);
        if (!std::isfinite(fx)) {
            return {x, false};
        }
        if (fx == 0) {
            return {x, true};
        }
        (fx > 0 ? low : high) = x;
        if (have_last && x != x_last && fx != f_last) {
            const double secant = (fx - f_last) / (x - x_last);
            slope = secant < 0 ? secant : slope;
        }
        double next = x - fx / slope;
        // A step that leaves the bracket, or a bracket that secant steps fail to shrink: halve it.
        if (!(next > low && next < high) || i % 8 == 7) {
            next = 0.5 * (low + high);
        }
        const double step = std::abs(next - x);
        const bool straight = have_last && bend * step * std::abs(x - x_last) <= tolerance;
        if (step <= tolerance || straight || high - low <= tolerance) {
            return {next, true};
        }
        x_last = x;
        f_last = fx;
        have_last = true;
        x = next;
    }
    return {x, false};
}

}  // namespace hotband
