// Is what is learned from readings right? The minimiser against closed forms and certified
// problems, the posterior against a Markov chain, its bands against simulated owners. The whole
// study, with 500 owners and wrong truths, is tests/bench/coverage.cpp.
#include "learn/calibrate.hpp"
#include "learn/fit.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <complex>
#include <limits>

#include "advise/advise.hpp"
#include "drives.hpp"
#include "learn/stand_ins.hpp"
#include "near.hpp"
#include "owners.hpp"

using namespace hotband;
using namespace hotband::test;
using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

VectorXd vector_of(const std::vector<double>& v) {
    return Eigen::Map<const VectorXd>(v.data(), static_cast<Index>(v.size()));
}

// A fit of y = f(x; b). Derivatives by the complex step, exact to rounding.
template <class Model>
LeastSquaresProblem curve_fit(Model model, std::vector<double> x, std::vector<double> y) {
    LeastSquaresProblem p;
    p.prior = 0;
    p.robust = false;
    p.residuals = [model, x, y](const VectorXd& b) {
        VectorXd r(static_cast<Index>(x.size()));
        for (Index i = 0; i < r.size(); ++i) {
            const auto k = static_cast<size_t>(i);
            r(i) = model(b, x[k]) - y[k];
        }
        return r;
    };
    p.jacobian = [model, x](const VectorXd& b, const VectorXd& at) {
        constexpr double h = 1e-30;
        MatrixXd J(at.size(), b.size());
        for (Index j = 0; j < b.size(); ++j) {
            Eigen::VectorXcd moved = b.cast<std::complex<double>>();
            moved(j) += std::complex<double>(0, h);
            for (Index i = 0; i < at.size(); ++i) {
                J(i, j) = model(moved, x[static_cast<size_t>(i)]).imag() / h;
            }
        }
        return J;
    };
    return p;
}

// Digits in which x agrees with what is certified.
double least_digits(const VectorXd& x, const std::vector<double>& certified) {
    double least = 16;
    for (Index i = 0; i < x.size(); ++i) {
        const double c = certified[static_cast<size_t>(i)];
        least = std::min(least, -std::log10(std::max(1e-16, std::abs(x(i) - c) / std::abs(c))));
    }
    return least;
}

constexpr double certified_digits = 6;  // of eleven printed; a drop is a fault

template <class Model>
void check_certified(Model model, const std::vector<double>& x, const std::vector<double>& y,
                     const std::vector<std::vector<double>>& starts,
                     const std::vector<double>& certified, double certified_cost) {
    for (const std::vector<double>& start : starts) {
        const LeastSquaresSummary s =
            minimise(curve_fit(model, x, y), vector_of(start),
                     {.most_iterations = 3000, .settled = 1e-22, .first_damping = 100});
        INFO("from " << start[0] << ", iterations " << s.iterations);
        CHECK(s.converged);
        CHECK(least_digits(s.x, certified) >= certified_digits);
        CHECK_THAT(s.cost, WithinRel(certified_cost, 1e-9));
    }
}

// Rows of an owner with errors of its own seed, and the owner.
struct Owner {
    Setup told;
    Truth truth;
    std::vector<MeasuredRow> rows;
};

Owner owner(std::uint64_t seed, const Noise& noise = {}) {
    Chance chance(seed);
    Owner o;
    o.told = told_drive(chance);
    o.truth = draw_truth(o.told, chance);
    o.rows = measure_all(o.truth.plant, noise, chance);
    return o;
}

Setup with_rows(const Owner& o, size_t count) {
    Setup s = o.told;
    s.measured.assign(o.rows.begin(), o.rows.begin() + static_cast<std::ptrdiff_t>(count));
    return s;
}

// A middling drive with an owner's four rows, for checks of one case.
Owner middling(const Noise& noise = {}) {
    Chance chance(2);
    Owner o;
    o.told = six_cell_drive();
    o.told.esc.rating_A = 100;
    o.told.load.full_throttle_A = 72;
    o.told.flight.parts = {part_of(65, 40), part_of(100, 6)};
    o.truth = draw_truth(o.told, chance);
    o.rows = measure_all(o.truth.plant, noise, chance);
    return o;
}

struct MeanSpread {
    double mean = 0, spread = 0;
};

MeanSpread mean_spread(const std::vector<double>& v) {
    MeanSpread m;
    const auto n = static_cast<double>(v.size());
    for (const double x : v) {
        m.mean += x / n;
    }
    for (const double x : v) {
        m.spread += (x - m.mean) * (x - m.mean) / n;
    }
    m.spread = std::sqrt(m.spread);
    return m;
}

// Elliptical slice sampling of the posterior from the prior alone (Murray, Adams and MacKay, 2010):
// it knows nothing of the fit, its curvature or its Gaussian.
struct Chain {
    std::vector<std::vector<double>> z;  // by prior
    std::vector<double> flight_peak;
};

Chain run_chain(const Setup& s, const Calibration& c, int steps, std::uint64_t seed) {
    constexpr int keep_each = 4;
    const std::vector<Prior>& priors = c.belief.priors;
    const auto n = static_cast<Index>(priors.size());
    const auto span = [](const VectorXd& z) {
        return std::span<const double>{z.data(), static_cast<size_t>(z.size())};
    };
    const auto log_likelihood = [&](const VectorXd& z) {
        VectorXd off = vector_of(predict(s, priors, c.readings, span(z)));
        for (Index i = 0; i < off.size(); ++i) {
            off(i) -= c.readings[static_cast<size_t>(i)].measured;
        }
        double sum = 0;
        Index first = 0;
        for (const MatrixXd& L : c.fit->noise.blocks()) {
            const VectorXd r = L.triangularView<Eigen::Lower>().solve(off.segment(first, L.rows()));
            first += L.rows();
            for (const double u : r) {
                sum += huber_loss(u);
            }
        }
        return -0.5 * sum;
    };
    Chance chance(seed);
    Chain out;
    out.z.resize(priors.size());
    VectorXd z = VectorXd::Zero(n);
    double now = log_likelihood(z);
    for (int i = 0; i < steps; ++i) {
        VectorXd other(n);
        for (double& x : other) {
            x = chance.normal();
        }
        const double level = now + std::log(chance.unit());
        double angle = chance.between(0, 2 * 3.141592653589793);
        double low = angle - 2 * 3.141592653589793;
        double high = angle;
        for (;;) {
            const VectorXd next = z * std::cos(angle) + other * std::sin(angle);
            const double there = log_likelihood(next);
            if (there > level) {
                z = next;
                now = there;
                break;
            }
            (angle < 0 ? low : high) = angle;
            angle = chance.between(low, high);
        }
        if (i >= steps / 10 && i % keep_each == 0) {
            out.flight_peak.push_back(flight_peak(fitted_plant(s, priors, span(z)), s.flight));
            for (size_t j = 0; j < priors.size(); ++j) {
                out.z[j].push_back(z(static_cast<Index>(j)));
            }
        }
    }
    return out;
}

}  // namespace

