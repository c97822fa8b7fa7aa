// Residuals of readings, and their minimum; see fit.hpp.
#include "learn/fit.hpp"

#include <algorithm>
#include <iterator>

#include "learn/linear.hpp"

namespace hotband {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

ErrorBlocks error_covariance(const std::vector<Reading>& readings) {
    ErrorBlocks out;
    for (size_t first = 0; first < readings.size();) {
        size_t end = first + 1;
        while (end < readings.size() && readings[end].row == readings[first].row) {
            ++end;
        }
        const auto n = static_cast<Index>(end - first);
        MatrixXd covariance(n, n);
        for (Index i = 0; i < n; ++i) {
            for (Index j = 0; j < n; ++j) {
                const Reading& a = readings[first + static_cast<size_t>(i)];
                const Reading& b = readings[first + static_cast<size_t>(j)];
                covariance(i, j) = i == j ? a.sigma * a.sigma : a.shared * b.shared;
            }
        }
        out.push_back(covariance);
        first = end;
    }
    return out;
}

ErrorFactor::ErrorFactor(const ErrorBlocks& covariance) {
    std::transform(covariance.begin(), covariance.end(), std::back_inserter(L_), cholesky);
}

VectorXd ErrorFactor::solve(const VectorXd& b, Index first) const {
    VectorXd out(b.size());
    Index at = -first;
    for (const MatrixXd& L : L_) {
        if (at >= 0 && at < b.size()) {
            out.segment(at, L.rows()) = solve_lower(L, b.segment(at, L.rows()));
        }
        at += L.rows();
    }
    return out;
}

VectorXd ErrorFactor::applied_to(const VectorXd& x) const {
    VectorXd out(x.size());
    Index at = 0;
    for (const MatrixXd& L : L_) {
        out.segment(at, L.rows()) = applied(L, x.segment(at, L.rows()));
        at += L.rows();
    }
    return out;
}

ErrorFactor ErrorFactor::times(double by) const {
    ErrorFactor out = *this;
    for (MatrixXd& L : out.L_) {
        L *= by;
    }
    return out;
}

double ErrorFactor::log_determinant() const {
    double sum = 0;
    for (const MatrixXd& L : L_) {
        sum += L.diagonal().array().log().sum();
    }
    return sum;
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
    return noise.solve(off, first);
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

double runs_of_a_set(const std::vector<Prior>& priors) {
    return 1 + static_cast<double>(std::count_if(priors.begin(), priors.end(),
                                                 [](const Prior& p) { return p.spread > 0; }));
}

LeastSquaresSummary fit(const Residuals& residuals, const VectorXd& start, double& budget) {
    LeastSquaresOptions options{.settled = fit_settled, .most_runs = budget};
    const double all = runs_of_a_set(residuals.priors) - 1;
    // Most unknowns hardly move any reading: their slopes are taken once.
    constexpr double hardly = 0.02;  // of a reading's sigma for a sigma of the unknown
    MatrixXd first;
    const auto moves = [&](Index j) { return first.col(j).cwiseAbs().maxCoeff() >= hardly; };
    LeastSquaresProblem problem;
    problem.residuals = residuals;
    problem.jacobian = [&](const VectorXd& z, const VectorXd& at) {
        MatrixXd J = jacobian_of(residuals, at.size(), z, [&](Index j) -> VectorXd {
            if (first.size() > 0 && !moves(j)) {
                return first.col(j);
            }
            return forward_difference(residuals, z, at, j, difference_step);
        });
        if (first.size() == 0) {
            first = J;
        }
        return J;
    };
    problem.jacobian_runs = [&] {
        double runs = first.size() == 0 ? all : 0;
        for (Index j = 0; j < first.cols(); ++j) {
            runs += moves(j) ? 1 : 0;
        }
        return runs;
    };
    LeastSquaresSummary s = minimise(problem, start, options);
    budget -= s.runs;
    const bool stuck = s.ended == Ended::no_lower || s.ended == Ended::most_iterations;
    if (stuck && !s.converged && budget > 2 * all) {
        problem.jacobian = [&](const VectorXd& z, const VectorXd& at) {
            return jacobian_of(residuals, at.size(), z, [&](Index j) -> VectorXd {
                return central_difference(residuals, z, j, secant_step);
            });
        };
        constexpr int few = 8;
        options.most_iterations = few;
        options.most_runs = budget;
        problem.jacobian_runs = [&] { return 2 * all; };
        s = minimise(problem, s.x, options);
        budget -= s.runs;
    }
    return s;
}

namespace {

// The model as straight about x, where its residuals are r.
LeastSquaresSummary straight_from(const VectorXd& x, const VectorXd& r, const MatrixXd& J,
                                  int most_iterations) {
    LeastSquaresProblem straight;
    straight.residuals = [&](const VectorXd& z) -> VectorXd { return r + applied(J, z - x); };
    straight.jacobian = [&](const VectorXd&, const VectorXd&) { return J; };
    return minimise(straight, x, {.most_iterations = most_iterations, .settled = fit_settled});
}

// A search that stands there, and has no work left to go further.
LeastSquaresSummary standing(const VectorXd& x, const VectorXd& r, const MatrixXd& J) {
    LeastSquaresSummary s = straight_from(x, r, J, 0);
    if (s.ended == Ended::most_iterations) {
        s.ended = Ended::budget;
    }
    return s;
}

}  // namespace

LeastSquaresSummary follow(const Residuals& residuals, LeastSquaresSummary from, double& budget) {
    constexpr int most_steps = 12;
    for (int i = 0; i < most_steps && from.to_gain > fit_settled * (1 + from.cost); ++i) {
        constexpr int plenty = 60;
        const VectorXd x = straight_from(from.x, from.residuals, from.jacobian, plenty).x;
        const VectorXd r = residuals(x);
        budget -= 1;
        if (!r.allFinite()) {
            break;
        }
        const VectorXd step = x - from.x;
        const VectorXd lack = r - from.residuals - applied(from.jacobian, step);
        const MatrixXd J = from.jacobian + product(lack / step.squaredNorm(), step.transpose());
        const LeastSquaresSummary moved = standing(x, r, J);
        from = moved.cost < from.cost ? moved : standing(from.x, from.residuals, J);
        if (budget <= 0) {
            break;
        }
    }
    return from;
}

LeastSquaresSummary follow_errors(const Residuals& residuals, const LeastSquaresSummary& minimum,
                                  const ErrorFactor& noise, double& budget) {
    const auto anew = [&](const VectorXd& r) { return residuals.noise.solve(noise.applied_to(r)); };
    MatrixXd J = minimum.jacobian;
    for (Index j = 0; j < J.cols(); ++j) {
        J.col(j) = anew(J.col(j));
    }
    const VectorXd here = anew(minimum.residuals);
    return follow(residuals, standing(minimum.x, here, J), budget);
}

LeastSquaresSummary refit(const Residuals& residuals, const LeastSquaresSummary& minimum,
                          const ErrorFactor& noise, double& budget) {
    if (budget >= 2 * runs_of_a_set(residuals.priors)) {
        LeastSquaresSummary s = fit(residuals, minimum.x, budget);
        if (s.ended != Ended::not_finite) {
            return s;
        }
    }
    return follow_errors(residuals, minimum, noise, budget);
}

}  // namespace hotband
