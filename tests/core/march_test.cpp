// The march's parts, each against the exact operating point, a balance, or plain small steps.
#include <array>
#include <cmath>
#include <limits>

#include "drives.hpp"
#include "flight/flight_plan.hpp"
#include "flight/hold.hpp"
#include "near.hpp"
#include "owners.hpp"
#include "physics/cooling.hpp"
#include "physics/motor.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

using Node = DemandMap::Node;

Plant usual() { return median_plant(six_cell_drive()); }

Setup closed_bay() {
    Setup s = six_cell_drive();
    s.air.cooling = Cooling::closed;
    s.air.sun = true;
    s.load.full_throttle_A = 60;
    return s;
}

double conductance_of_case(const Plant& p, double air_speed, double body_C, double near_C) {
    return surface_conductance(p.heat.surface, {near_C, p.air.pressure, air_speed}, body_C);
}

// Board after a constant heat, by Euler's small steps on the three or four nodes, conductances
// held where `board_response` holds them.
double board_by_euler(const Plant& p, double air_speed, double flight_speed, double body_C,
                      double seconds, double start_C, double junction_W, double board_W) {
    const HeatPlant& h = p.heat;
    const double air_C = p.air.celsius;
    const double G_body = conductance_of_case(p, air_speed, body_C, air_C);
    const double G_skin =
        h.closed_bay ? surface_conductance(h.bay, {air_C, p.air.pressure, flight_speed}, air_C) : 0;
    double skin = air_C;
    double J = start_C;
    double B = start_C;
    double S = start_C;
    double bay = air_C;
    const double dt = 2e-3;
    for (double t = 0; t < seconds - 0.5 * dt; t += dt) {
        const double near = h.closed_bay ? bay : air_C;
        const double to_board = h.G_junction * (J - B);
        const double to_case = h.G_case * (B - S);
        const double off = G_body * (S - near);
        J += dt / h.C_junction * (junction_W - to_board);
        B += dt / h.C_board * (board_W + to_board - to_case);
        S += dt / h.C_case * (to_case - off + (h.closed_bay ? 0 : h.sun_W));
        if (h.closed_bay) {
            // a skin without mass: what comes to it goes from it
            skin = (h.G_film * bay + G_skin * air_C + h.sun_W) / (h.G_film + G_skin);
            bay += dt / h.C_bay * (off - h.G_film * (bay - skin));
        }
    }
    return B;
}

}  // namespace

TEST_CASE("march: what takes more moments than it may is unfinished, and says so") {
    const Plant p = usual();
    const DemandMap map = map_demand(p, {.throttle = 0.6});
    std::vector<Leg> legs = for_ever(map);
    legs[0].seconds = 1;
    MarchStart start{25, 1, 25};
    start.most_moments = 51;  // where it begins, and two for each step
    const March m = march(p, legs, start);
    CHECK(m.ended_by == EndedBy::steps);
    CHECK(m.moments.size() == 51);
    CHECK_THAT(m.seconds, WithinAbs(25, 1e-9));
    CHECK(march(p, legs, start, 20).ended_by == EndedBy::time);
    CHECK(hold(p, 0.6).ended_by == EndedBy::reserve);
    // A cell's voltage that is none keeps no floor.
    Plant broken = p;
    broken.u.cell_resistance = std::numeric_limits<double>::quiet_NaN();
    CHECK(march(broken, for_ever(map), {25, 1, 25}).moments.size() == 1);
}

TEST_CASE("march: the map is the exact operating point, at other volts and temperatures") {
    // Parabolas through three points of the pack's range: what they leave out.
    constexpr double current = 4e-3;
    constexpr double heat = 0.02;
    for (const double throttle : {0.5, 0.8, 1.0}) {
        const Plant p = usual();
        const Demand d{.throttle = throttle};
        const DemandMap map = map_demand(p, d);
        REQUIRE(map.ok);
        CHECK(map.throttle == throttle);
        const double R = source_at(p, 0.47, 30, 0, 0).R_src;
        for (const double Voc : {21.5, 23.0, 24.8}) {
            for (const double junction_C : {30.0, 60.0, 120.0}) {
                for (const double winding_C : {25.0, 65.0, 110.0}) {
                    const Operating o = operate(p, d, {Voc, R, junction_C, 50, winding_C});
                    const Node n = map.at(o.v_link, junction_C, winding_C);
                    INFO(throttle << " at " << Voc << " V, " << junction_C << ", " << winding_C);
                    CHECK(n.v_link == o.v_link);
                    CHECK_THAT(n.i_pack, WithinRel(o.i_pack, current));
                    CHECK_THAT(n.i_motor, WithinRel(o.i_motor, current));
                    CHECK_THAT(n.omega, WithinRel(o.omega, current));
                    CHECK_THAT(n.shaft_W, WithinRel(o.shaft_W, 3 * current));
                    CHECK_THAT(n.winding_W, WithinRel(o.winding_W, heat));
                    CHECK_THAT(n.air_speed, WithinRel(o.air_speed, current));
                    CHECK_THAT(n.board_W, WithinRel(o.losses.board + o.losses.supply, heat));
                    CHECK_THAT(n.junction_W * map.growth(junction_C)[0],
                               WithinRel(o.losses.at_junction(), heat));
                    CHECK_THAT(n.capacitor_W,
                               WithinAbs(o.losses.capacitor, 0.06 * o.losses.capacitor + 1e-6));
                }
            }
        }
    }
}

TEST_CASE("march: a rotor's map is the exact point as well, its windings' heat a line") {
    Setup s = six_cell_rotor(1500);
    s.motor.resistance_mOhm = 20;
    const Plant p = median_plant(s);
    const double R = source_at(p, 0.47, 30, 0, 0).R_src;
    for (const double power : {0.6, 0.8, 1.0, 30.0}) {
        const Demand d{.throttle = power};
        const DemandMap map = map_demand(p, d);
        REQUIRE(map.ok);
        REQUIRE(map.nodes.size() == 3);
        // One that full duty cannot hold slows down as its windings warm, and bends.
        CHECK((map.bending[1].winding_W == 0) == (power < 30));
        CHECK(map.saturated == (power == 30));
        for (const double Voc : {21.5, 24.8}) {
            for (const double winding_C : {25.0, 65.0, 110.0}) {
                const Operating o = operate(p, d, {Voc, R, 60, 50, winding_C});
                const Node n = map.at(o.v_link, 60, winding_C);
                INFO(power << " at " << Voc << " V, " << winding_C);
                CHECK_THAT(n.i_pack, WithinRel(o.i_pack, 5e-3));
                CHECK_THAT(n.i_motor, WithinRel(o.i_motor, power < 30 ? 1e-6 : 2e-3));
                CHECK_THAT(n.winding_W, WithinRel(o.winding_W, 0.02));
                CHECK_THAT(n.junction_W, WithinRel(o.losses.at_junction(), 0.01));
            }
        }
    }
}

