// Does a change do what it says? Against flying the changed setup, and in known cases.
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "advice.hpp"
#include "advise/advise.hpp"
#include "advise/trial.hpp"
#include "drives.hpp"
#include "near.hpp"
#include "sane_setups.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

// With no more draws than a change is flown on, its numbers are those of the changed setup's own
// report; with more they follow from the first ones.
constexpr int every_draw_flown = static_cast<int>(most_trial_draws);

Setup in_a_closed_bay() {
    Setup s = small_drive();
    s.esc.freewheel = Freewheel::unknown;
    s.air.cooling = Cooling::closed;
    s.load.full_throttle_A = 20;
    s.flight.parts = {part_of(65, 60), part_of(100, 10)};
    return s;
}

const Change* find(const Report& r, const std::string& id) { return find_change(r.changes, id); }

MeasuredRow read_row(double throttle_pct, double pack_A, double peak_C) {
    MeasuredRow row;
    row.throttle_pct = throttle_pct;
    row.pack_A = pack_A;
    row.hold_s = 120;
    row.start_C = 25;
    row.esc_peak_C = peak_C;
    return row;
}

}  // namespace

TEST_CASE("changes: each keeps its number when it is made") {
    std::vector<Setup> setups = {in_a_closed_bay(), holding(six_cell_drive(), 75)};
    setups.push_back(holding(six_cell_drive(), 75));
    setups.back().esc.freewheel = Freewheel::unknown;
    setups.back().measured = {read_row(75, 55, 52), read_row(100, 105, 49)};
    setups.push_back(in_a_closed_bay());
    setups.back().measured = {read_row(65, 8, 60), read_row(100, 20, 66)};
    int told = 0;
    for (const Setup& s : setups) {
        const Report before = advise(s, {.samples = every_draw_flown});
        for (const Change& c : before.changes) {
            if (!c.esc_peak_change_K) {
                continue;
            }
            INFO(c.id);
            const Report after = advise(c.changed, {.samples = every_draw_flown});
            // Where readings stay they are fitted anew.
            CHECK_THAT(*c.esc_peak_change_K, WithinAbs(after.esc.peak_C.p50 - before.esc.peak_C.p50,
                                                       s.measured.empty() ? 0.05 : 0.5));
            CHECK_THAT(c.flight_change_s,
                       WithinAbs(after.flight.seconds - before.flight.seconds, 2));
            if (s.measured.empty()) {
                REQUIRE(after.esc.chance_over_limit);
                CHECK(*c.keeps_limit == (*after.esc.chance_over_limit <= 1 - sure + 1e-9));
            }
            ++told;
        }
    }
    CHECK(told > 15);
}

TEST_CASE("changes: whether the limit is kept turns where nine in ten keep it") {
    Setup s = in_a_closed_bay();
    int kept = 0;
    int not_kept = 0;
    for (const double limit_C : {40.0, 42.0, 44.0, 47.0, 50.0, 55.0, 60.0, 80.0}) {
        s.esc.limit_C = limit_C;
        const Report r = advise(s, {.samples = every_draw_flown});
        const Change* open = find(r, "mount_open");
        REQUIRE(open != nullptr);
        const Report after = advise(open->changed, {.samples = every_draw_flown});
        CHECK(*open->keeps_limit == (*after.esc.chance_over_limit <= 1 - sure + 1e-9));
        (*open->keeps_limit ? kept : not_kept) += 1;
        // those that keep it come first
        CHECK(std::is_sorted(
            r.changes.begin(), r.changes.end(),
            [](const Change& a, const Change& b) { return *a.keeps_limit && !*b.keeps_limit; }));
    }
    CHECK(kept > 0);
    CHECK(not_kept > 0);
}

TEST_CASE("changes: air in a closed bay helps, surely and most, nothing is offered that is there") {
    const Report r = advise(in_a_closed_bay(), {.samples = 64});
    for (const char* id : {"mount_open", "vent_bay"}) {
        const Change* air = find(r, id);
        REQUIRE(air != nullptr);
        CHECK(*air->esc_peak_change_K < -5);
        CHECK(*air->chance_helps > 0.95);
        CHECK(air->esc_peak_change_band_K->p10 < air->esc_peak_change_band_K->p50);
        CHECK(air->esc_peak_change_band_K->p50 < air->esc_peak_change_band_K->p90);
    }
    const Report open = advise(find(r, "mount_open")->changed, {.samples = 64});
    CHECK(find(open, "mount_open") == nullptr);
    CHECK(find(open, "vent_bay") == nullptr);
    CHECK(find(r, "shade") == nullptr);
    Setup sunny = in_a_closed_bay();
    sunny.air.sun = true;
    CHECK(find(advise(sunny, {.samples = 64}), "shade") != nullptr);
}

