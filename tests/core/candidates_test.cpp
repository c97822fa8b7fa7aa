// Is what could be changed what a pilot could do? Known setups, both sides of each rule.
#include "advise/candidates.hpp"

#include <algorithm>
#include <cmath>

#include "advise/advise.hpp"
#include "drives.hpp"
#include "near.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

Setup rotor() {
    Setup s;
    s.pack.cells = 6;
    s.pack.capacity_mAh = 3700;
    s.esc.rating_A = 80;
    s.esc.pwm_Hz = 16000;
    s.motor.kv_rpm_per_V = 1100;
    s.load.kind = LoadKind::governed;
    s.load.hover_A = 13.5;
    s.load.rotor_rpm = 2000;
    s.load.gear_ratio = 8.5;
    return holding(s, 100);
}

std::vector<Candidate> candidates_of(const Setup& s) {
    const Plant p = median_plant(s);
    const FlightRun flight = run_flight(p, s.flight);
    return find_candidates(s, p, run_checks(s, p, flight), {});
}

const Change* find(const std::vector<Candidate>& list, const std::string& id) {
    const auto there = std::find_if(list.begin(), list.end(),
                                    [&](const Candidate& c) { return c.change.id == id; });
    return there == list.end() ? nullptr : &there->change;
}

}  // namespace

TEST_CASE("candidates: the ESC offered is the next class, or the first that carries the current") {
    // Classes as sold: ... 60, 80, 100, 120, 150 A (common practice, no source).
    Setup s = holding(at_rating(60, 6), 100);
    s.pack.capacity_mAh = 12000;
    for (const auto& [drawn_A, offered_A] :
         {std::pair{50.0, 80.0}, {79.0, 80.0}, {81.0, 100.0}, {99.0, 100.0}, {101.0, 120.0}}) {
        s.load.full_throttle_A = drawn_A;
        const std::vector<Candidate> list = candidates_of(s);
        const Change* bigger = find(list, "bigger_esc");
        REQUIRE(bigger != nullptr);
        INFO(drawn_A << " A: " << bigger->text);
        CHECK(bigger->changed.esc.rating_A == offered_A);
        CHECK((bigger->text.find("carries the current") != std::string::npos) == (drawn_A > 60));
    }
}

TEST_CASE("candidates: every class of ESC that is sold, and a tenth beyond the largest (P)") {
    Setup s = holding(six_cell_drive(), 60);
    s.load.full_throttle_A = 5;
    const auto class_after = [&](double rating_A) {
        s.esc.rating_A = rating_A;
        const std::vector<Candidate> list = candidates_of(s);
        const Change* bigger = find(list, "bigger_esc");
        return bigger == nullptr ? 0 : bigger->changed.esc.rating_A;
    };
    const std::vector<double> sold = {10,  15,  20,  30,  40,  50,  60,  80,
                                      100, 120, 150, 180, 200, 250, 300, 400};
    for (size_t i = 0; i < sold.size(); ++i) {
        INFO(sold[i]);
        CHECK(class_after(0.99 * sold[i] / 1.1) == sold[i]);
        if (i + 1 < sold.size()) {
            CHECK(class_after(1.01 * sold[i] / 1.1) == sold[i + 1]);
        }
    }
    CHECK(class_after(380) == std::ceil(1.1 * 1.1 * 380));
}

TEST_CASE("candidates: an active freewheel is a six-step ESC's, where it is not active") {
    Setup s = holding(six_cell_drive(), 60);
    const auto offered = [&](Drive drive, Freewheel freewheel) {
        s.esc.drive = drive;
        s.esc.freewheel = freewheel;
        const std::vector<Candidate> list = candidates_of(s);
        const Change* active = find(list, "active_freewheel");
        CHECK((active == nullptr || active->changed.esc.freewheel == Freewheel::active));
        return active != nullptr;
    };
    CHECK(offered(Drive::six_step, Freewheel::diode));
    CHECK(offered(Drive::six_step, Freewheel::unknown));
    CHECK_FALSE(offered(Drive::six_step, Freewheel::active));
    CHECK_FALSE(offered(Drive::sinusoidal, Freewheel::diode));
    CHECK_FALSE(offered(Drive::sinusoidal, Freewheel::unknown));
}

