// THE PRIOR TABLE: what to believe about an ESC, motor and pack nobody has measured, and how
// firmly. Each law is fixed by rating, Kv or capacity; each basis is one line. A spread is the
// standard deviation of the natural logarithm: 0.35 puts 80 % of the draws within a factor of 1.57
// either way.
#include <algorithm>
#include <cmath>

#include "physics/air.hpp"
#include "physics/constants.hpp"
#include "physics/motor.hpp"
#include "physics/propeller.hpp"
#include "physics/wire.hpp"
#include "plant/plant.hpp"

namespace hotband {
namespace {

// Reactance of the motor's inductance at full throttle over the voltage per ampere (dimensionless).
constexpr double usual_reactance = 0.25;

// A session's own share, as spreads (common practice, no source). Of air that nobody told the setup
// knows the flying weather, 5 to 30 deg C, while most benches stand in a room. A flight has many
// speeds where a pilot tells one: climbs at two thirds of it, dives at one and a half times.
constexpr double untold_air_factor = 0.45;
constexpr double told_air_factor = 0.10;
constexpr double coming_air_factor = 0.30;
constexpr double untold_air_K = 6;
constexpr double told_air_K = 0.7;
constexpr double sensor_gain = 0.04;
// What the loss model may be wrong about at one throttle, whatever it is right about at another.
constexpr double heat_error_spread = 0.10;
constexpr const char* heat_basis =
    "the model's own error in the ESC's heat near this duty, as far as its parts were held against "
    "measurement; common practice";

struct Told {
    std::optional<double> value;
    double spread;  // of a typed-in value
};

Prior row(std::string_view key, double to_si, double Unknowns::*slot, Told told, double median,
          double spread, std::string basis) {
    if (told.value) {
        return {key, *told.value, told.spread, true, "told", to_si, slot};
    }
    return {key, median, spread, false, std::move(basis), to_si, slot};
}

// A value that is as likely so much above as below.
Prior additive(std::string_view key, double Unknowns::*slot, double median, double spread,
               std::string basis) {
    return {key, median, spread, false, std::move(basis), 1, slot, true, true};
}

// A row that is drawn for a bench run to come, and listed where there was one.
Prior listed_if(bool used, Prior row) {
    row.used = used;
    return row;
}

// A row that some setups have no use for: fixed at its median there.
Prior row_if(bool used, Prior row) {
    row.used = used;
    row.spread = used ? row.spread : 0;
    return row;
}

double nominal_voltage(const PackSetup& p) {
    return p.cells * cell_type(p.chemistry).open_circuit_V.at(0.5);
}

}  // namespace

double rotors_of(const Setup& s) { return s.load.rotors.value_or(s.motor.count); }

bool is_helicopter(const Setup& s) {
    return s.load.kind == LoadKind::governed && s.motor.count == 1 && rotors_of(s) == 1;
}

bool holds_head_speed(const Setup& s) { return s.load.rotor_rpm || is_helicopter(s); }

double poles_of(const Setup& s) {
    // Fans have inrunners, helicopters outrunners of few poles, the others twelve teeth under
    // fourteen magnets (common practice, no source).
    return s.motor.poles.value_or(s.load.kind == LoadKind::fan ? 4 : is_helicopter(s) ? 10 : 14);
}

namespace {

// Duty at which a governor holds a helicopter's head speed in hover (common practice, no source).
constexpr double governed_duty = 0.72;

// Ratio that helicopters are geared by, 8 to 12, where nothing tells it (common practice, no
// source).
constexpr double usual_gear = 10;

// Head speed (rpm) of a helicopter that nobody told: by motor and gearing, or by its size, 1700 at
// 1.6 m of diameter, 2400 at 0.8 m (common practice, no source).
double usual_rotor_rpm(const Setup& s) {
    if (s.motor.kv_rpm_per_V && s.load.gear_ratio) {
        return governed_duty * *s.motor.kv_rpm_per_V * nominal_voltage(s.pack) / *s.load.gear_ratio;
    }
    return 2150 / std::sqrt(s.load.rotor_diameter_m.value_or(1));
}

}  // namespace

double gear_ratio_of(const Setup& s) {
    const LoadSetup& load = s.load;
    if (load.gear_ratio || !is_helicopter(s) || !load.rotor_rpm) {
        return load.gear_ratio.value_or(1);
    }
    constexpr double direct = 1;
    return s.motor.kv_rpm_per_V ? std::max(direct, governed_duty * *s.motor.kv_rpm_per_V *
                                                       nominal_voltage(s.pack) / *load.rotor_rpm)
                                : usual_gear;
}

namespace {

// Rating that says how large a drive is, where nothing else does.
double rating_of_drive(const Setup& s) { return s.load.for_esc_A.value_or(s.esc.rating_A); }

// Of the ESC's rating in hover: a drive takes 70 % of it at full throttle, and full thrust is two
// to four times the weight of a multirotor, somewhat less of a helicopter (common practice, no
// source); power goes with thrust's 3/2 power (momentum theory): a tenth to a third.
constexpr double usual_hover_share = 0.18;

// The current (A, one motor) at full throttle, or in hover, that the one told at the highest
// throttle leads to; nought where none is. A propeller's falls with the square of the throttle,
// somewhat less than the cube that its power falls with (common practice, no source), a rotor's
// with its power.
double full_of_part(const Setup& s) {
    const double exponent = s.load.kind == LoadKind::governed ? 1 : 2;
    constexpr double least_pct = 10;
    double highest_pct = 0;
    double full_A = 0;
    const auto take = [&](double throttle_pct, double pack_A) {
        const double pct = std::max(least_pct, throttle_pct);
        const double A = pack_A / s.motor.count / std::pow(pct / 100, exponent);
        full_A = pct > highest_pct ? A : pct == highest_pct ? std::max(full_A, A) : full_A;
        highest_pct = std::max(highest_pct, pct);
    };
    for (const ThrottlePoint& p : s.load.points) {
        take(p.throttle_pct, p.pack_A);
    }
    for (const MeasuredRow& row : s.measured) {
        if (tells_load(row)) {
            take(row.throttle_pct, *row.pack_A);
        }
    }
    return full_A;
}

// Pack current of one motor in hover: told, read, or from momentum theory at 80 % drive efficiency,
// or the usual share of the ESC's rating.
double hover_current(const Setup& s) {
    if (s.load.hover_A) {
        return *s.load.hover_A / s.motor.count;
    }
    if (const double read_A = full_of_part(s); read_A > 0) {
        return read_A;
    }
    if (load_told(s) == LoadTold::nothing) {
        return usual_hover_share * rating_of_drive(s);
    }
    const double disc =
        pi / 4 * s.load.rotor_diameter_m.value_or(1) * s.load.rotor_diameter_m.value_or(1);
    const double thrust = s.load.mass_kg.value_or(1) * gravity / rotors_of(s);
    const double density = air_at(s.air.temperature_C, standard_pressure(s.air.altitude_m)).density;
    const double shaft = hover_power(thrust, disc, density, figure_of_merit(s, density));
    return shaft / (0.8 * nominal_voltage(s.pack));
}

// Kv that puts a motor of this kind at its usual speed on this pack.
double default_kv(const Setup& s) {
    const double V = nominal_voltage(s.pack);
    if (s.load.kind == LoadKind::fan) {
        return 36000 / V;
    }
    if (s.load.kind == LoadKind::governed && s.load.rotor_rpm) {
        return *s.load.rotor_rpm * gear_ratio_of(s) / (governed_duty * V);
    }
    return 10000 / V;
}

double usual_kv(const Setup& s) { return s.motor.kv_rpm_per_V.value_or(default_kv(s)); }

// Power coefficient of a standing propeller or fan.
double usual_power_coefficient(const LoadSetup& load) {
    if (load.kind == LoadKind::fan) {
        return fan_power_coefficient;
    }
    return static_power_coefficient(load.pitch_cm && load.diameter_cm
                                        ? *load.pitch_cm / *load.diameter_cm
                                        : usual_pitch_over_diameter,
                                    load.blades);
}

// Current that turns a propeller of this size at 78 % of the motor's unloaded speed, the motor 80 %
// efficient, no more than a rating and a half: where the operating point will come out, roughly.
double current_by_size(const Setup& s) {
    const double V = nominal_voltage(s.pack);
    const double n = 0.78 * usual_kv(s) * V / 60;
    const double density = air_at(s.air.temperature_C, standard_pressure(s.air.altitude_m)).density;
    const double shaft =
        propeller_power(usual_power_coefficient(s.load), density, n, *s.load.diameter_cm * 1e-2);
    const double rating = rating_of_drive(s);
    return std::clamp(shaft / (0.8 * V), 0.1 * rating, 1.5 * rating);
}

// Full-throttle current of one ESC that nobody told: what pilots choose, where the pack can give
// it.
double chosen_current(const Setup& s) {
    const double pack_A = most_usual_C * s.pack.capacity_mAh * 1e-3 * s.pack.parallel;
    return std::min(0.70 * rating_of_drive(s), pack_A / s.motor.count);
}

// Duty at which a fixed-pitch propeller on the motor's shaft lifts its share of the weight: the
// motor turns at about that share of its unloaded speed. Its thrust coefficient follows from the
// power coefficient and the figure of merit, C_T^1.5 = FM C_P sqrt(pi / 2) (momentum theory). Where
// that is not told, 60 %.
double usual_hover_duty(const Setup& s) {
    const LoadSetup& load = s.load;
    constexpr double usual = 0.60;  // common practice, no source
    constexpr double direct = 1;
    if (is_helicopter(s)) {
        return governed_duty;
    }
    if (!load.mass_kg || !load.rotor_diameter_m || !s.motor.kv_rpm_per_V ||
        gear_ratio_of(s) != direct) {
        return usual;
    }
    const double density = air_at(s.air.temperature_C, standard_pressure(s.air.altitude_m)).density;
    const double C_P = static_power_coefficient(usual_pitch_over_diameter, load.blades);
    const double C_T = std::pow(figure_of_merit(s, density) * C_P * std::sqrt(pi / 2), 2.0 / 3);
    const double thrust = *load.mass_kg * gravity / rotors_of(s);
    const double n = std::sqrt(thrust / (C_T * density * std::pow(*load.rotor_diameter_m, 4)));
    const double duty = 60 * n / (*s.motor.kv_rpm_per_V * nominal_voltage(s.pack));
    return std::clamp(duty, 0.15, 0.90);
}

double told_full_current(const Setup& s) {
    if (s.load.full_throttle_A) {
        return *s.load.full_throttle_A / s.motor.count;
    }
    if (s.load.kind == LoadKind::governed) {
        // Twice the weight in thrust takes a multirotor nearly three times its hover current, and a
        // helicopter's hardest pitch takes five times (common practice, no source).
        return (is_helicopter(s) ? 5 : 3) * hover_current(s);
    }
    if (s.load.points.empty() && s.load.shaft_W && s.load.shaft_rpm) {
        return *s.load.shaft_W / (0.8 * nominal_voltage(s.pack));
    }
    if (const double read_A = full_of_part(s); read_A > 0) {
        return read_A;
    }
    return load_told(s) == LoadTold::size ? current_by_size(s) : chosen_current(s);
}

}  // namespace

// Common practice, no source: leads as thick as an ESC of this rating comes with, side by side.
double lead_area_mm2(const Setup& s) {
    return s.pack.lead_area_mm2.value_or(std::clamp(0.06 * s.esc.rating_A, 0.5, 8.4));
}

double lead_spacing_mm(const Setup& s) {
    const double radius_mm = std::sqrt(lead_area_mm2(s) / pi);
    return std::max(s.pack.lead_spacing_mm.value_or(4 * radius_mm), 2 * radius_mm);
}

double figure_of_merit(const Setup& s, double air_density) {
    constexpr double least = 0.1;   // as little as may be told
    constexpr double usual = 0.70;  // of a multirotor's propellers, common practice, no source
    const LoadSetup& load = s.load;
    if (load.figure_of_merit || !holds_head_speed(s) || !load.mass_kg || !load.rotor_diameter_m) {
        return load.figure_of_merit.value_or(usual);
    }
    const double radius = *load.rotor_diameter_m / 2;
    const double rpm = load.rotor_rpm.value_or(usual_rotor_rpm(s));
    return std::max(
        least, rotor_figure_of_merit(*load.mass_kg * gravity / rotors_of(s), pi * radius * radius,
                                     air_density, rpm * pi / 30 * radius));
}

double full_current(const Setup& s) {
    constexpr double least_A = 0.05;  // no motor of a model is built for less
    return std::max(least_A, told_full_current(s));
}

namespace {

// Current a motor is built for: what it draws and what its ESC is sold for both tell of it, and one
// that draws little behind a larger ESC is a larger motor with a light load. Geometric mean of the
// two, no less than the current. What another propeller drew of it tells as much.
double motor_current_class(const Setup& s) {
    double current = full_current(s);
    for (const MeasuredRow& row : s.measured) {
        const bool same_motor = !row.kv_rpm_per_V && !row.cells;
        current =
            std::max(current, same_motor ? row.full_throttle_A.value_or(0) / s.motor.count : 0);
    }
    return std::max(current, std::sqrt(current * 0.7 * rating_of_drive(s)));
}

// Are temperatures read in a place, and does every row there tell its air's speed and temperature?
struct Session {
    bool read = false, speed_told = true, air_told = true;
};

Session session_of(const Setup& s, Where place) {
    Session out;
    for (const MeasuredRow& r : s.measured) {
        const bool reads = r.esc_mean_C || r.esc_peak_C || r.esc_after_C || !r.trace.empty();
        if (reads && place_of(r) == place) {
            out.read = true;
            out.speed_told = out.speed_told && r.flight_speed_mps.has_value();
            out.air_told = out.air_told && r.air_C.has_value();
        }
    }
    return out;
}

// The capacity law of what is sold, narrowed by the label, and by what the fresh pack is told to
// deliver: half of the way to a cell's usual voltage under load at that current (common practice,
// no source).
double usual_cell_mOhm(const Setup& s, double full_A) {
    const CellType& cell = cell_type(s.pack.chemistry);
    const double Ah = s.pack.capacity_mAh * 1e-3;
    const double by_law =
        (s.pack.label_C ? cell.label_resistance / *s.pack.label_C : cell.resistance_capacity) / Ah;
    const double cell_A = full_A * s.motor.count / s.pack.parallel;
    const double most = (cell.open_circuit_V.at(1) - cell.loaded_V) / cell_A;
    return 1e3 * std::min(by_law, 0.5 * most);
}

// What a propeller's, fan's or rotor's size leaves open of its power.
Prior size_row(const Setup& s) {
    const LoadSetup& load = s.load;
    if (load.kind == LoadKind::fan) {
        return row("load.power_coefficient", 1, &Unknowns::size_coefficient, {},
                   usual_power_coefficient(load), 0.30,
                   "ducted fans absorb 1.6 rho n3 D5, common practice");
    }
    if (load.kind == LoadKind::propeller) {
        return row("load.power_coefficient", 1, &Unknowns::size_coefficient, {},
                   usual_power_coefficient(load), load.pitch_cm ? 0.20 : 0.35,
                   "C_P 0.0885 (pitch / diameter)^1.23 of 81 measured standing propellers, 0.19 "
                   "off in 81 others");
    }
    // Of a helicopter profile power goes with the cube of a head speed that may be a fifth another.
    const double density = air_at(s.air.temperature_C, standard_pressure(s.air.altitude_m)).density;
    const bool by_speed = holds_head_speed(s);
    return row("load.figure_of_merit", 1, &Unknowns::size_coefficient, {load.figure_of_merit, 0.05},
               figure_of_merit(s, density),
               !by_speed        ? 0.15
               : load.rotor_rpm ? 0.20
                                : 0.35,
               !by_speed        ? "multirotors' propellers, 0.58 to 0.85; common practice"
               : load.rotor_rpm ? "lift and the drag of two blades at this head speed; common "
                                  "practice"
                                : "lift and the drag of two blades at the head speed that this "
                                  "size, or motor and gearing, usually have; common practice");
}

// Its value says which kind: below nought diode, above active.
Prior freewheel_row(const Setup& s) {
    const bool then = doubts_rows(s);
    const bool told = !then && s.esc.freewheel != Freewheel::unknown;
    Prior kind = row_if(
        freewheel_open(s),
        additive("esc.freewheel", &Unknowns::active_freewheel, 0, 1,
                 then   ? "chance that the freewheel was active as you read; common practice"
                 : told ? "chance of an active freewheel: one in twenty is set otherwise than "
                          "told; common practice"
                        : "chance of an active freewheel: nobody told which; common practice"));
    kind.told = told;
    return kind;
}

// Was the ESC in a closed bay, or is it?
bool ever_closed(const Setup& s) {
    return s.air.cooling == Cooling::closed ||
           std::any_of(s.measured.begin(), s.measured.end(),
                       [](const MeasuredRow& row) { return row.cooling == CoolingThen::closed; });
}

}  // namespace

double usual_wash_share(Cooling cooling) {
    switch (cooling) {
        case Cooling::open:
            return 0.5;
        case Cooling::vented:
            return 0.2;
        case Cooling::closed:
            return 0.03;
    }
    return 0.5;
}

double wash_share_spread(Cooling cooling) { return cooling == Cooling::open ? 0.25 : 0.40; }

LoadTold load_told(const Setup& s) {
    const LoadSetup& load = s.load;
    const bool by_rows = std::any_of(s.measured.begin(), s.measured.end(), tells_load);
    if (load.kind == LoadKind::governed) {
        return by_rows                                 ? LoadTold::points
               : load.hover_A                          ? LoadTold::current
               : load.mass_kg && load.rotor_diameter_m ? LoadTold::size
                                                       : LoadTold::nothing;
    }
    return !load.points.empty() || by_rows  ? LoadTold::points
           : load.full_throttle_A           ? LoadTold::current
           : load.shaft_W && load.shaft_rpm ? LoadTold::shaft
           : load.diameter_cm               ? LoadTold::size
                                            : LoadTold::nothing;
}

bool has_current_points(const Setup& s) {
    return !s.load.points.empty() ||
           std::any_of(s.measured.begin(), s.measured.end(), tells_current);
}

bool doubts_rows(const Setup& s) {
    return s.esc.freewheel != Freewheel::unknown &&
           std::any_of(s.measured.begin(), s.measured.end(), [](const MeasuredRow& row) {
               return row.freewheel == FreewheelThen::unknown;
           });
}

bool freewheel_open(const Setup& s) {
    return !s.esc.freewheel_sure && s.esc.drive == Drive::six_step;
}

double chance_of_active(const Setup& s) {
    // A setting of the ESC, as often read off a box as seen in its menu; common practice, no
    // source.
    constexpr double told_wrongly = 0.05;
    if (s.esc.freewheel != Freewheel::unknown && !doubts_rows(s)) {
        return s.esc.freewheel == Freewheel::active ? 1 - told_wrongly : told_wrongly;
    }
    if (s.load.kind == LoadKind::governed && s.motor.count > 2) {
        return 0.85;
    }
    return s.esc.rating_A <= 60 ? 0.6 : 0.5;
}

bool tells_current(const MeasuredRow& row) { return row.kind == RowKind::hold && row.pack_A; }

bool tells_load(const MeasuredRow& row) { return tells_current(row) && !row.full_throttle_A; }

Where place_of(const MeasuredRow& row) {
    return row.where != Where::by_kind ? row.where
           : row.kind == RowKind::hold ? Where::bench
                                       : Where::flight;
}

double prior_value(const Prior& prior, double z) {
    return prior.additive ? prior.median + prior.spread * z
                          : prior.median * std::exp(prior.spread * z);
}

std::vector<Prior> make_priors(const Setup& s) {
    using U = Unknowns;
    const CellType& cell = cell_type(s.pack.chemistry);
    const double rating = s.esc.rating_A;
    const double I_full = full_current(s);
    const double V = nominal_voltage(s.pack);
    const double I_motor = motor_current_class(s);
    const double R_motor_mOhm = 0.082 * V / I_motor * 1e3;
    const double C_uF = s.esc.capacitor_uF.value_or(10 * rating);
    const double radius_mm = std::sqrt(lead_area_mm2(s) / pi);
    // 40 nH for the pack's own tabs and the connector.
    const double lead_nH =
        40 + 1e9 * lead_inductance(s.pack.lead_length_cm * 1e-2, lead_spacing_mm(s), radius_mm);
    // The voltage that the ESC's switches are chosen for.
    const double V_class =
        s.esc.cells_max.value_or(s.pack.cells) * cell_type(s.pack.chemistry).open_circuit_V.at(0.5);
    const Session bench = session_of(s, Where::bench);
    const Session flown = session_of(s, Where::flight);
    const bool points = has_current_points(s);
    const bool governed = s.load.kind == LoadKind::governed;
    const LoadTold told = load_told(s);
    const double kv = usual_kv(s);
    const double f_full = electrical_frequency(0.8 * kv * V * pi / 30, poles_of(s));
    const double torque = I_motor * 30 / (pi * kv);  // N m of one motor
    return {
        row("pack.cell_resistance_mOhm", 1e-3, &U::cell_resistance,
            {s.pack.cell_resistance_mOhm, 0.10}, usual_cell_mOhm(s, I_full),
            s.pack.label_C ? 0.30 : 0.42,
            s.pack.label_C ? "0.25 V over the labelled rate; common practice"
                           : std::string(cell.basis)),
        row("pack.lead_inductance_nH", 1e-9, &U::lead_inductance, {}, lead_nH,
            s.pack.lead_spacing_mm ? 0.2 : 0.35,
            "two-wire line of the lead's length and spacing, plus 40 nH for tabs and connector"),
        row("esc.switch_resistance_mOhm", 1e-3, &U::switch_resistance,
            {s.esc.switch_resistance_mOhm, 0.10}, 8.5 * std::pow(rating / 15, -1.167), 0.27,
            "6-12 mOhm at 10-20 A down to 0.3-0.8 at 150-200 A per switch position; common "
            "practice"),
        row("esc.board_resistance_mOhm", 1e-3, &U::board_resistance,
            {s.esc.board_resistance_mOhm, 0.15}, 50 / rating, 0.40,
            "traces and plugs drop about 50 mV at the rated current; common practice"),
        row("esc.transition_ns", 1e-9, &U::transition, {s.esc.transition_ns, 0.33},
            50 * std::pow(rating / 20, 0.9) * std::sqrt(V_class / 15), 0.90,
            "8-30 nC for each of the switches, whose number differs by 2.5 within a rating, over "
            "a driver's 0.1-1 A (makers' design guides; common practice), and a factor of 1.5 "
            "for what 1/2 V I t leaves out (ngspice): 2.5 either way in all"),
        row("esc.dead_time_ns", 1e-9, &U::dead_time, {s.esc.dead_time_ns, 0.10}, 550, 0.60,
            "200 ns to 1.5 us at each edge; common practice"),
        row("esc.diode_V", 1, &U::diode_drop, {s.esc.diode_V, 0.05}, 0.72, 0.09,
            "body diode 0.8 V typical in data sheets at 25 deg C, less when warm"),
        row("esc.capacitor_uF", 1e-6, &U::capacitance, {s.esc.capacitor_uF, 0.10}, 10 * rating,
            0.35, "220-470 uF at 20-40 A, 470-1000 uF at 60-100 A; common practice"),
        row("esc.capacitor_esr_mOhm", 1e-3, &U::capacitor_esr, {s.esc.capacitor_esr_mOhm, 0.15},
            1e4 / C_uF, 0.45, "low-impedance electrolytics: ESR x C about 10 us; common practice"),
        row("esc.idle_W", 1, &U::idle_power, {s.esc.idle_W, 0.15}, 0.4 + 0.004 * rating, 0.40,
            "processor and gate supply, 0.4-1 W; common practice"),
        row("esc.recovery_charge_nC", 1e-9, &U::recovery_charge, {}, 1.2 * rating, 0.50,
            "about 54 nC for a 60 V 10 mOhm switch in its data sheet, scaled with rating"),
        row("esc.output_charge_nC", 1e-9, &U::output_charge, {}, 1.7 * rating, 0.35,
            "both switches of a leg, 80 nC for each 1-2 mOhm in data sheets, scaled with rating"),
        row("esc.gate_charge_nC", 1e-9, &U::gate_charge, {}, 1.6 * rating, 0.35,
            "both switches of a leg, 40-95 nC for each 1-2 mOhm in data sheets, scaled with "
            "rating"),
        row("motor.kv_rpm_per_V", pi / 30, &U::kv, {s.motor.kv_rpm_per_V, 0.03}, default_kv(s),
            0.30, "usual full-throttle speed of its kind on this pack; common practice"),
        row("motor.resistance_mOhm", 1e-3, &U::motor_resistance, {s.motor.resistance_mOhm, 0.08},
            R_motor_mOhm, 0.30,
            "cold copper takes 8 % of the voltage at full throttle, 5 to 12 %; common practice"),
        row("motor.inductance_uH", 1e-6, &U::motor_inductance, {s.motor.inductance_uH, 0.10},
            usual_reactance * V / (2 * pi * f_full * I_motor) * 1e6, 0.50,
            "its reactance at full throttle takes about a quarter of the voltage, 13 to 47 %: what "
            "a "
            "measured small drive shows where its current begins to stop; weak; it decides the "
            "ripple"),
        row("motor.no_load_A", 1, &U::no_load_current, {s.motor.no_load_A, 0.10},
            0.16 * std::pow(I_motor, 0.7) * std::sqrt(f_full / 1500), 0.40,
            "5 % of the full-throttle current at 30 A, less in larger motors; common practice and "
            "two measured drives"),
        row("motor.ac_resistance_ratio", 1, &U::ac_resistance, {}, 1.3, 0.15,
            "skin and proximity effect in stranded copper at PWM frequencies; common practice"),
        row("motor.iron_ripple_ratio", 1, &U::iron_ripple, {}, 0.6, 0.50,
            "iron loss by ripple of the order of its copper loss; common practice"),
        row_if(told == LoadTold::current || points,
               row("load.current_scale", 1, &U::current_scale, {}, 1, 0.03,
                   "clamp meters and loggers, 3 %; common practice")),
        row_if(!governed,
               row("load.throttle_curve", 1, &U::throttle_curve, {}, 1, points ? 0.02 : 0.10,
                   "throttle percentages are duty only roughly; common practice")),
        row_if(governed && !s.load.rotor_rpm,
               row("load.hover_duty", 1, &U::hover_duty, {}, usual_hover_duty(s), 0.12,
                   is_helicopter(s)
                       ? "governors hold the head speed near 72 % in hover; common practice"
                       : "from the weight on each propeller and the motor's Kv, or 60 %: common "
                         "practice")),
        row("esc.surface_cm2", 1e-4, &U::surface, {s.esc.surface_cm2, 0.10}, 1.6 * rating, 0.25,
            "1.6 cm2 for each ampere, fins included: settles near 105 deg C at its rating in 5 m/s "
            "of air"),
        row("esc.mass_g", 0.62, &U::heat_capacity, {s.esc.mass_g, 0.12}, 0.95 * rating, 0.25,
            "about 1 g for each ampere of rating without leads, 0.62 J/(g K) for board and "
            "aluminium"),
        row("esc.junction_path_K_per_W", 1, &U::junction_path, {}, 30 / rating, 0.40,
            "about 5 K/W for each switch and the copper round it, 18 in parallel at 100 A; common "
            "practice"),
        row("esc.case_path_K_per_W", 1, &U::case_path, {}, 25 / rating, 0.40,
            "1 mm pad of 2 W/(m K) over a fifth of a square centimetre for each ampere"),
        row("air.convection_factor", 1, &U::convection, {}, 1, 0.20,
            "plate correlations hold to 20-25 % on real shapes"),
        row("air.wash_share", 1, &U::wash_share, {s.air.wash_share, 0.15},
            usual_wash_share(s.air.cooling), wash_share_spread(s.air.cooling),
            "half the slipstream in the open, a fifth in a vented bay; common practice"),
        row_if(ever_closed(s), row("air.bay_surface_cm2", 1e-4, &U::bay_surface,
                                   {s.air.bay_surface_cm2, 0.15}, 400 + 6 * rating, 0.40,
                                   "skin around a closed bay, 400-1000 cm2; common practice")),
        row("motor.running_loss", 1, &U::running_loss, {}, 1.2, 0.45,
            "what a turning motor loses beyond its copper's resistance, over that, at 1.5 kHz of "
            "electrical frequency: commutation's lag, alternating currents, iron and magnets under "
            "load; two small drives measured at 0.9-1.9 kHz"),
        row("motor.winding_rise_K", 1, &U::winding_rise, {}, governed ? 45 : 75, 0.40,
            governed ? "windings settle 45 K over the air in hover; common practice"
                     : "windings settle 75 K over the air at full throttle; common practice"),
        row("motor.winding_capacity_J_per_K", 1, &U::winding_capacity, {}, 46 * torque, 0.50,
            "170 g of motor for each N m at full throttle, six tenths of it copper and stator; "
            "common practice"),
        row_if(told == LoadTold::size, size_row(s)),
        row_if(told == LoadTold::nothing,
               row(governed ? "load.hover_A" : "load.full_throttle_A", 1, &U::untold_current, {},
                   (governed ? hover_current(s) : chosen_current(s)) * s.motor.count,
                   governed ? 0.45 : 0.20,
                   governed ? "10-32 % of the ESC's rating in hover; common practice"
                            : "55-90 % of the ESC's rating at full throttle; common practice")),
        freewheel_row(s),
        listed_if(bench.read,
                  row("bench.air_factor", 1, &U::bench_air, {}, 1,
                      bench.read && bench.speed_told ? told_air_factor : untold_air_factor,
                      "the bench's own air over the ESC; common practice")),
        listed_if(bench.read,
                  additive("bench.air_offset_K", &U::bench_offset, 0,
                           bench.read && bench.air_told ? told_air_K : untold_air_K,
                           "the bench's air, 6 K off where it is not told; common practice")),
        listed_if(bench.read, row("bench.sensor_gain", 1, &U::bench_gain, {}, 1, sensor_gain,
                                  "a sensor's rise over the air; common practice")),
        row_if(flown.read, row("flown.air_factor", 1, &U::flown_air, {}, 1,
                               flown.speed_told ? told_air_factor : untold_air_factor,
                               "that flight's own air over the ESC; common practice")),
        row_if(flown.read,
               additive("flown.air_offset_K", &U::flown_offset, 0,
                        flown.air_told ? told_air_K : untold_air_K,
                        "that flight's air, 6 K off where it is not told; common practice")),
        row_if(flown.read, row("flown.sensor_gain", 1, &U::flown_gain, {}, 1, sensor_gain,
                               "a thermometer's rise over the air; common practice")),
        row("coming.air_factor", 1, &U::coming_air, {}, 1, coming_air_factor,
            "the coming flight's own air over the ESC; common practice"),
        additive("coming.air_offset_K", &U::coming_offset, 0, told_air_K,
                 "the coming flight's air against the told temperature; common practice"),
        row("model.heat_30_pct", 1, &U::heat_30, {}, 1, heat_error_spread, heat_basis),
        row("model.heat_45_pct", 1, &U::heat_45, {}, 1, heat_error_spread, heat_basis),
        row("model.heat_60_pct", 1, &U::heat_60, {}, 1, heat_error_spread, heat_basis),
        row("model.heat_75_pct", 1, &U::heat_75, {}, 1, heat_error_spread, heat_basis),
        row("model.heat_88_pct", 1, &U::heat_88, {}, 1, heat_error_spread, heat_basis),
        row("model.heat_100_pct", 1, &U::heat_100, {}, 1, heat_error_spread, heat_basis),
    };
}

}  // namespace hotband