TEST_CASE("least squares: a linear problem with a normal prior has its closed form") {
    // z ~ N(0, I), y = A z + e, e ~ N(0, I): posterior N(S A'y, S), S = (A'A + I)^-1; the cost at
    // its middle is y'(I + A A')^-1 y (textbook).
    Chance chance(3);
    MatrixXd A(5, 8);
    VectorXd y(5);
    for (double& a : A.reshaped()) {
        a = chance.normal();
    }
    for (double& a : y) {
        a = 0.3 * chance.normal();
    }
    LeastSquaresProblem p;
    p.residuals = [&](const VectorXd& z) -> VectorXd { return A * z - y; };
    p.jacobian = [&](const VectorXd&, const VectorXd&) { return A; };
    const LeastSquaresSummary s = minimise(p, VectorXd::Constant(8, 2), {.settled = 1e-20});
    const MatrixXd precision = A.transpose() * A + MatrixXd::Identity(8, 8);
    const VectorXd middle = precision.ldlt().solve(A.transpose() * y);
    CHECK(s.converged);
    CHECK((s.x - middle).norm() < 1e-9);
    CHECK((s.curvature - precision).norm() < 1e-12);
    const MatrixXd marginal = MatrixXd::Identity(5, 5) + A * A.transpose();
    CHECK_THAT(s.cost, WithinAbs(y.dot(marginal.ldlt().solve(y)), 1e-10));
    CHECK(s.iterations <= 12);
}

TEST_CASE("least squares: says why it ended") {
    CHECK(LeastSquaresSummary{}.ended == Ended::not_run);
    CHECK_FALSE(LeastSquaresSummary{}.converged);
    const auto model = [](const auto& b, double x) { return b(0) * exp(b(1) * x); };
    const LeastSquaresProblem p = curve_fit(model, {0, 1, 2, 3}, {1, 2, 4, 8});
    const LeastSquaresSummary stopped =
        minimise(p, vector_of({5, -1}), {.most_iterations = 2, .settled = 1e-20});
    CHECK(stopped.ended == Ended::most_iterations);
    CHECK_FALSE(stopped.converged);
    CHECK(stopped.iterations == 2);
    const LeastSquaresSummary done = minimise(p, vector_of({5, -1}));
    CHECK(done.ended == Ended::settled);
    CHECK(done.converged);
    CHECK_THAT(done.x(1), WithinAbs(std::log(2), 1e-3));
    const double nan = std::numeric_limits<double>::quiet_NaN();
    CHECK(minimise(p, vector_of({nan, 1})).ended == Ended::not_finite);
    CHECK_FALSE(minimise(p, vector_of({nan, 1})).converged);
    LeastSquaresProblem backwards = p;
    backwards.jacobian = [&](const VectorXd& b, const VectorXd& at) -> MatrixXd {
        return -p.jacobian(b, at);
    };
    const LeastSquaresSummary lost = minimise(backwards, vector_of({5, -1}));
    CHECK(lost.ended == Ended::no_lower);
    CHECK_FALSE(lost.converged);
}

TEST_CASE("least squares: NIST StRD nonlinear problems from far and near starts (S2)") {
    // Data, starts and certified values: NIST Statistical Reference Datasets, nonlinear regression,
    // as several public repositories print them.
    SECTION("Misra1a, lower difficulty") {
        check_certified([](const auto& b, double x) { return b(0) * (1.0 - exp(-b(1) * x)); },
                        {77.6, 114.9, 141.1, 190.8, 239.9, 289, 332.8, 378.4, 434.8, 477.3, 536.8,
                         593.1, 689.1, 760},
                        {10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05,
                         61.01, 66.40, 75.47, 81.78},
                        {{500, 0.0001}, {250, 0.0005}}, {2.3894212918E+02, 5.5015643181E-04},
                        1.2455138894E-01);
    }
    SECTION("BoxBOD, higher difficulty") {
        check_certified([](const auto& b, double x) { return b(0) * (1.0 - exp(-b(1) * x)); },
                        {1, 2, 3, 5, 7, 10}, {109, 149, 149, 191, 213, 224}, {{1, 1}, {100, 0.75}},
                        {2.1380940889E+02, 5.4723748542E-01}, 1.1680088766E+03);
    }
    SECTION("MGH09, higher difficulty") {
        check_certified(
            [](const auto& b, double x) {
                return b(0) * (x * x + x * b(1)) / (x * x + x * b(2) + b(3));
            },
            {4, 2, 1, 0.5, 0.25, 0.167, 0.125, 0.1, 0.0833, 0.0714, 0.0625},
            {0.1957, 0.1947, 0.1735, 0.16, 0.0844, 0.0627, 0.0456, 0.0342, 0.0323, 0.0235, 0.0246},
            {{25, 39, 41.5, 39}, {0.25, 0.39, 0.415, 0.39}},
            {1.9280693458E-01, 1.9128232873E-01, 1.2305650693E-01, 1.3606233068E-01},
            3.0750560385E-04);
    }
    SECTION("Rat43, higher difficulty") {
        check_certified([](const auto& b,
                           double x) { return b(0) / pow(1.0 + exp(b(1) - b(2) * x), 1.0 / b(3)); },
                        {1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15},
                        {16.08, 33.83, 65.80, 97.20, 191.55, 326.20, 386.87, 520.53, 590.03, 651.92,
                         724.93, 699.56, 689.96, 637.56, 717.41},
                        {{100, 10, 1, 1}, {700, 5, 0.75, 1.3}},
                        {6.9964151270E+02, 5.2771253025E+00, 7.5962938329E-01, 1.2792483859E+00},
                        8.7864049080E+03);
    }
}

