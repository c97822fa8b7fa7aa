// The fit of the readings' residuals, and what it leaves behind for the draws: errors, curvature,
// slopes.
#pragma once

#include <Eigen/Core>
#include <vector>

#include "learn/least_squares.hpp"
#include "learn/readings.hpp"

namespace hotband {

struct Fit {
    Eigen::MatrixXd noise;        // Cholesky factor of the readings' error covariance, K
    LeastSquaresSummary minimum;  // with the readings' residuals
};

/// Covariance of the readings' errors (K2). Rows err independently.
Eigen::MatrixXd error_covariance(const std::vector<Reading>& readings);

/// Predicted minus measured, made independent of each other and of standard deviation 1 by the
/// Cholesky factor of the readings' error covariance, as a function of the priors' z.
struct Residuals {
    const Setup& setup;
    const std::vector<Prior>& priors;
    const std::vector<Reading>& readings;
    const Eigen::MatrixXd& noise;  // the factor, K

    Eigen::VectorXd operator()(const Eigen::VectorXd& z) const;
    /// `size` of them from `first` on: those of one row, for rows err independently.
    Eigen::VectorXd of(const Eigen::VectorXd& z, Eigen::Index first, Eigen::Index size) const;
};

/// Standard deviations of the posterior, squared, that a search leaves: a hundredth of one.
inline constexpr double fit_settled = 1e-4;

/// The minimum from `start` on with what is left of the budget (calls of the residuals), which it
/// draws down.
LeastSquaresSummary fit(const Residuals& residuals, const Eigen::VectorXd& start, double& budget);

}  // namespace hotband
