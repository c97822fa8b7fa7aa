// Each check on both sides of its bound and of the bound that forbids the flight, on one drive
// whose figures the model gives.
#include <algorithm>
#include <cmath>

#include "advice.hpp"
#include "drives.hpp"
#include "owners.hpp"
#include "physics/pack.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

const CheckItem* find_item(const CheckGroup& g, const std::string& key) {
    const auto item = std::find_if(g.items.begin(), g.items.end(),
                                   [&](const CheckItem& i) { return i.key == key; });
    return item == g.items.end() ? nullptr : &*item;
}

// A setup, its plant and its flight, each free to be altered by itself.
struct Checked {
    Setup setup = six_cell_drive();
    Plant plant;
    FlightRun flight;

    explicit Checked(Setup s) : setup(std::move(s)) {
        setup.esc.freewheel = Freewheel::diode;
        setup.flight.parts = {part_of(60, 30), part_of(100, 10)};
        plant = median_plant(setup);
        flight = run_flight(plant, setup.flight);
    }
    Checks checks() const { return run_checks(setup, plant, flight); }
    CheckItem item(CheckGroup Checks::*group, const std::string& key) const {
        const Checks all = checks();
        const CheckItem* found = find_item(all.*group, key);
        INFO(key);
        REQUIRE(found != nullptr);
        CHECK((all.*group).ok == std::all_of((all.*group).items.begin(), (all.*group).items.end(),
                                             [](const CheckItem& i) { return i.ok; }));
        return *found;
    }
};

Checked usual() { return Checked(six_cell_drive()); }

// What a check says with its figure at so many times its bound.
struct Said {
    bool ok, serious;
};

}  // namespace

TEST_CASE("checks: a figure half a percent over its bound still passes, and no more") {
    Checked d = usual();
    const double value = d.item(&Checks::rating, "full_throttle_A").value;
    const auto at = [&](double times) {
        d.setup.esc.rating_A = value / times;
        const CheckItem i = d.item(&Checks::rating, "full_throttle_A");
        return Said{i.ok, i.serious};
    };
    CHECK(at(0.9).ok);
    CHECK(at(1.0049).ok);
    CHECK_FALSE(at(1.0051).ok);
    CHECK_FALSE(at(1.4).serious);
    CHECK_FALSE(at(1.5 * 1.0049).serious);
    CHECK(at(1.5 * 1.0051).serious);
    CHECK_FALSE(at(0.9).serious);
}

TEST_CASE("checks: motor current at full and part throttle, and within the PWM period") {
    Checked d = usual();
    const CheckItem full = d.item(&Checks::rating, "full_throttle_A");
    const CheckItem part = d.item(&Checks::rating, "part_throttle_A");
    const CheckItem burst = d.item(&Checks::rating, "part_throttle_burst_A");
    const Source fresh = source_at(d.plant, 1, d.plant.pack.start_C, 50, 50);
    const Operating o = operate(d.plant, {.throttle = 0.6}, fresh, true);
    CHECK(part.value == o.i_motor);
    CHECK(burst.value == o.cycle.i_m_max);
    CHECK(full.value == operate(d.plant, {.throttle = 1}, fresh, true).i_motor);
    CHECK(numbers_in(part.label)[0] == std::round(o.i_pack));
    CHECK(full.side == Side::at_most);
    CHECK(part.bound == d.setup.esc.rating_A);
    CHECK_THAT(burst.bound, WithinRel(1.2 * d.setup.esc.rating_A, 1e-12));  // P
    d.setup.esc.burst_A = burst.value / 1.01;
    const CheckItem told = d.item(&Checks::rating, "part_throttle_burst_A");
    CHECK_FALSE(told.ok);
    CHECK_FALSE(told.serious);
    CHECK(told.basis == "told");
    d.setup.esc.burst_A = burst.value / 1.52;
    CHECK(d.item(&Checks::rating, "part_throttle_burst_A").serious);
    d.setup.esc.rating_A = part.value / 1.52;
    CHECK(d.item(&Checks::rating, "part_throttle_A").serious);
}