TEST_CASE(
    "least squares: Huber's weight is the slope of his loss, on both sides of the threshold") {
    constexpr double h = 1e-6;
    for (const double u : {-5.0, -huber_sigmas - 1e-3, -huber_sigmas + 1e-3, -0.4, 0.7,
                           huber_sigmas - 1e-3, huber_sigmas + 1e-3, 40.0}) {
        const double slope = (huber_loss(u + h) - huber_loss(u - h)) / (2 * h);
        CHECK_THAT(huber_weight(u) * 2 * u, WithinAbs(slope, 1e-6));
    }
    CHECK(huber_weight(0) == 1);
    CHECK_THAT(huber_loss(huber_sigmas), WithinAbs(huber_sigmas * huber_sigmas, 1e-12));
}

TEST_CASE("least squares: one wild spike hardly moves a robust fit") {
    // A line through eleven points, one of them 100 sigmas off.
    std::vector<double> x;
    std::vector<double> y;
    for (int i = 0; i <= 10; ++i) {
        x.push_back(i);
        y.push_back(2 + 0.5 * i + (i % 2 == 0 ? 0.3 : -0.3));
    }
    const auto line = [](const auto& b, double t) { return b(0) + b(1) * t; };
    LeastSquaresProblem clean = curve_fit(line, x, y);
    const LeastSquaresSummary without = minimise(clean, VectorXd::Zero(2));
    y[7] += 100;
    LeastSquaresProblem spiked = curve_fit(line, x, y);
    const LeastSquaresSummary plain = minimise(spiked, VectorXd::Zero(2));
    spiked.robust = true;
    const LeastSquaresSummary robust =
        minimise(spiked, VectorXd::Zero(2), {.most_iterations = 200, .settled = 1e-12});
    CHECK(robust.converged);
    const auto off = [&](const LeastSquaresSummary& s) {
        return std::abs(s.x(0) + 5 * s.x(1) - without.x(0) - 5 * without.x(1));
    };
    CHECK(off(plain) > 9);     // the mean of the line moves by 100 / 11
    CHECK(off(robust) < 0.3);  // Huber bounds a point's pull: 1.345 / 10 and a little
    // The robust minimum's own condition: the bounded residuals balance.
    double sum = 0;
    for (Index i = 0; i < robust.residuals.size(); ++i) {
        sum += robust.weights(i) * robust.residuals(i);
    }
    CHECK_THAT(sum, WithinAbs(0, 1e-5));
}

TEST_CASE("sampling: chi-squared quantiles of the printed tables (M)") {
    constexpr double promised = 0.03;  // relative, as the header says
    CHECK_THAT(chi_squared_quantile(0.95, 1), WithinRel(3.841, promised));
    CHECK_THAT(chi_squared_quantile(0.95, 2), WithinRel(5.991, promised));
    CHECK_THAT(chi_squared_quantile(0.95, 8), WithinRel(15.507, promised));
    CHECK_THAT(chi_squared_quantile(0.99, 4), WithinRel(13.277, promised));
    CHECK_THAT(chi_squared_quantile(0.5, 10), WithinRel(9.342, promised));
}

TEST_CASE("calibration: forward differences of the readings against central ones") {
    // Curvature over the step is all that may lie between them; both sides of it are tried.
    constexpr double of_row = 5e-3;  // of the length of a reading's gradient
    const Owner o = middling();
    Setup s = with_rows(o, 4);
    s.esc.freewheel_sure = true;  // between two kinds there is no slope
    const Calibration c = calibrate(s);
    const auto n = static_cast<Index>(c.belief.priors.size());
    const auto f = [&](const VectorXd& z) {
        return vector_of(
            predict(s, c.belief.priors, c.readings, {z.data(), static_cast<size_t>(z.size())}));
    };
    for (const VectorXd& z : {VectorXd(VectorXd::Zero(n)), vector_of(c.belief.middle)}) {
        const VectorXd at = f(z);
        const MatrixXd ahead = forward_jacobian(f, z, at, 1e-3);
        const MatrixXd behind = forward_jacobian(f, z, at, -1e-3);
        const MatrixXd central = central_jacobian(f, z, at.size(), 1e-4);
        for (Index i = 0; i < at.size(); ++i) {
            const double length = central.row(i).norm();
            CHECK(length > 1);  // K: the readings do depend on the priors
            CHECK((ahead.row(i) - central.row(i)).norm() < of_row * length);
            CHECK((behind.row(i) - central.row(i)).norm() < of_row * length);
        }
    }
}

TEST_CASE("calibration: readings of one row share a part of their error, rows do not") {
    const Owner o = middling();
    Setup s = with_rows(o, 2);
    s.measured[0].sensor_K = 1;
    const std::vector<Reading> readings = readings_of(s);
    REQUIRE(readings.size() == 4);
    const ErrorBlocks covariance = error_covariance(readings);
    REQUIRE(covariance.size() == 2);
    const MatrixXd& row = covariance[0];
    REQUIRE(row.rows() == 2);
    CHECK_THAT(row(0, 0), WithinAbs(1, 1e-12));
    CHECK_THAT(row(1, 1), WithinAbs(1, 1e-12));
    CHECK_THAT(row(0, 1), WithinAbs(0.3, 1e-12));
    CHECK(row(1, 0) == row(0, 1));
    CHECK_THAT(covariance[1](0, 0), WithinAbs(2.5 * 2.5, 1e-12));
    // A log of many points knows the level no better than its sensor does.
    MeasuredRow log;
    for (int t = 0; t < 400; ++t) {
        log.trace.push_back({static_cast<double>(t), 40});
    }
    // Of fifty logs as many points of each, of more of them fewer, six at least.
    const auto points = [&](size_t logs) {
        s.measured.assign(logs, log);
        return readings_of(s).size();
    };
    CHECK(points(1) == 24);
    CHECK(points(50) == 50 * 24);
    CHECK(points(51) == 51 * 23);
    CHECK(points(150) == 150 * 8);
    CHECK(points(200) == 200 * 6);
    s.measured = {log};
    const MatrixXd dense = error_covariance(readings_of(s)).front();
    CHECK(dense.rows() <= 24);
    const double n = static_cast<double>(dense.rows());
    const double level = std::sqrt(dense.sum()) / n;  // of the mean of all points
    CHECK(level > 1.2);
    CHECK(level < 2.5);
}

