// Which frequency, and how sure? Known answers, and the sentence against the table.
#include <algorithm>
#include <cmath>

#include "advice.hpp"
#include "advise/advise.hpp"
#include "advise/rooms.hpp"
#include "drives.hpp"
#include "near.hpp"
#include "sane_setups.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

Setup cruising(double inductance_uH) {
    Setup s = holding(six_cell_drive(), 60);
    s.esc.pwm_Hz = 16000;
    s.esc.pwm_choices_Hz = {8000, 16000, 32000};
    if (inductance_uH > 0) {
        s.motor.inductance_uH = inductance_uH;
    }
    return s;
}

const PwmChoice& choice(const Report& r, double pwm_Hz) { return choice_of(r.pwm.choices, pwm_Hz); }

bool says(const Report& r, const std::string& words) {
    return r.pwm.text.find(words) != std::string::npos;
}

}  // namespace

TEST_CASE("pwm: chances add up to one, and the present choice peaks where the verdict does") {
    for (size_t i = 1; i < sane_setups.size(); i += 3) {
        const Sketch& sketch = sane_setups[i];
        INFO(sketch.name);
        const Report r = advise(setup_of(sketch), {.samples = 32});
        double sum = 0;
        for (const PwmChoice& c : r.pwm.choices) {
            sum += *c.chance_best;
            const Band& b = *c.esc_peak_band_C;
            CHECK(b.p10.value_or(b.p50) <= b.p50);
            CHECK(b.p90.value_or(b.p50) >= b.p50);
            CHECK((c.runaway || c.esc_peak_C == b.p50));
        }
        CHECK_THAT(sum, WithinAbs(1, 1e-9));  // rounding of 32 shares
        const PwmChoice& present = choice(r, setup_of(sketch).esc.pwm_Hz);
        CHECK((r.esc.runaway || std::abs(present.esc_peak_C - r.esc.peak_C.p50) < 1e-9));
    }
}

TEST_CASE("pwm: choices that do the same share the chance, and none is recommended for it") {
    Setup s = cruising(0);
    s.flight.parts = {part_of(100, 60)};
    const Report r = advise(s, {.samples = 16});
    for (const PwmChoice& c : r.pwm.choices) {
        CHECK_THAT(*c.chance_best, WithinAbs(1.0 / 3, 1e-9));
    }
    CHECK(r.pwm.recommended_Hz == 16000);
}

TEST_CASE("pwm: the present one is kept before one that is no likelier the best, which is said") {
    // With a guessed inductance the middle plant and most draws may differ in what loses least.
    int left = 0;
    for (const Sketch& sketch : sane_setups) {
        INFO(sketch.name);
        const Report r = advise(setup_of(sketch), {.samples = 16});
        const double present = setup_of(sketch).esc.pwm_Hz;
        const double of_best = *choice(r, r.pwm.recommended_Hz).chance_best;
        CHECK((r.pwm.recommended_Hz == present || of_best > *choice(r, present).chance_best ||
               says(r, "No choice") || says(r, "runs away") || says(r, "more ripple")));
        const bool outdone =
            std::any_of(r.pwm.choices.begin(), r.pwm.choices.end(),
                        [&](const PwmChoice& c) { return *c.chance_best > of_best; });
        CHECK((!says(r, "None stands out") || outdone));
        CHECK((!says(r, "Chance that it is the best") || !outdone));
        left += says(r, "None stands out") ? 1 : 0;
    }
    CHECK(left > 0);
}

