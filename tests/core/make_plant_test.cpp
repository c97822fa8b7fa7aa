// The plant of a setup by hand: pack, leads, plates, bay, sun, propeller and rotor geometry (D from
// the stated laws), and what goes with a guessed current.
#include <cmath>

#include "drives.hpp"
#include "near.hpp"
#include "physics/air.hpp"
#include "physics/constants.hpp"
#include "physics/cooling.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr double by_hand = 1e-9;      // relative; the same arithmetic in another order
constexpr double lipo_half_V = 3.84;  // rest voltage of a half charged LiPo cell (P)
constexpr double V6 = 6 * lipo_half_V;

Plant plant_of(const Setup& s) { return make_plant(s, make_priors(s)); }

void is(double value, double expected) { CHECK_THAT(value, WithinRel(expected, by_hand)); }

double density(double celsius) { return 101325 / (287.05287 * (celsius + 273.15)); }

Setup rotor_drive() {
    Setup s;
    s.pack.cells = 6;
    s.pack.capacity_mAh = 10000;
    s.esc.rating_A = 60;
    s.esc.pwm_Hz = 16000;
    s.motor.count = 4;
    s.load.kind = LoadKind::governed;
    s.load.mass_kg = 4;
    s.load.rotors = 4;
    s.load.rotor_diameter_m = 0.4;
    return s;
}

}  // namespace

TEST_CASE("plant: the pack by hand (D)") {
    Setup s = six_cell_drive();
    const PackPlant pack = plant_of(s).pack;
    CHECK(pack.series == 6);
    CHECK(pack.parallel == 1);
    CHECK(pack.share == 1);
    is(pack.nominal_V, V6);
    is(pack.charge, 5 * 3600);
    is(pack.start, 1);
    is(pack.reserve, 0.2);
    is(pack.start_C, 25);
    is(pack.sag_floor_V, 3.2);
    // 140 Wh/kg, 1000 J/(kg K), 25 minutes (P)
    is(pack.heat_capacity, 1000 * 5 * V6 / 140);
    is(pack.cooling, 5 * V6 / 140 / 1.5);
    // 20 cm there and back of 8.4 mm2, the most that is fitted, 20 K over the air
    is(pack.lead_resistance, 2 * 1.7241e-8 * 0.2 / 8.4e-6 * (1 + 0.00393 * 25));
    s.esc.rating_A = 100;
    is(plant_of(s).pack.lead_resistance, pack.lead_resistance * 8.4 / 6);
    s.esc.rating_A = 5;
    is(plant_of(s).pack.lead_resistance, pack.lead_resistance * 8.4 / 0.5);
    s.pack.lead_area_mm2 = 4;
    s.pack.lead_length_cm = 30;
    is(plant_of(s).pack.lead_resistance, pack.lead_resistance * 8.4 / 4 * 1.5);
    s.pack.parallel = 2;
    s.motor.count = 3;
    s.pack.start_pct = 90;
    s.pack.reserve_pct = 25;
    s.pack.temperature_C = 12;
    s.pack.sag_floor_V = 3.4;
    const PackPlant other = plant_of(s).pack;
    is(other.charge, 2 * 5 * 3600 * (1 - 0.006 * 8));  // 8 K under 20 deg C (P)
    is(other.heat_capacity, 2 * pack.heat_capacity);
    CHECK(other.parallel == 2);
    CHECK(other.share == 3);
    is(other.start, 0.9);
    is(other.reserve, 0.25);
    CHECK(other.start_C == 12);
    CHECK(other.sag_floor_V == 3.4);
    s.pack.temperature_C.reset();
    s.air.temperature_C = 7;
    CHECK(plant_of(s).pack.start_C == 7);
}

