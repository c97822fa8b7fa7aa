// How hard does the load pull, and which duty is which throttle? Fitted to the currents the pilot
// told.
#pragma once

#include <span>

#include "flight/operating.hpp"

namespace hotband {

/// The plant of one draw with its load fitted: the load coefficient from the full-throttle current,
/// shaft power, points or hover current, and a monotone throttle-to-duty map through the points and
/// the measured rows that carry a current. Currents are the pack's, all motors together.
Plant fitted_plant(const Setup& setup, std::span<const Prior> priors,
                   std::span<const double> z = {});

/// State of charge half way through a hold: of its own length and current when both are told,
/// otherwise half way to the reserve.
double half_way_charge(const PackPlant& pack, std::optional<double> pack_A,
                       std::optional<double> seconds);

/// Demand that draws `pack_A` (all motors, mean near state of charge `charge`) at this throttle:
/// the duty below full-on, the load's scale at full-on and for rotors.
Demand demand_for_current(const Plant& p, double throttle, double pack_A, double charge);

}  // namespace hotband
