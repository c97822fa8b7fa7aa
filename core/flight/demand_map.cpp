// Exact operating points at a few link voltages, and what lies between them; see demand_map.hpp.
#include "flight/demand_map.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "physics/motor.hpp"

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

}  // namespace

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
        for (const NodeValue member : values) {
            out.*member += w.of[k] * (nodes[i].*member *
                                      (1 + x * (warming[i].*member + x * bending[i].*member)));
        }
    }
    const double current = current_factor(junction_C);
    out.i_pack *= current;
    out.i_motor *= current;
    out.board_W *= current * current;
    out.capacitor_W *= current * current;
    out.winding_W *= current * current;
    // A parabola through nodes close to zero, or with a kink between them, may pass below it.
    for (const NodeValue member : values) {
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
        const double warming_W = nodes[i].winding_W * warming[i].winding_W;
        const double bending_W = nodes[i].winding_W * bending[i].winding_W;
        out.watts += w.of[k] * (nodes[i].winding_W + x * (warming_W + x * bending_W));
        out.slope += w.of[k] * (warming_W + 2 * x * bending_W);
    }
    if (out.watts <= 0) {
        return {0, 0};
    }
    return {current * current * out.watts, current * current * out.slope};
}

DemandMap::PackCurrent DemandMap::pack_current_near(double v, double junction_C,
                                                    double winding) const {
    constexpr double unlimited = std::numeric_limits<double>::infinity();
    const double least_V = collapsed_V;
    if (v <= least_V) {
        const PackCurrent above =
            pack_current_near(std::nextafter(least_V, unlimited), junction_C, winding);
        return {-unlimited, least_V, 0, 0, 0, above.at(least_V) / least_V, 0};
    }
    const size_t i = first_of_three(v);
    const double x = winding - winding_C;
    const double factor = current_factor(junction_C);
    const auto current = [&](size_t node) {
        return factor * nodes[node].i_pack *
               (1 + x * (warming[node].i_pack + x * bending[node].i_pack));
    };
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

void set_bends(DemandMap& map, const std::vector<Bend>& bends) {
    for (size_t i = 0; i < bends.size(); ++i) {
        map.warming[i] = bends[i].warming;
        map.bending[i] = bends[i].bending;
    }
}

// Open-circuit voltages from an empty pack to a full one.
struct Range {
    double low, top;  // V

    double at(double share) const { return low + (top - low) * share; }
    double middle() const { return at(0.5); }
};

Range range_of(const PackPlant& k) {
    return {k.series * k.cells->open_circuit_V.at(k.reserve) * 0.90,
            k.series * k.cells->open_circuit_V.at(k.start) * 1.01};
}

std::vector<double> voltages(const Range& range, size_t count) {
    std::vector<double> Voc(count);
    for (size_t i = 0; i < count; ++i) {
        Voc[i] = range.at(static_cast<double>(i) / static_cast<double>(count - 1));
    }
    return Voc;
}

// Fills the map's nodes, evenly over the range. Whether there is a kink between them, which needs
// close ones: where the rotor loses its speed, the motor stalls, or the current begins to stop.
bool fill_nodes(const Plant& p, const Demand& d, const Source& source, const Range& range,
                size_t count, DemandMap& map) {
    map.nodes.clear();
    map.ok = true;
    size_t held = 0;
    size_t continuous = 0;
    size_t turning = 0;
    double conduction = 0;
    double junction = 0;
    for (const Operating& o : operate_at(p, d, source, voltages(range, count))) {
        map.ok = map.ok && o.ok;
        held += o.saturated ? 0 : 1;
        continuous += o.cycle.continuous ? 1 : 0;
        turning += o.omega > 0 ? 1 : 0;
        conduction += o.losses.conduction;
        junction += o.losses.at_junction();
        map.nodes.push_back(node_of(o));
    }
    map.saturated = held < count;
    map.growing_share = junction > 0 ? conduction / junction : 0;
    const auto some = [count](size_t n) { return n > 0 && n < count; };
    return some(held) || some(continuous) || some(turning);
}

}  // namespace

