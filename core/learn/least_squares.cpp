// Levenberg-Marquardt; see least_squares.hpp.
#include "learn/least_squares.hpp"

#include <algorithm>
#include <cmath>

#include "learn/linear.hpp"

namespace hotband {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

// Derivatives, weights and curvature where the search stands; gives the gradient back.
VectorXd look_round(const LeastSquaresProblem& p, LeastSquaresSummary& s) {
    s.runs += p.jacobian_runs();
    s.jacobian = p.jacobian(s.x, s.residuals);
    s.weights = VectorXd::Ones(s.residuals.size());
    if (p.robust) {
        std::transform(s.residuals.begin(), s.residuals.end(), s.weights.begin(), huber_weight);
    }
    const MatrixXd JW = weighed_transpose(s.jacobian, s.weights);
    s.curvature = product(JW, s.jacobian);
    s.curvature.diagonal().array() += p.prior;
    VectorXd gradient = applied(JW, s.residuals) + p.prior * s.x;
    s.to_gain = gradient.dot(Positive(s.curvature).solve(gradient));
    return gradient;
}

}  // namespace

double huber_loss(double standardised) {
    const double a = std::abs(standardised);
    return a <= huber_sigmas ? a * a : huber_sigmas * (2 * a - huber_sigmas);
}

double huber_weight(double standardised) {
    const double a = std::abs(standardised);
    return a <= huber_sigmas ? 1 : huber_sigmas / a;
}

double cost_of(const LeastSquaresProblem& p, const VectorXd& r, const VectorXd& x) {
    double sum = p.prior * x.squaredNorm();
    for (const double u : r) {
        sum += p.robust ? huber_loss(u) : u * u;
    }
    return sum;
}

LeastSquaresSummary minimise(const LeastSquaresProblem& p, const VectorXd& start,
                             const LeastSquaresOptions& options) {
    constexpr int most_tries = 16;  // damping from 1e-3 to beyond 1e12
    constexpr double eased = 9;
    constexpr double stiffened = 9;
    constexpr double hardly = 0.1;        // of `settled`: a step that falls by less got nowhere
    constexpr double near_enough = 1e-3;  // of 1 + cost: a thirtieth of a posterior sigma
    LeastSquaresSummary s;
    s.x = start;
    s.residuals = p.residuals(start);
    s.evaluations = 1;
    s.runs = 1;
    s.cost = cost_of(p, s.residuals, s.x);
    if (!std::isfinite(s.cost)) {
        s.ended = Ended::not_finite;
        return s;
    }
    VectorXd gradient = look_round(p, s);
    if (!gradient.allFinite()) {
        s.ended = Ended::not_finite;
        return s;
    }
    // The largest curvature met so far scales the damping (More 1978): a direction in which the
    // model has gone flat is not free to run away.
    VectorXd scale = s.curvature.diagonal();
    double damping = options.first_damping;
    while (s.ended == Ended::not_run) {
        if (s.to_gain <= options.settled * (1 + s.cost)) {
            s.ended = Ended::settled;
            break;
        }
        if (s.iterations == options.most_iterations) {
            s.ended = Ended::most_iterations;
            break;
        }
        if (s.runs + 1 + p.jacobian_runs() > options.most_runs) {
            s.ended = Ended::budget;
            break;
        }
        bool lower = false;
        const double before = s.cost;
        for (int tries = 0; tries < most_tries && !lower; ++tries) {
            MatrixXd damped = s.curvature;
            damped.diagonal() += damping * scale;
            const VectorXd x = s.x - Positive(damped).solve(gradient);
            const VectorXd r = p.residuals(x);
            ++s.evaluations;
            ++s.runs;
            const double cost = cost_of(p, r, x);
            lower = std::isfinite(cost) && cost < s.cost;
            if (lower) {
                s.x = x;
                s.residuals = r;
                s.cost = cost;
            }
            damping = lower ? std::max(1e-12, damping / eased) : damping * stiffened;
        }
        if (lower) {
            ++s.iterations;
            gradient = look_round(p, s);
            if (!gradient.allFinite()) {
                s.ended = Ended::not_finite;
                return s;
            }
            scale = scale.cwiseMax(s.curvature.diagonal());
        }
        if (before - s.cost <= hardly * options.settled * (1 + s.cost) &&
            s.to_gain > options.settled * (1 + s.cost)) {
            s.ended = Ended::no_lower;
        }
    }
    s.converged = s.to_gain <= near_enough * (1 + s.cost);
    return s;
}

}  // namespace hotband
