// Secant steps in a bracket; see root.hpp.
#include "physics/root.hpp"

#include <cmath>

namespace hotband {

Root falling_root(Curve f, double low, double high, double guess, double slope, double tolerance,
                  double bend) {
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
        const double step = std::abs(next - x);
        const bool straight = have_last && bend * step * std::abs(next - x_last) <= tolerance;
        const bool inside = next > low && next < high;
        if (step <= tolerance || (straight && inside)) {
            return {inside ? next : x, true};
        }
        // A step that leaves the bracket, or a bracket that secant steps fail to shrink: halve it.
        if (!inside || i % 8 == 7) {
            next = 0.5 * (low + high);
        }
        if (high - low <= tolerance) {
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