TEST_CASE("error factor: rows of readings are solved apart as all of them are together") {
    const ErrorBlocks blocks = {MatrixXd{{4, 2, 1}, {2, 5, 2}, {1, 2, 6}}, MatrixXd{{9}},
                                MatrixXd{{2, -1}, {-1, 2}}};
    MatrixXd dense = MatrixXd::Zero(6, 6);
    dense.block(0, 0, 3, 3) = blocks[0];
    dense(3, 3) = 9;
    dense.block(4, 4, 2, 2) = blocks[2];
    const MatrixXd L = dense.llt().matrixL();
    const ErrorFactor noise(blocks);
    const VectorXd b = vector_of({1, -2, 3, 4, -5, 6});
    const VectorXd solved = L.triangularView<Eigen::Lower>().solve(b);
    CHECK((noise.solve(b) - solved).norm() < 1e-14);
    CHECK((noise.applied_to(b) - L * b).norm() < 1e-14);
    CHECK((noise.times(3).applied_to(b) - 3 * L * b).norm() < 1e-13);
    CHECK_THAT(noise.log_determinant(), WithinAbs(std::log(L.determinant()), 1e-14));
    // Of one row, or of some.
    CHECK((noise.solve(b.segment(3, 1), 3) - solved.segment(3, 1)).norm() < 1e-14);
    CHECK((noise.solve(b.segment(4, 2), 4) - solved.segment(4, 2)).norm() < 1e-14);
    CHECK((noise.solve(b.segment(3, 3), 3) - solved.segment(3, 3)).norm() < 1e-14);
    CHECK((noise.solve(b.segment(0, 3), 0) - solved.segment(0, 3)).norm() < 1e-14);
}

TEST_CASE("calibration: without readings the belief is the prior") {
    Setup s = six_cell_drive();
    MeasuredRow row;
    row.throttle_pct = 60;
    row.pack_A = 40;
    s.measured = {row};
    const Calibration c = calibrate(s);
    CHECK(c.converged);
    CHECK(c.checks.empty());
    CHECK(c.widened == 1);
    const size_t n = c.belief.priors.size();
    for (size_t i = 0; i < n; ++i) {
        for (size_t j = 0; j < n; ++j) {
            CHECK(c.belief.covariance(i, j) == (i == j ? 1 : 0));
        }
    }
    // but for the kind of freewheel: one draw in twenty is otherwise than told
    const auto kind = static_cast<size_t>(
        std::find_if(c.belief.priors.begin(), c.belief.priors.end(),
                     [](const Prior& p) { return p.slot == &Unknowns::active_freewheel; }) -
        c.belief.priors.begin());
    const std::vector<double> drawn = posterior_draws(c, 100);
    const std::vector<double> normals = normal_draws(100, static_cast<int>(n) + 1);
    int active = 0;
    for (size_t k = 0; k < 100; ++k) {
        for (size_t i = 0; i < n; ++i) {
            CHECK((i == kind || drawn[k * n + i] == normals[k * (n + 1) + i]));
        }
        active += drawn[k * n + kind] > 0 ? 1 : 0;
    }
    CHECK(between(4, active, 6));
}

TEST_CASE("calibration: the truth's own bench rows come back, currents and lengths told") {
    // A mean current is read from a pack that empties and warms; a row is a hold of its own day.
    // at any one reading: the mean current is taken at the hold's mean pack and windings, over
    // which a current that begins to stop bends
    constexpr double within_K = 2;
    constexpr double on_average_K = 0.15;  // no bias
    double sum = 0;
    double count = 0;
    for (std::uint64_t seed = 1; seed <= 40; ++seed) {
        const Owner o = owner(seed * 7919, {.own_K = 0});
        const Setup s = with_rows(o, o.rows.size());
        const std::vector<Reading> readings = readings_of(s);
        const std::vector<double> p = predict(s, make_priors(s), readings, o.truth.z);
        for (size_t i = 0; i < p.size(); ++i) {
            INFO("owner " << seed << " reading " << i);
            CHECK_THAT(p[i], WithinAbs(readings[i].measured, within_K));
            sum += p[i] - readings[i].measured;
            ++count;
        }
    }
    CHECK(count > 250);
    CHECK_THAT(sum / count, WithinAbs(0, on_average_K));
}

TEST_CASE("calibration: a flight read after landing is flown on its own day") {
    Owner o = middling();
    Setup s = o.told;
    MeasuredRow row;
    row.kind = RowKind::flight;
    row.start_C = 40;
    row.air_C = 5;
    row.pwm_Hz = 24000;
    row.esc_after_C = 50;
    s.measured = {row};
    Setup day = o.told;
    day.flight.start_C = 40;
    day.pack.temperature_C = 25;  // the pack is as the setup tells it
    const Plant p = fitted_plant(s, make_priors(s));
    Plant changed = p;
    changed.esc_start_C = 40;
    changed.air.celsius = 5;
    changed.air_density *= (25 + 273.15) / (5 + 273.15);
    changed.pwm = 24000;
    const double landed =
        run_flight(changed, s.flight, Steps::trial).march.moments.back().heat.board;
    const std::vector<double> predicted =
        predict(s, make_priors(s), readings_of(s), std::vector<double>(make_priors(s).size(), 0.0));
    REQUIRE(predicted.size() == 1);
    CHECK_THAT(predicted[0], WithinAbs(landed, 1e-3));
    const Report r = advise(s, {.samples = 0});
    REQUIRE(r.learned.fit.size() == 1);
    CHECK(std::abs(r.learned.fit[0].hold_peak_C - 50) < std::abs(landed - 50) + 1);
}

