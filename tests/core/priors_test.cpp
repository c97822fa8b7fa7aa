// THE PRIOR TABLE by hand: each row's law retold as arithmetic from what the setup tells, for a
// propeller, a fan, a helicopter and a multirotor, told little and told much (D). The laws
// themselves are common practice; their sources stand beside them in the table.
#include <cmath>

#include "advice.hpp"
#include "drives.hpp"
#include "near.hpp"
#include "physics/air.hpp"
#include "physics/constants.hpp"
#include "physics/propeller.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr double by_hand = 1e-9;      // relative; the same arithmetic in another order
constexpr double lipo_half_V = 3.84;  // rest voltage of a half charged LiPo cell (P)

const Prior& prior(const std::vector<Prior>& table, std::string_view key) {
    for (const Prior& row : table) {
        if (row.key == key) {
            return row;
        }
    }
    FAIL("no prior " << key);
    return table.front();
}

struct Expected {
    const char* key;
    double median, spread;
};

void check_rows(const Setup& s, const std::vector<Expected>& rows) {
    const std::vector<Prior> table = make_priors(s);
    for (const Expected& e : rows) {
        INFO(e.key);
        const Prior& row = prior(table, e.key);
        if (e.median == 0) {
            CHECK(row.median == 0);
        } else {
            CHECK_THAT(row.median, WithinRel(e.median, by_hand));
        }
        CHECK_THAT(row.spread, WithinAbs(e.spread, 1e-12));
    }
}

double spread(const Setup& s, std::string_view key) { return prior(make_priors(s), key).spread; }

// 0.25 V and 0.0065 Ohm Ah of the LiPo row of the cells (P).
constexpr double lipo_Ohm_Ah = 0.0065;

// A sixth of a multirotor: 6 kg on six 38 cm propellers.
Setup hexarotor() {
    Setup s;
    s.pack.cells = 6;
    s.pack.capacity_mAh = 16000;
    s.esc.rating_A = 40;
    s.esc.pwm_Hz = 24000;
    s.motor.count = 6;
    s.load.kind = LoadKind::governed;
    s.load.mass_kg = 6;
    s.load.rotor_diameter_m = 0.38;
    s.load.rotors = 6;
    return s;
}

// A helicopter of 550 class: 2100 rpm at the rotor, 8.5 motor turns for one of it.
Setup helicopter() {
    Setup s;
    s.pack.cells = 6;
    s.pack.capacity_mAh = 5000;
    s.esc.rating_A = 100;
    s.esc.pwm_Hz = 16000;
    s.load.kind = LoadKind::governed;
    s.load.hover_A = 22;
    s.load.rotor_rpm = 2100;
    s.load.gear_ratio = 8.5;
    return s;
}

MeasuredRow read_row(RowKind kind) {
    MeasuredRow row;
    row.kind = kind;
    row.esc_peak_C = 60;
    return row;
}

}  // namespace

