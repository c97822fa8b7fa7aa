// The priors against the trade: what a rating means, component values by class, and draws of them.
#include "plant/plant.hpp"

#include <cmath>
#include <set>
#include <string>

#include "drives.hpp"
#include "near.hpp"
#include "physics/constants.hpp"
#include "physics/motor.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

// Cells that ESCs of a class are usually flown on (P).
double usual_cells(double rating_A) {
    return rating_A <= 15 ? 3 : rating_A <= 40 ? 4 : rating_A <= 120 ? 6 : 12;
}

const Prior& prior(const std::vector<Prior>& table, std::string_view key) {
    for (const Prior& row : table) {
        if (row.key == key) {
            return row;
        }
    }
    FAIL("no prior " << key);
    return table.front();
}

}  // namespace

TEST_CASE(
    "plant: at its rating, full throttle, 5 m/s, 25 deg C, an ESC settles at 80-120 deg C (P)") {
    // From priors alone: this is what a rating means. The propeller's wash is off.
    const double rating =
        GENERATE(10.0, 15.0, 20.0, 30.0, 40.0, 60.0, 80.0, 100.0, 120.0, 150.0, 200.0);
    Setup s = at_rating(rating, usual_cells(rating));
    s.esc.freewheel = GENERATE(Freewheel::diode, Freewheel::active);
    const Plant p = in_air_of(median_plant(s), 5);
    const DemandMap map = map_demand(p, {.throttle = 1});
    REQUIRE(map.ok);
    const double v = link_voltage(p, map, 1, 25);
    CHECK_THAT(map.at(v).i_pack, WithinRel(rating, 0.01));
    CHECK_THAT(map.at(v).air_speed, WithinRel(5, 1e-9));
    const Steady steady = settle(p, map, v);
    CAPTURE(rating, steady.heat.board, steady.heat.junction, steady.heat.body);
    CHECK_FALSE(steady.runaway);
    CHECK(between(80, steady.heat.board, 120));
    // silicon is rated to 150 or 175 deg C (data sheets, M)
    CHECK(steady.heat.junction < 175);
}

TEST_CASE("plant: switch resistance by class, mOhm for each position (P)") {
    struct Class {
        double rating_A, least, most;
    };
    const auto c =
        GENERATE(Class{10, 6, 14}, Class{15, 6, 12}, Class{20, 5, 12}, Class{30, 2.5, 5},
                 Class{40, 2.5, 5}, Class{60, 1, 2}, Class{80, 1, 2}, Class{100, 0.6, 1.2},
                 Class{120, 0.6, 1.2}, Class{150, 0.3, 0.8}, Class{200, 0.3, 0.8});
    const auto table = make_priors(at_rating(c.rating_A, 4));
    CHECK(between(c.least, prior(table, "esc.switch_resistance_mOhm").median, c.most));
}

TEST_CASE("plant: input capacitors by class: 220-470 uF at 20-40 A, 470-1000 uF at 60-100 A (P)") {
    const auto microfarad = [](double rating) {
        return prior(make_priors(at_rating(rating, 6)), "esc.capacitor_uF").median;
    };
    CHECK(between(200, microfarad(20), 470));
    CHECK(between(220, microfarad(40), 470));
    CHECK(between(470, microfarad(60), 1000));
    CHECK(between(470, microfarad(100), 1000));
}

TEST_CASE("plant: dead time 200-1500 ns and resistance 4-12 mOhm Ah hold four draws of five (P)") {
    const auto table = make_priors(six_cell_drive());
    constexpr double z80 = 1.2816;  // standard deviations that hold 80 %
    const Prior& dead = prior(table, "esc.dead_time_ns");
    CHECK(between(180, prior_value(dead, -z80), 300));
    CHECK(between(1000, prior_value(dead, z80), 1600));
    const Prior& cell = prior(table, "pack.cell_resistance_mOhm");
    CHECK_THAT(prior_value(cell, -z80) * 5, WithinRel(4, 0.1));
    CHECK_THAT(prior_value(cell, z80) * 5, WithinRel(12, 0.1));
}

TEST_CASE("plant: board time constants of 30 to 300 s (P)") {
    // Whole heat capacity over what the surface gives off in a breeze and in still air.
    for (const double rating : {20.0, 60.0, 160.0}) {
        const Plant p = median_plant(at_rating(rating, 6));
        const auto seconds = [&](double speed) {
            const Ambient air{.celsius = 25, .speed = speed};
            const double G = 1 / (p.u.case_path + 1 / surface_conductance(p.heat.surface, air, 60));
            return p.u.heat_capacity / G;
        };
        CHECK(between(30, seconds(12), 300));
        CHECK(seconds(0) > seconds(12));
        CHECK(between(200, seconds(0), 600));  // 519 s for a bare 30 g heatsink (D)
    }
}

TEST_CASE("plant: every prior has a row of its own, a basis, and a positive value") {
    const auto table = make_priors(six_cell_drive());
    std::set<std::string> keys;
    Unknowns reached;
    for (const Prior& row : table) {
        reached.*row.slot = 0;
    }
    for (const Prior& row : table) {
        keys.insert(std::string(row.key));
        CHECK((row.additive || row.median > 0));
        CHECK((row.spread > 0 || !row.used));
        CHECK_FALSE(row.basis.empty());
        CHECK(reached.*row.slot == 0);
        reached.*row.slot = 1;
    }
    CHECK(keys.size() == table.size());
    CHECK(table.size() == sizeof(Unknowns) / sizeof(double));
}

