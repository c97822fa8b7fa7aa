// Beliefs and draws; see belief.hpp.
#include "learn/belief.hpp"

namespace hotband {

Belief prior_belief(const Setup& setup) {
    Belief b;
    b.priors = make_priors(setup);
    const auto n = static_cast<Eigen::Index>(b.priors.size());
    b.middle.assign(b.priors.size(), 0);
    b.factor = Eigen::MatrixXd::Identity(n, n);
    return b;
}

std::vector<double> draw_of(const Belief& b, std::span<const double> xi) {
    std::vector<double> z = b.middle;
    for (size_t i = 0; i < z.size(); ++i) {
        for (size_t j = 0; j <= i; ++j) {
            z[i] += b.factor(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) * xi[j];
        }
    }
    return z;
}

Plant middle_plant(const Setup& setup, const Belief& b) {
    return fitted_plant(setup, b.priors, b.middle);
}

Belief carried_to(const Setup& changed, const Belief& b) {
    Belief out = b;
    out.priors = make_priors(changed);
    for (size_t i = 0; i < out.priors.size(); ++i) {
        const Prior& now = out.priors[i];
        const Prior& before = b.priors[i];
        if (now.told && (!before.told || now.median != before.median)) {
            out.middle[i] = 0;
        }
    }
    return out;
}

}  // namespace hotband
