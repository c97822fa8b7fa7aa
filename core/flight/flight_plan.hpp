// A flight of many parts, flown again and again: how hot, how long?
#pragma once

#include <vector>

#include "flight/march.hpp"

namespace hotband {

/// A flight's parts as legs. Shares become short cycles of `share_cycle_s`.
struct FlightPlan {
    std::vector<DemandMap> maps;  // one for each part of the setup
    std::vector<double> seconds;  // one for each part
    std::vector<Demand> demands;
    size_t solved = 0;  // of the maps; the others are the same again, or lie among them
};
inline constexpr double share_cycle_s = 60;

/// How long a part is flown each time its turn comes (s).
double seconds_of(const FlightSetup& flight, const FlightPart& part);

/// Legs that are all flown in turn, at most.
inline constexpr double most_legs = 120;

/// Turns of a flight: so many flown part by part, and then so many in which the mixture of its
/// parts is flown as one.
struct Stretch {
    int turns = 0;
    double mixed = 0;
};

/// How a flight of about so many turns is flown, each of `turn_s`: its stretches, again and again.
/// Where all its legs are few enough it is turn after turn. Otherwise its first turns and then a
/// few at a time, ever further apart, close to each other again about its end: what warms over many
/// turns goes on in the mixture as in them, and what a part adds to it shows in the turns.
std::vector<Stretch> stretches_of(size_t parts, double turn_s, double turns);

/// The work of that, in legs.
double legs_flown(size_t parts, double turn_s, double turns);

FlightPlan plan_flight(const Plant& p, const FlightSetup& flight);
March fly(const Plant& p, const FlightPlan& plan, Steps steps = Steps::fine);

}  // namespace hotband