TEST_CASE("plant: what the setup says of ESC, air and flight stands in it") {
    Setup s = six_cell_drive();
    s.esc.full_on_pct = 95;
    s.esc.limit_C = 90;
    s.esc.bec_kind = BecKind::linear;
    s.esc.bec_V = 6;
    s.esc.bec_A = 1.5;
    s.motor.poles = 10;
    s.air.temperature_C = 31;
    s.air.altitude_m = 800;
    s.air.flight_speed_mps = 17;
    const Plant p = plant_of(s);
    CHECK(p.pwm == 8000);
    is(p.full_on, 0.95);
    CHECK(p.rating_A == 150);
    CHECK(p.limit_C == 90);
    CHECK(p.poles == 10);
    CHECK(p.bec_kind == BecKind::linear);
    CHECK(p.bec_V == 6);
    CHECK(p.bec_A == 1.5);
    CHECK(p.told_air_C == 31);
    CHECK(p.air.celsius == 31);
    CHECK(p.air.speed == 0);
    CHECK(p.flight_speed == 17);
    CHECK(p.esc_start_C == 31);
    is(p.air_density, standard_pressure(800) / (287.05287 * 304.15));
    // four fifths of the diode's drop do not grow with the current (P)
    is(p.diode_threshold, 0.8 * 0.72);
    is(p.diode_slope, 0.2 * 0.72 / 150);
    s.flight.start_C = 44;
    CHECK(plant_of(s).esc_start_C == 44);
    is(plant_of(s).winding.capacity, plant_of(s).u.winding_capacity);
    // The coming flight's own air is what its row draws.
    const std::vector<Prior> priors = make_priors(s);
    std::vector<double> z(priors.size(), 0);
    for (size_t i = 0; i < priors.size(); ++i) {
        z[i] = priors[i].key == "coming.air_offset_K" ? 2
               : priors[i].key == "coming.air_factor" ? 1
                                                      : 0;
    }
    const Plant drawn = make_plant(s, priors, z);
    is(drawn.air.celsius, 31 + 1.4);
    is(drawn.air_factor, std::exp(0.30));
    CHECK(drawn.told_air_C == 31);
}

TEST_CASE("plant: the ESC's heat network by hand (D)") {
    Setup s = six_cell_drive();
    const HeatPlant h = plant_of(s).heat;
    const double whole = 0.95 * 150 * 0.62;  // J/K
    is(h.C_junction, 0.009 * 150);
    is(h.C_board, 0.45 * whole);
    is(h.C_case, 0.55 * whole);
    is(h.G_junction, 150 / 30.0);
    is(h.G_case, 150 / 25.0);
    const double length = 0.75 * std::sqrt(0.0240);
    const double width = 0.6 * length;
    is(h.surface.area, 0.0240);
    is(h.surface.length, length);
    // lying: area over perimeter
    is(h.surface.height, length * width / (2 * (length + width)));
    CHECK(h.surface.horizontal);
    is(h.surface.emissivity, 0.85);
    CHECK(h.surface.factor == 1);
    CHECK_FALSE(h.closed_bay);
    CHECK(h.sun_W == 0);
    s.air.orientation = Orientation::vertical;
    s.esc.length_cm = 9;
    const HeatPlant standing = plant_of(s).heat;
    CHECK_FALSE(standing.surface.horizontal);
    is(standing.surface.length, 0.09);
    is(standing.surface.height, 0.6 * 0.09);
    s.air.cooling = Cooling::closed;
    const HeatPlant bay = plant_of(s).heat;
    CHECK(bay.closed_bay);
    is(bay.bay.area, 0.13);
    is(bay.bay.height, std::sqrt(0.065));
    is(bay.bay.length, std::sqrt(0.065));
    is(bay.bay.emissivity, 0.85);
    CHECK(bay.bay.factor == 1);
    CHECK_FALSE(bay.bay.horizontal);
    is(bay.C_bay, 260);
    is(bay.G_film, 0.13 / 0.13);  // m2 of skin by m2 K/W
    CHECK(bay.sun_W == 0);
    s.air.sun = true;
    // light paint or film takes six tenths of 800 W/m2 on the skin's shadow (P)
    is(plant_of(s).heat.sun_W, 0.6 * 800 * 0.13 / 4);
    s.air.cooling = Cooling::vented;
    CHECK(plant_of(s).heat.sun_W == 0);  // no sun reaches it inside
    // Convection's own uncertainty is the ESC's, not the bay's.
    s.air.cooling = Cooling::closed;
    const std::vector<Prior> priors = make_priors(s);
    std::vector<double> z(priors.size(), 0);
    for (size_t i = 0; i < priors.size(); ++i) {
        z[i] = priors[i].slot == &Unknowns::convection ? 1 : 0;
    }
    is(make_plant(s, priors, z).heat.surface.factor, std::exp(0.2));
    CHECK(make_plant(s, priors, z).heat.bay.factor == 1);
}

TEST_CASE("plant: a black board in the noon sun stands 10-20 K over a light breeze (P)") {
    // Common practice, no source: dark things on a field on a calm clear day. Nothing else heats
    // it.
    Setup s = six_cell_drive();
    s.air.sun = true;
    const Plant p = plant_of(s);
    const Ambient breeze{.celsius = 25, .speed = 1};
    double T = 25;
    for (int i = 0; i < 100; ++i) {
        T = 25 + p.heat.sun_W / surface_conductance(p.heat.surface, breeze, T);
    }
    CHECK(between(35, T, 45));
}

