// Draws through the whole chain; see spread.hpp.
#include "advise/spread.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <limits>
#include <numeric>

#include "advise/untold.hpp"
#include "learn/posterior.hpp"
#include "learn/sampling.hpp"
#include "physics/constants.hpp"
#include "physics/motor.hpp"
#include "physics/none.hpp"
#include "physics/order.hpp"

namespace hotband {
namespace {

double never() { return std::numeric_limits<double>::infinity(); }

std::vector<double> each(const std::vector<Outcome>& outcomes, double Outcome::*member) {
    std::vector<double> out;
    out.reserve(outcomes.size());
    for (const Outcome& o : outcomes) {
        out.push_back(o.*member);
    }
    return out;
}

// Places of those that tell of heat: a pack that gives in early leaves the ESC cool for no merit of
// its own. Where most do, all are taken: there is nothing else to go by.
std::vector<size_t> flown(const std::vector<Outcome>& outcomes) {
    std::vector<size_t> all(outcomes.size());
    std::iota(all.begin(), all.end(), size_t{0});
    std::vector<size_t> out;
    std::copy_if(all.begin(), all.end(), std::back_inserter(out),
                 [&](size_t i) { return !outcomes[i].cut_short; });
    return 2 * out.size() >= outcomes.size() ? out : all;
}

std::vector<double> each_flown(const std::vector<Outcome>& outcomes, double Outcome::*member) {
    std::vector<double> out;
    for (const size_t i : flown(outcomes)) {
        out.push_back(outcomes[i].*member);
    }
    return out;
}

// Time (s) by which half of the draws have passed the limit, where the median peak passes it: the
// two agree, as then at least half of the draws do.
std::optional<double> median_limit_s(const std::vector<Outcome>& outcomes, double peak_C,
                                     double limit_C) {
    if (peak_C < limit_C) {
        return {};
    }
    std::vector<double> times = each_flown(outcomes, &Outcome::limit_s);
    std::sort(times.begin(), times.end());
    return times[(times.size() - 1) / 2];
}

// Beyond a runaway all is hotter than everything: the march's last number there may be none, which
// has no place in a sort.
double or_beyond(double celsius) { return std::isfinite(celsius) ? celsius : never(); }

// Throttles whose holds are flown for every draw: about where the model's own error has its knots,
// and below. The holds between them follow their ratio to the middle plant, which is smooth in
// throttle but for the step at full-on, and both its sides are drawn. Where the middle plant runs
// away there is no ratio, and the neighbours' peaks themselves are followed.
std::vector<bool> first_drawn(const std::vector<HoldReport>& holds) {
    constexpr std::array<double, 8> wanted = {5, 10, 20, 30, 45, 60, 75, 90};
    const auto full = std::find_if(holds.begin(), holds.end(),
                                   [](const HoldReport& h) { return h.throttle_pct == 100; });
    std::vector<bool> drawn;
    for (auto hold = holds.begin(); hold != holds.end(); ++hold) {
        const double pct = hold->throttle_pct;
        const bool whole = std::find(wanted.begin(), wanted.end(), pct) != wanted.end();
        const bool last_chopping = full - hold == 1;
        drawn.push_back(whole || last_chopping || pct >= 100);
    }
    return drawn;
}

struct Neighbours {
    size_t below, above;
    double share;  // of the way from one to the other
};

Neighbours neighbours(const std::vector<bool>& drawn, const std::vector<HoldReport>& holds,
                      size_t i) {
    size_t a = i;
    size_t b = i;
    while (!drawn[a]) {
        --a;
    }
    while (!drawn[b]) {
        ++b;
    }
    const double from = holds[a].throttle_pct;
    const double to = holds[b].throttle_pct;
    return {a, b, a == b ? 0 : (holds[i].throttle_pct - from) / (to - from)};
}

// What the middle plant's holds reach, deg C.
struct Middle {
    std::vector<double> peak, winding;
};

// Fills in what one draw reaches in the holds that were not flown.
void fill_between(const std::vector<HoldReport>& holds, const std::vector<bool>& drawn,
                  const Middle& middle, size_t k, Draws& draws) {
    const Plant& p = draws.plants[k];
    FlownHolds peak(p.esc_start_C);
    FlownHolds winding(p.air.celsius);
    for (size_t i = 0; i < holds.size(); ++i) {
        // full throttle and beyond are all flown, and no part of the curve
        if (drawn[i] && holds[i].throttle_pct < 100) {
            const Outcome& flown = draws.holds[i][k];
            peak.add({holds[i].throttle_pct, flown.peak_C, middle.peak[i]});
            winding.add({holds[i].throttle_pct, flown.winding_C, middle.winding[i]});
        }
    }
    peak.join();
    winding.join();
    for (size_t i = 0; i < holds.size(); ++i) {
        if (drawn[i]) {
            continue;
        }
        const Neighbours n = neighbours(drawn, holds, i);
        const Outcome& below = draws.holds[n.below][k];
        const Outcome& above = draws.holds[n.above][k];
        Outcome& out = draws.holds[i][k];
        out.peak_C = peak.at(holds[i].throttle_pct, middle.peak[i]);
        out.peak_C = out.peak_C < runaway_junction_C ? out.peak_C : never();
        // never colder than the air that cools them
        out.winding_C = std::clamp(winding.at(holds[i].throttle_pct, middle.winding[i]),
                                   std::min(p.air.celsius, lost_winding_C), lost_winding_C);
        // The heat goes with the rate, and never is a rate of none.
        out.limit_s = 1 / ((1 - n.share) / below.limit_s + n.share / above.limit_s);
    }
}

// Few moments tell how hot it gets; when the limit is passed takes more.
void hold_all(const Draws& draws, const HoldReport& hold, double limit_C,
              std::vector<Outcome>& out) {
    for (const Plant& p : draws.plants) {
        const HoldAsk ask{{.throttle = hold.throttle_pct / 100}, {}, p.esc_start_C};
        const DemandMap map = map_demand(p, ask.demand);
        out.push_back(outcome_of(fly_hold(p, ask, map, Steps::trial), limit_C));
        if (std::isfinite(out.back().limit_s)) {
            out.back().limit_s = outcome_of(fly_hold(p, ask, map, Steps::drawn), limit_C).limit_s;
        }
    }
}

void fill_hold(HoldReport& hold, const std::vector<Outcome>& outcomes, double limit_C) {
    hold.hold_peak_C = peak_band(outcomes);
    hold.motor_C = band_of(each(outcomes, &Outcome::winding_C));
    hold.runaway = !std::isfinite(hold.hold_peak_C.p50);
    hold.seconds_to_limit =
        median_limit_s(outcomes, hold.runaway ? never() : hold.hold_peak_C.p50, limit_C);
    if (hold.seconds_to_limit) {
        hold.seconds_to_limit = std::min(*hold.seconds_to_limit, hold.hold_s);
    }
}

// Where the middle plant's hold would settle, and its mean, as far over the air as the draws'
// median peak is beside its own: a hold never peaks above where it settles.
void follow_peak(HoldReport& hold, double middle_peak_C, double air_C) {
    constexpr double least_K = 1;  // of a rise that says how far
    const double middle_K = middle_peak_C - air_C;
    const double drawn_K = hold.hold_peak_C.p50 - air_C;
    if (!(middle_K > least_K && drawn_K > least_K) || !std::isfinite(drawn_K / middle_K)) {
        return;
    }
    const double factor = drawn_K / middle_K;
    hold.hold_mean_C = air_C + factor * (hold.hold_mean_C - air_C);
    if (hold.steady_C) {
        const double celsius = air_C + factor * (*hold.steady_C - air_C);
        hold.steady_C = celsius < runaway_junction_C ? std::optional(celsius) : std::nullopt;
    }
}

}  // namespace

void FlownHolds::join() {
    std::vector<double> throttle_pct;
    std::vector<double> log_ratio;
    for (const FlownHold& hold : flown_) {
        const double ratio = (hold.own_C - start_C_) / (hold.middle_C - start_C_);
        if (tells(hold) && ratio > 0 && std::isfinite(ratio)) {
            throttle_pct.push_back(hold.throttle_pct);
            log_ratio.push_back(std::log(ratio));
        }
    }
    if (throttle_pct.size() > 1) {
        log_ratio_ = make_monotone(std::move(throttle_pct), std::move(log_ratio));
    }
}

bool FlownHolds::tells(const FlownHold& hold) const {
    constexpr double least_rise_K = 0.5;
    return std::abs(hold.middle_C - start_C_) > least_rise_K;
}

bool FlownHolds::is_joined(const FlownHold& hold) const {
    return std::binary_search(log_ratio_.x.begin(), log_ratio_.x.end(), hold.throttle_pct);
}

double FlownHolds::at(double throttle_pct, double middle_C) const {
    const auto above =
        std::upper_bound(flown_.begin() + 1, flown_.end() - 1, throttle_pct,
                         [](double pct, const FlownHold& hold) { return pct < hold.throttle_pct; });
    const FlownHold& lower = *(above - 1);
    const FlownHold& upper = *above;
    if (std::isfinite(middle_C) && is_joined(lower) && is_joined(upper)) {
        return start_C_ + std::exp(log_ratio_.at(throttle_pct)) * (middle_C - start_C_);
    }
    const bool has_ratio = std::isfinite(middle_C) && tells(lower) && tells(upper);
    const auto rise = [&](const FlownHold& hold) {
        const double own = hold.own_C - start_C_;
        const double ratio = own / (hold.middle_C - start_C_);
        return has_ratio && ratio > 0 ? ratio * (middle_C - start_C_) : own;
    };
    const double share =
        (throttle_pct - lower.throttle_pct) / (upper.throttle_pct - lower.throttle_pct);
    return start_C_ + (1 - share) * rise(lower) + share * rise(upper);
}

Band band_of(std::vector<double> values) {
    const double p50 = quantile(values, 0.5);
    Band b;
    b.p50 = std::isfinite(p50) ? p50 : none;
    const auto open = [&](double q) {
        const double v = quantile(values, q);
        return std::isfinite(v) ? std::optional(v) : std::nullopt;
    };
    b.p10 = open(1 - sure);
    b.p90 = open(sure);
    return b;
}

Band peak_band(const std::vector<Outcome>& outcomes) {
    return band_of(each_flown(outcomes, &Outcome::peak_C));
}

Outcome outcome_of(const March& m, double limit_C) {
    constexpr double half_flown = 0.5;  // of the usable charge
    return {peak_of(m),
            m.ended_by == EndedBy::runaway ? never() : m.peak_junction,
            limit_passed_s(m, limit_C).value_or(never()),
            m.seconds,
            m.ended_by,
            m.moments.back().heat.winding,
            m.ended_by == EndedBy::sag && m.charge_share < half_flown};
}

Draws draw_plants(const Setup& s, const Calibration& calibration, int samples) {
    const std::vector<Prior>& priors = calibration.belief.priors;
    const size_t rows = priors.size();
    Draws draws;
    draws.z = posterior_draws(calibration, samples);
    for (size_t k = 0; k < static_cast<size_t>(samples); ++k) {
        draws.plants.push_back(fitted_plant(s, priors, std::span(draws.z).subspan(k * rows, rows)));
    }
    if (is_current_untold(s)) {
        for (const Plant& p : draws.plants) {
            draws.full_A.push_back(fresh_current(p));
        }
    }
    return draws;
}

void fly_draws(const Setup& s, Draws& draws, Report& report) {
    std::vector<SeriesRow>& series = report.flight.series;
    std::vector<std::vector<double>> boards(series.size());
    std::vector<std::vector<double>> junctions(series.size());
    draws.flight.clear();
    double over = 0;
    for (const Plant& p : draws.plants) {
        const March m = run_flight(p, s.flight, Steps::drawn).march;
        draws.flight.push_back(outcome_of(m, s.esc.limit_C));
        over += draws.flight.back().peak_C > s.esc.limit_C ? 1 : 0;
        for (size_t i = 0; i < series.size(); ++i) {
            const HeatState now = heat_at(m, series[i].t_s);
            boards[i].push_back(or_beyond(now.board));
            junctions[i].push_back(or_beyond(now.junction));
        }
    }
    report.samples = static_cast<int>(draws.count());
    report.esc.chance_over_limit = over / static_cast<double>(draws.count());
    report.esc.peak_C = peak_band(draws.flight);
    report.esc.runaway = !std::isfinite(report.esc.peak_C.p50);
    report.esc.junction_peak_C = band_of(each_flown(draws.flight, &Outcome::peak_junction_C)).p50;
    report.flight.limit_after_s = median_limit_s(
        draws.flight, report.esc.runaway ? never() : report.esc.peak_C.p50, s.esc.limit_C);
    for (size_t i = 0; i < series.size(); ++i) {
        series[i].board_C = band_of(std::move(boards[i]));
        series[i].junction_C = band_of(std::move(junctions[i])).p50;
    }
}

void hold_draws(const Setup& s, Draws& draws, Report& report) {
    std::vector<HoldReport>& holds = report.holds;
    Middle middle;
    for (const HoldReport& h : holds) {
        middle.peak.push_back(h.hold_peak_C.p50);
        middle.winding.push_back(h.motor_C.p50);
    }
    std::vector<bool> drawn = first_drawn(holds);
    draws.holds.assign(holds.size(), {});
    for (size_t i = 0; i < holds.size(); ++i) {
        if (drawn[i]) {
            hold_all(draws, holds[i], s.esc.limit_C, draws.holds[i]);
        }
    }
    const auto runs_away = [&](size_t i) { return !std::isfinite(peak_band(draws.holds[i]).p50); };
    // Where a runaway begins is no place for a ratio: those holds are flown as well.
    const std::vector<bool> first = drawn;
    for (size_t i = 0; i < holds.size(); ++i) {
        const Neighbours n = neighbours(first, holds, i);
        if (!first[i] && (runs_away(n.below) != runs_away(n.above) ||
                          runs_away(n.below) != !std::isfinite(middle.peak[i]))) {
            drawn[i] = true;
            hold_all(draws, holds[i], s.esc.limit_C, draws.holds[i]);
        }
    }
    for (size_t i = 0; i < holds.size(); ++i) {
        draws.holds[i].resize(draws.count());
    }
    for (size_t k = 0; k < draws.count(); ++k) {
        fill_between(holds, drawn, middle, k, draws);
    }
    for (size_t i = 0; i < holds.size(); ++i) {
        fill_hold(holds[i], draws.holds[i], s.esc.limit_C);
        // an ESC that starts in the cold is still on its way to where the air has it
        if (s.flight.start_C.value_or(s.air.temperature_C) >= s.air.temperature_C) {
            follow_peak(holds[i], middle.peak[i], s.air.temperature_C);
        }
    }
}

void ask_draws(const Setup& s, const std::vector<BenchRun>& asked, Draws& draws, Report& report) {
    draws.asked.assign(asked.size(), {});
    for (size_t i = 0; i < asked.size(); ++i) {
        std::vector<double> pack_A;
        std::vector<double> rpm;
        for (const Plant& p : draws.plants) {
            const BenchCase bench = bench_case(p, asked[i]);
            const March m = fly_hold(bench.plant, bench.ask, Steps::drawn);
            const Moment& half_way = half_way_moment(bench.plant, m);
            draws.asked[i].push_back(outcome_of(m, s.esc.limit_C));
            pack_A.push_back(half_way.i_pack * bench.plant.pack.share);
            rpm.push_back(half_way.omega * 30 / pi);
        }
        HoldReport& h = report.asked_holds[i];
        fill_hold(h, draws.asked[i], s.esc.limit_C);
        h.pack_A_band = band_of(std::move(pack_A));
        h.rpm_band = band_of(std::move(rpm));
    }
}

std::vector<double> peaks_of(const std::vector<Outcome>& outcomes) {
    return each(outcomes, &Outcome::peak_C);
}

size_t median_draw(const std::vector<Outcome>& outcomes, bool runs_away) {
    const std::vector<size_t> tell = flown(outcomes);
    const std::vector<size_t> order = in_order(tell.size(), [&](size_t a, size_t b) {
        return outcomes[tell[a]].peak_C < outcomes[tell[b]].peak_C;
    });
    return tell[order[runs_away ? order.size() / 2 : (order.size() - 1) / 2]];
}

double surely_reached(std::vector<double> values) {
    std::sort(values.begin(), values.end());
    const auto may_fall_short =
        static_cast<size_t>((1 - sure) * static_cast<double>(values.size()) + 1e-9);
    return values[may_fall_short];
}

}  // namespace hotband
