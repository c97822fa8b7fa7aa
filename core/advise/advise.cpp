// The walk: belief -> plant -> holds, flight -> bands, frequency, changes, why, checks -> verdict.
#include "advise/advise.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "advise/spread.hpp"
#include "advise/text.hpp"
#include "advise/untold.hpp"

namespace hotband {
namespace {

// 5..100 % in steps of 5, the flight's own throttles, and the last throttle that still chops.
std::vector<double> hold_grid(const Setup& s) {
    std::vector<double> grid;
    for (int pct = 5; pct <= 100; pct += 5) {
        grid.push_back(pct);
    }
    const bool governed = s.load.kind == LoadKind::governed;
    if (!governed && s.esc.drive == Drive::six_step && s.esc.full_on_pct < 100) {
        grid.push_back(s.esc.full_on_pct - 0.1);
    }
    if (governed) {
        double most = 100;
        for (const FlightPart& part : s.flight.parts) {
            most = std::max(most, part.throttle_pct);
        }
        for (double pct = 110; pct < most + 10 && most > 100; pct += 10) {
            grid.push_back(std::min(pct, most));
        }
    }
    std::sort(grid.begin(), grid.end());
    grid.erase(std::unique(grid.begin(), grid.end()), grid.end());
    return grid;
}

FlightReport report_flight(const Setup& s, const Plant& p, const FlightRun& run) {
    constexpr size_t most_rows = 72;
    FlightReport f;
    const std::vector<Moment>& all = run.march.moments;
    f.seconds = run.march.seconds;
    f.ended_by = run.march.ended_by;
    f.limit_after_s = limit_passed_s(run.march, p.limit_C);
    const RotorSpeed rotor = rotor_speed(p, run);
    f.rotor_speed_reached = rotor.reached;
    f.governor_saturates = !rotor.kept;
    f.cool_down_s = cool_down_seconds(p, all.back().heat, 5);
    const size_t stride = (all.size() + most_rows - 1) / most_rows;
    for (size_t i = 0; i < all.size(); ++i) {
        if (i % stride != 0 && i + 1 != all.size()) {
            continue;
        }
        const Moment& m = all[i];
        SeriesRow row;
        row.t_s = m.t;
        row.throttle_pct = percent(m.throttle);
        row.board_C.p50 = m.heat.board;
        row.junction_C = m.heat.junction;
        row.pack_A = m.i_pack * p.pack.share;
        row.pack_V = m.cell_V * p.pack.series;
        row.motor_A = m.i_motor;
        row.motor_C = m.heat.winding;
        row.charge_pct = 100 * m.charge;
        f.series.push_back(row);
    }
    if (s.flight.kind == FlightKind::shares) {
        for (size_t i = 0; i < s.flight.parts.size(); ++i) {
            const double seconds = s.flight.parts[i].share_pct / 100 * f.seconds;
            const March m = fly_hold(p, {run.plan.demands[i], seconds, p.esc_start_C});
            f.longest_holds.push_back({s.flight.parts[i].throttle_pct, seconds, m.peak_board});
        }
    }
    return f;
}

BenchRun bench_of(const AskedHold& a) {
    return {.throttle = a.throttle_pct / 100,
            .pack_A = a.pack_A,
            .seconds = a.hold_s,
            .start_C = a.start_C,
            .speed_mps = a.flight_speed_mps};
}

EscReport report_esc(const Setup& s, const March& m) {
    constexpr double none = std::numeric_limits<double>::quiet_NaN();
    EscReport e;
    e.limit_C = s.esc.limit_C;
    e.runaway = m.ended_by == EndedBy::runaway;
    e.peak_C.p50 = e.runaway ? none : m.peak_board;
    e.junction_peak_C = e.runaway ? none : m.peak_junction;
    return e;
}

// The middle plant stands for what is believed, but where half of the draws run away and it does
// not, or the other way round: there the draw with the median peak does.
bool stands_for(EndedBy middle, bool runaway) { return (middle == EndedBy::runaway) == runaway; }

HoldReport with_spread_of(HoldReport figures, const HoldReport& spread) {
    figures.hold_peak_C = spread.hold_peak_C;
    figures.motor_C = spread.motor_C;
    figures.pack_A_band = spread.pack_A_band;
    figures.rpm_band = spread.rpm_band;
    figures.seconds_to_limit = spread.seconds_to_limit;
    if (figures.seconds_to_limit) {
        figures.seconds_to_limit = std::min(*figures.seconds_to_limit, figures.hold_s);
    }
    figures.runaway = spread.runaway;
    return figures;
}

size_t hottest_of(const std::vector<HoldReport>& holds) {
    // A runaway's peak is not a number, and nothing is hotter.
    const auto hotter = [](const HoldReport& a, const HoldReport& b) {
        return std::isfinite(b.hold_peak_C.p50) && !(a.hold_peak_C.p50 <= b.hold_peak_C.p50);
    };
    size_t hottest = 0;
    for (size_t i = 1; i < holds.size(); ++i) {
        hottest = hotter(holds[i], holds[hottest]) ? i : hottest;
    }
    return hottest;
}

}  // namespace

Report advise(const Setup& s, const AdviseOptions& options) {
    const Scale in = options.scale;
    Report r;
    const Calibration calibration = calibrate(s);
    const Belief& belief = calibration.belief;
    const Plant p = middle_plant(s, belief);
    Draws draws = options.samples > 0 ? draw_plants(s, calibration, options.samples) : Draws{};

    // The flight.
    FlightRun flight = run_flight(p, s.flight);
    r.flight = report_flight(s, p, flight);
    r.esc = report_esc(s, flight.march);
    const FlightRun middle_flight = flight;
    if (draws.count() > 0) {
        fly_draws(s, draws, r);
        if (!stands_for(flight.march.ended_by, r.esc.runaway)) {
            const Plant& other = draws.plants[median_draw(draws.flight, r.esc.runaway)];
            flight = run_flight(other, s.flight);
            r.flight = report_flight(s, other, flight);
            fly_draws(s, draws, r);
        }
    }
    r.esc.margin_K = r.esc.limit_C - r.esc.peak_C.p50;
    PwmTrial pwm = compare_pwm(s, calibration, draws, r.esc.peak_C.p50, in);
    r.checks = run_checks(s, p, flight);
    r.changes = find_changes(s, calibration, middle_flight, r.checks, pwm, draws, in);
    r.pwm = std::move(pwm.report);

    // The holds.
    std::vector<HoldRun> runs;
    for (const double pct : hold_grid(s)) {
        runs.push_back(run_hold(p, {{.throttle = pct / 100}, {}, p.esc_start_C}));
        r.holds.push_back(report_hold(p, runs.back()));
    }
    std::vector<BenchRun> asked;
    std::vector<HoldRun> asked_runs;
    for (const AskedHold& a : s.ask_holds) {
        asked.push_back(bench_of(a));
        const BenchCase bench = bench_case(p, asked.back());
        asked_runs.push_back(run_hold(bench.plant, bench.ask));
        r.asked_holds.push_back(report_hold(bench.plant, asked_runs.back()));
    }
    if (draws.count() > 0) {
        hold_draws(s, draws, r);
        ask_draws(s, asked, draws, r);
    }
    for (size_t i = 0; i < runs.size(); ++i) {
        HoldReport& h = r.holds[i];
        if (!stands_for(h.ended_by, h.runaway)) {
            const Plant& other = draws.plants[median_draw(draws.holds[i], h.runaway)];
            const Demand d{.throttle = h.throttle_pct / 100};
            runs[i] = run_hold(other, {d, {}, other.esc_start_C});
            h = with_spread_of(report_hold(other, runs[i]), h);
        }
    }
    for (size_t i = 0; i < asked_runs.size(); ++i) {
        HoldReport& h = r.asked_holds[i];
        if (!stands_for(h.ended_by, h.runaway)) {
            const BenchCase bench =
                bench_case(draws.plants[median_draw(draws.asked[i], h.runaway)], asked[i]);
            asked_runs[i] = run_hold(bench.plant, bench.ask);
            h = with_spread_of(report_hold(bench.plant, asked_runs[i]), h);
        }
    }

    // What they say.
    const auto told = [](const HoldRun& run, const HoldReport& h) {
        return ToldHold{&run, h.hold_peak_C.p50};
    };
    const auto reference = static_cast<size_t>(
        std::find_if(r.holds.begin(), r.holds.end(),
                     [](const HoldReport& h) { return h.throttle_pct == 100; }) -
        r.holds.begin());
    const ToldHold full = told(runs[reference], r.holds[reference]);
    for (size_t i = 0; i < runs.size(); ++i) {
        r.holds[i].why = explain(p, told(runs[i], r.holds[i]), full, in);
    }
    for (size_t i = 0; i < asked_runs.size(); ++i) {
        const Plant day = bench_case(p, asked[i]).plant;
        r.asked_holds[i].why = explain(day, told(asked_runs[i], r.asked_holds[i]), full, in);
    }
    const size_t hottest = hottest_of(r.holds);
    r.why = r.holds[hottest].why;
    r.why_over_air = explain_over_air(p, told(runs[hottest], r.holds[hottest]), in);
    r.bands = find_bands(s, r.holds, in);
    r.hover = find_hover(s, r.holds, draws);
    r.limits = find_limits(s, belief, r.flight, r.holds, draws, in);
    r.untold_current = report_untold_current(s, p, belief, draws, in);
    r.learned = report_learning(s, calibration, p, draws, in);
    r.assumptions = list_assumptions(s, calibration);
    if (r.untold_current && load_told(s) == LoadTold::size) {
        const Band& A = r.untold_current->pack_A;
        r.assumptions.push_back({r.untold_current->key, A.p50, A.p10.value_or(A.p50),
                                 A.p90.value_or(A.p50),
                                 "from its size, Kv and pack at the operating point", false});
    }
    r.verdict = judge(s, r, in);
    r.cautions = list_cautions(r, in);
    return r;
}

}  // namespace hotband
