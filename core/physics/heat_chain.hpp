// Nodes of heat in a row, each linked to its neighbours and leaking outside: their exact step.
//
// Law:    C_i dT_i/dt = q_i - off_i T_i + link_(i-1) (T_(i-1) - T_i) + link_i (T_(i+1) - T_i)
// Coded:  C dT/dt = q(t) - K T with K symmetric, so with x = C^1/2 T the rates
//         S = C^-1/2 K C^-1/2 are too. A heat that grows evenly, q + q' t, is followed at a lag:
//         T(t) = F(t) + C^-1/2 exp(-S t) C^1/2 (T(0) - F(0)),  F(t) = K^-1 (q + q' t - C K^-1 q').
//         The exponential is Taylor's on t / 2^k, short enough, squared k times. All of its powers
//         commute with S, so each is symmetric and half of it is enough.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <utility>

namespace hotband {

/// The first node's `off` may be negative: a loss that grows with its own temperature.
template <size_t N>
struct HeatChain {
    std::array<double, N> capacity{};  // J/K, > 0
    std::array<double, N> off{};       // W/K to a temperature of 0
    std::array<double, N - 1> link{};  // W/K
};

namespace chain_detail {

// A symmetric matrix by the rows of its upper half.
template <size_t N>
struct Symmetric {
    std::array<double, N*(N + 1) / 2> half{};

    static constexpr size_t place(size_t i, size_t j) {
        return i <= j ? i * N - i * (i + 1) / 2 + j : place(j, i);
    }
    double& at(size_t i, size_t j) { return half[place(i, j)]; }
    double at(size_t i, size_t j) const { return half[place(i, j)]; }
};

// Row and column of each element, in the order of `half`.
template <size_t N>
constexpr auto upper_places() {
    std::array<std::array<size_t, 2>, N*(N + 1) / 2> out{};
    size_t n = 0;
    for (size_t i = 0; i < N; ++i) {
        for (size_t j = i; j < N; ++j) {
            out[n++] = {i, j};
        }
    }
    return out;
}

// A B of matrices that commute, and so is symmetric; spelt out, for no compiler unrolls all of it.
template <size_t N>
[[gnu::always_inline]] inline Symmetric<N> product(const Symmetric<N>& a, const Symmetric<N>& b) {
    constexpr auto places = upper_places<N>();
    const auto element = [&]<size_t i, size_t j, size_t... k>(std::index_sequence<i, j>,
                                                              std::index_sequence<k...>) {
        return ((a.half[Symmetric<N>::place(i, k)] * b.half[Symmetric<N>::place(k, j)]) + ...);
    };
    return [&]<size_t... n>(std::index_sequence<n...>) {
        return Symmetric<N>{{element(std::index_sequence<places[n][0], places[n][1]>{},
                                     std::make_index_sequence<N>{})...}};
    }
    (std::make_index_sequence<places.size()>{});
}

// exp(-S t).
template <size_t N>
Symmetric<N> decay(Symmetric<N> S, double t) {
    // The first neglected Taylor term of a rate that is this fast: 0.25^9 / 9! = 1e-11, of slow
    // ones far less; squaring leaves nothing of the fast ones.
    constexpr double most_norm = 0.25;
    constexpr int most_squarings = 60;
    double norm = 0;
    for (size_t i = 0; i < N; ++i) {
        double row = 0;
        for (size_t j = 0; j < N; ++j) {
            row += std::abs(S.at(i, j));
        }
        norm = std::max(norm, row * t);
    }
    int squarings = 0;
    double h = -t;
    for (; norm > most_norm && squarings < most_squarings; ++squarings) {
        norm *= 0.5;
        h *= 0.5;
    }
    for (double& x : S.half) {
        x *= h;
    }
    const Symmetric<N> S2 = product(S, S);
    const Symmetric<N> S3 = product(S2, S);
    const Symmetric<N> S4 = product(S2, S2);
    Symmetric<N> upper;  // of the powers from the fourth on, over the fourth
    Symmetric<N> lower;
    for (size_t k = 0; k < S.half.size(); ++k) {
        upper.half[k] = S.half[k] / 120 + S2.half[k] / 720 + S3.half[k] / 5040 + S4.half[k] / 40320;
        lower.half[k] = S.half[k] + S2.half[k] / 2 + S3.half[k] / 6;
    }
    for (size_t i = 0; i < N; ++i) {
        upper.at(i, i) += 1.0 / 24;
        lower.at(i, i) += 1;
    }
    Symmetric<N> out = product(S4, upper);
    for (size_t k = 0; k < out.half.size(); ++k) {
        out.half[k] += lower.half[k];
    }
    for (int k = 0; k < squarings; ++k) {
        out = product(out, out);
    }
    return out;
}

}  // namespace chain_detail

template <size_t N>
struct ChainStep {
    std::array<double, N> middle, end;
};

/// A step of a chain over a time dt (s, >= 0), for any heat (W) that warms its nodes.
template <size_t N>
class ChainFlow {
 public:
    using Nodes = std::array<double, N>;

