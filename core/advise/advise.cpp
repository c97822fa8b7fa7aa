// The walk: belief -> plant -> holds, flight -> bands, frequency, changes, why, checks -> verdict.
#include "advise/advise.hpp"

#include <algorithm>
#include <cmath>

#include "advise/rooms.hpp"
#include "advise/spread.hpp"
#include "advise/text.hpp"

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

Verdict judge(const Report& r, const std::vector<ThrottleBand>& bands) {
    Verdict v;
    const EscReport& e = r.esc;
    const double high = e.peak_C.p90.value_or(e.peak_C.p50);
    const std::string flight = clock_text(r.flight.seconds);
    if (e.runaway) {
        v.level = Level::stop;
        v.headline = say("Do not fly this: the ESC's heat runs away within %s.", flight.c_str());
        return v;
    }
    if (r.flight.seconds <= 0) {
        v.level = Level::stop;
        v.headline =
            "Do not fly this: the pack sags below its floor as soon as the throttle opens.";
        return v;
    }
    const std::string sag =
        r.flight.ended_by == "sag" ? " The pack's sag ends it before the reserve." : "";
    if (e.peak_C.p50 >= e.limit_C) {
        v.level = Level::stop;
        v.headline =
            say("Do not fly this: the ESC peaks near %.0f deg C, %.0f K over its limit, in a "
                "flight of %s.",
                e.peak_C.p50, e.peak_C.p50 - e.limit_C, flight.c_str());
    } else if (high > e.limit_C - margin_K || e.chance_over_limit.value_or(0) > 0.02) {
        v.level = Level::watch;
        v.headline =
            say("Watch it: the ESC peaks near %.0f deg C, perhaps %.0f, with its limit at %.0f, in "
                "a flight of %s.",
                e.peak_C.p50, high, e.limit_C, flight.c_str());
    } else if (!r.checks.rating.ok || !r.checks.pack.ok || r.flight.ended_by == "sag") {
        v.level = Level::watch;
        v.headline = say(
            "The ESC stays %.0f K under its limit in a flight of %s, but %s is asked for more than "
            "its figure.",
            e.limit_C - e.peak_C.p50, flight.c_str(), r.checks.rating.ok ? "the pack" : "the ESC");
    } else {
        v.headline =
            say("This flight is fine for the ESC: it peaks near %.0f deg C, %.0f K under its "
                "limit, in %s.",
                e.peak_C.p50, e.limit_C - e.peak_C.p50, flight.c_str());
    }
    v.headline += sag;
    for (const ThrottleBand& band : bands) {
        if (band.level != Level::fine) {
            v.headline += say(" Do not sit at %.0f-%.0f %%.", band.from_pct, band.to_pct);
            break;
        }
    }
    return v;
}

std::vector<std::string> cautions(const Report& r) {
    std::vector<std::string> c = {
        "A prediction from estimates, not a measurement: check with a thermometer after a short "
        "first flight.",
        "The ESC maker's limits, the pack maker's instructions and local rules come before "
        "anything said here.",
        "Bench work: propeller off where it can be, model held fast, stay out of the disc's plane, "
        "connect the pack last.",
        "Lithium packs: no swollen or damaged packs, charge attended on a surface that does not "
        "burn, stop at the sag floor.",
    };
    if (r.esc.peak_C.p90.value_or(r.esc.peak_C.p50) > 60) {
        c.emplace_back(
            "Hot metal burns: above about 60 deg C do not touch ESC, motor or heatsink after "
            "landing.");
    }
    return c;
}

}  // namespace

Report advise(const Setup& s, const AdviseOptions& options) {
    Report r;
    const Calibration calibration = calibrate(s);
    const Belief& belief = calibration.belief;
    const Plant p = middle_plant(s, belief);

    const HoldRun full = run_hold(p, {{.throttle = 1}, {}, p.esc_start_C});
    size_t hottest = 0;
    for (const double pct : hold_grid(s)) {
        const HoldRun run = run_hold(p, {{.throttle = pct / 100}, {}, p.esc_start_C});
        r.holds.push_back(report_hold(p, run, full, p.esc_start_C));
        hottest = r.holds.back().hold_peak_C.p50 > r.holds[hottest].hold_peak_C.p50
                      ? r.holds.size() - 1
                      : hottest;
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
    r.esc.peak_C.p50 = flight.march.peak_board;
    r.esc.junction_peak_C = flight.march.peak_junction;
    r.esc.limit_C = s.esc.limit_C;
    r.esc.runaway = flight.march.ended_by == EndedBy::runaway;

    r.pwm = compare_pwm(s, belief);
    r.changes = find_changes(s, belief, flight, r.pwm, r.holds);
    r.checks = run_checks(s, p, flight);
    r.assumptions = list_assumptions(s, belief);
    const Draws draws =
        options.samples > 0 ? fill_bands(s, belief, options.samples, asked, r) : Draws{};
    r.learned = report_learning(s, calibration, p, r.holds, draws);
    r.esc.margin_K = r.esc.limit_C - r.esc.peak_C.p50;
    r.bands = find_bands(s, r.holds);
    r.verdict = judge(r, r.bands);
    r.cautions = cautions(r);
    return r;
}

}  // namespace hotband
