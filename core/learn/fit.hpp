// What the fit of the readings leaves behind for the draws: errors, curvature, slopes.
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

}  // namespace hotband
