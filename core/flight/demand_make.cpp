// How maps are made: of exact operating points at a few link voltages, and of other maps; see
// demand_map.hpp.
#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "flight/demand_map.hpp"
#include "physics/motor.hpp"

namespace hotband {
namespace {

constexpr double map_board_C = 50;

DemandMap::Node node_of(const Operating& o) {
    const Losses& l = o.losses;
    return {o.v_link,
            o.i_pack,
            o.i_motor,
            o.omega,
            o.shaft_W,
            l.at_junction(),
            l.at_board() - l.capacitor,
            l.capacitor,
            o.air_speed,
            o.winding_W};
}

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

// The parabola of each value's relative change, through two points or as a line through one.
struct Bend {
    DemandMap::Node warming, bending;
};

// A point of cooler or warmer windings, beside the value that the map has at its link voltage;
// empty where it tells nothing of how the map goes on.
using OtherWindings = std::optional<DemandMap::Node>;

Bend bend_of(const DemandMap& map, const OtherWindings& cooler, const OtherWindings& warmer) {
    const auto base_of = [&](const OtherWindings& other) {
        return other ? map.at(other->v_link) : DemandMap::Node{};
    };
    const DemandMap::Node cooler_base = base_of(cooler);
    const DemandMap::Node warmer_base = base_of(warmer);
    Bend out;
    for (const NodeValue member : node_values) {
        const bool has_down = cooler_base.*member != 0;
        const bool has_up = warmer_base.*member != 0;
        const double down =
            has_down ? (1 - (*cooler).*member / (cooler_base.*member)) / cooler_K : 0;
        const double up = has_up ? ((*warmer).*member / (warmer_base.*member) - 1) / warmer_K : 0;
        out.warming.*member = has_up ? up : down;
        if (has_down && has_up) {
            out.bending.*member = (up - down) / (cooler_K + warmer_K);
            out.warming.*member = down + out.bending.*member * cooler_K;
        }
    }
    return out;
}

// Open-circuit voltages (V) of so many nodes, evenly from an empty pack to a full one.
std::vector<double> voltages_at_rest(const PackPlant& k, size_t count) {
    const double low = k.series * k.cells->open_circuit_V.at(k.reserve) * 0.90;
    const double top = k.series * k.cells->open_circuit_V.at(k.start) * 1.01;
    std::vector<double> Voc(count);
    for (size_t i = 0; i < count; ++i) {
        Voc[i] = low + (top - low) * (static_cast<double>(i) / static_cast<double>(count - 1));
    }
    return Voc;
}

// How every value of a map without bends bends over the windings' temperature, by points so much
// cooler and warmer, evenly over the nodes; for those between them the nearest stands. Each
// value's relative change is the parabola  a x + b x^2  through both, each beside the value that
// the map has at the same link voltage; a line where one is empty.
void bend_nodes(DemandMap& map, const std::vector<OtherWindings>& cooler,
                const std::vector<OtherWindings>& warmer) {
    map.warming.assign(map.nodes.size(), {});
    map.bending.assign(map.nodes.size(), {});
    std::vector<Bend> bends;
    for (size_t i = 0; i < warmer.size(); ++i) {
        bends.push_back(bend_of(map, cooler.empty() ? std::nullopt : cooler[i], warmer[i]));
    }
    for (size_t i = 0; i < map.nodes.size(); ++i) {
        const size_t last = map.nodes.size() - 1;
        const Bend& bend = bends[(i * (bends.size() - 1) + last / 2) / last];
        map.warming[i] = bend.warming;
        map.bending[i] = bend.bending;
    }
}

// The exact points of a map: its nodes, evenly over the pack, and those that tell how they bend
// over the windings' temperature.
struct MapPoints {
    std::vector<Operating> nodes, cooler, warmer;
};

constexpr size_t kinked_nodes = 17;  // of a map with a kink

// On the pack of `source`, which is half way through it; no cooler ones where they bend straight.
MapPoints points_of(const Plant& p, const Demand& d, const Source& source, size_t count,
                    bool straight, AveragesOff& off) {
    std::vector<Met> met;
    const auto meet = [&](const std::vector<double>& Voc, double winding_C) {
        for (const double V : Voc) {
            met.push_back({V, winding_C});
        }
    };
    meet(voltages_at_rest(p.pack, count), source.winding_C);
    // Every node bends alike, but where there is a kink.
    const std::vector<double> bent_at =
        count > plain_nodes ? voltages_at_rest(p.pack, (count + 1) / 2) : std::vector{source.Voc};
    meet(bent_at, source.winding_C + warmer_K);
    if (!straight) {
        meet(bent_at, source.winding_C - cooler_K);
    }
    const std::vector<Operating> all = operate_at(p, d, source, met, off);
    const auto warmer = all.begin() + static_cast<std::ptrdiff_t>(count);
    const auto cooler = warmer + static_cast<std::ptrdiff_t>(bent_at.size());
    return {{all.begin(), warmer}, {cooler, all.end()}, {warmer, cooler}};
}

std::vector<DemandMap::Node> nodes_of(const std::vector<Operating>& points) {
    std::vector<DemandMap::Node> out(points.size());
    std::transform(points.begin(), points.end(), out.begin(), node_of);
    return out;
}

// Where full duty holds a rotor on one side and not on the other, neither goes on as the other.
std::vector<OtherWindings> alike(const std::vector<Operating>& others,
                                 const std::vector<Operating>& nodes) {
    std::vector<OtherWindings> out;
    const size_t apart = others.size() > 1 ? (nodes.size() - 1) / (others.size() - 1) : 0;
    for (size_t i = 0; i < others.size(); ++i) {
        out.push_back(others[i].saturated == nodes[i * apart].saturated
                          ? OtherWindings(node_of(others[i]))
                          : std::nullopt);
    }
    return out;
}

// Whether there is a kink between the nodes, which needs close ones: where the rotor loses its
// speed, the motor stalls, or the current begins to stop.
bool is_kinked(const std::vector<Operating>& nodes) {
    const auto some = [&](auto&& is) {
        const auto n = static_cast<size_t>(std::count_if(nodes.begin(), nodes.end(), is));
        return n > 0 && n < nodes.size();
    };
    return some([](const Operating& o) { return o.saturated; }) ||
           some([](const Operating& o) { return o.cycle.continuous; }) ||
           some([](const Operating& o) { return o.omega > 0; });
}

void fill_nodes(DemandMap& map, const std::vector<Operating>& points) {
    map.nodes = nodes_of(points);
    map.ok = true;
    double conduction = 0;
    double junction = 0;
    for (const Operating& o : points) {
        map.ok = map.ok && o.ok;
        map.saturated = map.saturated || o.saturated;
        conduction += o.losses.conduction;
        junction += o.losses.at_junction();
    }
    map.growing_share = junction > 0 ? conduction / junction : 0;
    map.collapsed_V = map.collapse_below();
}

}  // namespace

DemandMap map_demand(const Plant& p, const Demand& d, size_t least_nodes) {
    DemandMap map;
    map.throttle = d.throttle;
    map.flight_speed = d.speed_mps.value_or(p.flight_speed);
    map.winding_C = p.air.celsius + usual_winding_rise_K;
    const double middle_V = voltages_at_rest(p.pack, plain_nodes)[1];
    const double R_src = later_resistance(p, d, middle_V, map.winding_C);
    const Source source = {middle_V, R_src, map_junction_C, map_board_C, map.winding_C};
    AveragesOff off;
    // A rotor that is held at its speed and current loses by a line in its windings.
    const bool plain = least_nodes == plain_nodes;
    const bool rotor = p.load.law != LoadLaw::square;
    MapPoints points = points_of(p, d, source, least_nodes, plain && rotor, off);
    const bool kinked = is_kinked(points.nodes);
    const bool lost = rotor && points.nodes.front().saturated;
    if (plain && (kinked || lost)) {
        points = points_of(p, d, source, kinked ? kinked_nodes : plain_nodes, false, off);
    }
    fill_nodes(map, points.nodes);
    bend_nodes(map, alike(points.cooler, points.nodes), alike(points.warmer, points.nodes));

    const size_t count = map.nodes.size();
    const DemandMap::Node& centre = map.nodes[count / 2];
    const auto esr = [&](double celsius) {
        return capacitor_esr(p.u.capacitor_esr, p.u.capacitance, p.pwm, celsius);
    };
    map.capacitor_esr = esr(map_board_C);
    if (centre.capacitor_W > 0) {
        // How the capacitors' loss follows their ESR, from the same point with a warm board.
        constexpr double warm_board_C = 100;
        const double growth = capacitor_growth(p, d, source, points.nodes[count / 2], warm_board_C);
        map.capacitor_power = std::log(growth) / std::log(esr(warm_board_C) / map.capacitor_esr);
    }
    if (p.load.law == LoadLaw::square && centre.i_motor > 0) {
        const double R_on = p.u.switch_resistance * switch_resistance_factor(map_junction_C);
        const double R = p.u.motor_resistance * copper_factor(map.winding_C) +
                         p.u.board_resistance + 2 * R_on + R_src;
        map.current_fall = 2 * R_on / (R + centre.omega / p.u.kv / (2 * centre.i_motor));
    }
    return map;
}

namespace {

void add(DemandMap::Node& sum, double weight, const DemandMap::Node& n) {
    sum.v_link += weight * n.v_link;
    for (const NodeValue member : node_values) {
        sum.*member += weight * n.*member;
    }
}

}  // namespace

DemandMap map_among(const Plant& p, std::span<const DemandMap, 3> three, double place,
                    double flight_speed) {
    const std::array<double, 3> weights = {0.5 * place * (place - 1), 1 - place * place,
                                           0.5 * place * (place + 1)};
    const size_t count = three[1].nodes.size();
    DemandMap out;
    out.nodes.resize(count);
    out.warming.resize(count);
    out.bending.resize(count);
    out.winding_C = three[1].winding_C;
    out.capacitor_esr = three[1].capacitor_esr;
    out.capacitor_power = 0;
    out.flight_speed = flight_speed;
    out.ok = true;
    for (size_t k = 0; k < weights.size(); ++k) {
        const DemandMap& m = three[k];
        for (double DemandMap::*member : {&DemandMap::growing_share, &DemandMap::capacitor_power,
                                          &DemandMap::current_fall, &DemandMap::throttle}) {
            out.*member += weights[k] * m.*member;
        }
        out.ok = out.ok && m.ok;
        out.saturated = out.saturated || m.saturated;
        for (size_t i = 0; i < count; ++i) {
            add(out.nodes[i], weights[k], m.nodes[i]);
            add(out.warming[i], weights[k], m.warming[i]);
            add(out.bending[i], weights[k], m.bending[i]);
        }
    }
    for (DemandMap::Node& n : out.nodes) {
        for (const NodeValue member : node_values) {
            n.*member = std::max(0.0, n.*member);
        }
        n.air_speed = air_speed_at_esc(p, n.shaft_W, flight_speed);
    }
    out.collapsed_V = out.collapse_below();
    return out;
}

namespace {

// Air of changing speed cools as a steady one does whose square root is the mean of theirs: so goes
// a laminar plate's conductance.
double steady_air(double mean_root) { return mean_root * mean_root; }

// The mean of what each draws in its turn from a pack that rests at `Voc`, at its own link voltage.
DemandMap::Node mean_of(const std::vector<DemandMap>& maps, const std::vector<double>& shares,
                        const Source& at_rest, double winding_C) {
    DemandMap::Node mean;
    double root_of_air = 0;
    for (size_t i = 0; i < maps.size(); ++i) {
        const double v = link_voltage(at_rest, maps[i], map_junction_C, winding_C);
        const DemandMap::Node one = maps[i].at(v, map_junction_C, winding_C);
        add(mean, shares[i], one);
        root_of_air += shares[i] * std::sqrt(one.air_speed);
    }
    mean.air_speed = steady_air(root_of_air);
    return mean;
}

}  // namespace

DemandMap mix_demands(const Plant& p, const std::vector<DemandMap>& maps,
                      const std::vector<double>& shares) {
    // Where many parts have each a kink of its own their mean has none.
    constexpr size_t smooth = 5;
    const bool many = maps.size() > most_maps;
    DemandMap mixed;
    mixed.ok = true;
    mixed.winding_C = maps.front().winding_C;
    mixed.capacitor_esr = maps.front().capacitor_esr;
    mixed.capacitor_power = 0;
    double junction = 0;
    double capacitor = 0;
    double current = 0;
    double square = 0;  // of the current
    double root_of_air = 0;
    size_t count = 0;
    for (size_t i = 0; i < maps.size(); ++i) {
        const DemandMap& m = maps[i];
        const double share = shares[i];
        count = std::max(count, many ? std::min(m.nodes.size(), smooth) : m.nodes.size());
        mixed.ok = mixed.ok && m.ok;
        mixed.saturated = mixed.saturated || m.saturated;
        mixed.throttle += share * m.throttle;
        root_of_air += share * std::sqrt(m.flight_speed);
        const DemandMap::Node& centre = m.nodes[m.nodes.size() / 2];
        const double heat = share * centre.junction_W;
        const double ripple_heat = share * centre.capacitor_W;
        junction += heat;
        capacitor += ripple_heat;
        current += share * centre.i_pack;
        square += share * centre.i_pack * centre.i_pack;
        mixed.capacitor_power += ripple_heat * m.capacitor_power;
        mixed.growing_share += heat * m.growing_share;
        mixed.current_fall += heat * m.current_fall;
    }
    mixed.flight_speed = steady_air(root_of_air);
    if (junction > 0) {
        mixed.growing_share /= junction;
        mixed.current_fall /= junction;
    }
    if (capacitor > 0) {
        mixed.capacitor_power /= capacitor;
    }
    if (current > 0) {
        mixed.current_form = std::sqrt(square) / current;
    }

    // Half way through the pack, as the current's own voltages are.
    Source source = source_at(p, 0.5 * (p.pack.start + p.pack.reserve), p.pack.start_C, 0, 0);
    const std::vector<double> Voc = voltages_at_rest(p.pack, count);
    const auto mean_at = [&](size_t i, double winding_C) {
        source.Voc = Voc[i];
        return mean_of(maps, shares, source, winding_C);
    };
    mixed.nodes.resize(count);
    for (size_t i = 0; i < count; ++i) {
        mixed.nodes[i] = mean_at(i, mixed.winding_C);
    }
    mixed.collapsed_V = mixed.collapse_below();
    const auto bent = [&](double winding_C) {
        std::vector<OtherWindings> nodes;
        for (size_t i = 0; i < (many ? 1 : count); ++i) {
            nodes.emplace_back(mean_at(many ? count / 2 : i, winding_C));
        }
        return nodes;
    };
    bend_nodes(mixed, bent(mixed.winding_C - cooler_K), bent(mixed.winding_C + warmer_K));
    return mixed;
}

}  // namespace hotband