TEST_CASE("checks: a flight that never chops has no part throttle to check") {
    Checked d = usual();
    d.setup.flight.parts = {part_of(100, 10)};
    d.flight = run_flight(d.plant, d.setup.flight);
    CHECK(find_item(d.checks().rating, "part_throttle_A") == nullptr);
}

TEST_CASE(
    "checks: a propeller that the air turns is no part throttle, a fiftieth of the rating is") {
    Checked d = usual();
    const Source fresh = source_at(d.plant, 1, d.plant.pack.start_C, 50, 50);
    d.setup.flight.parts = {part_of(40, 10), part_of(100, 10)};
    d.flight = run_flight(d.plant, d.setup.flight);
    const double motor_A = operate(d.plant, {.throttle = 0.4}, fresh, true).i_motor;
    d.setup.esc.rating_A = motor_A / 0.0202;
    CHECK(find_item(d.checks().rating, "part_throttle_A") != nullptr);
    CHECK(find_item(d.checks().rating, "part_throttle_burst_A") != nullptr);
    d.setup.esc.rating_A = motor_A / 0.0198;
    CHECK(find_item(d.checks().rating, "part_throttle_A") == nullptr);
    CHECK(find_item(d.checks().rating, "part_throttle_burst_A") == nullptr);
}

TEST_CASE("checks: of several motors the current at part throttle is told for each") {
    Checked d = usual();
    CHECK(d.item(&Checks::rating, "part_throttle_A").label.find("each motor") == std::string::npos);
    d.setup.motor.count = 4;
    d.setup.load.full_throttle_A = 4 * d.setup.load.full_throttle_A.value_or(50);
    d.plant = median_plant(d.setup);
    d.flight = run_flight(d.plant, d.setup.flight);
    CHECK(d.item(&Checks::rating, "part_throttle_A")
              .label.find("of each motor, where the pack shows") != std::string::npos);
}

TEST_CASE("checks: the part that draws most while it chops is the one checked") {
    Checked d = usual();
    d.setup.flight.parts = {part_of(40, 10), part_of(80, 10), part_of(60, 10)};
    d.flight = run_flight(d.plant, d.setup.flight);
    const Source fresh = source_at(d.plant, 1, d.plant.pack.start_C, 50, 50);
    CHECK(d.item(&Checks::rating, "part_throttle_A").value ==
          operate(d.plant, {.throttle = 0.8}, fresh, true).i_motor);
}

TEST_CASE("checks: a rotor is checked in its hardest part") {
    Setup s = six_cell_drive();
    s.load = {};
    s.load.kind = LoadKind::governed;
    s.load.hover_A = 20;
    s.load.rotor_rpm = 1800;
    s.load.gear_ratio = 9;
    s.motor.kv_rpm_per_V = 1100;
    Checked d(s);
    d.setup.flight.parts = {part_of(100, 60), part_of(150, 5)};
    d.flight = run_flight(d.plant, d.setup.flight);
    const Source fresh = source_at(d.plant, 1, d.plant.pack.start_C, 50, 50);
    const CheckItem i = d.item(&Checks::rating, "full_throttle_A");
    CHECK(i.value == operate(d.plant, {.throttle = 1.5}, fresh, true).i_motor);
    CHECK(has(i.label, "hardest part"));
    CHECK(find_item(d.checks().rating, "part_throttle_A") == nullptr);
    CHECK(has(d.item(&Checks::pack, "go_around_V").label, "hardest part"));
    CHECK(rotor_speed(d.plant, d.flight).reached);
    CHECK(rotor_speed(d.plant, d.flight).kept);
    d.plant.load.hover_speed *= 2;  // beyond what the pack's volts turn
    CHECK_FALSE(rotor_speed(d.plant, d.flight).reached);
    CHECK_FALSE(rotor_speed(d.plant, d.flight).kept);
}