TEST_CASE("plant: the skin of a closed bay against walls (ISO 6946) and sealed boxes (M)") {
    Setup s = six_cell_drive();
    s.air.cooling = Cooling::closed;
    const HeatPlant h = plant_of(s).heat;
    const auto resistance = [&](double speed) {  // m2 K/W, air to air
        const double skin = surface_conductance(h.bay, {.celsius = 25, .speed = speed}, 35);
        return h.bay.area / skin + h.bay.area / h.G_film;
    };
    // ISO 6946: a surface within 0.13 m2 K/W, one out of doors 0.04 for wind of 4 m/s; a plate of a
    // hand's breadth is met by less of its own boundary layer than a house.
    CHECK_THAT(resistance(4), WithinRel(0.13 + 0.04, 0.1));
    // Sealed boxes of painted sheet in still air: 5.5 W/(m2 K) from the air inside to the air
    // outside (rule of the trade, from memory), two surfaces by ISO 6946: 3.8.
    CHECK(between(1 / 5.5, resistance(0), 0.13 + 0.13));
}

TEST_CASE("plant: propeller, fan and their discs (D)") {
    Setup s = six_cell_drive();
    s.load.diameter_cm = 50;
    LoadPlant l = plant_of(s).load;
    CHECK(l.law == LoadLaw::square);
    is(l.diameter, 0.5);
    is(l.disc_area, pi * 0.25 * 0.25);
    CHECK(l.wake_factor == 2);  // the far wake moves twice as fast as the disc's air (textbook)
    is(l.figure_of_merit, 0.7);
    s.load.figure_of_merit = 0.6;
    s.load.kind = LoadKind::fan;
    l = plant_of(s).load;
    CHECK(l.wake_factor == 1);  // a duct's jet keeps its area (textbook)
    is(l.figure_of_merit, 0.6);
    // Untold: the disc that absorbs eight tenths of the electrical power at its usual speed.
    s = six_cell_drive();
    const double C_P = 0.0885 * std::pow(0.55, 1.233);
    const auto absorbs = [&](double W, double turns) {
        return std::pow(W / (C_P * density(25) * turns * turns * turns), 0.2);
    };
    is(plant_of(s).load.diameter, absorbs(0.8 * V6 * 112, 0.78 * 10000 / 60));
    s.motor.count = 2;
    is(plant_of(s).load.diameter, absorbs(0.8 * V6 * 56, 0.78 * 10000 / 60));
    s.motor.count = 1;
    s.motor.kv_rpm_per_V = 300;
    is(plant_of(s).load.diameter, absorbs(0.8 * V6 * 112, 0.78 * 300 * V6 / 60));
    s.load.shaft_W = 1500;
    is(plant_of(s).load.diameter, absorbs(1500, 0.78 * 300 * V6 / 60));
    s.load.shaft_rpm = 6000;
    is(plant_of(s).load.diameter, absorbs(1500, 100));
    s = six_cell_drive();
    s.load.full_throttle_A.reset();
    is(plant_of(s).load.diameter, absorbs(0.8 * V6 * 105, 0.78 * 10000 / 60));
}

TEST_CASE(
    "plant: a helicopter's blades take their share of the hover, by the cube of the speed (D)") {
    // 4.6 kg under 1.35 m at 1900 rpm: tips at 134.3 m/s.
    Setup s = rotor_drive();
    s.load.mass_kg = 4.6;
    s.load.rotors = 1;
    s.load.rotor_diameter_m = 1.35;
    s.motor.count = 1;
    const double N = 4.6 * 9.80665;
    const double disc = pi * 0.675 * 0.675;
    const double ideal = N * std::sqrt(N / (2 * density(25) * disc));
    const auto profile_at = [&](double rpm) {
        const double tip = rpm / 60.0 * 2 * pi * 0.675;
        return 0.16 / pi * 0.012 / 8 * density(25) * disc * tip * tip * tip;
    };
    // Of a head speed that nobody told: by its size, or by motor and gearing.
    const double by_size = profile_at(2150 / std::sqrt(1.35));
    is(plant_of(s).load.figure_of_merit, ideal / (1.15 * ideal + by_size));
    s.motor.kv_rpm_per_V = 520;
    s.load.gear_ratio = 10;
    const double by_gear = profile_at(0.72 * 520 * V6 / 10);
    is(plant_of(s).load.figure_of_merit, ideal / (1.15 * ideal + by_gear));
    s.motor.kv_rpm_per_V.reset();
    s.load.rotor_rpm = 1900;
    const double profile = profile_at(1900);
    is(plant_of(s).load.figure_of_merit, ideal / (1.15 * ideal + profile));
    is(plant_of(s).load.hover_power, 1.15 * ideal + profile);
    // Models of this size take 450 to 650 W in hover (common practice, no source).
    CHECK(between(450, plant_of(s).load.hover_power, 650));
    s.load.rotor_rpm = 1500;
    CHECK(plant_of(s).load.hover_power < 0.85 * (1.15 * ideal + profile));
    s.load.rotor_rpm = 20000;
    is(plant_of(s).load.figure_of_merit, 0.1);
    s.load.figure_of_merit = 0.6;
    is(plant_of(s).load.figure_of_merit, 0.6);
}

