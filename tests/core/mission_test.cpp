// Holds and flights: trade facts of a stated drive, the march's books, and its settled state.
// An independent integration of the same plant stands in reference/mission_cvode_test.cpp.
#include "flight/hold.hpp"

#include <cmath>
#include <optional>

#include "drives.hpp"
#include "near.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr double settled_K = 0.1;  // K, march against fixed point
// Charge by the march's trapezoids against its own book (relative): steps of up to a sixteenth of
// the flight.
constexpr double charge_book = 5e-3;

struct Hottest {
    double throttle = 0, peak = 0;
};

Hottest hottest_hold(const Plant& p, double from, double to) {
    Hottest out;
    for (int percent = static_cast<int>(100 * from); percent <= static_cast<int>(100 * to);
         ++percent) {
        const double peak = hold(p, percent / 100.0).peak_board;
        if (peak > out.peak) {
            out = {percent / 100.0, peak};
        }
    }
    return out;
}

// Held from the mid 20s deg C: 26.
Plant trade_plant() {
    Setup s = six_cell_drive();
    s.air.temperature_C = 26;
    return median_plant(s);
}

}  // namespace

TEST_CASE("trade: full throttle to the reserve: about 100 A, mean 36-45, peak 41-50 deg C (P)") {
    const March full = hold(trade_plant(), 1);
    CHECK(full.ended_by == EndedBy::reserve);
    CHECK_THAT(mean_current(full), WithinAbs(100, 5));  // A
    CHECK(between(36, full.mean_board, 45));
    CHECK(between(41, full.peak_board, 50));
}

TEST_CASE("trade: the hold at 75 %: 45-52 A, mean 44-51, peak 50-58 deg C (P)") {
    const March part = hold(trade_plant(), 0.75);
    CHECK(part.ended_by == EndedBy::reserve);
    CHECK(between(45, mean_current(part), 52));
    CHECK(between(44, part.mean_board, 51));
    CHECK(between(50, part.peak_board, 58));
}

TEST_CASE(
    "trade: three quarters of throttle cook the ESC more than full throttle, at half the current "
    "(P)") {
    const Plant p = trade_plant();
    const March full = hold(p, 1);
    const March part = hold(p, 0.75);
    CHECK(part.mean_board >= full.mean_board + 4);
    CHECK(part.peak_board >= full.peak_board + 4);
    CHECK(between(0.42, mean_current(part) / mean_current(full), 0.55));
}

TEST_CASE("trade: the hottest hold lies in 78-92 % throttle and falls from there to 75 % (P)") {
    const Plant p = trade_plant();
    const Hottest h = hottest_hold(p, 0.5, 1);
    CAPTURE(h.throttle, h.peak);
    CHECK(between(0.78, h.throttle, 0.92));
    double last = h.peak;
    for (double throttle = h.throttle - 0.01; throttle > 0.745; throttle -= 0.01) {
        const double peak = hold(p, throttle).peak_board;
        CHECK(peak <= last + 1e-3);
        last = peak;
    }
    CHECK(last < h.peak);
}

TEST_CASE(
    "trade: the step of relief at full throttle, from the hottest throttle, is 2 to 12 K (P)") {
    // 50 A at 75 % peaked at 53-54 and 100 A at full throttle at 45, with hotter holds between
    const Plant p = median_plant(six_cell_drive());
    const double below = hold(p, 0.96).peak_board;
    CHECK(between(2, below - hold(p, 1).peak_board, 12));
}

TEST_CASE("trade: without diode drop, transitions and switching charge there is no hot band") {
    Plant p = median_plant(six_cell_drive());
    const double hump = hottest_hold(p, 0.5, 1).peak - hold(p, 1).peak_board;
    CHECK(hump > 4);
    p.diode_threshold = 1e-6;
    p.diode_slope = 1e-9;
    p.u.transition = 1e-15;
    p.u.output_charge = p.u.recovery_charge = 1e-15;
    const double flat = hottest_hold(p, 0.5, 1).peak - hold(p, 1).peak_board;
    CAPTURE(hump, flat);
    // what is left comes from ripple and commutation
    CHECK(flat < 0.15 * hump);
    CHECK(hold(p, 0.75).peak_board < hold(p, 1).peak_board);
}

TEST_CASE("trade: active freewheel cools part throttle and leaves full throttle as it is") {
    Setup s = six_cell_drive();
    const Plant diode = median_plant(s);
    s.esc.freewheel = Freewheel::active;
    const Plant active = median_plant(s);
    CHECK(hold(active, 0.75).peak_board < hold(diode, 0.75).peak_board - 2);
    CHECK_THAT(hold(active, 1).peak_board, WithinAbs(hold(diode, 1).peak_board, 1e-6));
}

