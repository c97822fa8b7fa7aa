// A change on the draws; see trial.hpp.
#include "advise/trial.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "learn/freewheel_kinds.hpp"
#include "learn/linear.hpp"
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
    return readings_of(changed).size() < readings_of(s).size();
}

namespace {

// Work of flying a draw, in legs: each part is one as often as its turn comes, a map is as dear as
// ten short ones, and one that lies among others as one.
double work_of_flight(const FlightSetup& flight, const std::vector<Outcome>& flown) {
    constexpr double map_legs = 10;
    double turn_s = 0;
    for (const FlightPart& part : flight.parts) {
        turn_s += seconds_of(flight, part);
    }
    double seconds = 0;  // of the mean flight
    for (const Outcome& o : flown) {
        seconds += o.seconds / static_cast<double>(flown.size());
    }
    const size_t parts = flight.parts.size();
    const size_t solved = std::min(parts, most_maps);
    return legs_flown(parts, turn_s, std::max(1.0, turn_s > 0 ? seconds / turn_s : 1)) +
           map_legs * static_cast<double>(solved) + static_cast<double>(parts - solved);
}

}  // namespace

size_t trial_draws(const Setup& s, const Draws& draws) {
    constexpr double most_work = 11500;  // legs
    constexpr double fewest = 8;
    const double affordable = most_work / std::max(1.0, work_of_flight(s.flight, draws.flight));
    const double flown = std::clamp(affordable, fewest, static_cast<double>(most_trial_draws));
    return std::min(static_cast<size_t>(flown), draws.count());
}

Carried carry(const Setup& s, const Calibration& calibration, const Setup& changed) {
    Carried out = carry_at_first(s, calibration, changed);
    if (out.only_followed) {
        learn_anew(changed, out);
    }
    return out;
}

Carried carry_at_first(const Setup& s, const Calibration& calibration, const Setup& changed) {
    Carried out;
    out.moved = reread(calibration, changed);
    const bool followed = !out.moved.another || !out.moved.by.empty();
    if (!followed || leaves_readings(s, changed) ||
        chance_of_active(s) != chance_of_active(changed)) {
        learn_anew(changed, out);
        return out;
    }
    out.only_followed = out.moved.another;
    if (!out.only_followed && !calibration.other.empty()) {
        out.other = reread(calibration.other.front(), changed);
        out.only_followed = weighed_otherwise(calibration, out.moved, out.other);
    }
    out.belief = carried_to(changed, calibration.belief);
    for (size_t i = 0; i < out.moved.by.size(); ++i) {
        out.belief.middle[i] += out.moved.by[i];
    }
    return out;
}

