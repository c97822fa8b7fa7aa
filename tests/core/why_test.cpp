// Do the parts of `why` add up, in no order, each the cause it says it is? Against the plant with
// that cause taken away, and against the step taken backwards.
#include <cmath>
#include <limits>

#include "advice.hpp"
#include "advise/advise.hpp"
#include "drives.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr Scale in = Scale::celsius;
constexpr double adds_up_K = 1e-9;

struct Flown {
    Plant plant;
    HoldRun run;
    ToldHold told() const { return {&run, run.march.peak_board}; }
};

Flown flown(const Plant& p, double throttle, std::optional<double> seconds = {}) {
    return {p, run_hold(p, {{.throttle = throttle}, seconds, p.esc_start_C})};
}

double sum(const WhyParts& w) {
    return w.conduction + w.freewheel + w.switching + w.commutation + w.capacitor + w.supply +
           w.air + w.run_time + w.other;
}

Plant usual() {
    Setup s = six_cell_drive();
    s.esc.freewheel = Freewheel::diode;
    s.air.cooling = Cooling::vented;
    return median_plant(s);
}

}  // namespace

TEST_CASE("why: every loss of the ESC is in one cause, once") {
    Losses l;
    double watts = 1;
    for (const LossTerm& term : loss_terms) {
        l.*term.watts = watts;
        watts *= 2;
    }
    REQUIRE(l.conduction == 1);
    REQUIRE(l.supply == 256);
    const CauseHeat heat = heat_by_cause(l);
    double junction = 0;
    double board = 0;
    for (const HeatInput& w : heat) {
        junction += w.junction;
        board += w.board;
    }
    CHECK(junction == l.at_junction());
    CHECK(board == l.at_board());
    CHECK(heat[0].junction == 1);
    CHECK(heat[0].board == 128);
    CHECK(heat[1].junction == 2);
    CHECK(heat[2].junction == 28);
    CHECK(heat[3].junction == 32);
    CHECK(heat[4].board == 64);
    CHECK(heat[5].board == 256);
}

TEST_CASE("why: the parts add up to the rise, over full throttle and over the air") {
    const Plant p = usual();
    const Flown full = flown(p, 1);
    for (const double throttle : {0.1, 0.4, 0.8, 0.95}) {
        const Flown hold = flown(p, throttle);
        const Why why = explain(p, hold.told(), full.told(), in);
        CHECK_THAT(why.rise_over_full_K,
                   WithinAbs(hold.run.march.peak_board - full.run.march.peak_board, adds_up_K));
        CHECK_THAT(sum(why.parts), WithinAbs(why.rise_over_full_K, adds_up_K));
        CHECK(std::abs(why.parts.other) < 1);
        const WhyOverAir air = explain_over_air(p, hold.told(), in);
        CHECK_THAT(air.rise_K, WithinAbs(hold.run.march.peak_board - p.air.celsius, adds_up_K));
        CHECK_THAT(sum(air.parts), WithinAbs(air.rise_K, adds_up_K));
        CHECK(std::abs(air.parts.other) < 1);
    }
}

TEST_CASE("why: taken backwards every part changes its sign, so no order is preferred") {
    constexpr double same_K = 1e-9;
    const Plant p = usual();
    const Flown a = flown(p, 0.6, 200);
    const Flown b = flown(p, 1);
    const WhyParts there = explain(p, a.told(), b.told(), in).parts;
    const WhyParts back = explain(p, b.told(), a.told(), in).parts;
    for (double WhyParts::*part :
         {&WhyParts::conduction, &WhyParts::freewheel, &WhyParts::switching, &WhyParts::commutation,
          &WhyParts::capacitor, &WhyParts::supply, &WhyParts::air, &WhyParts::run_time,
          &WhyParts::other}) {
        CHECK_THAT(there.*part, WithinAbs(-(back.*part), same_K));
    }
    CHECK(std::abs(there.run_time) > 0.5);
    CHECK(std::abs(there.conduction) > 0.5);
}

TEST_CASE("why: each cause over the air is what the peak falls by without it") {
    // Without a cause the ESC is cooler and its other losses a little smaller: up to a fifth more
    // falls than the cause's own part, and currents move a little with it.
    constexpr double feedback = 0.25;
    constexpr double unmoved_K = 0.35;
    const Plant p = usual();
    const Flown hold = flown(p, 0.8);
    const WhyParts parts = explain_over_air(p, hold.told(), in).parts;
    const auto fall = [&](auto&& take_away) {
        Plant without = p;
        take_away(without);
        return hold.run.march.peak_board - flown(without, 0.8).run.march.peak_board;
    };
    struct Cause {
        const char* name;
        double part, fall;
    };
    const std::vector<Cause> causes = {
        {"freewheel and commutation", parts.freewheel + parts.commutation,
         fall([](Plant& q) { q.diode_threshold = q.diode_slope = 0; })},
        {"switching", parts.switching, fall([](Plant& q) {
             q.u.transition = q.u.output_charge = q.u.recovery_charge = q.u.gate_charge = 0;
         })},
        {"capacitor", parts.capacitor,
         fall([](Plant& q) { q.u.capacitor_esr *= 0.5; }) + 0.5 * parts.capacitor},
        {"supply", parts.supply, fall([](Plant& q) { q.u.idle_power = 0; })},
        {"conduction", 0.1 * parts.conduction, fall([](Plant& q) {
             q.u.switch_resistance *= 0.9;
             q.u.board_resistance *= 0.9;
         })}};
    for (const Cause& c : causes) {
        INFO(c.name << ": " << c.part << " K, falls by " << c.fall);
        CHECK(c.part > 0);
        CHECK(c.fall > c.part * (1 - feedback) - unmoved_K);
        CHECK(c.fall < c.part * (1 + feedback) + unmoved_K);
    }
}