TEST_CASE("checks: the discharge rate's bound is the pack's own") {
    Checked d = usual();
    d.setup.pack.cell_resistance_mOhm = 1;  // told, so that it is the bound
    const CheckItem i = d.item(&Checks::pack, "rate_C");
    double most = 0;
    for (const Moment& m : d.flight.march.moments) {
        most = std::max(most, m.i_pack);
    }
    CHECK_THAT(i.value, WithinRel(most / 5, 1e-12));
    // 0.64 V from half charge to the floor over the cell's own resistance (D).
    const double R = d.plant.u.cell_resistance * cell_resistance_factor(25, 0.5);
    CHECK_THAT(i.bound, WithinRel((3.84 - 3.2) / R / 5, 1e-9));
    d.plant.u.cell_resistance *= 2;
    CHECK_THAT(d.item(&Checks::pack, "rate_C").bound, WithinRel(0.5 * i.bound, 1e-9));
    d.plant.u.cell_resistance *= i.bound / i.value / 2 * 1.01;
    CHECK_FALSE(d.item(&Checks::pack, "rate_C").ok);
    d.plant.u.cell_resistance /= 1.03;
    CHECK(d.item(&Checks::pack, "rate_C").ok);
}

TEST_CASE("checks: of a pack of which nothing is told no more is believed than few packs give") {
    Checked d = usual();
    const auto bound = [&] { return d.item(&Checks::pack, "rate_C"); };
    d.plant.u.cell_resistance = 1e-3;  // would sag at 128 C
    CHECK(bound().bound == 60);
    CHECK(has(bound().basis, "few packs are made for more"));
    d.plant.u.cell_resistance *= 2.2;  // at 58 C
    CHECK(bound().bound < 60);
    CHECK(has(bound().basis, "sags"));
    d.plant.u.cell_resistance /= 2.2;
    d.setup.pack.cell_resistance_mOhm = 1;
    CHECK(bound().bound > 100);
    d.setup.pack.cell_resistance_mOhm.reset();
    d.setup.pack.label_C = 75;  // a label is the pilot's word
    CHECK(bound().bound == 75);
}

TEST_CASE(
    "checks: more cells than ESCs of a rating usually take are doubted where no limit is told") {
    const auto item = [](double rating_A, double cells, Chemistry chemistry = Chemistry::lipo) {
        Setup s = at_rating(rating_A, cells);
        s.pack.chemistry = chemistry;
        const Checked d(s);
        const Checks all = d.checks();
        const CheckItem* found = find_item(all.capacitor, "cells");
        return found != nullptr ? std::optional(*found) : std::nullopt;
    };
    // 6 below 60 A, 8 below 100 A, 14 above (common practice)
    CHECK_FALSE(item(59, 6));
    REQUIRE(item(59, 7));
    CHECK(item(59, 7)->bound == 6);
    CHECK_FALSE(item(59, 7)->ok);
    CHECK_FALSE(item(59, 7)->serious);
    CHECK_FALSE(item(60, 8));
    CHECK(item(60, 9));
    CHECK(item(99, 9));
    CHECK_FALSE(item(100, 14));
    CHECK(item(100, 15));
    // an iron cell has 3.6 V where a LiPo has 4.2
    CHECK_FALSE(item(59, 7, Chemistry::lifepo4));
    CHECK(item(59, 8, Chemistry::lifepo4)->bound == 7);
    Setup told = at_rating(40, 12);
    told.esc.cells_max = 12;
    CHECK(Checked(told).item(&Checks::capacitor, "cells").ok);
    CHECK(has(failed_text(*item(40, 12), Scale::celsius),
              "12 cells in series, the ESC's own limit not told, where at most 6 is right"));
}

