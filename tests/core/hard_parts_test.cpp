// Does the hardest part of a flight decide: on a rotor's speed, the go-around, the link's ripple
// and peak, dips of the pack that follow each other, a share flown in one go?
#include <algorithm>

#include "advice.hpp"
#include "advise/advise.hpp"
#include "advise/rooms.hpp"
#include "drives.hpp"
#include "flown.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

// A rotor that hovers at 20 A, a minute of it and five seconds of twice its power.
Setup pulled_rotor(double rotor_rpm) {
    Setup s = six_cell_rotor(rotor_rpm);
    s.motor.resistance_mOhm = 36;
    s.motor.poles = 14;
    s.esc.rating_A = 100;
    s.esc.pwm_Hz = 16000;
    s.load.hover_A = 20;
    s.load.gear_ratio = 9;
    s.flight.parts = {part_of(100, 60), part_of(200, 5)};
    return s;
}

// What the flight says of a rotor's speed, and the verdict makes of it.
void check_rotor(double rotor_rpm, bool reached, bool kept) {
    INFO(rotor_rpm << " rpm");
    const Flown d(pulled_rotor(rotor_rpm));
    CHECK(rotor_speed(d.plant, d.flight).reached == reached);
    CHECK(rotor_speed(d.plant, d.flight).kept == kept);
    const Verdict v = advise(d.setup, {.samples = 0}).verdict;
    const auto headroom = std::find_if(v.reasons.begin(), v.reasons.end(),
                                       [](const Reason& r) { return r.key == "headroom"; });
    REQUIRE((headroom != v.reasons.end()) == !(reached && kept));
    if (headroom != v.reasons.end()) {
        CHECK(headroom->level == (reached ? Level::watch : Level::stop));
        CHECK(has(headroom->text, reached ? "cannot keep its speed" : "never reaches its speed"));
    }
}

}  // namespace

TEST_CASE("hard parts: a rotor keeps its speed where it does so in each part on the spent pack") {
    const auto held = [](double rotor_rpm, double throttle, bool on_spent) {
        const Flown d(pulled_rotor(rotor_rpm));
        return !operate(d.plant, {.throttle = throttle}, on_spent ? d.spent() : d.fresh())
                    .saturated;
    };
    // 1900 rpm in both parts, 2150 in hover alone as it lands, 2420 in hover as it starts.
    CHECK(held(1900, 2, true));
    check_rotor(1900, true, true);
    CHECK(held(2150, 1, true));
    CHECK_FALSE(held(2150, 2, true));
    check_rotor(2150, true, false);
}

TEST_CASE("hard parts: a rotor reaches its speed where it does so in any part on the fresh pack") {
    const Flown d(pulled_rotor(2420));
    CHECK_FALSE(operate(d.plant, {.throttle = 1}, d.fresh()).saturated);
    CHECK(operate(d.plant, {.throttle = 2}, d.fresh()).saturated);
    check_rotor(2420, true, false);
    CHECK(advise(d.setup, {.samples = 0}).verdict.level == Level::watch);
    check_rotor(3000, false, false);
}

TEST_CASE("hard parts: a rotor goes around with its hardest part, never with less than hover (D)") {
    const auto go_around = [](double hardest_pct, double throttle) {
        Setup s = pulled_rotor(1900);
        s.flight.parts = {part_of(90, 60), part_of(hardest_pct, 5)};
        const Flown d(s);
        const Source spent = d.spent();
        const Operating o = operate(d.plant, {.throttle = throttle}, spent, true);
        // the loaded volts of the whole pack, without its leads
        CHECK_THAT(
            d.item(&Checks::pack, "go_around_V").value,
            WithinAbs((spent.Voc - o.i_pack * (spent.R_src - d.plant.pack.lead_resistance)) / 6,
                      1e-9));
    };
    go_around(150, 1.5);
    go_around(120, 1.2);
    go_around(80, 1);
}

TEST_CASE("hard parts: a link's peak of two fifths over the fullest pack forbids the flight (P)") {
    Flown d(plain_drive());
    d.setup.esc.cells_max = 6;
    const double peak_V = d.item(&Checks::capacitor, "link_peak_V").value;
    const auto serious_at = [&](double times) {
        d.setup.esc.cells_max = peak_V / (times * 4.2);
        const CheckItem i = d.item(&Checks::capacitor, "link_peak_V");
        CHECK_FALSE(i.ok);
        return i.serious;
    };
    CHECK_FALSE(serious_at(1.2));
    CHECK_FALSE(serious_at(1.39));
    CHECK_FALSE(serious_at(1.4 * 1.0049));  // by more than no meter reads
    CHECK(serious_at(1.4 * 1.0051));
    CHECK(serious_at(1.42));
}

