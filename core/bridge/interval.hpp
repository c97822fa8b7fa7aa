// One linear interval of a switching circuit, solved exactly: x' = A x + b over a time T.
//
// Law:    x(T) = Phi x(0) + g,  Phi = exp(A T),  g = (integral of exp(A s) ds) b
// Coded:  Taylor series on a step h = T / 2^k short enough that the series is exact to rounding,
// then k
//         doublings  Phi <- Phi^2,  g <- Phi g + g.
// First and second moments double the same way, so nothing large is ever subtracted:
//         m2 = m + Phi m + h g,   S2 = S + Phi S Phi' + Phi m g' + g m' Phi' + h g g'
#pragma once

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>

namespace hotband {

/// x' = A x + b with N states.
template <int N>
struct Linear {
    Eigen::Matrix<double, N, N> A;
    Eigen::Matrix<double, N, 1> b;
};

/// The interval's map from its first to its last state, and the short step it was doubled from.
template <int N>
struct Interval {
    Eigen::Matrix<double, N, N> phi, phi_step;
    Eigen::Matrix<double, N, 1> g, g_step;
    double step = 0;  // s
    int doublings = 0;
};

/// Integrals over an interval: m of x (A s), S of x x' (A^2 s).
template <int N>
struct Moments {
    Eigen::Matrix<double, N, 1> m;
    Eigen::Matrix<double, N, N> S;
};

namespace interval_detail {
// On a step with |A| h <= 0.25 the first neglected Taylor term is 0.25^13 / 13! = 2e-18.
inline constexpr double step_norm = 0.25;
inline constexpr int terms = 13;
inline constexpr int most_doublings = 40;
}  // namespace interval_detail

template <int N>
Interval<N> make_interval(const Linear<N>& sys, double T) {
    using namespace interval_detail;
    using Matrix = Eigen::Matrix<double, N, N>;
    Interval<N> out;
    double norm = sys.A.cwiseAbs().rowwise().sum().maxCoeff() * T;
    double h = T;
    while (norm > step_norm && out.doublings < most_doublings) {
        norm *= 0.5;
        h *= 0.5;
        ++out.doublings;
    }
    out.step = h;
    // Horner form of N(h) = sum A^k h^(k+1) / (k+1)!; then g = N b and Phi = I + A N.
    const Matrix Ah = sys.A * h;
    Matrix sum = Matrix::Identity();
    for (int k = terms; k >= 2; --k) {
        sum = Matrix::Identity() + (Ah.lazyProduct(sum) * (1.0 / k)).eval();
    }
    out.g_step = (sum * sys.b) * h;
    out.phi_step = Matrix::Identity() + Ah.lazyProduct(sum);
    out.phi = out.phi_step;
    out.g = out.g_step;
    for (int k = 0; k < out.doublings; ++k) {
        out.g += (out.phi.lazyProduct(out.g)).eval();
        out.phi = (out.phi.lazyProduct(out.phi)).eval();
    }
    return out;
}

/// Moments over the interval from the first state x0.
template <int N>
Moments<N> moments(const Linear<N>& sys, const Interval<N>& iv,
                   const Eigen::Matrix<double, N, 1>& x0) {
    using namespace interval_detail;
    using Vector = Eigen::Matrix<double, N, 1>;
    using Matrix = Eigen::Matrix<double, N, N>;
    // x(t) = sum d_k (t/h)^k on the short step.
    std::array<Vector, terms> d;
    d[0] = x0;
    d[1] = (sys.A.lazyProduct(x0) + sys.b) * iv.step;
    for (int k = 2; k < terms; ++k) {
        d[k] = (sys.A.lazyProduct(d[k - 1])).eval() * (iv.step / k);
    }
    Moments<N> out{Vector::Zero(), Matrix::Zero()};
    for (int k = terms - 1; k >= 0; --k) {
        out.m += d[k] * (iv.step / (k + 1));
        Vector row = d[k] * (iv.step / (2 * k + 1));
        Vector rest = Vector::Zero();
        for (int j = std::min(terms - 1, terms - 1 - k); j > k; --j) {
            rest += d[j] * (iv.step / (j + k + 1));
        }
        out.S += row.lazyProduct(d[k].transpose());
        out.S += rest.lazyProduct(d[k].transpose()) + d[k].lazyProduct(rest.transpose());
    }
    Matrix phi = iv.phi_step;
    Vector g = iv.g_step;
    double h = iv.step;
    for (int k = 0; k < iv.doublings; ++k) {
        const Vector pm = phi.lazyProduct(out.m);
        const Matrix cross = pm.lazyProduct(g.transpose());
        const Matrix half = phi.lazyProduct(out.S);
        out.S += (half.lazyProduct(phi.transpose())).eval() + cross + cross.transpose() +
                 (g.lazyProduct(g.transpose())) * h;
        out.m += pm + g * h;
        g += (phi.lazyProduct(g)).eval();
        phi = (phi.lazyProduct(phi)).eval();
        h *= 2;
    }
    return out;
}

struct Range {
    double least, most;
    void take(double y) {
        least = std::min(least, y);
        most = std::max(most, y);
    }
};

/// Widens `range` by the extremes of y = w x + y0 inside the interval. Walks in the short steps,
/// which are far shorter than any swing of the circuit, and bisects the slope's change of sign.
template <int N>
void widen_by_extremes(const Linear<N>& sys, const Interval<N>& iv,
                       const Eigen::Matrix<double, N, 1>& x0, const Eigen::Matrix<double, 1, N>& w,
                       double y0, Range& range) {
    using Vector = Eigen::Matrix<double, N, 1>;
    constexpr int most_walk = 14;  // 16384 steps; beyond that the circuit is stiff, not swinging
    Linear<N> s = sys;
    const int walk = std::min(iv.doublings, most_walk);
    const double h = std::ldexp(iv.step, iv.doublings - walk);
    const Interval<N> hop = make_interval(s, h);
    const auto slope = [&](const Vector& x) { return w.dot((sys.A * x + sys.b).transpose()); };
    Vector x = x0;
    for (long k = 0; k < (1L << walk); ++k) {
        const Vector next = hop.phi * x + hop.g;
        if (slope(x) * slope(next) < 0) {
            double from = 0;
            double to = h;
            Vector left = x;
            for (int i = 0; i < 48 && to - from > 1e-9 * h; ++i) {
                const double mid = 0.5 * (to - from);
                const Interval<N> half = make_interval(s, mid);
                const Vector xm = half.phi * left + half.g;
                if (slope(left) * slope(xm) <= 0) {
                    to = from + mid;
                } else {
                    left = xm;
                    from += mid;
                }
            }
            range.take(w.dot(left.transpose()) + y0);
        }
        x = next;
    }
    range.take(w.dot(x.transpose()) + y0);
}

}  // namespace hotband
