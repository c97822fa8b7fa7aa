// At which speed and current do pack, bridge, motor and load agree, and what does the ESC lose
// there?
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "bridge/esc.hpp"
#include "plant/plant.hpp"

namespace hotband {

/// What the pilot asks of the drive. `throttle` is 0..1 for propellers and fans; for rotors it is
/// shaft power over hover power. A told duty or load scale replaces what the throttle would give.
struct Demand {
    double throttle = 1;
    std::optional<double> duty = {};       // square law only
    double load_scale = 1;                 // on the load's torque
    std::optional<double> speed_mps = {};  // flight speed; the plant's when empty
};

/// The pack as one ESC sees it, and the ESC's temperatures.
struct Source {
    double Voc = 0;    // V
    double R_src = 0;  // Ohm, pack times ESCs on it, plus leads
    double junction_C = 25;
    double board_C = 25;
    double winding_C = 65;
};

/// Windings over the air while a pilot reads a meter, and where nothing else is known (K, common
/// practice, no source).
inline constexpr double usual_winding_rise_K = 40;

struct Operating {
    double duty = 0;  // 0..1
    bool chopping = true;
    bool saturated = false;  // a rotor that full duty cannot hold at its speed
    double omega = 0;        // rad/s, motor
    double shaft_W = 0;
    double i_pack = 0;   // A, this ESC's share, supply included
    double i_motor = 0;  // A, mean line-to-line
    double v_link = 0;   // V
    double motor_ripple_W = 0;
    double motor_W = 0;    // W into the motor
    double winding_W = 0;  // W of it that stays there as heat
    double air_speed = 0;  // m/s at the ESC
    Losses losses;
    Cycle cycle;
    bool ok = false;
};

/// Solves one operating point. Tolerance 1e-11 of the open-circuit voltage on the back-EMF, 1e-8 on
/// a rotor's duty.
Operating operate(const Plant& p, const Demand& d, const Source& s, bool extrema = false);

/// Factors from what averages over the period say of a rotor's duty, and of how the current rises
/// with it, to what was found: a neighbouring point's is sought from there.
struct AveragesOff {
    double duty = 1, slope = 1;
};

/// What a point is met at: the pack at rest (V) and the windings (deg C).
struct Met {
    double Voc = 0;
    double winding_C = 65;
};

/// The same at several points for little more than one; the voltage of `s` is not used. `off` is
/// the last neighbouring point's, and becomes these points'. A load of square law shares one
/// bridge: of windings other than the source's the mean current then feels the change of
/// resistance, the ripple does not; they get a bridge of their own where the current stops at the
/// point before, or the motor stands.
std::vector<Operating> operate_at(const Plant& p, const Demand& d, const Source& s,
                                  std::span<const Met> met, AveragesOff& off, bool extrema = false);

/// Factor on the capacitors' loss at a point found on a source, for a board of another temperature
/// (deg C): its duty and speed as they are.
double capacitor_growth(const Plant& p, const Demand& d, const Source& s, const Operating& found,
                        double board_C);

/// The pack current (A) there by averages over the period, some hundredths off: for what little
/// hangs on it.
double averaged_pack_current(const Plant& p, const Demand& d, const Source& s);

/// Current the motor needs (A) to turn the load at `omega`, iron and friction included.
double needed_current(const Plant& p, double omega, double load_scale);

/// Volts that a turning motor loses beyond its copper's resistance, at `current` (A) through it:
/// the phases' commutation takes much of its sixth of the turn and lags, alternating currents crowd
/// in the copper, iron and magnets lose more under load. One lumped resistance, proportional to the
/// copper's and to the electrical frequency, drawn from measured drives (see the prior table); all
/// of it is heat in the motor.
double running_drop(const Plant& p, double omega, double current, double winding_C);

/// The pack behind one ESC at a state of charge (0..1) and pack temperature (deg C), windings as
/// warm as usual.
Source source_at(const Plant& p, double charge, double pack_C, double junction_C, double board_C);

/// Of its resistance the cells' own (ohm), as one ESC sees it.
double cells_resistance(const Plant& p, const Source& source);

/// Temperature of the pack (deg C) after `seconds` in which each ESC draws `i_pack` (A) from
/// `source`: C dT/dt = R I^2 - G (T - T_air), solved exactly with R held; never beyond
/// `lost_pack_C`.
double pack_after(const Plant& p, const Source& source, double pack_C, double i_pack,
                  double seconds);

/// Air speed at the ESC (m/s) for a shaft power and flight speed.
double air_speed_at_esc(const Plant& p, double shaft_W, double speed_mps);

}  // namespace hotband
