// What does one demand draw and lose, at every link voltage and temperature it may meet?
#pragma once

#include <algorithm>
#include <array>
#include <limits>
#include <optional>
#include <span>
#include <vector>

#include "flight/operating.hpp"

namespace hotband {

inline constexpr double map_junction_C = 60;  // of the exact points of a DemandMap

/// Windings of the points that a map's bends are taken from, beside its own: from air that they
/// start at to where hard holds bring them (K).
inline constexpr double cooler_K = 40;
inline constexpr double warmer_K = 60;

/// Nodes of a map without a kink.
inline constexpr size_t plain_nodes = 3;

/// Maps solved for one flight, at most: more of its demands lie between these.
inline constexpr size_t most_maps = 16;

/// What one demand draws and loses, as smooth functions of link voltage and junction temperature:
/// exact operating points at a few link voltages, joined by local parabolas. As the junction warms,
/// conduction grows with the switches' resistance, while the motor current falls a little: at a
/// fixed duty E + R i stays, and a load i ~ E^2 gives di/i = -dR / (R + E / 2 i).
struct DemandMap {
    struct Node {
        double v_link = 0, i_pack = 0, i_motor = 0, omega = 0, shaft_W = 0, junction_W = 0,
               board_W = 0, capacitor_W = 0, air_speed = 0, winding_W = 0;
    };
    std::vector<Node> nodes;  // rising link voltage
    double winding_C = 65;    // of the nodes
    /// Relative change of each of a node's values for a kelvin of winding, and for a kelvin
    /// squared, up to `warmer_K`; one for each node.
    std::vector<Node> warming, bending;
    double collapsed_V = 0;  // below it currents and speed go with the voltage
    double growing_share =
        0;  // share of junction_W, at map_junction_C, that grows as the switches do
    double capacitor_esr = 0;  // Ohm, of the nodes
    double capacitor_power =
        1;                    // capacitor_W goes with ESR to this power: less current at more ESR
    double current_fall = 0;  // relative fall of the motor current as their resistance doubles
    double current_form = 1;  // of the pack's current its root mean square over its mean
    double throttle = 0;
    double flight_speed = 0;
    bool ok = false;
    bool saturated = false;  // somewhere in the pack full duty cannot hold the rotor

    /// The point at a link voltage, junction and winding temperature. Below `collapsed_V` the pack
    /// has collapsed: a drive that gets too little is a resistance.
    Node at(double v_link, double junction_C, double winding_C) const;
    /// The same at the temperatures of the nodes.
    Node at(double v_link) const { return at(v_link, map_junction_C, winding_C); }
    /// The pack's current (A) over link voltage between two of the nodes: a parabola in Newton's
    /// form.
    struct PackCurrent {
        double from, to;  // V, where it holds
        double first_V, second_V;
        double at_first, rise, bend;  // A, A/V, A/V^2

        double at(double v) const {
            return at_first + (v - first_V) * (rise + bend * (v - second_V));
        }
        double slope(double v) const { return rise + bend * (2 * v - first_V - second_V); }
        bool holds(double v) const { return v > from && v <= to; }
    };
    PackCurrent pack_current_near(double v_link, double junction_C, double winding_C) const;
    double pack_current(double v_link, double junction_C, double winding) const {
        return std::max(0.0, pack_current_near(v_link, junction_C, winding).at(v_link));
    }
    double pack_current(double v_link) const {
        return pack_current(v_link, map_junction_C, winding_C);
    }
    struct WindingHeat {
        double watts, slope;  // W, W/K
    };
    WindingHeat winding_heat(double v_link, double junction_C, double winding_C) const;
    /// Factor on junction_W and its slope (1/K) at a junction temperature T (deg C).
    std::array<double, 2> growth(double T) const;

    /// What `collapsed_V` is for these nodes: four fifths of the lowest one's voltage, or the node
    /// itself where a kink above it would bend the currents below it.
    double collapse_below() const;

 private:
    struct Weights {
        size_t first = 0;
        std::array<double, 3> of{};
    };
    Weights weights(double v_link) const;
    size_t first_of_three(double v_link) const;
    // Above the nodes of a map with a kink, where a straight line goes on from the last two: a
    // parabola through the kink turns down there.
    bool is_beyond(double v_link) const;
    double current_factor(double junction_C) const;
};

/// All that a node tells of its link voltage.
using NodeValue = double DemandMap::Node::*;
inline constexpr std::array<NodeValue, 9> node_values = {
    &DemandMap::Node::i_pack,      &DemandMap::Node::i_motor,    &DemandMap::Node::omega,
    &DemandMap::Node::shaft_W,     &DemandMap::Node::junction_W, &DemandMap::Node::board_W,
    &DemandMap::Node::capacitor_W, &DemandMap::Node::air_speed,  &DemandMap::Node::winding_W};

/// With at least so many nodes, three or more; kinks between them ask for more.
DemandMap map_demand(const Plant& p, const Demand& d, size_t least_nodes = plain_nodes);

/// A demand among three others, evenly apart, whose maps have as many nodes: `place` from the
/// middle one on, in steps to the next. Each value of each node on its parabola; at a flight speed
/// (m/s).
DemandMap map_among(const Plant& p, std::span<const DemandMap, 3> three, double place,
                    double flight_speed);

/// Demands flown in turn so quickly that board and case feel only their mean, each at the link
/// voltage that the pack leaves it: shares sum to 1.
DemandMap mix_demands(const Plant& p, const std::vector<DemandMap>& maps,
                      const std::vector<double>& shares);

/// Link voltage at which a source and a demand agree; `near_V` is about what it will be.
double link_voltage(const Source& source, const DemandMap& map, double junction_C, double winding_C,
                    std::optional<double> near_V = {});

/// The same on the pack at a charge and temperature.
double link_voltage(const Plant& p, const DemandMap& map, double charge, double pack_C,
                    double junction_C, double winding_C);

/// The same at the temperatures of the map's nodes.
inline double link_voltage(const Plant& p, const DemandMap& map, double charge, double pack_C) {
    return link_voltage(p, map, charge, pack_C, map_junction_C, map.winding_C);
}

}  // namespace hotband
