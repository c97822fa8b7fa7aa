// Heat march of a single network case with error control: exponential Rosenbrock-Euler steps.
//
// Law:    T' = F(T), linear but for the surface's slow dependence of its conductance on T_s.
// Coded:  T(t + h) = T + (integral of exp(J s) ds over h) F(T), exact wherever F is linear,
// L-stable;
//         one step against two halves gives the error and one Richardson extrapolation (order 2 ->
//         3).
#include "flight/heat.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

#include "bridge/interval.hpp"
#include "physics/cooling.hpp"

namespace hotband {
namespace {

using Eigen::Vector3d;

constexpr double step_tolerance_K = 1e-5;  // per step; the whole march stays within 1e-4 K
constexpr double runaway_C = 1000;         // far above anything a board survives

struct Rate {
    Vector3d value;         // K/s
    Eigen::Matrix3d slope;  // 1/s
};

Rate rate(const HeatCase& c, const HeatPart& part, const Vector3d& T) {
    const Surface surface{.area = c.A,
                          .height = c.H,
                          .length = c.L,
                          .emissivity = c.eps,
                          .factor = 1,
                          .horizontal = false,
                          .turbulent_allowed = false};
    const Ambient air{part.T_amb, c.p, part.v};
    const auto given_off = [&](double Ts) {
        return surface_conductance(surface, air, Ts) * (Ts - part.T_amb);
    };
    constexpr double d = 1e-3;  // K; central difference, error of order d^2
    const double q = given_off(T(2));
    const double dq = (given_off(T(2) + d) - given_off(T(2) - d)) / (2 * d);
    const double P = part.P0 * (c.a + c.b * (1 + c.alpha * (T(0) - 25)));
    const double dP = part.P0 * c.b * c.alpha;
    Rate r;
    r.value << (P - c.Gjb * (T(0) - T(1))) / c.Cj,
        (c.Gjb * (T(0) - T(1)) - c.Gbs * (T(1) - T(2))) / c.Cb, (c.Gbs * (T(1) - T(2)) - q) / c.Cs;
    r.slope << (dP - c.Gjb) / c.Cj, c.Gjb / c.Cj, 0, c.Gjb / c.Cb, -(c.Gjb + c.Gbs) / c.Cb,
        c.Gbs / c.Cb, 0, c.Gbs / c.Cs, -(c.Gbs + dq) / c.Cs;
    return r;
}

Vector3d step(const HeatCase& c, const HeatPart& part, const Vector3d& T, double h) {
    const Rate r = rate(c, part, T);
    // With y' = J y + F and y(0) = 0 the interval's N F is the integral wanted.
    return T + make_interval<3, false>(r.slope, h).sum * r.value;
}

struct March {
    Vector3d T;
    double h;  // step to try next, s
    bool lost = false;
};

void advance(const HeatCase& c, const HeatPart& part, double span, March& m) {
    double left = span;
    while (left > 0 && !m.lost) {
        const double h = std::min(m.h, left);
        const Vector3d whole = step(c, part, m.T, h);
        const Vector3d halves = step(c, part, step(c, part, m.T, 0.5 * h), 0.5 * h);
        const double error = (whole - halves).cwiseAbs().maxCoeff() / 3;
        const bool shortest = h <= 1e-9 * (1 + span);
        if (error <= step_tolerance_K || shortest) {
            m.T = halves + (halves - whole) / 3;
            left = h >= left ? 0 : left - h;
        }
        const double grow = 0.9 * std::cbrt(step_tolerance_K / std::max(error, 1e-12));
        m.h = h * std::clamp(std::isfinite(grow) ? grow : 0.2, 0.2, 5.0);
        m.lost = !m.T.allFinite() || m.T.maxCoeff() > runaway_C;
    }
}

}  // namespace

std::vector<std::array<double, 3>> march_heat(const HeatCase& c) {
    std::vector<size_t> order(c.times.size());
    std::iota(order.begin(), order.end(), size_t{0});
    std::stable_sort(order.begin(), order.end(),
                     [&](size_t i, size_t j) { return c.times[i] < c.times[j]; });
    constexpr double beyond = std::numeric_limits<double>::infinity();
    std::vector<std::array<double, 3>> rows(c.times.size(), {beyond, beyond, beyond});
    March m{Vector3d(c.T_init[0], c.T_init[1], c.T_init[2]), 0.1};
    double t = 0;
    size_t part = 0;
    for (const size_t row : order) {
        while (part < c.schedule.size() && c.schedule[part].t_end < c.times[row]) {
            advance(c, c.schedule[part], c.schedule[part].t_end - t, m);
            t = c.schedule[part].t_end;
            ++part;
        }
        if (part < c.schedule.size()) {
            advance(c, c.schedule[part], c.times[row] - t, m);
            t = c.times[row];
        }
        if (!m.lost) {
            rows[row] = {m.T(0), m.T(1), m.T(2)};
        }
    }
    return rows;
}

}  // namespace hotband
