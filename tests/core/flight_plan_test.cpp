// Flights of many parts: which throttles are solved, which turns flown, and what lies between.
#include "flight/flight_plan.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "drives.hpp"
#include "near.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

// All turns, one after the other.
March all_turns(const Plant& p, const FlightPlan& plan, Steps steps) {
    std::vector<Leg> legs;
    for (size_t i = 0; i < plan.maps.size(); ++i) {
        legs.push_back({&plan.maps[i], plan.seconds[i], nullptr});
    }
    constexpr size_t most_moments = 400000;
    return march(p, legs, {p.esc_start_C, p.pack.start, p.pack.start_C, steps, most_moments});
}

// A pack of a hundred times the charge, so that its flights take hundreds of turns.
Plant outlasting(Setup s) {
    Plant p = median_plant(s);
    p.pack.charge *= 100;
    p.pack.heat_capacity *= 100;
    return p;
}

bool has_mixture(const March& m, double throttle) {
    return std::any_of(m.moments.begin(), m.moments.end(),
                       [&](const Moment& now) { return std::abs(now.throttle - throttle) < 1e-9; });
}

}  // namespace

TEST_CASE("flight plan: a plan has a map for each part, a throttle that comes again the same one") {
    const Plant p = median_plant(six_cell_drive());
    FlightSetup flight;
    flight.parts = {part_of(60, 40), part_of(100, 5), part_of(60, 20)};
    flight.parts.push_back(part_of(60, 10));
    flight.parts.back().flight_speed_mps = 9;
    const FlightPlan plan = plan_flight(p, flight);
    REQUIRE(plan.maps.size() == 4);
    CHECK(plan.seconds == std::vector<double>{40, 5, 20, 10});
    CHECK(plan.demands[0].throttle == 0.6);
    CHECK(plan.demands[1].throttle == 1);
    CHECK(*plan.demands[3].speed_mps == 9);
    const auto watts = [&](size_t i) { return plan.maps[i].at(22).junction_W; };
    CHECK(watts(0) == watts(2));
    CHECK(watts(0) != watts(1));
    CHECK(plan.maps[2].throttle == 0.6);
    CHECK(plan.solved == plan.maps.size() - 1);
    CHECK(plan.maps[0].flight_speed == 0);
    CHECK(plan.maps[3].flight_speed == 9);
    // Shares are of a minute, flown again and again.
    flight.kind = FlightKind::shares;
    flight.parts = {share_of(60, 75), share_of(100, 25)};
    CHECK(plan_flight(p, flight).seconds == std::vector<double>{45, 15});
}

TEST_CASE(
    "flight plan: a flight of few legs is flown turn after turn, of more some turns at a time") {
    const auto flown = [](const std::vector<Stretch>& stretches) {
        std::vector<std::pair<int, double>> out;
        for (const Stretch& s : stretches) {
            out.emplace_back(s.turns, s.mixed);
        }
        return out;
    };
    using Expected = std::vector<std::pair<int, double>>;
    CHECK(flown(stretches_of(2, 30, 60)) == Expected{{1, 0}});
    CHECK(flown(stretches_of(120, 30, 1)) == Expected{{1, 0}});
    // Eight, and then two at a time: apart by no more than a sixth of the flight and seven tenths
    // of what is left of it, in powers of two (D).
    CHECK(flown(stretches_of(2, 30, 61)) == Expected{{8, 8},
                                                     {2, 8},
                                                     {2, 8},
                                                     {2, 8},
                                                     {2, 8},
                                                     {2, 2},
                                                     {2, 0},
                                                     {2, 2},
                                                     {2, 4},
                                                     {2, 8},
                                                     {2, 8},
                                                     {2, 0}});
    // Turns of very many parts are flown one at a time and further apart.
    CHECK(
        flown(stretches_of(200, 400, 30)) ==
        Expected{{1, 16}, {1, 8}, {1, 2}, {1, 0}, {1, 0}, {1, 1}, {1, 2}, {1, 4}, {1, 8}, {1, 0}});
    CHECK(flown(stretches_of(200, 400, 20)) ==
          Expected{{1, 16}, {1, 1}, {1, 0}, {1, 0}, {1, 1}, {1, 2}, {1, 4}, {1, 0}});
    // Of turns shorter than a second only the mean is felt.
    CHECK(flown(stretches_of(2, 1, 61)).front() == std::pair{8, 8.0});
    CHECK(flown(stretches_of(2, 0.99, 61)) ==
          Expected{{0, std::numeric_limits<double>::infinity()}});
    CHECK(flown(stretches_of(2, 0.99, 60)) == Expected{{1, 0}});

    CHECK(legs_flown(2, 30, 60) == 120);
    CHECK(legs_flown(2, 30, 61) == 2 * 18 + 5 * 4 + 8);  // of 122
    CHECK(legs_flown(2, 0.5, 1000) == 4);
    CHECK(legs_flown(200, 400, 30) == 4 * 200 + 3 * 4);
}