TEST_CASE("priors: six cells, 150 A class, 112 A: every row by hand (D)") {
    const Setup s = six_cell_drive();
    const double V = 6 * lipo_half_V;
    const double kv = 10000 / V;            // rpm/V: 10000 rpm unloaded
    const double f = 0.8 * 10000 / 60 * 7;  // Hz: 14 poles at eight tenths of that
    const double I = 112;                   // more than the mean of it and of 70 % of the rating
    const double R_lead = std::sqrt(8.4 / pi);  // mm: 0.06 mm2 for each ampere, at most 8.4
    check_rows(s,
               {{"pack.cell_resistance_mOhm", 1e3 * lipo_Ohm_Ah / 5, 0.42},
                // two wires 20 cm long, centres four radii apart, and 40 nH
                {"pack.lead_inductance_nH", 40 + 1e9 * 4e-7 * (std::log(4.0) + 0.25) * 0.2, 0.35},
                {"esc.switch_resistance_mOhm", 8.5 * std::pow(10, -1.167), 0.27},
                {"esc.board_resistance_mOhm", 50.0 / 150, 0.40},
                {"esc.transition_ns", 50 * std::pow(7.5, 0.9) * std::sqrt(V / 15), 0.90},
                {"esc.dead_time_ns", 550, 0.60},
                {"esc.diode_V", 0.72, 0.09},
                {"esc.capacitor_uF", 1500, 0.35},
                {"esc.capacitor_esr_mOhm", 1e4 / 1500, 0.45},
                {"esc.idle_W", 0.4 + 0.6, 0.40},
                {"esc.recovery_charge_nC", 180, 0.50},
                {"esc.output_charge_nC", 255, 0.35},
                {"esc.gate_charge_nC", 240, 0.35},
                {"motor.kv_rpm_per_V", kv, 0.30},
                {"motor.resistance_mOhm", 0.082 * V / I * 1e3, 0.30},
                {"motor.inductance_uH", 0.25 * V / (2 * pi * f * I) * 1e6, 0.50},
                {"motor.no_load_A", 0.16 * std::pow(I, 0.7) * std::sqrt(f / 1500), 0.40},
                {"motor.ac_resistance_ratio", 1.3, 0.15},
                {"motor.iron_ripple_ratio", 0.6, 0.50},
                {"load.current_scale", 1, 0.03},
                {"load.throttle_curve", 1, 0.10},
                {"load.hover_duty", 0.60, 0},
                {"esc.surface_cm2", 240, 0.25},
                {"esc.mass_g", 142.5, 0.25},
                {"esc.junction_path_K_per_W", 0.2, 0.40},
                {"esc.case_path_K_per_W", 25.0 / 150, 0.40},
                {"air.convection_factor", 1, 0.20},
                {"air.wash_share", 0.5, 0.25},
                {"air.bay_surface_cm2", 1300, 0},
                {"motor.running_loss", 1.2, 0.45},
                {"motor.winding_rise_K", 75, 0.40},
                {"motor.winding_capacity_J_per_K", 46 * I * 30 / (pi * kv), 0.50},
                {"load.power_coefficient", 0.0885 * std::pow(0.55, 1.233), 0},
                {"load.full_throttle_A", 105, 0},
                {"esc.freewheel", 0, 1},
                {"bench.air_factor", 1, 0.45},
                {"bench.air_offset_K", 0, 6},
                {"bench.sensor_gain", 1, 0.04},
                {"flown.air_factor", 1, 0},
                {"flown.air_offset_K", 0, 0},
                {"flown.sensor_gain", 1, 0},
                {"coming.air_factor", 1, 0.30},
                {"coming.air_offset_K", 0, 0.7},
                {"model.heat_30_pct", 1, 0.10},
                {"model.heat_45_pct", 1, 0.10},
                {"model.heat_60_pct", 1, 0.10},
                {"model.heat_75_pct", 1, 0.10},
                {"model.heat_88_pct", 1, 0.10},
                {"model.heat_100_pct", 1, 0.10}});
    // Leads of a tenth of the section are thinner and closer: the radius follows it.
    Setup thin = s;
    thin.pack.lead_area_mm2 = 0.84;
    thin.pack.lead_spacing_mm = 8;
    check_rows(thin,
               {{"pack.lead_inductance_nH",
                 40 + 1e9 * 4e-7 * (std::log(8 / (R_lead / std::sqrt(10))) + 0.25) * 0.2, 0.2}});
    // Wires cannot be closer than side by side.
    thin.pack.lead_spacing_mm = 0.1;
    check_rows(thin,
               {{"pack.lead_inductance_nH", 40 + 1e9 * 4e-7 * (std::log(2.0) + 0.25) * 0.2, 0.2}});
}

TEST_CASE("priors: what a drawn row stands for in SI (D)") {
    const Setup s = six_cell_drive();
    const Plant p = make_plant(s, make_priors(s));
    const auto is = [](double value, double expected) {
        CHECK_THAT(value, WithinRel(expected, by_hand));
    };
    is(p.u.cell_resistance, lipo_Ohm_Ah / 5);
    is(p.u.board_resistance, 50e-3 / 150);
    is(p.u.dead_time, 550e-9);
    is(p.u.diode_drop, 0.72);
    is(p.u.capacitance, 1500e-6);
    is(p.u.capacitor_esr, 10e-6 / 1500e-6);
    is(p.u.recovery_charge, 180e-9);
    is(p.u.output_charge, 255e-9);
    is(p.u.gate_charge, 240e-9);
    is(p.u.kv, 10000 / (6 * lipo_half_V) * 2 * pi / 60);
    is(p.u.surface, 0.0240);
    is(p.u.heat_capacity, 142.5 * 0.62);
    is(p.u.bay_surface, 0.13);
    is(p.u.switch_resistance, 8.5e-3 * std::pow(10, -1.167));
    is(p.u.motor_resistance, 0.082 * 6 * lipo_half_V / 112);
    is(p.u.ac_resistance, 1.3);
    is(p.u.iron_ripple, 0.6);
    is(p.u.current_scale, 1);
    is(p.u.throttle_curve, 1);
    is(p.u.hover_duty, 0.6);
    is(p.u.junction_path, 0.2);
    is(p.u.case_path, 25.0 / 150);
    is(p.u.convection, 1);
    is(p.u.wash_share, 0.5);
    is(p.u.running_loss, 1.2);
    is(p.u.winding_rise, 75);
    is(p.u.idle_power, 1);
    is(p.u.untold_current, 105);
    for (const double one :
         {p.u.bench_air, p.u.bench_gain, p.u.flown_air, p.u.flown_gain, p.u.coming_air, p.u.heat_30,
          p.u.heat_45, p.u.heat_60, p.u.heat_75, p.u.heat_88, p.u.heat_100}) {
        CHECK(one == 1);
    }
    CHECK(p.u.lead_inductance < 1e-6);
    CHECK(p.u.transition < 1e-6);
    CHECK(p.u.motor_inductance < 1e-4);
}

