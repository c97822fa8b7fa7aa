// The fit of the readings' residuals, and what it leaves behind for the draws: errors, curvature,
// slopes.
#pragma once

#include <Eigen/Core>
#include <vector>

#include "learn/least_squares.hpp"
#include "learn/readings.hpp"

namespace hotband {

/// Covariance of the readings' errors (K2), a block for each row that was read: rows err
/// independently.
using ErrorBlocks = std::vector<Eigen::MatrixXd>;
ErrorBlocks error_covariance(const std::vector<Reading>& readings);

/// The Cholesky factor L of such a covariance, K.
class ErrorFactor {
 public:
    ErrorFactor() = default;
    explicit ErrorFactor(const ErrorBlocks& covariance);

    const ErrorBlocks& blocks() const { return L_; }
    /// x of L x = b, for b of whole rows from the reading `first` on.
    Eigen::VectorXd solve(const Eigen::VectorXd& b, Eigen::Index first = 0) const;
    /// L x.
    Eigen::VectorXd applied_to(const Eigen::VectorXd& x) const;
    /// The factor where all readings err so many times more.
    ErrorFactor times(double by) const;
    double log_determinant() const;

 private:
    ErrorBlocks L_;
};

struct Fit {
    ErrorFactor noise;            // of the readings
    LeastSquaresSummary minimum;  // with the readings' residuals
};

/// Predicted minus measured, made independent of each other and of standard deviation 1 by the
/// Cholesky factor of the readings' error covariance, as a function of the priors' z.
struct Residuals {
    const Setup& setup;
    const std::vector<Prior>& priors;
    const std::vector<Reading>& readings;
    const ErrorFactor& noise;

    Eigen::VectorXd operator()(const Eigen::VectorXd& z) const;
    /// `size` of them from `first` on: those of one row, for rows err independently.
    Eigen::VectorXd of(const Eigen::VectorXd& z, Eigen::Index first, Eigen::Index size) const;
};

/// Standard deviations of the posterior, squared, that a search leaves: a hundredth of one.
inline constexpr double fit_settled = 1e-4;

/// Calls of the residuals for one set of their derivatives and the values it starts from.
double runs_of_a_set(const std::vector<Prior>& priors);

/// The minimum from `start` on with what is left of the budget (calls of the residuals), which it
/// draws down.
LeastSquaresSummary fit(const Residuals& residuals, const Eigen::VectorXd& start, double& budget);

/// From where a search ended, without derivatives of its own: each step goes where the model,
/// straight with those that there are, is least, and flies it once, from which the derivatives
/// learn (Broyden, Math. Comp. 19, 1965: the least change that explains it). To the minimum, or to
/// the end of the budget; one step at least.
LeastSquaresSummary follow(const Residuals& residuals, LeastSquaresSummary from, double& budget);

/// A minimum's readings with other errors than those of `noise` that it was found with, followed
/// with its own derivatives.
LeastSquaresSummary follow_errors(const Residuals& residuals, const LeastSquaresSummary& minimum,
                                  const ErrorFactor& noise, double& budget);

/// The same with derivatives made anew, with what is left of the budget. Where that is less than
/// two sets of them, or leads nowhere finite, it is followed.
LeastSquaresSummary refit(const Residuals& residuals, const LeastSquaresSummary& minimum,
                          const ErrorFactor& noise, double& budget);

}  // namespace hotband