TEST_CASE("calibration: a flight's readings are those of its march in fine steps") {
    constexpr double read_K = 0.25;   // a tenth of a good thermometer's error
    constexpr double traced_K = 0.5;  // between moments
    for (std::uint64_t owner = 1; owner <= 20; ++owner) {
        CAPTURE(owner);
        Chance chance(owner * 7919);
        Setup s = told_drive(chance);
        MeasuredRow read;
        read.kind = RowKind::flight;
        read.esc_peak_C = read.esc_mean_C = read.esc_after_C = 50;
        MeasuredRow traced;
        traced.kind = RowKind::flight;
        for (int t = 10; t < 120; t += 7) {
            traced.trace.push_back({static_cast<double>(t), 50});
        }
        s.measured = {read, traced};
        const std::vector<Prior> priors = make_priors(s);
        const std::vector<double> z(priors.size(), 0.0);
        const std::vector<double> predicted = predict(s, priors, readings_of(s), z);
        const March fine = fly_row(fitted_plant(s, priors, z), s, read);
        REQUIRE(predicted.size() == 3 + traced.trace.size());
        CHECK_THAT(predicted[0], WithinAbs(fine.mean_board, read_K));
        CHECK_THAT(predicted[1], WithinAbs(fine.peak_board, read_K));
        CHECK_THAT(predicted[2], WithinAbs(fine.moments.back().heat.board, read_K));
        for (size_t i = 0; i < traced.trace.size(); ++i) {
            const double t = std::min(traced.trace[i][0], fine.seconds);
            const auto next = std::find_if(fine.moments.begin() + 1, fine.moments.end() - 1,
                                           [&](const Moment& m) { return m.t >= t; });
            const Moment& last = *(next - 1);
            const double share = (t - last.t) / (next->t - last.t);
            CHECK_THAT(predicted[3 + i],
                       WithinAbs(std::lerp(last.heat.board, next->heat.board, share), traced_K));
        }
    }
}

TEST_CASE(
    "calibration: a row is predicted alike whatever else is read, by current or by throttle") {
    // Told currents need no throttle-to-duty map; throttles without one, and flights, do.
    const Owner o = middling();
    Setup s = with_rows(o, 3);
    s.measured.at(2).kind = RowKind::flight;
    s.measured.at(2).pack_A = 30;  // of a flight it says nothing
    s.measured.at(2).hold_s.reset();
    s.measured.at(1).throttle_pct = 60;
    const std::vector<Prior> priors = make_priors(s);
    const std::vector<double> z(priors.size(), 0.4);
    for (const bool by_current : {true, false}) {
        s.measured.at(0).pack_A = 20;
        s.measured.at(0).throttle_pct = 55;
        s.measured.at(1).pack_A = by_current ? std::optional(25.0) : std::nullopt;
        const std::vector<Reading> all = readings_of(s);
        const std::vector<double> together = predict(s, priors, all, z);
        for (size_t i = 0; i < all.size(); ++i) {
            CHECK(predict(s, priors, {all[i]}, z).front() == together[i]);
        }
    }
}

TEST_CASE("calibration: the work of a prediction goes with what it flies") {
    const auto work = [](const Setup& s) {
        const std::vector<Prior> priors = make_priors(s);
        constexpr double plenty = 1e9;
        return fit_readings(s, priors, std::vector<double>(priors.size(), 0.0), plenty, 1).work;
    };
    const Owner o = middling();
    // Holds are what it is counted in.
    const double one = work(with_rows(o, 1));
    CHECK(between(0.8, one, 1.2));
    const double four = work(with_rows(o, 4));
    CHECK(between(3.2, four, 4.8));
    // Rows with currents alone are not flown, and nothing costs nothing.
    Setup current = with_rows(o, 1);
    current.measured.front().esc_mean_C.reset();
    current.measured.front().esc_peak_C.reset();
    CHECK(work(current) == 1);
    // Each told point is fitted, each part of a flight mapped, each turn of it flown.
    Setup pointed = with_rows(o, 4);
    pointed.load.points.resize(3, {.throttle_pct = 60, .pack_A = 12});
    CHECK(between(2.5, work(pointed) - four, 3.5));
    Setup flown = o.told;
    MeasuredRow row;
    row.kind = RowKind::flight;
    row.esc_peak_C = 50;
    flown.measured = {row};
    flown.flight.kind = FlightKind::shares;
    flown.flight.parts = {share_of(90, 20), share_of(50, 50), share_of(70, 30)};
    const double minutes = work(flown);
    flown.pack.capacity_mAh /= 4;
    CHECK(between(1.5, minutes / work(flown), 4));
    flown.pack.capacity_mAh *= 16;
    // A throttle at which the current begins to stop somewhere in the pack takes a finer map: 55
    // points, not 6 (D).
    const Plant p = median_plant(o.told);
    double finer = 0;
    double plain = 0;
    for (double pct = 30; pct <= 90; pct += 1) {
        const bool kink = map_demand(p, {.throttle = pct / 100}).nodes.size() > 3;
        (kink ? finer : plain) = pct;
    }
    REQUIRE(finer > 0);
    const auto of_part = [&](double pct) {
        flown.flight.parts = {share_of(pct, 50), share_of(pct, 50)};
        flown.flight.parts[1].flight_speed_mps = 5;
        const double moments = static_cast<double>(
            run_flight(median_plant(flown), flown.flight, Steps::trial).march.moments.size());
        return work(flown) - moments / 66;
    };
    CHECK_THAT(of_part(finer) - of_part(plain), WithinAbs(2 * 0.35 * (55 - 6) / 6, 0.05));
    // What comes again is mapped once: six maps less, of plain throttles (D).
    Setup again = flown;
    again.flight.kind = FlightKind::sequence;
    again.flight.parts.assign(8, part_of(plain, 10));
    again.flight.parts[0].flight_speed_mps = 5;
    const double once = work(again);
    for (size_t k = 0; k < again.flight.parts.size(); ++k) {
        again.flight.parts[k].throttle_pct -= 0.001 * static_cast<double>(k);
    }
    CHECK_THAT(work(again) - once, WithinAbs(6 * 0.35, 0.3));
    // A rotor's points take twice the cycles.
    Setup rotor = six_cell_rotor(1500);
    rotor.flight.parts = {part_of(100, 60)};
    rotor.measured = {row, row, row};
    rotor.measured[1].air_C = 15;
    rotor.measured[2].air_C = 14;
    const double steps = static_cast<double>(
        run_flight(median_plant(rotor), rotor.flight, Steps::trial).march.moments.size());
    REQUIRE(work(rotor) > 1);  // the least that is counted
    CHECK_THAT(work(rotor) - 3 * steps / 66, WithinAbs(3 * 2 * 0.35, 0.05));
}