TEST_CASE("plant: rotors (D)") {
    Setup s = rotor_drive();
    const double disc = pi * 0.2 * 0.2;
    const double N = 9.80665;
    LoadPlant l = plant_of(s).load;
    CHECK(l.law == LoadLaw::fixed_pitch);
    is(l.diameter, 0.4);
    is(l.disc_area, disc);
    is(l.hover_power, N * std::sqrt(N / (2 * density(25) * disc)) / 0.7);
    is(l.wake_factor, 1.5);
    // six tenths of the unloaded speed (P)
    is(l.hover_speed, 0.6 * 10000 / 60 * 2 * pi);
    s.load.rotor_rpm = 3000;
    s.load.gear_ratio = 2.5;
    l = plant_of(s).load;
    CHECK(l.law == LoadLaw::constant_speed);
    is(l.hover_speed, 3000 * 2.5 / 60 * 2 * pi);
    CHECK(l.wake_factor == 1);
    s.load.mass_kg.reset();
    s.load.rotor_diameter_m.reset();
    l = plant_of(s).load;
    CHECK(l.hover_power == 0);  // until it is fitted to a current
    CHECK(l.diameter == 0);
    CHECK(l.disc_area == 0);
}

TEST_CASE("plant: a motor is sized for the current that nobody told") {
    Setup s = six_cell_drive();
    s.load.full_throttle_A.reset();
    const std::vector<Prior> priors = make_priors(s);
    std::vector<double> z(priors.size(), 0);
    for (size_t i = 0; i < priors.size(); ++i) {
        z[i] = priors[i].slot == &Unknowns::untold_current ? 1 : 0;
    }
    const double more = std::exp(0.2);
    const Unknowns middle = make_plant(s, priors).u;
    const Unknowns drawn = make_plant(s, priors, z).u;
    is(drawn.untold_current, more * 105);
    is(drawn.motor_resistance, middle.motor_resistance / more);
    is(drawn.motor_inductance, middle.motor_inductance / more);
    is(drawn.no_load_current, middle.no_load_current * more);
    is(drawn.winding_capacity, middle.winding_capacity * more);
    CHECK(drawn.kv == middle.kv);
    // what was told of the motor stays
    s.motor.resistance_mOhm = 11;
    s.motor.no_load_A = 2;
    const Unknowns told = make_plant(s, make_priors(s), z).u;
    is(told.motor_resistance, 0.011);
    is(told.no_load_current, 2);
    is(told.motor_inductance, middle.motor_inductance / more);
}

TEST_CASE("plant: a draw settles which freewheel, one that says neither is as told") {
    Setup s = six_cell_drive();
    const auto freewheel_at = [&](double z_freewheel) {
        const std::vector<Prior> priors = make_priors(s);
        std::vector<double> z(priors.size(), 0);
        for (size_t i = 0; i < priors.size(); ++i) {
            z[i] = priors[i].slot == &Unknowns::active_freewheel ? z_freewheel : 0;
        }
        return make_plant(s, priors, z).freewheel;
    };
    CHECK(freewheel_at(0) == Freewheel::diode);
    CHECK(freewheel_at(0.01) == Freewheel::active);
    s.esc.freewheel_sure = true;
    CHECK(freewheel_at(1) == Freewheel::diode);
    s.esc.freewheel_sure = false;
    s.esc.freewheel = Freewheel::unknown;
    CHECK(freewheel_at(0.01) == Freewheel::active);
    CHECK(freewheel_at(-0.01) == Freewheel::diode);
    // a draw that says neither is as the likelier kind: even chances count as active
    CHECK(freewheel_at(0) == Freewheel::active);
    s.esc.drive = Drive::sinusoidal;
    CHECK(make_plant(s, make_priors(s)).drive == Drive::sinusoidal);
}

TEST_CASE("plant: a pack that begins cold has less charge, and weighs the same") {
    Setup s = six_cell_drive();
    const Plant warm = plant_of(s);
    s.pack.temperature_C = 0;
    const Plant cold = plant_of(s);
    is(cold.pack.charge, 0.88 * warm.pack.charge);
    is(cold.pack.heat_capacity, warm.pack.heat_capacity);
    s.pack.temperature_C.reset();
    s.air.temperature_C = -20;  // as the air, where nothing else is told
    is(plant_of(s).pack.charge, 0.64 * warm.pack.charge);
}
