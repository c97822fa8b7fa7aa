// Where does a falling function cross zero? Secant steps kept inside a shrinking bracket.
#pragma once

#include <limits>
#include <type_traits>

namespace hotband {

/// A root, and whether it was reached.
struct Root {
    double x = 0;
    bool found = false;
};

/// A function of one number, wherever it lives: the search is compiled once for all.
struct Curve {
    void* f;
    double (*at)(void* f, double x);

    double operator()(double x) const { return at(f, x); }
};

/// Root of f, falling, f(low) >= 0 >= f(high) (the ends are taken on trust, not evaluated), from a
/// guess with an estimate of the slope there (< 0). Stops when a step is below `tolerance` (same
/// unit as x), or when what a secant leaves is: f'' / 2 f' times how far its two points are from
/// where it leads, with `bend` the most that the first of these can be.
Root falling_root(Curve f, double low, double high, double guess, double slope, double tolerance,
                  double bend = std::numeric_limits<double>::infinity());

template <class F>
Root falling_root(F&& f, double low, double high, double guess, double slope, double tolerance,
                  double bend = std::numeric_limits<double>::infinity()) {
    using Function = std::remove_reference_t<F>;
    const Curve curve{const_cast<void*>(static_cast<const void*>(&f)),
                      [](void* at, double x) { return (*static_cast<Function*>(at))(x); }};
    return falling_root(curve, low, high, guess, slope, tolerance, bend);
}

}  // namespace hotband