TEST_CASE("checks: a rate printed on the pack bounds it where that is less than what sags it") {
    Checked d = usual();
    d.setup.pack.cell_resistance_mOhm = 1;
    const double sags_C = d.item(&Checks::pack, "rate_C").bound;
    d.setup.pack.label_C = 0.9 * sags_C;
    CHECK(d.item(&Checks::pack, "rate_C").bound == 0.9 * sags_C);
    CHECK(has(d.item(&Checks::pack, "rate_C").basis, "label"));
    d.setup.pack.label_C = 1.1 * sags_C;
    CHECK(d.item(&Checks::pack, "rate_C").bound == sags_C);
    CHECK(has(d.item(&Checks::pack, "rate_C").basis, "sags"));
}

TEST_CASE("checks: lowest cell, go-around and warmth of the pack") {
    Checked d = usual();
    const double lowest = d.item(&Checks::pack, "lowest_cell_V").value;
    CHECK(d.item(&Checks::pack, "lowest_cell_V").side == Side::at_least);
    CHECK(std::any_of(d.flight.march.moments.begin(), d.flight.march.moments.end(),
                      [&](const Moment& m) { return m.cell_V == lowest; }));
    CHECK(std::none_of(d.flight.march.moments.begin(), d.flight.march.moments.end(),
                       [&](const Moment& m) { return m.cell_V < lowest; }));
    d.plant.pack.sag_floor_V = lowest * 1.004;
    CHECK(d.item(&Checks::pack, "lowest_cell_V").ok);
    d.plant.pack.sag_floor_V = lowest * 1.006;
    CHECK_FALSE(d.item(&Checks::pack, "lowest_cell_V").ok);

    const CheckItem again = d.item(&Checks::pack, "go_around_V");
    CHECK(again.side == Side::at_least);
    CHECK_THAT(again.bound, WithinAbs(d.plant.pack.sag_floor_V - 0.2, 1e-12));
    CHECK(again.ok);
    // The same from the loaded volts of the whole pack, without its leads.
    const Moment& last = d.flight.march.moments.back();
    const Source spent = source_at(d.plant, last.charge, last.pack_C, 60, 60);
    const Operating o = operate(d.plant, {.throttle = 1}, spent, true);
    CHECK_THAT(
        again.value,
        WithinAbs((spent.Voc - o.i_pack * (spent.R_src - d.plant.pack.lead_resistance)) / 6, 1e-6));
    d.plant.pack.sag_floor_V = again.value + 0.2 + 0.03;
    CHECK_FALSE(d.item(&Checks::pack, "go_around_V").ok);
    CHECK_FALSE(d.item(&Checks::pack, "go_around_V").serious);

    const auto warm = [&](double celsius) {
        d.flight.march.moments[d.flight.march.moments.size() / 2].pack_C = celsius;
        const CheckItem i = d.item(&Checks::pack, "pack_C");
        CHECK(i.value == celsius);
        return Said{i.ok, i.serious};
    };
    CHECK(warm(60.2).ok);
    CHECK_FALSE(warm(60.4).ok);
    CHECK_FALSE(warm(80.3).serious);
    CHECK(warm(80.5).serious);
}

TEST_CASE("checks: ripple of the link capacitors, told or by their size") {
    Checked d = usual();
    const CheckItem i = d.item(&Checks::capacitor, "ripple_A");
    CHECK_THAT(i.bound, WithinRel(0.05 * d.plant.u.capacitance * 1e6, 1e-12));
    CHECK(i.ok);
    d.setup.esc.capacitor_ripple_A = i.value * 0.99;
    CHECK_FALSE(d.item(&Checks::capacitor, "ripple_A").ok);
    CHECK(d.item(&Checks::capacitor, "ripple_A").basis == "told");
    const Source fresh = source_at(d.plant, 1, d.plant.pack.start_C, 50, 50);
    const Operating o = operate(d.plant, {.throttle = 0.6}, fresh, true);
    CHECK(i.value == o.cycle.i_c_rms);
    // The link's voltage swings by so many of its hundredths, peak to peak.
    CHECK_THAT(d.item(&Checks::capacitor, "link_ripple_pct").value,
               WithinRel((o.cycle.v_link_max - o.cycle.v_link_min) / o.v_link / 0.01, 1e-12));
    // What never chops has none of either.
    d.setup.flight.parts = {part_of(100, 10)};
    d.flight = run_flight(d.plant, d.setup.flight);
    CHECK(d.item(&Checks::capacitor, "ripple_A").value < 0.01);
    CHECK(d.item(&Checks::capacitor, "link_ripple_pct").value < 0.01);
}

