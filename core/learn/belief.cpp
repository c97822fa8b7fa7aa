// Beliefs and draws; see belief.hpp.
#include "learn/belief.hpp"

#include <algorithm>

namespace hotband {

double Belief::covariance(size_t a, size_t b) const {
    const size_t n = middle.size();
    double sum = 0;
    for (size_t k = 0; k <= std::min(a, b); ++k) {
        sum += factor[a * n + k] * factor[b * n + k];
    }
    return sum;
}

Belief prior_belief(const Setup& setup) {
    Belief b;
    b.priors = make_priors(setup);
    const size_t n = b.priors.size();
    b.middle.assign(n, 0);
    b.factor.assign(n * n, 0);
    for (size_t i = 0; i < n; ++i) {
        b.factor[i * n + i] = 1;
    }
    return b;
}

std::vector<double> draw_of(const Belief& b, std::span<const double> xi) {
    std::vector<double> z = b.middle;
    for (size_t i = 0; i < z.size(); ++i) {
        for (size_t j = 0; j <= i; ++j) {
            z[i] += b.factor[i * z.size() + j] * xi[j];
        }
    }
    return z;
}

Plant middle_plant(const Setup& setup, const Belief& b) {
    return fitted_plant(setup, b.priors, b.middle);
}

bool told_anew(const Prior& before, const Prior& now) {
    return now.told && (!before.told || now.median != before.median);
}

Belief carried_to(const Setup& changed, const Belief& b) {
    Belief out = b;
    out.priors = make_priors(changed);
    for (size_t i = 0; i < out.priors.size(); ++i) {
        if (told_anew(b.priors[i], out.priors[i])) {
            out.middle[i] = 0;
        }
    }
    return out;
}

}  // namespace hotband