TEST_CASE("pwm: a motor of much inductance wants it low, one of little wants it high") {
    // A reactance of several times the usual, and of a tenth of it: far beyond what a guess spreads
    // over, so nearly sure (common practice, no source).
    const Report much = advise(cruising(200), {.samples = 64});
    CHECK(much.pwm.recommended_Hz == 8000);
    CHECK(*choice(much, 8000).chance_best > 0.95);
    CHECK(choice(much, 8000).esc_peak_C < choice(much, 32000).esc_peak_C);
    const Report little = advise(cruising(1.5), {.samples = 64});
    CHECK(little.pwm.recommended_Hz == 32000);
    CHECK(*choice(little, 32000).chance_best > 0.7);
    // that loses least, but one draw in ten passes the limit there and not at 8 kHz
    CHECK(*choice(little, 32000).esc_peak_band_C->p90 > 100);
    CHECK(*choice(little, 8000).esc_peak_band_C->p90 < 100);
    CHECK(says(little, "Not with 90 % chance: 8 kHz keeps the limit so surely."));
    CHECK_FALSE(says(much, "Not with 90 %"));
    Setup hotter = cruising(1.5);
    hotter.air.temperature_C += 10;
    CHECK(says(advise(hotter, {.samples = 64}), "Not with 90 % chance: none does."));
    // and the sentence gives the price of what it recommends
    const PwmChoice& best = choice(much, 8000);
    const PwmChoice& present = choice(much, 16000);
    CHECK(says(much, change_text(best.esc_peak_C - present.esc_peak_C, Scale::celsius)));
    CHECK(says(much, say("%+.1f W", best.total_loss_W - present.total_loss_W)));
    CHECK(says(much, say("best of these: %.0f %%", 100 * *best.chance_best)));
}

TEST_CASE("pwm: one that keeps the margin goes before one that loses less") {
    Setup s = cruising(6);
    const Report free = advise(s, {.samples = 64});
    REQUIRE(free.pwm.recommended_Hz == 32000);
    // A limit between the two: only the lower frequency keeps its margin.
    const double low = choice(free, 8000).esc_peak_C;
    const double high = choice(free, 32000).esc_peak_C;
    REQUIRE(low + 3 < high);  // K; room for a limit in whole degrees between the two
    s.esc.limit_C = std::round(0.5 * (low + high)) + margin_K;
    const Report tight = advise(s, {.samples = 64});
    CHECK(tight.pwm.recommended_Hz != 32000);
    // None does: the coolest.
    s.esc.limit_C = std::round(low - 5) + margin_K;
    const Report none = advise(s, {.samples = 64});
    CHECK(none.pwm.recommended_Hz == 8000);
    CHECK(says(none, "No choice keeps"));
}

TEST_CASE("pwm: whether a choice keeps the margin is decided by the draws, as the table says it") {
    // A limit between what the middle plant peaks at with the coolest choice and what the draws do.
    Setup s = cruising(6);
    const double middle_C = choice(advise(s, {.samples = 0}), 8000).esc_peak_C;
    const double draws_C = choice(advise(s, {.samples = 32}), 8000).esc_peak_C;
    REQUIRE(std::abs(middle_C - draws_C) > 0.02);
    s.esc.limit_C = 0.5 * (middle_C + draws_C) + margin_K;
    CHECK(says(advise(s, {.samples = 0}), "No choice keeps") == (middle_C > draws_C));
    CHECK(says(advise(s, {.samples = 32}), "No choice keeps") == (draws_C > middle_C));
}

TEST_CASE("pwm: that it hardly matters, and that the inductance decides, only where it is so") {
    int matters = 0;
    int decided = 0;
    for (size_t i = 0; i < sane_setups.size(); i += 2) {
        const Sketch& sketch = sane_setups[i];
        const Setup s = setup_of(sketch);
        INFO(sketch.name);
        const Report r = advise(s, {.samples = 32});
        if (says(r, "never chops")) {
            continue;
        }
        const auto [cool, hot] = std::minmax_element(
            r.pwm.choices.begin(), r.pwm.choices.end(),
            [](const PwmChoice& a, const PwmChoice& b) { return a.esc_peak_C < b.esc_peak_C; });
        const double spread_K = hot->esc_peak_C - cool->esc_peak_C;
        if (says(r, "hardly matters")) {
            CHECK(spread_K < 2);  // K; what the rule calls alike
            CHECK(says(r, difference(spread_K, Scale::celsius, 1)));
        } else {
            ++matters;
        }
        if (says(r, "inductance decides")) {
            CHECK_FALSE(s.motor.inductance_uH);
            CHECK(*choice(r, r.pwm.recommended_Hz).chance_best < 0.7);  // the rule's own doubt
            ++decided;
        }
    }
    CHECK(matters > 0);
    CHECK(decided > 0);
    // A flight of which a few per cent is chopped, by a motor of much inductance.
    Setup s = cruising(60);
    s.esc.pwm_choices_Hz = {8000, 16000};
    FlightPart full;
    full.throttle_pct = 100;
    full.seconds = 60;
    s.flight.parts[0].seconds = 8;
    s.flight.parts.push_back(full);
    const Report r = advise(s, {.samples = 32});
    CHECK(says(r, "hardly matters"));
    CHECK(r.pwm.recommended_Hz == s.esc.pwm_Hz);
    s.flight.parts[0].seconds = 600;
    CHECK_FALSE(says(advise(s, {.samples = 32}), "hardly matters"));
}