TEST_CASE("why: commutation over the air goes with its own loss, and stands alone") {
    constexpr double by_heat = 0.1;  // a warmer ESC's air takes a little more away
    const Plant p = usual();
    Plant fast = p;
    fast.poles = 2 * p.poles;
    const Flown hold = flown(p, 1);
    const Flown twice = flown(fast, 1);
    const WhyParts one = explain_over_air(p, hold.told(), in).parts;
    const WhyParts two = explain_over_air(fast, twice.told(), in).parts;
    const double losses = twice.run.middle.losses.commutation / hold.run.middle.losses.commutation;
    CHECK(losses > 1.3);
    CHECK_THAT(two.commutation / one.commutation, WithinRel(losses, by_heat));
    CHECK(one.freewheel == 0);  // full throttle does not chop
}

TEST_CASE("why: air and run time are what the same losses make of them") {
    const Plant p = usual();
    const Flown full = flown(p, 1);
    // The same throttle for a third of the time: nothing but the run time differs.
    const Flown shorter = flown(p, 1, full.run.march.seconds / 3);
    const Why why = explain(p, full.told(), shorter.told(), in);
    CHECK(why.parts.run_time > 0.8 * why.rise_over_full_K);
    CHECK(std::abs(why.parts.air) < 0.1 * why.rise_over_full_K);
    // The same throttle in other air: nothing but the air.
    const Flown calm = flown(in_air_of(p, 2), 1);
    const Flown windy = flown(in_air_of(p, 15), 1);
    const Why air = explain(p, calm.told(), windy.told(), in);
    CHECK(air.rise_over_full_K > 5);
    CHECK(air.parts.air > 0.8 * air.rise_over_full_K);
    CHECK(std::abs(air.parts.run_time) < 0.1 * air.rise_over_full_K);
}

TEST_CASE("why: no part tells of a temperature that neither hold comes near") {
    const Plant p = usual();
    const Flown brief = flown(p, 1, 3);
    const Flown whole = flown(p, 0.5);
    REQUIRE(whole.run.march.seconds > 100 * brief.run.march.seconds);
    const auto over_air = [&](const Flown& hold) {
        return hold.run.march.peak_board - p.air.celsius;
    };
    const double most = over_air(brief) + over_air(whole);
    for (const auto& [to, from] : {std::pair{&whole, &brief}, std::pair{&brief, &whole}}) {
        const WhyParts w = explain(p, to->told(), from->told(), in).parts;
        for (const double part : {w.conduction, w.freewheel, w.switching, w.commutation,
                                  w.capacitor, w.supply, w.air, w.run_time, w.other}) {
            CHECK(std::abs(part) < most);
        }
        // over three seconds no loss makes much of itself: the rest is the longer run
        CHECK(std::abs(w.run_time) > 0.8 * std::abs(over_air(whole) - over_air(brief)));
    }
}

TEST_CASE(
    "why: much heat in a gale beside next to none in still air: each is told in its own air") {
    // In still air the full throttle's heat would be worth hundreds of kelvin, in a gale the
    // other's next to nothing: neither hold comes near the first.
    Setup s = six_cell_drive();
    s.air.cooling = Cooling::open;
    s.air.flight_speed_mps = 25;
    s.esc.idle_W = 0.5;
    s.esc.rating_A = 60;
    const Plant p = median_plant(s);
    const Flown full = flown(p, 1);
    const Flown idle = flown(in_air_of(p, 0.1), 0.05);
    const double fallen_K = full.run.march.peak_board - idle.run.march.peak_board;
    REQUIRE(fallen_K > 10);
    const WhyParts w = explain(p, idle.told(), full.told(), in).parts;
    const double losses = sum(w) - w.air - w.run_time - w.other;
    CHECK(between(-1.25 * fallen_K, losses, -0.9 * fallen_K));
    CHECK(between(0, w.air, 0.1 * fallen_K));
}