TEST_CASE("plant: a told value replaces its prior and narrows it") {
    Setup s = six_cell_drive();
    const auto guessed = make_priors(s);
    s.esc.switch_resistance_mOhm = 0.7;
    s.motor.inductance_uH = 12;
    s.pack.cell_resistance_mOhm = 2.4;
    const auto told = make_priors(s);
    for (const char* key :
         {"esc.switch_resistance_mOhm", "motor.inductance_uH", "pack.cell_resistance_mOhm"}) {
        CHECK_FALSE(prior(guessed, key).told);
        CHECK(prior(told, key).told);
        CHECK(prior(told, key).spread < prior(guessed, key).spread);
    }
    const Plant p = make_plant(s, told);
    CHECK_THAT(p.u.switch_resistance, WithinRel(0.7e-3, 1e-12));
    CHECK_THAT(p.u.motor_inductance, WithinRel(12e-6, 1e-12));
    CHECK_THAT(p.u.cell_resistance, WithinRel(2.4e-3, 1e-12));
}

TEST_CASE("plant: priors are log-normal: one spread up is e^spread times the median") {
    const Prior row{.key = "x", .median = 3, .spread = 0.4, .told = false, .basis = "", .slot = {}};
    CHECK_THAT(prior_value(row, 0), WithinRel(3, 1e-15));
    CHECK_THAT(prior_value(row, 1), WithinRel(3 * std::exp(0.4), 1e-15));
    CHECK_THAT(prior_value(row, -2), WithinRel(3 * std::exp(-0.8), 1e-15));
}

TEST_CASE("plant: a draw moves each value by its own z and nothing else") {
    const Setup s = six_cell_drive();
    const auto table = make_priors(s);
    const Plant middle = make_plant(s, table);
    for (size_t i = 0; i < table.size(); ++i) {
        std::vector<double> z(table.size(), 0);
        z[i] = 1;
        const Plant moved = make_plant(s, table, z);
        for (size_t j = 0; j < table.size(); ++j) {
            const double now = moved.u.*table[j].slot;
            const double was = middle.u.*table[j].slot;
            if (table[j].additive) {
                CHECK(now - was == (j == i ? table[i].spread : 0));
            } else {
                CHECK_THAT(now / was, WithinRel(j == i ? std::exp(table[i].spread) : 1.0, 1e-12));
            }
        }
    }
}

TEST_CASE("plant: a 6-cell 5000 mAh pack weighs 0.65-0.9 kg, so holds 650-900 J/K (P)") {
    const Plant p = median_plant(six_cell_drive());
    CHECK(between(650, p.pack.heat_capacity, 900));
    CHECK_THAT(p.pack.charge, WithinRel(18000, 1e-12));  // C
}

TEST_CASE("plant: a told winding resistance is that of cold copper, IEC 60228 (M)") {
    Setup s = six_cell_drive();
    s.motor.resistance_mOhm = 12;
    const Plant p = median_plant(s);
    CHECK_THAT(p.u.motor_resistance, WithinRel(12e-3, 1e-12));
    // 0.393 %/K: 80 K warmer, 31 % more; where windings are lost it stops
    CHECK_THAT(copper_factor(105), WithinRel(1.3144, 1e-4));
    CHECK(copper_factor(lost_winding_C + 100) == copper_factor(lost_winding_C));
}

TEST_CASE(
    "plant: medium outrunners have 9-35 uH and 15-40 mOhm for each phase (S, a weak source)") {
    // Line to line: twice that. The drive is a medium one.
    Setup s = six_cell_drive();
    s.esc.rating_A = 60;
    s.load.full_throttle_A = 45;
    const Plant p = median_plant(s);
    CHECK(between(18e-6, p.u.motor_inductance, 70e-6));
    CHECK(between(20e-3, p.u.motor_resistance, 80e-3));
}

TEST_CASE("plant: sun on an open ESC adds heat, a closed bay has air of its own") {
    Setup s = six_cell_drive();
    CHECK(median_plant(s).heat.sun_W == 0);
    s.air.sun = true;
    // 800 W/m2 on the shadow of a black body, a quarter of its surface (Cauchy's theorem)
    const Plant sunny = median_plant(s);
    CHECK_THAT(sunny.heat.sun_W, WithinRel(0.9 * 800 * sunny.u.surface / 4, 1e-9));
    s.air.cooling = Cooling::closed;
    const Plant bay = median_plant(s);
    CHECK(bay.heat.closed_bay);
    CHECK(bay.heat.C_bay > 0);
    CHECK(between(400e-4, bay.u.bay_surface, 1600e-4));  // m2 (P)
}

TEST_CASE("plant: height thins the air by the standard atmosphere: 1500 m at 15 deg C (D)") {
    Setup s = six_cell_drive();
    s.air.temperature_C = 15;
    s.air.altitude_m = 1500;
    // 84,556 Pa at 1500 m geometric, ideal gas
    const Plant p = median_plant(s);
    CHECK_THAT(p.air.pressure, WithinRel(84556, 1e-4));
    CHECK_THAT(p.air_density, WithinRel(84556 / (287.05287 * 288.15), 1e-4));
}