TEST_CASE("flight plan: a long flight of which some turns are flown is the one of which all are") {
    constexpr double near_K = 0.5;  // what the steps of draws may leave
    struct Case {
        Setup setup;
        std::vector<FlightPart> parts;
    };
    Setup weak = six_cell_drive();
    weak.load.full_throttle_A = 60;
    Setup closed = weak;
    closed.air.cooling = Cooling::closed;
    const std::vector<Case> cases = {
        {six_cell_drive(), {part_of(50, 45), part_of(80, 15)}},
        {six_cell_drive(), {part_of(80, 15), part_of(50, 45)}},
        {small_drive(), {part_of(40, 12), part_of(100, 8), part_of(60, 30)}},
        {weak, {part_of(30, 100), part_of(100, 20)}},
        {small_drive(), {part_of(30, 3), part_of(90, 1)}},
        {closed, {part_of(50, 45), part_of(80, 15)}},
    };
    for (const Case& c : cases) {
        const Plant p = outlasting(c.setup);
        FlightSetup flight;
        flight.parts = c.parts;
        const FlightPlan plan = plan_flight(p, flight);
        for (const Steps steps : {Steps::fine, Steps::drawn, Steps::trial}) {
            const March whole = all_turns(p, plan, steps);
            const March some = fly(p, plan, steps);
            CHECK(whole.moments.size() > 3 * some.moments.size());
            CHECK(some.ended_by == whole.ended_by);
            CHECK_THAT(some.peak_board, WithinAbs(whole.peak_board, near_K));
            CHECK_THAT(some.peak_junction, WithinAbs(whole.peak_junction, near_K));
            CHECK_THAT(some.mean_board, WithinAbs(whole.mean_board, near_K));
            CHECK_THAT(some.moments.back().pack_C, WithinAbs(whole.moments.back().pack_C, near_K));
            CHECK_THAT(some.seconds, WithinRel(whole.seconds, 1e-2));
        }
    }
}

TEST_CASE("flight plan: a mixture begins half way through a part, the turns after it as well") {
    const Plant p = outlasting(six_cell_drive());
    FlightSetup flight;
    flight.parts = {part_of(50, 40), part_of(80, 20)};
    const March m = fly(p, plan_flight(p, flight), Steps::drawn);
    const auto first = [&](double from_s, double throttle) {
        return std::find_if(m.moments.begin(), m.moments.end(),
                            [&](const Moment& now) {
                                return now.t >= from_s && std::abs(now.throttle - throttle) < 1e-9;
                            })
            ->t;
    };
    const double mixture_s = first(0, 0.6);
    CHECK_THAT(mixture_s, WithinAbs(8 * 60 + 20, 1e-6));
    const double turns_s = first(mixture_s + 1, 0.5);
    CHECK_THAT(std::fmod(turns_s - mixture_s, 60), WithinAbs(0, 1e-6));
    // The other half of it, then the next part.
    CHECK_THAT(first(turns_s, 0.8) - turns_s, WithinAbs(20, 1e-6));
    CHECK_THAT(first(turns_s + 1, 0.6) - turns_s, WithinAbs(2 * 60, 1e-6));
}

