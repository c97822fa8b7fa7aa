// Sobol points, normal and sample quantiles and monotone curves against SciPy, asked while the test
// runs (reference/_scipy_values.py).
// Sources: scipy.stats.qmc.Sobol, scipy.special.ndtri, scipy.interpolate.PchipInterpolator,
// numpy.quantile.
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <memory>
#include <string>
#include <vector>

#include "core/near.hpp"
#include "learn/sampling.hpp"
#include "physics/monotone.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr double quantile_promised = 1e-13;  // absolute, by the header of normal_quantile
constexpr double rounding = 1e-12;           // relative to the curve's values

// What the helper prints, number by number. Debian's python first: SciPy belongs to it.
std::vector<double> from_scipy(const std::string& arguments) {
    const std::string command = "PATH=/usr/bin:$PATH python3 " HOTBAND_SOURCE_DIR
                                "/tests/reference/_scipy_values.py " +
                                arguments;
    const std::unique_ptr<FILE, int (*)(FILE*)> pipe(popen(command.c_str(), "r"), pclose);
    REQUIRE(pipe != nullptr);
    std::vector<double> numbers;
    double number = 0;
    while (std::fscanf(pipe.get(), "%lf", &number) == 1) {
        numbers.push_back(number);
    }
    REQUIRE(!numbers.empty());
    return numbers;
}

// Takes numbers off a list, front first.
struct Reader {
    std::vector<double> numbers;
    size_t at = 0;
    bool more() const { return at < numbers.size(); }
    double one() { return numbers.at(at++); }
    std::vector<double> some(double count) {
        std::vector<double> out;
        for (int i = 0; i < static_cast<int>(count); ++i) {
            out.push_back(one());
        }
        return out;
    }
};

}  // namespace

TEST_CASE("scipy: the Sobol sequence, 1024 points in 64 dimensions, to the last bit") {
    CHECK(sobol(1024, most_sobol_dimensions, 0) == from_scipy("sobol 1024 64"));
}

TEST_CASE("scipy: normal quantiles from 1e-11 to 1 - 1e-11") {
    Reader r{from_scipy("normal")};
    while (r.more()) {
        const double p = r.one();
        const double x = r.one();
        CAPTURE(p);
        // near 1 the last digit of p itself is worth more than the promise
        const double last_digit = p > 0.5 ? 2.3e-16 * std::sqrt(6.3) * std::exp(0.5 * x * x) : 0;
        CHECK_THAT(normal_quantile(p), WithinAbs(x, quantile_promised + last_digit));
    }
}

TEST_CASE("scipy: monotone curves: rising, up and down, with level stretches") {
    Reader r{from_scipy("curves")};
    int curves = 0;
    while (r.more()) {
        const double knots = r.one();
        const std::vector<double> x = r.some(knots);
        const std::vector<double> y = r.some(knots);
        const MonotoneCurve curve = make_monotone(x, y);
        double size = 1e-3;
        for (const double v : y) {
            size = std::max(size, std::abs(v));
        }
        for (int asked = static_cast<int>(r.one()); asked > 0; --asked) {
            const double at = r.one();
            CHECK_THAT(curve.at(at), WithinAbs(r.one(), rounding * size));
        }
        ++curves;
    }
    CHECK(curves == 60);
}

TEST_CASE("scipy: sample quantiles as numpy's") {
    Reader r{from_scipy("quantiles")};
    while (r.more()) {
        std::vector<double> values = r.some(r.one());
        const double q = r.one();
        CHECK_THAT(quantile(values, q), WithinAbs(r.one(), rounding));
    }
}