TEST_CASE("candidates: a propeller or fan that draws a tenth less, its rows with the other") {
    Setup s = holding(six_cell_drive(), 60);
    MeasuredRow row;
    row.throttle_pct = 60;
    row.pack_A = 40;
    row.esc_peak_C = 50;
    s.measured = {row};
    for (const LoadKind kind : {LoadKind::propeller, LoadKind::fan}) {
        s.load.kind = kind;
        const bool fan = kind == LoadKind::fan;
        const std::vector<Candidate> list = candidates_of(s);
        const Change* less = find(list, fan ? "less_fan" : "less_propeller");
        REQUIRE(less != nullptr);
        CHECK(find(list, fan ? "less_propeller" : "less_fan") == nullptr);
        // part throttle alone: what is told of full throttle does not bind
        const double full_A = fresh_full_throttle_A(median_plant(s));
        CHECK_THAT(*less->changed.load.full_throttle_A, WithinRel(0.9 * full_A, 1e-3));
        CHECK(*less->changed.measured.at(0).esc_peak_C == 50);
        CHECK(*less->changed.measured.at(0).pack_A == 40);
        CHECK_THAT(*less->changed.measured.at(0).full_throttle_A, WithinRel(full_A, 1e-3));
    }
}

TEST_CASE("candidates: a pack is offered where the present one is asked too much, and gives more") {
    Setup s = holding(six_cell_drive(), 100);
    s.pack.capacity_mAh = 8000;
    CHECK(find(candidates_of(s), "second_pack") == nullptr);
    s.pack.capacity_mAh = 1800;
    s.pack.cell_resistance_mOhm = 9;  // 25 V less 6 V: under the floor of 3.2 V a cell
    MeasuredRow row;
    row.esc_peak_C = 60;
    s.measured = {row};
    const std::vector<Candidate> list = candidates_of(s);
    const Plant before = median_plant(s);
    const FlightRun present = run_flight(before, s.flight);
    for (const char* id : {"better_pack", "larger_pack", "second_pack"}) {
        const Change* pack = find(list, id);
        INFO(id);
        REQUIRE(pack != nullptr);
        CHECK(pack->changed.measured.empty());  // read on the pack that is left
        const Plant after = median_plant(pack->changed);
        const FlightRun flown = run_flight(after, pack->changed.flight);
        CHECK(flown.march.seconds > present.march.seconds);
        // the same power as half the charge is gone; the throttle is told to a tenth of a per cent
        const auto shaft_W = [](const Plant& p, const Setup& of) {
            const double charge = 0.5 * (p.pack.start + p.pack.reserve);
            return operate(p, {.throttle = of.flight.parts[0].throttle_pct / 100},
                           source_at(p, charge, p.pack.start_C, 60, 50))
                .shaft_W;
        };
        const double wanted_W = shaft_W(before, s);
        CHECK_THAT(shaft_W(after, pack->changed), WithinAbs(wanted_W, 0.01 * wanted_W));
    }
    CHECK(find(list, "second_pack")->changed.pack.parallel == 2);
    CHECK(find(list, "larger_pack")->changed.pack.capacity_mAh == 2700);
    CHECK_THAT(*find(list, "better_pack")->changed.pack.cell_resistance_mOhm,
               WithinRel(500 * before.u.cell_resistance, 1e-3));
}