TEST_CASE("why: the peak that is told is the one explained") {
    const Plant p = usual();
    const Flown full = flown(p, 1);
    Flown hold = flown(p, 0.9);
    ToldHold told = hold.told();
    told.peak_C += 4;
    const Why why = explain(p, told, full.told(), in);
    CHECK_THAT(sum(why.parts), WithinAbs(why.rise_over_full_K, adds_up_K));
    CHECK(std::abs(why.parts.other) < 1);
    CHECK_THAT(explain_over_air(p, told, in).rise_K,
               WithinAbs(hold.run.march.peak_board + 4 - p.air.celsius, adds_up_K));
}

TEST_CASE("why: a hot start is no cause of the ESC's own") {
    Plant p = usual();
    p.esc_start_C = 70;
    const Flown idle = flown(p, 0.05);
    const WhyOverAir why = explain_over_air(p, idle.told(), in);
    CHECK(why.parts.other > 30);
    CHECK(why.parts.conduction < 2);
    CHECK_THAT(sum(why.parts), WithinAbs(why.rise_K, adds_up_K));
}

TEST_CASE("why: a runaway has no rise over full throttle, and over the air one to the limit") {
    constexpr double inf = std::numeric_limits<double>::infinity();
    const Plant p = usual();
    const Flown full = flown(p, 1);
    const Flown hold = flown(p, 0.8);
    const Why why = explain(p, {&hold.run, inf}, full.told(), in);
    CHECK(std::isnan(why.rise_over_full_K));
    CHECK(std::isnan(why.parts.other));
    CHECK(has(why.text, "80 %"));
    CHECK(has(why.text, "runs away"));
    CHECK(has(explain(p, hold.told(), {&full.run, inf}, in).text, "full throttle"));
    const WhyOverAir air = explain_over_air(p, {&hold.run, inf}, in);
    CHECK_THAT(air.rise_K, WithinAbs(p.limit_C - p.air.celsius, adds_up_K));
    CHECK_THAT(sum(air.parts), WithinAbs(air.rise_K, adds_up_K));
    CHECK(has(air.text, "until the limit"));
}

TEST_CASE("why: a pack that sags at once at full throttle is nothing to compare with") {
    Plant p = usual();
    const Flown hold = flown(p, 0.5);
    const Flown full = flown(p, 1);
    p.pack.sag_floor_V = full.run.march.moments.front().cell_V + 0.05;
    const Flown sagging = flown(p, 1);
    REQUIRE(sagging.run.march.ended_by == EndedBy::sag);
    const Why why = explain(p, hold.told(), sagging.told(), in);
    CHECK(std::isnan(why.rise_over_full_K));
    CHECK(has(why.text, "sags too soon"));
    // From a tenth of the usable charge on, it does tell.
    const auto compares_at = [&](double start, double reserve, double used) {
        Plant q = p;
        q.pack.start = start;
        q.pack.reserve = reserve;
        HoldRun run = sagging.run;
        run.march.moments.back().charge = start - used * (start - reserve);
        const ToldHold told = {&run, run.march.peak_board};
        return std::isfinite(explain(q, hold.told(), told, in).rise_over_full_K);
    };
    CHECK(compares_at(1, 0.2, 0.11));
    CHECK_FALSE(compares_at(1, 0.2, 0.09));
    CHECK(compares_at(0.6, 0.2, 0.11));
    CHECK_FALSE(compares_at(0.6, 0.2, 0.09));
    // Sagging later it still is.
    p.pack.sag_floor_V = full.run.march.moments[full.run.march.moments.size() / 2].cell_V;
    const Flown later = flown(p, 1);
    REQUIRE(later.run.march.ended_by == EndedBy::sag);
    CHECK(std::isfinite(explain(p, hold.told(), later.told(), in).rise_over_full_K));
}

TEST_CASE("why: its words say its numbers, in either scale") {
    const Plant p = usual();
    const Flown full = flown(p, 1);
    Flown hold = flown(p, 0.9);
    const auto rise = [&](double kelvin, Scale scale) {
        return explain(p, {&hold.run, full.run.march.peak_board + kelvin}, full.told(), scale);
    };
    const Why hotter = rise(12, in);
    CHECK(numbers_in(hotter.text)[0] == 12);
    CHECK(numbers_in(hotter.text)[1] == 90);
    CHECK(has(hotter.text, "12 K hotter than full throttle"));
    CHECK(has(rise(10, Scale::fahrenheit).text, "18 deg F hotter"));
    CHECK(has(rise(-7, in).text, "7 K cooler than full throttle"));
    CHECK(has(rise(0.49, in).text, "As warm as full throttle"));
    CHECK(has(rise(0.51, in).text, "1 K hotter"));
    // The largest part is named with its own kelvin.
    WhyParts w = hotter.parts;
    double most = std::max({w.conduction, w.freewheel, w.switching, w.commutation, w.capacitor,
                            w.supply, w.air, w.run_time});
    CHECK(numbers_in(hotter.text)[2] == std::round(most));
    Plant rotor = p;
    rotor.load.law = LoadLaw::constant_speed;
    CHECK(has(explain(rotor, hold.told(), full.told(), in).text, "hover"));
}
