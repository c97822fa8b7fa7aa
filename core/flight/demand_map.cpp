// What lies between the nodes of a map; see demand_map.hpp.
#include "flight/demand_map.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "physics/motor.hpp"

namespace hotband {
namespace {

struct Bent {
    double factor, slope;  // 1, 1/K
};

// Beyond the points of a bend it goes on along its tangent. One that a kink bends down is held, as
// a current that a resistance limits falls ever more slowly. Rare, and so not in every loop.
[[gnu::noinline]] Bent bent_beyond(double warming, double bending, double x) {
    constexpr double steepest = 1.0 / 250;  // 1/K, of what is left
    const double there = 1 + warmer_K * (warming + warmer_K * bending);
    const double slope = std::max(warming + 2 * warmer_K * bending, -steepest * there);
    return {there + (x - warmer_K) * slope, slope};
}

// Factor on a value for windings `x` (K) over the map's.
Bent bent(double warming, double bending, double x) {
    return x <= warmer_K ? Bent{1 + x * (warming + x * bending), warming + 2 * x * bending}
                         : bent_beyond(warming, bending, x);
}

}  // namespace

// The first of the three nodes whose parabola holds at a link voltage.
size_t DemandMap::first_of_three(double v) const {
    size_t first = 0;
    while (first + 3 < nodes.size() && v > nodes[first + 2].v_link) {
        ++first;
    }
    return first;
}

bool DemandMap::is_beyond(double v) const {
    return nodes.size() > plain_nodes && v > nodes.back().v_link;
}

DemandMap::Weights DemandMap::weights(double v) const {
    Weights w;
    w.first = first_of_three(v);
    if (is_beyond(v)) {
        const double from = nodes[w.first + 1].v_link;
        w.of[2] = (v - from) / (nodes[w.first + 2].v_link - from);
        w.of[1] = 1 - w.of[2];
        return w;
    }
    const double a = nodes[w.first].v_link;
    const double b = nodes[w.first + 1].v_link;
    const double c = nodes[w.first + 2].v_link;
    w.of[0] = (v - b) * (v - c) / ((a - b) * (a - c));
    w.of[1] = (v - a) * (v - c) / ((b - a) * (b - c));
    w.of[2] = 1 - w.of[0] - w.of[1];
    return w;
}

double DemandMap::current_factor(double junction_C) const {
    constexpr double at_map = switch_resistance_factor(map_junction_C);
    // The fall of a current that a resistance limits, which never turns round: 1 - fall x for
    // little x.
    return 1 / (1 + current_fall * (switch_resistance_factor(junction_C) / at_map - 1));
}

double DemandMap::collapse_below() const {
    constexpr double share = 0.8;  // how far below the lowest node the parabolas hold
    constexpr double least = 0.4;  // of the lowest node's current there: it goes with V to V^4
    const Weights w = weights(share * nodes.front().v_link);
    const double current =
        w.of[0] * nodes[0].i_pack + w.of[1] * nodes[1].i_pack + w.of[2] * nodes[2].i_pack;
    const double lowest = nodes.front().i_pack;
    const bool holds = current <= lowest && current >= least * lowest;
    return (holds ? share : 1) * nodes.front().v_link;
}

DemandMap::Node DemandMap::at(double v, double junction_C, double winding) const {
    const double least_V = collapsed_V;
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
    const double x = winding - winding_C;
    Node out;
    for (size_t k = 0; k < w.of.size(); ++k) {
        const size_t i = w.first + k;
        for (const NodeValue member : node_values) {
            out.*member += w.of[k] * (nodes[i].*member *
                                      bent(warming[i].*member, bending[i].*member, x).factor);
        }
    }
    const double current = current_factor(junction_C);
    out.i_pack *= current;
    out.i_motor *= current;
    out.board_W *= current * current;
    out.capacitor_W *= current * current;
    out.winding_W *= current * current;
    // A parabola through nodes close to zero, or with a kink between them, may pass below it.
    for (const NodeValue member : node_values) {
        out.*member = std::max(0.0, out.*member);
    }
    out.v_link = v;
    return out;
}

DemandMap::WindingHeat DemandMap::winding_heat(double v, double junction_C, double winding) const {
    const double least_V = collapsed_V;
    const double share = v < least_V ? std::max(0.0, v / least_V) : 1;
    const double current = share * current_factor(junction_C);
    const Weights w = weights(std::max(v, least_V));
    const double x = winding - winding_C;
    WindingHeat out{0, 0};
    for (size_t k = 0; k < w.of.size(); ++k) {
        const size_t i = w.first + k;
        const auto [factor, slope] = bent(warming[i].winding_W, bending[i].winding_W, x);
        out.watts += w.of[k] * nodes[i].winding_W * factor;
        out.slope += w.of[k] * nodes[i].winding_W * slope;
    }
    if (out.watts <= 0) {
        return {0, 0};
    }
    return {current * current * out.watts, current * current * out.slope};
}

DemandMap::PackCurrent DemandMap::pack_current_near(double v, double junction_C,
                                                    double winding) const {
    constexpr double unlimited = std::numeric_limits<double>::infinity();
    const bool collapsed = v <= collapsed_V;
    const size_t i = collapsed ? 0 : first_of_three(v);
    const double x = winding - winding_C;
    const double factor = current_factor(junction_C);
    const auto current = [&](size_t node) {
        return factor * nodes[node].i_pack *
               bent(warming[node].i_pack, bending[node].i_pack, x).factor;
    };
    const auto volts = [&](size_t node) { return nodes[node].v_link; };
    const double a = current(i);
    const double b = current(i + 1);
    const double rise = (b - a) / (volts(i + 1) - volts(i));
    const double next = (current(i + 2) - b) / (volts(i + 2) - volts(i + 1));
    if (is_beyond(v)) {
        return {volts(i + 2), unlimited, volts(i + 1), volts(i + 2), b, next, 0};
    }
    const PackCurrent piece = {i == 0 ? collapsed_V : volts(i + 1),
                               nodes.size() > plain_nodes ? volts(i + 2) : unlimited,
                               volts(i),
                               volts(i + 1),
                               a,
                               rise,
                               (next - rise) / (volts(i + 2) - volts(i))};
    if (collapsed) {
        return {-unlimited, collapsed_V, 0, 0, 0, piece.at(collapsed_V) / collapsed_V, 0};
    }
    return piece;
}

std::array<double, 2> DemandMap::growth(double T) const {
    constexpr double at_map = switch_resistance_factor(map_junction_C);
    const double more = switch_resistance_factor(T) / at_map;
    // of a parabola exactly its slope
    const double more_per_K =
        0.5 * (switch_resistance_factor(T + 1) - switch_resistance_factor(T - 1)) / at_map;
    const double current = current_factor(T);
    const double current_per_K = -current_fall * more_per_K * current * current;
    const double not_growing = 1 - growing_share;
    return {(growing_share * more * current + not_growing) * current,
            growing_share * current * (more_per_K * current + 2 * more * current_per_K) +
                not_growing * current_per_K};
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

}  // namespace hotband
