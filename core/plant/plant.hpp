// Plant: every number the physics needs, in SI, for one ESC and its share of the pack.
// Setup -> priors (each uncertain value a median, a spread and a basis) -> Plant for any draw of
// them.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "physics/cooling.hpp"
#include "physics/monotone.hpp"
#include "physics/pack.hpp"
#include "setup/setup.hpp"

namespace hotband {

/// The uncertain values, SI. One member for each row of the prior table.
struct Unknowns {
    double cell_resistance = 0;    // Ohm, one cell, 25 deg C
    double lead_inductance = 0;    // H, loop
    double switch_resistance = 0;  // Ohm, one position, 25 deg C
    double board_resistance = 0;   // Ohm, traces and connectors
    double transition = 0;         // s, each of turn-on and turn-off
    double dead_time = 0;          // s, each edge
    double diode_drop = 0;         // V, at the rated current and a working temperature
    double capacitance = 0;        // F
    double capacitor_esr = 0;      // Ohm, 25 deg C
    double idle_power = 0;         // W, electronics
    double recovery_charge = 0;    // C, diode reverse recovery
    double output_charge = 0;      // C, one leg
    double gate_charge = 0;        // C, one leg
    double kv = 0;                 // (rad/s)/V
    double motor_resistance = 0;   // Ohm, line to line, 25 deg C
    double motor_inductance = 0;   // H, line to line
    double no_load_current = 0;    // A, at full-throttle speed
    double ac_resistance = 0;      // R_ac / R_dc of the motor at the PWM frequency (dimensionless)
    double iron_ripple = 0;        // iron ripple loss over copper ripple loss (dimensionless)
    double current_scale = 0;      // true over told currents (dimensionless)
    double throttle_curve = 0;     // duty = throttle^curve where no points are told (dimensionless)
    double hover_duty = 0;         // duty of a fixed-pitch rotor in hover (dimensionless)
    double surface = 0;            // m2
    double heat_capacity = 0;      // J/K, whole ESC
    double junction_path = 0;      // K/W, junction to board
    double case_path = 0;          // K/W, board to case
    double convection = 0;         // factor on a flat plate's convection (dimensionless)
    double wash_share = 0;         // air speed at the ESC over the slipstream's (dimensionless)
    double bay_surface = 0;        // m2, skin of a closed bay
    double running_loss = 0;       // resistance that a motor adds by turning, over its copper's, at
                                   // running_loss_Hz (dimensionless)
    double winding_rise = 0;       // K, winding over air, settled at full throttle or in hover
    double winding_capacity = 0;   // J/K, copper and stator of one motor
    double size_coefficient = 0;   // of a load known by its size: the power coefficient of a
                                   // standing propeller or fan, a rotor's figure of merit
    double untold_current = 0;     // A, full throttle or hover, all motors, where nothing tells it
    double active_freewheel = 0;   // above zero: active, where nobody knows which (dimensionless)
    // A session's own share in what is read or flown: factor on the air over the ESC, the air's
    // temperature over the told one (K), factor on a sensor's rise over the air.
    double bench_air = 1, bench_offset = 0, bench_gain = 1;  // bench readings
    double flown_air = 1, flown_offset = 0, flown_gain = 1;  // flights that were read
    double coming_air = 1, coming_offset = 0;                // the flight to be predicted
    // What the model may be wrong about: factor on the ESC's heat at the knots of
    // `heat_error_duties`, straight lines between them.
    double heat_30 = 1, heat_45 = 1, heat_60 = 1, heat_75 = 1, heat_88 = 1, heat_100 = 1;
};

/// One row of the prior table: log-normal, median and log-spread in the unit the key names.
struct Prior {
    std::string_view key;
    double median = 0;
    double spread = 0;  // standard deviation of the natural logarithm; 0 fixes the value
    bool told = false;  // typed in by the pilot: a small spread stands for meter and label error
    std::string basis;
    double to_si = 1;
    double Unknowns::*slot = nullptr;
    bool used = true;       // false: nothing in this setup hangs on it
    bool additive = false;  // normal in its own unit instead of in its logarithm
};

/// Is it the coming flight's own, which no reading tells of?
inline bool is_of_coming_flight(const Prior& prior) {
    return prior.slot == &Unknowns::coming_air || prior.slot == &Unknowns::coming_offset;
}

/// What the load's pull is known from, the best there is.
enum class LoadTold { points, current, shaft, size, nothing };
LoadTold load_told(const Setup& setup);

/// Are currents told at given throttles, as points or as bench holds?
bool has_current_points(const Setup& setup);

/// Current (A) of one ESC at full throttle as far as it is told; otherwise what else is told
/// suggests.
double full_current(const Setup& setup);

/// The leads as told, or as usual: cross-section of one (mm2), and the distance between the two
/// from middle to middle (mm), which is no less than where they touch.
double lead_area_mm2(const Setup& setup);
double lead_spacing_mm(const Setup& setup);

/// Rate (C) beyond which few packs are made to give, whatever their label (common practice, no
/// source).
inline constexpr double most_usual_C = 60;

/// Ideal hover power over real, as told or as usual.
double figure_of_merit(const Setup& setup, double air_density);

/// Magnet poles of the motor, as told or as its kind usually has.
double poles_of(const Setup& setup);

/// Is the load the one rotor of a helicopter?
bool is_helicopter(const Setup& setup);

/// Does a governor hold the rotor's speed: one that is told, or a helicopter's?
bool holds_head_speed(const Setup& setup);

/// Motor turns for one rotor turn: as told, or what takes the motor to the rotor's speed at the
/// duty that governors hold.
double gear_ratio_of(const Setup& setup);

/// Rotors that share the mass: as told, or one for each motor.
double rotors_of(const Setup& setup);

/// Share of the wash that usually reaches the ESC, and the spread of its logarithm.
double usual_wash_share(Cooling cooling);
double wash_share_spread(Cooling cooling);

/// Chance that the ESC switches its freewheel actively (0..1), by what is told of it.
double chance_of_active(const Setup& setup);

/// Are there rows that were taken with a freewheel of unknown kind, and may that be either? The
/// kind that is in doubt is then theirs, and the setup's own is as it is told.
bool doubts_rows(const Setup& setup);

/// May the freewheel be either kind: in a six-step drive, told or not?
bool freewheel_open(const Setup& setup);

/// Whether a row tells a current at its throttle: a hold does, a flight has many throttles.
bool tells_current(const MeasuredRow& row);

/// Whether that current is of the setup's own load: with this propeller.
bool tells_load(const MeasuredRow& row);

/// Where a row was measured.
Where place_of(const MeasuredRow& row);

/// The prior table of a setup, in the order of Unknowns.
std::vector<Prior> make_priors(const Setup& setup);

/// Value of a prior at `z` standard deviations from its median, in its own unit.
double prior_value(const Prior& prior, double z);

/// How throttle becomes duty, and how hard the load pulls.
enum class LoadLaw { square, constant_speed, fixed_pitch };

struct LoadPlant {
    LoadLaw law = LoadLaw::square;
    double torque_coefficient = 0;   // N m s2, torque = k w2 (square)
    double hover_speed = 0;          // rad/s of the motor at 100 % (rotor laws)
    double hover_power = 0;          // W of shaft power for one motor at 100 % (rotor laws)
    MonotoneCurve duty_of_throttle;  // both 0..1 (square)
    double disc_area = 0;            // m2 of one propeller, fan or rotor
    double diameter = 0;             // m, told or estimated
    double figure_of_merit = 0;
    double wake_factor = 2;  // far wake over induced velocity (1 for a duct's exit)
};

/// Duties of the knots of the model's heat error.
inline constexpr std::array<double, 6> heat_error_duties = {0.30, 0.45, 0.60, 0.75, 0.88, 1.00};

struct PackPlant {
    const CellType* cells = nullptr;
    double series = 0;
    double parallel = 0;
    double nominal_V = 0;  // at rest, half charged
    double share = 1;      // ESCs on this pack: the sag comes from the total current
    double charge = 0;     // C, whole pack
    double start = 1;      // state of charge 0..1
    double reserve = 0.2;
    double start_C = 25;
    double sag_floor_V = 3.2;    // per cell
    double heat_capacity = 0;    // J/K
    double cooling = 0;          // W/K
    double lead_resistance = 0;  // Ohm, both ways, one ESC's
};

/// What the way an ESC is mounted decides.
struct Mounting {
    double wash_share = 0;  // of the air's speed
    double sun_W = 0;       // where the sun shines
    bool closed_bay = false;
};

struct HeatPlant {
    double C_junction = 0, C_board = 0, C_case = 0;  // J/K
    double G_junction = 0, G_case = 0;               // W/K
    Surface surface;
    double sun_W = 0;
    bool closed_bay = false;
    Surface bay;        // outer skin
    double G_film = 0;  // W/K, from the bay's air to its skin
    double C_bay = 0;   // J/K
};

/// The motor's windings as one node: their heat goes to the air that the motor itself moves.
struct WindingPlant {
    double capacity = 0;     // J/K
    double conductance = 0;  // W/K at `omega`
    double omega = 1;        // rad/s
};

struct Plant {
    Unknowns u;
    Drive drive = Drive::six_step;
    Freewheel freewheel = Freewheel::diode;
    Freewheel freewheel_then = Freewheel::diode;  // of rows that do not know it
    double pwm = 8000;                            // Hz
    double full_on = 0.97;  // throttle 0..1 from which the bridge stops chopping
    double rating_A = 0;
    double limit_C = 100;
    double diode_threshold = 0;  // V, part of the drop that does not grow with current
    double diode_slope = 0;      // Ohm
    double poles = 14;
    BecKind bec_kind = BecKind::none;
    double bec_V = 0, bec_A = 0;
    PackPlant pack;
    LoadPlant load;
    HeatPlant heat;
    std::array<Mounting, 3> mountings;  // in the order of Cooling: as it is, and otherwise
    Cooling cooling = Cooling::open;
    bool sun = false;
    WindingPlant winding;
    Ambient air;               // speed is set by the operating point
    double air_density = 1.2;  // kg/m3
    double flight_speed = 0;   // m/s where a part does not say otherwise
    double told_air_C = 25;    // before a session's own offset
    double told_kv = 0;        // rad/s per V; the median, where it is not told
    double air_factor = 1;     // on the air over the ESC
    double esc_start_C = 25;
};

/// The plant for one draw: z standard normal, one for each prior row (empty: all medians). The
/// load's coefficient and duty map need the bridge and are fitted later, by flight/load_fit.
Plant make_plant(const Setup& setup, std::span<const Prior> priors, std::span<const double> z = {});

/// Puts the ESC where it was mounted in another way, in the sun or out of it.
void mount(Plant& plant, Cooling cooling, bool sun);

}  // namespace hotband
