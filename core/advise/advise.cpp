// The walk: belief -> plant -> holds, flight -> bands, frequency, changes, why, checks -> verdict.
#include "advise/advise.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "advise/rooms.hpp"
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

const char* end_name(EndedBy e) {
    switch (e) {
        case EndedBy::sag:
            return "sag";
        case EndedBy::runaway:
            return "runaway";
        case EndedBy::reserve:
        case EndedBy::time:
            return "reserve";
    }
    return "reserve";
}

FlightReport report_flight(const Setup& s, const Plant& p, const FlightRun& run) {
    constexpr size_t most_rows = 72;
    FlightReport f;
    const std::vector<Moment>& all = run.march.moments;
    f.seconds = run.march.seconds;
    f.ended_by = end_name(run.march.ended_by);
    f.limit_after_s = seconds_to(run.march, p.limit_C);
    for (const DemandMap& map : run.plan.maps) {
        f.governor_saturates = f.governor_saturates || map.saturated;
    }
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

// A runaway's peak is not a number, and nothing is hotter.
bool hotter(const HoldReport& a, const HoldReport& b) {
    return std::isfinite(b.hold_peak_C.p50) && !(a.hold_peak_C.p50 <= b.hold_peak_C.p50);
}

BenchRun bench_of(const AskedHold& a) {
    return {.throttle = a.throttle_pct / 100,
            .pack_A = a.pack_A,
            .seconds = a.hold_s,
            .start_C = a.start_C,
            .speed_mps = a.flight_speed_mps};
}

}  // namespace

Report advise(const Setup& s, const AdviseOptions& options) {
    constexpr double none = std::numeric_limits<double>::quiet_NaN();
    Report r;
    const Calibration calibration = calibrate(s);
    const Belief& belief = calibration.belief;
    const Plant p = middle_plant(s, belief);

    const HoldRun full = run_hold(p, {{.throttle = 1}, {}, p.esc_start_C});
    size_t hottest = 0;
    for (const double pct : hold_grid(s)) {
        const HoldRun run = run_hold(p, {{.throttle = pct / 100}, {}, p.esc_start_C});
        r.holds.push_back(report_hold(p, run, full, p.esc_start_C));
        hottest = hotter(r.holds.back(), r.holds[hottest]) ? r.holds.size() - 1 : hottest;
    }
    r.why = r.holds[hottest].why;
    std::vector<BenchRun> asked;
    for (const AskedHold& a : s.ask_holds) {
        asked.push_back(bench_of(a));
        const BenchCase bench = bench_case(p, asked.back());
        const HoldRun run = run_hold(bench.plant, bench.ask);
        r.asked_holds.push_back(report_hold(bench.plant, run, full, bench.ask.start_C));
    }

    const FlightRun flight = run_flight(p, s.flight);
    r.flight = report_flight(s, p, flight);
    r.esc.limit_C = s.esc.limit_C;
    r.esc.runaway = flight.march.ended_by == EndedBy::runaway;
    r.esc.peak_C.p50 = r.esc.runaway ? none : flight.march.peak_board;
    r.esc.junction_peak_C = r.esc.runaway ? none : flight.march.peak_junction;
    const double middle_peak = r.esc.peak_C.p50;

    r.pwm = compare_pwm(s, belief);
    r.changes = find_changes(s, belief, flight, r.pwm);
    r.checks = run_checks(s, p, flight);
    r.assumptions = list_assumptions(s, belief);
    const Draws draws =
        options.samples > 0 ? fill_bands(s, calibration, options.samples, asked, r) : Draws{};
    r.untold_current = report_untold_current(s, p, belief, draws);
    if (r.untold_current && load_told(s) == LoadTold::size) {
        const Band& A = r.untold_current->pack_A;
        r.assumptions.push_back({r.untold_current->key, A.p50, A.p10.value_or(A.p50),
                                 A.p90.value_or(A.p50),
                                 "from its size, Kv and pack at the operating point", false});
    }
    r.learned = report_learning(s, calibration, p, r.holds, draws);
    r.esc.margin_K = r.esc.limit_C - r.esc.peak_C.p50;
    // The frequency table hangs on the same peak as the verdict: the draws' median, each choice
    // moved by its own difference on the middle plant.
    for (PwmChoice& c : r.pwm.choices) {
        c.esc_peak_C += r.esc.peak_C.p50 - middle_peak;
    }
    r.bands = find_bands(s, r.holds);
    r.verdict = judge(s, r);
    r.cautions = list_cautions(r);
    return r;
}

}  // namespace hotband
