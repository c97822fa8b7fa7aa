// From the measured rows to what is believed; see calibrate.hpp.
#include "learn/calibrate.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "learn/fit.hpp"
#include "learn/freewheel_kinds.hpp"
#include "learn/linear.hpp"
#include "learn/row_checks.hpp"
#include "learn/sampling.hpp"
#include "learn/stand_ins.hpp"

namespace hotband {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

// For so many sets of derivatives flights are few enough; this many predictions of it are kept for
// following where a search ended.
constexpr double usual_sets = 2;
constexpr double kept_to_follow = 12;
// Of it, what flying every row for itself may take where it is not needed.
constexpr double most_work_apart = 2000;

MatrixXd covariance_of(const LeastSquaresSummary& f) {
    return Positive(f.curvature).solve_all(MatrixXd::Identity(f.x.size(), f.x.size()));
}

// Of a search that was ended on its way, what it still had to go by Newton's step is not known
// either: one standard deviation more along it.
MatrixXd on_the_way(const LeastSquaresSummary& f, const MatrixXd& covariance) {
    const VectorXd gradient = applied(weighed_transpose(f.jacobian, f.weights), f.residuals) + f.x;
    const VectorXd to_go = applied(covariance, gradient);
    return covariance + product(to_go, to_go.transpose());
}

// If priors and sensors err as their sigmas say, a fit's cost is chi-squared: the readings' share
// of it with as many degrees of freedom as they have beyond what they determined of the unknowns,
// the unknowns' share with as many as were determined (MacKay, Neural Computation 4(3), 1992,
// Bayesian interpolation). Beyond the 95 % of its share one of the two errs more than that.
double believable(double degrees) { return chi_squared_quantile(0.95, std::max(1.0, degrees)); }

// Unknowns that the readings determine: each counts as far as they narrow it.
double determined(const MatrixXd& covariance) {
    return static_cast<double>(covariance.rows()) - covariance.trace();
}

// Readings that scatter about what the model can be: their sigmas grow until the scatter is
// believable. The minimum is followed on the way, and found anew at its end.
void widen_for_scatter(Calibration& out, Fit& f, const Residuals& residuals, double& budget) {
    constexpr int most_rounds = 12;
    constexpr double near_enough = 1.02;
    const auto readings = static_cast<double>(out.readings.size());
    bool anew = true;
    for (int i = 0; i < most_rounds && f.minimum.ended != Ended::not_finite; ++i) {
        const double scatter = f.minimum.cost - f.minimum.x.squaredNorm();
        const bool little = scatter <= believable(0);  // however many are determined
        const double most =
            little ? scatter : believable(readings - determined(covariance_of(f.minimum)));
        if (scatter > near_enough * most) {
            const double by = std::sqrt(scatter / most);
            out.widened *= by;
            const ErrorFactor before = std::exchange(f.noise, f.noise.times(by));
            f.minimum = follow_errors(residuals, f.minimum, before, budget);
            anew = false;
        } else if (!anew) {
            f.minimum = refit(residuals, f.minimum, f.noise, budget);
            anew = true;
        } else {
            break;
        }
    }
}

// How many times further from the estimates the readings are than these allow.
double apart(const LeastSquaresSummary& f, const MatrixXd& covariance) {
    return std::sqrt(std::max(1.0, f.x.squaredNorm() / believable(determined(covariance))));
}

// The fit for a setup whose freewheel is settled.
Calibration calibrate_settled(const Setup& setup, const FitReadings& readings, double most_work) {
    Calibration out;
    out.told = setup;
    out.belief = prior_belief(setup);
    out.readings = readings.used;
    if (out.readings.empty()) {
        out.converged = true;
        return out;
    }
    Fit f;
    const auto n = static_cast<Index>(out.belief.priors.size());
    const ErrorBlocks errors = error_covariance(out.readings);
    f.noise = ErrorFactor(errors);
    const Residuals residuals{setup, out.belief.priors, out.readings, f.noise};
    out.stood_in = readings.stood_in;
    out.work = readings.work;
    double most_runs = (most_work - readings.work_own) / out.work;
    double budget = most_runs - kept_to_follow;
    f.minimum = fit(residuals, VectorXd::Zero(n), budget);
    most_runs += std::max(0.0, -budget);  // the first set is always made
    budget = std::max(0.0, budget) + kept_to_follow;
    if (f.minimum.ended == Ended::budget) {
        f.minimum = follow(residuals, f.minimum, budget);
    }
    const bool dear = readings.work_apart > most_work_apart;
    if (out.stood_in > 0 && !dear && f.minimum.ended != Ended::not_finite) {
        anchor(out.readings, readings.own, setup, out.belief.priors,
               {f.minimum.x.data(), static_cast<size_t>(n)});
        f.minimum.residuals = residuals(f.minimum.x);
        budget -= 1 + readings.work_apart / out.work;
        f.minimum = refit(residuals, f.minimum, f.noise, budget);
    }
    if (f.minimum.ended == Ended::not_finite) {
        // Nothing can be learned from it: what was believed before stands.
        out.failed = true;
        return out;
    }
    out.checks = check_rows(residuals, f.minimum, dear);
    const ErrorBlocks with_doubt = doubted(errors, out.readings, out.checks);
    if (with_doubt != errors) {
        const ErrorFactor before = std::exchange(f.noise, ErrorFactor(with_doubt));
        f.minimum = refit(residuals, f.minimum, before, budget);
    }
    widen_for_scatter(out, f, residuals, budget);
    out.spent = (most_runs - budget) * out.work;
    if (out.widened > most_widened || f.minimum.ended == Ended::not_finite) {
        out.failed = true;
        return out;
    }
    const MatrixXd covariance = covariance_of(f.minimum);
    out.apart = apart(f.minimum, covariance);
    out.budget_reached = f.minimum.ended == Ended::budget;
    // At a kink no step may fall although one side's slope says so: that is a minimum all the same.
    out.converged = f.minimum.converged || f.minimum.ended == Ended::no_lower;
    out.belief.middle.assign(f.minimum.x.begin(), f.minimum.x.end());
    const MatrixXd factor =
        cholesky(out.converged ? covariance : on_the_way(f.minimum, covariance));
    // row by row what Eigen keeps column by column
    Eigen::Map<MatrixXd> rows(out.belief.factor.data(), n, n);
    rows = out.apart * factor.transpose();
    for (Index i = 0; i < n; ++i) {
        // No reading speaks of the coming flight's own: these rows stand alone, as they were.
        if (is_of_coming_flight(out.belief.priors[static_cast<size_t>(i)])) {
            rows.col(i) /= out.apart;
        }
    }
    const VectorXd off = f.noise.applied_to(f.minimum.residuals);
    for (Index i = 0; i < off.size(); ++i) {
        out.predicted.push_back(out.readings[static_cast<size_t>(i)].measured + off(i));
    }
    out.fit = std::make_shared<const Fit>(std::move(f));
    return out;
}

}  // namespace

Calibration calibrate(const Setup& setup, double most_work) {
    const std::vector<Prior> priors = make_priors(setup);
    const FitReadings readings =
        fit_readings(setup, priors, std::vector<double>(priors.size(), 0.0), most_work,
                     usual_sets * runs_of_a_set(priors));
    if (!freewheel_open(setup)) {
        return calibrate_settled(setup, readings, most_work);
    }
    // Both kinds, each fitted by itself, weighed by its prior chance and its evidence.
    Calibration out =
        calibrate_settled(with_freewheel(setup, Freewheel::active), readings, most_work);
    Calibration other =
        calibrate_settled(with_freewheel(setup, Freewheel::diode), readings, most_work);
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
