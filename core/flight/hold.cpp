// Holds and flights on top of the march; see hold.hpp.
#include "flight/hold.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "flight/load_fit.hpp"
#include "physics/air.hpp"

namespace hotband {
namespace {

MarchStart start_of(const Plant& p, double esc_C, Steps steps = Steps::fine) {
    return {esc_C, p.pack.start, p.pack.start_C, steps};
}

}  // namespace

const Moment& at_charge(const March& m, double charge) {
    const auto there = std::find_if(m.moments.begin(), m.moments.end(),
                                    [&](const Moment& now) { return now.charge <= charge; });
    return there == m.moments.end() ? m.moments.back() : *there;
}

const Moment& half_way_moment(const Plant& p, const March& m) {
    return at_charge(m, 0.5 * (p.pack.start + m.moments.back().charge));
}

Plant on_the_day(const Plant& p, const BenchRun& run) {
    Plant day = p;
    const double told_C = run.air_C.value_or(p.told_air_C);
    double offset_K = p.u.coming_offset;
    if (run.day == Day::bench) {
        offset_K = p.u.bench_offset;
        day.air_factor = p.u.bench_air;
        day.flight_speed = 0;  // but for what the run itself tells
    } else if (run.day == Day::flown) {
        offset_K = p.u.flown_offset;
        day.air_factor = p.u.flown_air;
    }
    day.air.celsius = told_C + offset_K;
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
                 start_of(p, ask.start_C, steps),
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

double seconds_of(const FlightSetup& flight, const FlightPart& part) {
    return flight.kind == FlightKind::sequence ? part.seconds
                                               : part.share_pct / 100 * share_cycle_s;
}

namespace {

// The maps of demands so many that most of them lie between a few that are solved.
class Knots {
 public:
    Knots(const Plant& p, const std::vector<Demand>& demands) : p_(p) {
        bool any = false;
        double highest = 0;
        for (const Demand& d : demands) {
            if (is_full_on(d)) {
                continue;
            }
            lowest_ = any ? std::min(lowest_, d.throttle) : d.throttle;
            highest = any ? std::max(highest, d.throttle) : d.throttle;
            any = true;
        }
        apart_ = (highest - lowest_) / static_cast<double>(most_maps - 1);
        solve(few_nodes);
        // Nodes belong to each other where all have as many.
        if (std::any_of(maps_.begin(), maps_.end(),
                        [](const DemandMap& map) { return map.nodes.size() > few_nodes; })) {
            solve(close_nodes);
        }
    }

    DemandMap at(const Demand& d) {
        const double speed = d.speed_mps.value_or(p_.flight_speed);
        if (is_full_on(d)) {
            if (full_on_.empty()) {
                full_on_.assign(3, map_demand(p_, d));
            }
            DemandMap map = map_among(p_, std::span(full_on_).first<3>(), 0, speed);
            map.throttle = d.throttle;
            return map;
        }
        const double place = apart_ > 0 ? (d.throttle - lowest_) / apart_ : 0;
        const double middle = std::clamp(std::round(place), 1.0, most_maps - 2.0);
        return map_among(p_, std::span(maps_).subspan(static_cast<size_t>(middle) - 1).first<3>(),
                         place - middle, speed);
    }

 private:
    bool is_full_on(const Demand& d) const {
        return p_.load.law == LoadLaw::square && d.throttle >= p_.full_on;
    }

    static constexpr size_t few_nodes = 3;
    static constexpr size_t close_nodes = 9;

    void solve(size_t nodes) {
        maps_.clear();
        for (size_t i = 0; i < most_maps; ++i) {
            maps_.push_back(
                map_demand(p_, {.throttle = lowest_ + static_cast<double>(i) * apart_}, nodes));
        }
    }

    const Plant& p_;
    double lowest_ = 0;
    double apart_ = 0;
    std::vector<DemandMap> maps_;
    std::vector<DemandMap> full_on_;  // three of the same, or none
};

}  // namespace

FlightPlan plan_flight(const Plant& p, const FlightSetup& flight) {
    FlightPlan plan;
    for (const FlightPart& part : flight.parts) {
        plan.demands.push_back(
            {.throttle = part.throttle_pct / 100, .speed_mps = part.flight_speed_mps});
        plan.seconds.push_back(seconds_of(flight, part));
    }
    // A throttle that comes again needs no second map.
    std::vector<size_t> first;
    for (size_t i = 0; i < plan.demands.size(); ++i) {
        const Demand& d = plan.demands[i];
        const auto same =
            std::find_if(plan.demands.begin(), plan.demands.end(), [&](const Demand& before) {
                return before.throttle == d.throttle && before.speed_mps == d.speed_mps;
            });
        first.push_back(static_cast<size_t>(same - plan.demands.begin()));
        plan.solved += first.back() == i ? 1 : 0;
    }
    if (plan.solved > most_maps) {
        plan.solved = most_maps;
        Knots knots(p, plan.demands);
        for (const Demand& d : plan.demands) {
            plan.maps.push_back(knots.at(d));
        }
        return plan;
    }
    for (size_t i = 0; i < plan.demands.size(); ++i) {
        plan.maps.push_back(first[i] == i ? map_demand(p, plan.demands[i])
                                          : DemandMap(plan.maps[first[i]]));
    }
    return plan;
}

namespace {

constexpr double felt_s = 1;  // of a shorter turn the board feels only the mean

double sum_of(const std::vector<double>& values) {
    return std::accumulate(values.begin(), values.end(), 0.0);
}

std::vector<Leg> turn_of(const FlightPlan& plan) {
    std::vector<Leg> legs;
    for (size_t i = 0; i < plan.maps.size(); ++i) {
        legs.push_back({&plan.maps[i], plan.seconds[i], nullptr});
    }
    return legs;
}

// The legs of a flight's stretches. A mixture, and the turns after it, begin half way through a
// part, where it is as warm as on its mean.
std::vector<Leg> legs_of(const FlightPlan& plan, const std::vector<Stretch>& stretches,
                         const Leg& mixture) {
    std::vector<Leg> turn = turn_of(plan);
    Leg half = turn.front();
    half.seconds *= 0.5;
    std::vector<Leg> legs;
    for (const Stretch& stretch : stretches) {
        for (int i = 0; i < stretch.turns; ++i) {
            legs.insert(legs.end(), turn.begin(), turn.end());
        }
        if (stretch.mixed == 0) {
            continue;
        }
        if (stretch.turns > 0 && turn.size() == plan.maps.size()) {
            legs.push_back(half);
            turn.front() = half;
            turn.push_back(half);
        }
        const double turn_s = sum_of(plan.seconds);
        legs.push_back(
            {mixture.map, stretch.mixed * turn_s, mixture.hardest, stretch.turns * turn_s});
    }
    return legs;
}

}  // namespace

std::vector<Stretch> stretches_of(size_t parts, double turn_s, double turns) {
    constexpr double usual_parts = 10;   // a turn of more is flown less often
    constexpr double most_apart = 0.25;  // of all turns
    constexpr double to_end = 0.7;       // of those left until the end, or flown beyond it
    const auto legs = static_cast<double>(parts);
    if (turns * legs <= most_legs) {
        return {{1, 0}};
    }
    if (turn_s < felt_s) {
        return {{0, std::numeric_limits<double>::infinity()}};
    }
    const double dear = std::max(legs / usual_parts, 1.0);
    const int at_a_time = dear > 1 ? 1 : 2;
    std::vector<Stretch> out = {{static_cast<int>(std::ceil(8 / dear)), 0}};
    double flown = out.front().turns;
    while (flown < 1.5 * turns) {
        const double apart = std::min({dear * flown, std::min(dear * most_apart, 1.0) * turns,
                                       std::min(dear * to_end, 0.9) * std::abs(turns - flown)});
        // Powers of two, so that flights of about the same length meet the same turns.
        const double mixed = apart < 1 ? 0 : std::exp2(std::floor(std::log2(apart)));
        out.back().mixed = mixed;
        out.push_back({at_a_time, 0});
        flown += mixed + at_a_time;
    }
    return out;
}

double legs_flown(size_t parts, double turn_s, double turns) {
    constexpr double legs_of_mixture = 4;  // as dear as these
    const std::vector<Stretch> stretches = stretches_of(parts, turn_s, turns);
    double legs = 0;
    double flown = 0;
    for (size_t i = 0; flown < turns; ++i) {
        const Stretch& s = stretches[i % stretches.size()];
        legs += static_cast<double>(parts) * s.turns + (s.mixed > 0 ? legs_of_mixture : 0);
        flown += s.turns + s.mixed;
    }
    return legs;
}

March fly(const Plant& p, const FlightPlan& plan, Steps steps) {
    const double turn_s = sum_of(plan.seconds);
    // What each draws half way through the pack.
    const double half_way = 0.5 * (p.pack.start + p.pack.reserve);
    std::vector<double> shares;
    double drain = 0;  // A
    double most = 0;   // A, of those whose sag is more than a dip
    const DemandMap* hardest = nullptr;
    for (size_t i = 0; i < plan.maps.size(); ++i) {
        const DemandMap& map = plan.maps[i];
        const double current = map.pack_current(link_voltage(p, map, half_way, p.pack.start_C));
        shares.push_back(plan.seconds[i] / turn_s);
        drain += shares[i] * current;
        const bool may_end = plan.seconds[i] >= most_dip_s || turn_s < felt_s;
        if (may_end && current > most) {
            most = current;
            hardest = &map;
        }
    }
    const double flight_s =
        (p.pack.start - p.pack.reserve) * p.pack.charge / std::max(1e-6, drain * p.pack.share);
    const std::vector<Stretch> stretches =
        stretches_of(plan.maps.size(), turn_s, flight_s / turn_s);
    const bool mixes = std::any_of(stretches.begin(), stretches.end(),
                                   [](const Stretch& s) { return s.mixed > 0; });
    const DemandMap mixed = mixes ? mix_demands(p, plan.maps, shares) : DemandMap{};
    return march(p, legs_of(plan, stretches, {&mixed, 0, hardest}),
                 start_of(p, p.esc_start_C, steps));
}

}  // namespace hotband
