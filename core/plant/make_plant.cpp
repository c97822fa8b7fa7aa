// Setup and a draw of the priors -> Plant. What is geometry or label, not belief, is worked out
// here.
#include <algorithm>
#include <cmath>

#include "physics/air.hpp"
#include "physics/constants.hpp"
#include "physics/propeller.hpp"
#include "physics/wire.hpp"
#include "plant/plant.hpp"

namespace hotband {
namespace {

constexpr double solar_W_per_m2 = 800;   // clear noon on a level surface, common practice
constexpr double dark_absorption = 0.9;  // black shrink-wrap

const Prior& row_of(std::span<const Prior> priors, double Unknowns::*slot) {
    return *std::find_if(priors.begin(), priors.end(),
                         [&](const Prior& row) { return row.slot == slot; });
}

PackPlant make_pack(const Setup& s) {
    const CellType& cell = cell_type(s.pack.chemistry);
    PackPlant p;
    p.cells = &cell;
    p.series = s.pack.cells;
    p.nominal_V = p.series * cell.open_circuit_V.at(0.5);
    p.parallel = s.pack.parallel;
    p.share = s.motor.count;
    p.charge = s.pack.capacity_mAh * 3.6 * s.pack.parallel;
    p.start = s.pack.start_pct / 100;
    p.reserve = s.pack.reserve_pct / 100;
    p.start_C = s.pack.temperature_C.value_or(s.air.temperature_C);
    p.sag_floor_V = s.pack.sag_floor_V.value_or(cell.sag_floor_V);
    const double energy = p.charge * p.series * cell.open_circuit_V.at(0.5);
    const double mass = energy / cell.energy_J_per_kg;
    p.charge *= cold_capacity(p.start_C);
    p.heat_capacity = 1000 * mass;       // J/(kg K) of a lithium pouch cell, from memory
    p.cooling = p.heat_capacity / 1500;  // settles in 25 minutes, common practice
    p.lead_resistance = lead_resistance(s.pack.lead_length_cm * 1e-2, lead_area_mm2(s) * 1e-6,
                                        s.air.temperature_C + 20);
    return p;
}

HeatPlant make_heat(const Setup& s, const Unknowns& u) {
    HeatPlant h;
    // Silicon, clips and the copper under it, from memory; of an ESC told to be far too light, no
    // more than a tenth of it.
    h.C_junction = std::min(0.009 * s.esc.rating_A, 0.1 * u.heat_capacity);
    h.C_board = 0.45 * u.heat_capacity;
    h.C_case = 0.55 * u.heat_capacity;
    h.G_junction = 1 / u.junction_path;
    h.G_case = 1 / u.case_path;
    const double length = s.esc.length_cm ? *s.esc.length_cm * 1e-2 : 0.75 * std::sqrt(u.surface);
    const bool horizontal = s.air.orientation == Orientation::horizontal;
    // Natural convection: standing plate of the board's width; lying plate, area over perimeter.
    const double width = 0.6 * length;
    const double height = horizontal ? length * width / (2 * (length + width)) : width;
    h.surface = {.area = u.surface,
                 .height = height,
                 .length = length,
                 .emissivity = 0.85,
                 .factor = u.convection,
                 .horizontal = horizontal};
    const double side = std::sqrt(u.bay_surface / 2);
    h.bay = {.area = u.bay_surface,
             .height = side,
             .length = side,
             .emissivity = 0.85,
             .factor = 1,
             .horizontal = false};
    h.G_film = u.bay_surface / 0.13;  // inner surface resistance, ISO 6946
    h.C_bay = 2000 * u.bay_surface;   // foam or film skin and the air in it, J/(m2 K), from memory
    return h;
}

// Sun on the ESC itself, or on the closed bay around it: a quarter of a body's surface is its
// shadow's area (Cauchy). Inside a bay no sun reaches the ESC.
double sun_W(const Unknowns& u, Cooling cooling) {
    return cooling == Cooling::open     ? dark_absorption * solar_W_per_m2 * u.surface / 4
           : cooling == Cooling::closed ? 0.6 * solar_W_per_m2 * u.bay_surface / 4
                                        : 0;
}

// A share of the wash that is off by so many standard deviations is so in another mounting too.
std::array<Mounting, 3> make_mountings(const Setup& s, const Unknowns& u,
                                       std::span<const Prior> priors) {
    const Prior& share = row_of(priors, &Unknowns::wash_share);
    const double deviations =
        share.median > 0 ? std::log(u.wash_share / share.median) / share.spread : 0;
    std::array<Mounting, 3> out;
    for (const Cooling cooling : {Cooling::open, Cooling::vented, Cooling::closed}) {
        const auto other = [&] {
            return usual_wash_share(cooling) * std::exp(wash_share_spread(cooling) * deviations);
        };
        out[static_cast<size_t>(cooling)] = {
            .wash_share = cooling == s.air.cooling ? u.wash_share : other(),
            .sun_W = sun_W(u, cooling),
            .closed_bay = cooling == Cooling::closed};
    }
    return out;
}

LoadPlant make_load(const Setup& s, const Unknowns& u, double air_density) {
    LoadPlant l;
    const LoadSetup& in = s.load;
    const double V = s.pack.cells * cell_type(s.pack.chemistry).open_circuit_V.at(0.5);
    const bool by_size = in.kind == LoadKind::governed && load_told(s) == LoadTold::size;
    l.figure_of_merit =
        by_size ? std::min(1.0, u.size_coefficient) : figure_of_merit(s, air_density);
    if (in.kind == LoadKind::governed) {
        const double diameter = in.rotor_diameter_m.value_or(0);
        l.diameter = diameter;
        l.disc_area = pi / 4 * diameter * diameter;
        if (in.mass_kg) {
            const double thrust = *in.mass_kg * gravity / rotors_of(s);
            l.hover_power = hover_power(thrust, l.disc_area, air_density, l.figure_of_merit);
        }
        // The ESC of a helicopter sits close under the disc, that of a multirotor on an arm in the
        // wash, which speeds up on its way (common practice, no source).
        const bool governed = holds_head_speed(s);
        l.wake_factor = governed ? 1 : 1.5;
        l.law = governed ? LoadLaw::constant_speed : LoadLaw::fixed_pitch;
        l.hover_speed =
            in.rotor_rpm ? *in.rotor_rpm * gear_ratio_of(s) * pi / 30 : u.kv * u.hover_duty * V;
        return l;
    }
    // Disc, where its diameter is not told, from the power it absorbs.
    const double current =
        load_told(s) == LoadTold::nothing ? u.untold_current / s.motor.count : full_current(s);
    const double shaft = in.shaft_W.value_or(0.8 * V * current);
    const double n = in.shaft_rpm ? *in.shaft_rpm / 60 : 0.78 * u.kv * V / (2 * pi);
    l.diameter =
        in.diameter_cm
            ? *in.diameter_cm * 1e-2
            : std::pow(shaft / propeller_power(u.size_coefficient, air_density, n, 1), 0.2);
    l.disc_area = pi / 4 * l.diameter * l.diameter;
    l.wake_factor = in.kind == LoadKind::fan ? 1 : 2;
    return l;
}

// A motor is sized for its current: where the current is a guess, what else is guessed of the motor
// goes with it.
void size_for_current(Unknowns& u, std::span<const Prior> priors) {
    const Prior& current = row_of(priors, &Unknowns::untold_current);
    const double ratio = u.untold_current / (current.to_si * current.median);
    const auto scale = [&](double Unknowns::*slot, double by) {
        u.*slot *= row_of(priors, slot).told ? 1 : by;
    };
    scale(&Unknowns::motor_resistance, 1 / ratio);
    scale(&Unknowns::motor_inductance, 1 / ratio);
    scale(&Unknowns::no_load_current, ratio);
    scale(&Unknowns::winding_capacity, ratio);
}

// The draw says; one that says neither is as the likelier kind.
Freewheel drawn_freewheel(const Setup& s, const Unknowns& u) {
    const bool active =
        u.active_freewheel != 0 ? u.active_freewheel > 0 : chance_of_active(s) >= 0.5;
    return active ? Freewheel::active : Freewheel::diode;
}

// That of the coming flight: told, where the doubt is the rows', else drawn.
Freewheel settled_freewheel(const Setup& s, const Unknowns& u) {
    const bool settled = !freewheel_open(s) || doubts_rows(s);
    return settled && s.esc.freewheel != Freewheel::unknown ? s.esc.freewheel
                                                            : drawn_freewheel(s, u);
}

}  // namespace

void mount(Plant& p, Cooling cooling, bool sun) {
    p.cooling = cooling;
    p.sun = sun;
    const Mounting& as = p.mountings[static_cast<size_t>(cooling)];
    p.u.wash_share = as.wash_share;
    p.heat.sun_W = sun ? as.sun_W : 0;
    p.heat.closed_bay = as.closed_bay;
}

Plant make_plant(const Setup& s, std::span<const Prior> priors, std::span<const double> z) {
    Plant p;
    for (size_t i = 0; i < priors.size(); ++i) {
        const Prior& row = priors[i];
        p.u.*row.slot = row.to_si * prior_value(row, z.empty() ? 0.0 : z[i]);
    }
    size_for_current(p.u, priors);
    p.drive = s.esc.drive;
    p.freewheel = settled_freewheel(s, p.u);
    p.freewheel_then = drawn_freewheel(s, p.u);
    p.pwm = s.esc.pwm_Hz;
    p.full_on = s.esc.full_on_pct / 100;
    p.rating_A = s.esc.rating_A;
    p.limit_C = s.esc.limit_C;
    // A fifth of the drop at the rated current grows with it; the rest is the junction's threshold.
    p.diode_threshold = 0.8 * p.u.diode_drop;
    p.diode_slope = 0.2 * p.u.diode_drop / s.esc.rating_A;
    p.poles = poles_of(s);
    p.bec_kind = s.esc.bec_kind;
    p.bec_V = s.esc.bec_V;
    p.bec_A = s.esc.bec_A;
    const double pressure = standard_pressure(s.air.altitude_m);
    p.told_air_C = s.air.temperature_C;
    const Prior& kv = row_of(priors, &Unknowns::kv);
    p.told_kv = kv.to_si * kv.median;
    p.air_factor = p.u.coming_air;
    p.air = {p.told_air_C + p.u.coming_offset, pressure, 0};
    p.air_density = air_at(s.air.temperature_C, pressure).density;
    p.flight_speed = s.air.flight_speed_mps;
    p.esc_start_C = s.flight.start_C.value_or(s.air.temperature_C);
    p.pack = make_pack(s);
    p.heat = make_heat(s, p.u);
    p.mountings = make_mountings(s, p.u, priors);
    mount(p, s.air.cooling, s.air.sun);
    p.load = make_load(s, p.u, p.air_density);
    p.winding.capacity = p.u.winding_capacity;
    return p;
}

}  // namespace hotband