TEST_CASE("priors: a told value stands with its meter's spread (P)") {
    Setup s = six_cell_drive();
    s.pack.cell_resistance_mOhm = 2;
    s.esc.switch_resistance_mOhm = 0.5;
    s.esc.board_resistance_mOhm = 0.3;
    s.esc.transition_ns = 90;
    s.esc.dead_time_ns = 300;
    s.esc.diode_V = 0.8;
    s.esc.capacitor_uF = 2000;
    s.esc.idle_W = 0.7;
    s.motor.kv_rpm_per_V = 500;
    s.motor.resistance_mOhm = 11;
    s.motor.inductance_uH = 9;
    s.motor.no_load_A = 3;
    s.esc.surface_cm2 = 100;
    s.esc.mass_g = 120;
    s.air.wash_share = 0.3;
    s.air.cooling = Cooling::closed;
    s.air.bay_surface_cm2 = 700;
    check_rows(s, {{"pack.cell_resistance_mOhm", 2, 0.10},
                   {"esc.switch_resistance_mOhm", 0.5, 0.10},
                   {"esc.board_resistance_mOhm", 0.3, 0.15},
                   {"esc.transition_ns", 90, 0.33},
                   {"esc.dead_time_ns", 300, 0.10},
                   {"esc.diode_V", 0.8, 0.05},
                   {"esc.capacitor_uF", 2000, 0.10},
                   // of the capacitors that are there
                   {"esc.capacitor_esr_mOhm", 5, 0.45},
                   {"esc.idle_W", 0.7, 0.15},
                   {"motor.kv_rpm_per_V", 500, 0.03},
                   {"motor.resistance_mOhm", 11, 0.08},
                   {"motor.inductance_uH", 9, 0.10},
                   {"motor.no_load_A", 3, 0.10},
                   {"esc.surface_cm2", 100, 0.10},
                   {"esc.mass_g", 120, 0.12},
                   {"air.wash_share", 0.3, 0.15},
                   {"air.bay_surface_cm2", 700, 0.15}});
    s.esc.capacitor_esr_mOhm = 4;
    check_rows(s, {{"esc.capacitor_esr_mOhm", 4, 0.15}});
    // The motor's own Kv is the one its other figures go by.
    Setup fast = six_cell_drive();
    fast.motor.kv_rpm_per_V = 1000;
    const double V = 6 * lipo_half_V;
    const double f = 0.8 * 1000 * V / 60 * 7;
    check_rows(fast, {{"motor.inductance_uH", 0.25 * V / (2 * pi * f * 112) * 1e6, 0.50},
                      {"motor.winding_capacity_J_per_K", 46 * 112 * 30 / (pi * 1000), 0.50}});
    fast.motor.poles = 4;
    check_rows(fast, {{"motor.inductance_uH", 0.25 * V / (2 * pi * f * 2 / 7 * 112) * 1e6, 0.50}});
    for (const Prior& row : make_priors(s)) {
        const bool as_told = row.basis == "told" || row.key == "esc.freewheel";
        CHECK(as_told == row.told);
    }
}