TEST_CASE("flight plan: of many throttles sixteen are solved, and the others lie among them") {
    const Plant p = median_plant(six_cell_drive());
    FlightSetup flight;
    const auto heat_of_first = [&](size_t parts) {
        flight.parts.clear();
        for (size_t i = 0; i < parts; ++i) {
            flight.parts.push_back(part_of(41.3 + 2 * static_cast<double>(i), 5));
        }
        flight.parts[0].throttle_pct = 42.3;
        flight.parts[1].throttle_pct = 41.3;
        const FlightPlan plan = plan_flight(p, flight);
        CHECK(plan.solved == 16);
        return plan.maps[0].at(22).junction_W;
    };
    const double exact = map_demand(p, {.throttle = 0.423}).at(22).junction_W;
    CHECK(heat_of_first(16) == exact);
    CHECK(heat_of_first(17) != exact);
    CHECK_THAT(heat_of_first(17), WithinRel(exact, 1e-3));

    constexpr double near_K = 0.2;
    Setup rotor = six_cell_drive();
    rotor.load.kind = LoadKind::governed;
    rotor.load.full_throttle_A.reset();
    rotor.load.hover_A = 22;
    rotor.load.rotor_rpm = 2100;
    rotor.load.gear_ratio = 8.5;
    Setup kinked = small_drive();  // whose current stops in between, at the lower throttles
    kinked.motor.inductance_uH = 3;
    Setup closed = six_cell_drive();
    closed.air.cooling = Cooling::closed;
    struct Case {
        Setup setup;
        double from_pct, to_pct;
    };
    for (const Case& c : {Case{six_cell_drive(), 20, 100}, Case{small_drive(), 5, 60},
                          Case{kinked, 5, 80}, Case{rotor, 40, 160}, Case{closed, 30, 80}}) {
        const Plant q = median_plant(c.setup);
        flight.parts.clear();
        for (int i = 0; i < 60; ++i) {
            const double share = (i * 37 % 60) / 59.0;
            flight.parts.push_back(part_of(c.from_pct + share * (c.to_pct - c.from_pct), 4));
            if (i % 5 == 0) {
                flight.parts.back().flight_speed_mps = 3.0 + i % 7;
            }
        }
        const FlightPlan plan = plan_flight(q, flight);
        FlightPlan solved = plan;
        for (size_t i = 0; i < plan.maps.size(); ++i) {
            solved.maps[i] = map_demand(q, plan.demands[i]);
            CHECK(plan.maps[i].ok);
            CHECK_THAT(plan.maps[i].throttle, WithinAbs(solved.maps[i].throttle, 1e-12));
            CHECK(plan.maps[i].flight_speed == solved.maps[i].flight_speed);
        }
        const March among = fly(q, plan);
        const March each = fly(q, solved);
        CHECK(among.ended_by == each.ended_by);
        CHECK_THAT(among.peak_board, WithinAbs(each.peak_board, near_K));
        CHECK_THAT(among.peak_winding, WithinAbs(each.peak_winding, 1));
        CHECK_THAT(among.seconds, WithinRel(each.seconds, 3e-3));
    }
}

TEST_CASE(
    "flight plan: turns of less than a second are flown as their mixture, where they are many") {
    const Plant p = median_plant(six_cell_drive());
    FlightSetup flight;
    flight.parts = {part_of(50, 0.49), part_of(80, 0.49)};
    const March mixed = fly(p, plan_flight(p, flight), Steps::drawn);
    CHECK(has_mixture(mixed, 0.65));
    CHECK_FALSE(has_mixture(mixed, 0.5));
    CHECK_FALSE(has_mixture(mixed, 0.8));
    flight.parts = {part_of(50, 0.51), part_of(80, 0.51)};
    const FlightPlan plan = plan_flight(p, flight);
    const March some = fly(p, plan, Steps::drawn);
    CHECK(has_mixture(some, 0.65));
    CHECK(has_mixture(some, 0.5));
    const March all = all_turns(p, plan, Steps::drawn);
    for (const March& m : {mixed, some}) {
        CHECK_THAT(m.peak_board, WithinAbs(all.peak_board, 0.25));
        CHECK_THAT(m.seconds, WithinRel(all.seconds, 5e-3));
    }
}

TEST_CASE("flight plan: bursts short of a sag's dip do not end a long flight, longer ones do") {
    Setup s = six_cell_drive();
    s.pack.cell_resistance_mOhm = 4;
    s.pack.sag_floor_V = 3.5;
    const Plant p = outlasting(s);
    const auto flown = [&](double burst_s) {
        FlightSetup flight;
        flight.parts = {part_of(30, 30), part_of(95, burst_s)};
        const FlightPlan plan = plan_flight(p, flight);
        const March some = fly(p, plan, Steps::drawn);
        const March all = all_turns(p, plan, Steps::drawn);
        CHECK(some.ended_by == all.ended_by);
        CHECK(some.dips == all.dips);
        CHECK_THAT(some.seconds, WithinRel(all.seconds, 2e-2));
        return some.ended_by;
    };
    CHECK(flown(2.9) == EndedBy::reserve);
    CHECK(flown(3.1) == EndedBy::sag);
}

TEST_CASE("flight plan: leads that let little through make a long flight, and that a mixture") {
    Setup s = six_cell_drive();
    s.pack.sag_floor_V = 0;
    s.pack.lead_length_cm = 500;
    s.pack.lead_area_mm2 = 0.1;
    const Plant p = median_plant(s);
    FlightSetup flight;
    flight.parts = {part_of(50, 8), part_of(80, 8)};
    const FlightPlan plan = plan_flight(p, flight);
    const March m = fly(p, plan, Steps::drawn);
    // At rest the pack's voltage would draw so much that it lasts for fewer legs.
    const double at_rest_A = 0.5 * (plan.maps[0].pack_current(p.pack.nominal_V) +
                                    plan.maps[1].pack_current(p.pack.nominal_V));
    CHECK(0.8 * 18000 / at_rest_A / 8 < 120);
    CHECK(m.seconds / 8 > 120);
    CHECK(has_mixture(m, 0.65));
}