TEST_CASE(
    "march: far below its nodes a drive is a resistance: powers with the square of volts (D)") {
    constexpr double by_hand = 1e-12;
    const Plant p = usual();
    const DemandMap map = map_demand(p, {.throttle = 0.8});
    const double least_V = 0.8 * map.nodes.front().v_link;
    const Node edge = map.at(least_V, 60, 65);
    for (const double x : {0.0, 0.25, 0.5}) {
        const Node n = map.at(x * least_V, 60, 65);
        CHECK_THAT(n.i_pack, WithinAbs(x * edge.i_pack, by_hand));
        CHECK_THAT(n.i_motor, WithinAbs(x * edge.i_motor, by_hand));
        CHECK_THAT(n.omega, WithinAbs(x * edge.omega, by_hand * 1e3));
        CHECK_THAT(n.air_speed, WithinAbs(x * edge.air_speed, by_hand));
        CHECK_THAT(n.shaft_W, WithinAbs(x * x * edge.shaft_W, by_hand * 1e3));
        CHECK_THAT(n.junction_W, WithinAbs(x * x * edge.junction_W, by_hand));
        CHECK_THAT(n.board_W, WithinAbs(x * x * edge.board_W, by_hand));
        CHECK_THAT(n.capacitor_W, WithinAbs(x * x * edge.capacitor_W, by_hand));
        CHECK_THAT(n.winding_W, WithinAbs(x * x * edge.winding_W, by_hand));
        CHECK_THAT(map.winding_heat(x * least_V, 60, 65).watts, WithinAbs(n.winding_W, by_hand));
    }
    // and negative volts are none
    CHECK(map.at(-1, 60, 65).i_pack == 0);
}

TEST_CASE("march: a pack that is all but shorted is met far below a volt") {
    const Plant p = usual();
    const DemandMap map = map_demand(p, {.throttle = 1});
    for (const double R : {0.02, 1.0, 10.0}) {
        const double v = link_voltage(Source{25, R, 60, 50, 65}, map, 60, 65);
        CHECK_THAT(v + R * map.pack_current(v, 60, 65), WithinAbs(25, 1e-6));
        CHECK((R < 10 || v < 0.8));
        for (const double near_V : {0.0, 20.0, 25.0}) {
            CHECK_THAT(link_voltage(Source{25, R, 60, 50, 65}, map, 60, 65, near_V),
                       WithinAbs(v, 1e-6));
        }
    }
}

TEST_CASE("march: the map's pack is the one two thirds through, as warm as it is by then") {
    // What the nodes draw and what is left of the open circuit's volts tell of the resistance.
    Setup s = six_cell_drive();
    s.pack.cell_resistance_mOhm = 1.8;
    const Plant p = median_plant(s);
    for (const double throttle : {0.7, 1.0}) {
        const DemandMap map = map_demand(p, {.throttle = throttle});
        const Node& top = map.nodes.back();
        const double Voc = 6 * p.pack.cells->open_circuit_V.at(1) * 1.01;
        const double R = (Voc - top.v_link) / top.i_pack;
        const March m = hold(p, throttle);
        const double charge = 1 - 2.0 / 3 * 0.8;
        size_t i = 1;
        while (m.moments[i].charge > charge) {
            ++i;
        }
        const Moment& a = m.moments[i - 1];
        const Moment& b = m.moments[i];
        const double pack_C =
            a.pack_C + (b.pack_C - a.pack_C) * (a.charge - charge) / (a.charge - b.charge);
        CHECK(pack_C > 29);
        constexpr double its_own_course = 0.03;  // drawn on evenly, as stiff as it began
        INFO(throttle << ": " << pack_C << " deg C");
        CHECK_THAT(R, WithinRel(source_at(p, charge, pack_C, 0, 0).R_src, its_own_course));
    }
}

TEST_CASE("march: a pack that nothing draws on loses three hundredths in thirty days (P)") {
    Setup s = six_cell_drive();
    Plant p = median_plant(s);
    p.pack.share = 0;
    const DemandMap map = map_demand(p, {.throttle = 0});
    const double month_s = 30 * 86400.0;
    const March m = march(p, for_ever(map), {25, 1, 25}, 0.5 * month_s);
    CHECK(m.ended_by == EndedBy::time);
    CHECK_THAT(m.moments.back().charge, WithinAbs(1 - 0.015, 1e-9));
    CHECK_THAT(m.seconds, WithinRel(0.5 * month_s, 1e-9));
}

TEST_CASE("march: the pack's current is the map's wherever its pieces meet") {
    const Plant p = usual();
    DemandMap map = map_demand(p, {.throttle = 0.7});
    // five nodes that bend differently: three pieces and the collapsed one
    const DemandMap::Node middle = map.nodes[1];
    map.nodes.clear();
    for (const double x : {0.8, 0.9, 1.0, 1.15, 1.2}) {
        DemandMap::Node n = middle;
        n.v_link = x * middle.v_link;
        n.i_pack = x * x * x * middle.i_pack;
        map.nodes.push_back(n);
    }
    map.warming.assign(5, {});
    map.bending.assign(5, {});
    const double first = map.nodes.front().v_link;
    const double last = map.nodes.back().v_link;
    for (double v = 0.3 * first; v < 1.2 * last; v += 0.01 * first) {
        const DemandMap::PackCurrent current = map.pack_current_near(v, 90, 80);
        CHECK(current.holds(v));
        CHECK_THAT(current.at(v), WithinRel(map.at(v, 90, 80).i_pack, 1e-12));
    }
    // from one end a search walks over all of them
    const Source s{last, 0.05, 60, 50, 65};
    const double v = link_voltage(s, map, 60, 65);
    for (const double near_V : {0.0, 0.5 * last, last}) {
        CHECK_THAT(link_voltage(s, map, 60, 65, near_V), WithinAbs(v, 1e-8));
    }
    CHECK_THAT(v + s.R_src * map.pack_current(v, 60, 65), WithinAbs(last, 1e-8));
}

