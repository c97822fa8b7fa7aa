// What is listed as assumed: every prior that is used with its range, and the plain defaults where
// nothing was told.
#include <cmath>

#include "advice.hpp"
#include "advise/rooms.hpp"
#include "drives.hpp"
#include "setup/field_table.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

const Assumption* find_assumption(const std::vector<Assumption>& all, const std::string& key) {
    const auto found =
        std::find_if(all.begin(), all.end(), [&](const Assumption& a) { return a.key == key; });
    return found == all.end() ? nullptr : &*found;
}

std::vector<Assumption> listed_of(const Setup& s, const Calibration& c) {
    return list_assumptions(s, c, middle_plant(s, c.belief));
}
std::vector<Assumption> listed_of(const Setup& s) { return listed_of(s, calibrate(s)); }

}  // namespace

TEST_CASE("assumptions: priors are listed with the range that holds four draws in five") {
    const Setup s = six_cell_drive();
    const Calibration c = calibrate(s);
    const Belief& b = c.belief;
    const auto listed = listed_of(s, c);
    size_t used = 0;
    for (const Prior& prior : b.priors) {
        const Assumption* a = find_assumption(listed, std::string(prior.key));
        CHECK((a != nullptr) == prior.used);
        if (a != nullptr) {
            ++used;
            CHECK_FALSE(a->basis.empty());
            CHECK(a->told == prior.told);
            if (prior.key == "esc.freewheel") {
                CHECK_THAT(a->value, WithinAbs(0.05, 1e-12));
                CHECK((a->low == 0 && a->high == 1));
                continue;
            }
            CHECK(a->value == prior.median);
            // 1.28155 standard deviations to either side (M: normal table), of the logarithm but
            // for what is as likely so much above as below.
            const double off = 1.2815516 * prior.spread;
            const double low = prior.additive ? prior.median - off : prior.median * std::exp(-off);
            const double high = prior.additive ? prior.median + off : prior.median * std::exp(off);
            CHECK_THAT(a->low, WithinAbs(low, 1e-6 * (1 + std::abs(low))));
            CHECK_THAT(a->high, WithinAbs(high, 1e-6 * (1 + std::abs(high))));
        }
    }
    CHECK(listed.size() == used + 12);
}

TEST_CASE("assumptions: what was learned moves the value and narrows the range") {
    const Setup s = six_cell_drive();
    Calibration c = calibrate(s);
    Belief& b = c.belief;
    b.middle[0] = 1;
    b.factor[0] *= 0.5;
    const Assumption first = listed_of(s, c).front();
    const Prior& prior = b.priors.front();
    CHECK_THAT(first.value, WithinRel(prior_value(prior, 1), 1e-12));
    CHECK_THAT(first.high, WithinRel(prior_value(prior, 1 + 0.5 * z90), 1e-12));
}

TEST_CASE("assumptions: defaults are listed until they are told") {
    Setup s = six_cell_drive();
    s.air.temperature_C = 17;
    const auto untold = listed_of(s);
    CHECK(find_assumption(untold, "pack.sag_floor_V")->value == 3.2);
    CHECK(find_assumption(untold, "pack.temperature_C")->value == 17);
    CHECK(find_assumption(untold, "flight.start_C")->value == 17);
    CHECK_THAT(find_assumption(untold, "esc.burst_A")->value, WithinAbs(180, 1e-9));
    // 0.06 mm2 for an ampere, at most the thickest usual lead; two leads of 1.635 mm radius with
    // 3.27 mm between them; 5 A for 100 uF of the usual 10 uF for an ampere (common practice, no
    // source).
    CHECK_THAT(find_assumption(untold, "pack.lead_area_mm2")->value, WithinAbs(8.4, 1e-9));
    CHECK_THAT(find_assumption(untold, "pack.lead_spacing_mm")->value, WithinAbs(6.54, 0.01));
    CHECK_THAT(find_assumption(untold, "esc.capacitor_ripple_A")->value, WithinAbs(75, 1e-9));
    const double surface_cm2 = find_assumption(untold, "esc.surface_cm2")->value;
    CHECK_THAT(find_assumption(untold, "esc.length_cm")->value,
               WithinRel(0.75 * std::sqrt(surface_cm2), 1e-9));
    CHECK(between(30, find_assumption(untold, "load.diameter_cm")->value, 60));
    s.pack.sag_floor_V = 3.1;
    s.pack.temperature_C = 30;
    s.flight.start_C = 40;
    s.esc.burst_A = 200;
    s.pack.lead_area_mm2 = 5;
    s.pack.lead_spacing_mm = 9;
    s.esc.capacitor_ripple_A = 60;
    s.esc.length_cm = 9;
    s.load.diameter_cm = 45;
    const auto told = listed_of(s);
    for (const char* key : {"pack.sag_floor_V", "pack.temperature_C", "flight.start_C",
                            "esc.burst_A", "pack.lead_area_mm2", "pack.lead_spacing_mm",
                            "esc.capacitor_ripple_A", "esc.length_cm", "load.diameter_cm"}) {
        CHECK(find_assumption(told, key) == nullptr);
    }
    CHECK(burst_rating_A(s.esc) == 200);
}

