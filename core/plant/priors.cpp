// THE PRIOR TABLE: what to believe about an ESC, motor and pack nobody has measured, and how
// firmly. Each law is fixed by rating, Kv or capacity; each basis is one line. A spread is the
// standard deviation of the natural logarithm: 0.35 puts 80 % of the draws within a factor of 1.57
// either way.
#include <algorithm>
#include <cmath>

#include "physics/air.hpp"
#include "physics/constants.hpp"
#include "physics/propeller.hpp"
#include "physics/wire.hpp"
#include "plant/plant.hpp"

namespace hotband {
namespace {

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

double nominal_voltage(const PackSetup& p) {
    return p.cells * cell_type(p.chemistry).open_circuit_V.at(0.5);
}

// Pack current of one motor in hover: told, or from momentum theory at 80 % drive efficiency.
double hover_current(const Setup& s) {
    if (s.load.hover_A) {
        return *s.load.hover_A / s.motor.count;
    }
    const double disc =
        pi / 4 * s.load.rotor_diameter_m.value_or(1) * s.load.rotor_diameter_m.value_or(1);
    const double thrust = s.load.mass_kg.value_or(1) * gravity / s.load.rotors;
    const double density = air_at(s.air.temperature_C, standard_pressure(s.air.altitude_m)).density;
    const double shaft = hover_power(thrust, disc, density, s.load.figure_of_merit.value_or(0.70));
    return shaft / (0.8 * nominal_voltage(s.pack));
}

// Current of one ESC at full throttle as far as it is told; otherwise what its rating suggests.
double full_current(const Setup& s) {
    if (s.load.full_throttle_A) {
        return *s.load.full_throttle_A / s.motor.count;
    }
    if (s.load.kind == LoadKind::governed) {
        // A rotor drive is sized for about twice its hover current (common practice, no source).
        return 2 * hover_current(s);
    }
    double most = 0;
    for (const ThrottlePoint& p : s.load.points) {
        most = std::max(most, p.pack_A / s.motor.count);
    }
    if (most > 0) {
        return most;
    }
    return 0.8 * s.esc.rating_A;
}

double default_wash_share(const AirSetup& air) {
    switch (air.cooling) {
        case Cooling::open:
            return 0.5;
        case Cooling::vented:
            return 0.2;
        case Cooling::closed:
            return 0.03;
    }
    return 0.5;
}

// Kv that puts a motor of this kind at its usual speed on this pack.
double default_kv(const Setup& s) {
    const double V = nominal_voltage(s.pack);
    if (s.load.kind == LoadKind::fan) {
        return 36000 / V;
    }
    if (s.load.kind == LoadKind::governed && s.load.rotor_rpm) {
        return *s.load.rotor_rpm * s.load.gear_ratio / (0.72 * V);
    }
    return 10000 / V;
}

}  // namespace

double prior_value(const Prior& prior, double z) {
    return prior.median * std::exp(prior.spread * z);
}

std::vector<Prior> make_priors(const Setup& s) {
    using U = Unknowns;
    const CellType& cell = cell_type(s.pack.chemistry);
    const double rating = s.esc.rating_A;
    const double Ah = s.pack.capacity_mAh * 1e-3;
    const double I_full = full_current(s);
    const double V = nominal_voltage(s.pack);
    const double R_motor_mOhm = 0.07 * V / I_full * 1e3;
    const double R_used_mOhm = s.motor.resistance_mOhm.value_or(R_motor_mOhm);
    const double C_uF = s.esc.capacitor_uF.value_or(10 * rating);
    const double area_mm2 = s.pack.lead_area_mm2.value_or(std::clamp(0.06 * rating, 0.5, 8.4));
    const double radius_mm = std::sqrt(area_mm2 / pi);
    const double spacing_mm =
        std::max(s.pack.lead_spacing_mm.value_or(4 * radius_mm), 2 * radius_mm);
    // 40 nH for the pack's own tabs and the connector.
    const double lead_nH =
        40 + 1e9 * lead_inductance(s.pack.lead_length_cm * 1e-2, spacing_mm, radius_mm);
    const bool points = !s.load.points.empty() ||
                        std::any_of(s.measured.begin(), s.measured.end(),
                                    [](const MeasuredRow& r) { return r.pack_A.has_value(); });
    return {
        row("pack.cell_resistance_mOhm", 1e-3, &U::cell_resistance,
            {s.pack.cell_resistance_mOhm, 0.10}, cell.resistance_capacity / Ah * 1e3, 0.36,
            std::string(cell.basis)),
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
        row("esc.transition_ns", 1e-9, &U::transition, {s.esc.transition_ns, 0.10}, 150, 0.45,
            "gate charge over gate current of paralleled 30-60 V switches, 80-280 ns; common "
            "practice"),
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
            R_motor_mOhm, 0.30, "7 % copper loss at full throttle; common practice"),
        row("motor.inductance_uH", 1e-6, &U::motor_inductance, {s.motor.inductance_uH, 0.10},
            0.7 * std::sqrt(14 / s.motor.poles) * R_used_mOhm, 0.50,
            "L/R of 0.6-0.9 ms for 12-14 pole outrunners; weak, spread wide; it decides the "
            "ripple"),
        row("motor.no_load_A", 1, &U::no_load_current, {s.motor.no_load_A, 0.10}, 0.03 * I_full,
            0.40, "3 % of the full-throttle current; common practice"),
        row("motor.ac_resistance_ratio", 1, &U::ac_resistance, {}, 1.3, 0.15,
            "skin and proximity effect in stranded copper at PWM frequencies; common practice"),
        row("motor.iron_ripple_ratio", 1, &U::iron_ripple, {}, 0.6, 0.50,
            "iron loss by ripple of the order of its copper loss; common practice"),
        row("load.current_scale", 1, &U::current_scale, {}, 1, 0.03,
            "clamp meters and loggers, 3 %; common practice"),
        row("load.throttle_curve", 1, &U::throttle_curve, {}, 1, points ? 0.02 : 0.10,
            "throttle percentages are duty only roughly; common practice"),
        row("load.hover_duty", 1, &U::hover_duty, {}, 0.60, 0.12,
            "fixed-pitch multirotors hover near 60 % duty; common practice"),
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
            default_wash_share(s.air), s.air.cooling == Cooling::open ? 0.35 : 0.50,
            "half the slipstream in the open, a fifth in a vented bay; common practice"),
        row("air.bay_surface_cm2", 1e-4, &U::bay_surface, {s.air.bay_surface_cm2, 0.15},
            400 + 6 * rating, 0.40, "skin around a closed bay, 400-1000 cm2; common practice"),
    };
}

}  // namespace hotband
