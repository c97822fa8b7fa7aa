// Residuals of readings, and their minimum; see fit.hpp.
#include "learn/fit.hpp"

#include "learn/linear.hpp"

namespace hotband {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

MatrixXd error_covariance(const std::vector<Reading>& readings) {
    const auto n = static_cast<Index>(readings.size());
    MatrixXd covariance = MatrixXd::Zero(n, n);
    for (Index i = 0; i < n; ++i) {
        for (Index j = 0; j < n; ++j) {
            const Reading& a = readings[static_cast<size_t>(i)];
            const Reading& b = readings[static_cast<size_t>(j)];
            if (i == j) {
                covariance(i, j) = a.sigma * a.sigma;
            } else if (a.row == b.row) {
                covariance(i, j) = a.shared * b.shared;
            }
        }
    }
    return covariance;
}

VectorXd Residuals::operator()(const VectorXd& z) const {
    return of(z, 0, static_cast<Index>(readings.size()));
}

VectorXd Residuals::of(const VectorXd& z, Index first, Index size) const {
    const std::vector<Reading> some(readings.begin() + first, readings.begin() + first + size);
    const std::vector<double> predicted =
        predict(setup, priors, some, {z.data(), static_cast<size_t>(z.size())});
    VectorXd off(size);
    for (Index i = 0; i < size; ++i) {
        const auto at = static_cast<size_t>(i);
        off(i) = predicted[at] - some[at].measured;
    }
    return solve_lower(noise.block(first, first, size, size), off);
}

namespace {

// Derivatives over the rows that are drawn; over the others there are none.
template <class Difference>
MatrixXd jacobian_of(const Residuals& residuals, Index rows, const VectorXd& z,
                     Difference&& difference) {
    MatrixXd J = MatrixXd::Zero(rows, z.size());
    for (Index j = 0; j < z.size(); ++j) {
        if (residuals.priors[static_cast<size_t>(j)].spread > 0) {
            J.col(j) = difference(j);
        }
    }
    return J;
}

// Steps of the differences, of a prior's spread. The model bends sharply where a commutation takes
// all the time there is, or where the peak passes from one moment to another: a search that stops
// at such a kink goes on with the secants across it, over a distance that matters to the posterior.
constexpr double difference_step = 1e-3;
constexpr double secant_step = 0.1;

}  // namespace

LeastSquaresSummary fit(const Residuals& residuals, const VectorXd& start, double& budget) {
    LeastSquaresOptions options{.settled = fit_settled, .most_runs = budget};
    for (const Prior& row : residuals.priors) {
        options.jacobian_runs += row.spread > 0 ? 1 : 0;
    }
    // Most unknowns hardly move any reading: their slopes are taken once.
    constexpr double hardly = 0.02;  // of a reading's sigma for a sigma of the unknown
    MatrixXd first;
    LeastSquaresProblem problem;
    problem.residuals = residuals;
    problem.jacobian = [&](const VectorXd& z, const VectorXd& at) {
        MatrixXd J = jacobian_of(residuals, at.size(), z, [&](Index j) -> VectorXd {
            if (first.size() > 0 && first.col(j).cwiseAbs().maxCoeff() < hardly) {
                return first.col(j);
            }
            return forward_difference(residuals, z, at, j, difference_step);
        });
        if (first.size() == 0) {
            first = J;
        }
        return J;
    };
    LeastSquaresSummary s = minimise(problem, start, options);
    budget -= s.runs;
    if (s.ended == Ended::no_lower && !s.converged && budget > 2 * options.jacobian_runs) {
        problem.jacobian = [&](const VectorXd& z, const VectorXd& at) {
            return jacobian_of(residuals, at.size(), z, [&](Index j) -> VectorXd {
                return central_difference(residuals, z, j, secant_step);
            });
        };
        constexpr int few = 8;
        options.most_iterations = few;
        options.most_runs = budget;
        options.jacobian_runs *= 2;
        s = minimise(problem, s.x, options);
        budget -= s.runs;
    }
    return s;
}

}  // namespace hotband