TEST_CASE("candidates: a rotor is geared or slowed, a propeller is not") {
    const Setup s = rotor();
    const std::vector<Candidate> list = candidates_of(s);
    const Change* geared = find(list, "shorter_gearing");
    REQUIRE(geared != nullptr);
    const auto in_hover = [](const Setup& of) {
        const Plant p = median_plant(of);
        return operate(p, {.throttle = 1},
                       source_at(p, 0.5 * (p.pack.start + p.pack.reserve), 25, 60, 50));
    };
    // The same rotor speed and, by the same hover current, nearly the same power at a tenth more
    // duty and a tenth less motor current.
    CHECK_THAT(in_hover(geared->changed).duty / in_hover(s).duty, WithinAbs(1.1, 0.03));
    CHECK_THAT(in_hover(geared->changed).i_motor / in_hover(s).i_motor, WithinAbs(1 / 1.1, 0.03));
    const Change* slower = find(list, "lower_head_speed");
    REQUIRE(slower != nullptr);
    CHECK(*slower->changed.load.rotor_rpm == 1900);
    // (P) two fifths, and three of 0.95 cubed
    CHECK_THAT(*slower->changed.load.hover_A, WithinRel(13.5 * 0.91443, 1e-3));
    Setup sized = s;
    sized.load.mass_kg = 2.6;
    sized.load.rotor_diameter_m = 0.9;
    const double profile = 1 - 1.15 * median_plant(sized).load.figure_of_merit;  // (D)
    REQUIRE(between(0.2, profile, 0.55));
    const std::vector<Candidate> of_sized = candidates_of(sized);
    const Change* by_size = find(of_sized, "lower_head_speed");
    REQUIRE(by_size != nullptr);
    CHECK_THAT(*by_size->changed.load.hover_A,
               WithinRel(13.5 * (1 - profile * (1 - 0.95 * 0.95 * 0.95)), 1e-3));
    // of a hover that was read, as of one that was told
    Setup read = s;
    read.load.hover_A.reset();
    read.measured.emplace_back();
    read.measured[0].throttle_pct = 100;
    read.measured[0].pack_A = 13.5;
    read.measured[0].hold_s = 300;
    const std::vector<Candidate> of_read = candidates_of(read);
    const Change* by_row = find(of_read, "lower_head_speed");
    REQUIRE(by_row != nullptr);
    CHECK(by_row->changed.measured.empty());
    // its power, whatever the pack's charge was as it was read
    const auto power_W = [](const Setup& of) { return median_plant(of).load.hover_power; };
    CHECK_THAT(power_W(by_row->changed) / power_W(read), WithinRel(0.91443, 0.01));
    CHECK_THAT(power_W(slower->changed) / power_W(s), WithinRel(0.91443, 0.01));
    CHECK(find(list, "less_propeller") == nullptr);

    Setup fixed_pitch = s;
    fixed_pitch.load.rotor_rpm.reset();
    CHECK(find(candidates_of(fixed_pitch), "shorter_gearing") == nullptr);
    CHECK(find(candidates_of(holding(six_cell_drive(), 75)), "shorter_gearing") == nullptr);
}

TEST_CASE("candidates: a linear supply is changed for a switching one, no other is") {
    Setup s = holding(six_cell_drive(), 75);
    for (const BecKind kind : {BecKind::none, BecKind::switching, BecKind::linear}) {
        s.esc.bec_kind = kind;
        const std::vector<Candidate> list = candidates_of(s);
        const Change* supply = find(list, "switching_supply");
        CHECK((supply != nullptr) == (kind == BecKind::linear));
        if (supply != nullptr) {
            CHECK(supply->changed.esc.bec_kind == BecKind::switching);
        }
    }
}

