// The walk: belief -> plant -> holds, flight -> bands, frequency, changes, why, checks -> verdict.
#include "advise/advise.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <utility>

#include "advise/spread.hpp"
#include "advise/text.hpp"
#include "advise/untold.hpp"
#include "physics/none.hpp"

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

// Whether the one at `i` of so many is among those that show them, evenly, at most `most`.
bool is_shown(size_t i, size_t count, size_t most) {
    return count <= most || i * most / count != (i + 1) * most / count;
}

// The moments that show a flight: its first and last, those on either side of a change of throttle,
// where currents and volts jump, and others between them.
std::vector<size_t> shown_moments(const std::vector<Moment>& all) {
    constexpr size_t most_changes = 48;
    constexpr size_t most_others = 48;
    const size_t last = all.size() - 1;
    const auto changes_after = [&](size_t i) { return i < last && all[i + 1].t == all[i].t; };
    size_t changes = 0;
    for (size_t i = 0; i < last; ++i) {
        changes += changes_after(i) ? 1 : 0;
    }
    const size_t others = all.size() - 2 * changes;
    std::vector<size_t> shown;
    size_t change = 0;
    size_t other = 0;
    bool changed = false;  // before this one, and that is shown
    for (size_t i = 0; i <= last; ++i) {
        bool shows = i == 0 || i == last || changed;
        const bool in_pair = i > 0 && changes_after(i - 1);
        changed = changes_after(i) && is_shown(change++, changes, most_changes);
        if (!changes_after(i) && !in_pair) {
            shows = is_shown(other++, others, most_others) || shows;
        }
        if (shows || changed) {
            shown.push_back(i);
        }
    }
    return shown;
}

