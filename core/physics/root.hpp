// Where does a falling function cross zero? Secant steps kept inside a shrinking bracket.
#pragma once

#include <limits>

namespace hotband {

/// A root, whether it was reached, and how steep the function was seen to be near it.
struct Root {
    double x = 0;
    bool found = false;
    double slope = 0;
};

/// A function of one number, wherever it lives: the search is compiled once for all.
struct Curve {
    const void* f;
    double (*at)(const void* f, double x);

    double operator()(double x) const { return at(f, x); }
};

/// Root of f, falling, from a guess with an estimate of the slope there (< 0); the end that it lies
/// beyond, where it is not between them. Stops when a step is below `tolerance` (same
/// unit as x), or when what a secant leaves is: f'' / 2 f' times how far its two points are from
/// where it leads, with `bend` the most that the first of these can be.
Root falling_root(Curve f, double low, double high, double guess, double slope, double tolerance,
                  double bend = std::numeric_limits<double>::infinity());

template <class F>
Root falling_root(const F& f, double low, double high, double guess, double slope, double tolerance,
                  double bend = std::numeric_limits<double>::infinity()) {
    const Curve curve{&f, [](const void* at, double x) { return (*static_cast<const F*>(at))(x); }};
    return falling_root(curve, low, high, guess, slope, tolerance, bend);
}

}  // namespace hotband