TEST_CASE("priors: the cell's resistance by law, label and what the pack must deliver (D)") {
    Setup s = six_cell_drive();
    s.pack.label_C = 40;
    check_rows(s, {{"pack.cell_resistance_mOhm", 1e3 * 0.25 / 40 / 5, 0.30}});
    // Half of the way from 4.2 to 3.3 V at the current of each cell.
    s.pack.label_C.reset();
    s.pack.capacity_mAh = 1000;
    check_rows(s, {{"pack.cell_resistance_mOhm", 1e3 * 0.5 * 0.9 / 112, 0.42}});
    s.pack.parallel = 2;
    s.load.full_throttle_A = 240;
    check_rows(s, {{"pack.cell_resistance_mOhm", 1e3 * 0.5 * 0.9 / 120, 0.42}});
    // All motors together draw the told current, however many.
    s.motor.count = 2;
    check_rows(s, {{"pack.cell_resistance_mOhm", 1e3 * 0.5 * 0.9 / 120, 0.42}});
}

TEST_CASE("priors: switches are chosen for the cells that the ESC is sold for (P)") {
    Setup s = six_cell_drive();
    s.esc.cells_max = 12;
    check_rows(s, {{"esc.transition_ns", 50 * std::pow(7.5, 0.9) * std::sqrt(12 * lipo_half_V / 15),
                    0.90}});
}

TEST_CASE("priors: cooling sets the wash and whether there is a bay (P)") {
    Setup s = six_cell_drive();
    s.air.cooling = Cooling::vented;
    check_rows(s, {{"air.wash_share", 0.2, 0.40}, {"air.bay_surface_cm2", 1300, 0}});
    s.air.cooling = Cooling::closed;
    check_rows(s, {{"air.wash_share", 0.03, 0.40}, {"air.bay_surface_cm2", 1300, 0.40}});
}

TEST_CASE("priors: a light load behind a large ESC is a larger motor (D)") {
    Setup s = six_cell_drive();
    s.load.full_throttle_A = 40;
    const double V = 6 * lipo_half_V;
    const double I = std::sqrt(40 * 0.7 * 150);  // 64.8 A
    check_rows(s, {{"motor.resistance_mOhm", 0.082 * V / I * 1e3, 0.30},
                   {"motor.no_load_A", 0.16 * std::pow(I, 0.7) * std::sqrt(28.0 / 45), 0.40}});
    s.motor.count = 2;  // 20 A each
    check_rows(s, {{"motor.resistance_mOhm", 0.082 * V / std::sqrt(20 * 105.0) * 1e3, 0.30}});
}

TEST_CASE("priors: points tell the throttle curve and the largest current") {
    Setup s = six_cell_drive();
    s.load.full_throttle_A.reset();
    s.load.points = {{50, 24, {}}, {100, 110, {}}, {75, 60, {}}};
    CHECK(full_current(s) == 110);
    CHECK(spread(s, "load.throttle_curve") == 0.02);
    CHECK(spread(s, "load.current_scale") == 0.03);
    s.motor.count = 2;
    CHECK(full_current(s) == 55);
    s.load.points.clear();
    s.measured = {read_row(RowKind::hold)};
    CHECK_FALSE(has_current_points(s));
    CHECK(load_told(s) == LoadTold::nothing);
    s.measured[0].pack_A = 60;
    CHECK(has_current_points(s));
    CHECK(load_told(s) == LoadTold::points);
    CHECK(spread(s, "load.current_scale") == 0.03);
    s.measured[0].kind = RowKind::flight;
    CHECK_FALSE(has_current_points(s));
}

TEST_CASE("priors: what the load is known from, the best first") {
    Setup s = six_cell_drive();
    CHECK(load_told(s) == LoadTold::current);
    s.load.shaft_W = 1000;
    s.load.shaft_rpm = 8000;
    s.load.diameter_cm = 40;
    CHECK(load_told(s) == LoadTold::current);
    s.load.full_throttle_A.reset();
    CHECK(load_told(s) == LoadTold::shaft);
    s.load.shaft_rpm.reset();
    CHECK(load_told(s) == LoadTold::size);
    s.load.shaft_rpm = 8000;
    s.load.shaft_W.reset();
    CHECK(load_told(s) == LoadTold::size);
    s.load.diameter_cm.reset();
    CHECK(load_told(s) == LoadTold::nothing);
    Setup rotor = hexarotor();
    CHECK(load_told(rotor) == LoadTold::size);
    rotor.load.mass_kg.reset();
    CHECK(load_told(rotor) == LoadTold::nothing);
    rotor.load.mass_kg = 6;
    rotor.load.rotor_diameter_m.reset();
    CHECK(load_told(rotor) == LoadTold::nothing);
    rotor.load.hover_A = 30;
    CHECK(load_told(rotor) == LoadTold::current);
}

