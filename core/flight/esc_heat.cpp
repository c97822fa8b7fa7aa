// Heating, cooling and one step of the ESC's nodes; see esc_heat.hpp.
#include "flight/esc_heat.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "physics/motor.hpp"

namespace hotband {

Outside outside_of(const Plant& p, double air_speed, double flight_speed, const HeatState& T) {
    const HeatPlant& h = p.heat;
    Ambient near = p.air;
    near.speed = air_speed;
    near.celsius = h.closed_bay ? T.bay : p.air.celsius;
    Outside out{surface_conductance(h.surface, near, T.body), 0, 0};
    if (h.closed_bay) {
        Ambient open = p.air;
        open.speed = flight_speed;
        const double skin = surface_conductance(h.bay, open, T.bay);
        out.bay_sun = h.G_film / (h.G_film + skin);
        out.bay = skin * out.bay_sun;
    }
    return out;
}

Heating heating_at(const Plant& p, const DemandMap& map, const DemandMap::Node& n,
                   const HeatState& T) {
    const auto [factor, slope] = map.growth(T.junction);
    Heating out{n.junction_W * factor, n.junction_W * slope, n.board_W};
    if (n.capacitor_W > 0) {
        // The capacitors sit on the board and conduct better as it warms.
        const double esr = capacitor_esr(p.u.capacitor_esr, p.u.capacitance, p.pwm, T.board);
        out.board_W += n.capacitor_W * std::pow(esr / map.capacitor_esr, map.capacitor_power);
    }
    return out;
}

namespace {

template <size_t N>
HeatChain<N> chain_of(const HeatPlant& h, const HeatFlows& start) {
    HeatChain<N> c;
    c.capacity[0] = h.C_junction;
    c.capacity[1] = h.C_board;
    c.capacity[2] = h.C_case;
    c.link[0] = h.G_junction;
    c.link[1] = h.G_case;
    c.off[0] = -start.in.junction_slope;
    if constexpr (N == 4) {
        c.capacity[3] = h.C_bay;
        c.link[2] = start.out.body;
        c.off[3] = start.out.bay;
    } else {
        c.off[2] = start.out.body;
    }
    return c;
}

template <size_t N>
std::array<double, N> nodes_of(const HeatState& T) {
    if constexpr (N == 4) {
        return {T.junction, T.board, T.body, T.bay};
    } else {
        return {T.junction, T.board, T.body};
    }
}

template <size_t N>
HeatState state_of(const std::array<double, N>& nodes, const HeatState& rest) {
    return {nodes[0], nodes[1], nodes[2], N == 4 ? nodes[N - 1] : rest.bay, rest.winding};
}

// Heat (W) into the nodes, for what flows `now`, beside what goes along the lines of the start.
template <size_t N>
std::array<double, N> beside_lines(const Plant& p, const HeatFlows& start, const HeatFlows& now) {
    const double sun_W = p.heat.sun_W;
    const double freer = now.out.body - start.out.body;
    std::array<double, N> q{};
    q[0] = now.in.junction_W - start.in.junction_slope * now.at.junction;
    q[1] = now.in.board_W;
    if constexpr (N == 4) {
        const double more = freer * (now.at.body - now.at.bay);
        q[2] = -more;
        q[3] = more + now.out.bay * p.air.celsius + now.out.bay_sun * sun_W -
               (now.out.bay - start.out.bay) * now.at.bay;
    } else {
        q[2] = now.out.body * p.air.celsius + sun_W - freer * now.at.body;
    }
    return q;
}

// Air moves at once as the demand has it, so that only these two nodes' heat drifts.
template <size_t N>
std::array<double, N> nodes_of(const HeatDrift& drift) {
    return {drift.junction, drift.board};
}

// What changes by more than this share of the heat within half a step does not go on: it is the
// rise of something quick, and ends.
constexpr double most_drift = 0.1;

HeatDrift going_on(const HeatDrift& drift, const Heating& of, double half_s) {
    const auto at_most = [half_s](double W_per_s, double W) {
        const double most = most_drift * std::abs(W) / half_s;
        return std::clamp(W_per_s, -most, most);
    };
    return {at_most(drift.junction, of.junction_W), at_most(drift.board, of.board_W)};
}

template <size_t N>
HeatState look_ahead(const Plant& p, const ChainFlow<N>& flow, const HeatFlows& start,
                     const HeatDrift& drift) {
    const std::array<double, N> T0 = nodes_of<N>(start.at);
    const std::array<double, N> heat = beside_lines<N>(p, start, start);
    return state_of<N>(flow.step(T0, heat, nodes_of<N>(drift)).middle, start.at);
}

template <size_t N>
HeatStep whole_step(const Plant& p, const ChainFlow<N>& flow, const HeatFlows& start,
                    const HeatFlows& half_way, double half_s) {
    const std::array<double, N> before = beside_lines<N>(p, start, start);
    std::array<double, N> heat = beside_lines<N>(p, start, half_way);
    const HeatDrift seen = {(heat[0] - before[0]) / half_s, (heat[1] - before[1]) / half_s};
    const HeatDrift drift = going_on(seen, half_way.in, half_s);
    heat[0] -= half_s * drift.junction;
    heat[1] -= half_s * drift.board;
    const ChainStep<N> s = flow.step(nodes_of<N>(start.at), heat, nodes_of<N>(drift));
    return {state_of<N>(s.middle, start.at), state_of<N>(s.end, start.at), drift};
}

constexpr double least_dt_s = 1e-9;  // in none nothing drifts

}  // namespace

HeatStride::HeatStride(const Plant& p, const HeatFlows& start, double dt)
    : p_(p), start_(start), half_s_(0.5 * std::max(dt, least_dt_s)) {
    if (p.heat.closed_bay) {
        flow_.emplace<ChainFlow<4>>(chain_of<4>(p.heat, start), dt);
    } else {
        flow_.emplace<ChainFlow<3>>(chain_of<3>(p.heat, start), dt);
    }
}

HeatState HeatStride::ahead(const HeatDrift& before) const {
    const HeatDrift drift = going_on(before, start_.in, half_s_);
    const auto* open = std::get_if<ChainFlow<3>>(&flow_);
    return open != nullptr ? look_ahead(p_, *open, start_, drift)
                           : look_ahead(p_, std::get<ChainFlow<4>>(flow_), start_, drift);
}

HeatStep HeatStride::to_end(const HeatFlows& half_way) const {
    const auto* open = std::get_if<ChainFlow<3>>(&flow_);
    return open != nullptr
               ? whole_step(p_, *open, start_, half_way, half_s_)
               : whole_step(p_, std::get<ChainFlow<4>>(flow_), start_, half_way, half_s_);
}

double winding_conductance(const Plant& p, double omega) {
    constexpr double at_rest = 0.3;
    return p.winding.conductance * (at_rest + (1 - at_rest) * omega / p.winding.omega);
}

WindingFlow winding_flow(const Plant& p, const DemandMap& map, const DemandMap::Node& n,
                         double junction_C, double winding_C) {
    const double G = winding_conductance(p, n.omega);
    const auto [heat_W, slope] = map.winding_heat(n.v_link, junction_C, winding_C);
    return {heat_W, G * (winding_C - p.air.celsius), slope - G};
}

double winding_after(const Plant& p, const WindingFlow& start, const WindingFlow& half_way,
                     double winding_C, double dt) {
    const double most_W = most_drift * half_way.heat_W;
    const double drift_W = std::clamp(half_way.net_W() - start.net_W(), -most_W, most_W);
    // The means of exp(-x) and of its own mean until then, over the step; series for little.
    constexpr double least_x = -500;  // by then they are lost, and no number has outgrown itself
    constexpr double little = 1e-5;
    const double x = std::max(-half_way.slope * dt / p.winding.capacity, least_x);
    const double fade = std::abs(x) < little ? 1 - 0.5 * x : -std::expm1(-x) / x;
    const double ramp = std::abs(x) < little ? 0.5 - x / 6 : (1 - fade) / x;
    const double gained_J = dt * ((half_way.net_W() - drift_W) * fade + 2 * drift_W * ramp);
    // never colder than the air that cools them
    const double coldest_C = std::min(winding_C, p.air.celsius);
    return std::clamp(winding_C + gained_J / p.winding.capacity, coldest_C, lost_winding_C);
}

}  // namespace hotband
