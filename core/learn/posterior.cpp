// Randomised, then optimised draws; see posterior.hpp.
#include "learn/posterior.hpp"

#include <algorithm>

#include "learn/fit.hpp"
#include "learn/freewheel_kinds.hpp"
#include "learn/linear.hpp"
#include "learn/sampling.hpp"

namespace hotband {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

// Work of moving all draws, in holds of a twentieth to a fifth of a millisecond: where one step is
// more they stay straight.
constexpr double most_draw_work = 24000;

constexpr double most_draw_steps = 3;

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
          steps_(c.fit ? static_cast<int>(std::min(most_draw_steps, most_draw_work / work)) : 0) {
        if (steps_ > 0) {
            const LeastSquaresSummary& f = c.fit->minimum;
            JW_ = weighed_transpose(f.jacobian, f.weights);
            curvature_ = Positive(f.curvature);
        }
    }

    VectorXd draw(std::span<const double> xi) const {
        constexpr double small_step = 1;  // posterior sigmas; what is left is of second order
        const std::vector<double> straight = draw_of(c_.belief, xi);
        VectorXd z =
            Eigen::Map<const VectorXd>(straight.data(), static_cast<Index>(straight.size()));
        if (steps_ == 0) {
            return z;
        }
        const LeastSquaresSummary& f = c_.fit->minimum;
        const Residuals residuals{c_.told, told_priors_, c_.readings, c_.fit->noise};
        const VectorXd u = z + applied(JW_, f.residuals + applied(f.jacobian, z - f.x));
        for (int i = 0; i < steps_; ++i) {
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
    int steps_;  // each draw is moved by, at most
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
        const bool as_likelier = !open || active == (freewheel_of(c) == Freewheel::active);
        VectorXd z = (as_likelier ? likelier : other).draw(normals.first(rows));
        if (open) {
            z(static_cast<Index>(freewheel_row(c.belief.priors))) = active ? 1 : -1;
        }
        out.insert(out.end(), z.begin(), z.end());
    }
    return out;
}

}  // namespace hotband