TEST_CASE("march: the map's slopes are those of its values") {
    const Plant p = usual();
    const DemandMap map = map_demand(p, {.throttle = 0.7});
    for (const double v : {20.5, 22.0, 24.5}) {
        const DemandMap::PackCurrent current = map.pack_current_near(v, 90, 80);
        CHECK(current.holds(v));
        CHECK_THAT(current.at(v), WithinRel(map.at(v, 90, 80).i_pack, 1e-12));
        const double d = 1e-5;
        CHECK_THAT(
            current.slope(v),
            WithinRel((map.pack_current(v + d, 90, 80) - map.pack_current(v - d, 90, 80)) / (2 * d),
                      1e-6));
        CHECK_THAT(map.winding_heat(v, 90, 80).watts,
                   WithinRel(map.at(v, 90, 80).winding_W, 1e-12));
    }
    const auto [factor, per_K] = map.growth(90);
    CHECK_THAT(per_K, WithinRel((map.growth(90.01)[0] - map.growth(89.99)[0]) / 0.02, 1e-6));
    const double per_winding_K =
        (map.winding_heat(22, 90, 80.01).watts - map.winding_heat(22, 90, 79.99).watts) / 0.02;
    CHECK_THAT(map.winding_heat(22, 90, 80).slope, WithinRel(per_winding_K, 1e-6));
    CHECK(factor > 1);
    CHECK_THAT(map.growth(map_junction_C)[0], WithinRel(1, 1e-12));
}

TEST_CASE("march: above the nodes of a map with a kink it goes on straight, of others bent (D)") {
    DemandMap map = map_demand(usual(), {.throttle = 0.7});
    const Node middle = map.nodes[1];
    const auto through = [&](const std::vector<double>& amperes) {
        map.nodes.clear();
        for (size_t i = 0; i < amperes.size(); ++i) {
            Node n = middle;
            n.v_link = 20.0 + static_cast<double>(i);
            n.i_pack = amperes[i];
            map.nodes.push_back(n);
        }
        map.warming.assign(amperes.size(), {});
        map.bending.assign(amperes.size(), {});
        map.collapsed_V = map.collapse_below();
    };
    // 10, 20, 24 A at 20, 21, 22 V: the parabola through them turns down.
    through({10, 20, 24});
    CHECK_THAT(map.pack_current(23), WithinAbs(22, 1e-9));
    CHECK_THAT(map.at(23).i_pack, WithinAbs(22, 1e-9));
    through({0, 10, 20, 24});
    CHECK_THAT(map.pack_current(22.5), WithinAbs(22.75, 1e-9));
    CHECK_THAT(map.pack_current(24), WithinAbs(28, 1e-9));
    CHECK_THAT(map.at(24).i_pack, WithinAbs(28, 1e-9));
    CHECK(map.pack_current_near(24, 60, 65).holds(30));
    CHECK_FALSE(map.pack_current_near(24, 60, 65).holds(23));
    CHECK_FALSE(map.pack_current_near(23, 60, 65).holds(23.1));
}

TEST_CASE("march: windings hotter than a map's points go on straight, and leave something") {
    DemandMap map = map_demand(usual(), {.throttle = 0.7});
    const Node middle = map.nodes[1];
    const auto bent_by = [&](double warming, double bending) {
        for (size_t i = 0; i < map.nodes.size(); ++i) {
            map.warming[i].winding_W = map.warming[i].i_pack = warming;
            map.bending[i].winding_W = map.bending[i].i_pack = bending;
        }
        return [&, at = map.nodes[1].v_link](double x) {
            const double winding_C = map.winding_C + x;
            const double watts = map.winding_heat(at, 60, winding_C).watts / middle.winding_W;
            CHECK_THAT(map.at(at, 60, winding_C).winding_W, WithinRel(watts * middle.winding_W));
            CHECK_THAT(map.pack_current(at, 60, winding_C), WithinRel(watts * middle.i_pack));
            const double per_K = (map.winding_heat(at, 60, winding_C + 0.01).watts -
                                  map.winding_heat(at, 60, winding_C - 0.01).watts) /
                                 0.02;
            CHECK_THAT(map.winding_heat(at, 60, winding_C).slope, WithinRel(per_K, 1e-4));
            return watts;
        };
    };
    // A parabola up to 60 K over the map's windings, its tangent from there (D).
    const auto usual_bend = bent_by(-0.003, 1e-5);
    CHECK_THAT(usual_bend(-40), WithinRel(1.136, 1e-9));
    CHECK_THAT(usual_bend(59.9), WithinRel(1 - 0.003 * 59.9 + 1e-5 * 59.9 * 59.9, 1e-9));
    CHECK_THAT(usual_bend(160), WithinRel(0.856 - 100 * 0.0018, 1e-9));
    // One that a kink bends down falls by 1/250 of what it has there, and not to nothing (D).
    const auto kinked = bent_by(-0.003, -2e-5);
    CHECK_THAT(kinked(59.9), WithinRel(1 - 0.003 * 59.9 - 2e-5 * 59.9 * 59.9, 1e-9));
    CHECK_THAT(kinked(185), WithinRel(0.748 * (1 - 125 / 250.0), 1e-9));
    bent_by(-0.05, 0);
    CHECK(map.pack_current(map.nodes[1].v_link, 60, map.winding_C + 50) == 0);
}

TEST_CASE("march: a rotor that is held cold and lost warm bends by the side its nodes are on") {
    Setup s = six_cell_rotor(2000);
    s.motor.resistance_mOhm = 20.6;
    s.motor.poles = 14;
    const Plant p = median_plant(s);
    const auto half_full = [&](double power, double winding_C) {
        Source source = source_at(p, 0.5, 25, map_junction_C, 50);
        source.winding_C = winding_C;
        return operate(p, {.throttle = power}, source);
    };
    // A power that windings of 25 deg C hold and those of 65 do not, and one that these hold and
    // those of 125 do not.
    double lost_at_65 = 0;
    double lost_at_125 = 0;
    for (double power = 1; power < 8; power += 0.01) {
        const bool at_65 = half_full(power, 65).saturated;
        const bool at_125 = half_full(power, 125).saturated;
        lost_at_65 = lost_at_65 == 0 && at_65 ? power : lost_at_65;
        lost_at_125 = lost_at_125 == 0 && at_125 && !at_65 ? power : lost_at_125;
    }
    REQUIRE(lost_at_125 > 0);
    REQUIRE(lost_at_65 > lost_at_125);
    REQUIRE_FALSE(half_full(lost_at_65, 25).saturated);
    for (const double power : {lost_at_65, lost_at_125}) {
        const DemandMap map = map_demand(p, {.throttle = power});
        for (const double winding_C : {25.0, 45.0, 85.0, 125.0, 200.0}) {
            INFO(power << " of hover, windings at " << winding_C);
            const Operating o = half_full(power, winding_C);
            const Node n = map.at(o.v_link, map_junction_C, winding_C);
            const bool same = o.saturated == (power == lost_at_65);
            CHECK_THAT(n.i_motor, WithinRel(o.i_motor, same ? 0.05 : 0.1));
            CHECK_THAT(n.junction_W, WithinRel(o.losses.at_junction(), same ? 0.05 : 0.8));
        }
    }
}

