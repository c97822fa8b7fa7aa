// Draws through the whole chain; see spread.hpp.
#include "advise/spread.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "advise/untold.hpp"
#include "learn/sampling.hpp"
#include "physics/constants.hpp"

namespace hotband {
namespace {

Band band_of(std::vector<double> values) {
    return {quantile(values, 0.1), quantile(values, 0.5), quantile(values, 0.9)};
}

// A peak for the statistics: a runaway has no temperature, it is hotter than everything.
double peak_of(const March& m) {
    return m.ended_by == EndedBy::runaway ? std::numeric_limits<double>::infinity() : m.peak_board;
}

// Board temperature at a time; after the landing it stays at the landing's. Beyond a runaway it is
// hotter than everything: the march's last number there may be none, which has no place in a sort.
double board_at(const March& m, double t, size_t& hint) {
    const std::vector<Moment>& all = m.moments;
    while (hint + 1 < all.size() && all[hint + 1].t < t) {
        ++hint;
    }
    double board = all.back().heat.board;
    if (hint + 1 < all.size()) {
        const Moment& a = all[hint];
        const Moment& b = all[hint + 1];
        const double share = b.t > a.t ? std::clamp((t - a.t) / (b.t - a.t), 0.0, 1.0) : 1;
        board = a.heat.board + share * (b.heat.board - a.heat.board);
    }
    return std::isfinite(board) ? board : std::numeric_limits<double>::infinity();
}

// Runaway has no temperature: such a quantile is left open.
void open_runaways(Band& b) {
    for (std::optional<double>* v : {&b.p10, &b.p90}) {
        if (*v && !std::isfinite(**v)) {
            v->reset();
        }
    }
    if (!std::isfinite(b.p50)) {
        b.p50 = std::numeric_limits<double>::quiet_NaN();
    }
}

// Throttles whose holds are flown for every draw; the holds between them follow their neighbours'
// ratio to the middle plant, which is smooth in throttle but for the step at full-on, and both its
// sides are drawn. Where the middle plant runs away there is no ratio, and the neighbours' peaks
// themselves are followed.
std::vector<size_t> drawn_holds(const std::vector<HoldReport>& holds) {
    constexpr std::array<double, 7> wanted = {5, 10, 20, 40, 60, 75, 90};
    std::vector<size_t> out;
    for (size_t i = 0; i < holds.size(); ++i) {
        const double pct = holds[i].throttle_pct;
        const bool whole = std::find(wanted.begin(), wanted.end(), pct) != wanted.end();
        const bool last_chopping = i + 1 < holds.size() && holds[i + 1].throttle_pct == 100;
        if (whole || last_chopping || pct >= 100) {
            out.push_back(i);
        }
    }
    return out;
}

// Peaks of all holds of one draw from those flown.
std::vector<double> spread_to_all(const std::vector<size_t>& drawn,
                                  const std::vector<double>& peaks,
                                  const std::vector<HoldReport>& holds,
                                  const std::vector<double>& middle, double start_C) {
    constexpr double least_rise_K = 0.5;
    std::vector<double> out(holds.size());
    for (size_t i = 0, k = 0; i < holds.size(); ++i) {
        while (k + 2 < drawn.size() && drawn[k + 1] < i) {
            ++k;
        }
        const double from = holds[drawn[k]].throttle_pct;
        const double to = holds[drawn[k + 1]].throttle_pct;
        const double share = std::clamp((holds[i].throttle_pct - from) / (to - from), 0.0, 1.0);
        if (share == 0 || share == 1) {
            out[i] = peaks[share == 0 ? k : k + 1];
            continue;
        }
        const auto rise = [&](size_t hold) { return middle[hold] - start_C; };
        const bool has_ratio = std::isfinite(middle[i]) &&
                               std::abs(rise(drawn[k])) > least_rise_K &&
                               std::abs(rise(drawn[k + 1])) > least_rise_K;
        const auto like = [&](size_t n) {
            const double own = peaks[n] - start_C;
            return has_ratio ? own / rise(drawn[n]) * rise(i) : own;
        };
        // A neighbour that runs away is hotter than everything, and so is what lies beside it.
        out[i] = start_C + (1 - share) * like(k) + share * like(k + 1);
    }
    return out;
}

// What every draw answers to one asked hold.
struct AskedDraws {
    std::vector<double> peak, motor, pack_A, rpm;
};

}  // namespace

Draws fill_bands(const Setup& s, const Calibration& calibration, int samples,
                 const std::vector<BenchRun>& asked, Report& report) {
    const std::vector<Prior>& priors = calibration.belief.priors;
    const size_t rows = priors.size();
    Draws draws;
    draws.z = posterior_draws(s, calibration, samples);
    std::vector<double>& flight_peak = draws.flight_peak;
    std::vector<std::vector<double>>& holds = draws.holds;
    holds.resize(report.holds.size());
    const auto n = static_cast<size_t>(samples);
    std::vector<std::vector<double>> series(report.flight.series.size());
    std::vector<AskedDraws> asked_draws(asked.size());
    std::vector<std::vector<double>> motors(report.holds.size());
    const std::vector<size_t> drawn = drawn_holds(report.holds);
    std::vector<double> middle;
    std::vector<double> middle_motor;
    for (const HoldReport& h : report.holds) {
        middle.push_back(h.hold_peak_C.p50);
        middle_motor.push_back(h.motor_C.p50);
    }
    double over = 0;
    for (size_t k = 0; k < n; ++k) {
        const Plant p = fitted_plant(s, priors, std::span(draws.z).subspan(k * rows, rows));
        const FlightRun run = run_flight(p, s.flight, true);
        flight_peak.push_back(peak_of(run.march));
        over += flight_peak.back() > s.esc.limit_C ? 1 : 0;
        size_t hint = 0;
        for (size_t i = 0; i < series.size(); ++i) {
            series[i].push_back(board_at(run.march, report.flight.series[i].t_s, hint));
        }
        draws.full_A.push_back(fresh_current(p));
        std::vector<double> peaks;
        std::vector<double> winding;
        for (const size_t i : drawn) {
            const Demand d{.throttle = report.holds[i].throttle_pct / 100};
            const March m = fly_hold(p, {d, {}, p.esc_start_C}, true);
            peaks.push_back(peak_of(m));
            winding.push_back(m.moments.back().heat.winding);
        }
        const std::vector<double> all =
            spread_to_all(drawn, peaks, report.holds, middle, p.esc_start_C);
        const std::vector<double> all_motors =
            spread_to_all(drawn, winding, report.holds, middle_motor, p.air.celsius);
        for (size_t i = 0; i < holds.size(); ++i) {
            holds[i].push_back(all[i]);
            motors[i].push_back(all_motors[i]);
        }
        for (size_t i = 0; i < asked.size(); ++i) {
            const BenchCase bench = bench_case(p, asked[i]);
            const March m = fly_hold(bench.plant, bench.ask, true);
            const Moment& half_way = half_way_moment(bench.plant, m);
            AskedDraws& a = asked_draws[i];
            a.peak.push_back(peak_of(m));
            a.motor.push_back(m.moments.back().heat.winding);
            a.pack_A.push_back(half_way.i_pack * bench.plant.pack.share);
            a.rpm.push_back(half_way.omega * 30 / pi);
        }
    }
    report.samples = samples;
    report.esc.peak_C = band_of(flight_peak);
    report.esc.chance_over_limit = over / samples;
    for (size_t i = 0; i < series.size(); ++i) {
        report.flight.series[i].board_C = band_of(series[i]);
    }
    for (size_t i = 0; i < holds.size(); ++i) {
        report.holds[i].hold_peak_C = band_of(holds[i]);
        open_runaways(report.holds[i].hold_peak_C);
        report.holds[i].motor_C = band_of(motors[i]);
    }
    for (size_t i = 0; i < asked_draws.size(); ++i) {
        HoldReport& h = report.asked_holds[i];
        h.hold_peak_C = band_of(asked_draws[i].peak);
        open_runaways(h.hold_peak_C);
        h.motor_C = band_of(asked_draws[i].motor);
        h.pack_A_band = band_of(asked_draws[i].pack_A);
        h.rpm_band = band_of(asked_draws[i].rpm);
    }
    open_runaways(report.esc.peak_C);
    return draws;
}

}  // namespace hotband
