// The exact step of a chain of nodes, against the switching circuit's own exact interval, closed
// forms and the books.
#include "physics/heat_chain.hpp"

#include <cmath>

#include "bridge/interval.hpp"
#include "near.hpp"
#include "random.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

template <size_t N>
HeatChain<N> any_chain(Random& r) {
    HeatChain<N> c;
    for (size_t i = 0; i < N; ++i) {
        c.capacity[i] = r.log_uniform(0.01, 1000);
        c.off[i] = i > 0 ? r.log_uniform(0.01, 10) : r.uniform(-0.3, 0.3);
        if (i + 1 < N) {
            c.link[i] = r.log_uniform(0.1, 30);
        }
    }
    return c;
}

// The same step by Phi and N of C dT/dt = q + q' t - K T, which knows of no symmetry; time is one
// more of its states.
template <size_t N>
std::array<double, N> by_interval(const HeatChain<N>& c, const std::array<double, N>& T0,
                                  const std::array<double, N>& heat,
                                  const std::array<double, N>& drift, double dt) {
    constexpr int n = static_cast<int>(N);
    Eigen::Matrix<double, n + 1, n + 1> A = Eigen::Matrix<double, n + 1, n + 1>::Zero();
    Eigen::Matrix<double, n + 1, 1> b;
    Eigen::Matrix<double, n + 1, 1> x;
    b(n) = 1;
    x(n) = 0;
    for (int i = 0; i < n; ++i) {
        const auto k = static_cast<size_t>(i);
        A(i, i) -= c.off[k] / c.capacity[k];
        A(i, n) = drift[k] / c.capacity[k];
        for (const int to : {i - 1, i + 1}) {
            if (to >= 0 && to < n) {
                const double G = c.link[static_cast<size_t>(std::min(i, to))];
                A(i, i) -= G / c.capacity[k];
                A(i, to) += G / c.capacity[k];
            }
        }
        b(i) = heat[k] / c.capacity[k];
        x(i) = T0[k];
    }
    const Eigen::Matrix<double, n + 1, 1> end = make_interval<n + 1>(A, dt).end(x, b);
    std::array<double, N> out{};
    for (int i = 0; i < n; ++i) {
        out[static_cast<size_t>(i)] = end(i);
    }
    return out;
}

template <size_t N>
bool is_near(const std::array<double, N>& a, const std::array<double, N>& b) {
    // Taylor's eighth power on a quarter of a unit, 1e-11, of lags up to a hundred thousand.
    return std::equal(a.begin(), a.end(), b.begin(), [](double x, double y) {
        return std::abs(x - y) < 1e-7 * std::abs(y) + 1e-6;
    });
}

// Whether the heat's drift was followed; where its lag is too long for that, its mean was.
template <size_t N>
bool check_any(Random& r) {
    const HeatChain<N> c = any_chain<N>(r);
    std::array<double, N> T0{};
    std::array<double, N> heat{};
    std::array<double, N> drift{};
    std::array<double, N> mean{};
    const double dt = r.log_uniform(0.01, 100);
    for (size_t i = 0; i < N; ++i) {
        T0[i] = r.uniform(-20, 150);
        heat[i] = r.uniform(0, 50);
        drift[i] = r.uniform(-0.5, 0.5);
        mean[i] = heat[i] + 0.5 * dt * drift[i];
    }
    const ChainStep<N> step = ChainFlow<N>(c, dt).step(T0, heat, drift);
    const auto exact = [&](double t) { return by_interval(c, T0, heat, drift, t); };
    const auto on_mean = [&](double t) { return by_interval(c, T0, mean, {}, t); };
    const bool follows = is_near(step.end, exact(dt)) && is_near(step.middle, exact(0.5 * dt));
    CHECK((follows || (is_near(step.end, on_mean(dt)) && is_near(step.middle, on_mean(0.5 * dt)))));
    return follows;
}

}  // namespace

TEST_CASE("heat chain: any three or four nodes step as the general exact interval does") {
    Random r{7};
    int followed = 0;
    for (int i = 0; i < 300; ++i) {
        INFO("chain " << i);
        followed += check_any<3>(r) ? 1 : 0;
        followed += check_any<4>(r) ? 1 : 0;
    }
    CHECK(followed > 540);
}

TEST_CASE("heat chain: two nodes apart, and one, by hand (D)") {
    HeatChain<2> c;
    c.capacity = {10, 40};
    c.off = {0, 3};
    // A node of 40 J/K with 3 W/K to 25 deg C, its neighbour all but unlinked.
    c.link = {1e-12};
    const std::array<double, 2> heat = {0, 3 * 25.0};
    const double e = std::exp(-3.0 * 20 / 40);
    const ChainStep<2> apart = ChainFlow<2>(c, 20).step({90, 100}, heat, {});
    CHECK_THAT(apart.end[1], WithinAbs(25 + 75 * e, 1e-5));
    CHECK_THAT(apart.middle[1], WithinAbs(25 + 75 * std::sqrt(e), 1e-5));
    CHECK_THAT(apart.end[0], WithinAbs(90, 1e-6));
    CHECK(ChainFlow<2>(c, 0).step({90, 100}, heat, {}).end == std::array<double, 2>{90, 100});
}

TEST_CASE("heat chain: a heavy case does not swallow a light junction's short step") {
    HeatChain<3> c;
    c.capacity = {0.01, 0.5, 4500};
    c.link = {0.05, 0.5};
    c.off = {0, 0, 0.01};
    const std::array<double, 3> T0 = {25, 25, 25};
    const std::array<double, 3> heat = {50, 0, 0.25};
    const std::array<double, 3> drift = {600, 0, 0};  // which the case would follow in a year
    const ChainStep<3> s = ChainFlow<3>(c, 0.02).step(T0, heat, drift);
    const std::array<double, 3> exact = by_interval(c, T0, heat, drift, 0.02);
    CHECK(exact[0] > 130);
    CHECK_THAT(s.end[0], WithinRel(exact[0], 2e-3));
    CHECK_THAT(s.end[1], WithinAbs(exact[1], 5e-3));
    CHECK_THAT(s.end[2], WithinAbs(exact[2], 1e-6));
}

TEST_CASE("heat chain: what nothing carries off stays in it") {
    HeatChain<3> c;
    c.capacity = {0.5, 12, 60};
    c.link = {4, 1.5};
    const std::array<double, 3> heat = {5, 1, 0};  // off is 0: nowhere does this settle
    const std::array<double, 3> T0 = {30, 20, 10};
    for (const double dt : {0.1, 10.0, 1000.0}) {
        for (const double drift : {0.0, -0.02, 0.3}) {
            const ChainStep<3> s = ChainFlow<3>(c, dt).step(T0, heat, {drift, 0, 0});
            double held = 0;
            for (size_t i = 0; i < 3; ++i) {
                held += c.capacity[i] * (s.end[i] - T0[i]);
            }
            CHECK_THAT(held, WithinRel((6 + 0.5 * drift * dt) * dt, 1e-5));
        }
    }
    // A loss that grows faster than it is carried off runs away.
    c.off = {-8, 0, 0.1};
    CHECK(ChainFlow<3>(c, 20).step(T0, heat, {}).end[0] > 1e6);
}