TEST_CASE("priors: shaft power and size give a current (D)") {
    Setup s = six_cell_drive();
    s.load.full_throttle_A.reset();
    const double V = 6 * lipo_half_V;
    s.load.shaft_W = 1000;
    s.load.shaft_rpm = 8000;
    CHECK_THAT(full_current(s), WithinRel(1000 / (0.8 * V), by_hand));
    CHECK(spread(s, "load.current_scale") == 0);  // no current was told
    s.load.shaft_W.reset();
    s.load.shaft_rpm.reset();
    s.load.diameter_cm = 40;
    s.load.pitch_cm = 20;
    s.motor.kv_rpm_per_V = 300;
    const double rho = 101325 / (287.05287 * 298.15);
    const auto absorbed_A = [&](double C_P, double kv, double diameter) {
        return C_P * rho * std::pow(0.78 * kv * V / 60, 3) * std::pow(diameter, 5) / (0.8 * V);
    };
    const double C_P = 0.0885 * std::pow(0.5, 1.233);
    CHECK_THAT(full_current(s), WithinRel(absorbed_A(C_P, 300, 0.4), by_hand));
    check_rows(s, {{"load.power_coefficient", C_P, 0.20}});
    s.load.blades = 3;
    CHECK_THAT(full_current(s),
               WithinRel(absorbed_A(C_P * std::pow(1.5, 0.81), 300, 0.4), by_hand));
    s.load.blades = 2;
    s.load.pitch_cm.reset();
    check_rows(s, {{"load.power_coefficient", 0.0885 * std::pow(0.55, 1.233), 0.35}});
    // from a tenth of the rating to half as much again as it
    s.motor.kv_rpm_per_V = 900;
    CHECK_THAT(full_current(s), WithinRel(225, by_hand));
    s.motor.kv_rpm_per_V = 50;
    CHECK_THAT(full_current(s), WithinRel(15, by_hand));
    // no Kv: that of a propeller's usual speed
    s.motor.kv_rpm_per_V.reset();
    s.load.diameter_cm = 36;
    CHECK_THAT(full_current(s),
               WithinRel(absorbed_A(0.0885 * std::pow(0.55, 1.233), 10000 / V, 0.36), by_hand));
    s.load.kind = LoadKind::fan;
    s.load.diameter_cm = 9;
    check_rows(s, {{"motor.kv_rpm_per_V", 36000 / V, 0.30}, {"load.power_coefficient", 1.6, 0.30}});
    CHECK_THAT(full_current(s), WithinRel(absorbed_A(1.6, 36000 / V, 0.09), by_hand));
}

TEST_CASE("priors: an untold current is what pilots choose, as far as the pack gives it (P)") {
    Setup s = six_cell_drive();
    s.load.full_throttle_A.reset();
    CHECK_THAT(full_current(s), WithinRel(0.7 * 150, by_hand));
    check_rows(s, {{"load.full_throttle_A", 105, 0.20}, {"load.current_scale", 1, 0}});
    s.pack.capacity_mAh = 1500;  // 60C of it
    CHECK_THAT(full_current(s), WithinRel(90, by_hand));
    s.pack.parallel = 2;
    CHECK_THAT(full_current(s), WithinRel(105, by_hand));
    s.motor.count = 4;
    CHECK_THAT(full_current(s), WithinRel(45, by_hand));
    check_rows(s, {{"load.full_throttle_A", 180, 0.20}});
}

