// One throttle held, and one flight flown: the two questions every room after this asks.
#pragma once

#include <optional>
#include <vector>

#include "flight/march.hpp"
#include "flight/settle.hpp"

namespace hotband {

/// What is held, for how long (to the pack's end when empty), from which ESC temperature.
struct HoldAsk {
    Demand demand;
    std::optional<double> seconds = {};
    double start_C = 25;
};

/// A hold flown to its end, with where it would settle and what it loses half way.
struct HoldRun {
    DemandMap map;
    March march;
    Steady steady;  // at half-way charge
    double mid_charge = 0.6;
    Operating middle;  // at half-way charge and the hold's mean temperatures
    bool ok = false;
};

/// The day of a run: the coming one, or that of the bench or flight readings.
enum class Day { coming, bench, flown };

/// A bench run as the pilot tells it: throttle, and where told its current, length, start and air.
struct BenchRun {
    double throttle = 1;
    Day day = Day::coming;
    std::optional<double> pack_A = {}, seconds = {}, start_C = {}, air_C = {}, pwm_Hz = {},
                          speed_mps = {};
};

/// The plant in the air, by the air's speed and at the frequency of that day.
Plant on_the_day(const Plant& p, const BenchRun& run);

/// The bench run as a hold of the plant, and the plant as it was that day: a told length is flown
/// out even below the reserve.
struct BenchCase {
    Plant plant;
    HoldAsk ask;
};
BenchCase bench_case(const Plant& p, const BenchRun& run);

/// Peak and mean only, for draws and fits.
March fly_hold(const Plant& p, const HoldAsk& ask, Steps steps = Steps::fine);

/// The same on the map of its demand.
March fly_hold(const Plant& p, const HoldAsk& ask, const DemandMap& map, Steps steps = Steps::fine);

HoldRun run_hold(const Plant& p, const HoldAsk& ask);

/// The first moment of a march at which the pack is down to a state of charge (0..1).
const Moment& at_charge(const March& march, double charge);

/// Moment half way through the march by charge.
const Moment& half_way_moment(const Plant& p, const March& march);

/// Seconds into the march at which the board first passes `limit_C`; empty when it never does.
std::optional<double> seconds_to(const March& march, double limit_C);

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