TEST_CASE("pwm: a choice that overdraws the capacitors comes after one that does not") {
    Setup s = cruising(200);
    const Report free = advise(s, {.samples = 32});
    REQUIRE(free.pwm.recommended_Hz == 8000);
    const double at_8 = choice(free, 8000).capacitor_rms_A;
    const double at_32 = choice(free, 32000).capacitor_rms_A;
    REQUIRE(std::abs(at_8 - at_32) > 0.2);
    // A bank told to carry less than the one and more than the other.
    s.esc.capacitor_ripple_A = 0.5 * (at_8 + at_32);
    s.esc.pwm_Hz = at_8 > at_32 ? 8000 : 32000;
    s.esc.pwm_choices_Hz = {8000, 32000};
    const Report bound = advise(s, {.samples = 32});
    CHECK(bound.pwm.recommended_Hz == (at_8 > at_32 ? 32000 : 8000));
    CHECK(says(bound, say("At %.0f kHz the capacitors carry more ripple", s.esc.pwm_Hz * 1e-3)));
    // Where all overdraw it, it is said of the one recommended.
    s.esc.capacitor_ripple_A = 0.5 * std::min(at_8, at_32);
    const Report all = advise(s, {.samples = 32});
    CHECK(says(all, say("carry %.0f A of ripple there",
                        choice(all, all.pwm.recommended_Hz).capacitor_rms_A)));
    CHECK_FALSE(says(all, "carry more ripple than they are made for."));
}

TEST_CASE("pwm: work below full throttle that is next to nothing decides nothing") {
    Setup s = cruising(200);
    s.esc.full_on_pct = 97;
    FlightPart full;
    full.throttle_pct = 100;
    full.seconds = 60;
    // Shaft power goes with about the cube of throttle: at 25 % a sixtieth, over as long a time.
    FlightPart little;
    little.throttle_pct = 25;
    little.seconds = 30;
    s.flight.parts = {full, little};
    const Report hardly = advise(s, {.samples = 16});
    CHECK(hardly.pwm.recommended_Hz == s.esc.pwm_Hz);
    CHECK(says(hardly, "next to none of its work below full throttle"));
    s.flight.parts[1].throttle_pct = 60;
    CHECK_FALSE(says(advise(s, {.samples = 16}), "does not matter"));
    s.flight.parts = {full};
    CHECK(says(advise(s, {.samples = 16}), "never chops"));
    // Nor does the last digit of what it loses make one the best.
    for (const PwmChoice& c : advise(s, {.samples = 16}).pwm.choices) {
        CHECK_THAT(*c.chance_best, WithinRel(1.0 / 3, 1e-12));
    }
}

namespace {

// A large slow motor on many cells: much ripple at a low frequency, much heat of the ESC at a high
// one.
Setup giant(double cells, double rating_A, double full_A, double throttle_pct) {
    Setup s;
    s.pack.cells = static_cast<int>(cells);
    s.pack.capacity_mAh = 9000;
    s.esc.rating_A = rating_A;
    s.esc.pwm_Hz = 8000;
    s.motor.kv_rpm_per_V = 2280 / cells;
    s.motor.poles = 26;
    s.load.full_throttle_A = full_A;
    s.load.diameter_cm = 70;
    s.load.pitch_cm = 30;
    s.flight.parts = {part_of(throttle_pct, 60), part_of(100, 8)};
    for (FlightPart& part : s.flight.parts) {
        part.flight_speed_mps = 20;
    }
    return s;
}

}  // namespace

