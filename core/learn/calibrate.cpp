// From the measured rows to what is believed; see calibrate.hpp.
#include "learn/calibrate.hpp"

#include <algorithm>
#include <cmath>

#include "learn/fit.hpp"
#include "learn/freewheel_kinds.hpp"
#include "learn/linear.hpp"
#include "learn/row_checks.hpp"
#include "learn/sampling.hpp"

namespace hotband {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

// Work that the fits of one kind may do, in holds of a twentieth to a fifth of a millisecond.
constexpr double most_fit_work = 8000;

// Covariance of the belief's z. Of a search that was ended on its way, what it still had to go by
// Newton's step is not known either: one standard deviation more along it.
MatrixXd covariance_at(const LeastSquaresSummary& f, bool arrived) {
    const Positive curvature(f.curvature);
    MatrixXd covariance = curvature.solve_all(MatrixXd::Identity(f.x.size(), f.x.size()));
    if (!arrived) {
        const VectorXd gradient =
            applied(weighed_transpose(f.jacobian, f.weights), f.residuals) + f.x;
        const VectorXd to_go = curvature.solve(gradient);
        covariance += product(to_go, to_go.transpose());
    }
    return covariance;
}

// The fit for a setup whose freewheel is settled.
Calibration calibrate_settled(const Setup& setup) {
    Calibration out;
    out.told = setup;
    out.belief = prior_belief(setup);
    out.readings = readings_of(setup);
    if (out.readings.empty()) {
        out.converged = true;
        return out;
    }
    Fit f;
    const auto n = static_cast<Index>(out.belief.priors.size());
    const MatrixXd covariance = error_covariance(out.readings);
    f.noise = cholesky(covariance);
    const Residuals residuals{setup, out.belief.priors, out.readings, f.noise};
    out.work = work_of(setup, out.belief.priors, out.readings, out.belief.middle);
    double budget = most_fit_work / out.work;
    f.minimum = fit(residuals, VectorXd::Zero(n), budget);
    if (f.minimum.ended == Ended::not_finite) {
        // Nothing can be learned from it: what was believed before stands.
        out.failed = true;
        return out;
    }
    out.checks = check_rows(residuals, f.minimum);
    const auto refit = [&] {
        LeastSquaresSummary again = fit(residuals, f.minimum.x, budget);
        if (again.ended != Ended::not_finite) {
            f.minimum = std::move(again);
        }
    };
    const MatrixXd with_doubt = doubted(covariance, out.readings, out.checks);
    if (with_doubt != covariance) {
        f.noise = cholesky(with_doubt);
        refit();
    }
    // The cost at the minimum is chi-squared with as many degrees of freedom as there are readings
    // if the priors and the sensors' sigmas hold. Beyond its 95 % the sigmas grow until it is
    // there.
    const double believable = chi_squared_quantile(0.95, static_cast<double>(out.readings.size()));
    constexpr int most_rounds = 8;
    constexpr double near_enough = 1.02;
    for (int i = 0; i < most_rounds && f.minimum.cost > near_enough * believable; ++i) {
        const double by = std::sqrt(f.minimum.cost / believable);
        out.widened *= by;
        f.noise *= by;
        refit();
    }
    out.spent = most_fit_work - budget * out.work;
    if (out.widened > most_widened) {
        out.failed = true;
        return out;
    }
    out.budget_reached = f.minimum.ended == Ended::budget;
    // At a kink no step may fall although one side's slope says so: that is a minimum all the same.
    out.converged = f.minimum.converged || f.minimum.ended == Ended::no_lower;
    out.belief.middle.assign(f.minimum.x.begin(), f.minimum.x.end());
    const MatrixXd covariance_of_z = covariance_at(f.minimum, out.converged);
    // row by row what Eigen keeps column by column
    Eigen::Map<MatrixXd>(out.belief.factor.data(), n, n) = cholesky(covariance_of_z).transpose();
    const VectorXd off = applied(f.noise, f.minimum.residuals);
    for (Index i = 0; i < off.size(); ++i) {
        out.predicted.push_back(out.readings[static_cast<size_t>(i)].measured + off(i));
    }
    out.fit = std::make_shared<const Fit>(std::move(f));
    return out;
}

}  // namespace

Calibration calibrate(const Setup& setup) {
    if (!freewheel_open(setup)) {
        return calibrate_settled(setup);
    }
    // Both kinds, each fitted by itself, weighed by its prior chance and its evidence.
    Calibration out = calibrate_settled(with_freewheel(setup, Freewheel::active));
    Calibration other = calibrate_settled(with_freewheel(setup, Freewheel::diode));
    const double chance = weighed_chance(chance_of_active(setup), out, other);
    if (chance < 0.5) {
        std::swap(out, other);
    }
    out.chance_active = chance;
    out.spent += other.spent;
    out.belief.priors = make_priors(setup);
    out.belief.middle[freewheel_row(out.belief.priors)] = freewheel_z(out);
    out.other.push_back(std::move(other));
    return out;
}

}  // namespace hotband