TEST_CASE("trade: a vented bay runs hotter than the open wash, a closed bay hotter still (P)") {
    Setup s = six_cell_drive();
    double last = hold(median_plant(s), 0.75).peak_board;
    for (const Cooling c : {Cooling::vented, Cooling::closed}) {
        s.air.cooling = c;
        const double peak = hold(median_plant(s), 0.75).peak_board;
        CHECK(peak > last + 2);
        last = peak;
    }
}

TEST_CASE("mission: the charge drawn is the charge that left the pack") {
    const Plant p = median_plant(six_cell_drive());
    for (const double throttle : {1.0, 0.75, 0.4}) {
        const March m = hold(p, throttle);
        REQUIRE(m.ended_by == EndedBy::reserve);
        CHECK_THAT(m.moments.back().charge, WithinAbs(0.2, 1e-5));
        CHECK_THAT(mean_current(m) * m.seconds, WithinRel(0.8 * 18000, charge_book));
    }
}

TEST_CASE("mission: moments are in order and the peaks and means are theirs") {
    const Plant p = median_plant(six_cell_drive());
    const March m = hold(p, 0.8);
    double peak = 0;
    for (size_t i = 0; i < m.moments.size(); ++i) {
        const Moment& now = m.moments[i];
        peak = std::max(peak, now.heat.board);
        CHECK(std::isfinite(now.heat.junction + now.heat.body + now.v_link + now.i_motor));
        CHECK(now.heat.junction >= now.heat.board - 1e-9);
        if (i > 0) {
            CHECK(now.t > m.moments[i - 1].t);
            CHECK(now.charge < m.moments[i - 1].charge);
        }
    }
    CHECK(m.peak_board >= peak);
    CHECK_THAT(m.peak_board, WithinAbs(peak, 0.5));
    CHECK(between(25, m.mean_board, m.peak_board));
    CHECK(m.seconds == m.moments.back().t);
}

TEST_CASE("mission: held on a pack that does not empty, the march ends where it settles") {
    Setup s = six_cell_drive();
    s.air.cooling = GENERATE(Cooling::open, Cooling::vented, Cooling::closed);
    const double throttle = GENERATE(0.5, 0.85, 1.0);
    Plant p = median_plant(s);
    p.pack.charge *= 1e6;
    const DemandMap map = map_demand(p, {.throttle = throttle});
    const double pack_C = p.pack.start_C;
    Plant cool = p;
    cool.pack.heat_capacity *= 1e9;  // the pack stays as it is
    const March m = march(cool, for_ever(map), {25, 1, pack_C}, 40000);
    REQUIRE(m.ended_by == EndedBy::time);
    const Steady steady = settle_on_pack(cool, map, m.moments.back().charge, pack_C);
    REQUIRE_FALSE(steady.runaway);
    const HeatState& end = m.moments.back().heat;
    CHECK_THAT(end.board, WithinAbs(steady.heat.board, settled_K));
    CHECK_THAT(end.junction, WithinAbs(steady.heat.junction, settled_K));
    CHECK_THAT(end.body, WithinAbs(steady.heat.body, settled_K));
    if (cool.heat.closed_bay) {
        CHECK_THAT(end.bay, WithinAbs(steady.heat.bay, settled_K));
    }
}

TEST_CASE("mission: the settled state gives off the heat it takes in") {
    Setup s = six_cell_drive();
    s.air.cooling = Cooling::vented;
    const Plant p = median_plant(s);
    const DemandMap map = map_demand(p, {.throttle = 0.8});
    const double v = link_voltage(p, map, 0.6, 25);
    const HeatState T = settle(p, map, v).heat;
    const DemandMap::Node n = map.at(v, T.junction, T.winding);
    const auto esr = [&](double C) {
        return capacitor_esr(p.u.capacitor_esr, p.u.capacitance, p.pwm, C);
    };
    constexpr double map_board_C = 50;
    const double capacitor_W =
        n.capacitor_W * std::pow(esr(T.board) / esr(map_board_C), map.capacitor_power);
    const Ambient air{.celsius = 25, .pressure = p.air.pressure, .speed = n.air_speed};
    const double off = surface_conductance(p.heat.surface, air, T.body) * (T.body - 25);
    CHECK_THAT(off,
               WithinRel(n.junction_W * map.growth(T.junction)[0] + n.board_W + capacitor_W, 1e-6));
    CHECK_THAT(p.heat.G_case * (T.board - T.body), WithinRel(off, 1e-6));
}

TEST_CASE("mission: losses that outgrow the cooling are a runaway, not a temperature") {
    Setup s = six_cell_drive();
    s.esc.rating_A = 20;
    s.esc.surface_cm2 = 3;
    s.air.cooling = Cooling::closed;
    const Plant p = median_plant(s);
    const DemandMap map = map_demand(p, {.throttle = 1});
    CHECK(settle(p, map, link_voltage(p, map, 1, 25)).runaway);
    CHECK(march(p, for_ever(map), {25, 1, 25}).ended_by == EndedBy::runaway);
}

