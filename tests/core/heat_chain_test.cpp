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
        c.heat[i] = r.uniform(0, 50);
        c.off[i] = i > 0 ? r.log_uniform(0.01, 10) : r.uniform(-0.3, 0.3);
        if (i + 1 < N) {
            c.link[i] = r.log_uniform(0.1, 30);
        }
    }
    return c;
}

// The same step by Phi and N of C dT/dt = q - K T, which knows of no symmetry.
template <size_t N>
std::array<double, N> by_interval(const HeatChain<N>& c, const std::array<double, N>& T0,
                                  double dt) {
    constexpr int n = static_cast<int>(N);
    Eigen::Matrix<double, n, n> A = Eigen::Matrix<double, n, n>::Zero();
    Eigen::Matrix<double, n, 1> b;
    Eigen::Matrix<double, n, 1> x;
    for (int i = 0; i < n; ++i) {
        const auto k = static_cast<size_t>(i);
        A(i, i) -= c.off[k] / c.capacity[k];
        for (const int to : {i - 1, i + 1}) {
            if (to >= 0 && to < n) {
                const double G = c.link[static_cast<size_t>(std::min(i, to))];
                A(i, i) -= G / c.capacity[k];
                A(i, to) += G / c.capacity[k];
            }
        }
        b(i) = c.heat[k] / c.capacity[k];
        x(i) = T0[k];
    }
    const Eigen::Matrix<double, n, 1> end = make_interval<n>(A, dt).end(x, b);
    std::array<double, N> out{};
    for (int i = 0; i < n; ++i) {
        out[static_cast<size_t>(i)] = end(i);
    }
    return out;
}

template <size_t N>
void check_any(Random& r) {
    const HeatChain<N> c = any_chain<N>(r);
    std::array<double, N> T0{};
    for (double& T : T0) {
        T = r.uniform(-20, 150);
    }
    const double dt = r.log_uniform(0.01, 100);
    const ChainStep<N> step = chain_step(c, T0, dt);
    const std::array<double, N> end = by_interval(c, T0, dt);
    const std::array<double, N> middle = by_interval(c, T0, 0.5 * dt);
    for (size_t i = 0; i < N; ++i) {
        // Taylor's eighth power on half a unit, 5e-9, of temperatures in the hundreds.
        CHECK_THAT(step.end[i], WithinRel(end[i], 1e-6));
        CHECK_THAT(step.middle[i], WithinRel(middle[i], 1e-6));
    }
}

}  // namespace

TEST_CASE("heat chain: any three or four nodes step as the general exact interval does") {
    Random r{7};
    for (int i = 0; i < 300; ++i) {
        INFO("chain " << i);
        check_any<3>(r);
        check_any<4>(r);
    }
}

TEST_CASE("heat chain: two nodes apart, and one, by hand (D)") {
    HeatChain<2> c;
    c.capacity = {10, 40};
    c.link = {2};
    c.off = {0, 3};
    c.heat = {0, 3 * 25.0};
    // A node of 40 J/K with 3 W/K to 25 deg C, its neighbour all but unlinked.
    c.link = {1e-12};
    const double e = std::exp(-3.0 * 20 / 40);
    const ChainStep<2> apart = chain_step(c, {90, 100}, 20);
    CHECK_THAT(apart.end[1], WithinAbs(25 + 75 * e, 1e-5));
    CHECK_THAT(apart.middle[1], WithinAbs(25 + 75 * std::sqrt(e), 1e-5));
    CHECK_THAT(apart.end[0], WithinAbs(90, 1e-6));
    CHECK(chain_step(c, {90, 100}, 0).end == std::array<double, 2>{90, 100});
}

TEST_CASE("heat chain: what nothing carries off stays in it") {
    HeatChain<3> c;
    c.capacity = {0.5, 12, 60};
    c.link = {4, 1.5};
    c.heat = {5, 1, 0};  // off is 0: there is no temperature where this settles
    const std::array<double, 3> T0 = {30, 20, 10};
    for (const double dt : {0.1, 10.0, 1000.0}) {
        const ChainStep<3> s = chain_step(c, T0, dt);
        double held = 0;
        for (size_t i = 0; i < 3; ++i) {
            held += c.capacity[i] * (s.end[i] - T0[i]);
        }
        CHECK_THAT(held, WithinRel(6 * dt, 1e-5));
    }
    // A loss that grows faster than it is carried off runs away.
    c.off = {-8, 0, 0.1};
    CHECK(chain_step(c, T0, 20).end[0] > 1e6);
}
