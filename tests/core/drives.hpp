// The stated drives that the physics tests share. Generic: no maker, no label.
#pragma once

#include <vector>

#include "flight/hold.hpp"
#include "flight/load_fit.hpp"
#include "plant/plant.hpp"

namespace hotband::test {

/// Six cells of 5000 mAh, a 150 A class ESC with diode freewheel at 8 kHz, a propeller that draws
/// 112 A from the full pack, about 100 A over all of it. Everything else is left to the priors.
inline Setup six_cell_drive() {
    Setup s;
    s.pack.cells = 6;
    s.pack.capacity_mAh = 5000;
    s.esc.rating_A = 150;
    s.esc.pwm_Hz = 8000;
    s.esc.freewheel = Freewheel::diode;
    s.load.full_throttle_A = 112;
    return s;
}

/// The same pack and ESC under a governed rotor that hovers at 40 A, geared 8 to 1.
inline Setup six_cell_rotor(double rotor_rpm) {
    Setup s = six_cell_drive();
    s.load = {};
    s.load.kind = LoadKind::governed;
    s.load.hover_A = 40;
    s.load.rotor_rpm = rotor_rpm;
    s.load.gear_ratio = 8;
    s.motor.kv_rpm_per_V = 1100;
    return s;
}

/// Three cells of 2200 mAh, a 30 A class ESC, a propeller that draws 18 A, and a small outrunner:
/// 1000 rpm/V, 45 mOhm cold, 1.4 A without load.
inline Setup small_drive() {
    Setup s;
    s.pack.cells = 3;
    s.pack.capacity_mAh = 2200;
    s.esc.rating_A = 30;
    s.esc.pwm_Hz = 8000;
    s.esc.freewheel = Freewheel::diode;
    s.motor.kv_rpm_per_V = 1000;
    s.motor.resistance_mOhm = 45;
    s.motor.no_load_A = 1.4;
    s.load.full_throttle_A = 18;
    return s;
}

/// An ESC alone with what its rating suggests, drawing its rated current at full throttle. The pack
/// can deliver it: 20C.
inline Setup at_rating(double rating_A, double cells) {
    Setup s;
    s.pack.cells = cells;
    s.pack.capacity_mAh = 1000 * rating_A / 20;
    s.esc.rating_A = rating_A;
    s.esc.pwm_Hz = 8000;
    s.esc.freewheel = Freewheel::diode;
    s.load.full_throttle_A = rating_A;
    return s;
}

/// Parts of a flight.
inline FlightPart part_of(double throttle_pct, double seconds) {
    FlightPart p;
    p.throttle_pct = throttle_pct;
    p.seconds = seconds;
    return p;
}
inline FlightPart share_of(double throttle_pct, double share_pct) {
    FlightPart p;
    p.throttle_pct = throttle_pct;
    p.share_pct = share_pct;
    return p;
}

/// The setup with a flight of one throttle, a minute at a time.
inline Setup holding(Setup s, double throttle_pct) {
    s.flight.parts = {part_of(throttle_pct, 60)};
    return s;
}

/// An ESC of 60 A that is asked for 85 at 32 kHz in a closed bay, on a pack that outlasts it: at 85
/// % throttle its heat runs away where the air is warm.
inline Setup overloaded_in_a_bay(double air_C) {
    Setup s = holding(at_rating(60, 6), 85);
    s.esc.pwm_Hz = 32000;
    s.load.full_throttle_A = 85;
    s.air.cooling = Cooling::closed;
    s.air.temperature_C = air_C;
    s.pack.capacity_mAh = 22000;
    return s;
}

/// The plant of a setup with all priors at their medians and its load fitted.
inline Plant median_plant(const Setup& s) { return fitted_plant(s, make_priors(s)); }

/// The plant in air of exactly this speed (m/s) at the ESC, whatever the propeller does.
inline Plant in_air_of(Plant p, double speed) {
    p.load.disc_area = 0;
    p.u.wash_share = 1;
    p.flight_speed = speed;
    return p;
}

/// A demand held without end.
inline std::vector<Leg> for_ever(const DemandMap& map) {
    Leg leg;
    leg.map = &map;
    return {leg};
}

/// A throttle held from `start_C` until the pack ends it.
inline March hold(const Plant& p, double throttle, double start_C = 25) {
    const DemandMap map = map_demand(p, {.throttle = throttle});
    return march(p, for_ever(map), {start_C, p.pack.start, p.pack.start_C});
}

/// Mean pack current of a march (A, one ESC), trapezoids between its moments.
inline double mean_current(const March& m) {
    double charge = 0;
    for (size_t i = 1; i < m.moments.size(); ++i) {
        charge += 0.5 * (m.moments[i].i_pack + m.moments[i - 1].i_pack) *
                  (m.moments[i].t - m.moments[i - 1].t);
    }
    return charge / m.seconds;
}

/// The six-cell drive behind an ESC of 100 A at 16 kHz: 90 A at full throttle, a mix of 60 % and
/// all.
inline Setup plain_drive() {
    Setup s = six_cell_drive();
    s.esc.rating_A = 100;
    s.esc.pwm_Hz = 16000;
    s.motor.kv_rpm_per_V = 500;
    s.load.full_throttle_A = 90;
    s.flight.parts = {part_of(60, 40), part_of(100, 10)};
    return s;
}

}  // namespace hotband::test