namespace {

// A flight with as many parts as days on which it is read: throttles, peaks in turns of three and
// air from day to day so far apart.
struct Daily {
    int days;
    double apart_pct, peak_C, apart_C, air_K;
};

Setup read_daily(const Daily& d) {
    Setup s = middling().told;
    s.esc.freewheel_sure = true;
    for (int i = 0; i < d.days; ++i) {
        s.flight.parts.push_back(part_of(40 + d.apart_pct * i, 15));
        MeasuredRow row;
        row.kind = RowKind::flight;
        row.esc_peak_C = d.peak_C + d.apart_C * (i % 3);
        row.air_C = 15 + d.air_K * i;
        s.measured.push_back(row);
    }
    return s;
}

}  // namespace

TEST_CASE("calibration: what a fit costs is bounded, whatever its rows take") {
    // A set of derivatives of 200 holds takes all there is: the search is ended on its way.
    Setup s = middling().told;
    s.esc.freewheel_sure = true;
    MeasuredRow hold;
    hold.hold_s = 90;
    for (int i = 0; i < 200; ++i) {
        hold.throttle_pct = 50 + 0.25 * i;
        hold.esc_peak_C = 110 + 4 * (i % 3);
        s.measured.push_back(hold);
    }
    const Calibration c = calibrate(s);
    CHECK(between(170, c.work, 200));
    CHECK(c.stood_in == 0);
    CHECK(c.budget_reached);
    CHECK_FALSE(c.converged);
    // One set is always made, a dozen steps go on from it, and each widening takes one at least.
    const double least = runs_of_a_set(c.belief.priors);
    CHECK(between(least + 12, c.spent / c.work, least + 12 + 9));
    CHECK(c.widened < 1.5);  // without those steps 1.55
    // What the search still had to go is in the spread, beside the minimum's own.
    const LeastSquaresSummary& f = c.fit->minimum;
    const Eigen::LLT<MatrixXd> H(f.curvature);
    const VectorXd to_go =
        H.solve(f.jacobian.transpose() * f.weights.cwiseProduct(f.residuals) + f.x);
    const MatrixXd settled = H.solve(MatrixXd::Identity(f.x.size(), f.x.size()));
    CHECK(to_go.norm() > 1e-3);
    double most_off = 0;
    for (Eigen::Index i = 0; i < f.x.size(); ++i) {
        const double spread =
            c.belief.spread(static_cast<size_t>(i)) / times_wider(c, static_cast<size_t>(i));
        most_off =
            std::max(most_off, std::abs(spread * spread - settled(i, i) - to_go(i) * to_go(i)));
    }
    CHECK(most_off < 1e-9);
    // Forty days of a flight of forty parts: few are flown, and those are learned from to the end.
    s = read_daily({.days = 40, .apart_pct = 0.5, .peak_C = 50, .apart_C = 4, .air_K = 0.2});
    const Calibration days = calibrate(s);
    CHECK(days.stood_in > 30);
    CHECK(days.work < 85);  // a part of what two sets of derivatives may take
    CHECK_FALSE(days.budget_reached);
    CHECK(days.converged);
    CHECK(between(1000, days.spent, 8000));
    // A flight of few of these parts is learned from row by row.
    s.flight.parts.resize(3);
    s.measured.resize(4);
    for (MeasuredRow& row : s.measured) {
        row.esc_peak_C = 52;
    }
    const Calibration quick = calibrate(s);
    CHECK(quick.stood_in == 0);
    CHECK(quick.work < 40);
    CHECK_FALSE(quick.budget_reached);
    CHECK(quick.converged);
    // What was spent is that of all fits, a first one and any after it; of both kinds, both.
    CHECK(quick.spent >= quick.fit->minimum.runs * quick.work * (1 - 1e-12));
    s.esc.freewheel_sure = false;
    const Calibration both = calibrate(s);
    REQUIRE(both.other.size() == 1);
    CHECK(both.other.front().spent > 0);
    CHECK_THAT(both.spent - both.other.front().spent,
               WithinRel(both.fit->minimum.runs * both.work, 1e-9));
}

TEST_CASE("calibration: a fit of stand-ins believes what one of every flight does") {
    const Setup s =
        read_daily({.days = 14, .apart_pct = 1.5, .peak_C = 62, .apart_C = 2, .air_K = 0.5});
    const Calibration few = calibrate(s);
    REQUIRE(few.stood_in > 0);
    // The flights' own readings, at the belief of their stand-ins: as unlikely, to a hundredth,
    // and flat.
    const std::vector<Prior> priors = make_priors(s);
    const std::vector<Reading> own = readings_of(s);
    const ErrorFactor& noise = few.fit->noise;
    const Residuals residuals{s, priors, own, noise};
    double budget = 1e9;
    const LeastSquaresSummary whole =
        fit(residuals, VectorXd::Zero(static_cast<Index>(priors.size())), budget);
    REQUIRE(whole.converged);
    const VectorXd x = few.fit->minimum.x;
    CHECK_THAT(cost_of({}, residuals(x), x), WithinAbs(whole.cost, 0.02 * (1 + whole.cost)));
    const MatrixXd spread = whole.curvature.inverse();
    for (size_t i = 0; i < priors.size(); ++i) {
        const auto row = static_cast<Index>(i);
        CAPTURE(priors[i].key);
        CHECK_THAT(few.belief.middle[i], WithinAbs(whole.x(row), 0.15));
        CHECK_THAT(few.belief.spread(i) / times_wider(few, i),
                   WithinRel(std::sqrt(spread(row, row)), 0.05));
    }
}