DemandMap map_demand(const Plant& p, const Demand& d, size_t least_nodes) {
    constexpr size_t few = 3;
    constexpr size_t many = 17;
    DemandMap map;
    map.throttle = d.throttle;
    map.flight_speed = d.speed_mps.value_or(p.flight_speed);
    map.winding_C = p.air.celsius + usual_winding_rise_K;
    const Range range = range_of(p.pack);
    const double R_src = later_resistance(p, d, range.middle(), map.winding_C);
    const Source source = {0, R_src, map_junction_C, map_board_C, map.winding_C};
    const bool kinked = fill_nodes(p, d, source, range, least_nodes, map);
    if (kinked && least_nodes == few) {
        fill_nodes(p, d, source, range, many, map);
    }
    map.collapsed_V = map.collapse_below();
    const size_t count = map.nodes.size();

    // Over the windings' temperature every node bends alike, but where there is a kink.
    map.warming.resize(count);
    map.bending.resize(count);
    const std::vector<double> bent_at =
        count > few ? voltages(range, count) : std::vector{range.middle()};
    const auto points = [&](double winding_C) {
        return operate_at(p, d, {0, R_src, map_junction_C, map_board_C, winding_C}, bent_at);
    };
    const std::vector<Operating> cooler = points(map.winding_C - cooler_K);
    const std::vector<Operating> warmer = points(map.winding_C + warmer_K);
    std::vector<Bend> bends;
    for (size_t i = 0; i < bent_at.size(); ++i) {
        bends.push_back(bend_of(node_of(cooler[i]), map.at(cooler[i].v_link), node_of(warmer[i]),
                                map.at(warmer[i].v_link)));
    }
    bends.resize(count, bends.front());
    set_bends(map, bends);

    const DemandMap::Node& centre = map.nodes[count / 2];
    const auto esr = [&](double celsius) {
        return capacitor_esr(p.u.capacitor_esr, p.u.capacitance, p.pwm, celsius);
    };
    map.capacitor_esr = esr(map_board_C);
    if (centre.capacitor_W > 0) {
        // How the capacitors' loss follows their ESR, from one more point with a warm board.
        constexpr double warm_board_C = 100;
        const Source warm = {range.middle(), R_src, map_junction_C, warm_board_C, map.winding_C};
        const double warm_W = operate(p, d, warm).losses.capacitor;
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

DemandMap map_among(const Plant& p, std::span<const DemandMap, 3> three, double place,
                    double flight_speed) {
    const std::array<double, 3> weights = {0.5 * place * (place - 1), 1 - place * place,
                                           0.5 * place * (place + 1)};
    DemandMap out = three[1];
    const auto mean = [&](const auto& value_of) {
        return weights[0] * value_of(three[0]) + weights[1] * value_of(three[1]) +
               weights[2] * value_of(three[2]);
    };
    for (double DemandMap::*member : {&DemandMap::growing_share, &DemandMap::capacitor_power,
                                      &DemandMap::current_fall, &DemandMap::throttle}) {
        out.*member = mean([&](const DemandMap& m) { return m.*member; });
    }
    for (size_t i = 0; i < out.nodes.size(); ++i) {
        DemandMap::Node& n = out.nodes[i];
        n.v_link = mean([i](const DemandMap& m) { return m.nodes[i].v_link; });
        for (const NodeValue member : values) {
            n.*member = std::max(0.0, mean([&](const DemandMap& m) { return m.nodes[i].*member; }));
            out.warming[i].*member = mean([&](const DemandMap& m) { return m.warming[i].*member; });
            out.bending[i].*member = mean([&](const DemandMap& m) { return m.bending[i].*member; });
        }
        n.air_speed = air_speed_at_esc(p, n.shaft_W, flight_speed);
    }
    out.collapsed_V = out.collapse_below();
    out.flight_speed = flight_speed;
    for (const DemandMap& m : three) {
        out.ok = out.ok && m.ok;
        out.saturated = out.saturated || m.saturated;
    }
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
        mean.v_link += shares[i] * v;
        for (const NodeValue member : values) {
            mean.*member += shares[i] * one.*member;
        }
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
    const std::vector<double> Voc = voltages(range_of(p.pack), count);
    const auto mean_at = [&](size_t i, double winding_C) {
        source.Voc = Voc[i];
        return mean_of(maps, shares, source, winding_C);
    };
    mixed.nodes.resize(count);
    for (size_t i = 0; i < count; ++i) {
        mixed.nodes[i] = mean_at(i, mixed.winding_C);
    }
    mixed.warming.resize(count);
    mixed.bending.resize(count);
    mixed.collapsed_V = mixed.collapse_below();
    const auto bend_at = [&](size_t i) {
        const DemandMap::Node cooler = mean_at(i, mixed.winding_C - cooler_K);
        const DemandMap::Node warmer = mean_at(i, mixed.winding_C + warmer_K);
        return bend_of(cooler, mixed.at(cooler.v_link), warmer, mixed.at(warmer.v_link));
    };
    std::vector<Bend> bends;
    for (size_t i = 0; i < count; ++i) {
        bends.push_back(many && i > 0 ? bends.front() : bend_at(many ? count / 2 : i));
    }
    set_bends(mixed, bends);
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

}  // namespace hotband
