// More of a plant by hand (D from the stated laws): sun, disc and diode, the windings of a row with
// another pack, and the packs that are offered in place of one that is asked too much.
#include <algorithm>
#include <cmath>

#include "advise/candidates.hpp"
#include "drives.hpp"
#include "near.hpp"
#include "physics/constants.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr double by_hand = 1e-9;      // relative; the same arithmetic in another order
constexpr double lipo_half_V = 3.84;  // rest voltage of a half charged LiPo cell (P)

Plant plant_of(const Setup& s) { return make_plant(s, make_priors(s)); }

void is(double value, double expected) { CHECK_THAT(value, WithinRel(expected, by_hand)); }

}  // namespace

TEST_CASE("drive: the sun on an open ESC is nine tenths of 800 W/m2 on a quarter of its surface") {
    Setup s = six_cell_drive();
    s.esc.surface_cm2 = 90;
    const double on_esc_W = 0.9 * 800 * 90e-4 / 4;  // 1.62 W
    for (const Cooling cooling : {Cooling::open, Cooling::vented, Cooling::closed}) {
        s.air.cooling = cooling;
        const Plant p = plant_of(s);
        is(p.mountings[static_cast<size_t>(Cooling::open)].sun_W, on_esc_W);
        CHECK(p.mountings[static_cast<size_t>(Cooling::vented)].sun_W == 0);
        is(p.mountings[static_cast<size_t>(Cooling::closed)].sun_W,
           0.6 * 800 * p.u.bay_surface / 4);
    }
    s.air.cooling = Cooling::open;
    CHECK(plant_of(s).heat.sun_W == 0);
    s.air.sun = true;
    is(plant_of(s).heat.sun_W, on_esc_W);
}

TEST_CASE("drive: a disc that nobody told is as large as absorbs the power at 0.78 of Kv times V") {
    Setup s = six_cell_drive();
    s.motor.kv_rpm_per_V = 500;
    s.load.full_throttle_A = 100;
    const double V = 6 * lipo_half_V;
    const double per_s = 0.78 * 500 * V / 60;
    const Plant p = plant_of(s);
    const double C_P = p.u.size_coefficient;
    const double rho = p.air_density;
    is(std::pow(p.load.diameter, 5), 0.8 * V * 100 / (C_P * rho * std::pow(per_s, 3)));
    is(p.load.disc_area, pi / 4 * p.load.diameter * p.load.diameter);
    // Told: power, speed, and the disc itself.
    s.load.full_throttle_A.reset();
    s.load.shaft_W = 1800;
    s.load.shaft_rpm = 9000;
    is(std::pow(plant_of(s).load.diameter, 5), 1800 / (C_P * rho * std::pow(150, 3)));
    s.load.diameter_cm = 40;
    is(plant_of(s).load.diameter, 0.4);
}

TEST_CASE("drive: a diode drops what is told at the rated current, a fifth of it by resistance") {
    Setup s = six_cell_drive();
    s.esc.diode_V = 0.75;
    const Plant p = plant_of(s);
    is(p.diode_threshold + p.diode_slope * s.esc.rating_A, 0.75);
    is(p.diode_slope * s.esc.rating_A, 0.15);
    is(p.diode_threshold, 0.6);
}

TEST_CASE("drive: a row with other cells has the windings of that pack") {
    Setup s = six_cell_drive();
    s.motor.kv_rpm_per_V = 500;
    s.motor.resistance_mOhm = 15;
    s.motor.inductance_uH = 12;
    s.motor.no_load_A = 2;
    // A propeller known by its power at its speed: the same on either pack.
    s.load.full_throttle_A.reset();
    s.load.shaft_W = 1900;
    s.load.shaft_rpm = 8200;
    s.load.diameter_cm = 40;
    const Plant six = median_plant(s);
    for (const double cells : {4.0, 5.0, 8.0}) {
        Setup other = s;
        other.pack.cells = cells;
        const Plant then = median_plant(other);
        const Plant row = rigged(six, {.cells = cells});
        INFO(cells);
        CHECK_THAT(row.load.torque_coefficient, WithinRel(then.load.torque_coefficient, by_hand));
        CHECK_THAT(row.winding.conductance, WithinRel(then.winding.conductance, 1e-6));
        CHECK_THAT(row.winding.omega, WithinRel(then.winding.omega, 1e-6));
        CHECK(std::abs(row.winding.conductance / six.winding.conductance - 1) > 0.1);
    }
    CHECK(rigged(six, {.cells = 6}).winding.conductance == six.winding.conductance);
}

TEST_CASE("drive: in place of a pack that is asked too much a better, a larger, a second one") {
    Setup s = holding(six_cell_drive(), 75);
    s.pack.cell_resistance_mOhm = 5;
    const Plant p = median_plant(s);
    Checks checks = run_checks(s, p, run_flight(p, s.flight));
    checks.pack.ok = false;
    const std::vector<Candidate> all = find_candidates(s, p, checks, {});
    const auto pack_of = [&](const std::string& id) {
        const auto there = std::find_if(all.begin(), all.end(),
                                        [&](const Candidate& c) { return c.change.id == id; });
        REQUIRE(there != all.end());
        return there->change.changed.pack;
    };
    const PackSetup better = pack_of("better_pack");
    CHECK(better.capacity_mAh == 5000);
    CHECK(better.cell_resistance_mOhm == 2.5);
    const PackSetup larger = pack_of("larger_pack");
    CHECK(larger.capacity_mAh == 7500);
    CHECK(larger.cell_resistance_mOhm == 3.333);  // 5 / 1.5 in four figures
    const PackSetup second = pack_of("second_pack");
    CHECK(second.capacity_mAh == 5000);
    CHECK(second.parallel == 2);
    CHECK(second.cell_resistance_mOhm == 5.0);
    checks.pack.ok = true;
    for (const Candidate& c : find_candidates(s, p, checks, {})) {
        CHECK(c.altered != Altered::pack);
    }
}
