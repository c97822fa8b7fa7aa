// March and steady state of the heat network with the pack behind it; see mission.hpp.
//
// One step: the network is linear once the junction's loss is linearised at its temperature and the
// case's conductance is taken at the step's middle; the linear step itself is exact
// (heat_chain.hpp).
#include "flight/mission.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "physics/heat_chain.hpp"
#include "physics/motor.hpp"
#include "physics/root.hpp"

namespace hotband {
namespace {

constexpr double map_board_C = 50;

// All that a node tells of its link voltage.
using NodeValue = double DemandMap::Node::*;
constexpr std::array<NodeValue, 9> values = {
    &DemandMap::Node::i_pack,      &DemandMap::Node::i_motor,    &DemandMap::Node::omega,
    &DemandMap::Node::shaft_W,     &DemandMap::Node::junction_W, &DemandMap::Node::board_W,
    &DemandMap::Node::capacitor_W, &DemandMap::Node::air_speed,  &DemandMap::Node::winding_W};

DemandMap::Node node_of(const Operating& o) {
    const Losses& l = o.losses;
    return {o.v_link,        o.i_pack,           o.i_motor,   o.omega,     o.shaft_W,
            l.at_junction(), l.board + l.supply, l.capacitor, o.air_speed, o.winding_W};
}

// Conductances of the last links to the outside, W/K.
struct Outside {
    double body;     // case to its air
    double bay;      // bay's air through its skin to the open air
    double bay_sun;  // share of the sun on the skin that gets into the bay
};

Outside conductances(const Plant& p, double air_speed, double flight_speed, const HeatState& T) {
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

struct Heating {
    double junction_W = 0;      // at the present junction temperature
    double junction_slope = 0;  // W/K
    double board_W = 0;
};

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

struct HeatStep {
    HeatState middle, end;
};

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

// The loss's line is that through its value and slope at the state `about`.
HeatStep exact_step(const Plant& p, const Heating& q, const Outside& out, const HeatState& about,
                    const HeatState& T, double dt) {
    return p.heat.closed_bay ? exact_step<4>(p, q, out, about, T, dt)
                             : exact_step<3>(p, q, out, about, T, dt);
}

// State half a step ahead, for what changes slowly over it: each node alone, its neighbours held.
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

// One step from T, with the loss linearised and the conductances taken at the state half way.
HeatStep heat_step(const Plant& p, const DemandMap& map, const DemandMap::Node& n,
                   const Outside& out, const HeatState& T, const HeatState& middle, double dt) {
    return exact_step(p, heating_at(p, map, n, middle), out, middle, T, dt);
}

Outside outside_of(const Plant& p, const DemandMap& map, const DemandMap::Node& n,
                   const HeatState& T) {
    return conductances(p, n.air_speed, map.flight_speed, T);
}

// A moment with all that the demand draws and loses then.
struct Now {
    Moment moment;
    DemandMap::Node drawn;
    Source source;
};

// `near_V`: about the link voltage to come.
Now now_of(const Plant& p, const Leg& leg, double t, const HeatState& heat, double charge,
           double pack_C, std::optional<double> near_V) {
    const DemandMap& map = *leg.map;
    const Source s = source_at(p, charge, pack_C, 0, 0);
    const double v_link = link_voltage(s, map, heat.junction, heat.winding, near_V);
    const DemandMap::Node n = map.at(v_link, heat.junction, heat.winding);
    double i_sag = n.i_pack;
    if (leg.hardest != nullptr) {
        const DemandMap& hardest = *leg.hardest;
        const double v = link_voltage(s, hardest, heat.junction, heat.winding);
        i_sag = hardest.pack_current(v, heat.junction, heat.winding);
    }
    const double cell_V = (s.Voc - cells_resistance(p, s) * i_sag) / p.pack.series;
    return {{t, map.throttle, heat, charge, pack_C, cell_V, v_link, n.i_pack, n.i_motor, n.omega},
            n,
            s};
}

// Windings after a time at what the demand draws, under a heat that grows with their own
// resistance: C dT/dt = P + dP/dT (T - T_0) - G (T - T_air), solved exactly.
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

// Charge (C/s) that leaves the whole pack while each of its ESCs draws a current. Where they draw
// nothing it empties as well: cells discharge themselves (3 % a month, common practice).
double drain_of(const Plant& p, double i_pack) {
    constexpr double self_discharge = 0.03 / (30 * 86400.0);
    return i_pack * p.pack.share + self_discharge * p.pack.charge;
}

// Silicon and solder are gone where either node is; what is not a number is too.
bool is_lost(const HeatState& T, double end_C = runaway_junction_C) {
    return !(T.junction < end_C && T.board < end_C);
}

// Where between two states, the second lost, the first node reaches the end: by straight lines.
double share_until_lost(const HeatState& from, const HeatState& to) {
    const auto share = [](double a, double b) {
        const double reached = (runaway_junction_C - a) / (b - a);
        return reached >= 0 && reached <= 1 ? reached : 1;
    };
    const bool known = std::isfinite(to.junction) && std::isfinite(to.board);
    return known ? std::min(share(from.junction, to.junction), share(from.board, to.board)) : 0;
}

HeatState part_of_the_way(const HeatState& from, const HeatState& to, double share) {
    const auto node = [share](double a, double b) { return share > 0 ? a + share * (b - a) : a; };
    return {node(from.junction, to.junction), node(from.board, to.board), node(from.body, to.body),
            node(from.bay, to.bay), node(from.winding, to.winding)};
}

// Steps start short and grow with the leg, so that the fast rise at its start is resolved.
double step_length(Steps steps, double into_leg, double expected) {
    struct Length {
        double first_s, growth, share;  // share: of the whole march, at most
    };
    constexpr std::array<Length, 3> lengths = {
        {{1.5, 0.3, 1.0 / 16}, {4, 0.6, 1.0 / 9}, {10, 1.5, 1.0 / 9}}};
    const Length& l = lengths[static_cast<size_t>(steps)];
    return std::min(l.first_s + l.growth * into_leg, std::max(10.0, l.share * expected));
}

}  // namespace

double winding_conductance(const Plant& p, double omega) {
    constexpr double at_rest = 0.3;
    return p.winding.conductance * (at_rest + (1 - at_rest) * omega / p.winding.omega);
}

// The first of the three nodes whose parabola holds at a link voltage.
size_t DemandMap::first_of_three(double v) const {
    size_t first = 0;
    while (first + 3 < nodes.size() && v > nodes[first + 2].v_link) {
        ++first;
    }
    return first;
}

DemandMap::Weights DemandMap::weights(double v) const {
    Weights w;
    w.first = first_of_three(v);
    const double a = nodes[w.first].v_link;
    const double b = nodes[w.first + 1].v_link;
    const double c = nodes[w.first + 2].v_link;
    const double over_a = 1 / ((a - b) * (a - c));
    const double over_b = 1 / ((b - a) * (b - c));
    w.l0 = (v - b) * (v - c) * over_a;
    w.l1 = (v - a) * (v - c) * over_b;
    w.l2 = 1 - w.l0 - w.l1;
    return w;
}

template <double DemandMap::Node::*member>
double DemandMap::warmed(size_t node, double x) const {
    return nodes[node].*member * (1 + x * (warming[node].*member + x * bending[node].*member));
}

template <double DemandMap::Node::*member>
double DemandMap::mix(const Weights& w, double winding) const {
    const double x = winding - winding_C;
    return w.l0 * warmed<member>(w.first, x) + w.l1 * warmed<member>(w.first + 1, x) +
           w.l2 * warmed<member>(w.first + 2, x);
}

double DemandMap::current_factor(double junction_C) const {
    constexpr double at_map = switch_resistance_factor(map_junction_C);
    // The fall of a current that a resistance limits, which never turns round: 1 - fall x for
    // little x.
    return 1 / (1 + current_fall * (switch_resistance_factor(junction_C) / at_map - 1));
}

double DemandMap::collapsed_V() const {
    constexpr double share = 0.8;  // how far below the lowest node the parabolas hold
    return share * nodes.front().v_link;
}

DemandMap::Node DemandMap::at(double v, double junction_C, double winding) const {
    const double least_V = collapsed_V();
    if (v < least_V) {
        const Node n = at(least_V, junction_C, winding);
        const double x = std::max(0.0, v / least_V);
        return {v,
                x * n.i_pack,
                x * n.i_motor,
                x * n.omega,
                x * x * n.shaft_W,
                x * x * n.junction_W,
                x * x * n.board_W,
                x * x * n.capacitor_W,
                x * n.air_speed,
                x * x * n.winding_W};
    }
    const Weights w = weights(v);
    const double current = current_factor(junction_C);
    // A parabola through nodes close to zero, or with a kink between them, may pass below it.
    const auto above_zero = [](double x) { return std::max(0.0, x); };
    return {v,
            above_zero(current * mix<&Node::i_pack>(w, winding)),
            above_zero(current * mix<&Node::i_motor>(w, winding)),
            above_zero(mix<&Node::omega>(w, winding)),
            above_zero(mix<&Node::shaft_W>(w, winding)),
            above_zero(mix<&Node::junction_W>(w, winding)),
            above_zero(current * current * mix<&Node::board_W>(w, winding)),
            above_zero(current * current * mix<&Node::capacitor_W>(w, winding)),
            above_zero(mix<&Node::air_speed>(w, winding)),
            above_zero(current * current * mix<&Node::winding_W>(w, winding))};
}

DemandMap::WindingHeat DemandMap::winding_heat(double v, double junction_C, double winding) const {
    const double current = current_factor(junction_C);
    const double least_V = collapsed_V();
    const double x = v < least_V ? std::max(0.0, v / least_V) : 1;
    const Weights w = weights(std::max(v, least_V));
    const auto watts = [&](double celsius) {
        return std::max(0.0, x * x * current * current * mix<&Node::winding_W>(w, celsius));
    };
    const double now = watts(winding);
    return {now, watts(winding + 1) - now};
}

DemandMap::PackCurrent DemandMap::pack_current_near(double v, double junction_C,
                                                    double winding) const {
    constexpr double unlimited = std::numeric_limits<double>::infinity();
    const double least_V = collapsed_V();
    if (v <= least_V) {
        const PackCurrent above =
            pack_current_near(std::nextafter(least_V, unlimited), junction_C, winding);
        return {-unlimited, least_V, 0, 0, 0, above.at(least_V) / least_V, 0};
    }
    const size_t i = first_of_three(v);
    const double x = winding - winding_C;
    const double factor = current_factor(junction_C);
    const auto current = [&](size_t node) { return factor * warmed<&Node::i_pack>(node, x); };
    const auto volts = [&](size_t node) { return nodes[node].v_link; };
    const double a = current(i);
    const double b = current(i + 1);
    const double rise = (b - a) / (volts(i + 1) - volts(i));
    const double next = (current(i + 2) - b) / (volts(i + 2) - volts(i + 1));
    return {i == 0 ? least_V : volts(i + 1),
            i + 3 < nodes.size() ? volts(i + 2) : unlimited,
            volts(i),
            volts(i + 1),
            a,
            rise,
            (next - rise) / (volts(i + 2) - volts(i))};
}

std::array<double, 2> DemandMap::growth(double T) const {
    constexpr double at_map = switch_resistance_factor(map_junction_C);
    const auto factor = [&](double junction_C) {
        const double more = switch_resistance_factor(junction_C) / at_map;
        const double current = current_factor(junction_C);
        return growing_share * more * current * current + (1 - growing_share) * current;
    };
    return {factor(T), 0.5 * (factor(T + 1) - factor(T - 1))};
}

namespace {

// Source resistance two thirds through the pack, warmed by its own current so far and not by the
// air (nearer to the whole hold's where a pack begins cold): the ripple's damping follows it, and
// an ESC's temperature at the end of a hold is made in its later part.
double later_resistance(const Plant& p, const Demand& d, double Voc, double winding_C) {
    constexpr double through = 2.0 / 3;
    const PackPlant& k = p.pack;
    const double used = through * (k.start - k.reserve);
    const Source fresh = source_at(p, k.start - used, k.start_C, 0, 0);
    const double current =
        averaged_pack_current(p, d, {Voc, fresh.R_src, map_junction_C, map_board_C, winding_C});
    const double seconds = used * k.charge / (k.share * std::max(current, 1e-3));
    const double pack_W = cells_resistance(p, fresh) * k.share * current * current;
    const double rise = pack_W / k.cooling * -std::expm1(-seconds * k.cooling / k.heat_capacity);
    const double warm_C = std::min(k.start_C + rise, lost_pack_C);
    return source_at(p, k.start - used, warm_C, 0, 0).R_src;
}

// How every value bends over the winding's temperature, from points that far cooler and warmer than
// the map's: from air that windings start at to where hard holds bring them.
constexpr double cooler_K = 40;
constexpr double warmer_K = 60;

// The parabola  a x + b x^2  of each value's relative change through those two points, each beside
// the value that the map has at the same link voltage.
struct Bend {
    DemandMap::Node warming, bending;
};

Bend bend_of(const DemandMap::Node& cooler, const DemandMap::Node& cooler_base,
             const DemandMap::Node& warmer, const DemandMap::Node& warmer_base) {
    Bend out;
    for (const NodeValue member : values) {
        if (cooler_base.*member == 0 || warmer_base.*member == 0) {
            continue;
        }
        const double down = (1 - cooler.*member / (cooler_base.*member)) / cooler_K;
        const double up = (warmer.*member / (warmer_base.*member) - 1) / warmer_K;
        out.bending.*member = (up - down) / (cooler_K + warmer_K);
        out.warming.*member = down + out.bending.*member * cooler_K;
    }
    return out;
}

}  // namespace

DemandMap map_demand(const Plant& p, const Demand& d) {
    DemandMap map;
    map.throttle = d.throttle;
    map.flight_speed = d.speed_mps.value_or(p.flight_speed);
    const double series = p.pack.series;
    const double V_top = series * p.pack.cells->open_circuit_V.at(p.pack.start) * 1.01;
    const double V_low = series * p.pack.cells->open_circuit_V.at(p.pack.reserve) * 0.90;
    const double V_mid = 0.5 * (V_low + V_top);
    map.winding_C = p.air.celsius + usual_winding_rise_K;
    const double R_src = later_resistance(p, d, V_mid, map.winding_C);
    const auto point = [&](double Voc, double board_C, double winding_C) {
        return operate(p, d, {Voc, R_src, map_junction_C, board_C, winding_C});
    };
    double conduction = 0;
    double junction = 0;
    int continuous = 0;
    const auto fill = [&](int count) {
        map.nodes.clear();
        int held = 0;
        bool ok = true;
        std::vector<double> Voc(static_cast<size_t>(count));
        for (size_t i = 0; i < Voc.size(); ++i) {
            Voc[i] = V_low + (V_top - V_low) * static_cast<double>(i) / (count - 1);
        }
        const Source source = {0, R_src, map_junction_C, map_board_C, map.winding_C};
        for (const Operating& o : operate_at(p, d, source, Voc)) {
            ok = ok && o.ok;
            held += o.saturated ? 0 : 1;
            continuous += o.cycle.continuous ? 1 : 0;
            map.nodes.push_back(node_of(o));
            conduction += o.losses.conduction;
            junction += o.losses.at_junction();
        }
        map.ok = ok;
        map.saturated = held < count;
        return held;
    };
    const int held = fill(3);
    if ((held > 0 && held < 3) || (continuous > 0 && continuous < 3)) {
        // The rotor loses its speed, or the current begins to stop, somewhere in the pack: a kink
        // that needs close nodes.
        conduction = junction = 0;
        fill(17);
    }
    map.growing_share = junction > 0 ? conduction / junction : 0;
    const DemandMap::Node& centre = map.nodes[map.nodes.size() / 2];
    // Over the windings' temperature every node bends alike, but where there is a kink.
    map.warming.resize(map.nodes.size());
    map.bending.resize(map.nodes.size());
    const auto bend_at = [&](double Voc) {
        const DemandMap::Node cooler = node_of(point(Voc, map_board_C, map.winding_C - cooler_K));
        const DemandMap::Node warmer = node_of(point(Voc, map_board_C, map.winding_C + warmer_K));
        return bend_of(cooler, map.at(cooler.v_link), warmer, map.at(warmer.v_link));
    };
    std::vector<Bend> bends;
    const size_t count = map.nodes.size();
    for (size_t i = 0; i < count; ++i) {
        const double share = static_cast<double>(i) / static_cast<double>(count - 1);
        bends.push_back(count > 3 || i == 0
                            ? bend_at(count > 3 ? V_low + (V_top - V_low) * share : V_mid)
                            : bends.front());
    }
    for (size_t i = 0; i < count; ++i) {
        map.warming[i] = bends[i].warming;
        map.bending[i] = bends[i].bending;
    }
    const auto esr = [&](double celsius) {
        return capacitor_esr(p.u.capacitor_esr, p.u.capacitance, p.pwm, celsius);
    };
    map.capacitor_esr = esr(map_board_C);
    if (centre.capacitor_W > 0) {
        // How the capacitors' loss follows their ESR, from one more point with a warm board.
        constexpr double warm_board_C = 100;
        const double warm_W = point(V_mid, warm_board_C, map.winding_C).losses.capacitor;
        map.capacitor_power =
            std::log(warm_W / centre.capacitor_W) / std::log(esr(warm_board_C) / map.capacitor_esr);
    }
    if (p.load.law == LoadLaw::square && centre.i_motor > 0) {
        const double R_on = p.u.switch_resistance * switch_resistance_factor(map_junction_C);
        const double R = p.u.motor_resistance * copper_factor(map.winding_C) +
                         p.u.board_resistance + 2 * R_on + R_src;
        map.current_fall = 2 * R_on / (R + centre.omega / p.u.kv / (2 * centre.i_motor));
    }
    return map;
}

DemandMap mix_demands(const std::vector<DemandMap>& maps, const std::vector<double>& shares) {
    DemandMap mixed = maps.front();
    mixed.ok = true;
    mixed.saturated = false;
    mixed.growing_share = mixed.current_fall = mixed.throttle = mixed.flight_speed = 0;
    mixed.capacitor_power = 0;
    for (DemandMap::Node& n : mixed.nodes) {
        n = {.v_link = n.v_link};
    }
    double junction = 0;
    double capacitor = 0;
    for (size_t i = 0; i < maps.size(); ++i) {
        const DemandMap& m = maps[i];
        const double share = shares[i];
        mixed.ok = mixed.ok && m.ok;
        mixed.saturated = mixed.saturated || m.saturated;
        mixed.throttle += share * m.throttle;
        mixed.flight_speed += share * m.flight_speed;
        for (DemandMap::Node& n : mixed.nodes) {
            const DemandMap::Node one = m.at(n.v_link);
            for (const NodeValue member : values) {
                n.*member += share * one.*member;
            }
        }
        const DemandMap::Node& centre = m.nodes[m.nodes.size() / 2];
        const double heat = share * centre.junction_W;
        const double ripple_heat = share * centre.capacitor_W;
        junction += heat;
        capacitor += ripple_heat;
        mixed.capacitor_power += ripple_heat * m.capacitor_power;
        mixed.growing_share += heat * m.growing_share;
        mixed.current_fall += heat * m.current_fall;
    }
    if (junction > 0) {
        mixed.growing_share /= junction;
        mixed.current_fall /= junction;
    }
    if (capacitor > 0) {
        mixed.capacitor_power /= capacitor;
    }
    const auto mean_at = [&](double v_link, double winding_C) {
        DemandMap::Node mean;
        for (size_t i = 0; i < maps.size(); ++i) {
            const DemandMap::Node one = maps[i].at(v_link, map_junction_C, winding_C);
            for (const NodeValue member : values) {
                mean.*member += shares[i] * one.*member;
            }
        }
        return mean;
    };
    for (size_t i = 0; i < mixed.nodes.size(); ++i) {
        const DemandMap::Node& n = mixed.nodes[i];
        const Bend bend = bend_of(mean_at(n.v_link, mixed.winding_C - cooler_K), n,
                                  mean_at(n.v_link, mixed.winding_C + warmer_K), n);
        mixed.warming[i] = bend.warming;
        mixed.bending[i] = bend.bending;
    }
    return mixed;
}

double link_voltage(const Source& s, const DemandMap& map, double junction_C, double winding_C,
                    std::optional<double> near_V) {
    double v = std::clamp(near_V.value_or(s.Voc - s.R_src * map.nodes.back().i_pack), 0.0, s.Voc);
    // Newton, kept between a pack at rest and a shorted one.
    double low = 0;
    double high = s.Voc;
    DemandMap::PackCurrent current = map.pack_current_near(v, junction_C, winding_C);
    for (int i = 0; i < 60; ++i) {
        if (!current.holds(v)) {
            current = map.pack_current_near(v, junction_C, winding_C);
        }
        const double over = v - s.Voc + s.R_src * current.at(v);
        (over > 0 ? high : low) = v;
        double next = v - over / (1 + s.R_src * current.slope(v));
        if (!(next >= low && next <= high)) {
            next = 0.5 * (low + high);
        }
        const double step = next - v;
        v = next;
        // What a Newton step leaves goes with its square: a ten thousand millionth of the pack's.
        if (std::abs(step) < 1e-5 * s.Voc) {
            break;
        }
    }
    return v;
}

double link_voltage(const Plant& p, const DemandMap& map, double charge, double pack_C,
                    double junction_C, double winding_C) {
    return link_voltage(source_at(p, charge, pack_C, 0, 0), map, junction_C, winding_C);
}

March march(const Plant& p, const std::vector<Leg>& legs, const MarchStart& start, double most_s) {
    March out;
    HeatState heat{start.esc_C, start.esc_C, start.esc_C, p.air.celsius, p.air.celsius};
    double charge = start.charge;
    double pack_C = start.pack_C;
    double t = 0;
    size_t leg = 0;
    double into_leg = 0;
    double board_integral = 0;
    double turned = 0;  // rad
    const DemandMap* map = legs.front().map;
    Now now = now_of(p, legs[leg], t, heat, charge, pack_C, {});
    // Conductances to the outside as they were last, for the look ahead.
    Outside last_out = outside_of(p, *map, now.drawn, heat);
    out.moments.push_back(now.moment);
    out.peak_board = heat.board;
    out.peak_junction = heat.junction;
    out.peak_winding = heat.winding;
    const auto take = [&](const Now& next) {
        now = next;
        const HeatState& reached = next.moment.heat;
        out.moments.push_back(next.moment);
        out.peak_board = std::max(out.peak_board, reached.board);
        out.peak_junction = std::max(out.peak_junction, reached.junction);
        out.peak_winding = std::max(out.peak_winding, reached.winding);
    };
    // Time under the sag floor so far, and whether it stays a dip if it goes on for so long.
    double dipped_s = 0;
    const auto is_dip = [&](double more_s) { return dipped_s + more_s < most_dip_s; };
    if (out.moments.back().cell_V < p.pack.sag_floor_V && !is_dip(legs[leg].seconds)) {
        out.ended_by = EndedBy::sag;
        out.mean_board = heat.board;
        return out;
    }
    constexpr double lost_by_far_C = runaway_junction_C + 20;
    constexpr double most_astray_K = 40;  // of the state half way from the one looked ahead to
    constexpr double shortest_step_s = 1e-3;
    // One step of at most `dt` from where the march stands; what draws and heats is taken at the
    // step's middle: charge, pack and junction half way. It ends where the reserve is reached.
    struct Stride {
        double dt;
        DemandMap::Node drawn;
        Outside out;
        HeatStep heat;
        double charge, pack_C;  // at its end
        bool too_long;          // for the lines that its losses were taken as
    };
    const auto stride = [&](double dt) {
        const double drain = drain_of(p, now.moment.i_pack);
        const double charge_mid =
            std::max(p.pack.reserve, charge - 0.5 * dt * drain / p.pack.charge);
        const double pack_mid_C =
            0.5 * (pack_C + pack_after(p, now.source, pack_C, now.moment.i_pack, dt));
        const Source source_mid = source_at(p, charge_mid, pack_mid_C, 0, 0);
        HeatState middle = look_ahead(p, heating_at(p, *map, now.drawn, heat), last_out, heat, dt);
        middle.winding = winding_after(p, *map, now.drawn, heat.junction, heat.winding, 0.5 * dt);
        const double v_mid =
            link_voltage(source_mid, *map, middle.junction, middle.winding, now.moment.v_link);
        Stride s{dt, map->at(v_mid, middle.junction, middle.winding), {}, {}, 0, 0, false};
        const double i_mid = s.drawn.i_pack;
        const double drain_mid = drain_of(p, i_mid);
        const double usable = (charge - p.pack.reserve) * p.pack.charge;
        s.dt = std::min(dt, usable / drain_mid);
        s.out = outside_of(p, *map, s.drawn, middle);
        s.heat = heat_step(p, *map, s.drawn, s.out, heat, middle, s.dt);
        s.heat.end.winding = winding_after(p, *map, s.drawn, middle.junction, heat.winding, s.dt);
        s.pack_C = pack_after(p, source_mid, pack_C, i_mid, s.dt);
        s.charge = charge - s.dt * drain_mid / p.pack.charge;
        const double astray_K = std::abs(s.heat.middle.junction - middle.junction);
        s.too_long = is_lost(middle, lost_by_far_C) || is_lost(s.heat.end, lost_by_far_C) ||
                     astray_K > most_astray_K;
        return s;
    };
    // Of a step that ends lost, the part until then, s.
    const auto until_lost = [&](Moment& end, double dt) {
        const double share = share_until_lost(heat, end.heat);
        end.heat = part_of_the_way(heat, end.heat, share);
        end.t = t + share * dt;
        return share * dt;
    };
    out.ended_by = EndedBy::steps;
    while (out.moments.size() < start.most_moments) {
        const double to_reserve =
            (charge - p.pack.reserve) * p.pack.charge / drain_of(p, now.moment.i_pack);
        const double left_of_leg = legs[leg].seconds - into_leg;
        double dt = std::min({step_length(start.steps, into_leg, t + to_reserve), left_of_leg,
                              to_reserve, most_s - t});
        Stride s = stride(dt);
        while (s.too_long && s.dt > shortest_step_s) {
            s = stride(0.5 * s.dt);
        }
        dt = s.dt;
        turned += dt * s.drawn.omega;
        Now next = now_of(p, legs[leg], t + dt, s.heat.end, s.charge, s.pack_C, s.drawn.v_link);
        const bool under = next.moment.cell_V < p.pack.sag_floor_V;
        const bool dips = under && is_dip(legs[leg].seconds - into_leg);
        dipped_s = dips ? dipped_s + dt : 0;
        out.dips = out.dips || dips;
        if (under && !dips) {
            // The floor is passed inside the step: stop there.
            const auto at_share = [&](double share) {
                return now_of(p, legs[leg], t + share * dt, heat,
                              charge + share * (s.charge - charge),
                              pack_C + share * (s.pack_C - pack_C), s.drawn.v_link);
            };
            const auto above_floor = [&](double share) {
                return at_share(share).moment.cell_V - p.pack.sag_floor_V;
            };
            const double fall = std::max(1e-9, now.moment.cell_V - next.moment.cell_V);
            const double guess = (now.moment.cell_V - p.pack.sag_floor_V) / fall;
            const double share = falling_root(above_floor, 0, 1, guess, -fall, 1e-9).x;
            next = at_share(share);
            dt *= share;
            const double short_dt = std::max(dt, 1e-6);
            HeatState& reached = next.moment.heat;
            const HeatState middle =
                look_ahead(p, heating_at(p, *map, s.drawn, heat), s.out, heat, short_dt);
            reached = heat_step(p, *map, s.drawn, s.out, heat, middle, short_dt).end;
            out.ended_by = EndedBy::sag;
            if (is_lost(reached)) {
                dt = until_lost(next.moment, dt);
                out.ended_by = EndedBy::runaway;
            }
            board_integral += dt * 0.5 * (heat.board + reached.board);
            t = next.moment.t;
            charge = next.moment.charge;
            take(next);
            break;
        }
        if (is_lost(s.heat.end)) {
            dt = until_lost(next.moment, dt);
            board_integral += dt * 0.5 * (heat.board + next.moment.heat.board);
            t = next.moment.t;
            charge = s.charge;
            take(next);
            out.ended_by = EndedBy::runaway;
            break;
        }
        board_integral += dt / 6 * (heat.board + 4 * s.heat.middle.board + s.heat.end.board);
        out.peak_board = std::max(out.peak_board, s.heat.middle.board);
        out.peak_junction = std::max(out.peak_junction, s.heat.middle.junction);
        t += dt;
        into_leg += dt;
        heat = s.heat.end;
        charge = s.charge;
        pack_C = s.pack_C;
        last_out = s.out;
        const double reserve_slack = 1e-9 + 1e-6 * (p.pack.start - p.pack.reserve);
        take(next);
        if (charge - p.pack.reserve <= reserve_slack) {
            out.ended_by = EndedBy::reserve;
            break;
        }
        if (t >= most_s * (1 - 1e-12)) {
            out.ended_by = EndedBy::time;
            break;
        }
        if (into_leg >= legs[leg].seconds * (1 - 1e-12)) {
            leg = (leg + 1) % legs.size();
            into_leg = 0;
            if (legs[leg].map != map) {
                map = legs[leg].map;
                now = now_of(p, legs[leg], t, heat, charge, pack_C, {});
                last_out = outside_of(p, *map, now.drawn, heat);
                out.moments.push_back(now.moment);
                if (out.moments.back().cell_V < p.pack.sag_floor_V && !is_dip(legs[leg].seconds)) {
                    out.ended_by = EndedBy::sag;
                    break;
                }
            }
        }
    }
    out.seconds = t;
    out.charge_share = (p.pack.start - charge) / (p.pack.start - p.pack.reserve);
    out.mean_board = t > 0 ? board_integral / t : start.esc_C;
    out.mean_omega = t > 0 ? turned / t : out.moments.front().omega;
    return out;
}

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
                const Outside g = conductances(p, n.air_speed, map.flight_speed, T);
                Q = g.body * (body_C - bay_C);
                return Q + g.bay_sun * h.sun_W - g.bay * (bay_C - p.air.celsius);
            };
            const double top = body_C + h.sun_W;
            T.bay =
                falling_root(lack, p.air.celsius, top, 0.5 * (body_C + p.air.celsius), -1, 1e-10).x;
            lack(T.bay);
        } else {
            Q = conductances(p, n.air_speed, map.flight_speed, T).body * (body_C - p.air.celsius) -
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
    const Outside out = conductances(p, air_speed, flight_speed, warm);
    const auto board_after = [&](double junction_W, double board_W) {
        const Heating q{junction_W, 0, board_W};
        return exact_step(p, q, out, start, start, seconds).end.board;
    };
    const double rest = board_after(0, 0);
    return {rest, board_after(1, 0) - rest, board_after(0, 1) - rest};
}

std::optional<double> cool_down_seconds(const Plant& p, const HeatState& from, double within_K) {
    DemandMap off;
    off.nodes.assign(3, {});
    off.warming = off.bending = off.nodes;
    HeatState T = from;
    double t = 0;
    constexpr double dt = 10;  // s
    constexpr double longest = 6 * 3600;
    const DemandMap::Node& nothing = off.nodes[0];
    while (T.board > p.air.celsius + within_K && t < longest) {
        const Outside out = outside_of(p, off, nothing, T);
        const HeatState middle = look_ahead(p, heating_at(p, off, nothing, T), out, T, dt);
        T = heat_step(p, off, nothing, outside_of(p, off, nothing, middle), T, middle, dt).end;
        t += dt;
    }
    return t < longest ? std::optional(t) : std::nullopt;
}

}  // namespace hotband
