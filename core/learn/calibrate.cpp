// The fit of the readings, the check of each row, and draws of what is left open; see
// calibrate.hpp.
#include "learn/calibrate.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "learn/fit.hpp"
#include "learn/linear.hpp"
#include "learn/sampling.hpp"

namespace hotband {

Eigen::MatrixXd error_covariance(const std::vector<Reading>& readings) {
    const auto n = static_cast<Eigen::Index>(readings.size());
    Eigen::MatrixXd covariance = Eigen::MatrixXd::Zero(n, n);
    for (Eigen::Index i = 0; i < n; ++i) {
        for (Eigen::Index j = 0; j < n; ++j) {
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
        return of(z, 0, static_cast<Index>(readings.size()));
    }

    // Those of one row alone: rows err independently.
    VectorXd of(const VectorXd& z, Index first, Index size) const {
        const std::vector<Reading> some(readings.begin() + first, readings.begin() + first + size);
        VectorXd off =
            to_vector(predict(setup, priors, some, {z.data(), static_cast<size_t>(z.size())}));
        for (Index i = 0; i < size; ++i) {
            off(i) -= some[static_cast<size_t>(i)].measured;
        }
        return solve_lower(noise.block(first, first, size, size), off);
    }

    // Derivatives over the rows that are drawn; over the others there are none.
    template <class Difference>
    MatrixXd jacobian(Index rows, const VectorXd& z, Difference&& difference) const {
        MatrixXd J = MatrixXd::Zero(rows, z.size());
        for (Index j = 0; j < z.size(); ++j) {
            if (priors[static_cast<size_t>(j)].spread > 0) {
                J.col(j) = difference(j);
            }
        }
        return J;
    }
};

// Work that the fits of one hypothesis may do, and its draws, in holds of a twentieth to a fifth of
// a millisecond.
constexpr double most_fit_work = 8000;
constexpr double most_draw_work = 24000;
// Work of weighing one hypothesis.
constexpr double most_weighing_work = 1000;
// A setup whose residuals cost more is not fitted anew for a change.
constexpr double most_reread_work = 20;

// Steps of the differences, of a prior's spread. The model bends sharply where a commutation takes
// all the time there is, or where the peak passes from one moment to another: a search that stops
// at such a kink goes on with the secants across it, over a distance that matters to the posterior.
constexpr double difference_step = 1e-3;
constexpr double secant_step = 0.1;
constexpr double settled = 1e-4;  // a hundredth of a posterior sigma

// A fit with what is left of the budget (calls of the residuals), which it draws down.
LeastSquaresSummary fit(const Residuals& residuals, const VectorXd& start, double& budget) {
    LeastSquaresOptions options{.settled = settled, .most_runs = budget};
    for (const Prior& row : residuals.priors) {
        options.jacobian_runs += row.spread > 0 ? 1 : 0;
    }
    // Most unknowns hardly move any reading: their slopes are taken once.
    constexpr double hardly = 0.02;  // of a reading's sigma for a sigma of the unknown
    MatrixXd first;
    LeastSquaresProblem problem;
    problem.residuals = residuals;
    problem.jacobian = [&](const VectorXd& z, const VectorXd& at) {
        MatrixXd J = residuals.jacobian(at.size(), z, [&](Index j) -> VectorXd {
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
            return residuals.jacobian(at.size(), z, [&](Index j) -> VectorXd {
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
        const MatrixXd without = f.curvature - product(weighed_transpose(J, w), J);
        const MatrixXd spread = Positive(without).solve_all(J.transpose());
        const VectorXd weighed = w.cwiseProduct(f.residuals.segment(first, size));
        VectorXd e = residuals.of(f.x + applied(spread, weighed), first, size);
        if (!e.allFinite()) {
            // So far off that the model has nothing to say there: judged where the fit is.
            e = f.residuals.segment(first, size);
        }
        const Positive V(MatrixXd::Identity(size, size) + product(J, spread));
        const MatrixXd noise = residuals.noise.block(first, first, size, size);
        RowCheck check;
        check.row = residuals.readings[static_cast<size_t>(first)].row;
        double best = -1;
        const auto try_offset = [&](const VectorXd& offset, double often,
                                    std::optional<ReadingKind> kind) {
            const VectorXd u = solve_lower(noise, offset);
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
        const auto kind_of = [&, first = first](Index i) {
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
        covariance += product(check.doubt * size_K * size_K * off, off.transpose());
    }
    return covariance;
}

// Logarithm of how well the readings are explained, the priors averaged over (but for what all fits
// of the same rows have in common): importance sampling (Hammersley and Handscomb, Monte Carlo
// Methods, 1964, chapter 5, from memory) from the Gaussian that the fit would be with readings half
// as precise. At the minimum alone (Laplace) it is short of the average by 0.3 to 0.7, the more the
// temperatures bend.
double log_evidence(const Calibration& c) {
    constexpr double precision = 0.25;
    constexpr double none = -std::numeric_limits<double>::infinity();
    if (c.failed) {
        return none;
    }
    if (c.readings.empty()) {
        return 0;
    }
    const auto rows = static_cast<Index>(c.belief.priors.size());
    const auto count = static_cast<Index>(std::clamp(most_weighing_work / c.work, 8.0, 64.0));
    const std::vector<Prior> priors = make_priors(c.told);
    const Residuals residuals{c.told, priors, c.readings, c.fit->noise};
    const LeastSquaresSummary& f = c.fit->minimum;
    MatrixXd curvature = precision * f.curvature;
    curvature.diagonal().array() += 1 - precision;
    const MatrixXd L = cholesky(curvature);
    const std::vector<double> drawn = normal_draws(static_cast<int>(count), static_cast<int>(rows));
    const Eigen::Map<const MatrixXd> xi(drawn.data(), rows, count);
    VectorXd logs = VectorXd::Constant(count, none);
    for (Index k = 0; k < count; ++k) {
        const VectorXd z = f.x + solve_lower_transposed(L, xi.col(k));
        const double log = 0.5 * (xi.col(k).squaredNorm() - cost_of({}, residuals(z), z));
        if (std::isfinite(log)) {
            logs(k) = log;
        }
    }
    const double most = logs.maxCoeff();
    if (most == none) {
        return none;
    }
    return most + std::log((logs.array() - most).exp().mean()) - L.diagonal().array().log().sum() -
           c.fit->noise.diagonal().array().log().sum();
}

// A chance once its odds are exp(evidence) times what they were.
double chance_after(double before, double evidence) {
    return 1 / (1 + (1 - before) / before * std::exp(-evidence));
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
    if (out.widened > most_widened) {
        out.failed = true;
        return out;
    }
    out.budget_reached = f.minimum.ended == Ended::budget;
    // At a kink no step may fall although one side's slope says so: that is a minimum all the same.
    out.converged = f.minimum.converged || f.minimum.ended == Ended::no_lower;
    out.belief.middle.assign(f.minimum.x.begin(), f.minimum.x.end());
    const MatrixXd unit = MatrixXd::Identity(n, n);
    // row by row what Eigen keeps column by column
    Eigen::Map<MatrixXd>(out.belief.factor.data(), n, n) =
        cholesky(Positive(f.minimum.curvature).solve_all(unit)).transpose();
    const VectorXd off = applied(f.noise, f.minimum.residuals);
    for (Index i = 0; i < off.size(); ++i) {
        out.predicted.push_back(out.readings[static_cast<size_t>(i)].measured + off(i));
    }
    out.fit = std::make_shared<const Fit>(std::move(f));
    return out;
}

Setup with_freewheel(Setup s, Freewheel freewheel) {
    s.esc.freewheel = freewheel;
    s.esc.freewheel_sure = true;
    return s;
}

size_t freewheel_row(const std::vector<Prior>& priors) {
    const auto row = std::find_if(priors.begin(), priors.end(), [](const Prior& p) {
        return p.slot == &Unknowns::active_freewheel;
    });
    return static_cast<size_t>(row - priors.begin());
}

double freewheel_z(const Calibration& c) {
    return c.told.esc.freewheel == Freewheel::active ? 1 : -1;
}

}  // namespace

double weighed_chance(double prior, const Calibration& active, const Calibration& diode) {
    const double for_active = log_evidence(active);
    const double for_diode = log_evidence(diode);
    // Where neither makes sense they are equal, too.
    return for_active == for_diode ? prior : chance_after(prior, for_active - for_diode);
}

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
    out.belief.priors = make_priors(setup);
    out.belief.middle[freewheel_row(out.belief.priors)] = freewheel_z(out);
    out.other.push_back(std::move(other));
    return out;
}

namespace {

// Randomise, then optimise (Bardsley, Solonen, Haario and Laine, SIAM J. Sci. Comput. 36(4), 2014):
// a draw solves  z + J'W r(z) = u,  where u is what the left side is in the straight-line model at
// the Gaussian's draw. Newton's step from there, with the fit's curvature H:
//   z <- z - H^-1 (z + J'W r(z) - u),  u = z_0 + J'W (r_fit + J (z_0 - z_fit)).
// In a linear model nothing moves; where the readings say nothing (J = 0) nothing moves either.
class PosteriorMover {
 public:
    // `work` of moving all draws one step, in holds: where it is too much they stay straight.
    PosteriorMover(const Calibration& c, double work)
        : c_(c),
          told_priors_(make_priors(c.told)),
          moves_(c.fit != nullptr && work < most_draw_work) {
        if (moves_) {
            const LeastSquaresSummary& f = c.fit->minimum;
            JW_ = weighed_transpose(f.jacobian, f.weights);
            curvature_ = Positive(f.curvature);
        }
    }

    VectorXd draw(std::span<const double> xi) const {
        constexpr int most_steps = 3;
        constexpr double small_step = 1;  // posterior sigmas; what is left is of second order
        VectorXd z = to_vector(draw_of(c_.belief, xi));
        if (!moves_) {
            return z;
        }
        const LeastSquaresSummary& f = c_.fit->minimum;
        const Residuals residuals{c_.told, told_priors_, c_.readings, c_.fit->noise};
        const VectorXd u = z + applied(JW_, f.residuals + applied(f.jacobian, z - f.x));
        for (int i = 0; i < most_steps; ++i) {
            const VectorXd lack = u - z - applied(JW_, residuals(z));
            const VectorXd step = curvature_.solve(lack);
            if (!step.allFinite()) {
                break;
            }
            z += step;
            if (step.dot(lack) < small_step * small_step) {
                break;
            }
        }
        return z;
    }

 private:
    const Calibration& c_;
    std::vector<Prior> told_priors_;
    bool moves_;
    MatrixXd JW_;
    Positive curvature_;
};

}  // namespace

std::vector<double> posterior_draws(const Calibration& c, int count) {
    const size_t rows = c.belief.priors.size();
    // One dimension more than there are rows: which of the hypotheses a draw is of.
    const std::vector<double> xi = normal_draws(count, static_cast<int>(rows) + 1);
    const bool open = !c.other.empty();
    const double least_active =
        open ? normal_quantile(std::clamp(c.chance_active.value_or(1), 1e-12, 1 - 1e-12)) : 0;
    std::vector<double> out;
    out.reserve(static_cast<size_t>(count) * rows);
    const double work = count * c.work;
    const PosteriorMover likelier(c, work);
    const PosteriorMover other(open ? c.other.front() : c, work);
    for (size_t k = 0; k < static_cast<size_t>(count); ++k) {
        const auto normals = std::span(xi).subspan(k * (rows + 1), rows + 1);
        const bool active = normals[rows] < least_active;
        const bool as_likelier = !open || active == (c.told.esc.freewheel == Freewheel::active);
        VectorXd z = (as_likelier ? likelier : other).draw(normals.first(rows));
        if (open) {
            z(static_cast<Index>(freewheel_row(c.belief.priors))) = active ? 1 : -1;
        }
        out.insert(out.end(), z.begin(), z.end());
    }
    return out;
}

bool of_likelier(const Calibration& c, std::span<const double> z) {
    return c.other.empty() || z[freewheel_row(c.belief.priors)] == freewheel_z(c);
}

Reread reread(const Calibration& c, const Setup& changed) {
    Reread out;
    const std::vector<Reading> readings = readings_of(changed);
    if (!c.fit || readings.size() != c.readings.size()) {
        return out;
    }
    const LeastSquaresSummary& f = c.fit->minimum;
    const Setup settled_setup = with_freewheel(changed, c.told.esc.freewheel);
    const std::vector<Prior> priors = make_priors(settled_setup);
    const Residuals residuals{settled_setup, priors, readings, c.fit->noise};
    VectorXd z = f.x;
    for (Index i = 0; i < z.size(); ++i) {
        const auto row = static_cast<size_t>(i);
        z(i) = told_anew(c.belief.priors[row], priors[row]) ? 0 : z(i);
    }
    const VectorXd start = z;
    VectorXd r = residuals(z);
    const VectorXd moved = applied(c.fit->noise, r - f.residuals);
    for (Index i = 0; i < r.size(); ++i) {
        const Reading& reading = readings[static_cast<size_t>(i)];
        if (reading.kind != ReadingKind::speed) {
            const double off_K = moved(i);
            out.most_K = std::max(out.most_K, std::abs(off_K));
        }
    }
    constexpr double nothing_K = 0.02;
    if (out.most_K < nothing_K) {
        return out;
    }
    constexpr double another_K = 0.25;
    out.another = out.most_K > another_K && c.work < most_reread_work;
    if (out.another) {
        return out;
    }
    constexpr int most_steps = 4;
    const MatrixXd JW = weighed_transpose(f.jacobian, f.weights);
    const Positive curvature(f.curvature);
    for (int i = 0; i < most_steps; ++i) {
        const VectorXd step = curvature.solve(-(z + applied(JW, r)));
        if (!step.allFinite()) {
            return out;
        }
        z += step;
        if (step.cwiseAbs().maxCoeff() < settled) {
            break;
        }
        r = residuals(z);
    }
    const VectorXd by = z - start;
    out.by.assign(by.begin(), by.end());
    out.evidence = (f.cost - cost_of({}, r, z)) / 2;
    return out;
}

bool weighed_otherwise(const Calibration& c, const Reread& likelier, const Reread& other) {
    constexpr double another_chance = 0.01;
    if (!c.chance_active || c.work >= most_reread_work) {
        return false;
    }
    const double before = std::max(*c.chance_active, 1 - *c.chance_active);
    const double after = chance_after(before, likelier.evidence - other.evidence);
    return std::abs(after - before) > another_chance;
}

}  // namespace hotband