FlightReport report_flight(const Setup& s, const Plant& p, const FlightRun& run) {
    FlightReport f;
    const std::vector<Moment>& all = run.march.moments;
    f.seconds = run.march.seconds;
    f.ended_by = run.march.ended_by;
    f.limit_after_s = limit_passed_s(run.march, p.limit_C);
    const RotorSpeed rotor = rotor_speed(p, run);
    f.rotor_speed_reached = rotor.reached;
    f.governor_saturates = !rotor.kept;
    f.cool_down_s = cool_down_seconds(p, all.back().heat, 5);
    for (const size_t i : shown_moments(all)) {
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

// What the rooms share on the walk.
struct Walk {
    const Setup& s;
    Scale in;
    Calibration calibration;
    Plant middle;
    Draws draws;  // none without samples

    bool has_draws() const { return draws.count() > 0; }
};

Walk begin_walk(const Setup& s, const AdviseOptions& options) {
    Calibration calibration = calibrate(s);
    Plant middle = middle_plant(s, calibration.belief);
    Draws draws = options.samples > 0 ? draw_plants(s, calibration, options.samples) : Draws{};
    return {s, options.scale, std::move(calibration), std::move(middle), std::move(draws)};
}

// The middle plant's flight, which changes are measured against, and the one that is told.
struct Flights {
    FlightRun middle, told;
};

Flights report_flights(Walk& walk, Report& r) {
    const Setup& s = walk.s;
    const FlightRun middle = run_flight(walk.middle, s.flight);
    Flights flights{middle, middle};
    r.flight = report_flight(s, walk.middle, middle);
    r.esc = report_esc(s, middle.march);
    if (walk.has_draws()) {
        fly_draws(s, walk.draws, r);
        if (!stands_for(middle.march.ended_by, r.esc.runaway)) {
            const Plant& other = walk.draws.plants[median_draw(walk.draws.flight, r.esc.runaway)];
            flights.told = run_flight(other, s.flight);
            // On the edge of it the steps decide: those that the draws were flown in then.
            if (!stands_for(flights.told.march.ended_by, r.esc.runaway)) {
                flights.told = run_flight(other, s.flight, Steps::drawn);
            }
            r.flight = report_flight(s, other, flights.told);
            fly_draws(s, walk.draws, r);
        }
    }
    r.esc.margin_K = r.esc.limit_C - r.esc.peak_C.p50;
    return flights;
}

// A hold of the report: how it is asked of a plant, and how it went on the plant that is told of.
struct Held {
    std::function<BenchCase(const Plant&)> ask;
    HoldRun run;
};

HoldReport hold_on(const Plant& p, Held& held) {
    const BenchCase bench = held.ask(p);
    held.run = run_hold(bench.plant, bench.ask);
    return report_hold(bench.plant, held.run);
}

std::vector<HoldReport> hold_each(const Plant& p, std::vector<Held>& all) {
    std::vector<HoldReport> out(all.size());
    std::transform(all.begin(), all.end(), out.begin(), [&](Held& one) { return hold_on(p, one); });
    return out;
}

// Those that the middle plant does not stand for are told of another.
void retell(const Draws& draws, const std::vector<std::vector<Outcome>>& outcomes,
            std::vector<Held>& all, std::vector<HoldReport>& reports) {
    for (size_t i = 0; i < all.size(); ++i) {
        HoldReport& h = reports[i];
        if (!stands_for(h.ended_by, h.runaway)) {
            const Plant& other = draws.plants[median_draw(outcomes[i], h.runaway)];
            h = with_spread_of(hold_on(other, all[i]), h);
        }
    }
}

void report_holds(Walk& walk, Report& r) {
    const Setup& s = walk.s;
    std::vector<Held> grid;
    for (const double pct : hold_grid(s)) {
        const auto ask = [pct](const Plant& p) {
            return BenchCase{p, {{.throttle = pct / 100}, {}, p.esc_start_C}};
        };
        grid.push_back({ask, {}});
    }
    std::vector<BenchRun> benches;
    std::vector<Held> asked;
    for (const AskedHold& a : s.ask_holds) {
        benches.push_back(bench_of(a));
        const auto ask = [bench = benches.back()](const Plant& p) { return bench_case(p, bench); };
        asked.push_back({ask, {}});
    }
    r.holds = hold_each(walk.middle, grid);
    r.asked_holds = hold_each(walk.middle, asked);
    if (walk.has_draws()) {
        hold_draws(s, walk.draws, r);
        ask_draws(s, benches, walk.draws, r);
        retell(walk.draws, walk.draws.holds, grid, r.holds);
        retell(walk.draws, walk.draws.asked, asked, r.asked_holds);
    }

    const auto told = [](const Held& held, const HoldReport& h) {
        return ToldHold{&held.run, h.hold_peak_C.p50};
    };
    const auto full_on = std::find_if(r.holds.begin(), r.holds.end(),
                                      [](const HoldReport& h) { return h.throttle_pct == 100; });
    const ToldHold full = told(grid[static_cast<size_t>(full_on - r.holds.begin())], *full_on);
    const auto tell_why = [&](const std::vector<Held>& all, std::vector<HoldReport>& reports) {
        for (size_t i = 0; i < all.size(); ++i) {
            const Plant day = all[i].ask(walk.middle).plant;
            reports[i].why = explain(day, told(all[i], reports[i]), full, walk.in);
        }
    };
    tell_why(grid, r.holds);
    tell_why(asked, r.asked_holds);
    const size_t hottest = hottest_of(r.holds);
    r.why = r.holds[hottest].why;
    r.why_over_air = explain_over_air(walk.middle, told(grid[hottest], r.holds[hottest]), walk.in);
}

// What is assumed; of a current that nobody told, what is believed of it.
std::vector<Assumption> assumptions_of(const Walk& walk, const Report& r) {
    std::vector<Assumption> out = list_assumptions(walk.s, walk.calibration, walk.middle);
    if (r.untold_current && load_told(walk.s) == LoadTold::size) {
        const Band& A = r.untold_current->pack_A;
        out.push_back({r.untold_current->key, A.p50, A.p10.value_or(A.p50), A.p90.value_or(A.p50),
                       "from its size, Kv and pack at the operating point", false});
    }
    return out;
}

}  // namespace

Report advise(const Setup& s, const AdviseOptions& options) {
    const Scale in = options.scale;
    Walk walk = begin_walk(s, options);
    const Calibration& calibration = walk.calibration;
    Report r;
    const Flights flights = report_flights(walk, r);
    PwmTrial pwm = compare_pwm(s, calibration, walk.draws, in);
    r.checks = run_checks(s, walk.middle, flights.told);
    r.changes = find_changes(s, calibration, flights.middle, r.checks, pwm, walk.draws, in);
    r.pwm = std::move(pwm.report);
    report_holds(walk, r);
    r.bands = find_bands(s, r.holds, in);
    r.hover = find_hover(s, r.holds, walk.draws);
    r.limits = find_limits(s, calibration.belief, r.flight, r.holds, walk.draws, in);
    r.untold_current = report_untold_current(s, walk.middle, calibration.belief, walk.draws, in);
    r.learned = report_learning(s, calibration, walk.middle, walk.draws, in);
    r.assumptions = assumptions_of(walk, r);
    r.told_apart = told_apart(s);
    r.verdict = judge(s, r, in);
    r.cautions = list_cautions(r, in);
    return r;
}

}  // namespace hotband
