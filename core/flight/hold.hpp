// One throttle held: how hot, how long, and what does it draw?
#pragma once

#include <optional>
#include <vector>

#include "flight/load_fit.hpp"
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
    OtherRig rig = {};
};

/// Temperature of that day's air (deg C).
double air_of_the_day(const Plant& p, const BenchRun& run);

/// The plant in that air, with the drive and at the frequency of that day.
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

}  // namespace hotband