TEST_CASE("priors: a multirotor's current from its weight (D)") {
    const Setup s = hexarotor();
    const double V = 6 * lipo_half_V;
    const double rho = 101325 / (287.05287 * 298.15);
    const double thrust = 9.80665;  // N of each
    const double disc = pi / 4 * 0.38 * 0.38;
    const double hover_A = thrust * std::sqrt(thrust / (2 * rho * disc)) / 0.70 / (0.8 * V);
    CHECK_THAT(full_current(s), WithinRel(3 * hover_A, by_hand));
    const double I = std::sqrt(3 * hover_A * 0.7 * 40);
    check_rows(s, {{"motor.resistance_mOhm", 0.082 * V / I * 1e3, 0.30},
                   {"motor.kv_rpm_per_V", 10000 / V, 0.30},
                   {"motor.winding_rise_K", 45, 0.40},
                   {"load.hover_duty", 0.60, 0.12},
                   {"load.throttle_curve", 1, 0},
                   {"load.figure_of_merit", 0.70, 0.15},
                   {"load.hover_A", 6 * hover_A, 0}});
    // left out, each motor has a rotor of its own
    Setup own = s;
    own.load.rotors.reset();
    CHECK(full_current(own) == full_current(s));
    CHECK(median_plant(own).load.hover_power == median_plant(s).load.hover_power);
    own.motor.count = 1;
    CHECK(full_current(own) > 10 * full_current(s));  // (D) 6^1.5 = 14.7 times
    Setup high = s;
    high.air.altitude_m = 2000;
    high.load.figure_of_merit = 0.6;
    const double thin = standard_pressure(2000) / (287.05287 * 298.15);
    CHECK_THAT(full_current(high) / full_current(s),
               WithinRel(std::sqrt(rho / thin) * 0.7 / 0.6, 1e-9));
    Setup untold = s;
    untold.load.mass_kg.reset();
    // (D) 70 % of the rating at full thrust, of which two to four times the weight needs 0.7 /
    // 2^1.5 to 0.7 / 4^1.5 in hover: 0.09 to 0.25, and helicopters somewhat more
    CHECK_THAT(full_current(untold), WithinRel(3 * 0.18 * 40, by_hand));
    check_rows(untold, {{"load.hover_A", 0.18 * 40 * 6, 0.45}});
    untold.load.hover_A = 48;
    CHECK_THAT(full_current(untold), WithinRel(3 * 8.0, by_hand));
    check_rows(untold, {{"load.current_scale", 1, 0.03}});
}

TEST_CASE("priors: a propeller on the motor's shaft hovers where its thrust is the weight (D)") {
    Setup s = hexarotor();
    s.motor.kv_rpm_per_V = 400;
    // T = C_T rho n^2 D^4 with C_T of the power coefficient at a figure of merit of 0.70
    const double C_P = 0.0885 * std::pow(0.55, 1.233);
    const double C_T = std::pow(0.70 * C_P * std::sqrt(pi / 2), 2.0 / 3);
    const double rho = 101325 / (287.05287 * 298.15);
    const double n = std::sqrt(9.80665 / (C_T * rho * std::pow(0.38, 4)));
    const double duty = 60 * n / (400 * 6 * lipo_half_V);
    CHECK(between(0.35, duty, 0.45));
    CHECK_THAT(prior(make_priors(s), "load.hover_duty").median, WithinRel(duty, by_hand));
    // and nowhere below what flies, or beyond what lifts more
    s.motor.kv_rpm_per_V = 4000;
    CHECK(prior(make_priors(s), "load.hover_duty").median == 0.15);
    s.motor.kv_rpm_per_V = 100;
    CHECK(prior(make_priors(s), "load.hover_duty").median == 0.90);
    // A gear, or a Kv that nobody told, leaves what is usual.
    s.load.gear_ratio = 2;
    CHECK(prior(make_priors(s), "load.hover_duty").median == 0.60);
}

TEST_CASE("priors: a helicopter's motor turns its rotor at 72 % of the unloaded speed (P)") {
    const Setup s = helicopter();
    check_rows(s, {{"motor.kv_rpm_per_V", 2100 * 8.5 / (0.72 * 6 * lipo_half_V), 0.30},
                   {"load.hover_duty", 0.72, 0},
                   {"motor.winding_rise_K", 45, 0.40}});
    CHECK_THAT(full_current(s), WithinRel(5 * 22, by_hand));
}

TEST_CASE("priors: an open freewheel is a row of its own, likelier active where it is sold (P)") {
    Setup s = six_cell_drive();
    // told: one in twenty is otherwise
    CHECK(freewheel_open(s));
    CHECK(prior(make_priors(s), "esc.freewheel").told);
    CHECK(chance_of_active(s) == 0.05);
    s.esc.freewheel = Freewheel::active;
    CHECK(chance_of_active(s) == 0.95);
    s.esc.freewheel_sure = true;
    CHECK_FALSE(freewheel_open(s));
    CHECK(spread(s, "esc.freewheel") == 0);
    s.esc.freewheel_sure = false;
    s.esc.freewheel = Freewheel::unknown;
    CHECK(freewheel_open(s));
    CHECK_FALSE(prior(make_priors(s), "esc.freewheel").told);
    check_rows(s, {{"esc.freewheel", 0, 1}});
    s.esc.drive = Drive::sinusoidal;
    CHECK_FALSE(freewheel_open(s));
    CHECK(spread(s, "esc.freewheel") == 0);
    CHECK(chance_of_active(s) == 0.5);
    s.esc.rating_A = 61;
    CHECK(chance_of_active(s) == 0.5);
    s.esc.rating_A = 60;
    CHECK(chance_of_active(s) == 0.6);
    s.motor.count = 3;
    CHECK(chance_of_active(s) == 0.6);
    s.load.kind = LoadKind::governed;
    CHECK(chance_of_active(s) == 0.85);
    s.motor.count = 2;
    CHECK(chance_of_active(s) == 0.6);
}