TEST_CASE("mission: a weak pack ends by its sag floor, at that voltage") {
    Setup s = six_cell_drive();
    s.pack.cell_resistance_mOhm = 5;
    s.pack.sag_floor_V = 3.55;
    const Plant p = median_plant(s);
    const March m = hold(p, 1);
    CHECK(m.ended_by == EndedBy::sag);
    const Moment& end = m.moments.back();
    CHECK(between(0.25, end.charge, 0.9));
    CHECK_THAT(end.cell_V, WithinAbs(3.55, 1e-3));
    // by hand: open circuit less the drop of the loaded cell, as warm as it is then
    const double drop = 5e-3 * cell_resistance_factor(end.pack_C, end.charge) * end.i_pack;
    constexpr double straight_line_V = 5e-3;  // V, the last step is cut by a straight line
    CHECK_THAT(p.pack.cells->open_circuit_V.at(end.charge) - drop,
               WithinAbs(3.55, straight_line_V));
    // Its pack warms and empties to the last moment.
    for (size_t i = 1; i < m.moments.size(); ++i) {
        CHECK(m.moments[i].t > m.moments[i - 1].t);
        CHECK(m.moments[i].pack_C > m.moments[i - 1].pack_C);
        CHECK(m.moments[i].charge < m.moments[i - 1].charge);
    }
    // The speed is counted to there as well, not over the step that was cut.
    double turned = 0;
    for (size_t i = 1; i < m.moments.size(); ++i) {
        const double dt = m.moments[i].t - m.moments[i - 1].t;
        turned += 0.5 * dt * (m.moments[i].omega + m.moments[i - 1].omega);
    }
    CHECK_THAT(m.mean_omega, WithinRel(turned / m.seconds, 1e-3));
}

TEST_CASE("mission: a pack that sags at once has no flight") {
    Setup s = six_cell_drive();
    s.pack.cell_resistance_mOhm = 30;
    s.load.full_throttle_A = 30;
    s.pack.sag_floor_V = 4.1;
    const March m = hold(median_plant(s), 1);
    CHECK(m.ended_by == EndedBy::sag);
    CHECK(m.seconds == 0);
}

TEST_CASE(
    "mission: a flight of legs repeats them in order, and is cooler than its hottest leg held") {
    const Plant p = median_plant(six_cell_drive());
    const DemandMap cruise = map_demand(p, {.throttle = 0.6});
    const DemandMap burst = map_demand(p, {.throttle = 1});
    const March m = march(p, {{&cruise, 40, nullptr}, {&burst, 5, nullptr}}, {25, 1, 25});
    CHECK(m.ended_by == EndedBy::reserve);
    for (size_t i = 1; i < m.moments.size(); ++i) {
        const double into = std::fmod(0.5 * (m.moments[i].t + m.moments[i - 1].t), 45);
        if (m.moments[i].t > m.moments[i - 1].t) {
            CHECK(m.moments[i].throttle == (into < 40 ? 0.6 : 1.0));
        }
    }
    CHECK(m.peak_board < std::max(hold(p, 0.6).peak_board, hold(p, 1).peak_board) + 1);
    CHECK(m.seconds > hold(p, 1).seconds);
}

TEST_CASE("mission: a second flight that starts warm runs warmer, cooling down takes minutes (P)") {
    const Plant p = median_plant(six_cell_drive());
    const March first = hold(p, 0.8);
    const March second = hold(p, 0.8, 45);
    CHECK(second.peak_board > first.peak_board + 0.5);
    const std::optional<double> seconds = cool_down_seconds(p, first.moments.back().heat, 5);
    REQUIRE(seconds);
    CHECK(between(5 * 60, *seconds, 60 * 60));
    Setup s = six_cell_drive();
    s.air.sun = true;
    CHECK_FALSE(cool_down_seconds(median_plant(s), first.moments.back().heat, 2));
    CHECK(cool_down_seconds(p, {25, 25, 25, 25}, 5) == 0);
}

TEST_CASE("mission: flying faster, in thinner air, in summer: each as one expects") {
    const auto peak = [](double speed, double metres, double celsius) {
        Setup s = six_cell_drive();
        s.air.flight_speed_mps = speed;
        s.air.altitude_m = metres;
        s.air.temperature_C = celsius;
        const Plant p = median_plant(s);
        return hold(p, 0.8, celsius).peak_board;
    };
    CHECK(peak(25, 0, 25) < peak(0, 0, 25));
    CHECK(peak(0, 2500, 25) > peak(0, 0, 25));
    CHECK(between(8, peak(0, 0, 35) - peak(0, 0, 25), 12));
}
