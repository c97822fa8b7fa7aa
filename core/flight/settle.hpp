// Where do temperatures settle, and how long do they take to cool down?
#pragma once

#include <optional>

#include "flight/esc_heat.hpp"

namespace hotband {

/// Where temperatures settle when the demand is held for ever on a source that does not empty.
struct Steady {
    HeatState heat;
    bool runaway = false;  // losses outgrow the cooling: there is no settled temperature
};
/// `junction_C`: where the junction is expected to settle, for the windings' current.
Steady settle(const Plant& p, const DemandMap& map, double v_link,
              double junction_C = map_junction_C);

/// The same on the pack at a charge and temperature, its link voltage that of the settled junction.
Steady settle_on_pack(const Plant& p, const DemandMap& map, double charge, double pack_C);

/// Board temperature after a constant heat for so long is rest_C + per_junction_W Pj + per_board_W
/// Pb, with the case's conductance taken at `body_C`.
struct Response {
    double rest_C = 0, per_junction_W = 0, per_board_W = 0;
};
Response board_response(const Plant& p, double air_speed, double flight_speed, double body_C,
                        double seconds, double start_C);

/// Seconds until the board has cooled from `from` to within `within_K` of the air, model standing,
/// propeller still; empty when it never does (sun on it), or not within six hours.
std::optional<double> cool_down_seconds(const Plant& p, const HeatState& from, double within_K);

}  // namespace hotband