TEST_CASE("posterior: mean and spread as a long Markov chain has them, two rows") {
    // The chain's own error at 10000 steps is about a fortieth of the spread; the draws are 256.
    constexpr double of_spread = 0.2;     // mean against mean
    constexpr double spread_ratio = 0.2;  // spread against spread
    constexpr double of_prior = 0.2;      // of a prior's spread: middles of the parameters
    for (const std::uint64_t seed : {11, 23}) {
        const Owner o = owner(seed * 104729);
        Setup s = with_rows(o, 2);
        s.esc.freewheel_sure = true;  // the chain does not jump from kind to kind
        // Nor does a normal draw see the kink where a rotor's current begins to stop: owner 11 is
        // on it, and its inductance's own spread comes out a third too narrow (0.46 for 0.69).
        s.motor.inductance_uH =
            s.load.kind == LoadKind::governed ? std::optional(25.0) : std::nullopt;
        const Calibration c = calibrate(s);
        REQUIRE(c.converged);
        const Chain chain = run_chain(s, c, 10000, seed);
        const MeanSpread want = mean_spread(chain.flight_peak);
        const MeanSpread have = mean_spread(believed_peaks(s, c, 256));
        INFO("owner " << seed << ": chain " << want.mean << " +- " << want.spread << ", draws "
                      << have.mean << " +- " << have.spread);
        CHECK_THAT(have.mean, WithinAbs(want.mean, of_spread * want.spread));
        CHECK_THAT(have.spread, WithinRel(want.spread, spread_ratio));
        const size_t n = c.belief.priors.size();
        const std::vector<double> z = posterior_draws(c, 256);
        for (size_t j = 0; j < n; ++j) {
            std::vector<double> own;
            for (size_t k = 0; k < 256; ++k) {
                own.push_back(z[k * n + j]);
            }
            const MeanSpread chained = mean_spread(chain.z[j]);
            const MeanSpread drawn = mean_spread(own);
            INFO(c.belief.priors[j].key << ": chain " << chained.mean << " +- " << chained.spread
                                        << ", draws " << drawn.mean << " +- " << drawn.spread);
            CHECK_THAT(drawn.mean, WithinAbs(chained.mean, of_prior));
            CHECK_THAT(drawn.spread, WithinAbs(chained.spread, of_prior));
        }
    }
}

TEST_CASE("coverage: the 80 % band holds the truth of sixty simulated owners, and narrows") {
    // Of n owners the band holds 0.8 n give or take 2.576 sqrt(0.16 n): the 99 % interval.
    constexpr int owners = 60;
    constexpr double of_99 = 2.576;
    constexpr std::array<size_t, 4> levels = {0, 1, 2, 4};
    std::array<double, 4> held = {};
    std::array<double, 4> width = {};
    std::array<std::vector<double>, 4> log_width;
    double n = 0;
    for (std::uint64_t k = 1; k <= owners; ++k) {
        const Owner o = owner(k * 15485863);
        if (o.rows.size() < levels.back()) {
            continue;
        }
        ++n;
        for (size_t i = 0; i < levels.size(); ++i) {
            const Setup s = with_rows(o, levels[i]);
            const Quantiles band = quantiles_of(believed_peaks(s, calibrate(s), 128));
            held[i] += band.holds(o.truth.flight_peak_C) ? 1 : 0;
            width[i] += band.width();
            // one that runs away in every draw has no width
            constexpr double least_K = 0.1;
            log_width[i].push_back(std::log(std::max(least_K, band.width())));
        }
    }
    REQUIRE(n >= 50);
    const double give = of_99 * std::sqrt(0.16 * n);
    for (size_t i = 0; i < levels.size(); ++i) {
        INFO(levels[i] << " rows: held " << held[i] << " of " << n << ", width " << width[i] / n);
        CHECK(between(0.8 * n - give, held[i], 0.8 * n + give));
        if (i > 0) {
            // A row that speaks against the freewheel told widens one owner's band, not the mean's.
            std::vector<double> wider;
            for (size_t k = 0; k < log_width[i].size(); ++k) {
                wider.push_back(log_width[i][k] - log_width[i - 1][k]);
            }
            const MeanSpread by = mean_spread(wider);
            INFO("wider by " << by.mean << " +- " << by.spread);
            CHECK(by.mean < of_99 * by.spread / std::sqrt(n));
        }
    }
    CHECK(width[3] < 0.6 * width[0]);
    CHECK(width[3] < width[1]);
}

TEST_CASE("misfit: rows that agree are not doubted") {
    int named = 0;
    int rows = 0;
    for (std::uint64_t k = 1; k <= 25; ++k) {
        const Owner o = owner(k * 32452843);
        const Calibration c = calibrate(with_rows(o, o.rows.size()));
        for (const RowCheck& check : c.checks) {
            named += check.doubt > likely_off ? 1 : 0;
            ++rows;
        }
    }
    INFO("named " << named << " of " << rows);
    CHECK(rows >= 90);
    CHECK(named <= 4);  // one in a hundred by the study; four in a hundred is its 99 % bound
}

