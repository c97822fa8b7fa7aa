// Odds that a row is spoiled; see row_checks.hpp.
#include "learn/row_checks.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include "learn/linear.hpp"

namespace hotband {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

// How often all readings of a row are off by one amount, or one reading alone by its own, and the
// standard deviation of that amount (common practice, no source).
constexpr double row_spoiled = 0.1;
constexpr double reading_spoiled = 0.03;
constexpr double spoiled_K = 10;

}  // namespace

size_t rows_that_tell_heat(const std::vector<Reading>& readings) {
    std::set<int> rows;
    for (const Reading& r : readings) {
        if (r.kind != ReadingKind::speed) {
            rows.insert(r.row);
        }
    }
    return rows.size();
}

// Each row against all the others and the priors. Without it the fit would be, by one Newton step,
// at z_b = z + S J_b'W_b r_b with spread S = (H - J_b'W_b J_b)^-1, where its residuals are e with
// covariance V = I + J_b S J_b'. With u the residuals of an offset of 1 K in the row, or in one of
// its readings, a = u'V^-1 u and c = -u'V^-1 e, that offset is c / a kelvin, and some such offset
// is more likely than none by the factor
//   odds (1 + s^2 a)^-1/2 exp(s^2 c^2 / (2 (1 + s^2 a))),  s = spoiled_K.
// Nothing is spoiled, or one thing is. One row alone has nothing but estimates against it, and of
// two that contradict each other nothing but estimates says which: these are all believed.
std::vector<RowCheck> check_rows(const Residuals& residuals, const LeastSquaresSummary& f,
                                 bool straight) {
    std::vector<RowCheck> out;
    double total = 1;
    constexpr size_t fewest_to_judge = 3;
    const bool judged = rows_that_tell_heat(residuals.readings) >= fewest_to_judge;
    Index first = 0;
    for (const MatrixXd& noise : residuals.noise.blocks()) {
        const Index size = noise.rows();
        const MatrixXd J = f.jacobian.middleRows(first, size);
        const VectorXd w = f.weights.segment(first, size);
        const MatrixXd without = f.curvature - product(weighed_transpose(J, w), J);
        const MatrixXd spread = Positive(without).solve_all(J.transpose());
        const VectorXd weighed = w.cwiseProduct(f.residuals.segment(first, size));
        const VectorXd step = applied(spread, weighed);
        const VectorXd here = f.residuals.segment(first, size);
        VectorXd e =
            straight ? VectorXd(here + applied(J, step)) : residuals.of(f.x + step, first, size);
        if (!e.allFinite()) {
            // So far off that the model has nothing to say there: judged where the fit is.
            e = here;
        }
        const Positive V(MatrixXd::Identity(size, size) + product(J, spread));
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
        const auto kind_of = [&](Index i) {
            return residuals.readings[static_cast<size_t>(first + i)].kind;
        };
        // A thermometer's offset is common to the row's temperatures; a speed errs by itself.
        VectorXd warm(size);
        for (Index i = 0; i < size; ++i) {
            warm(i) = kind_of(i) == ReadingKind::speed ? 0 : 1;
        }
        if (warm.sum() > 0 && judged) {
            try_offset(warm, row_spoiled, {});
        }
        for (Index i = 0; i < size; ++i) {
            const bool alone = warm.sum() > 1 && kind_of(i) != ReadingKind::trace;
            if (alone || kind_of(i) == ReadingKind::speed) {
                try_offset(VectorXd::Unit(size, i), reading_spoiled, kind_of(i));
            }
        }
        out.push_back(check);
        first += size;
    }
    for (RowCheck& check : out) {
        check.doubt /= total;
    }
    return out;
}

namespace {

// With variance V beside the spread S of what the others leave open (sigma_K^2 = S + V), a row
// moves the middle by S / (S + V) of what it is off. Of two hypotheses, one of chance `doubt` in
// which it moves nothing, the middle moves 1 - doubt as far: as with so much more variance. Doubts
// that every row has add nothing.
double doubt_variance(const RowCheck& check) {
    constexpr double no_reason = 0.2;  // below it a row is taken as it is
    const auto odds = [](double chance) { return chance / (1 - chance); };
    // An offset that has outgrown numbers tells nothing of its size.
    const double off_K = std::isfinite(check.off_K) ? std::abs(check.off_K) : 0;
    const double most = std::max(spoiled_K, off_K) * std::max(spoiled_K, off_K);
    if (check.doubt <= no_reason) {
        return 0;
    }
    const double more = (odds(check.doubt) - odds(no_reason)) * check.sigma_K * check.sigma_K;
    return more < most ? more : most;
}

}  // namespace

ErrorBlocks doubted(ErrorBlocks covariance, const std::vector<Reading>& readings,
                    const std::vector<RowCheck>& checks) {
    size_t first = 0;
    for (size_t row = 0; row < checks.size(); ++row) {
        const RowCheck& check = checks[row];
        VectorXd off(covariance[row].rows());
        for (double& one : off) {
            const Reading& r = readings[first++];
            const bool concerned =
                check.kind ? r.kind == *check.kind : r.kind != ReadingKind::speed;
            one = concerned ? 1 : 0;
        }
        covariance[row] += product(doubt_variance(check) * off, off.transpose());
    }
    return covariance;
}

}  // namespace hotband
