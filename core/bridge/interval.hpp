// One linear interval of a switching circuit, solved exactly: x' = A x + b over a time T.
//
// Law:    x(T) = Phi x(0) + N b,  Phi = exp(A T),  N = integral of exp(A s) ds
//         integral of x = N x(0) + K b,            K = integral of N(s) ds
// Coded:  Taylor series on a step h = T / 2^k short enough that the series is exact to rounding,
// then k
//         doublings  K <- 2 K + N^2,  N <- N + N Phi,  Phi <- Phi^2.
// Second moments double the same way, so nothing large is ever subtracted:
//         m2 = m + Phi m + h g,   S2 = S + Phi S Phi' + Phi m g' + g m' Phi' + h g g',   g = N b
// Phi, N and K do not depend on b: one prepared interval serves every source voltage and back-EMF.
#pragma once

#include <Eigen/LU>
#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>

namespace hotband {

/// The interval's maps, and those of the short step they were doubled from.
template <int N>
struct Interval {
    using Matrix = Eigen::Matrix<double, N, N>;
    using Vector = Eigen::Matrix<double, N, 1>;
    Matrix A;
    Matrix phi, sum, mean_sum;  // Phi, N, K over the whole interval
    Matrix phi_step, sum_step;  // Phi, N over the short step
    double step = 0;            // s
    int doublings = 0;

