// Sobol points, normal quantile and sample quantile against published values; SciPy itself is asked
// in reference/scipy_values_test.cpp.
#include "learn/sampling.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "near.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr double promised = 1e-13;  // absolute error of the quantile that its header promises

double normal_distribution(double x) { return 0.5 * std::erfc(-x / std::sqrt(2.0)); }

}  // namespace

TEST_CASE("sampling: normal quantiles of the printed tables (M)") {
    CHECK_THAT(normal_quantile(0.975), WithinAbs(1.959963984540054, promised));
    CHECK_THAT(normal_quantile(0.9), WithinAbs(1.2815515655446004, promised));
    CHECK_THAT(normal_quantile(0.995), WithinAbs(2.5758293035489004, promised));
    CHECK_THAT(normal_quantile(0.9986501019683699), WithinAbs(3, 1e-12));
    CHECK_THAT(normal_quantile(1e-10), WithinAbs(-6.361340902404056, 1e-12));
    CHECK(normal_quantile(0.5) == 0);
}

TEST_CASE("sampling: the quantile is the inverse of the distribution function, and odd") {
    double last = -100;
    for (int i = 1; i < 2000; ++i) {
        const double p = i / 2000.0;
        const double x = normal_quantile(p);
        CHECK(x > last);
        last = x;
        CHECK_THAT(normal_distribution(x), WithinAbs(p, 1e-14));
        CHECK_THAT(normal_quantile(1 - p), WithinAbs(-x, 1e-12));
    }
}

TEST_CASE("sampling: first Sobol points in three dimensions, Joe and Kuo 2008 numbers (M)") {
    const std::array<std::array<double, 3>, 8> points = {{{0, 0, 0},
                                                          {0.5, 0.5, 0.5},
                                                          {0.75, 0.25, 0.25},
                                                          {0.25, 0.75, 0.75},
                                                          {0.375, 0.375, 0.625},
                                                          {0.875, 0.875, 0.125},
                                                          {0.625, 0.125, 0.875},
                                                          {0.125, 0.625, 0.375}}};
    const std::vector<double> x = sobol(8, 3, 0);
    for (size_t i = 0; i < 8; ++i) {
        for (size_t d = 0; d < 3; ++d) {
            CHECK(x[3 * i + d] == points[i][d]);
        }
    }
}

TEST_CASE("sampling: every margin of a power of two is stratified, plain and shifted") {
    constexpr int count = 256;
    const std::uint64_t seed = GENERATE(0, 1, 20080101);
    const std::vector<double> x = sobol(count, most_sobol_dimensions, seed);
    for (int d = 0; d < most_sobol_dimensions; ++d) {
        std::array<int, count> hits{};
        for (int i = 0; i < count; ++i) {
            const double u = x[static_cast<size_t>(i * most_sobol_dimensions + d)];
            REQUIRE(between(0, u, 1 - 1e-12));
            ++hits[static_cast<size_t>(u * count)];
        }
        CHECK(std::all_of(hits.begin(), hits.end(), [](int n) { return n == 1; }));
    }
}

TEST_CASE("sampling: pairs of dimensions fill the square (property of the sequence)") {
    // 1024 points in the first two dimensions put one into each of 32 x 32 boxes.
    const std::vector<double> x = sobol(1024, 2, 0);
    std::array<int, 1024> hits{};
    for (size_t i = 0; i < 1024; ++i) {
        ++hits[static_cast<size_t>(x[2 * i] * 32) * 32 + static_cast<size_t>(x[2 * i + 1] * 32)];
    }
    CHECK(std::all_of(hits.begin(), hits.end(), [](int n) { return n == 1; }));
}

TEST_CASE("sampling: normal draws have mean 0, spread 1, no correlation, and are always the same") {
    constexpr int count = 512;
    constexpr int dimensions = 30;
    const std::vector<double> z = normal_draws(count, dimensions);
    CHECK(z == normal_draws(count, dimensions));
    const auto at = [&](int i, int d) { return z[static_cast<size_t>(i * dimensions + d)]; };
    for (int d = 0; d < dimensions; ++d) {
        double sum = 0;
        double square = 0;
        double cross = 0;
        for (int i = 0; i < count; ++i) {
            sum += at(i, d);
            square += at(i, d) * at(i, d);
            cross += at(i, d) * at(i, (d + 1) % dimensions);
        }
        CHECK_THAT(sum / count, WithinAbs(0, 1e-12));
        CHECK_THAT(square / count, WithinAbs(1, 0.01));  // midpoints cut the tails a little
        CHECK_THAT(cross / count, WithinAbs(0, 0.15));   // 3 standard errors of chance
    }
}

TEST_CASE("sampling: quantiles are linear between order statistics, as numpy's default") {
    std::vector<double> v = {5, 1, 4, 2, 3};
    CHECK(quantile(v, 0.5) == 3);
    CHECK_THAT(quantile(v, 0.1), WithinAbs(1.4, 1e-12));
    CHECK_THAT(quantile(v, 0.9), WithinAbs(4.6, 1e-12));
    CHECK(quantile(v, 0) == 1);
    CHECK(quantile(v, 1) == 5);
    std::vector<double> one = {7};
    CHECK(quantile(one, 0.9) == 7);
    constexpr double beyond = std::numeric_limits<double>::infinity();
    std::vector<double> some = {1, 2, beyond, 3, beyond};
    CHECK(quantile(some, 0.5) == 3);
    CHECK(quantile(some, 1) == beyond);
}

TEST_CASE("sampling: what a parabola over the logarithm leaves unexplained (D)") {
    const std::vector<double> x = {1, 2, 3, 5, 8, 13};
    std::vector<double> y;
    for (const double at : x) {
        const double u = std::log(at);
        y.push_back(3 - 2 * u + 0.5 * u * u);
    }
    CHECK(unexplained_share(x, y) < 1e-12);
    // Two values at each place: their means are on a parabola, the halves of 2 apart are left of
    // all, 1 of 1 + the places' own variance, 2 / 3.
    CHECK(std::abs(unexplained_share({1, 1, 2, 2, 4, 4}, {0, 2, 1, 3, 2, 4}) - 0.6) < 1e-12);
    // One place explains nothing, and values without spread have nothing to explain.
    CHECK(unexplained_share({2, 2, 2, 2}, {1, 2, 3, 4}) == 1);
    CHECK(unexplained_share(x, {1, 1, 1, 1, 1, 1}) == 1);
}