TEST_CASE("priors: a session's own air and sensor, wide where nobody told its air (P)") {
    Setup s = six_cell_drive();
    s.measured = {read_row(RowKind::hold)};
    const auto used = [&](std::string_view key) { return prior(make_priors(s), key).used; };
    check_rows(s, {{"bench.air_factor", 1, 0.45}, {"bench.air_offset_K", 0, 6}});
    CHECK(used("bench.air_factor"));
    CHECK_FALSE(used("flown.air_factor"));
    s.measured[0].flight_speed_mps = 8;
    check_rows(s, {{"bench.air_factor", 1, 0.10}, {"bench.air_offset_K", 0, 6}});
    s.measured[0].air_C = 20;
    check_rows(s, {{"bench.air_factor", 1, 0.10}, {"bench.air_offset_K", 0, 0.7}});
    // Told of one of two rows is not told.
    s.measured.push_back(read_row(RowKind::hold));
    check_rows(s, {{"bench.air_factor", 1, 0.45}, {"bench.air_offset_K", 0, 6}});
    s.measured = {read_row(RowKind::flight)};
    CHECK_FALSE(used("bench.air_factor"));
    CHECK_FALSE(used("bench.air_offset_K"));
    CHECK_FALSE(used("bench.sensor_gain"));
    CHECK(used("flown.sensor_gain"));
    check_rows(s, {{"flown.air_factor", 1, 0.45},
                   {"flown.air_offset_K", 0, 6},
                   {"flown.sensor_gain", 1, 0.04},
                   // a bench run to come is drawn all the same
                   {"bench.air_factor", 1, 0.45},
                   {"bench.air_offset_K", 0, 6}});
    s.measured[0].flight_speed_mps = 8;
    s.measured[0].air_C = 20;
    check_rows(s, {{"flown.air_factor", 1, 0.10}, {"flown.air_offset_K", 0, 0.7}});
    s.measured[0].where = Where::bench;
    CHECK(used("bench.air_factor"));
    CHECK_FALSE(used("flown.air_factor"));
    // A row with nothing but a current was no reading, whichever way temperatures are read.
    s.measured = {read_row(RowKind::hold)};
    s.measured[0].esc_peak_C.reset();
    CHECK_FALSE(used("bench.air_factor"));
    s.measured[0].esc_mean_C = 50;
    CHECK(used("bench.air_factor"));
    s.measured[0].esc_mean_C.reset();
    s.measured[0].esc_after_C = 50;
    CHECK(used("bench.air_factor"));
    s.measured[0].esc_after_C.reset();
    s.measured[0].trace = {{0, 25}, {60, 40}};
    CHECK(used("bench.air_factor"));
}

TEST_CASE("priors: a row was read where it says, else holds on the bench and flights in the air") {
    MeasuredRow row = read_row(RowKind::hold);
    CHECK(place_of(row) == Where::bench);
    row.where = Where::flight;
    CHECK(place_of(row) == Where::flight);
    row = read_row(RowKind::flight);
    CHECK(place_of(row) == Where::flight);
    row.where = Where::bench;
    CHECK(place_of(row) == Where::bench);
}

TEST_CASE("priors: which rows nothing in a setup hangs on") {
    const auto used = [](const Setup& s, std::string_view key) {
        return prior(make_priors(s), key).used;
    };
    const Setup plane = six_cell_drive();
    CHECK(used(plane, "load.current_scale"));
    CHECK(used(plane, "load.throttle_curve"));
    for (const char* key : {"load.hover_duty", "air.bay_surface_cm2", "load.power_coefficient",
                            "load.full_throttle_A", "bench.air_factor", "flown.air_factor",
                            "flown.air_offset_K", "flown.sensor_gain"}) {
        INFO(key);
        CHECK_FALSE(used(plane, key));
    }
    CHECK(used(hexarotor(), "load.hover_duty"));
    CHECK_FALSE(used(hexarotor(), "load.throttle_curve"));
    CHECK_FALSE(used(hexarotor(), "load.current_scale"));
    CHECK(used(hexarotor(), "load.figure_of_merit"));
    CHECK_FALSE(used(helicopter(), "load.hover_duty"));
    CHECK(used(helicopter(), "load.current_scale"));
}

