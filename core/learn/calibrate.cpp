// The fit of the readings, the check of each row, and draws of what is left open; see
// calibrate.hpp.
#include "learn/calibrate.hpp"

#include <algorithm>
#include <cmath>

#include "learn/sampling.hpp"

namespace hotband {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

VectorXd to_vector(const std::vector<double>& v) {
    return Eigen::Map<const VectorXd>(v.data(), static_cast<Index>(v.size()));
}

// Predicted minus measured, made independent of each other and of standard deviation 1 by the
// Cholesky factor of the readings' error covariance.
struct Residuals {
    const Setup& setup;
    const std::vector<Prior>& priors;
    const std::vector<Reading>& readings;
    const MatrixXd& noise;  // the factor, K

    VectorXd operator()(const VectorXd& z) const {
        VectorXd off =
            to_vector(predict(setup, priors, readings, {z.data(), static_cast<size_t>(z.size())}));
        for (Index i = 0; i < off.size(); ++i) {
            off(i) -= readings[static_cast<size_t>(i)].measured;
        }
        return noise.triangularView<Eigen::Lower>().solve(off);
    }
};

// Steps of the differences, of a prior's spread. The model bends sharply where a commutation takes
// all the time there is, or where the peak passes from one moment to another: a search that stops
// at such a kink goes on with the secants across it, over a distance that matters to the posterior.
constexpr double difference_step = 1e-3;
constexpr double secant_step = 0.1;
constexpr double settled = 1e-4;  // a hundredth of a posterior sigma

LeastSquaresSummary fit(const Residuals& residuals, const VectorXd& start) {
    LeastSquaresProblem problem;
    problem.residuals = residuals;
    problem.jacobian = [&](const VectorXd& z, const VectorXd& at) {
        return forward_jacobian(residuals, z, at, difference_step);
    };
    LeastSquaresSummary s = minimise(problem, start, {.settled = settled});
    if (s.ended == Ended::no_lower && !s.converged) {
        problem.jacobian = [&](const VectorXd& z, const VectorXd& at) {
            return central_jacobian(residuals, z, at.size(), secant_step);
        };
        constexpr int few = 8;
        s = minimise(problem, s.x, {.most_iterations = few, .settled = settled});
    }
    return s;
}

// How often all readings of a row are off by one amount, or one reading alone by its own, and the
// standard deviation of that amount (common practice, no source).
constexpr double row_spoiled = 0.1;
constexpr double reading_spoiled = 0.03;
constexpr double spoiled_K = 10;

struct Block {
    Index first, size;
};

std::vector<Block> rows_of(const std::vector<Reading>& readings) {
    std::vector<Block> out;
    for (size_t i = 0; i < readings.size(); ++i) {
        if (i == 0 || readings[i].row != readings[i - 1].row) {
            out.push_back({static_cast<Index>(i), 0});
        }
        ++out.back().size;
    }
    return out;
}

// Each row against all the others and the priors. Without it the fit would be, by one Newton step,
// at z_b = z + S J_b'W_b r_b with spread S = (H - J_b'W_b J_b)^-1, where its residuals are e with
// covariance V = I + J_b S J_b'. With u the residuals of an offset of 1 K in the row, or in one of
// its readings, a = u'V^-1 u and c = -u'V^-1 e, that offset is c / a kelvin, and some such offset
// is more likely than none by the factor
//   odds (1 + s^2 a)^-1/2 exp(s^2 c^2 / (2 (1 + s^2 a))),  s = spoiled_K.
// Nothing is spoiled, or one thing is.
std::vector<RowCheck> check_rows(const Residuals& residuals, const LeastSquaresSummary& f) {
    std::vector<RowCheck> out;
    double total = 1;
    for (const auto& [first, size] : rows_of(residuals.readings)) {
        const MatrixXd J = f.jacobian.middleRows(first, size);
        const VectorXd w = f.weights.segment(first, size);
        const MatrixXd without = f.curvature - J.transpose() * w.asDiagonal() * J;
        const MatrixXd spread = without.ldlt().solve(J.transpose());
        const VectorXd z = f.x + spread * w.cwiseProduct(f.residuals.segment(first, size));
        const VectorXd e = residuals(z).segment(first, size);
        const auto V = (MatrixXd::Identity(size, size) + J * spread).ldlt();
        const MatrixXd noise = residuals.noise.block(first, first, size, size);
        RowCheck check;
        check.row = residuals.readings[static_cast<size_t>(first)].row;
        double best = -1;
        const auto try_offset = [&](const VectorXd& offset, double often,
                                    std::optional<ReadingKind> kind) {
            const VectorXd u = noise.triangularView<Eigen::Lower>().solve(offset);
            const double a = u.dot(V.solve(u));
            const double c = -u.dot(V.solve(e));
            const double more = 1 + spoiled_K * spoiled_K * a;
            // Capped: more than certain is certain.
            const double exponent = std::min(300.0, spoiled_K * spoiled_K * c * c / (2 * more));
            const double factor = often / (1 - often) * std::exp(exponent) / std::sqrt(more);
            check.doubt += factor;
            total += factor;
            if (factor > best) {
                best = factor;
                check.off_K = c / a;
                check.sigma_K = 1 / std::sqrt(a);
                check.kind = kind;
            }
        };
        const auto kind_of = [&](Index i) {
            return residuals.readings[static_cast<size_t>(first + i)].kind;
        };
        // A thermometer's offset is common to the row's temperatures; a speed errs by itself.
        VectorXd warm(size);
        for (Index i = 0; i < size; ++i) {
            warm(i) = kind_of(i) == ReadingKind::speed ? 0 : 1;
        }
        if (warm.sum() > 0) {
            try_offset(warm, row_spoiled, {});
        }
        for (Index i = 0; i < size; ++i) {
            const bool alone = warm.sum() > 1 && kind_of(i) != ReadingKind::trace;
            if (alone || kind_of(i) == ReadingKind::speed) {
                try_offset(VectorXd::Unit(size, i), reading_spoiled, kind_of(i));
            }
        }
        out.push_back(check);
    }
    for (RowCheck& check : out) {
        check.doubt /= total;
    }
    return out;
}

// Error covariance with the rows in doubt given the offset that they may have.
MatrixXd doubted(MatrixXd covariance, const std::vector<Reading>& readings,
                 const std::vector<RowCheck>& checks) {
    constexpr double no_reason = 0.2;  // below it a row is taken as it is
    for (const RowCheck& check : checks) {
        if (check.doubt < no_reason) {
            continue;
        }
        VectorXd off(covariance.rows());
        for (Index i = 0; i < off.size(); ++i) {
            const Reading& r = readings[static_cast<size_t>(i)];
            const bool concerned =
                check.kind ? r.kind == *check.kind : r.kind != ReadingKind::speed;
            off(i) = r.row == check.row && concerned ? 1 : 0;
        }
        const double size_K = std::max(spoiled_K, std::abs(check.off_K));
        covariance += check.doubt * size_K * size_K * off * off.transpose();
    }
    return covariance;
}

}  // namespace

