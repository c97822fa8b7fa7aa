// The evidence for either kind; see freewheel_kinds.hpp.
#include "learn/freewheel_kinds.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "learn/fit.hpp"
#include "learn/linear.hpp"
#include "learn/sampling.hpp"

namespace hotband {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

Setup with_freewheel(Setup s, Freewheel freewheel) {
    s.esc.freewheel_sure = true;
    if (!doubts_rows(s)) {
        s.esc.freewheel = freewheel;
        return s;
    }
    s.esc.freewheel_then = freewheel;
    for (MeasuredRow& row : s.measured) {
        if (row.freewheel == FreewheelThen::unknown) {
            row.freewheel =
                freewheel == Freewheel::active ? FreewheelThen::active : FreewheelThen::diode;
        }
    }
    return s;
}

Freewheel freewheel_of(const Calibration& c) {
    return c.told.esc.freewheel_then.value_or(c.told.esc.freewheel);
}

size_t freewheel_row(const std::vector<Prior>& priors) {
    const auto row = std::find_if(priors.begin(), priors.end(), [](const Prior& p) {
        return p.slot == &Unknowns::active_freewheel;
    });
    return static_cast<size_t>(row - priors.begin());
}

double freewheel_z(const Calibration& c) { return freewheel_of(c) == Freewheel::active ? 1 : -1; }

bool of_likelier(const Calibration& c, std::span<const double> z) {
    return c.other.empty() || z[freewheel_row(c.belief.priors)] == freewheel_z(c);
}

namespace {

// Work of weighing one kind, in holds of a twentieth to a fifth of a millisecond.
constexpr double most_weighing_work = 1000;

// Logarithm of how well the readings are explained, the priors averaged over (but for what all fits
// of the same rows have in common): importance sampling (Hammersley and Handscomb, Monte Carlo
// Methods, 1964, chapter 5, from memory) from the Gaussian that the fit would be with readings half
// as precise. At the minimum alone (Laplace) it is short of the average by 0.3 to 0.7, the more the
// temperatures bend.
double log_evidence(const Calibration& c) {
    constexpr double precision = 0.25;
    constexpr double impossible = -std::numeric_limits<double>::infinity();
    if (c.failed) {
        return impossible;
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
    VectorXd logs = VectorXd::Constant(count, impossible);
    for (Index k = 0; k < count; ++k) {
        const VectorXd z = f.x + solve_lower_transposed(L, xi.col(k));
        const double log = 0.5 * (xi.col(k).squaredNorm() - cost_of({}, residuals(z), z));
        if (std::isfinite(log)) {
            logs(k) = log;
        }
    }
    const double most = logs.maxCoeff();
    if (most == impossible) {
        return impossible;
    }
    return most + std::log((logs.array() - most).exp().mean()) - L.diagonal().array().log().sum() -
           c.fit->noise.log_determinant();
}

}  // namespace

double chance_after(double before, double evidence) {
    return 1 / (1 + (1 - before) / before * std::exp(-evidence));
}

double weighed_chance(double prior, const Calibration& active, const Calibration& diode) {
    const double for_active = log_evidence(active);
    const double for_diode = log_evidence(diode);
    // Where neither makes sense they are equal, too.
    return for_active == for_diode
               ? prior
               : chance_after(prior, (for_active - for_diode) / dispersion(active, diode));
}

double dispersion(const Calibration& a, const Calibration& b) {
    const double least = std::min(a.apart, b.apart);
    return least * least;
}

}  // namespace hotband
