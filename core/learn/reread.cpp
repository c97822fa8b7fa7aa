// The minimum followed to a changed setup; see reread.hpp.
#include "learn/reread.hpp"

#include <algorithm>
#include <cmath>

#include "learn/fit.hpp"
#include "learn/freewheel_kinds.hpp"
#include "learn/linear.hpp"

namespace hotband {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

// A setup whose residuals cost more holds than this, or whose fits took more in all, is not fitted
// anew for each of a dozen changes.
constexpr double most_reread_work = 20;
constexpr double most_reread_spent = 9000;

bool may_learn_anew(const Calibration& c) {
    return c.work < most_reread_work && c.spent < most_reread_spent;
}

}  // namespace

Reread reread(const Calibration& c, const Setup& changed) {
    Reread out;
    std::vector<Reading> readings = readings_of(changed);
    if (!c.fit || readings.size() != c.readings.size()) {
        return out;
    }
    for (size_t i = 0; i < readings.size() && c.stood_in > 0; ++i) {
        readings[i].flown_as = c.readings[i].flown_as;
        readings[i].beyond_K = c.readings[i].beyond_K;
    }
    const LeastSquaresSummary& f = c.fit->minimum;
    const Setup settled_setup = with_freewheel(changed, freewheel_of(c));
    const std::vector<Prior> priors = make_priors(settled_setup);
    const Residuals residuals{settled_setup, priors, readings, c.fit->noise};
    VectorXd z = f.x;
    for (Index i = 0; i < z.size(); ++i) {
        const auto row = static_cast<size_t>(i);
        z(i) = told_anew(c.belief.priors[row], priors[row]) ? 0 : z(i);
    }
    const VectorXd start = z;
    VectorXd r = residuals(z);
    const VectorXd moved = c.fit->noise.applied_to(r - f.residuals);
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
    constexpr double followed_K = 2;
    out.another = out.most_K > another_K && may_learn_anew(c);
    if (out.another && out.most_K > followed_K) {
        return out;
    }
    // Dear rows are flown once, and taken as straight from there.
    const bool dear = c.work > most_reread_work;
    constexpr int most_steps = 4;
    const MatrixXd JW = weighed_transpose(f.jacobian, f.weights);
    const Positive curvature(f.curvature);
    for (int i = 0; i < most_steps; ++i) {
        const VectorXd step = curvature.solve(-(z + applied(JW, r)));
        if (!step.allFinite()) {
            return out;
        }
        z += step;
        if (step.cwiseAbs().maxCoeff() < fit_settled) {
            break;
        }
        r = dear ? VectorXd(r + applied(f.jacobian, step)) : residuals(z);
    }
    const VectorXd by = z - start;
    out.by.assign(by.begin(), by.end());
    out.evidence = (f.cost - cost_of({}, r, z)) / 2;
    return out;
}

bool weighed_otherwise(const Calibration& c, const Reread& likelier, const Reread& other) {
    constexpr double another_chance = 0.01;
    if (!c.chance_active || c.other.empty() || !may_learn_anew(c)) {
        return false;
    }
    const double before = std::max(*c.chance_active, 1 - *c.chance_active);
    const double evidence = (likelier.evidence - other.evidence) / dispersion(c, c.other.front());
    const double after = chance_after(before, evidence);
    return std::abs(after - before) > another_chance;
}

}  // namespace hotband