Calibration calibrate(const Setup& setup) {
    Calibration out;
    out.belief = prior_belief(setup);
    out.readings = readings_of(setup);
    if (out.readings.empty()) {
        out.converged = true;
        return out;
    }
    const auto n = static_cast<Index>(out.belief.priors.size());
    const MatrixXd covariance = error_covariance(out.readings);
    out.noise = covariance.llt().matrixL();
    const Residuals residuals{setup, out.belief.priors, out.readings, out.noise};
    out.fit = fit(residuals, VectorXd::Zero(n));
    out.checks = check_rows(residuals, out.fit);
    const MatrixXd with_doubt = doubted(covariance, out.readings, out.checks);
    if (with_doubt != covariance) {
        out.noise = with_doubt.llt().matrixL();
        out.fit = fit(residuals, out.fit.x);
    }
    // The cost at the minimum is chi-squared with as many degrees of freedom as there are readings
    // if the priors and the sensors' sigmas hold. Beyond its 95 % the sigmas grow until it is
    // there.
    const double believable = chi_squared_quantile(0.95, static_cast<double>(out.readings.size()));
    constexpr int most_rounds = 8;
    constexpr double near_enough = 1.02;
    for (int i = 0; i < most_rounds && out.fit.cost > near_enough * believable; ++i) {
        const double by = std::sqrt(out.fit.cost / believable);
        out.widened *= by;
        out.noise *= by;
        out.fit = fit(residuals, out.fit.x);
    }
    // At a kink no step may fall although one side's slope says so: that is a minimum all the same.
    out.converged = out.fit.converged || out.fit.ended == Ended::no_lower;
    out.belief.middle.assign(out.fit.x.begin(), out.fit.x.end());
    const MatrixXd spread = out.fit.curvature.ldlt().solve(MatrixXd::Identity(n, n));
    out.belief.factor = spread.llt().matrixL();
    const VectorXd off = out.noise * out.fit.residuals;
    for (Index i = 0; i < off.size(); ++i) {
        out.predicted.push_back(out.readings[static_cast<size_t>(i)].measured + off(i));
    }
    return out;
}

// Randomise, then optimise (Bardsley, Solonen, Haario and Laine, SIAM J. Sci. Comput. 36(4), 2014):
// a draw solves  z + J'W r(z) = u,  where u is what the left side is in the straight-line model at
// the Gaussian's draw. Newton's step from there, with the fit's curvature H:
//   z <- z - H^-1 (z + J'W r(z) - u),  u = z_0 + J'W (r_fit + J (z_0 - z_fit)).
// In a linear model nothing moves; where the readings say nothing (J = 0) nothing moves either.
std::vector<double> posterior_draws(const Setup& setup, const Calibration& c, int count) {
    const size_t rows = c.belief.priors.size();
    const std::vector<double> xi = normal_draws(count, static_cast<int>(rows));
    const Residuals residuals{setup, c.belief.priors, c.readings, c.noise};
    const LeastSquaresSummary& f = c.fit;
    const MatrixXd JW = f.jacobian.transpose() * f.weights.asDiagonal();
    const auto curvature = f.curvature.ldlt();
    constexpr int most_steps = 3;
    constexpr double small_step = 1;  // posterior sigmas; what is left is of second order
    std::vector<double> out;
    out.reserve(xi.size());
    for (size_t k = 0; k < static_cast<size_t>(count); ++k) {
        VectorXd z = to_vector(draw_of(c.belief, std::span(xi).subspan(k * rows, rows)));
        if (!c.readings.empty()) {
            const VectorXd u = z + JW * (f.residuals + f.jacobian * (z - f.x));
            for (int i = 0; i < most_steps; ++i) {
                const VectorXd lack = u - z - JW * residuals(z);
                const VectorXd step = curvature.solve(lack);
                z += step;
                if (step.dot(lack) < small_step * small_step) {
                    break;
                }
            }
        }
        out.insert(out.end(), z.begin(), z.end());
    }
    return out;
}

}  // namespace hotband