TEST_CASE("march: where the current begins to stop, or a rotor is lost, the nodes stand close") {
    CHECK(map_demand(usual(), {.throttle = 0.8}).nodes.size() == 3);
    // A ripple of some amperes: the current stops in the low pack and flows on in the full one.
    Setup thin = small_drive();
    thin.motor.inductance_uH = 60;
    const Plant small = median_plant(thin);
    size_t close = 0;
    for (int pct = 4; pct < 60; pct += 1) {
        const DemandMap map = map_demand(small, {.throttle = pct / 100.0});
        CHECK((map.nodes.size() == 3 || map.nodes.size() == 17));
        close += map.nodes.size() == 17 ? 1 : 0;
    }
    CHECK(between(1, static_cast<double>(close), 20));
    const Plant rotor = median_plant(six_cell_rotor(2000));
    const DemandMap held = map_demand(rotor, {.throttle = 1});
    CHECK_FALSE(held.saturated);
    bool kink = false;
    for (double share = 1; share < 6; share += 0.25) {
        const DemandMap map = map_demand(rotor, {.throttle = share});
        kink = kink || (map.nodes.size() == 17 && map.saturated);
    }
    CHECK(kink);
    const DemandMap lost = map_demand(rotor, {.throttle = 30});
    CHECK(lost.saturated);
    CHECK(lost.nodes.size() == 3);
    CHECK(map_demand(usual(), {.throttle = 0.8, .speed_mps = 7}).flight_speed == 7);
}

TEST_CASE("march: a motor that stalls within the pack's range is a resistance below it (D)") {
    // Cells so weak that cold they feed only a stalled motor, warm one that turns.
    Setup s;
    s.pack.cells = 7;
    s.pack.capacity_mAh = 12000;
    s.pack.parallel = 2;
    s.pack.chemistry = Chemistry::liion;
    s.pack.cell_resistance_mOhm = 400;
    s.pack.lead_length_cm = 1000;
    s.pack.lead_area_mm2 = 29;
    s.pack.start_pct = 63;
    s.pack.reserve_pct = 37;
    s.esc.rating_A = 180;
    s.esc.pwm_Hz = 200000;
    s.esc.full_on_pct = 72;
    s.esc.board_resistance_mOhm = 47;
    s.motor.kv_rpm_per_V = 15000;
    s.motor.inductance_uH = 5800;
    s.motor.poles = 26;
    s.load.full_throttle_A = 1048.9;
    s.load.shaft_W = 180;
    s.load.shaft_rpm = 9000;
    const Plant p = median_plant(s);
    const DemandMap map = map_demand(p, {.throttle = 0.88});
    CHECK(map.nodes.size() == 17);
    const DemandMap::Node& lowest = map.nodes.front();
    CHECK(lowest.omega == 0);
    CHECK(map.nodes.back().omega > 0);
    const double r = lowest.v_link / lowest.i_pack;
    const Source cold = source_at(p, p.pack.start, p.pack.start_C, 0, 0);
    const double by_hand = cold.Voc * r / (cold.R_src + r);
    CHECK(by_hand < 0.5 * lowest.v_link);
    CHECK_THAT(link_voltage(cold, map, map_junction_C, map.winding_C), WithinRel(by_hand, 1e-4));
    for (const double near_V : {0.0, 3.0, 6.5, 26.0}) {
        CHECK_THAT(link_voltage(cold, map, map_junction_C, map.winding_C, near_V),
                   WithinRel(by_hand, 1e-4));
    }
}

TEST_CASE("march: parabolas go on below the nodes only where the current there makes sense (D)") {
    // Straight lines that are at a share of the lowest node's current at four fifths of its
    // voltage.
    const auto collapse_at = [](double share) {
        DemandMap map;
        for (const double v : {10.0, 11.0, 12.0}) {
            DemandMap::Node n;
            n.v_link = v;
            n.i_pack = 50 * (1 + (1 - share) * (v - 10) / 2);
            map.nodes.push_back(n);
        }
        return map.collapse_below();
    };
    CHECK(collapse_at(0.39) == 10);
    CHECK(collapse_at(0.41) == 8);
    CHECK(collapse_at(0.99) == 8);
    CHECK(collapse_at(1.01) == 10);
}

TEST_CASE("march: pack and demand agree on the link's voltage") {
    const Plant p = usual();
    const DemandMap map = map_demand(p, {.throttle = 0.9});
    for (const double charge : {1.0, 0.5, 0.25}) {
        const Source s = source_at(p, charge, 35, 0, 0);
        const double v = link_voltage(p, map, charge, 35, 80, 70);
        CHECK_THAT(v, WithinRel(s.Voc - s.R_src * map.at(v, 80, 70).i_pack, 1e-7));
    }
}

TEST_CASE("march: a demand among three others is on their parabola, and never below nothing (D)") {
    const Plant p = usual();
    const auto flat = [](double watts, double amps) {
        DemandMap map;
        for (const double v : {20.0, 22.0, 24.0}) {
            Node n;
            n.v_link = v;
            n.junction_W = watts;
            n.i_pack = amps;
            n.shaft_W = 200;
            map.nodes.push_back(n);
        }
        map.warming.resize(3);
        map.bending.resize(3);
        map.growing_share = 0.01 * watts;
        map.throttle = 0.1 * watts;
        map.ok = true;
        return map;
    };
    std::array<DemandMap, 3> three = {flat(1, 8), flat(4, 0), flat(9, 0)};
    const DemandMap half = map_among(p, three, 0.5, 12);  // of squares: 2.5^2
    for (const Node& n : half.nodes) {
        CHECK_THAT(n.junction_W, WithinRel(6.25, 1e-12));
        CHECK(n.i_pack == 0);  // -1/8 of 8 A on the parabola
        CHECK(n.air_speed == air_speed_at_esc(p, 200, 12));
    }
    CHECK_THAT(half.growing_share, WithinRel(0.0625, 1e-12));
    CHECK(half.flight_speed == 12);
    CHECK(half.ok);
    CHECK_FALSE(half.saturated);
    three[2].saturated = true;
    CHECK(map_among(p, three, 0.5, 12).saturated);
    three[0].ok = false;
    CHECK_FALSE(map_among(p, three, 0.5, 12).ok);
    CHECK_THAT(map_among(p, three, -1, 12).nodes[1].junction_W, WithinRel(1, 1e-12));
}