TEST_CASE("pwm: of those that lose hardly more the coolest, where the limit is not kept surely") {
    Setup s = giant(14, 250, 210, 55);
    s.esc.freewheel = Freewheel::active;
    s.esc.surface_cm2 = 600;
    s.esc.mass_g = 420;
    const Report unsure = advise(s, {.samples = 64});
    const PwmChoice& mid = choice(unsure, 16000);
    const PwmChoice& high = choice(unsure, 24000);
    // 24 kHz loses least by less than a watt, and is hotter by more than two kelvin
    REQUIRE(high.esc_peak_C < s.esc.limit_C - margin_K);
    REQUIRE(high.total_loss_W < mid.total_loss_W);
    REQUIRE(mid.total_loss_W - high.total_loss_W < 0.02 * choice(unsure, 8000).total_loss_W);
    REQUIRE(high.esc_peak_C > mid.esc_peak_C + 2);
    REQUIRE(high.esc_peak_band_C->p90.value_or(1e9) > s.esc.limit_C);
    CHECK(unsure.pwm.recommended_Hz == 16000);
    // also where the hotter one is what there is: windings at which the two lose alike
    Setup hotter = s;
    hotter.esc.pwm_Hz = 24000;
    int alike = 0;
    for (double uH = 6; uH < 10; uH += 0.25) {
        hotter.motor.inductance_uH = uH;
        const Report r = advise(hotter, {.samples = 64});
        const double less_W = choice(r, 24000).total_loss_W - choice(r, 16000).total_loss_W;
        const bool margin = choice(r, 24000).esc_peak_C < s.esc.limit_C - margin_K;
        if (margin && less_W > -1 && less_W < 1) {
            CHECK(r.pwm.recommended_Hz == 16000);
            ++alike;
        }
    }
    CHECK(alike > 0);
    // A higher limit that all of them keep surely leaves it to the loss.
    s.esc.limit_C = 150;
    s.esc.surface_cm2 = 1500;
    s.esc.freewheel_sure = true;
    s.air.temperature_C = 0;
    const Report sure_of_it = advise(s, {.samples = 64});
    REQUIRE(choice(sure_of_it, 24000).esc_peak_band_C->p90.value_or(1e9) < 150);
    const double least_W =
        std::min(choice(sure_of_it, 16000).total_loss_W, choice(sure_of_it, 24000).total_loss_W);
    CHECK(choice(sure_of_it, sure_of_it.pwm.recommended_Hz).total_loss_W == least_W);
}

TEST_CASE(
    "pwm: the present choice stays only where the better one is better in half of the draws") {
    const Setup s = giant(12, 200, 150, 50);
    const Report r = advise(s, {.samples = 64});
    const PwmChoice& present = choice(r, 8000);
    const PwmChoice& mid = choice(r, 16000);
    // The draws share their votes among three, and most of them are against the present one.
    REQUIRE(present.total_loss_W > mid.total_loss_W + 50);
    REQUIRE(*present.chance_best < 0.5);
    CHECK(r.pwm.recommended_Hz != 8000);
    CHECK_FALSE(says(r, "as good as any"));
}

TEST_CASE("pwm: what some choices lose to their heat and others do not matters, chopping or not") {
    Setup s = six_cell_drive();
    s.load = {};
    s.load.kind = LoadKind::governed;
    s.load.hover_A = 30;
    s.load.rotor_rpm = 2600;
    s.load.gear_ratio = 10;
    s.motor.kv_rpm_per_V = 1300;
    s.motor.poles = 8;
    s.motor.resistance_mOhm = 28;
    s.pack.capacity_mAh = 3000;
    s.esc.rating_A = 50;
    s.esc.pwm_Hz = 8000;
    s.esc.freewheel = Freewheel::diode;
    s.esc.bec_kind = BecKind::linear;
    s.esc.bec_A = 1.5;
    s.air.temperature_C = 48;
    s.air.cooling = Cooling::closed;
    s.flight.parts = {part_of(130, 60)};
    const Report r = advise(s, {.samples = 64});
    REQUIRE_FALSE(choice(r, 8000).runaway);
    REQUIRE(choice(r, 24000).runaway);
    CHECK_FALSE(says(r, "does not matter"));
    CHECK(r.pwm.recommended_Hz == 8000);
}