TEST_CASE(
    "assumptions: still air and the throttle of full conduction are listed as they are taken") {
    const auto of = [](const Setup& s, const char* key) {
        const Assumption* a = find_assumption(listed_of(s), key);
        return a != nullptr ? std::optional(a->value) : std::nullopt;
    };
    Setup s = six_cell_drive();
    CHECK(of(s, "air.flight_speed_mps") == 0);
    CHECK(of(s, "esc.full_on_pct") == 97);
    s.air.flight_speed_mps = 12;
    s.esc.full_on_pct = 95;
    CHECK_FALSE(of(s, "air.flight_speed_mps"));
    CHECK_FALSE(of(s, "esc.full_on_pct"));
    s.esc.full_on_pct = 97;
    s.esc.drive = Drive::sinusoidal;
    CHECK_FALSE(of(s, "esc.full_on_pct"));
    const Setup rotor = six_cell_rotor(2000);
    CHECK_FALSE(of(rotor, "air.flight_speed_mps"));
    CHECK_FALSE(of(rotor, "esc.full_on_pct"));
}

TEST_CASE("assumptions: what may be estimated is listed where it is not told") {
    Setup rotor = six_cell_drive();
    rotor.load = {};
    rotor.load.kind = LoadKind::governed;
    rotor.load.mass_kg = 1.6;
    rotor.load.rotor_diameter_m = 0.254;
    rotor.load.rotors = 4;
    Setup heli = six_cell_rotor(2000);
    heli.load.gear_ratio.reset();
    Setup sinusoidal = six_cell_drive();
    sinusoidal.esc.drive = Drive::sinusoidal;
    sinusoidal.air.cooling = Cooling::closed;
    std::vector<Assumption> all = listed_of(six_cell_drive());
    for (const Setup& s : {rotor, heli, sinusoidal}) {
        const auto more = listed_of(s);
        all.insert(all.end(), more.begin(), more.end());
    }
    for (const FieldInfo& field : setup_infos()) {
        // A pitch only narrows what is known of the current.
        if (field.presence == Presence::estimated && field.key != "load.pitch_cm") {
            INFO(field.key);
            CHECK(find_assumption(all, std::string(field.key)) != nullptr);
        }
    }
    CHECK(find_assumption(listed_of(rotor), "load.figure_of_merit")->value == 0.7);
    CHECK(find_assumption(listed_of(rotor), "load.diameter_cm") == nullptr);
    CHECK(find_assumption(listed_of(six_cell_drive()), "load.figure_of_merit") == nullptr);
    rotor.load.figure_of_merit = 0.6;
    CHECK(find_assumption(listed_of(rotor), "load.figure_of_merit")->told);
    // (D) 72 % of Kv times half-way volts, over the head speed
    CHECK_THAT(find_assumption(listed_of(heli), "load.gear_ratio")->value,
               WithinRel(0.72 * 1100 * 6 * 3.84 / 2000, 1e-3));
    CHECK(find_assumption(listed_of(six_cell_rotor(2000)), "load.gear_ratio") == nullptr);
    const auto poles = [](Setup s, LoadKind kind, double count) {
        s.load.kind = kind;
        s.motor.count = count;
        return find_assumption(listed_of(s), "motor.poles")->value;
    };
    // inrunners of fans, outrunners of helicopters and of all others (common practice)
    CHECK(poles(six_cell_drive(), LoadKind::propeller, 1) == 14);
    CHECK(poles(six_cell_drive(), LoadKind::fan, 1) == 4);
    CHECK(poles(heli, LoadKind::governed, 1) == 10);
    CHECK(poles(rotor, LoadKind::governed, 4) == 14);
    heli.motor.poles = 8;
    CHECK(find_assumption(listed_of(heli), "motor.poles") == nullptr);
}