TEST_CASE("march: a mixture of more parts than are solved is smooth") {
    Setup s = small_drive();  // whose current stops in between
    s.motor.inductance_uH = 3;
    const Plant p = median_plant(s);
    const auto mixed_of = [&](size_t parts) {
        std::vector<DemandMap> maps;
        for (size_t i = 0; i < parts; ++i) {
            maps.push_back(map_demand(p, {.throttle = 0.1 + 0.04 * static_cast<double>(i)}, 9));
        }
        return mix_demands(p, maps, std::vector<double>(parts, 1 / static_cast<double>(parts)));
    };
    CHECK(mixed_of(16).nodes.size() == 9);
    const DemandMap many = mixed_of(17);
    REQUIRE(many.nodes.size() == 5);
    // Its bends are those of the middle node.
    const DemandMap fewer = mixed_of(16);
    for (const Node& bend : many.warming) {
        CHECK(bend.winding_W == many.warming[2].winding_W);
    }
    CHECK(std::abs(many.warming[2].winding_W - fewer.warming[4].winding_W) <
          std::abs(many.warming[2].winding_W - fewer.warming[0].winding_W));
}

TEST_CASE("march: coarse steps leave no little rest, and none follow a rise that was before") {
    const Plant p = usual();
    const DemandMap map = map_demand(p, {.throttle = 0.5});
    const auto steps_of = [&](Steps steps, double seconds, double settled_s) {
        const Leg leg{&map, std::numeric_limits<double>::infinity(), nullptr, settled_s};
        return march(p, {leg}, {40, 1, 40, steps}, seconds).moments.size() / 2;
    };
    CHECK(steps_of(Steps::fine, 3.5, 0) == 1);  // 3 s and a fifth more
    CHECK(steps_of(Steps::fine, 3.7, 0) == 2);
    CHECK(steps_of(Steps::drawn, 10.7, 0) == 1);  // 8 s and a third
    CHECK(steps_of(Steps::drawn, 10.9, 0) == 2);
    CHECK(steps_of(Steps::trial, 29, 0) == 1);  // 20 s and half of it
    CHECK(steps_of(Steps::trial, 31, 0) == 2);
    CHECK(steps_of(Steps::trial, 120, 0) == 3);  // 20, 60, and the rest
    CHECK(steps_of(Steps::trial, 120, 60) == 1);
}

TEST_CASE("march: a mixture is the mean of its parts, at any winding temperature") {
    const Plant p = usual();
    const std::vector<DemandMap> maps = {map_demand(p, {.throttle = 0.5}),
                                         map_demand(p, {.throttle = 0.9, .speed_mps = 8})};
    const DemandMap mixed = mix_demands(p, maps, {0.7, 0.3});
    CHECK(mixed.ok);
    CHECK_FALSE(mixed.saturated);
    CHECK_THAT(mixed.throttle, WithinAbs(0.62, 1e-12));
    // Air cools as its root goes: 0.3 sqrt(8), squared.
    CHECK_THAT(mixed.flight_speed, WithinAbs(0.72, 1e-12));
    const double half_way = 0.5 * (p.pack.start + p.pack.reserve);
    Source source = source_at(p, half_way, p.pack.start_C, 0, 0);
    for (const double winding_C : {25.0, 65.0, 125.0}) {
        for (const double Voc : {21.5, 22.8, 24.9}) {
            // The pack rests at this voltage, and each pulls it down by its own current.
            source.Voc = Voc;
            const auto drawn = [&](const DemandMap& map) {
                return map.at(link_voltage(source, map, map_junction_C, winding_C), map_junction_C,
                              winding_C);
            };
            const Node a = drawn(maps[0]);
            const Node b = drawn(maps[1]);
            const Node m = drawn(mixed);
            CHECK_THAT(m.v_link, WithinRel(0.7 * a.v_link + 0.3 * b.v_link, 1e-4));
            for (double Node::*value :
                 {&Node::i_pack, &Node::i_motor, &Node::omega, &Node::shaft_W, &Node::junction_W,
                  &Node::board_W, &Node::capacitor_W, &Node::winding_W}) {
                CHECK_THAT(m.*value, WithinRel(0.7 * a.*value + 0.3 * b.*value, 2e-3));
            }
            CHECK_THAT(
                std::sqrt(m.air_speed),
                WithinRel(0.7 * std::sqrt(a.air_speed) + 0.3 * std::sqrt(b.air_speed), 2e-3));
        }
    }
    // The pack warms with the square of its current: the form factor of the middle nodes (D).
    const double little = maps[0].nodes[1].i_pack;
    const double much = maps[1].nodes[1].i_pack;
    CHECK_THAT(mixed.current_form, WithinRel(std::sqrt(0.7 * little * little + 0.3 * much * much) /
                                                 (0.7 * little + 0.3 * much),
                                             1e-12));
    CHECK(maps[0].current_form == 1);
    // What grows as the switches warm is weighed by the heat.
    const double hot = 0.7 * maps[0].nodes[1].junction_W;
    const double hotter = 0.3 * maps[1].nodes[1].junction_W;
    CHECK_THAT(
        mixed.growing_share,
        WithinRel((hot * maps[0].growing_share + hotter * maps[1].growing_share) / (hot + hotter),
                  1e-12));
    CHECK_THAT(
        mixed.current_fall,
        WithinRel((hot * maps[0].current_fall + hotter * maps[1].current_fall) / (hot + hotter),
                  1e-12));
    const double a = 0.7 * maps[0].nodes[1].capacitor_W;
    const double b = 0.3 * maps[1].nodes[1].capacitor_W;
    CHECK_THAT(
        mixed.capacitor_power,
        WithinRel((a * maps[0].capacitor_power + b * maps[1].capacitor_power) / (a + b), 1e-12));
    std::vector<DemandMap> flawed = maps;
    flawed[1].ok = false;
    flawed[0].saturated = true;
    CHECK_FALSE(mix_demands(p, flawed, {0.7, 0.3}).ok);
    CHECK(mix_demands(p, flawed, {0.7, 0.3}).saturated);
}

