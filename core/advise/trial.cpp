// A change on the draws; see trial.hpp.
#include "advise/trial.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace hotband {

std::vector<Plant> changed_plants(const Setup& s, const std::vector<Prior>& priors,
                                  const Draws& draws, const Setup& changed) {
    const size_t count = std::min(most_trial_draws, draws.count());
    if (changed.measured.empty() && !s.measured.empty()) {
        return draw_plants(changed, calibrate(changed), static_cast<int>(count)).plants;
    }
    const std::vector<Prior> now = make_priors(changed);
    std::vector<Plant> plants;
    for (size_t k = 0; k < count; ++k) {
        std::vector<double> z(
            draws.z.begin() + static_cast<std::ptrdiff_t>(k * priors.size()),
            draws.z.begin() + static_cast<std::ptrdiff_t>((k + 1) * priors.size()));
        for (size_t i = 0; i < z.size() && !s.measured.empty(); ++i) {
            if (told_anew(priors[i], now[i])) {
                z[i] = 0;
            }
        }
        plants.push_back(fitted_plant(changed, now, z));
    }
    return plants;
}

std::vector<Outcome> fly_all(const std::vector<Plant>& plants, const Setup& s) {
    std::vector<Outcome> out;
    for (const Plant& p : plants) {
        out.push_back(outcome_of(run_flight(p, s.flight, true).march, s.esc.limit_C));
    }
    return out;
}

Trial::Trial(const Draws& draws, double air_C) : draws_(draws), air_C_(air_C) {
    using Eigen::Index;
    const auto count = static_cast<Index>(draws.count());
    const Index flown = std::min(static_cast<Index>(most_trial_draws), count);
    const auto rows = static_cast<Index>(draws.z.size()) / std::max<Index>(1, count);
    const Eigen::Map<const Eigen::MatrixXd> z(draws.z.data(), rows, count);  // a column a draw
    const Eigen::MatrixXd likeness =
        ((z.leftCols(flown).transpose() * z).array() / static_cast<double>(rows) + 1).square();
    // What is left over is curvature of higher order, a hundredth of what the draws have in common.
    constexpr double ridge = 0.01;
    const Eigen::MatrixXd flown_likeness =
        likeness.leftCols(flown) + ridge * Eigen::MatrixXd::Identity(flown, flown);
    carry_ = flown_likeness.llt().solve(likeness.rightCols(count - flown)).transpose();
}

double Trial::over_air(double celsius) const {
    constexpr double never_below_K = 20;  // sensors and days differ from what was told by less
    return celsius - air_C_ + never_below_K;
}

std::vector<Outcome> Trial::all(const std::vector<Outcome>& flown) const {
    using Eigen::Index;
    const auto count = static_cast<Index>(flown.size());
    Eigen::MatrixXd ratio(count, 2);
    for (Index i = 0; i < count; ++i) {
        const Outcome& before = draws_.flight[static_cast<size_t>(i)];
        const Outcome& after = flown[static_cast<size_t>(i)];
        ratio(i, 0) = std::log(over_air(after.peak_C) / over_air(before.peak_C));
        ratio(i, 1) = std::log(after.seconds / before.seconds);
    }
    std::vector<Outcome> out = flown;
    if (!ratio.allFinite() || draws_.flight.size() <= flown.size()) {
        return out;
    }
    const Eigen::MatrixXd others = carry_ * ratio;
    for (Index i = 0; i < others.rows(); ++i) {
        Outcome o = draws_.flight[flown.size() + static_cast<size_t>(i)];
        if (!std::isfinite(o.peak_C)) {
            return flown;
        }
        o.peak_C = air_C_ + over_air(o.peak_C) * std::exp(others(i, 0)) - over_air(air_C_);
        o.seconds *= std::exp(others(i, 1));
        out.push_back(o);
    }
    return out;
}

std::vector<double> peak_differences(const std::vector<Outcome>& before,
                                     const std::vector<Outcome>& after) {
    std::vector<double> out;
    for (size_t i = 0; i < before.size(); ++i) {
        const bool both = !std::isfinite(before[i].peak_C) && !std::isfinite(after[i].peak_C);
        out.push_back(both ? 0 : after[i].peak_C - before[i].peak_C);
    }
    return out;
}

}  // namespace hotband
