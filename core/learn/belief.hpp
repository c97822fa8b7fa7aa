// What is believed about the plant: a middle and a spread over the prior rows, before or after
// learning.
#pragma once

#include <cmath>
#include <span>
#include <vector>

#include "flight/load_fit.hpp"

namespace hotband {

/// Gaussian over the priors' z: middle, and a lower-triangular factor of the covariance.
struct Belief {
    std::vector<Prior> priors;
    std::vector<double> middle;
    std::vector<double> factor;  // row by row

    /// Standard deviation of a row's z.
    double spread(size_t row) const { return std::sqrt(covariance(row, row)); }
    double covariance(size_t a, size_t b) const;
};

/// Belief before any measurement: z = 0, unit covariance.
Belief prior_belief(const Setup& setup);

/// z of one draw from standard normals xi (one for each prior row).
std::vector<double> draw_of(const Belief& belief, std::span<const double> xi);

/// Plant at the middle of the belief.
Plant middle_plant(const Setup& setup, const Belief& belief);

/// Whether a row is told, and was not told so before.
bool told_anew(const Prior& before, const Prior& now);

/// The belief carried to a changed setup: same z for each row, so that what was learned stays
/// learned. Rows that the change itself tells anew keep their new median.
Belief carried_to(const Setup& changed, const Belief& belief);

}  // namespace hotband