TEST_CASE("march: its pack and windings warm as small steps of their own balances say") {
    constexpr double near_K = 0.5;  // steps of up to a sixteenth of the hold
    Setup s = six_cell_drive();
    s.pack.temperature_C = 12;
    s.motor.count = 2;
    s.load.full_throttle_A = 180;
    const Plant p = median_plant(s);
    const DemandMap map = map_demand(p, {.throttle = 1});
    const March m = march(p, for_ever(map), {25, 1, 12});
    REQUIRE(m.ended_by == EndedBy::reserve);
    double charge = 1;
    double pack_C = 12;
    double winding_C = 25;
    double junction_C = 25;
    size_t next = 0;
    const double dt = 0.25;
    double mean_omega = 0;
    double t = 0;
    for (; charge > 0.2; t += dt) {
        while (next + 1 < m.moments.size() && m.moments[next].t < t) {
            ++next;
        }
        junction_C = m.moments[next].heat.junction;
        const double v = link_voltage(p, map, charge, pack_C, junction_C, winding_C);
        const Node n = map.at(v, junction_C, winding_C);
        const double total_A = 2 * n.i_pack;
        const double cell = p.u.cell_resistance * cell_resistance_factor(pack_C, charge);
        pack_C += dt / p.pack.heat_capacity *
                  (6 * cell * total_A * total_A - p.pack.cooling * (pack_C - 25));
        charge -= dt * total_A / (18000 * (1 - 0.006 * 8));  // 8 K under 20 deg C (P)
        // three tenths of the conductance stay with the shaft at rest (P)
        const double G = p.winding.conductance * (0.3 + 0.7 * n.omega / p.winding.omega);
        CHECK(std::abs(winding_conductance(p, n.omega) / G - 1) < 1e-12);
        winding_C += dt / p.winding.capacity * (n.winding_W - G * (winding_C - 25));
        mean_omega += dt * n.omega;
    }
    CHECK_THAT(m.moments.back().pack_C, WithinAbs(pack_C, near_K));
    CHECK_THAT(m.moments.back().heat.winding, WithinAbs(winding_C, 2 * near_K));
    CHECK(m.peak_winding >= m.moments.back().heat.winding);
    CHECK(pack_C > 20);
    CHECK(winding_C > 50);
    CHECK_THAT(m.mean_omega, WithinRel(mean_omega / t, 2e-3));
}

TEST_CASE("march: windings follow a drift of their heat as small steps do, a tenth of it at most") {
    const Plant p = usual();
    constexpr double dt = 40;
    constexpr double start_C = 60;
    constexpr double heat_W = 30;
    for (const double slope : {-0.4, 0.0, 0.2}) {
        for (const double drift_W : {-2.0, 0.0, 2.0, 9.0}) {
            const WindingFlow start{heat_W, 5, slope};
            const WindingFlow half_way{heat_W + drift_W, 5, slope};
            const double taken_W = std::min(drift_W, 0.1 * half_way.heat_W);
            double T = start_C;
            constexpr int steps = 40000;
            for (int i = 0; i < steps; ++i) {
                const double t = (i + 0.5) / steps;
                const double W = half_way.heat_W + taken_W * (2 * t - 1) - 5;
                T += dt / steps / p.winding.capacity * (W + slope * (T - start_C));
            }
            INFO(slope << " W/K, " << drift_W << " W");
            CHECK_THAT(winding_after(p, start, half_way, start_C, dt), WithinAbs(T, 1e-3));
        }
    }
    CHECK(winding_after(p, {heat_W, 5, -0.4}, {heat_W, 5, -0.4}, start_C, 0) == start_C);
    // What grows with itself for ever is lost, and is a number.
    CHECK(winding_after(p, {9, 1, 50}, {9, 1, 50}, start_C, 1e6) == lost_winding_C);
}

TEST_CASE("march: half way through a step it stands between the step's ends") {
    const Plant p = usual();
    const DemandMap map = map_demand(p, {.throttle = 0.7});
    const March m = march(p, for_ever(map), {25, 1, 25});
    REQUIRE(m.moments.size() > 20);
    REQUIRE(m.moments.size() % 2 == 1);
    for (size_t i = 2; i < m.moments.size(); i += 2) {
        const Moment& a = m.moments[i - 2];
        const Moment& half = m.moments[i - 1];
        const Moment& b = m.moments[i];
        for (double Moment::*value :
             {&Moment::t, &Moment::charge, &Moment::pack_C, &Moment::cell_V}) {
            CHECK_THAT(half.*value, WithinRel(0.5 * (a.*value + b.*value), 1e-12));
        }
        CHECK(half.throttle == 0.7);
        // Its currents are those of the map at its own voltage.
        const Node n = map.at(half.v_link, half.heat.junction, half.heat.winding);
        CHECK_THAT(half.i_pack, WithinRel(n.i_pack, 2e-3));
        CHECK_THAT(half.i_motor, WithinRel(n.i_motor, 2e-3));
        CHECK_THAT(half.omega, WithinRel(n.omega, 2e-3));
        CHECK(half.heat.winding > std::min(a.heat.winding, b.heat.winding) - 0.5);
    }
}

TEST_CASE("march: between its moments it is on a straight line, outside as at its ends (D)") {
    March m;
    for (const auto& [t, board] : {std::pair{0.0, 20.0}, {4.0, 30.0}, {4.0, 30.0}, {10.0, 24.0}}) {
        Moment now;
        now.t = t;
        now.heat.board = board;
        now.heat.junction = 2 * board;
        m.moments.push_back(now);
    }
    CHECK(heat_at(m, -1).board == 20);
    CHECK(heat_at(m, 0).board == 20);
    CHECK_THAT(heat_at(m, 1).board, WithinAbs(22.5, 1e-12));
    CHECK_THAT(heat_at(m, 1).junction, WithinAbs(45, 1e-12));
    CHECK(heat_at(m, 4).board == 30);
    CHECK_THAT(heat_at(m, 7).board, WithinAbs(27, 1e-12));
    CHECK(heat_at(m, 10).board == 24);
    CHECK(heat_at(m, 11).junction == 48);
}

TEST_CASE("march: means are those of its moments, the share drawn that of what was usable") {
    Setup s = six_cell_drive();
    s.pack.reserve_pct = 30;
    const Plant p = median_plant(s);
    const DemandMap map = map_demand(p, {.throttle = 0.8});
    for (const double most_s : {60.0, 200.0, 1e9}) {
        const March m = march(p, for_ever(map), {25, 1, 25}, most_s);
        double board = 0;
        double junction = 0;
        for (size_t i = 1; i < m.moments.size(); ++i) {
            const Moment& a = m.moments[i - 1];
            const Moment& b = m.moments[i];
            board += 0.5 * (b.t - a.t) * (a.heat.board + b.heat.board) / m.seconds;
            junction = std::max(junction, b.heat.junction);
        }
        CHECK_THAT(m.mean_board, WithinAbs(board, 0.25));
        CHECK_THAT(m.peak_junction, WithinAbs(junction, 0.2));
        CHECK_THAT(m.charge_share, WithinAbs((1 - m.moments.back().charge) / 0.7, 1e-9));
        CHECK(m.ended_by == (most_s < 1e6 ? EndedBy::time : EndedBy::reserve));
        if (most_s < 1e6) {
            CHECK_THAT(m.seconds, WithinRel(most_s, 1e-9));
        } else {
            CHECK_THAT(m.charge_share, WithinAbs(1, 1e-4));
        }
    }
}