TEST_CASE("changes: an active freewheel helps where there is a diode") {
    Setup s = holding(six_cell_drive(), 60);
    s.esc.freewheel = Freewheel::diode;
    const Report diode = advise(s, {.samples = 64});
    REQUIRE(find(diode, "active_freewheel") != nullptr);
    // of twenty one has it already, and with one in twenty it does not come
    CHECK_THAT(*find(diode, "active_freewheel")->chance_helps, WithinAbs(0.9, 0.05));
    s.esc.freewheel = Freewheel::unknown;
    const Report unknown = advise(s, {.samples = 64});
    REQUIRE(find(unknown, "active_freewheel") != nullptr);
    // not at all in those draws that have one already
    CHECK_THAT(*find(unknown, "active_freewheel")->chance_helps,
               WithinAbs(1 - chance_of_active(s), 0.1));
    CHECK(*find(unknown, "active_freewheel")->esc_peak_change_K >
          *find(diode, "active_freewheel")->esc_peak_change_K);
    s.esc.freewheel = Freewheel::active;
    CHECK(find(advise(s, {.samples = 64}), "active_freewheel") == nullptr);
}

TEST_CASE("changes: none is worse, unless it is named as a trade") {
    for (size_t i = 0; i < sane_setups.size(); i += 3) {
        const Sketch& sketch = sane_setups[i];
        const Setup s = setup_of(sketch);
        const Report r = advise(s, {.samples = 16});
        for (const Change& c : r.changes) {
            INFO(sketch.name << ": " << c.id);
            const double K = c.esc_peak_change_K.value_or(0);
            CHECK((K < 0.5 || c.cost.find("trade") != std::string::npos));
            CHECK((K <= -0.5 || c.flight_change_s >= 5 ||
                   c.changed.esc.pwm_Hz == r.pwm.recommended_Hz));
        }
    }
}

TEST_CASE("changes: what breaks something else is told where the limit is not kept, and last") {
    // A tenth more of gearing, and this rotor no longer keeps its speed in the hardest part.
    Setup s = six_cell_rotor(1500);
    s.flight.parts = {part_of(100, 60), part_of(150, 10)};
    const auto keeps_speed = [](const Setup& of) {
        return !advise(of, {.samples = 0}).flight.governor_saturates;
    };
    const auto geared = [&](double ratio) {
        Setup out = s;
        out.load.gear_ratio = ratio;
        return out;
    };
    double last = 4;  // the last ratio that keeps it
    while (keeps_speed(geared(1.02 * last))) {
        last *= 1.02;
    }
    s = geared(last);
    REQUIRE(keeps_speed(s));
    REQUIRE_FALSE(keeps_speed(geared(1.1 * last)));
    const double peak_C = advise(s, {.samples = 0}).esc.peak_C.p50;
    s.esc.limit_C = peak_C + 5;
    CHECK(find(advise(s, {.samples = 0}), "shorter_gearing") == nullptr);
    s.esc.limit_C = peak_C - 1;
    const Report hot = advise(s, {.samples = 0});
    const Change* told = find(hot, "shorter_gearing");
    REQUIRE(told != nullptr);
    CHECK(has(told->cost, "; then the rotor cannot keep its speed in the hardest part"));
    CHECK(told == &hot.changes.back());
    REQUIRE(hot.changes.size() > 1);
    for (const Change& c : hot.changes) {
        INFO(c.id << ": " << c.cost);
        CHECK(has(c.cost, "then the rotor") == !keeps_speed(c.changed));
    }
    // a rotor that has no reserve left has none to give
    s = geared(1.03 * last);
    REQUIRE_FALSE(keeps_speed(s));
    CHECK(find(advise(s, {.samples = 0}), "shorter_gearing") == nullptr);
    // at a gearing with something in reserve it is a change like the others
    s = geared(last / 1.3);
    const Change* free = find(advise(s, {.samples = 0}), "shorter_gearing");
    CHECK((free == nullptr || !has(free->cost, "then")));
}