TEST_CASE("hard parts: a sinusoidal drive ripples most at full throttle, flown or not") {
    Setup s = plain_drive();
    s.esc.drive = Drive::sinusoidal;
    s.flight.parts = {part_of(50, 60)};
    const Flown d(s);
    const double part_A = operate(d.plant, {.throttle = 0.5}, d.fresh(), true).cycle.i_c_rms;
    const double full_A = operate(d.plant, {.throttle = 1}, d.fresh(), true).cycle.i_c_rms;
    REQUIRE(full_A > 1.2 * part_A);
    CHECK(d.item(&Checks::capacitor, "ripple_A").value == full_A);
    // A six-step bridge that is full on has none: its part does.
    s.esc.drive = Drive::six_step;
    const Flown six(s);
    CHECK(six.item(&Checks::capacitor, "ripple_A").value ==
          operate(six.plant, {.throttle = 0.5}, six.fresh(), true).cycle.i_c_rms);
}

TEST_CASE("hard parts: dips of legs that follow each other are one dip") {
    Setup s = plain_drive();
    s.pack.capacity_mAh = 3000;
    s.pack.cell_resistance_mOhm = 16;
    s.pack.reserve_pct = 5;
    const Plant p = median_plant(s);
    const DemandMap full = map_demand(p, {.throttle = 1});
    const DemandMap nearly = map_demand(p, {.throttle = 0.9});
    const DemandMap cruise = map_demand(p, {.throttle = 0.3});
    const auto flown = [&](std::vector<Leg> legs) {
        legs.push_back({&cruise, 10});
        double turn_s = 0;
        for (const Leg& leg : legs) {
            turn_s += leg.seconds;
        }
        return march(p, legs, {25, 1, 25}, turn_s);
    };
    // Two of them, 2.8 and 3.2 s together, around the longest dip of 3 s (P).
    const March two = flown({{&full, 1.4}, {&nearly, 1.4}});
    CHECK(two.ended_by == EndedBy::time);
    CHECK(two.dips);
    CHECK(std::all_of(two.moments.begin(), two.moments.end(), [&](const Moment& m) {
        return (m.cell_V < p.pack.sag_floor_V) == (m.throttle > 0.8);
    }));
    const March longer = flown({{&full, 1.6}, {&nearly, 1.6}});
    CHECK(longer.ended_by == EndedBy::sag);
    CHECK_THAT(longer.seconds, WithinAbs(1.6, 1e-9));
    // Three, 2.7 and 3.3 s together.
    CHECK(flown({{&full, 0.9}, {&nearly, 0.9}, {&full, 0.9}}).ended_by == EndedBy::time);
    const March three = flown({{&full, 1.1}, {&nearly, 1.1}, {&full, 1.1}});
    CHECK(three.ended_by == EndedBy::sag);
    CHECK_THAT(three.seconds, WithinAbs(2.2, 1e-9));
    // A second above the floor between two makes them two.
    CHECK(flown({{&full, 1.6}, {&cruise, 1}, {&nearly, 1.6}}).ended_by == EndedBy::time);
}

TEST_CASE("hard parts: a share flown in one go begins as warm as the ESC does") {
    Setup s = plain_drive();
    s.flight.kind = FlightKind::shares;
    s.flight.parts = {share_of(30, 80), share_of(100, 20)};
    for (const double start_C : {25.0, 60.0}) {
        INFO(start_C);
        s.flight.start_C = start_C;
        const FlightReport f = advise(s, {.samples = 0}).flight;
        const Plant p = median_plant(s);
        REQUIRE(f.longest_holds.size() == 2);
        const auto in_one_go = [&](size_t i, double throttle, double share) {
            const LongestHold& hold = f.longest_holds[i];
            CHECK(hold.throttle_pct == 100 * throttle);
            CHECK_THAT(hold.seconds, WithinRel(share * f.seconds, 1e-12));
            CHECK(hold.peak_C >= start_C);
            const March m = fly_hold(p, {{.throttle = throttle}, share * f.seconds, start_C});
            CHECK_THAT(hold.peak_C, WithinAbs(m.peak_board, 1e-6));
        };
        in_one_go(0, 0.3, 0.8);
        in_one_go(1, 1, 0.2);
    }
    // not told: as warm as the air
    s.flight.start_C.reset();
    s.air.temperature_C = 35;
    CHECK(advise(s, {.samples = 0}).flight.longest_holds[0].peak_C >= 35);
}