TEST_CASE("march: the capacitors' heat goes with their resistance as the board warms") {
    // Two marches that differ in the board's start alone: the warmer one's capacitors lose less.
    Setup s = six_cell_drive();
    s.esc.capacitor_esr_mOhm = 60;
    const Plant p = median_plant(s);
    const DemandMap map = map_demand(p, {.throttle = 0.75});
    INFO(map.capacitor_power << " " << map.nodes[1].capacitor_W);
    CHECK(map.nodes[1].capacitor_W > 3);
    const Steady steady = settle(p, map, 22);
    const Node n = map.at(22, steady.heat.junction, steady.heat.winding);
    const double esr_now = capacitor_esr(0.06, p.u.capacitance, p.pwm, steady.heat.board);
    const double esr_map = capacitor_esr(0.06, p.u.capacitance, p.pwm, 50);
    const double W = n.junction_W * map.growth(steady.heat.junction)[0] + n.board_W +
                     n.capacitor_W * std::pow(esr_now / esr_map, map.capacitor_power);
    CHECK_THAT(p.heat.G_case * (steady.heat.board - steady.heat.body), WithinRel(W, 1e-6));
    // The exact point at that board temperature says the same.
    const double R = source_at(p, 0.47, 30, 0, 0).R_src;
    const auto exact = [&](double board_C) {
        return operate(p, {.throttle = 0.75}, {23, R, 60, board_C, 65}).losses.capacitor;
    };
    const double power = std::log(exact(90) / exact(50)) /
                         std::log(capacitor_esr(0.06, p.u.capacitance, p.pwm, 90) / esr_map);
    CHECK_THAT(map.capacitor_power, WithinAbs(power, 0.05));
}

TEST_CASE(
    "march: a settled bay gives off what ESC and sun bring, an open ESC in the sun likewise") {
    const Plant bay = median_plant(closed_bay());
    DemandMap map = map_demand(bay, {.throttle = 0.7, .speed_mps = 6});
    Steady steady = settle(bay, map, 21);
    REQUIRE_FALSE(steady.runaway);
    const auto off = [&](const Plant& p, double near_C, double air_speed) {
        return conductance_of_case(p, air_speed, steady.heat.body, near_C) *
               (steady.heat.body - near_C);
    };
    const double air_speed = map.at(21, map_junction_C, steady.heat.winding).air_speed;
    const double from_esc = off(bay, steady.heat.bay, air_speed);
    const double G_skin =
        surface_conductance(bay.heat.bay, {25, bay.air.pressure, 6}, steady.heat.bay);
    const double skin_C = steady.heat.bay - from_esc / bay.heat.G_film;
    CHECK_THAT(G_skin * (skin_C - 25), WithinRel(from_esc + bay.heat.sun_W, 1e-6));
    CHECK_THAT(bay.heat.G_case * (steady.heat.board - steady.heat.body), WithinRel(from_esc, 1e-6));
    Setup s = six_cell_drive();
    s.air.sun = true;
    const Plant open = median_plant(s);
    map = map_demand(open, {.throttle = 0.7});
    steady = settle(open, map, 21);
    const double speed = map.at(21, map_junction_C, steady.heat.winding).air_speed;
    CHECK_THAT(
        off(open, 25, speed),
        WithinRel(open.heat.G_case * (steady.heat.board - steady.heat.body) + open.heat.sun_W,
                  1e-6));
    // Nothing drawn: the sun alone, junction as board.
    map = map_demand(open, {.throttle = 0});
    steady = settle(open, map, 23);
    CHECK(steady.heat.body > 25);
}

TEST_CASE(
    "march: windings settle where they give off what they lose, at most where they are lost") {
    Plant p = usual();
    const DemandMap map = map_demand(p, {.throttle = 1});
    const Steady steady = settle(p, map, 21.5, 80);
    const Node n = map.at(21.5, 80, steady.heat.winding);
    CHECK_THAT(winding_conductance(p, n.omega) * (steady.heat.winding - 25),
               WithinRel(n.winding_W, 1e-5));
    CHECK_THAT(steady.heat.winding - 25, WithinAbs(75, 15));  // its prior at mid pack
    p.winding.conductance *= 0.1;
    CHECK(settle(p, map, 21.5).heat.winding == lost_winding_C);
    const March m = march(p, for_ever(map), {25, 1, 25});
    CHECK(m.peak_winding <= lost_winding_C);
}

TEST_CASE("march: the board's answer to a constant heat, at once, soon, and settled (D)") {
    constexpr double settled_s = 1e6;
    Setup s = six_cell_drive();
    s.air.sun = true;
    const Plant open = median_plant(s);
    const double G = conductance_of_case(open, 9, 48, 25);
    const Response end = board_response(open, 9, 0, 48, settled_s, 40);
    CHECK_THAT(end.rest_C, WithinAbs(25 + open.heat.sun_W / G, 1e-6));
    CHECK_THAT(end.per_junction_W, WithinRel(1 / G + 1 / open.heat.G_case, 1e-9));
    CHECK_THAT(end.per_board_W, WithinRel(1 / G + 1 / open.heat.G_case, 1e-9));
    const Plant bay = median_plant(closed_bay());
    const double G_body = conductance_of_case(bay, 0.5, 60, 25);
    const double G_skin = surface_conductance(bay.heat.bay, {25, bay.air.pressure, 12}, 25);
    const double R_bay = 1 / bay.heat.G_film + 1 / G_skin;
    const Response closed = board_response(bay, 0.5, 12, 60, settled_s, 40);
    CHECK_THAT(closed.rest_C, WithinAbs(25 + bay.heat.sun_W / G_skin, 1e-6));
    CHECK_THAT(closed.per_junction_W, WithinRel(1 / G_body + R_bay + 1 / bay.heat.G_case, 1e-9));
    // On the way there: plain small steps.
    for (const Plant& p : {open, bay}) {
        const Response r = board_response(p, 3, 5, 50, 40, 30);
        CHECK_THAT(r.rest_C, WithinAbs(board_by_euler(p, 3, 5, 50, 40, 30, 0, 0), 2e-3));
        CHECK_THAT(r.rest_C + 20 * r.per_junction_W,
                   WithinAbs(board_by_euler(p, 3, 5, 50, 40, 30, 20, 0), 2e-3));
        CHECK_THAT(r.rest_C + 20 * r.per_board_W,
                   WithinAbs(board_by_euler(p, 3, 5, 50, 40, 30, 0, 20), 2e-3));
    }
    CHECK_THAT(board_response(open, 9, 0, 48, 1e-9, 40).rest_C, WithinAbs(40, 1e-6));
}