TEST_CASE("changes: a gearing with which a rotor never reaches its speed says so") {
    // A pack that lands nearly as full as it started: what it no longer keeps it never reaches.
    Setup s = six_cell_rotor(1500);
    s.pack.reserve_pct = 80;
    s.pack.capacity_mAh = 30000;
    s.esc.rating_A = 80;
    s.air.cooling = Cooling::closed;
    s.flight.parts = {part_of(100, 60)};
    const auto keeps_speed = [&](double ratio) {
        s.load.gear_ratio = ratio;
        return !advise(s, {.samples = 0}).flight.governor_saturates;
    };
    double last = 4;
    while (keeps_speed(1.02 * last)) {
        last *= 1.02;
    }
    s.load.gear_ratio = last;
    s.esc.limit_C = advise(s, {.samples = 0}).esc.peak_C.p50 - 3;
    const Report hot = advise(s, {.samples = 0});
    const Change* told = find(hot, "shorter_gearing");
    REQUIRE(told != nullptr);
    CHECK(has(told->cost, "; then the rotor never reaches its speed, not even on the full pack"));
}

TEST_CASE("changes: a check that fails with it, and not without, is part of its cost") {
    // An ESC that is too small, in a closed bay: at half the frequency the current swings beyond
    // its burst rating at part throttle, which it did not before; at full throttle it did.
    Setup s = six_cell_drive();
    s.esc.rating_A = 40;
    s.esc.pwm_Hz = 16000;
    s.esc.freewheel = Freewheel::unknown;
    s.load.full_throttle_A = 60;
    s.air.cooling = Cooling::closed;
    s.flight.parts = {part_of(70, 60), part_of(100, 10)};
    const Report before = advise(s, {.samples = 0});
    const auto fails = [](const Report& r, const std::string& key) {
        return std::any_of(r.verdict.reasons.begin(), r.verdict.reasons.end(),
                           [&](const Reason& reason) { return reason.key == key; });
    };
    REQUIRE(fails(before, "burst_A"));
    int named = 0;
    for (const Change& c : before.changes) {
        INFO(c.id << ": " << c.cost);
        const bool fails_then = fails(advise(c.changed, {.samples = 0}), "part_throttle_burst_A");
        CHECK(has(c.cost,
                  "A highest motor current within the PWM period, at part throttle, where "
                  "at most 48 A is right") == fails_then);
        CHECK_FALSE(has(c.cost, "at full throttle, where"));
        named += fails_then ? 1 : 0;
    }
    CHECK(named > 0);
}

TEST_CASE(
    "changes: a check that fails already is part of the cost where it then forbids the flight") {
    // At half the frequency the current swings beyond one and a half times the burst rating, at the
    // present one less far beyond it.
    Setup s = six_cell_drive();
    s.esc.rating_A = 35;
    s.esc.burst_A = 35.6;
    s.esc.pwm_Hz = 16000;
    s.esc.pwm_choices_Hz = {8000, 16000};
    s.load.full_throttle_A = 60;
    s.motor.inductance_uH = 16;
    s.air.cooling = Cooling::closed;
    s.flight.parts = {part_of(70, 60)};
    const auto swing = [](const Setup& of) {
        const Report r = advise(of, {.samples = 0});
        const std::vector<CheckItem>& items = r.checks.rating.items;
        return *std::find_if(items.begin(), items.end(), [](const CheckItem& item) {
            return item.key == "part_throttle_burst_A";
        });
    };
    REQUIRE_FALSE(swing(s).ok);
    REQUIRE_FALSE(swing(s).serious);
    const Report r = advise(s, {.samples = 0});
    int forbid = 0;
    for (const Change& c : r.changes) {
        INFO(c.id << ": " << c.cost);
        const bool then = swing(c.changed).serious;
        CHECK(has(c.cost, "at part throttle, where at most 35.6 A is right") == then);
        forbid += then ? 1 : 0;
    }
    CHECK(forbid > 0);
    CHECK(forbid < static_cast<int>(r.changes.size()));
}

TEST_CASE("changes: a value beyond its field is not offered") {
    Setup s = holding(six_cell_drive(), 75);
    s.esc.capacitor_uF = 60000;
    s.pack.lead_length_cm = 60;
    const Report within = advise(s, {.samples = 16});
    // its own double would be beyond the field's 100000 uF
    CHECK(find(within, "more_capacitance") == nullptr);
    for (const Change& c : within.changes) {
        CHECK(c.changed.esc.capacitor_uF.value_or(0) <= 100000);
    }
}

