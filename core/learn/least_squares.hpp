// Where is a sum of squares least? Levenberg-Marquardt for small problems, robust where asked, with
// a standard normal prior where asked.
//
// Minimises  sum rho(r_i(x)) + prior x'x,  rho Huber's or the square. Each step solves
// (H + damping D) dx = -g  with the Gauss-Newton curvature H = J'WJ + prior I, the gradient
// g = J'W r + prior x and D the largest diagonal of H so far (Levenberg 1944, Marquardt 1963, More
// 1978); W are the weights of the robust loss.
#pragma once

#include <Eigen/Core>
#include <functional>
#include <limits>

namespace hotband {

struct LeastSquaresProblem {
    /// Residuals, each in units of its own standard deviation.
    std::function<Eigen::VectorXd(const Eigen::VectorXd& x)> residuals;
    /// Their derivatives at x, where they are `at`.
    std::function<Eigen::MatrixXd(const Eigen::VectorXd& x, const Eigen::VectorXd& at)> jacobian;
    /// Work of the next set of derivatives, in calls of the residuals.
    std::function<double()> jacobian_runs = [] { return 0.0; };
    double prior = 1;    // weight of x'x; 0: no prior
    bool robust = true;  // Huber's loss; otherwise plain squares
};

struct LeastSquaresOptions {
    int most_iterations = 60;
    /// Done when another full step would lower the cost by less than this share of 1 + cost. With a
    /// prior of 1 the cost is in units of squared posterior sigmas.
    double settled = 1e-6;
    double first_damping = 1e-3;
    /// Work that may be done, in calls of the residuals. At least one set of derivatives is always
    /// made.
    double most_runs = std::numeric_limits<double>::infinity();
};

/// Why the search ended.
enum class Ended {
    not_run,
    settled,          // at the minimum, to `settled`
    no_lower,         // damped steps hardly fall any more: the minimum to rounding, or a kink
    most_iterations,  // still falling
    not_finite,       // residuals or derivatives are not numbers
    budget,           // `most_runs` were done, still falling
};

struct LeastSquaresSummary {
    Eigen::VectorXd x, residuals;  // at the end
    Eigen::MatrixXd jacobian;      // there
    Eigen::VectorXd weights;       // of the robust loss there
    Eigen::MatrixXd curvature;     // J'WJ + prior I there
    double cost = 0;
    double to_gain = 0;  // by which another full step would lower the cost, as the curvature says
    int iterations = 0, evaluations = 0;
    double runs = 0;         // work done, as `most_runs` counts it
    bool converged = false;  // little is to be gained, whyever it ended
    Ended ended = Ended::not_run;
};

/// What is minimised: the loss of all residuals and the prior's share.
double cost_of(const LeastSquaresProblem& problem, const Eigen::VectorXd& residuals,
               const Eigen::VectorXd& x);

LeastSquaresSummary minimise(const LeastSquaresProblem& problem, const Eigen::VectorXd& start,
                             const LeastSquaresOptions& options = {});

/// Huber's threshold in standard deviations; 95 % efficient where the errors are normal.
inline constexpr double huber_sigmas = 1.345;

/// Huber's loss of a standardised residual, and its weight in reweighted least squares.
double huber_loss(double standardised);
double huber_weight(double standardised);

/// `f`'s derivative over x_j by a forward difference of `step` from x, where it is `at`.
template <class F>
Eigen::VectorXd forward_difference(F&& f, const Eigen::VectorXd& x, const Eigen::VectorXd& at,
                                   Eigen::Index j, double step) {
    Eigen::VectorXd moved = x;
    moved(j) += step;
    return (f(moved) - at) / step;
}

/// The same by a central difference: the secant across a kink, where one side would mislead.
template <class F>
Eigen::VectorXd central_difference(F&& f, const Eigen::VectorXd& x, Eigen::Index j, double step) {
    Eigen::VectorXd up = x;
    Eigen::VectorXd down = x;
    up(j) += step;
    down(j) -= step;
    return (f(up) - f(down)) / (2 * step);
}

/// All of `f`'s derivatives by forward differences.
template <class F>
Eigen::MatrixXd forward_jacobian(F&& f, const Eigen::VectorXd& x, const Eigen::VectorXd& at,
                                 double step) {
    Eigen::MatrixXd J(at.size(), x.size());
    for (Eigen::Index j = 0; j < x.size(); ++j) {
        J.col(j) = forward_difference(f, x, at, j, step);
    }
    return J;
}

/// All of them by central differences.
template <class F>
Eigen::MatrixXd central_jacobian(F&& f, const Eigen::VectorXd& x, Eigen::Index rows, double step) {
    Eigen::MatrixXd J(rows, x.size());
    for (Eigen::Index j = 0; j < x.size(); ++j) {
        J.col(j) = central_difference(f, x, j, step);
    }
    return J;
}

}  // namespace hotband