TEST_CASE("candidates: a round of several holds may be flown twice as often, one hold may not") {
    Setup s = holding(six_cell_drive(), 75);
    CHECK(find(candidates_of(s), "shorter_holds") == nullptr);
    s.flight.parts.push_back(part_of(100, 0.15));
    const std::vector<Candidate> list = candidates_of(s);
    const Change* shorter = find(list, "shorter_holds");
    REQUIRE(shorter != nullptr);
    CHECK(shorter->changed.flight.parts[0].seconds == 30);
    CHECK(shorter->changed.flight.parts[1].seconds == 0.1);  // the least that a part may take
    CHECK(shorter->changed.flight.parts[0].throttle_pct == 75);
    s.flight.kind = FlightKind::shares;  // how they follow each other nobody told
    s.flight.parts = {share_of(75, 80), share_of(100, 20)};
    CHECK(find(candidates_of(s), "shorter_holds") == nullptr);
}

TEST_CASE("candidates: air is let in where it is kept out") {
    Setup s = holding(six_cell_drive(), 75);
    s.air.wash_share = 0.04;
    struct Mount {
        Cooling cooling;
        bool vent, open;
    };
    for (const Mount& m : {Mount{Cooling::closed, true, true},
                           {Cooling::vented, false, true},
                           {Cooling::open, false, false}}) {
        s.air.cooling = m.cooling;
        const std::vector<Candidate> list = candidates_of(s);
        const Change* vent = find(list, "vent_bay");
        const Change* open = find(list, "mount_open");
        REQUIRE((vent != nullptr) == m.vent);
        REQUIRE((open != nullptr) == m.open);
        if (vent != nullptr) {
            CHECK(vent->changed.air.cooling == Cooling::vented);
            CHECK_FALSE(vent->changed.air.wash_share);
        }
        if (open != nullptr) {
            CHECK(open->changed.air.cooling == Cooling::open);
            CHECK_FALSE(open->changed.air.wash_share);  // told of the mounting that is left
        }
    }
    // A rotor's ESC has no slipstream to stand in.
    Setup heli = rotor();
    heli.air.cooling = Cooling::vented;
    CHECK(find(candidates_of(heli), "mount_open") == nullptr);
}

TEST_CASE("candidates: leads over 8 cm are halved, link capacitance is doubled (D)") {
    Setup s = holding(six_cell_drive(), 75);
    s.pack.lead_length_cm = 8;
    CHECK(find(candidates_of(s), "shorter_leads") == nullptr);
    s.pack.lead_length_cm = 8.4;
    s.esc.capacitor_uF = 700;
    s.esc.capacitor_esr_mOhm = 12;
    const std::vector<Candidate> list = candidates_of(s);
    REQUIRE(find(list, "shorter_leads") != nullptr);
    CHECK(find(list, "shorter_leads")->changed.pack.lead_length_cm == 4.2);
    const Change* more = find(list, "more_capacitance");
    REQUIRE(more != nullptr);
    CHECK(*more->changed.esc.capacitor_uF == 1400);
    CHECK(*more->changed.esc.capacitor_esr_mOhm == 6);
    CHECK(more->text.find("another 700 uF") != std::string::npos);
}

TEST_CASE("candidates: a rotor's pinion and head speed, by a tenth and a twentieth (D)") {
    const Setup s = rotor();
    const std::vector<Candidate> list = candidates_of(s);
    const Change* geared = find(list, "shorter_gearing");
    REQUIRE(geared != nullptr);
    CHECK_THAT(*geared->changed.load.gear_ratio, WithinRel(1.1 * 8.5, 1e-9));
    CHECK(*geared->changed.motor.kv_rpm_per_V == 1100);
    CHECK(*geared->changed.load.rotor_rpm == 2000);
    CHECK(*geared->changed.load.hover_A == 13.5);
    Setup by_mass = s;  // its hover's current follows from its mass: none to be lowered
    by_mass.load.hover_A.reset();
    by_mass.load.mass_kg = 3;
    by_mass.load.rotor_diameter_m = 1.3;
    CHECK(find(candidates_of(by_mass), "shorter_gearing") != nullptr);
    CHECK(find(candidates_of(by_mass), "lower_head_speed") == nullptr);
}

