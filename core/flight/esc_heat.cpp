// Heating, cooling and one step of the ESC's nodes; see esc_heat.hpp.
#include "flight/esc_heat.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "physics/heat_chain.hpp"
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
HeatStep exact_step(const Plant& p, const Heating& q, const Outside& out, const HeatState& about,
                    const HeatState& T, double dt) {
    const HeatPlant& h = p.heat;
    HeatChain<N> c;
    std::array<double, N> from;
    c.capacity[0] = h.C_junction;
    c.capacity[1] = h.C_board;
    c.capacity[2] = h.C_case;
    c.link[0] = h.G_junction;
    c.link[1] = h.G_case;
    c.off[0] = -q.junction_slope;
    c.heat[0] = q.junction_W - q.junction_slope * about.junction;
    c.heat[1] = q.board_W;
    from[0] = T.junction;
    from[1] = T.board;
    from[2] = T.body;
    if constexpr (N == 4) {
        c.capacity[3] = h.C_bay;
        c.link[2] = out.body;
        c.off[3] = out.bay;
        c.heat[3] = out.bay * p.air.celsius + out.bay_sun * h.sun_W;
        from[3] = T.bay;
    } else {
        c.off[2] = out.body;
        c.heat[2] = out.body * p.air.celsius + h.sun_W;
    }
    const ChainStep<N> s = chain_step(c, from, dt);
    const auto state = [&](const std::array<double, N>& x) {
        return HeatState{x[0], x[1], x[2], N == 4 ? x[N - 1] : T.bay, T.winding};
    };
    return {state(s.middle), state(s.end)};
}

}  // namespace

HeatStep heat_step(const Plant& p, const Heating& q, const Outside& out, const HeatState& about,
                   const HeatState& T, double dt) {
    return p.heat.closed_bay ? exact_step<4>(p, q, out, about, T, dt)
                             : exact_step<3>(p, q, out, about, T, dt);
}

HeatState look_ahead(const Plant& p, const Heating& q, const Outside& out, const HeatState& T,
                     double dt) {
    const HeatPlant& h = p.heat;
    const auto relax = [&](double from, double to, double rate) {
        return to + (from - to) * std::exp(-0.5 * dt * rate);
    };
    HeatState ahead = T;
    const double board_to = (q.junction_W + q.board_W + h.G_case * T.body) / h.G_case;
    ahead.board = relax(T.board, board_to, h.G_case / h.C_board);
    ahead.junction =
        relax(T.junction, ahead.board + q.junction_W / h.G_junction, h.G_junction / h.C_junction);
    const double near = h.closed_bay ? T.bay : p.air.celsius;
    const double sun = h.closed_bay ? 0 : h.sun_W;
    const double body_to =
        (h.G_case * 0.5 * (T.board + ahead.board) + out.body * near + sun) / (h.G_case + out.body);
    ahead.body = relax(T.body, body_to, (h.G_case + out.body) / h.C_case);
    if (h.closed_bay) {
        const double bay_to = (out.body * 0.5 * (T.body + ahead.body) + out.bay * p.air.celsius +
                               out.bay_sun * h.sun_W) /
                              (out.body + out.bay);
        ahead.bay = relax(T.bay, bay_to, (out.body + out.bay) / h.C_bay);
    }
    return ahead;
}

double winding_conductance(const Plant& p, double omega) {
    constexpr double at_rest = 0.3;
    return p.winding.conductance * (at_rest + (1 - at_rest) * omega / p.winding.omega);
}

double winding_after(const Plant& p, const DemandMap& map, const DemandMap::Node& n,
                     double junction_C, double winding_C, double dt) {
    const double G = winding_conductance(p, n.omega);
    const auto [heat_W, slope] = map.winding_heat(n.v_link, junction_C, winding_C);
    const double rate = (G - slope) / p.winding.capacity;
    const double now = (heat_W - G * (winding_C - p.air.celsius)) / p.winding.capacity;
    const double for_s = std::abs(rate * dt) < 1e-9 ? dt : -std::expm1(-rate * dt) / rate;
    // never colder than the air that cools them
    const double coldest_C = std::min(winding_C, p.air.celsius);
    return std::clamp(winding_C + now * for_s, coldest_C, lost_winding_C);
}

}  // namespace hotband