TEST_CASE("checks: link ripple grows with smaller capacitors until it forbids the flight") {
    Checked d = usual();
    Said last = {true, false};
    bool watched = false;
    for (double uF = 2000; uF > 5; uF *= 0.8) {
        d.plant.u.capacitance = uF * 1e-6;
        const CheckItem i = d.item(&Checks::capacitor, "link_ripple_pct");
        CHECK(i.ok == (i.value <= 10.05));
        CHECK(i.serious == (i.value > 50.25));
        watched = watched || (!i.ok && !i.serious);
        last = {i.ok, i.serious};
    }
    CHECK(watched);
    CHECK(last.serious);
}

TEST_CASE("checks: long leads want capacitance where the ripple shows them") {
    Checked d = usual();
    d.setup.pack.lead_length_cm = 40;
    d.plant.u.capacitance *= 3;
    CHECK(find_item(d.checks().capacitor, "lead_capacitance_uF") == nullptr);
    d.plant.u.capacitance *= 0.1;
    REQUIRE(d.item(&Checks::capacitor, "link_ripple_pct").value > 5);
    const CheckItem i = d.item(&Checks::capacitor, "lead_capacitance_uF");
    CHECK(i.side == Side::at_least);
    CHECK_THAT(i.bound, WithinAbs(220, 1e-9));  // P
    CHECK(i.value == 0);
    CHECK_FALSE(i.ok);
    d.setup.esc.capacitor_uF = 10 * d.setup.esc.rating_A + 225;
    CHECK(d.item(&Checks::capacitor, "lead_capacitance_uF").ok);
    CHECK_THAT(d.item(&Checks::capacitor, "lead_capacitance_uF").value, WithinAbs(225, 1e-6));
    // The ripple that shows them: half of what is allowed of it, 5 %.
    const double uF = d.plant.u.capacitance;
    const auto checked_at = [&](double swing_pct) {
        double small = 0.1 * uF;
        double large = 10 * uF;
        for (int halvings = 0; halvings < 40; ++halvings) {
            d.plant.u.capacitance = std::sqrt(small * large);
            const bool more = d.item(&Checks::capacitor, "link_ripple_pct").value > swing_pct;
            (more ? small : large) = d.plant.u.capacitance;
        }
        return find_item(d.checks().capacitor, "lead_capacitance_uF") != nullptr;
    };
    CHECK_FALSE(checked_at(4.95));
    CHECK(checked_at(5.05));
    d.setup.pack.lead_length_cm = 30;
    CHECK(find_item(d.checks().capacitor, "lead_capacitance_uF") == nullptr);
    d.setup.pack.lead_length_cm = 30.1;
    CHECK_THAT(d.item(&Checks::capacitor, "lead_capacitance_uF").bound, WithinAbs(2.2, 1e-9));
    // An ESC that is told with no more than it usually has of its own has none beyond it.
    d.setup.esc.capacitor_uF = 10 * d.setup.esc.rating_A - 100;
    CHECK(d.item(&Checks::capacitor, "lead_capacitance_uF").value == 0);
}