TEST_CASE("misfit: a row that reads 20 K too hot is named, with its kelvin") {
    // Less is taken for what the model itself may be wrong about at that throttle, or the bench for
    // its own air; one owner in six is misled about the row.
    int right = 0;
    int wrong = 0;
    double says = 0;
    constexpr int owners = 25;
    for (std::uint64_t k = 1; k <= owners; ++k) {
        const Owner o = owner(k * 49979687);
        if (o.rows.size() < 4) {
            continue;
        }
        Setup s = with_rows(o, 4);
        const size_t bad = k % 4;
        *s.measured[bad].esc_mean_C += 20;
        *s.measured[bad].esc_peak_C += 20;
        for (const RowCheck& check : calibrate(s).checks) {
            if (check.doubt > likely_off) {
                const bool is_it = check.row == static_cast<int>(bad);
                right += is_it ? 1 : 0;
                wrong += is_it ? 0 : 1;
                says += is_it ? check.off_K : 0;
            }
        }
    }
    INFO("right " << right << ", wrong " << wrong);
    CHECK(right >= 16);
    CHECK(wrong <= 4);
    CHECK_THAT(says / right, WithinAbs(20, 2.5));
}

TEST_CASE("misfit: one wild peak is named as such and hardly moves the band") {
    const Owner o = middling();
    const Setup fine = with_rows(o, 4);
    Setup s = fine;
    *s.measured[2].esc_peak_C += 60;
    const Report before = advise(fine);
    const Report r = advise(s);
    REQUIRE(r.learned.misfit.size() == 1);
    CHECK(r.learned.misfit[0].row == 2);
    CHECK_THAT(r.learned.misfit[0].off_K, WithinAbs(60, 8));
    CHECK(r.learned.misfit[0].text.find("its peak reads") != std::string::npos);
    CHECK_THAT(r.esc.peak_C.p50, WithinAbs(before.esc.peak_C.p50, 2.5));
}

TEST_CASE("misfit: rows that contradict each other widen the band") {
    const Owner o = middling();
    const Setup fine = with_rows(o, 2);
    Setup s = fine;
    *s.measured[0].esc_mean_C += 25;
    *s.measured[0].esc_peak_C += 25;
    *s.measured[1].esc_mean_C -= 12;
    *s.measured[1].esc_peak_C -= 12;
    const Calibration c = calibrate(s);
    const double agreed = quantiles_of(believed_peaks(fine, calibrate(fine), 256)).width();
    const double torn = quantiles_of(believed_peaks(s, c, 256)).width();
    INFO("widths " << agreed << ", " << torn << " K; widened " << c.widened);
    CHECK(torn > 1.3 * agreed);
    CHECK((c.widened > 1 || c.checks[0].doubt > likely_off || c.checks[1].doubt > likely_off));
}

TEST_CASE("learning: more rows that agree narrow the band") {
    const Owner o = middling({.own_K = 0});
    double last = std::numeric_limits<double>::infinity();
    double untold = 0;
    for (const size_t rows : {0, 1, 2, 4}) {
        const Setup s = with_rows(o, rows);
        const double width = quantiles_of(believed_peaks(s, calibrate(s), 256)).width();
        INFO(rows << " rows: " << width << " K");
        // rows of one bench share its unknowns: the later ones narrow little more
        CHECK(width < 1.05 * last);
        untold = rows == 0 ? width : untold;
        last = width;
    }
    CHECK(last < 0.6 * untold);
}

TEST_CASE("next run: the suggested hold narrows this flight's band more than the others") {
    // By brute force: for each hold, outcomes drawn from the belief, each fitted, and the band of
    // the flight after it on average.
    const Owner o = middling();
    const Setup s = with_rows(o, 0);
    const Report r = advise(s);
    REQUIRE(r.learned.next_run);
    REQUIRE(r.learned.next_run->pwm_Hz == s.esc.pwm_Hz);
    const Calibration now = calibrate(s);
    const size_t n = now.belief.priors.size();
    constexpr int outcomes = 12;
    constexpr int draws = 64;
    const std::vector<double> z = posterior_draws(now, outcomes);
    const auto width_after = [&](double throttle_pct) {
        double sum = 0;
        for (size_t k = 0; k < outcomes; ++k) {
            Chance chance(1000 + k);  // the same sensor errors for every hold
            const Plant p = fitted_plant(s, now.belief.priors, std::span(z).subspan(k * n, n));
            BenchRun ask{.throttle = throttle_pct / 100, .day = Day::bench};
            ask.speed_mps = 0;
            const BenchCase bench = bench_case(p, ask);
            const March m = fly_hold(bench.plant, bench.ask);
            const double air_C = bench.plant.air.celsius;
            Setup after = s;
            MeasuredRow row;
            row.throttle_pct = throttle_pct;
            row.esc_peak_C =
                air_C + p.u.bench_gain * (m.peak_board - air_C) + 2.5 * chance.normal();
            after.measured = {row};
            sum += quantiles_of(believed_peaks(after, calibrate(after), draws)).width();
        }
        return sum / outcomes;
    };
    const double suggested = width_after(r.learned.next_run->throttle_pct);
    double others = 0;
    double least = std::numeric_limits<double>::infinity();
    const std::vector<double> candidates = {30, 45, 60, 75, 90, 100};
    for (const double pct : candidates) {
        const double width = width_after(pct);
        UNSCOPED_INFO(pct << " %: " << width << " K");
        others += width / static_cast<double>(candidates.size());
        least = std::min(least, width);
    }
    INFO("suggested " << r.learned.next_run->throttle_pct << " %: " << suggested << " K, said "
                      << r.learned.next_run->band_after_K << " of "
                      << r.learned.next_run->band_before_K);
    constexpr double rough = 1.1;  // twelve outcomes know a mean width to about a tenth
    CHECK(suggested < rough * least);
    CHECK(suggested < others);
    CHECK_THAT(suggested, WithinRel(r.learned.next_run->band_after_K, 0.35));
}

TEST_CASE("next run: no hold is suggested that may pass the ESC's limit") {
    Owner o = middling();
    Setup s = o.told;
    s.esc.limit_C = 45;
    const Report r = advise(s);
    if (r.learned.next_run) {
        for (const HoldReport& h : r.holds) {
            if (h.throttle_pct == r.learned.next_run->throttle_pct) {
                CHECK(h.hold_peak_C.p90.value_or(1e9) <= s.esc.limit_C);
            }
        }
    }
    s.esc.limit_C = 26;
    CHECK_FALSE(advise(s).learned.next_run);
}