TEST_CASE("candidates: a rotor on a stiffer pack hovers on the same power") {
    Setup s = rotor();
    s.pack.capacity_mAh = 1500;
    s.pack.cell_resistance_mOhm = 70;
    const std::vector<Candidate> list = candidates_of(s);
    const auto hover_W = [](const Setup& of) {
        const Plant p = median_plant(of);
        return operate(p, {.throttle = 1},
                       source_at(p, 0.5 * (p.pack.start + p.pack.reserve), p.pack.start_C, 60, 50))
            .shaft_W;
    };
    for (const char* id : {"better_pack", "larger_pack", "second_pack"}) {
        const Change* pack = find(list, id);
        INFO(id);
        REQUIRE(pack != nullptr);
        CHECK(*pack->changed.load.hover_A < 0.97 * *s.load.hover_A);
        CHECK_THAT(hover_W(pack->changed), WithinRel(hover_W(s), 0.01));
    }
}

TEST_CASE("candidates: a lower Kv keeps each part's shaft power, at more throttle") {
    Setup s = holding(six_cell_drive(), 60);
    s.motor.kv_rpm_per_V = 420;
    s.flight.parts = {part_of(60, 60), part_of(0, 10), part_of(80, 10), part_of(6, 10)};
    const Plant before = median_plant(s);
    const std::vector<Candidate> list = candidates_of(s);
    const auto shaft_W = [](const Plant& p, double pct) {
        return operate(p, {.throttle = pct / 100},
                       source_at(p, 0.5 * (p.pack.start + p.pack.reserve), p.pack.start_C, 60, 50))
            .shaft_W;
    };
    for (const char* id : {"lower_kv", "fewer_cells"}) {
        const Change* change = find(list, id);
        INFO(id);
        REQUIRE(change != nullptr);
        const Plant after = median_plant(change->changed);
        for (size_t i = 0; i < 4; ++i) {
            const double was_pct = s.flight.parts[i].throttle_pct;
            const double pct = change->changed.flight.parts[i].throttle_pct;
            const double wanted_W = shaft_W(before, was_pct);
            CHECK((was_pct == 0 ? pct == 0 : pct > was_pct));
            // To half a tenth of a per cent of throttle, with about its cube.
            const double rounding = pct > 0 ? 0.15 / pct : 0;
            CHECK_THAT(shaft_W(after, pct), WithinAbs(wanted_W, (0.003 + rounding) * wanted_W));
        }
    }
    CHECK_THAT(*find(list, "lower_kv")->changed.motor.kv_rpm_per_V, WithinRel(0.9 * 420, 1e-9));
    CHECK_THAT(*find(list, "fewer_cells")->changed.motor.kv_rpm_per_V, WithinRel(420, 1e-9));
}

TEST_CASE(
    "candidates: a drive may fall short of full throttle by a tenth, of a part below it by "
    "nothing") {
    // On one cell of six less, full throttle gives about two thirds of the power: a part that would
    // take all of it is left nothing to climb with.
    Setup s = holding(six_cell_drive(), 80);
    s.motor.kv_rpm_per_V = 420;
    const auto at_mid = [](const Plant& p, double throttle) {
        return operate(p, {.throttle = throttle},
                       source_at(p, 0.5 * (p.pack.start + p.pack.reserve), p.pack.start_C, 60, 50))
            .shaft_W;
    };
    const Plant before = median_plant(s);
    const std::vector<Candidate> at_80 = candidates_of(s);
    REQUIRE(find(at_80, "fewer_cells") != nullptr);
    const double most_W = at_mid(median_plant(find(at_80, "fewer_cells")->changed), 1);
    // Throttle of the present drive that asks for a share of what the other gives at most.
    const auto throttle_of = [&](double share) {
        double low = 0.5;
        double high = 0.969;  // the last that chops
        for (int i = 0; i < 40; ++i) {
            const double x = 0.5 * (low + high);
            (at_mid(before, x) < share * most_W ? low : high) = x;
        }
        return 100 * low;
    };
    const auto offered_at = [&](double share) {
        s.flight.parts[0].throttle_pct = throttle_of(share);
        const std::vector<Candidate> list = candidates_of(s);
        const Change* fewer = find(list, "fewer_cells");
        return fewer != nullptr ? fewer->changed.flight.parts[0].throttle_pct : 0;
    };
    CHECK(offered_at(0.85) < 97);
    CHECK(offered_at(0.95) < 97);
    CHECK(offered_at(0.97) == 0);  // between the last throttle that chops and full throttle
    CHECK(offered_at(1.02) == 0);
}

