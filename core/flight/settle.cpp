// Settled states, and cooling down; see settle.hpp.
#include "flight/settle.hpp"

#include <algorithm>

#include "physics/motor.hpp"
#include "physics/root.hpp"

namespace hotband {
namespace {

// Where the windings settle: what they make of heat at that temperature, they give off.
double settled_winding(const Plant& p, const DemandMap& map, double v_link, double junction_C) {
    const auto surplus = [&](double celsius) {
        const DemandMap::Node n = map.at(v_link, junction_C, celsius);
        return n.winding_W - winding_conductance(p, n.omega) * (celsius - p.air.celsius);
    };
    const double G = winding_conductance(p, map.at(v_link).omega);
    constexpr double settled_K = 1e-6;
    return surplus(lost_winding_C) > 0
               ? lost_winding_C
               : falling_root(surplus, p.air.celsius, lost_winding_C, map.winding_C, -G, settled_K)
                     .x;
}

}  // namespace

Steady settle(const Plant& p, const DemandMap& map, double v_link, double junction_C) {
    const double winding_C = settled_winding(p, map, v_link, junction_C);
    const DemandMap::Node n = map.at(v_link, map_junction_C, winding_C);
    const HeatPlant& h = p.heat;
    Steady out;
    // All temperatures follow from the case's; the bay, if any, from the same heat.
    const auto state = [&](double body_C) {
        HeatState T{0, 0, body_C, p.air.celsius, winding_C};
        double Q = 0;  // W through the case
        if (h.closed_bay) {
            const auto lack = [&](double bay_C) {
                T.bay = bay_C;
                const Outside g = outside_of(p, n.air_speed, map.flight_speed, T);
                Q = g.body * (body_C - bay_C);
                return Q + g.bay_sun * h.sun_W - g.bay * (bay_C - p.air.celsius);
            };
            const double top = body_C + h.sun_W;
            T.bay =
                falling_root(lack, p.air.celsius, top, 0.5 * (body_C + p.air.celsius), -1, 1e-10).x;
            lack(T.bay);
        } else {
            Q = outside_of(p, n.air_speed, map.flight_speed, T).body * (body_C - p.air.celsius) -
                h.sun_W;
        }
        T.board = body_C + Q / h.G_case;
        T.junction = T.board + (Q - heating_at(p, map, n, T).board_W) / h.G_junction;
        return std::pair{T, Q};
    };
    const auto surplus = [&](double body_C) {
        const auto [T, Q] = state(body_C);
        const Heating q = heating_at(p, map, map.at(v_link, T.junction, winding_C), T);
        return q.junction_W + q.board_W - Q;
    };
    // The hottest case that leaves the junction below its end.
    const auto headroom = [&](double body_C) {
        return runaway_junction_C - state(body_C).first.junction;
    };
    const double top =
        falling_root(headroom, p.air.celsius, runaway_junction_C + 1, p.air.celsius + 60, -2, 1e-9)
            .x;
    if (!(surplus(top) < 0)) {
        out.runaway = true;
        return out;
    }
    const Root root =
        falling_root(surplus, p.air.celsius, top, p.air.celsius + 40, -h.surface.area * 40, 1e-9);
    out.heat = state(root.x).first;
    out.runaway = !root.found || is_lost(out.heat);
    return out;
}

Steady settle_on_pack(const Plant& p, const DemandMap& map, double charge, double pack_C) {
    Steady s = settle(p, map, link_voltage(p, map, charge, pack_C));
    // The junction moves the voltage by millivolts: twice round is far below what is asked.
    for (int i = 0; i < 2 && !s.runaway; ++i) {
        s = settle(p, map, link_voltage(p, map, charge, pack_C, s.heat.junction, s.heat.winding),
                   s.heat.junction);
    }
    return s;
}

Response board_response(const Plant& p, double air_speed, double flight_speed, double body_C,
                        double seconds, double start_C) {
    const HeatState start{start_C, start_C, start_C, p.air.celsius, p.air.celsius};
    HeatState warm = start;
    warm.body = body_C;
    const Outside out = outside_of(p, air_speed, flight_speed, warm);
    const auto board_after = [&](double junction_W, double board_W) {
        const HeatFlows flows{start, {junction_W, 0, board_W}, out};
        return HeatStride(p, flows, seconds).to_end(flows).end.board;
    };
    const double rest = board_after(0, 0);
    return {rest, board_after(1, 0) - rest, board_after(0, 1) - rest};
}

std::optional<double> cool_down_seconds(const Plant& p, const HeatState& from, double within_K) {
    HeatState T = from;
    double t = 0;
    constexpr double dt = 10;  // s
    constexpr double longest = 6 * 3600;
    const auto in_still_air = [&](const HeatState& now) {
        return HeatFlows{now, {}, outside_of(p, 0, 0, now)};
    };
    while (T.board > p.air.celsius + within_K && t < longest) {
        const HeatStride stride(p, in_still_air(T), dt);
        T = stride.to_end(in_still_air(stride.ahead({}))).end;
        t += dt;
    }
    return t < longest ? std::optional(t) : std::nullopt;
}

}  // namespace hotband
