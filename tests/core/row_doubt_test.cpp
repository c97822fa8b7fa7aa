// How likely is a row off? Rows that nothing else bears on, against the odds written out by hand.
#include <cmath>

#include "learn/row_checks.hpp"
#include "near.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr double sigma_K = 2.5;

/// Odds of an offset against none: before any reading, and after one that is off by so many kelvin
/// and tells the offset with a variance of `variance_K2`. Offsets are of 10 K (P).
double odds_of(double chance, double off_K, double variance_K2) {
    const double whole_K2 = variance_K2 + 100;  // D: normal densities of either
    const double off_K2 = off_K * off_K;
    return chance / (1 - chance) * std::sqrt(variance_K2 / whole_K2) *
           std::exp(0.5 * off_K2 / variance_K2 - 0.5 * off_K2 / whole_K2);
}

/// The checks of rows whose readings are off by so many kelvin (predicted minus measured), each
/// reading with an error of its own, and nothing unknown that any of them could move.
std::vector<RowCheck> checks_of(const std::vector<Reading>& readings,
                                const std::vector<double>& off_K) {
    const Setup setup;
    const std::vector<Prior> priors;
    const ErrorFactor noise(error_covariance(readings));
    const auto n = static_cast<Eigen::Index>(readings.size());
    LeastSquaresSummary f;
    f.x = Eigen::VectorXd::Zero(1);
    f.residuals = Eigen::VectorXd::Zero(n);
    for (Eigen::Index i = 0; i < n; ++i) {
        const auto at = static_cast<size_t>(i);
        f.residuals(i) = off_K[at] / readings[at].sigma;
    }
    f.jacobian = Eigen::MatrixXd::Zero(n, 1);
    f.weights = Eigen::VectorXd::Ones(n);
    f.curvature = Eigen::MatrixXd::Identity(1, 1);
    return check_rows({setup, priors, readings, noise}, f, true);
}

Reading peak_of_row(int row) { return {row, ReadingKind::peak, 0, 50, sigma_K, 0, row}; }

}  // namespace

TEST_CASE("row doubt: one row in ten is off by some 10 K, before it is read") {
    for (const double off_K : {0.0, 4.0, 7.0, 9.0, 15.0}) {
        const std::vector<RowCheck> checks =
            checks_of({peak_of_row(0), peak_of_row(1), peak_of_row(2)}, {-off_K, 0, 0});
        REQUIRE(checks.size() == 3);
        const double own = odds_of(0.1, off_K, sigma_K * sigma_K);
        const double other = odds_of(0.1, 0, sigma_K * sigma_K);
        INFO(off_K << " K");
        CHECK_THAT(checks[0].doubt, WithinRel(own / (1 + own + 2 * other), 1e-9));
        CHECK_THAT(checks[1].doubt, WithinRel(other / (1 + own + 2 * other), 1e-9));
        CHECK_FALSE(checks[0].kind);
        CHECK_THAT(checks[0].off_K, WithinAbs(off_K, 1e-9));
        CHECK_THAT(checks[0].sigma_K, WithinRel(sigma_K, 1e-9));
    }
}

TEST_CASE("row doubt: a speed, or one of a row's two readings, is off three times in a hundred") {
    // A row of a mean and a peak, the peak 8 K too hot, beside one with a speed 5 % too fast.
    Reading mean = peak_of_row(0);
    mean.kind = ReadingKind::mean;
    const Reading speed = {1, ReadingKind::speed, 0, 600, 1.4, 0, 1};
    const std::vector<RowCheck> checks =
        checks_of({mean, peak_of_row(0), speed, peak_of_row(2), peak_of_row(3)}, {0, -8, -5, 0, 0});
    REQUIRE(checks.size() == 4);
    constexpr double variance_K2 = sigma_K * sigma_K;
    // Both readings together say 4 K with half the variance (D).
    const double whole = odds_of(0.1, 4, variance_K2 / 2);
    const double of_mean = odds_of(0.03, 0, variance_K2);
    const double of_peak = odds_of(0.03, 8, variance_K2);
    const double of_speed = odds_of(0.03, 5, 1.4 * 1.4);
    const double of_third = odds_of(0.1, 0, variance_K2);
    const double all = 1 + whole + of_mean + of_peak + of_speed + 2 * of_third;
    CHECK_THAT(checks[0].doubt, WithinRel((whole + of_mean + of_peak) / all, 1e-9));
    CHECK_THAT(checks[1].doubt, WithinRel(of_speed / all, 1e-9));
    CHECK_THAT(checks[2].doubt, WithinRel(of_third / all, 1e-9));
    CHECK(of_peak > whole);
    CHECK(checks[0].kind == ReadingKind::peak);
    CHECK_THAT(checks[0].off_K, WithinAbs(8, 1e-9));
    CHECK(checks[1].kind == ReadingKind::speed);
    CHECK_THAT(checks[1].off_K, WithinAbs(5, 1e-9));
}

TEST_CASE("row doubt: one or two rows that tell heat are believed, however far off") {
    const Reading speed = {1, ReadingKind::speed, 0, 600, 1.4, 0, 1};
    CHECK(checks_of({peak_of_row(0), speed}, {-30, 0})[0].doubt == 0);
    CHECK(checks_of({peak_of_row(0), peak_of_row(1), speed}, {-30, 0, 0})[0].doubt == 0);
    CHECK(checks_of({peak_of_row(0), peak_of_row(1), peak_of_row(2)}, {-30, 0, 0})[0].doubt > 0.99);
}

TEST_CASE("row doubt: of a trace no point stands out alone") {
    Reading early = peak_of_row(0);
    early.kind = ReadingKind::trace;
    early.t = 10;
    Reading late = early;
    late.t = 60;
    // As the peak beside a mean, which does.
    for (const bool traced : {true, false}) {
        Reading first = early;
        Reading second = late;
        first.kind = traced ? ReadingKind::trace : ReadingKind::mean;
        second.kind = traced ? ReadingKind::trace : ReadingKind::peak;
        const std::vector<RowCheck> checks =
            checks_of({first, second, peak_of_row(1), peak_of_row(2)}, {0, -30, 0, 0});
        CHECK(checks[0].kind.has_value() == !traced);
    }
}