    ChainFlow(const HeatChain<N>& c, double dt) : c_(c), half_s_(0.5 * dt) {
        Nodes K{};  // the diagonal
        for (size_t i = 0; i < N; ++i) {
            K[i] = c.off[i] + (i > 0 ? c.link[i - 1] : 0) + (i + 1 < N ? c.link[i] : 0);
        }
        // K is eliminated from the outside in: all pivots but the first node's are positive. Where
        // that one vanishes (a loss that grows just as fast as it is carried off) heat has nowhere
        // to settle; a loss that grows slower by a ten-millionth has.
        constexpr double least_pivot = 1e-7;
        Nodes pivot = K;
        for (size_t i = N - 1; i-- > 0;) {
            passed_[i] = c.link[i] / pivot[i + 1];
            pivot[i] -= passed_[i] * c.link[i];
        }
        const double least = least_pivot * c.link[0];
        if (std::abs(pivot[0]) < least) {
            K[0] += least - pivot[0];
            pivot[0] = least;
        }
        for (size_t i = 0; i < N; ++i) {
            per_W_[i] = 1 / pivot[i];
        }
        chain_detail::Symmetric<N> S;
        for (size_t i = 0; i < N; ++i) {
            root_[i] = std::sqrt(c.capacity[i]);
            S.at(i, i) = K[i] / c.capacity[i];
            if (i > 0) {
                S.at(i - 1, i) = -c.link[i - 1] / (root_[i - 1] * root_[i]);
            }
        }
        half_ = chain_detail::decay(S, half_s_);
    }

    /// Temperatures half way and at the end from T0 under a heat that grows from its start by
    /// `drift` (W/s).
    ChainStep<N> step(const Nodes& T0, const Nodes& heat, const Nodes& drift) const {
        Nodes rate = settled(drift);
        Nodes lag = rate;
        for (size_t i = 0; i < N; ++i) {
            lag[i] *= c_.capacity[i];
        }
        lag = settled(lag);
        Nodes to = heat;
        // A lag far beyond what is asked (of a heavy chain in a short step, or where hardly
        // anything settles) is rounded away: there the mean heat stands.
        constexpr double most_lag_K = 1e5;
        if (!std::all_of(lag.begin(), lag.end(),
                         [](double K) { return std::abs(K) < most_lag_K; })) {
            for (size_t i = 0; i < N; ++i) {
                to[i] += half_s_ * drift[i];
            }
            rate = lag = {};
        }
        to = settled(to);
        for (size_t i = 0; i < N; ++i) {
            to[i] -= lag[i];
        }
        const auto half_later = [&](const Nodes& T) {
            Nodes out = half_on(T, to);
            for (size_t i = 0; i < N; ++i) {
                out[i] += half_s_ * rate[i];
                to[i] += half_s_ * rate[i];
            }
            return out;
        };
        ChainStep<N> out{};
        out.middle = half_later(T0);
        out.end = half_later(out.middle);
        return out;
    }

 private:
    // K^-1 heat: where temperatures settle under it.
    Nodes settled(Nodes heat) const {
        for (size_t i = N - 1; i-- > 0;) {
            heat[i] += passed_[i] * heat[i + 1];
        }
        heat[0] *= per_W_[0];
        for (size_t i = 1; i < N; ++i) {
            heat[i] = (heat[i] + c_.link[i - 1] * heat[i - 1]) * per_W_[i];
        }
        return heat;
    }

    // From T half the time nearer to where they settle.
    Nodes half_on(const Nodes& T, const Nodes& to) const {
        Nodes x{};
        for (size_t i = 0; i < N; ++i) {
            x[i] = root_[i] * (T[i] - to[i]);
        }
        Nodes out = to;
        for (size_t i = 0; i < N; ++i) {
            double left = 0;
            for (size_t j = 0; j < N; ++j) {
                left += half_.at(i, j) * x[j];
            }
            out[i] += left / root_[i];
        }
        return out;
    }

    HeatChain<N> c_;
    double half_s_;
    std::array<double, N - 1> passed_{};  // share of a node's heat that goes on to the one before
    Nodes per_W_{};                       // K/W, one over the pivots
    Nodes root_{};                        // C^1/2
    chain_detail::Symmetric<N> half_;     // exp(-S dt/2)
};

}  // namespace hotband