TEST_CASE("flight plan: a flight of one throttle, however often it comes, is that throttle held") {
    const Plant p = median_plant(six_cell_drive());
    FlightSetup flight;
    for (const std::vector<FlightPart>& parts :
         {std::vector{part_of(60, 3)}, std::vector{part_of(60, 2), part_of(60, 40)}}) {
        flight.parts = parts;
        const March flown = fly(p, plan_flight(p, flight));
        const March held = fly_hold(p, {{.throttle = 0.6}, {}, p.esc_start_C});
        CHECK(flown.moments.size() == held.moments.size());
        CHECK(flown.peak_board == held.peak_board);
        CHECK(flown.seconds == held.seconds);
    }
    flight.parts = {part_of(60, 40), part_of(60, 40)};
    flight.parts[1].flight_speed_mps = 9;
    CHECK(plan_flight(p, flight).solved == 2);
}

TEST_CASE(
    "flight plan: a pack that outlasts what it seemed to is flown to its end, in few steps (D)") {
    const Plant p = median_plant(six_cell_drive());
    FlightSetup flight;
    flight.parts = {part_of(60, 5), part_of(70, 5)};
    FlightPlan plan = plan_flight(p, flight);
    for (DemandMap& map : plan.maps) {
        map.winding_C = p.air.celsius;
        for (DemandMap::Node& warming : map.warming) {
            warming.i_pack = -1 / 15.0;  // as if windings let nothing through 15 K warmer
        }
    }
    const March m = fly(p, plan, Steps::drawn);
    CHECK(m.ended_by == EndedBy::reserve);
    CHECK_THAT(m.moments.back().charge, WithinAbs(p.pack.reserve, 1e-5));
    INFO(m.seconds << " s in " << m.moments.size() << " moments");
    // What is left then discharges itself, 3 % a month (common practice, no source), and little
    // more.
    const double by_itself_s = 0.8 / 0.03 * 30 * 86400;
    CHECK(between(0.4 * by_itself_s, m.seconds, by_itself_s));
    CHECK(m.moments.size() < 10000);
}

TEST_CASE("flight plan: a mixture weighs its parts by their time") {
    const Plant p = median_plant(six_cell_drive());
    FlightSetup flight;
    flight.parts = {part_of(40, 0.03), part_of(90, 0.01)};
    const March m = fly(p, plan_flight(p, flight));
    CHECK_THAT(m.moments.front().throttle, WithinAbs(0.525, 1e-9));
    const DemandMap low = map_demand(p, {.throttle = 0.4});
    const DemandMap high = map_demand(p, {.throttle = 0.9});
    const auto drawn = [&](const DemandMap& map) {
        return map.at(link_voltage(p, map, 1, p.pack.start_C, 25, 25), 25, 25).i_motor;
    };
    CHECK_THAT(m.moments.front().i_motor, WithinRel(0.75 * drawn(low) + 0.25 * drawn(high), 0.01));
    // Its sag is that of the hardest part, wherever that stands in the turn.
    Setup weak = six_cell_drive();
    weak.pack.cell_resistance_mOhm = 4;
    weak.pack.sag_floor_V = 3.55;
    const Plant q = median_plant(weak);
    const DemandMap hard = map_demand(q, {.throttle = 0.9});
    for (const bool first : {true, false}) {
        flight.parts = first ? std::vector<FlightPart>{part_of(90, 0.01), part_of(40, 0.03)}
                             : std::vector<FlightPart>{part_of(40, 0.03), part_of(90, 0.01)};
        const March sagging = fly(q, plan_flight(q, flight));
        CHECK(sagging.ended_by == EndedBy::sag);
        const Moment& end = sagging.moments.back();
        const double pulled = hard.pack_current(
            link_voltage(q, hard, end.charge, end.pack_C, end.heat.junction, end.heat.winding),
            end.heat.junction, end.heat.winding);
        const double cell = 4e-3 * cell_resistance_factor(end.pack_C, end.charge);
        CHECK_THAT(q.pack.cells->open_circuit_V.at(end.charge) - cell * pulled,
                   WithinAbs(3.55, 5e-3));
        CHECK(pulled > 1.5 * end.i_pack);
    }
}
