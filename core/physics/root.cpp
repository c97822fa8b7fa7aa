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
    // Ends are looked at where two steps in a row lead beyond one.
    bool low_known = false;
    bool high_known = false;
    bool left = false;
    for (int i = 0; i < 100; ++i) {
        const double fx = f(x);
        const bool at_end = x == low || x == high;
        if (!std::isfinite(fx)) {
            if (!at_end) {
                return {x, false, slope};
            }
            (x == low ? low_known : high_known) = true;
            x = 0.5 * (low + high);
            continue;
        }
        if (fx == 0 || (at_end && (fx > 0) == (x == high))) {
            return {x, true, slope};
        }
        (fx > 0 ? low : high) = x;
        (fx > 0 ? low_known : high_known) = true;
        if (have_last && x != x_last && fx != f_last) {
            const double secant = (fx - f_last) / (x - x_last);
            slope = secant < 0 ? secant : slope;
        }
        double next = x - fx / slope;
        const double step = std::abs(next - x);
        const bool straight = have_last && bend * step * std::abs(next - x_last) <= tolerance;
        const bool inside = next > low && next < high;
        if (step <= tolerance || (straight && inside)) {
            return {inside ? next : x, true, slope};
        }
        // A step that leaves the bracket, or a bracket that secant steps fail to shrink: halve it.
        if (!inside || i % 8 == 7) {
            const bool above = next > low;
            const bool look = !inside && left && !(above ? high_known : low_known);
            next = look ? (above ? high : low) : 0.5 * (low + high);
        }
        left = !inside;
        if (high - low <= tolerance) {
            return {next, true, slope};
        }
        x_last = x;
        f_last = fx;
        have_last = true;
        x = next;
    }
    return {x, false, slope};
}

}  // namespace hotband