void learn_anew(const Setup& changed, Carried& carried) {
    // There may be a score of changes, and what contradicts itself takes all the work there is.
    constexpr double most_work = most_fit_work / 4;
    carried.anew = calibrate(changed, most_work);
    carried.belief = carried.anew->belief;
    carried.only_followed = false;
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
    const auto first = static_cast<Eigen::Index>(flown);
    Eigen::MatrixXd among_flown(first, first);
    Eigen::MatrixXd to_others(first, static_cast<Eigen::Index>(count) - first);
    for (size_t a = 0; a < flown; ++a) {
        const auto row = static_cast<Eigen::Index>(a);
        for (size_t b = 0; b < count; ++b) {
            const auto column = static_cast<Eigen::Index>(b);
            if (b < flown) {
                among_flown(row, column) = likeness(a, b) + (a == b ? ridge : 0);
            } else {
                to_others(row, column - first) = likeness(a, b);
            }
        }
    }
    carry_ = Positive(among_flown).solve_all(to_others);
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

namespace {

// Puts the mean of the others where there is no number. False where less than half are numbers.
bool mean_where_none(Eigen::VectorXd& values) {
    double sum = 0;
    double numbers = 0;
    for (const double v : values) {
        if (std::isfinite(v)) {
            sum += v;
            numbers += 1;
        }
    }
    for (double& v : values) {
        v = std::isfinite(v) ? v : sum / numbers;
    }
    return 2 * numbers >= static_cast<double>(values.size());
}

}  // namespace

std::vector<Outcome> Trial::all(const std::vector<Outcome>& flown) const {
    const std::vector<Outcome> without = before(flown);
    Eigen::VectorXd hotter(static_cast<Eigen::Index>(flown.size()));  // logarithms of the ratios
    Eigen::VectorXd longer = hotter;
    for (size_t i = 0; i < flown.size(); ++i) {
        const auto row = static_cast<Eigen::Index>(i);
        hotter(row) = std::log(over_air(flown[i].peak_C) / over_air(without[i].peak_C));
        longer(row) = std::log(flown[i].seconds / without[i].seconds);
    }
    if (!mean_where_none(hotter) || !mean_where_none(longer)) {
        return flown;
    }
    const size_t others = without.size() - flown.size();
    std::vector<Outcome> out = flown;
    for (size_t j = 0; j < others; ++j) {
        Outcome o = without[flown.size() + j];
        const auto weights = carry_.col(static_cast<Eigen::Index>(j));
        const double log_hotter = weights.dot(hotter);
        o.peak_C = air_C_ + over_air(o.peak_C) * std::exp(log_hotter) - over_air(air_C_);
        o.seconds *= std::exp(weights.dot(longer));
        out.push_back(o);
    }
    return out;
}

namespace {

// Flights of which all but the first are estimates, and those flown after all, one by one.
class Settling {
 public:
    Settling(std::vector<Outcome>& all, size_t flown, const ChangedDraws& changed)
        : all_(all), changed_(changed), estimated_(all.size()) {
        std::fill(estimated_.begin() + static_cast<std::ptrdiff_t>(flown), estimated_.end(), 1);
    }

    bool is_estimate(size_t k) const { return estimated_[k] != 0; }

    // The estimate nearest to a temperature; past the last where there is none.
    size_t nearest(double celsius) const {
        double least_K = std::numeric_limits<double>::infinity();
        size_t nearest = all_.size();
        for (size_t k = 0; k < all_.size(); ++k) {
            const double off_K = std::abs(all_[k].peak_C - celsius);
            if (is_estimate(k) && off_K < least_K) {
                least_K = off_K;
                nearest = k;
            }
        }
        return nearest;
    }

    void fly(size_t k) {
        all_[k] = changed_.fly(k);
        estimated_[k] = 0;
    }

    // The same where it shows what estimates are worth.
    void try_estimate(size_t k) {
        const double estimate_C = all_[k].peak_C;
        fly(k);
        error_K2_ += (all_[k].peak_C - estimate_C) * (all_[k].peak_C - estimate_C);
        tried_ += 1;
    }

    // Three times what estimates are off, as those tried prove: what is estimated this far from
    // somewhere is on the side of it where it seems to be.
    double surely_within_K() const { return tried_ > 0 ? 3 * std::sqrt(error_K2_ / tried_) : 0; }

 private:
    std::vector<Outcome>& all_;
    const ChangedDraws& changed_;
    std::vector<char> estimated_;
    double error_K2_ = 0;  // sum of squares
    double tried_ = 0;
};

size_t count_nearer(const std::vector<Outcome>& all, double celsius, double off_K) {
    size_t count = 0;
    for (const Outcome& o : all) {
        count += std::abs(o.peak_C - celsius) < off_K ? 1 : 0;
    }
    return count;
}

void settle_middle(const std::vector<Outcome>& all, size_t most, bool cheap, Settling& settling) {
    constexpr size_t within_places = 8;  // of the middle, on either side
    for (size_t n = 0; n < most; ++n) {
        const double middle_C = peak_band(all).p50;
        const size_t next = settling.nearest(middle_C);
        if (next == all.size()) {
            return;
        }
        const double off_K = std::abs(all[next].peak_C - middle_C);
        if (count_nearer(all, middle_C, off_K) > 2 * within_places &&
            !(cheap && off_K < settling.surely_within_K())) {
            return;
        }
        settling.try_estimate(next);
    }
}

// Until estimates that may stand on the other side of the limit no longer decide whether it is
// kept.
void settle_limit(const std::vector<Outcome>& all, double limit_C, Settling& settling) {
    const double wanted = sure * static_cast<double>(all.size());
    while (true) {
        const double within_K = settling.surely_within_K();
        double least = 0;
        double most = 0;
        for (size_t k = 0; k < all.size(); ++k) {
            const bool may_turn =
                settling.is_estimate(k) && std::abs(all[k].peak_C - limit_C) < within_K;
            const bool keeps = all[k].peak_C <= limit_C;
            least += keeps && !may_turn ? 1 : 0;
            most += keeps || may_turn ? 1 : 0;
        }
        if (least >= wanted || most < wanted) {
            return;
        }
        settling.try_estimate(settling.nearest(limit_C));
    }
}

}  // namespace

void settle(std::vector<Outcome>& all, size_t flown, const ChangedDraws& changed,
            double lost_from_C) {
    const bool cheap = flown == most_trial_draws;
    Settling settling(all, flown, changed);
    for (size_t k = 0; cheap && k < all.size(); ++k) {
        if (settling.is_estimate(k) && all[k].peak_C >= lost_from_C) {
            settling.fly(k);
        }
    }
    settle_middle(all, cheap ? all.size() : flown / 2, cheap, settling);
    if (cheap) {
        settle_limit(all, changed.limit_C(), settling);
    }
}

namespace {

// From which peak on (deg C) a draw may be lost with a change: that of the coolest of those that it
// is known to lose, or what silicon is made for (150 deg C; data sheets).
double lost_from(const std::vector<Outcome>& before, const std::vector<Outcome>& after) {
    double coolest_C = 150;
    for (size_t k = 0; k < after.size(); ++k) {
        if (!std::isfinite(after[k].peak_C)) {
            coolest_C = std::min(coolest_C, before[k].peak_C);
        }
    }
    return coolest_C;
}

}  // namespace

std::vector<Outcome> fly_others(const Setup& s, const Draws& draws, const Trial& trial,
                                const ChangedDraws& changed, std::vector<Outcome> flown) {
    const size_t first = flown.size();
    const bool cheap = first == most_trial_draws;
    // Draws of its own have nothing to be measured against.
    std::vector<Outcome> all;
    if (!changed.own()) {
        all = trial.all(flown);
    } else if (!cheap) {
        all = Trial(s, draws, changed.z()).all(flown);
    }
    if (all.size() < draws.count() && cheap) {
        while (flown.size() < draws.count()) {
            flown.push_back(changed.fly(flown.size()));
        }
        return flown;
    }
    // A runaway is no number.
    if (!cheap && std::any_of(all.begin(), all.end(),
                              [](const Outcome& o) { return !std::isfinite(o.peak_C); })) {
        return flown;
    }
    settle(all, first, changed, lost_from(draws.flight, flown));
    return all;
}

std::vector<Outcome> fly_changed(const Setup& s, const Draws& draws, const Trial& trial,
                                 const ChangedDraws& changed) {
    std::vector<Outcome> flown;
    for (size_t k = 0; k < trial_draws(s, draws); ++k) {
        flown.push_back(changed.fly(k));
    }
    return fly_others(s, draws, trial, changed, std::move(flown));
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