TEST_CASE("march: cooling down in still air takes what small steps say, or more than it may") {
    for (const bool in_bay : {false, true}) {
        Setup s = closed_bay();
        s.air.sun = false;
        s.air.cooling = in_bay ? Cooling::closed : Cooling::open;
        const Plant p = median_plant(s);
        const HeatPlant& h = p.heat;
        HeatState T{82, 80, 76, 40, 25};
        const std::optional<double> told = cool_down_seconds(p, T, 5);
        REQUIRE(told);
        double t = 0;
        const double dt = 0.05;
        for (; T.board > 30; t += dt) {
            const double near = in_bay ? T.bay : 25;
            const double off = conductance_of_case(p, 0, T.body, near) * (T.body - near);
            const double to_board = h.G_junction * (T.junction - T.board);
            const double to_case = h.G_case * (T.board - T.body);
            T.junction -= dt / h.C_junction * to_board;
            T.board += dt / h.C_board * (to_board - to_case);
            T.body += dt / h.C_case * (to_case - off);
            if (in_bay) {
                const double skin = surface_conductance(h.bay, {25, p.air.pressure, 0}, T.bay);
                const double through = 1 / (1 / h.G_film + 1 / skin);
                T.bay += dt / h.C_bay * (off - through * (T.bay - 25));
            }
        }
        CHECK_THAT(*told, WithinAbs(t, 25));  // steps of ten seconds
    }
    // Six hours and no longer: a board as heavy as an anvil.
    Plant heavy = usual();
    CHECK(cool_down_seconds(heavy, {45, 45, 45, 25, 25}, 5));
    heavy.heat.C_board *= 100;
    heavy.heat.C_case *= 100;
    CHECK_FALSE(cool_down_seconds(heavy, {45, 45, 45, 25, 25}, 5));
    CHECK(*cool_down_seconds(usual(), {30.02, 30.02, 30.02, 25, 25}, 5) == 10);
}

TEST_CASE("march: a runaway ends where the junction is lost, within the step") {
    const Plant p = median_plant(overloaded_in_a_bay(40));
    const March m = hold(p, 0.85, 40);
    REQUIRE(m.ended_by == EndedBy::runaway);
    const Moment& before = m.moments[m.moments.size() - 2];
    CHECK(before.heat.junction < runaway_junction_C);
    CHECK(m.moments.back().heat.junction >= runaway_junction_C);
    CHECK(before.t < m.seconds);
    CHECK(m.seconds == m.moments.back().t);
    // By a straight line to where the first of the two is lost: at 250 deg C, not beyond.
    const HeatState& end = m.moments.back().heat;
    CHECK_THAT(std::max(end.junction, end.board), WithinAbs(250, 1e-9));
    // A march in legs of a hundredth of the time says the same.
    const DemandMap map = map_demand(p, {.throttle = 0.85});
    const March fine = march(p, {{&map, 0.01 * m.seconds, nullptr}}, {40, 1, 40});
    CHECK(fine.ended_by == EndedBy::runaway);
    CHECK_THAT(m.seconds, WithinRel(fine.seconds, 0.05));
}

TEST_CASE("march: longer steps end where the fine ones do, in two thirds and half of the moments") {
    constexpr double flown_K = 0.3;
    constexpr double ends_s = 1.5;
    // Of holds against steps of half a second; of longer ones most are shares of a whole pack.
    constexpr std::array<double, 3> held_K = {0.1, 0.2, 0.5};
    std::array<size_t, 3> moments = {};
    for (int owner = 1; owner <= 40; ++owner) {
        Chance chance(static_cast<std::uint64_t>(owner) * 1000003);
        Setup told = told_drive(chance);
        if (owner % 3 == 0) {
            told.flight.kind = FlightKind::shares;
            told.flight.parts = {share_of(100, 15), share_of(70, 35), share_of(45, 40),
                                 share_of(0, 10)};
        }
        const Plant p = draw_truth(told, chance).plant;
        const FlightPlan plan = plan_flight(p, told.flight);
        const March fine = fly(p, plan, Steps::fine);
        moments[0] += fine.moments.size();
        INFO("owner " << owner);
        for (const Steps steps : {Steps::drawn, Steps::trial}) {
            const March m = fly(p, plan, steps);
            CHECK_THAT(m.peak_board, WithinAbs(fine.peak_board, flown_K));
            CHECK_THAT(m.seconds, WithinAbs(fine.seconds, ends_s));
            CHECK(m.ended_by == fine.ended_by);
            moments[static_cast<size_t>(steps)] += m.moments.size();
        }
        for (const double throttle : {0.3, 0.6, 0.85, 1.0}) {
            const HoldAsk ask{{.throttle = throttle}, {}, p.esc_start_C};
            const DemandMap map = map_demand(p, ask.demand);
            const March exact =
                march(p, {{&map, 0.5, nullptr}}, {p.esc_start_C, p.pack.start, p.pack.start_C});
            for (const Steps steps : {Steps::fine, Steps::drawn, Steps::trial}) {
                CHECK_THAT(fly_hold(p, ask, map, steps).peak_board,
                           WithinAbs(exact.peak_board, held_K[static_cast<size_t>(steps)]));
            }
        }
    }
    CHECK(5 * moments[1] < 3 * moments[0]);
    CHECK(9 * moments[2] < 4 * moments[0]);
    CHECK(10 * moments[1] > 4 * moments[0]);
}

TEST_CASE("march: a bay in the sun that nothing else heats comes to the sol-air temperature (M)") {
    // Air plus absorbed sun over the outer surface's conductance (AMS Glossary of Meteorology, from
    // Landsberg 1954), with ISO 6946's 0.04 m2 K/W for a surface out of doors in wind of 4 m/s; a
    // fuselage has a fifth less, as in the test of its skin. Two thirds of a clear sky's 800 W/m2
    // are absorbed at most, over its shadow, a quarter of its surface.
    Setup s = six_cell_drive();
    s.air.cooling = Cooling::closed;
    s.air.sun = true;
    s.air.flight_speed_mps = 4;
    Plant p = median_plant(s);
    p.u.idle_power = p.u.output_charge = p.u.gate_charge = 0;
    const DemandMap map = map_demand(p, {.throttle = 0});
    const March m = march(p, for_ever(map), {p.air.celsius, 1, 25}, 8 * 3600);
    REQUIRE(m.ended_by == EndedBy::time);
    const HeatState& end = m.moments.back().heat;
    CHECK_THAT(end.bay - p.air.celsius, WithinRel(0.6 * 800.0 / 4 * 0.04, 0.2));
    CHECK_THAT(end.board, WithinAbs(end.bay, 0.1));
}
