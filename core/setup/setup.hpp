// Setup: what the pilot told us, in pilot units, exactly as contract v1 names it.
// Plain data; an empty optional means "not told": plant/ estimates it and the report lists it.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

namespace hotband {

enum class Chemistry { lipo, lihv, liion, lifepo4 };
enum class Freewheel { diode, active, unknown };
enum class Drive { six_step, sinusoidal };
enum class BecKind { none, linear, switching };
enum class LoadKind { propeller, fan, governed };
enum class Cooling { open, vented, closed };
enum class Orientation { vertical, horizontal };
enum class FlightKind { sequence, shares };
enum class RowKind { hold, flight };
enum class Where { by_kind, bench, flight };
// Of a row, what may have been other then: behind `as_now` the choices of the setup's own field.
enum class FreewheelThen { as_now, diode, active, unknown };
enum class BecKindThen { as_now, none, linear, switching };
enum class CoolingThen { as_now, open, vented, closed };
enum class SunThen { as_now, shade, sun };

struct PackSetup {
    double cells = 0;
    double capacity_mAh = 0;
    double parallel = 1;
    Chemistry chemistry = Chemistry::lipo;
    std::optional<double> cell_resistance_mOhm;  // of one cell at 25 deg C
    std::optional<double> label_C;               // rate printed on the pack
    std::optional<double> temperature_C;         // at the start; as the air when not told
    double start_pct = 100;
    double reserve_pct = 20;
    double lead_length_cm = 20;  // one way, pack and ESC leads together
    std::optional<double> lead_spacing_mm;
    std::optional<double> lead_area_mm2;
    std::optional<double> sag_floor_V;  // per cell under load
};

struct EscSetup {
    double rating_A = 0;
    std::optional<double> burst_A;
    std::optional<double> cells_max;
    double pwm_Hz = 0;
    std::vector<double> pwm_choices_Hz = {8000, 16000, 24000};
    Freewheel freewheel = Freewheel::unknown;
    // A fit for one kind is beyond the doubt of what is told, and of which kind readings were taken
    // with that do not know it; no fields.
    bool freewheel_sure = false;
    std::optional<Freewheel> freewheel_then;
    Drive drive = Drive::six_step;
    double full_on_pct = 97;  // at and above this throttle the bridge stops chopping
    double limit_C = 100;
    std::optional<double> switch_resistance_mOhm;  // one switch position at 25 deg C
    std::optional<double> board_resistance_mOhm;
    std::optional<double> transition_ns;
    std::optional<double> dead_time_ns;
    std::optional<double> diode_V;
    std::optional<double> capacitor_uF;
    std::optional<double> capacitor_esr_mOhm;
    std::optional<double> capacitor_ripple_A;  // rated ripple current of the whole bank
    std::optional<double> surface_cm2;
    std::optional<double> mass_g;
    std::optional<double> length_cm;
    std::optional<double> idle_W;
    BecKind bec_kind = BecKind::none;
    double bec_V = 5;
    double bec_A = 1;                 // average drawn
    std::optional<double> bec_max_A;  // what the supply is rated for
};

struct MotorSetup {
    std::optional<double> kv_rpm_per_V;
    std::optional<double> resistance_mOhm;  // line to line, 25 deg C
    std::optional<double> inductance_uH;    // line to line
    std::optional<double> no_load_A;
    std::optional<double> poles;  // magnets
    double count = 1;             // motors on this pack, each with its own ESC
};

// Currents named pack_A, full_throttle_A and hover_A are the pack's: all motors together.
struct ThrottlePoint {
    double throttle_pct = 0;
    double pack_A = 0;
    std::optional<double> rpm = {};  // of the motor
};

struct LoadSetup {
    LoadKind kind = LoadKind::propeller;
    // propeller and fan: full_throttle_A, points, or shaft_W with shaft_rpm; else from its size
    std::optional<double> full_throttle_A;  // from the fresh pack, all motors together
    std::vector<ThrottlePoint> points;
    std::optional<double> shaft_W;
    std::optional<double> shaft_rpm;
    std::optional<double> diameter_cm;  // of the propeller or fan
    std::optional<double> pitch_cm;     // of the propeller
    double blades = 2;
    // governed rotor: hover_A with rotor_rpm and gear_ratio, or mass, diameter and rotors
    std::optional<double> hover_A;
    std::optional<double> rotor_rpm;
    std::optional<double> gear_ratio;  // motor turns for one rotor turn
    std::optional<double> mass_kg;
    std::optional<double> rotor_diameter_m;
    std::optional<double> rotors;  // that share the mass
    std::optional<double> figure_of_merit;
    std::optional<double> for_esc_A;  // rating that motor and load were chosen for, if another
};

struct AirSetup {
    double temperature_C = 25;
    double altitude_m = 0;
    Cooling cooling = Cooling::open;
    Orientation orientation = Orientation::horizontal;
    double flight_speed_mps = 0;
    std::optional<double> wash_share;       // share of the propeller's wake that reaches the ESC
    std::optional<double> bay_surface_cm2;  // closed bay: outer skin that gives the heat away
    bool sun = false;
};

struct FlightPart {
    double throttle_pct = 0;
    double seconds = 0;    // kind sequence
    double share_pct = 0;  // kind shares
    std::optional<double> flight_speed_mps = {};
};

struct FlightSetup {
    FlightKind kind = FlightKind::sequence;
    std::vector<FlightPart> parts;
    std::optional<double> start_C;  // of the ESC; as the air when not told
};

struct MeasuredRow {
    RowKind kind = RowKind::hold;
    Where where = Where::by_kind;  // holds are read on the bench, flights in the air
    double throttle_pct = 100;
    std::optional<double> pack_A;  // mean over the hold
    std::optional<double> rpm;     // of the motor, mean over the hold
    std::optional<double> hold_s;  // to the reserve when not told
    std::optional<double> start_C;
    std::optional<double> air_C;   // as air.temperature_C when not told
    std::optional<double> pwm_Hz;  // as esc.pwm_Hz when not told
    // What it was taken with; as the setup's when not told.
    std::optional<double> full_throttle_A, kv_rpm_per_V, cells;
    FreewheelThen freewheel = FreewheelThen::as_now;
    BecKindThen bec_kind = BecKindThen::as_now;
    CoolingThen cooling = CoolingThen::as_now;
    SunThen sun = SunThen::as_now;
    std::optional<double> esc_mean_C;
    std::optional<double> esc_peak_C;
    std::optional<double> esc_after_C;         // kind flight: read right after landing
    std::optional<double> sensor_K;            // one-sigma error of this reading
    std::vector<std::array<double, 2>> trace;  // [t_s, esc_C]
    std::optional<double> flight_speed_mps;
};

struct AskedHold {
    double throttle_pct = 100;
    std::optional<double> pack_A;
    std::optional<double> hold_s;
    std::optional<double> start_C;
    std::optional<double> flight_speed_mps;
};

struct Setup {
    double version = 1;
    std::string name;
    PackSetup pack;
    EscSetup esc;
    MotorSetup motor;
    LoadSetup load;
    AirSetup air;
    FlightSetup flight;
    std::vector<MeasuredRow> measured;
    std::vector<AskedHold> ask_holds;
};

}  // namespace hotband