TEST_CASE("changes: where the heat runs away each change ends it, and says near what") {
    const Report r = advise(overloaded_in_a_bay(40), {.samples = 64});
    REQUIRE(r.esc.runaway);
    CHECK_FALSE(r.changes.empty());
    for (const Change& c : r.changes) {
        INFO(c.id);
        CHECK_FALSE(c.esc_peak_change_K.has_value());
        const Report after = advise(c.changed, {.samples = 64});
        CHECK_FALSE(after.esc.runaway);
        // Trials fly in longer steps: a whole degree may round the other way for it.
        constexpr double steps_K = 0.1;
        const auto says = [&](double celsius) {
            return c.text.find("near " + degrees(celsius, Scale::celsius)) != std::string::npos;
        };
        INFO(c.text);
        CHECK((says(after.esc.peak_C.p50 - steps_K) || says(after.esc.peak_C.p50 + steps_K)));
    }
}

TEST_CASE("changes: readings are left behind by what replaces the part, and it is said") {
    Setup s = holding(six_cell_drive(), 75);
    s.measured = {read_row(75, 55, 60), read_row(100, 105, 52)};
    const Report r = advise(s, {.samples = 32});
    const Change* bigger = find(r, "bigger_esc");
    REQUIRE(bigger != nullptr);
    // the load was known from their currents alone
    REQUIRE(bigger->changed.measured.size() == 2);
    for (size_t i = 0; i < 2; ++i) {
        CHECK(bigger->changed.measured[i].pack_A == s.measured[i].pack_A);
        CHECK(bigger->changed.measured[i].hold_s == s.measured[i].hold_s);
        CHECK_FALSE(bigger->changed.measured[i].esc_peak_C.has_value());
    }
    CHECK(bigger->cost.find("no longer count") != std::string::npos);
    for (const Change& c : r.changes) {
        if (c.id.starts_with("pwm_")) {
            REQUIRE(c.changed.measured.size() == 2);
            CHECK(c.changed.measured[0].pwm_Hz == s.esc.pwm_Hz);
            CHECK(c.cost.find("no longer count") == std::string::npos);
        }
    }
}

TEST_CASE("trial: what the first draws did, the others are taken to do") {
    // A change whose ratio of rises follows two of the unknowns, one of them bent: each and the
    // next, for what sixty-four draws tell of a pair is a matter of luck.
    const Setup s = holding(six_cell_drive(), 75);
    Draws draws = draw_plants(s, calibrate(s), 256);
    const size_t rows = draws.z.size() / 256;
    std::vector<Outcome> after;
    double off_K2 = 0;
    double one_mean_K2 = 0;  // were one mean change taken for all
    double middle_K2 = 0;
    for (size_t pair = 0; pair + 1 < rows; ++pair) {
        draws.flight.clear();
        after.clear();
        for (size_t k = 0; k < 256; ++k) {
            const double a = draws.z[k * rows + pair];
            const double b = draws.z[k * rows + pair + 1];
            Outcome o;
            o.peak_C = 25 + 40 * std::exp(0.2 * a);
            o.seconds = 300 * std::exp(0.1 * b);
            draws.flight.push_back(o);
            o.peak_C = 5 + (o.peak_C - 5) * std::exp(-0.2 + 0.05 * a + 0.02 * b * b);
            o.seconds *= std::exp(0.1 + 0.02 * a);
            after.push_back(o);
        }
        const std::vector<Outcome> all =
            Trial(s, draws).all({after.begin(), after.begin() + most_trial_draws});
        REQUIRE(all.size() == 256);
        double mean_K = 0;
        double mean_K2 = 0;
        for (size_t k = 0; k < 256; ++k) {
            const double change_K = after[k].peak_C - draws.flight[k].peak_C;
            off_K2 += std::pow(all[k].peak_C - after[k].peak_C, 2) / 256;
            mean_K += change_K / 256;
            mean_K2 += change_K * change_K / 256;
        }
        one_mean_K2 += mean_K2 - mean_K * mean_K;
        middle_K2 += std::pow(peak_band(all).p50 - peak_band(after).p50, 2);
    }
    CHECK(off_K2 < one_mean_K2);
    CHECK(std::sqrt(middle_K2 / static_cast<double>(rows - 1)) < 0.3);

    const double never = std::numeric_limits<double>::infinity();
    after[3].peak_C = never;
    CHECK(peak_differences({draws.flight[3]}, {after[3]}).front() == never);
    draws.flight[3].peak_C = never;
    CHECK(peak_differences({draws.flight[3]}, {after[3]}).front() == 0);
}
