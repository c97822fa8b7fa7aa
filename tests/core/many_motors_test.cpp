// One pack feeds every motor and rotor: what is checked of it, and of its cells side by side, is
// the whole.
#include <algorithm>

#include "advice.hpp"
#include "advise/rooms.hpp"
#include "drives.hpp"
#include "flown.hpp"
#include "physics/constants.hpp"
#include "physics/propeller.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

// Two motors that draw 180 A together from 8 Ah.
Setup two_motors() {
    Setup s;
    s.pack.cells = 6;
    s.pack.capacity_mAh = 8000;
    s.pack.cell_resistance_mOhm = 1;
    s.esc.rating_A = 100;
    s.esc.pwm_Hz = 16000;
    s.esc.freewheel = Freewheel::diode;
    s.motor.kv_rpm_per_V = 500;
    s.motor.count = 2;
    s.load.full_throttle_A = 180;
    s.flight.parts = {part_of(60, 40), part_of(100, 10)};
    return s;
}

}  // namespace

TEST_CASE("many motors: the pack's rate is that of all of them (D)") {
    Flown d(two_motors());
    double most_A = 0;
    for (const Moment& m : d.flight.march.moments) {
        most_A = std::max(most_A, m.i_pack);
    }
    const double rate_C = d.item(&Checks::pack, "rate_C").value;
    CHECK_THAT(rate_C, WithinRel(2 * most_A / 8, 1e-12));
    // 180 A from the fresh pack are 22.5 times 8 Ah an hour.
    CHECK(between(22, rate_C, 22.5));
    d.setup.pack.label_C = 22;
    CHECK_FALSE(d.item(&Checks::pack, "rate_C").ok);
    d.setup.pack.label_C = 23;
    CHECK(d.item(&Checks::pack, "rate_C").ok);
}

TEST_CASE("many motors: the go-around's cell carries the current of all of them (D)") {
    const Flown d(two_motors());
    // The loaded volts of the whole pack, without leads: its resistance is there for each motor
    // twice its own, as twice the current flows through it.
    const Moment& last = d.flight.march.moments.back();
    const Source spent = source_at(d.plant, last.charge, last.pack_C, 60, 60);
    const Operating o = operate(d.plant, {.throttle = 1}, spent, true);
    CHECK_THAT(
        d.item(&Checks::pack, "go_around_V").value,
        WithinAbs((spent.Voc - o.i_pack * (spent.R_src - d.plant.pack.lead_resistance)) / 6, 1e-9));
    // By hand: both motors' current through 1 mOhm of a cell, as warm and as empty as it is.
    const double cell_Ohm = 1e-3 * cell_resistance_factor(last.pack_C, last.charge);
    CHECK_THAT(d.item(&Checks::pack, "go_around_V").value,
               WithinAbs(spent.Voc / 6 - 2 * o.i_pack * cell_Ohm, 1e-9));
}

TEST_CASE("many cells: two side by side are one of twice the charge and half the resistance (D)") {
    Setup s = two_motors();
    s.motor.count = 1;
    s.load.full_throttle_A = 90;
    s.pack.capacity_mAh = 5000;
    s.pack.cell_resistance_mOhm = 2;
    const Flown one(s);
    s.pack.capacity_mAh = 2500;
    s.pack.parallel = 2;
    s.pack.cell_resistance_mOhm = 4;
    const Flown two(s);
    for (const char* key : {"rate_C", "lowest_cell_V", "go_around_V", "pack_C"}) {
        INFO(key);
        CHECK_THAT(two.item(&Checks::pack, key).value,
                   WithinRel(one.item(&Checks::pack, key).value, 1e-6));
        CHECK_THAT(two.item(&Checks::pack, key).bound,
                   WithinRel(one.item(&Checks::pack, key).bound, 1e-6));
    }
}

TEST_CASE("many motors: mass is shared by the rotors, also by those on another pack (D)") {
    // A quadrotor of 4 kg with two packs, two motors on each.
    Setup s;
    s.pack.cells = 6;
    s.pack.capacity_mAh = 10000;
    s.esc.rating_A = 60;
    s.esc.pwm_Hz = 16000;
    s.motor.count = 2;
    s.load.kind = LoadKind::governed;
    s.load.mass_kg = 4;
    s.load.rotor_diameter_m = 0.4;
    const auto plant_of = [&](double rotors) {
        s.load.rotors = rotors;
        return make_plant(s, make_priors(s));
    };
    const double disc = pi * 0.2 * 0.2;
    const auto power_at = [&](const Plant& p, double thrust) {
        return hover_power(thrust, disc, p.air_density, 0.7);
    };
    const Plant four = plant_of(4);
    CHECK_THAT(four.load.hover_power, WithinRel(power_at(four, 9.80665), 1e-9));
    const Plant two = plant_of(2);
    CHECK_THAT(two.load.hover_power, WithinRel(power_at(two, 2 * 9.80665), 1e-9));
    const Plant six = plant_of(6);
    CHECK_THAT(six.load.hover_power, WithinRel(power_at(six, 4 * 9.80665 / 6), 1e-9));
}

TEST_CASE("many motors: a hold's charge is what they took together, as the pack holds it") {
    Setup s = two_motors();
    MeasuredRow row;
    row.throttle_pct = 100;
    row.pack_A = 160;
    s.measured = {row};
    const double empty_s = 8.0 / 160 * 3600;
    s.measured[0].hold_s = 1.08 * empty_s;
    CHECK(find_slips(s).empty());
    s.measured[0].hold_s = 1.12 * empty_s;  // a tenth more than it is sold with (P)
    const std::vector<Misfit> slips = find_slips(s);
    REQUIRE(slips.size() == 1);
    CHECK(slips[0].row == 0);
    CHECK(has(slips[0].text, "more than the pack holds"));
}
