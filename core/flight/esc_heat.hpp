// The ESC's nodes of heat and the motor's windings: what warms them, what carries it off, one step.
//
// The network is linear once the junction's loss is linearised at its temperature and conductances
// are taken as they stand: that is stepped exactly (heat_chain.hpp). What departs from these lines
// is heat that grows evenly from nothing at the step's start to what it is half way, and on, by a
// tenth of the whole at most (an exponential Rosenbrock step; M. Hochbruck, A. Ostermann,
// "Exponential integrators", Acta Numerica 19, 2010; from memory).
#pragma once

#include <algorithm>
#include <cmath>
#include <variant>

#include "flight/demand_map.hpp"
#include "physics/constants.hpp"
#include "physics/heat_chain.hpp"

namespace hotband {

inline constexpr double runaway_junction_C = 250;  // silicon and solder are lost well below

/// Temperatures of the network's nodes, deg C.
struct HeatState {
    double junction = 25, board = 25, body = 25, bay = 25, winding = 25;
};

/// Whether a step's heat is one that can be: neither node colder than absolute zero, where numbers
/// end up that outgrew it.
inline bool is_possible(const HeatState& T) {
    return std::isfinite(T.junction) && std::isfinite(T.board) &&
           std::min(T.junction, T.board) > -zero_celsius_K;
}

/// Silicon and solder are gone where either node is; what is no possible heat is too.
inline bool is_lost(const HeatState& T, double end_C = runaway_junction_C) {
    return !(is_possible(T) && T.junction < end_C && T.board < end_C);
}

/// What warms the ESC.
struct Heating {
    double junction_W = 0;      // at the present junction temperature
    double junction_slope = 0;  // W/K
    double board_W = 0;         // supply, copper and capacitors
};

/// Of what a demand draws (`n`, of its `map`), at the temperatures T.
Heating heating_at(const Plant& p, const DemandMap& map, const DemandMap::Node& n,
                   const HeatState& T);

/// Conductances of the last links to the outside, W/K.
struct Outside {
    double body = 0;     // case to its air
    double bay = 0;      // bay's air through its skin to the open air
    double bay_sun = 0;  // share of the sun on the skin that gets into the bay
};

/// In air of these speeds (m/s), at the ESC and past the model, at the temperatures T.
Outside outside_of(const Plant& p, double air_speed, double flight_speed, const HeatState& T);

/// What warms the nodes and carries their heat off while they are as warm as `at`.
struct HeatFlows {
    HeatState at;
    Heating in;
    Outside out;
};

/// How fast the heat into junction and board grows beside the lines of a step's start, W/s.
struct HeatDrift {
    double junction = 0, board = 0;
};

/// A step's middle and end, and the drift that was seen in it.
struct HeatStep {
    HeatState middle, end;
    HeatDrift drift;
};

/// One step of the nodes over `dt` (s) from where `start` has them.
class HeatStride {
 public:
    HeatStride(const Plant& p, const HeatFlows& start, double dt);

    /// State half way along the lines of the start, if heat drifts as it did before.
    HeatState ahead(const HeatDrift& before) const;
    /// The step once it is known what flows about half way.
    HeatStep to_end(const HeatFlows& half_way) const;

 private:
    const Plant& p_;
    HeatFlows start_;
    double half_s_;
    std::variant<std::monostate, ChainFlow<3>, ChainFlow<4>> flow_;  // open, or in a closed bay
};

/// Conductance (W/K) of the windings to the air that a motor moves at this speed (rad/s): three
/// tenths of it at rest (common practice, no source).
double winding_conductance(const Plant& p, double omega);

/// What warms the windings and what they give off at a temperature, and how the difference grows
/// with it.
struct WindingFlow {
    double heat_W = 0, off_W = 0;
    double slope = 0;  // W/K

    double net_W() const { return heat_W - off_W; }
};

/// At what a demand draws (`n`, of its `map`), windings as warm as they are at a step's start.
WindingFlow winding_flow(const Plant& p, const DemandMap& map, const DemandMap::Node& n,
                         double junction_C, double winding_C);

/// Windings after `dt` (s) under a flow that drifts evenly from the start's to that half way and
/// on, both told for the windings of the start; solved exactly: C dT/dt = P(t) + slope (T - T_0).
double winding_after(const Plant& p, const WindingFlow& start, const WindingFlow& half_way,
                     double winding_C, double dt);

}  // namespace hotband
