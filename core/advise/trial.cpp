// A change on the draws; see trial.hpp.
#include "advise/trial.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "learn/readings.hpp"

namespace hotband {

bool leaves_readings(const Setup& s, const Setup& changed) {
    return readings_of(changed).empty() && !readings_of(s).empty();
}

size_t trial_draws(const Setup& s, const Draws& draws) {
    constexpr size_t most_parts_flown = 1600;
    constexpr size_t fewest = 8;
    const size_t affordable = most_parts_flown / std::max<size_t>(1, s.flight.parts.size());
    return std::min(std::clamp(affordable, fewest, most_trial_draws), draws.count());
}

std::vector<Plant> changed_plants(const Setup& s, const std::vector<Prior>& priors,
                                  const Draws& draws, const Setup& changed) {
    const size_t count = trial_draws(s, draws);
    if (leaves_readings(s, changed)) {
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
    out.reserve(plants.size());
    for (const Plant& p : plants) {
        out.push_back(outcome_of(run_flight(p, s.flight, true).march, s.esc.limit_C));
    }
    return out;
}

namespace {

// Solves A x = b for symmetric positive definite A, both row by row, b with `columns` of them:
// Cholesky's factor in place of A, the answer in place of b.
void solve_positive(std::vector<double>& A, std::vector<double>& b, size_t n, size_t columns) {
    for (size_t i = 0; i < n; ++i) {
        for (size_t j = 0; j <= i; ++j) {
            double sum = A[i * n + j];
            for (size_t k = 0; k < j; ++k) {
                sum -= A[i * n + k] * A[j * n + k];
            }
            A[i * n + j] = i == j ? std::sqrt(sum) : sum / A[j * n + j];
        }
    }
    const auto substitute = [&](size_t i, size_t from, size_t to, const auto& factor) {
        for (size_t c = 0; c < columns; ++c) {
            double sum = b[i * columns + c];
            for (size_t k = from; k < to; ++k) {
                sum -= factor(k) * b[k * columns + c];
            }
            b[i * columns + c] = sum / A[i * n + i];
        }
    };
    for (size_t i = 0; i < n; ++i) {
        substitute(i, 0, i, [&](size_t k) { return A[i * n + k]; });
    }
    for (size_t i = n; i-- > 0;) {
        substitute(i, i + 1, n, [&](size_t k) { return A[k * n + i]; });
    }
}

}  // namespace

Trial::Trial(const Setup& s, const Draws& draws) : draws_(draws), air_C_(s.air.temperature_C) {
    const size_t count = draws.count();
    const size_t flown = trial_draws(s, draws);
    const size_t rows = count > 0 ? draws.z.size() / count : 0;
    const auto likeness = [&](size_t a, size_t b) {
        double same = 0;
        for (size_t i = 0; i < rows; ++i) {
            same += draws.z[a * rows + i] * draws.z[b * rows + i];
        }
        const double k = 1 + same / static_cast<double>(rows);
        return k * k;
    };
    // What is left over is curvature of higher order, a hundredth of what the draws have in common.
    constexpr double ridge = 0.01;
    std::vector<double> flown_likeness;
    for (size_t a = 0; a < flown; ++a) {
        for (size_t b = 0; b < flown; ++b) {
            flown_likeness.push_back(likeness(a, b) + (a == b ? ridge : 0));
        }
        for (size_t b = flown; b < count; ++b) {
            carry_.push_back(likeness(a, b));
        }
    }
    solve_positive(flown_likeness, carry_, flown, count - flown);
}

double Trial::over_air(double celsius) const {
    constexpr double never_below_K = 20;  // sensors and days differ from what was told by less
    return celsius - air_C_ + never_below_K;
}

std::vector<Outcome> Trial::all(const std::vector<Outcome>& flown) const {
    std::vector<double> hotter;  // logarithms of the ratios
    std::vector<double> longer;
    for (size_t i = 0; i < flown.size(); ++i) {
        const Outcome& before = draws_.flight[i];
        hotter.push_back(std::log(over_air(flown[i].peak_C) / over_air(before.peak_C)));
        longer.push_back(std::log(flown[i].seconds / before.seconds));
        if (!std::isfinite(hotter.back()) || !std::isfinite(longer.back())) {
            return flown;
        }
    }
    const size_t others = draws_.flight.size() - flown.size();
    std::vector<Outcome> out = flown;
    for (size_t j = 0; j < others; ++j) {
        Outcome o = draws_.flight[flown.size() + j];
        if (!std::isfinite(o.peak_C)) {
            return flown;
        }
        double log_hotter = 0;
        double log_longer = 0;
        for (size_t i = 0; i < flown.size(); ++i) {
            log_hotter += carry_[i * others + j] * hotter[i];
            log_longer += carry_[i * others + j] * longer[i];
        }
        o.peak_C = air_C_ + over_air(o.peak_C) * std::exp(log_hotter) - over_air(air_C_);
        o.seconds *= std::exp(log_longer);
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