    Vector end(const Vector& x0, const Vector& b) const {
        return phi.lazyProduct(x0) + sum.lazyProduct(b);
    }
    Vector integral(const Vector& x0, const Vector& b) const {
        return sum.lazyProduct(x0) + mean_sum.lazyProduct(b);
    }
};

namespace interval_detail {
// On a step with |A| h <= 0.25 the first neglected Taylor term is 0.25^13 / 13! = 2e-18.
inline constexpr double step_norm = 0.25;
inline constexpr int terms = 13;
inline constexpr int most_doublings = 40;
}  // namespace interval_detail

template <int N>
Interval<N> make_interval(const Eigen::Matrix<double, N, N>& A, double T) {
    using namespace interval_detail;
    using Matrix = Eigen::Matrix<double, N, N>;
    Interval<N> out;
    out.A = A;
    double norm = A.cwiseAbs().rowwise().sum().maxCoeff() * T;
    double h = T;
    while (norm > step_norm && out.doublings < most_doublings) {
        norm *= 0.5;
        h *= 0.5;
        ++out.doublings;
    }
    out.step = h;
    // K / h^2 = sum of (A h)^k / (k + 2)!, k = 0..11, in three blocks of four powers; then
    // N = h (I + A h (K / h^2)) and Phi = I + A N.
    const Matrix one = Matrix::Identity();
    const Matrix X = A * h;
    const Matrix X2 = X.lazyProduct(X);
    const Matrix X3 = X2.lazyProduct(X);
    const Matrix X4 = X2.lazyProduct(X2);
    constexpr auto block = [](const Matrix& I, const Matrix& P, const Matrix& P2, const Matrix& P3,
                              double first, double n) {
        const double c1 = first / n;
        const double c2 = c1 / (n + 1);
        const double c3 = c2 / (n + 2);
        return Matrix(first * I + c1 * P + c2 * P2 + c3 * P3);
    };
    const Matrix b2 = block(one, X, X2, X3, 1.0 / 3628800, 11);                  // 1/10! ..
    const Matrix b1 = block(one, X, X2, X3, 1.0 / 720, 7) + X4.lazyProduct(b2);  // 1/6! ..
    const Matrix b0 = block(one, X, X2, X3, 1.0 / 2, 3) + X4.lazyProduct(b1);    // 1/2! ..
    out.mean_sum = b0 * (h * h);
    out.sum = (one + X.lazyProduct(b0)) * h;
    out.phi = one + A.lazyProduct(out.sum);
    out.phi_step = out.phi;
    out.sum_step = out.sum;
    for (int k = 0; k < out.doublings; ++k) {
        out.mean_sum = (2 * out.mean_sum + out.sum.lazyProduct(out.sum)).eval();
        out.sum += (out.sum.lazyProduct(out.phi)).eval();
        out.phi = (out.phi.lazyProduct(out.phi)).eval();
    }
    return out;
}

/// Second moments (integral of x x') over the interval from the first state x0 with input b.
template <int N>
[[gnu::noinline]] Eigen::Matrix<double, N, N> doubled_moments(
    const Interval<N>& iv, const Eigen::Matrix<double, N, 1>& x0,
    const Eigen::Matrix<double, N, 1>& b) {
    using namespace interval_detail;
    using Vector = Eigen::Matrix<double, N, 1>;
    using Matrix = Eigen::Matrix<double, N, N>;
    // x(t) = sum d_k (t/h)^k on the short step; products of degree `terms` and more are rounding.
    std::array<Vector, terms> d;
    d[0] = x0;
    d[1] = (iv.A.lazyProduct(x0) + b) * iv.step;
    for (int k = 2; k < terms; ++k) {
        d[k] = (iv.A.lazyProduct(d[k - 1])).eval() * (iv.step / k);
    }
    Vector m = Vector::Zero();
    Matrix S = Matrix::Zero();
    for (int k = terms - 1; k >= 0; --k) {
        m += d[k] * (iv.step / (k + 1));
        Vector rest = 0.5 * d[k] * (iv.step / (2 * k + 1));
        for (int j = std::min(terms - 1, terms - 1 - k); j > k; --j) {
            rest += d[j] * (iv.step / (j + k + 1));
        }
        const Matrix outer = rest.lazyProduct(d[k].transpose());
        S += outer + outer.transpose();
    }
    Matrix phi = iv.phi_step;
    Vector g = iv.sum_step.lazyProduct(b);
    double h = iv.step;
    for (int k = 0; k < iv.doublings; ++k) {
        const Vector pm = phi.lazyProduct(m);
        const Matrix cross = (pm + 0.5 * h * g).lazyProduct(g.transpose());
        const Matrix half = phi.lazyProduct(S);
        S += (half.lazyProduct(phi.transpose())).eval() + cross + cross.transpose();
        m += pm + g * h;
        g += (phi.lazyProduct(g)).eval();
        phi = (phi.lazyProduct(phi)).eval();
        h *= 2;
    }
    return S;
}

namespace interval_detail {

/// Solves a x = b by elimination with row exchanges, n rows of n and, behind them, b, which x
/// replaces. Gives the smallest pivot. One function for all sizes: Eigen's would be one for each.
inline double eliminate(double* rows, int n) {
    const auto row = [&](int i) { return rows + static_cast<ptrdiff_t>(i) * (n + 1); };
    double least = std::numeric_limits<double>::infinity();
    for (int k = 0; k < n; ++k) {
        int pivot = k;
        for (int i = k + 1; i < n; ++i) {
            pivot = std::abs(row(i)[k]) > std::abs(row(pivot)[k]) ? i : pivot;
        }
        if (pivot != k) {
            std::swap_ranges(row(k) + k, row(k) + n + 1, row(pivot) + k);
        }
        least = std::min(least, std::abs(row(k)[k]));
        const double over = 1 / row(k)[k];
        for (int i = k + 1; i < n; ++i) {
            const double share = row(i)[k] * over;
            for (int j = k + 1; share != 0 && j <= n; ++j) {
                row(i)[j] -= share * row(k)[j];
            }
        }
    }
    for (int i = n - 1; i >= 0; --i) {
        for (int j = i + 1; j < n; ++j) {
            row(i)[n] -= row(i)[j] * row(j)[n];
        }
        row(i)[n] /= row(i)[i];
    }
    return least;
}

}  // namespace interval_detail

/// The same from the states at the interval's ends and the integral m between them, by the balance
///     A S + S A' = x1 x1' - x0 x0' - b m' - m b',
/// in half the work. The differences lose digits where a moment is small beside them; where it is
/// so small that fewer than ten are left, the doubling has them all.
template <int N>
Eigen::Matrix<double, N, N> second_moments(const Interval<N>& iv,
                                           const Eigen::Matrix<double, N, 1>& x0,
                                           const Eigen::Matrix<double, N, 1>& x1,
                                           const Eigen::Matrix<double, N, 1>& m,
                                           const Eigen::Matrix<double, N, 1>& b) {
    constexpr double least_share = 2e-5;  // some tens of roundings, 2e-16, stay below 1e-10
    constexpr size_t count = size_t{N} * (N + 1) / 2;
    constexpr size_t width = count + 1;  // of a row, with its right-hand side
    const auto place = [](int i, int j) {
        const auto low = static_cast<size_t>(std::min(i, j));
        return low * N - low * (low + 1) / 2 + static_cast<size_t>(std::max(i, j));
    };
    std::array<double, count * width> balance{};
    double largest = 0;
    for (int i = 0; i < N; ++i) {
        for (int j = i; j < N; ++j) {
            double* row = balance.data() + place(i, j) * width;
            for (int k = 0; k < N; ++k) {
                row[place(k, j)] += iv.A(i, k);
                row[place(i, k)] += iv.A(j, k);
            }
            row[count] = x1(i) * x1(j) - x0(i) * x0(j) - b(i) * m(j) - m(i) * b(j);
        }
        largest = std::max({largest, x1(i) * x1(i), x0(i) * x0(i), 2 * std::abs(b(i) * m(i))});
    }
    const double slowest = interval_detail::eliminate(balance.data(), static_cast<int>(count));
    Eigen::Matrix<double, N, N> S;
    for (int i = 0; i < N; ++i) {
        for (int j = 0; j < N; ++j) {
            S(i, j) = balance[place(i, j) * width + count];
        }
    }
    return S.diagonal().minCoeff() * slowest > least_share * largest
               ? S
               : doubled_moments<N>(iv, x0, b);
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
void widen_by_extremes(const Interval<N>& iv, const Eigen::Matrix<double, N, 1>& x0,
                       const Eigen::Matrix<double, N, 1>& b, const Eigen::Matrix<double, 1, N>& w,
                       double y0, Range& range) {
    using Vector = Eigen::Matrix<double, N, 1>;
    constexpr int most_walk = 14;  // 16384 steps; beyond that the circuit is stiff, not swinging
    const int walk = std::min(iv.doublings, most_walk);
    // A circuit that swings on and on swings alike: later turns are taken at the short step's end.
    constexpr int most_turns = 256;
    int turned = 0;
    const double h = std::ldexp(iv.step, iv.doublings - walk);
    const Interval<N> hop = make_interval<N>(iv.A, h);
    const auto slope = [&](const Vector& x) { return w.dot((iv.A * x + b).transpose()); };
    Vector x = x0;
    for (long k = 0; k < (1L << walk); ++k) {
        const Vector next = hop.end(x, b);
        const bool turns = slope(x) * slope(next) < 0;
        if (turns && ++turned > most_turns) {
            range.take(w.dot(x.transpose()) + y0);
        } else if (turns) {
            double from = 0;
            double to = h;
            Vector left = x;
            for (int i = 0; i < 48 && to - from > 1e-9 * h; ++i) {
                const double half = 0.5 * (to - from);
                const Vector middle = make_interval<N>(iv.A, half).end(left, b);
                if (slope(left) * slope(middle) <= 0) {
                    to = from + half;
                } else {
                    left = middle;
                    from += half;
                }
            }
            range.take(w.dot(left.transpose()) + y0);
        }
        x = next;
    }
    range.take(w.dot(x.transpose()) + y0);
}

}  // namespace hotband