TEST_CASE("checks: resonance is checked where there is one, and fails only inside its window") {
    Checked d = usual();
    CHECK(find_item(d.checks().capacitor, "resonance_ratio") == nullptr);  // damped, as usual
    d.plant.u.cell_resistance = 1e-5;
    d.plant.pack.lead_resistance = 1e-5;
    d.plant.u.capacitor_esr = 1e-4;
    const double resonance = d.plant.pwm / d.item(&Checks::capacitor, "resonance_ratio").value;
    for (const double ratio : {0.5, 1.0, 4.0}) {
        d.plant.pwm = ratio * resonance;
        const CheckItem i = d.item(&Checks::capacitor, "resonance_ratio");
        CHECK(i.side == Side::outside);
        REQUIRE(i.bound_high);
        CHECK(i.ok == (ratio < i.bound || ratio > *i.bound_high));
        CHECK(i.ok == (ratio != 1.0));
    }
}

TEST_CASE("checks: more cells than the ESC is sold for forbid the flight") {
    Checked d = usual();
    CHECK(find_item(d.checks().capacitor, "cells") == nullptr);
    CHECK(find_item(d.checks().capacitor, "link_peak_V") == nullptr);
    d.setup.esc.cells_max = 6;
    CHECK(d.item(&Checks::capacitor, "cells").ok);
    CHECK(d.item(&Checks::capacitor, "link_peak_V").ok);
    d.setup.esc.cells_max = 5;
    CHECK_FALSE(d.item(&Checks::capacitor, "cells").ok);
    CHECK(d.item(&Checks::capacitor, "cells").serious);
    const CheckItem peak = d.item(&Checks::capacitor, "link_peak_V");
    CHECK_THAT(peak.bound, WithinAbs(1.15 * 5 * 4.2, 1e-9));
    CHECK(peak.ok == (peak.value <= peak.bound * 1.005));
    d.setup.esc.cells_max = 4;
    CHECK(d.item(&Checks::capacitor, "link_peak_V").serious);  // 25 V over 1.4 times 16.8
}

TEST_CASE("checks: the supply's current and heat, each until it forbids the flight") {
    Checked d = usual();
    CHECK(d.checks().supply.items.empty());
    CHECK(d.checks().supply.ok);
    d.setup.esc.bec_kind = BecKind::switching;
    const auto at = [&](double amperes) {
        d.setup.esc.bec_A = amperes;
        const CheckItem i = d.item(&Checks::supply, "current_A");
        return Said{i.ok, i.serious};
    };
    CHECK(at(2.5).ok);  // half of a usual 5 A (P)
    CHECK_FALSE(at(2.6).ok);
    CHECK_FALSE(at(5.02).serious);
    CHECK(at(5.03).serious);
    CHECK(find_item(d.checks().supply, "heat_W") == nullptr);
    d.setup.esc.bec_max_A = 8;
    CHECK(at(4).ok);
    CHECK_FALSE(at(4.1).ok);
    d.setup.esc.bec_kind = BecKind::linear;
    d.setup.esc.bec_max_A.reset();
    CHECK(at(1).ok);  // half of a usual 2 A (P)
    CHECK_FALSE(at(1.1).ok);
    const double drop = 6 * 4.2 - d.setup.esc.bec_V;
    const auto heat = [&](double watts) {
        d.setup.esc.bec_A = watts / drop;
        const CheckItem i = d.item(&Checks::supply, "heat_W");
        CHECK_THAT(i.value, WithinRel(watts, 1e-12));
        return Said{i.ok, i.serious};
    };
    CHECK(heat(5.02).ok);
    CHECK_FALSE(heat(5.03).ok);
    CHECK_FALSE(heat(10.04).serious);
    CHECK(heat(10.06).serious);
}

TEST_CASE("checks: what hangs on capacitors that nobody told says so") {
    Checked d = usual();
    d.setup.esc.capacitor_uF.reset();
    const auto says_so = [&](const char* key) {
        return has(d.item(&Checks::capacitor, key).label, ", the capacitors estimated");
    };
    CHECK(says_so("ripple_A"));
    CHECK(says_so("link_ripple_pct"));
    d.setup.esc.capacitor_uF = 500;
    CHECK_FALSE(says_so("ripple_A"));
    CHECK_FALSE(says_so("link_ripple_pct"));
}
