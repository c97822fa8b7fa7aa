// Heat march of a single network case with error control: extrapolated linearly implicit Euler.
//
// Law:    heat balances of the three nodes, C T' = f(T), linear but for the surface's slow
//         dependence of its conductance on T_s.
// Coded:  (C / h - J) dT = f(T), f in watts, J its slope at the step's start; the step H taken in
//         1, 2, .. 6 such pieces, extrapolated to pieces of no length (P. Deuflhard, "Recent
//         progress in extrapolation methods for ordinary differential equations", SIAM Review 27,
//         1985; E. Hairer, G. Wanner, "Solving Ordinary Differential Equations II", IV.9).
// Limits: stable for any stiffness, C / h = 0 included: a node pair that a huge conductance binds,
//         or a node without mass, then follows its balance. So the unknowns are the differences
//         that drive the flows, T_j - T_b and T_b - T_s, which rounding of the temperatures
//         themselves would drown.
#include "flight/heat.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>

#include "physics/constants.hpp"
#include "physics/cooling.hpp"

namespace hotband {
namespace {

using Eigen::Vector3d;

constexpr double step_tolerance_K = 1e-6;  // per step; the whole march stays within 1e-4 K
constexpr double runaway_C = 1000;         // far above anything a board survives
constexpr int pieces = 6;                  // of the finest row; the order of the extrapolation

// A stretch between asked times and schedule edges takes tens of steps; what takes more than this,
// or shorter ones, is no network of this world.
constexpr size_t most_steps = 20000;
constexpr double least_step_s = 1e-200;

// State: T_j - T_b, T_b - T_s (K), T_s (deg C).
Vector3d nodes(const Vector3d& x) { return {x(2) + x(1) + x(0), x(2) + x(1), x(2)}; }

Surface surface_of(const HeatCase& c) {
    return {.area = c.A,
            .height = c.H,
            .length = c.L,
            .emissivity = c.eps,
            .factor = 1,
            .horizontal = false,
            .turbulent_allowed = false};
}

/// What the network takes in and gives off, W.
struct Flow {
    double loss, off;
};

class Edges {
 public:
    Edges(const HeatCase& c, const HeatPart& part)
        : c_(c), part_(part), surface_(surface_of(c)), air_{part.T_amb, c.p, part.v} {}

    Flow at(const Vector3d& x) const {
        const double loss = part_.P0 * (c_.a + c_.b * (1 + c_.alpha * (nodes(x)(0) - 25)));
        return {loss, given_off(x(2))};
    }
    /// Slope of the heat given off with T_s, W/K.
    double slope_of_case(double Ts) const {
        constexpr double d = 1e-3;  // K; central difference, error of order d^2
        return (given_off(Ts + d) - given_off(Ts - d)) / (2 * d);
    }
    double slope_of_loss() const { return part_.P0 * c_.b * c_.alpha; }

 private:
    double given_off(double Ts) const {
        return surface_conductance(surface_, air_, Ts) * (Ts - part_.T_amb);
    }

    const HeatCase& c_;
    const HeatPart& part_;
    Surface surface_;
    Ambient air_;
};

/// (C / h - J) dx = f, eliminated from the junction on. A node passes the share G / (G + what it
/// keeps) of what comes in to the next; written so, the flow of a huge conductance, which is in one
/// balance what it is out of the other, never stands beside the small ones.
class Implicit {
 public:
    Implicit(const HeatCase& c, double loss_slope, double case_slope, double h)
        : Gjb_(c.Gjb),
          Gbs_(c.Gbs),
          keep_j_(c.Cj / h - loss_slope),
          junction_(keep_j_ + Gjb_),
          pass_j_(Gjb_ / junction_),
          keep_b_(c.Cb / h + pass_j_ * keep_j_),
          board_(keep_b_ + Gbs_),
          pass_b_(Gbs_ / board_),
          case_(c.Cs / h + case_slope + pass_b_ * keep_b_) {}

    /// False where a loss grows faster than the step can follow: then dx has the wrong sign.
    bool sound() const { return junction_ > 0 && board_ > 0 && case_ > 0; }