TEST_CASE("candidates: the wait between flights is told, longer after a hotter landing") {
    Setup s = holding(six_cell_drive(), 75);
    const auto minutes = [&](double start_C) {
        s.flight.start_C = start_C;
        const std::vector<Candidate> list = candidates_of(s);
        const Change* wait = find(list, "cool_first");
        REQUIRE(wait != nullptr);
        CHECK_FALSE(wait->changed.flight.start_C.has_value());
        double said = 0;
        REQUIRE(std::sscanf(wait->cost.c_str(), "about %lf minutes", &said) == 1);
        return said;
    };
    const double warm = minutes(40);
    const double hot = minutes(80);
    // Until within 3 K of the air, begun minutes told in full.
    const Plant p = median_plant(s);
    HeatState landed{80, 80, 80, 25, 25};
    CHECK(hot == std::ceil(*cool_down_seconds(p, landed, 3) / 60));
    CHECK(hot > std::ceil(*cool_down_seconds(p, landed, 4) / 60));
    CHECK(warm >= 1);
    CHECK(hot > warm);
    // A body that cools at a steady rate takes ln(55/3) / ln(15/3) times as long.
    CHECK_THAT(hot / warm, WithinAbs(std::log(55.0 / 3) / std::log(15.0 / 3), 0.6));
    s.flight.start_C = 27;
    CHECK(find(candidates_of(s), "cool_first") == nullptr);
}

TEST_CASE("changes: a pair is offered where no single change keeps the limit, and only there") {
    Setup s = holding(six_cell_drive(), 85);
    s.air.cooling = Cooling::closed;
    const auto report = [&](double limit_C) {
        s.esc.limit_C = limit_C;
        return advise(s, {.samples = 64});
    };
    const auto pair_in = [](const Report& r) {
        return std::find_if(r.changes.begin(), r.changes.end(),
                            [](const Change& c) { return !c.ids.empty(); });
    };
    int with_pair = 0;
    int without = 0;
    for (const double limit_C : {30.0, 45.0, 55.0, 65.0, 80.0, 130.0}) {
        const Report r = report(limit_C);
        const auto pair = pair_in(r);
        const auto kept_by_one = std::count_if(
            r.changes.begin(), r.changes.end(),
            [](const Change& c) { return c.ids.empty() && c.keeps_limit.value_or(false); });
        INFO(limit_C << " deg C");
        if (pair == r.changes.end()) {
            ++without;
            continue;
        }
        ++with_pair;
        CHECK(kept_by_one == 0);
        CHECK(*r.esc.chance_over_limit > 1 - sure);
        REQUIRE(pair->ids.size() == 2);
        CHECK(pair->id == pair->ids[0] + "+" + pair->ids[1]);
        CHECK(pair == r.changes.begin());
        const Report made = advise(pair->changed, {.samples = 64});
        CHECK_THAT(*pair->esc_peak_change_K,
                   WithinAbs(made.esc.peak_C.p50 - r.esc.peak_C.p50, 0.05));
        CHECK(*pair->keeps_limit == (*made.esc.chance_over_limit <= 1 - sure + 1e-9));
        for (const Change& single : r.changes) {
            CHECK((!single.ids.empty() || *single.esc_peak_change_K > *pair->esc_peak_change_K));
        }
    }
    CHECK(with_pair > 0);
    CHECK(without > 0);
}
