// Maps of a flight's parts, and the legs that are flown of its turns; see flight_plan.hpp.
#include "flight/flight_plan.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <span>

namespace hotband {

double seconds_of(const FlightSetup& flight, const FlightPart& part) {
    return flight.kind == FlightKind::sequence ? part.seconds
                                               : part.share_pct / 100 * share_cycle_s;
}

namespace {

// The maps of demands at so many throttles that most lie among a few that are solved.
std::vector<DemandMap> maps_among(const Plant& p, const std::vector<Demand>& demands) {
    constexpr size_t few_nodes = 3;
    constexpr size_t close_nodes = 9;
    const auto is_full_on = [&](const Demand& d) {
        return p.load.law == LoadLaw::square && d.throttle >= p.full_on;
    };
    double lowest = std::numeric_limits<double>::infinity();
    double highest = 0;
    for (const Demand& d : demands) {
        if (!is_full_on(d)) {
            lowest = std::min(lowest, d.throttle);
            highest = std::max(highest, d.throttle);
        }
    }
    lowest = std::min(lowest, highest);
    const double apart = (highest - lowest) / static_cast<double>(most_maps - 1);
    std::vector<DemandMap> solved;
    for (size_t nodes = few_nodes; solved.size() < most_maps;) {
        const double throttle = lowest + apart * static_cast<double>(solved.size());
        solved.push_back(map_demand(p, {.throttle = throttle}, nodes));
        // Nodes belong to each other where all have as many.
        if (solved.back().nodes.size() > nodes) {
            nodes = close_nodes;
            solved.clear();
        }
    }
    std::vector<DemandMap> maps;
    for (const Demand& d : demands) {
        const double place = apart > 0 ? (d.throttle - lowest) / apart : 0;
        const double middle = std::clamp(std::round(place), 1.0, most_maps - 2.0);
        const auto three = std::span(solved).subspan(static_cast<size_t>(middle) - 1).first<3>();
        maps.push_back(is_full_on(d) ? map_demand(p, d)
                                     : map_among(p, three, place - middle,
                                                 d.speed_mps.value_or(p.flight_speed)));
    }
    return maps;
}

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
        plan.maps = maps_among(p, plan.demands);
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

// The legs of a flight's stretches. A mixture, and the turns after it, begin half way through a
// part, where it is as warm as on its mean.
std::vector<Leg> legs_of(const FlightPlan& plan, const std::vector<Stretch>& stretches,
                         const Leg& mixture) {
    const double turn_s = sum_of(plan.seconds);
    const double half_s = 0.5 * plan.seconds.front();
    std::vector<Leg> legs;
    bool half_way = false;
    for (const Stretch& stretch : stretches) {
        for (int turn = 0; turn < stretch.turns; ++turn) {
            for (size_t i = 0; i < plan.maps.size(); ++i) {
                legs.push_back({&plan.maps[i], half_way && i == 0 ? half_s : plan.seconds[i]});
            }
            if (half_way) {
                legs.push_back({&plan.maps.front(), half_s});
            }
        }
        if (stretch.mixed == 0) {
            continue;
        }
        if (stretch.turns > 0 && !half_way) {
            legs.push_back({&plan.maps.front(), half_s});
            half_way = true;
        }
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
    MarchStart start = {p.esc_start_C, p.pack.start, p.pack.start_C, steps};
    if (plan.solved == 1) {
        // So few steps that a trial's may be those of draws.
        start.steps = steps == Steps::trial ? Steps::drawn : steps;
        start.most_moments = most_hold_moments;
        return march(p, {{&plan.maps.front()}}, start);
    }
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
    double flight_s =
        (p.pack.start - p.pack.reserve) * p.pack.charge / std::max(1e-6, drain * p.pack.share);
    // Windings that burn out leave a pack full: a flight that lasts far longer than it seemed is
    // flown again as one of that length.
    constexpr double far_longer = 8;
    for (;;) {
        const std::vector<Stretch> stretches =
            stretches_of(plan.maps.size(), turn_s, flight_s / turn_s);
        const bool mixes = std::any_of(stretches.begin(), stretches.end(),
                                       [](const Stretch& s) { return s.mixed > 0; });
        const DemandMap mixed = mixes ? mix_demands(p, plan.maps, shares) : DemandMap{};
        flight_s = far_longer * std::max(flight_s, turn_s);
        March flown = march(p, legs_of(plan, stretches, {&mixed, 0, hardest}), start, flight_s);
        if (flown.ended_by != EndedBy::time) {
            return flown;
        }
    }
}

}  // namespace hotband