    Vector3d solve(const Vector3d& x, const Flow& flow) const {
        const double into_board = pass_j_ * (flow.loss + keep_j_ * x(0));
        const double into_case = pass_b_ * (into_board + keep_b_ * x(1));
        const double dTs = (into_case - flow.off) / case_;
        const double dbs = (into_board - Gbs_ * x(1) - keep_b_ * dTs) / board_;
        return {(flow.loss - Gjb_ * x(0) - keep_j_ * (dbs + dTs)) / junction_, dbs, dTs};
    }

 private:
    double Gjb_, Gbs_;                                                    // W/K
    double keep_j_, junction_, pass_j_, keep_b_, board_, pass_b_, case_;  // W/K; pass: shares
};

struct Step {
    Vector3d x;
    double error = std::numeric_limits<double>::infinity();  // K
};

Step step(const HeatCase& c, const Edges& edges, const Vector3d& x, double h) {
    const Flow flow = edges.at(x);
    const double case_slope = edges.slope_of_case(x(2));
    std::array<Vector3d, pieces> row;  // of the extrapolation table, newest last
    Step out{x};
    for (int n = 1; n <= pieces; ++n) {
        const Implicit implicit(c, edges.slope_of_loss(), case_slope, h / n);
        if (!implicit.sound()) {
            return out;
        }
        Vector3d y = x + implicit.solve(x, flow);
        for (int i = 1; i < n; ++i) {
            y += implicit.solve(y, edges.at(y));
        }
        // Aitken and Neville: column k of row n from column k - 1 of rows n and n - 1.
        for (int k = 1; k < n; ++k) {
            const Vector3d finer = y + (y - row[k - 1]) * (double(n - k) / k);
            row[k - 1] = y;
            if (k == pieces - 1) {
                out.error = nodes(finer - y).cwiseAbs().maxCoeff();
            }
            y = finer;
        }
        row[n - 1] = y;
    }
    out.x = row[pieces - 1];
    return out;
}

struct Advance {
    Vector3d x;
    double h;  // step to try next, s
    HeatEnd end = HeatEnd::whole;
};

HeatEnd end_at(const Vector3d& x) {
    const Vector3d T = nodes(x);
    if (!T.allFinite()) {
        return HeatEnd::unsolved;
    }
    if (T.maxCoeff() > runaway_C) {
        return HeatEnd::runaway;
    }
    return kelvin(T.minCoeff()) < 0 ? HeatEnd::below_zero : HeatEnd::whole;
}

void advance(const HeatCase& c, const HeatPart& part, double span, Advance& m) {
    const Edges edges(c, part);
    double left = span;
    for (size_t tried = 0; left > 0 && m.end == HeatEnd::whole; ++tried) {
        if (tried == most_steps || !(m.h > least_step_s)) {
            m.end = HeatEnd::unsolved;
            return;
        }
        const double h = std::min(m.h, left);
        const Step next = step(c, edges, m.x, h);
        const bool good = next.error <= step_tolerance_K;
        if (good) {
            m.x = next.x;
            left = h >= left ? 0 : left - h;
            m.end = end_at(m.x);
        }
        const double grow =
            0.8 * std::pow(step_tolerance_K / std::max(next.error, 1e-12), 1.0 / pieces);
        const double next_h = h * std::clamp(std::isfinite(grow) ? grow : 0.1, 0.1, 5.0);
        // a step cut short by the end of its stretch says nothing against the longer one
        m.h = good && h < m.h ? std::max(m.h, next_h) : next_h;
    }
}

}  // namespace

HeatMarch march_heat(const HeatCase& c) {
    std::vector<size_t> order(c.times.size());
    std::iota(order.begin(), order.end(), size_t{0});
    std::stable_sort(order.begin(), order.end(),
                     [&](size_t i, size_t j) { return c.times[i] < c.times[j]; });
    constexpr double beyond = std::numeric_limits<double>::infinity();
    HeatMarch out;
    out.rows.assign(c.times.size(), {beyond, beyond, beyond});
    const auto [Tj, Tb, Ts] = c.T_init;
    Advance m{{Tj - Tb, Tb - Ts, Ts}, 0.1};
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
        if (m.end == HeatEnd::whole) {
            const Vector3d T = nodes(m.x);
            out.rows[row] = t > 0 ? std::array{T(0), T(1), T(2)} : c.T_init;
        }
    }
    out.end = m.end;
    return out;
}

}  // namespace hotband
