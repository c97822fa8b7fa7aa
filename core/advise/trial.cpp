// A change on the draws; see trial.hpp.
#include "advise/trial.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "learn/freewheel_kinds.hpp"
#include "learn/posterior.hpp"
#include "learn/readings.hpp"

namespace hotband {

Setup at_frequency(Setup s, double pwm_Hz) {
    for (MeasuredRow& row : s.measured) {
        row.pwm_Hz = row.pwm_Hz.value_or(s.esc.pwm_Hz);
    }
    s.esc.pwm_Hz = pwm_Hz;
    return s;
}

bool leaves_readings(const Setup& s, const Setup& changed) {
    return readings_of(changed).empty() && !readings_of(s).empty();
}

namespace {

// Work of flying a draw, in legs: each part is one as often as its turn comes, and its map is as
// dear as ten short ones.
double work_of_flight(const FlightSetup& flight, const std::vector<Outcome>& flown) {
    constexpr double map_legs = 10;
    const auto parts = static_cast<double>(flight.parts.size());
    double turn_s = 0;
    for (const FlightPart& part : flight.parts) {
        turn_s += seconds_of(flight, part);
    }
    double seconds = 0;  // of the mean flight
    for (const Outcome& o : flown) {
        seconds += o.seconds / static_cast<double>(flown.size());
    }
    const double legs = parts * std::max(1.0, turn_s > 0 ? seconds / turn_s : 1);
    return (legs > most_legs ? 1 : legs) + map_legs * parts;
}

}  // namespace

size_t trial_draws(const Setup& s, const Draws& draws) {
    constexpr double most_work = 17600;  // legs
    constexpr double fewest = 8;
    const double affordable = most_work / std::max(1.0, work_of_flight(s.flight, draws.flight));
    const double flown = std::clamp(affordable, fewest, static_cast<double>(most_trial_draws));
    return std::min(static_cast<size_t>(flown), draws.count());
}

Carried carry(const Setup& s, const Calibration& calibration, const Setup& changed) {
    Carried out;
    out.moved = reread(calibration, changed);
    bool anew = leaves_readings(s, changed) || out.moved.another ||
                chance_of_active(s) != chance_of_active(changed);
    if (!anew && !calibration.other.empty()) {
        out.other = reread(calibration.other.front(), changed);
        anew = weighed_otherwise(calibration, out.moved, out.other);
    }
    if (anew) {
        out.anew = calibrate(changed);
        out.belief = out.anew->belief;
        return out;
    }
    out.belief = carried_to(changed, calibration.belief);
    for (size_t i = 0; i < out.moved.by.size(); ++i) {
        out.belief.middle[i] += out.moved.by[i];
    }
    return out;
}

ChangedDraws::ChangedDraws(const Setup& s, const Calibration& calibration, const Draws& draws,
                           const Setup& changed, const Carried& carried)
    : changed_(&changed), priors_(carried.belief.priors), own_(carried.anew.has_value()) {
    if (own_) {
        z_ = posterior_draws(*carried.anew, static_cast<int>(draws.count()));
        return;
    }
    const std::vector<Prior>& before = calibration.belief.priors;
    const size_t rows = before.size();
    z_ = draws.z;
    for (size_t k = 0; k < draws.count(); ++k) {
        const std::span<double> z = std::span(z_).subspan(k * rows, rows);
        const std::vector<double>& by =
            (of_likelier(calibration, z) ? carried.moved : carried.other).by;
        for (size_t i = 0; i < rows; ++i) {
            if (!s.measured.empty() && told_anew(before[i], priors_[i])) {
                z[i] = 0;
            }
            z[i] += by.empty() ? 0 : by[i];
        }
    }
}

Plant ChangedDraws::plant(size_t k) const {
    return fitted_plant(*changed_, priors_,
                        std::span(z_).subspan(k * priors_.size(), priors_.size()));
}

Outcome ChangedDraws::fly(size_t k) const {
    return outcome_of(run_flight(plant(k), changed_->flight, Steps::trial).march,
                      changed_->esc.limit_C);
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

Trial::Trial(const Setup& s, const Draws& draws) : Trial(s, draws, draws.z, false) {}

Trial::Trial(const Setup& s, const Draws& draws, const std::vector<double>& z)
    : Trial(s, draws, z, true) {}

Trial::Trial(const Setup& s, const Draws& draws, const std::vector<double>& z, bool own)
    : draws_(draws), own_(own), air_C_(s.air.temperature_C) {
    const size_t count = draws.count();
    const size_t flown = trial_draws(s, draws);
    const size_t rows = count > 0 ? z.size() / count : 0;
    const auto likeness = [&](size_t a, size_t b) {
        double same = 0;
        for (size_t i = 0; i < rows; ++i) {
            same += z[a * rows + i] * z[b * rows + i];
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

// What the flights with the change are measured against: the same draws without it or, for draws of
// its own, the mean of those flown.
std::vector<Outcome> Trial::before(const std::vector<Outcome>& flown) const {
    if (!own_) {
        return draws_.flight;
    }
    Outcome mean;
    double log_rise = 0;
    double log_seconds = 0;
    for (const Outcome& o : flown) {
        log_rise += std::log(over_air(o.peak_C)) / static_cast<double>(flown.size());
        log_seconds += std::log(o.seconds) / static_cast<double>(flown.size());
    }
    mean.peak_C = air_C_ + std::exp(log_rise) - over_air(air_C_);
    mean.seconds = std::exp(log_seconds);
    std::vector<Outcome> alike(draws_.flight.size(), mean);
    return alike;
}

std::vector<Outcome> Trial::all(const std::vector<Outcome>& flown) const {
    const std::vector<Outcome> without = before(flown);
    std::vector<double> hotter;  // logarithms of the ratios
    std::vector<double> longer;
    for (size_t i = 0; i < flown.size(); ++i) {
        hotter.push_back(std::log(over_air(flown[i].peak_C) / over_air(without[i].peak_C)));
        longer.push_back(std::log(flown[i].seconds / without[i].seconds));
        if (!std::isfinite(hotter.back()) || !std::isfinite(longer.back())) {
            return flown;
        }
    }
    const size_t others = without.size() - flown.size();
    std::vector<Outcome> out = flown;
    for (size_t j = 0; j < others; ++j) {
        Outcome o = without[flown.size() + j];
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

void settle_middle(std::vector<Outcome>& all, size_t flown, const ChangedDraws& changed) {
    constexpr size_t within_places = 8;  // of the middle, on either side
    constexpr double within_errors = 3;  // of the estimates, as those flown prove
    const bool cheap = flown == most_trial_draws;
    const size_t most = cheap ? all.size() : flown / 2;
    std::vector<size_t> estimated;
    for (size_t k = flown; k < all.size(); ++k) {
        estimated.push_back(k);
    }
    double error_K2 = 0;  // sum of squares
    for (size_t n = 0; n < most && !estimated.empty(); ++n) {
        const double middle_C = peak_band(all).p50;
        const auto off_K = [&](size_t k) { return std::abs(all[k].peak_C - middle_C); };
        const auto next = std::min_element(estimated.begin(), estimated.end(),
                                           [&](size_t a, size_t b) { return off_K(a) < off_K(b); });
        const auto nearer = std::count_if(all.begin(), all.end(), [&](const Outcome& o) {
            return std::abs(o.peak_C - middle_C) < off_K(*next);
        });
        // What is estimated this far from the middle is on the side of it where it seems to be.
        const double error_K = n > 0 ? std::sqrt(error_K2 / static_cast<double>(n)) : 0;
        if (static_cast<size_t>(nearer) > 2 * within_places &&
            !(cheap && off_K(*next) < within_errors * error_K)) {
            break;
        }
        const double estimate_C = all[*next].peak_C;
        all[*next] = changed.fly(*next);
        error_K2 += (all[*next].peak_C - estimate_C) * (all[*next].peak_C - estimate_C);
        estimated.erase(next);
    }
}

std::vector<Outcome> fly_changed(const Setup& s, const Draws& draws, const Trial& trial,
                                 const ChangedDraws& changed) {
    const size_t first = trial_draws(s, draws);
    const bool cheap = first == most_trial_draws;
    std::vector<Outcome> flown;
    const auto fly_to = [&](size_t count) {
        while (flown.size() < count) {
            flown.push_back(changed.fly(flown.size()));
        }
    };
    fly_to(first);
    // Draws of its own have nothing to be measured against, and a runaway is no number.
    std::vector<Outcome> all;
    if (!changed.own()) {
        all = trial.all(flown);
    } else if (!cheap) {
        all = Trial(s, draws, changed.z()).all(flown);
    }
    if (all.size() < draws.count() && cheap) {
        fly_to(draws.count());
        return flown;
    }
    settle_middle(all, first, changed);
    return all;
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
