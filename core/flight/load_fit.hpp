// How hard does the load pull, and which duty is which throttle? Fitted to the currents the pilot
// told.
#pragma once

#include <optional>
#include <span>
#include <tuple>

#include "flight/operating.hpp"

namespace hotband {

/// What a plant is asked for: throttles, or nothing but full throttle and told currents, which need
/// no throttle-to-duty map.
enum class Asked { throttles, currents };

/// The plant of one draw with its load fitted: the load coefficient from the full-throttle current,
/// shaft power, points or hover current, and a monotone throttle-to-duty map through the points and
/// the measured rows that carry a current, each on its own day's drive. Currents are the pack's,
/// all motors together.
Plant fitted_plant(const Setup& setup, std::span<const Prior> priors,
                   std::span<const double> z = {}, Asked asked = Asked::throttles);

/// What was other than the setup's on another day: the current (A, all motors together) that the
/// propeller drew at full throttle from the fresh pack, the motor's Kv, the pack's cells, the ESC's
/// freewheel, its BEC, how it was mounted and whether the sun shone on it.
struct OtherRig {
    std::optional<double> full_throttle_A = {}, kv_rpm_per_V = {}, cells = {};
    std::optional<Freewheel> freewheel = {};
    std::optional<BecKind> bec_kind = {};
    std::optional<Cooling> cooling = {};
    std::optional<bool> sun = {};

    bool operator==(const OtherRig&) const;
    /// For an order of rows.
    auto key() const {
        return std::tuple(full_throttle_A, kv_rpm_per_V, cells, freewheel, bec_kind, cooling, sun);
    }
};
OtherRig rig_of(const MeasuredRow& row);

/// The plant with that. A propeller that is not told to be another keeps its coefficient.
Plant rigged(Plant p, const OtherRig& rig);

/// Current (A, all motors together, as a pilot's meter shows it) at full throttle from the fresh
/// pack.
double fresh_full_throttle_A(const Plant& p);

/// State of charge half way through a hold: of its own length and current when both are told,
/// otherwise half way to the reserve.
double half_way_charge(const PackPlant& pack, std::optional<double> pack_A,
                       std::optional<double> seconds);

/// The pack behind one ESC as it is on the mean of a hold that draws `pack_A` (told, all motors
/// together, A) for `seconds`, or to the reserve when empty: means of the open-circuit voltage and
/// of the resistance as the charge falls and the cells warm by their own heat.
Source mean_source(const Plant& p, double pack_A, std::optional<double> seconds);

/// Demand that draws `pack_A` (told, all motors together, A) at this throttle from such a pack on
/// the mean of a hold of `seconds` (empty: long), windings warming with it: the duty below full-on,
/// the load's scale at full-on and for rotors.
Demand demand_for_current(const Plant& p, double throttle, double pack_A, const Source& source,
                          std::optional<double> seconds);

/// The same at one moment: state of charge `charge`, the pack as warm as at the start, windings as
/// warm as usual.
Demand demand_for_current(const Plant& p, double throttle, double pack_A, double charge);

}  // namespace hotband
