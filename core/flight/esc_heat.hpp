// The ESC's nodes of heat and the motor's windings: what warms them, what carries it off, one step.
//
// The network is linear once the junction's loss is linearised at its temperature and the case's
// conductance is taken at the step's middle; the linear step itself is exact (heat_chain.hpp).
#pragma once

#include <algorithm>
#include <cmath>

#include "flight/demand_map.hpp"
#include "physics/constants.hpp"

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

/// State half of `dt` (s) ahead of T, for what changes slowly over it: each node alone, its
/// neighbours held.
HeatState look_ahead(const Plant& p, const Heating& q, const Outside& out, const HeatState& T,
                     double dt);

/// A step's middle and end.
struct HeatStep {
    HeatState middle, end;
};

/// One step of `dt` (s) from T. The loss's line is that through its value and slope at the state
/// `about`.
HeatStep heat_step(const Plant& p, const Heating& q, const Outside& out, const HeatState& about,
                   const HeatState& T, double dt);

/// Conductance (W/K) of the windings to the air that a motor moves at this speed (rad/s): three
/// tenths of it at rest (common practice, no source).
double winding_conductance(const Plant& p, double omega);

/// Windings after `dt` (s) at what the demand draws, under a heat that grows with their own
/// resistance: C dT/dt = P + dP/dT (T - T_0) - G (T - T_air), solved exactly.
double winding_after(const Plant& p, const DemandMap& map, const DemandMap::Node& n,
                     double junction_C, double winding_C, double dt);

}  // namespace hotband
