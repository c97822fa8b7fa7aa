// Holds on top of the march; see hold.hpp.
#include "flight/hold.hpp"

#include <algorithm>

#include "physics/air.hpp"

namespace hotband {

const Moment& at_charge(const March& m, double charge) {
    const auto there = std::find_if(m.moments.begin(), m.moments.end(),
                                    [&](const Moment& now) { return now.charge <= charge; });
    return there == m.moments.end() ? m.moments.back() : *there;
}

const Moment& half_way_moment(const Plant& p, const March& m) {
    return at_charge(m, 0.5 * (p.pack.start + m.moments.back().charge));
}

double air_of_the_day(const Plant& p, const BenchRun& run) {
    const double offset_K = run.day == Day::bench   ? p.u.bench_offset
                            : run.day == Day::flown ? p.u.flown_offset
                                                    : p.u.coming_offset;
    return run.air_C.value_or(p.told_air_C) + offset_K;
}

Plant on_the_day(const Plant& p, const BenchRun& run) {
    Plant day = rigged(p, run.rig);
    if (run.day == Day::bench) {
        day.air_factor = p.u.bench_air;
        day.flight_speed = 0;  // but for what the run itself tells
    } else if (run.day == Day::flown) {
        day.air_factor = p.u.flown_air;
    }
    day.air.celsius = air_of_the_day(p, run);
    day.air_density = air_at(day.air.celsius, p.air.pressure).density;
    day.pwm = run.pwm_Hz.value_or(p.pwm);
    return day;
}

BenchCase bench_case(const Plant& p, const BenchRun& run) {
    BenchCase out{on_the_day(p, run), {}};
    Plant& day = out.plant;
    out.ask.demand =
        run.pack_A ? demand_for_current(day, run.throttle, *run.pack_A,
                                        mean_source(day, *run.pack_A, run.seconds), run.seconds)
                   : Demand{.throttle = run.throttle};
    out.ask.demand.speed_mps = run.speed_mps;
    out.ask.seconds = run.seconds;
    out.ask.start_C = run.start_C.value_or(day.air.celsius);
    if (run.seconds) {
        day.pack.reserve = 0.01;
        day.pack.sag_floor_V = 0;
    }
    return out;
}

March fly_hold(const Plant& p, const HoldAsk& ask, Steps steps) {
    return fly_hold(p, ask, map_demand(p, ask.demand), steps);
}

March fly_hold(const Plant& p, const HoldAsk& ask, const DemandMap& map, Steps steps) {
    return march(p, {{&map, std::numeric_limits<double>::infinity(), nullptr}},
                 {ask.start_C, p.pack.start, p.pack.start_C, steps, most_hold_moments},
                 ask.seconds.value_or(std::numeric_limits<double>::infinity()));
}

HoldRun run_hold(const Plant& p, const HoldAsk& ask) {
    HoldRun run;
    run.map = map_demand(p, ask.demand);
    run.march = fly_hold(p, ask, run.map);
    const Moment& last = run.march.moments.back();
    run.mid_charge = 0.5 * (p.pack.start + last.charge);
    const double pack_C = 0.5 * (p.pack.start_C + last.pack_C);
    run.steady = settle_on_pack(p, run.map, run.mid_charge, pack_C);
    const double board_C = run.march.mean_board;
    const double junction_C = board_C + (last.heat.junction - last.heat.board);
    Source half_way = source_at(p, run.mid_charge, pack_C, junction_C, board_C);
    half_way.winding_C = half_way_moment(p, run.march).heat.winding;
    run.middle = operate(p, ask.demand, half_way, true);
    run.ok = run.map.ok && run.middle.ok;
    return run;
}

std::optional<double> seconds_to(const March& march, double limit_C) {
    for (size_t i = 0; i < march.moments.size(); ++i) {
        const Moment& m = march.moments[i];
        if (m.heat.board < limit_C) {
            continue;
        }
        if (i == 0) {
            return 0;
        }
        const Moment& before = march.moments[i - 1];
        const double rise = m.heat.board - before.heat.board;
        const double share = rise > 0 ? (limit_C - before.heat.board) / rise : 1;
        return before.t + share * (m.t - before.t);
    }
    if (march.peak_board < limit_C) {
        return {};
    }
    // Passed and left again between two moments, about the hottest of them.
    const auto hottest = std::max_element(
        march.moments.begin(), march.moments.end(),
        [](const Moment& a, const Moment& b) { return a.heat.board < b.heat.board; });
    return hottest->t;
}

}  // namespace hotband