TEST_CASE("priors: an additive row is as likely so much above as below") {
    const Prior row = prior(make_priors(six_cell_drive()), "coming.air_offset_K");
    CHECK(row.additive);
    CHECK_THAT(prior_value(row, 2), WithinAbs(1.4, 1e-12));
    CHECK_THAT(prior_value(row, -2), WithinAbs(-1.4, 1e-12));
}

TEST_CASE("priors: a rotor known by its size is as sure as its head speed is (P)") {
    Setup s = hexarotor();
    const auto merit = [](const Setup& of) {
        return prior(make_priors(of), "load.figure_of_merit");
    };
    CHECK(merit(s).spread == 0.15);
    s.motor.count = 1;
    s.load.rotors = 1;
    s.load.mass_kg = 4.6;
    s.load.rotor_diameter_m = 1.35;
    CHECK(merit(s).spread == 0.35);
    CHECK(has(merit(s).basis, "usually have"));
    s.load.rotor_rpm = 1900;
    CHECK(merit(s).spread == 0.20);
    CHECK(has(merit(s).basis, "at this head speed"));
    s.load.figure_of_merit = 0.4;
    CHECK(merit(s).told);
    CHECK(merit(s).spread == 0.05);
    // a figure told as the best there is stays a share
    s.load.figure_of_merit = 1;
    const std::vector<Prior> table = make_priors(s);
    std::vector<double> z(table.size(), 0);
    for (size_t i = 0; i < table.size(); ++i) {
        z[i] = table[i].key == "load.figure_of_merit" ? 2 : 0;
    }
    CHECK(fitted_plant(s, table, z).load.figure_of_merit == 1);
}

TEST_CASE("priors: a helicopter's gearing and Kv that nobody told go together (P)") {
    Setup s = helicopter();
    s.motor.kv_rpm_per_V.reset();
    s.load.gear_ratio.reset();
    // ten to one, turned at 72 % of the unloaded speed
    CHECK_THAT(prior(make_priors(s), "motor.kv_rpm_per_V").median,
               WithinRel(2100 * 10 / (0.72 * 6 * lipo_half_V), by_hand));
    CHECK(gear_ratio_of(s) == 10);
    s.motor.kv_rpm_per_V = 50;  // turned directly, however slow
    CHECK(gear_ratio_of(s) == 1);
    s.motor.kv_rpm_per_V = 1000;
    CHECK_THAT(gear_ratio_of(s), WithinRel(0.72 * 1000 * 6 * lipo_half_V / 2100, by_hand));
    s.motor.count = 4;
    CHECK(gear_ratio_of(s) == 1);
}

TEST_CASE("priors: of currents at part throttle the highest throttle tells the full one (P)") {
    Setup s = six_cell_drive();
    s.load.full_throttle_A.reset();
    s.load.points = {{.throttle_pct = 50, .pack_A = 20}};
    CHECK_THAT(full_current(s), WithinRel(20 / 0.25, by_hand));
    s.load.points.push_back({.throttle_pct = 80, .pack_A = 60});
    CHECK_THAT(full_current(s), WithinRel(60 / 0.64, by_hand));
    // what an idling ESC takes says nothing of it
    s.load.points.push_back({.throttle_pct = 10, .pack_A = 2});
    CHECK_THAT(full_current(s), WithinRel(60 / 0.64, by_hand));
    s.load.points.push_back({.throttle_pct = 80, .pack_A = 64});
    CHECK_THAT(full_current(s), WithinRel(64 / 0.64, by_hand));
    // read or told, it is the same
    MeasuredRow row;
    row.throttle_pct = 100;
    row.pack_A = 90;
    row.hold_s = 60;
    s.measured = {row};
    CHECK_THAT(full_current(s), WithinRel(90, by_hand));
    s.measured[0].full_throttle_A = 200;  // another propeller's
    CHECK_THAT(full_current(s), WithinRel(64 / 0.64, by_hand));
    s.load.points = {{.throttle_pct = 4, .pack_A = 0.3}};  // no less than a tenth
    s.measured.clear();
    CHECK_THAT(full_current(s), WithinRel(0.3 / 0.01, by_hand));
}
