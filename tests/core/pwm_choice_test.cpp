// Which frequency is chosen, by its rules alone: resonance, the margin, what is worth a change and
// what hardly matters, both sides of each bound. Without draws, on the middle plant.
#include <algorithm>
#include <cmath>

#include "advice.hpp"
#include "advise/advise.hpp"
#include "advise/candidates.hpp"
#include "advise/resonance.hpp"
#include "advise/trial.hpp"
#include "drives.hpp"
#include "physics/constants.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr Scale in = Scale::celsius;

Setup cruising(double inductance_uH, double throttle_pct = 60) {
    Setup s = holding(six_cell_drive(), throttle_pct);
    s.motor.inductance_uH = inductance_uH;
    return s;
}

PwmReport chosen(const Setup& s, Scale scale = in) {
    return compare_pwm(s, calibrate(s), {}, scale).report;
}

const PwmChoice& choice(const PwmReport& r, double pwm_Hz) { return choice_of(r.choices, pwm_Hz); }

// x between two ends where `falling` passes zero.
template <class F>
double where_zero(F&& falling, double low, double high) {
    for (int i = 0; i < 40; ++i) {
        const double x = 0.5 * (low + high);
        (falling(x) > 0 ? low : high) = x;
    }
    return 0.5 * (low + high);
}

// Long leads and small capacitors: little damping, and a resonance among the frequencies.
Setup ringing() {
    Setup s = cruising(200);
    s.pack.lead_length_cm = 60;
    s.pack.cell_resistance_mOhm = 1;
    s.esc.capacitor_uF = 150;
    s.esc.capacitor_esr_mOhm = 3;
    return s;
}

double resonance_Hz(const Setup& s) {
    const Plant p = median_plant(s);
    return 1 / (2 * pi * std::sqrt(p.u.lead_inductance * p.u.capacitance));
}

}  // namespace

TEST_CASE("pwm: a frequency at which leads and capacitors resonate is left for one that does not") {
    Setup s = ringing();
    const double f = std::round(resonance_Hz(s));
    REQUIRE(between(8000, f, 30000));
    s.esc.pwm_Hz = f;
    s.esc.pwm_choices_Hz = {3 * f};
    REQUIRE(resonates(median_plant(s)));
    // The higher one loses more, and is chosen all the same.
    PwmReport r = chosen(s);
    REQUIRE(choice(r, 3 * f).total_loss_W > choice(r, f).total_loss_W);
    CHECK(r.recommended_Hz == 3 * f);
    CHECK(has(r.text, say("At %.0f kHz leads and capacitors resonate.", f * 1e-3)));
    CHECK_FALSE(has(r.text, "close to it"));
    CHECK_THAT(choice(r, f).resonance_ratio, WithinAbs(1, 1e-3));
    CHECK_THAT(choice(r, 3 * f).resonance_ratio, WithinAbs(3, 3e-3));
    // Where every choice rings the one that loses least is, and it is said.
    s.esc.pwm_choices_Hz = {std::round(1.02 * f)};
    r = chosen(s);
    CHECK(has(r.text, "resonate close to it"));
    CHECK_FALSE(has(r.text, "At "));
    // Where the present one does not ring nothing is said of it.
    s.esc.pwm_Hz = 3 * f;
    s.esc.pwm_choices_Hz = {f};
    r = chosen(s);
    CHECK(r.recommended_Hz == 3 * f);
    CHECK_FALSE(has(r.text, "resonate"));
    // One that keeps the margin goes before one that does not ring.
    s.esc.pwm_Hz = f;
    s.esc.pwm_choices_Hz = {3 * f};
    s.esc.limit_C =
        0.5 * (choice(chosen(s), f).esc_peak_C + choice(chosen(s), 3 * f).esc_peak_C) + margin_K;
    r = chosen(s);
    CHECK(r.recommended_Hz == f);
    CHECK(has(r.text, "close to it"));
}

TEST_CASE("pwm: three tenths of a watt, or 2 % of the loss, are worth another frequency") {
    // From a low frequency with much ripple upwards: the loss falls with the frequency at first.
    for (const bool large : {false, true}) {
        Setup s = large ? cruising(4, 85) : small_drive();
        if (!large) {
            s.motor.inductance_uH = 40;
            s.flight = cruising(1, 50).flight;
        }
        s.esc.pwm_Hz = 8000;
        const auto at = [&](double f) {
            s.esc.pwm_choices_Hz = {8000, f};
            return chosen(s);
        };
        const PwmReport far = at(11000);
        const double present_W = choice(far, 8000).total_loss_W;
        const double worth_W = std::max(0.3, 0.02 * present_W);
        CHECK((worth_W > 0.31) == large);
        const auto less_by = [&](double f) {
            const PwmReport r = at(f);
            return choice(r, 8000).total_loss_W - choice(r, f).total_loss_W;
        };
        REQUIRE(less_by(11000) > 1.05 * worth_W);
        const double little =
            where_zero([&](double f) { return 0.97 * worth_W - less_by(f); }, 8001, 11000);
        const double enough =
            where_zero([&](double f) { return 1.03 * worth_W - less_by(f); }, 8001, 11000);
        CHECK(at(little).recommended_Hz == 8000);
        CHECK(has(at(little).text, "8 kHz is as good as any choice"));
        CHECK_FALSE(has(at(enough).text, "Chance"));  // of which there is none without draws
        CHECK(at(enough).recommended_Hz == enough);
        // and the sentence says what it changes
        const PwmReport r = at(enough);
        CHECK(has(r.text, say("ESC and motor together %+.1f W",
                              choice(r, enough).total_loss_W - choice(r, 8000).total_loss_W)));
        CHECK(
            has(r.text, say("motor ripple %.0f %% instead of %.0f %%",
                            choice(r, enough).motor_ripple_pct, choice(r, 8000).motor_ripple_pct)));
        CHECK(has(r.text,
                  change_text(choice(r, enough).esc_peak_C - choice(r, 8000).esc_peak_C, in)));
    }
}

TEST_CASE("pwm: it hardly matters within two kelvin and what is worth a change, not beyond") {
    const auto says = [](const PwmReport& r) { return has(r.text, "hardly matters"); };
    Setup s = cruising(40);
    s.esc.pwm_Hz = 8000;
    const auto at = [&](double f) {
        s.esc.pwm_choices_Hz = {8000, f};
        return chosen(s);
    };
    const auto warmer_by = [&](double f) {
        const PwmReport r = at(f);
        return choice(r, f).esc_peak_C - choice(r, 8000).esc_peak_C;
    };
    // Of total loss little, of ESC heat more: where the ripple falls as the switching grows.
    Setup even = cruising(9);
    even.esc.pwm_Hz = 8000;
    int by_heat = 0;
    for (const double uH : {5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 12.0, 15.0, 20.0, 40.0}) {
        s = cruising(uH);
        s.esc.pwm_Hz = 8000;
        for (const double kelvin : {1.93, 2.07}) {
            if (warmer_by(24000) < 2.1) {
                continue;
            }
            const double f =
                where_zero([&](double x) { return kelvin - warmer_by(x); }, 8001, 24000);
            const PwmReport r = at(f);
            const PwmChoice& a = choice(r, 8000);
            const PwmChoice& b = choice(r, f);
            const double W = std::abs(a.total_loss_W - b.total_loss_W);
            const double worth = std::max(0.3, 0.02 * a.total_loss_W);
            INFO(uH << " uH, " << f << " Hz: " << W << " of " << worth << " W");
            CHECK(says(r) == (kelvin < 2 && W < worth));
            by_heat += kelvin > 2 && W < worth ? 1 : 0;
            if (says(r)) {
                CHECK(has(r.text, say("differ by %.1f W and %.1f K", W, kelvin)));
                CHECK(has(chosen(s, Scale::fahrenheit).text, "deg F"));
                // not where one of them comes too near the limit
                s.esc.limit_C = std::max(a.esc_peak_C, b.esc_peak_C) + margin_K - 0.1;
                CHECK_FALSE(says(chosen(s)));
                s.esc.limit_C += 0.2;
                CHECK(says(chosen(s)));
                s.esc.limit_C = 100;
            }
        }
    }
    CHECK(by_heat > 0);
    // Nor where there is no choice.
    s = cruising(40);
    s.esc.pwm_choices_Hz = {8000};
    CHECK_FALSE(says(chosen(s)));
}

TEST_CASE("pwm: each choice's figures are its own flight's, by time") {
    Setup s = cruising(20);
    FlightPart glide;
    glide.throttle_pct = 0;
    glide.seconds = 60;
    const PwmReport flat_out = chosen(s);
    s.flight.parts.push_back(glide);
    const PwmReport half = chosen(s);
    for (size_t i = 0; i < half.choices.size(); ++i) {
        const PwmChoice& a = flat_out.choices[i];
        const PwmChoice& b = half.choices[i];
        // half of the time nothing but the electronics: half of the loss
        CHECK_THAT(b.motor_ripple_loss_W, WithinRel(0.5 * a.motor_ripple_loss_W, 0.05));
        CHECK_THAT(b.total_loss_W, WithinRel(b.esc_loss_W + b.motor_ripple_loss_W, 1e-12));
        CHECK(between(0.45, b.esc_loss_W / a.esc_loss_W, 0.65));
        // the ripple is that of the part that matters, the capacitors' current the highest
        CHECK_THAT(b.motor_ripple_pct, WithinRel(a.motor_ripple_pct, 0.05));
        CHECK_THAT(b.capacitor_rms_A, WithinRel(a.capacitor_rms_A, 0.05));
        CHECK(b.flight_s > 1.8 * a.flight_s);
    }
    // Of two parts that chop it is that of the more powerful, whichever comes first.
    s = cruising(20, 80);
    const double strong = chosen(s).choices[0].motor_ripple_pct;
    FlightPart slow;
    slow.throttle_pct = 30;
    slow.seconds = 5;
    s.flight.parts.push_back(slow);
    CHECK_THAT(chosen(s).choices[0].motor_ripple_pct, WithinRel(strong, 0.05));
    std::swap(s.flight.parts[0], s.flight.parts[1]);
    CHECK_THAT(chosen(s).choices[0].motor_ripple_pct, WithinRel(strong, 0.05));
}

TEST_CASE("pwm: a choice's losses are those half way through the flight's charge") {
    // Of one throttle, a second at a time, the flight is a hold, whose own middle is at half-way
    // charge and at the mean temperatures of its march. The means here are taken a little
    // otherwise: half a percent.
    constexpr double means = 5e-3;
    constexpr double usual_winding = 2e-2;  // copper is 0.4 % dearer a kelvin
    for (const double start_pct : {100.0, 60.0}) {
        Setup s = cruising(20, 80);
        s.flight.parts[0].seconds = 1;
        s.pack.start_pct = start_pct;
        s.pack.cell_resistance_mOhm = 3;
        const Plant p = median_plant(s);
        const HoldRun run = run_hold(p, {{.throttle = 0.8}, {}, p.esc_start_C});
        const PwmChoice& c = chosen(s).choices.at(0);
        CHECK_THAT(c.esc_loss_W, WithinRel(run.middle.losses.total(), means));
        // the capacitors' current is the fresh pack's, where their own check has it
        const Operating fresh =
            operate(p, {.throttle = 0.8}, source_at(p, p.pack.start, p.pack.start_C, 50, 50), true);
        CHECK_THAT(c.capacitor_rms_A, WithinRel(fresh.cycle.i_c_rms, 1e-9));
        CHECK(fresh.cycle.i_c_rms > 1.01 * run.middle.cycle.i_c_rms);
        CHECK_THAT(c.motor_ripple_loss_W, WithinRel(run.middle.motor_ripple_W, usual_winding));
        const Moment& half = half_way_moment(p, run.march);
        const Operating o = operate(
            p, {.throttle = 0.8},
            source_at(p, run.mid_charge, half.pack_C, half.heat.junction, half.heat.board), true);
        CHECK_THAT(c.motor_ripple_pct,
                   WithinRel(100 * (o.cycle.i_m_max - o.cycle.i_m_min) / o.i_motor, means));
    }
}

TEST_CASE("pwm: what does not chop ripples not at all, what hardly turns still does") {
    const PwmChoice full = chosen(cruising(20, 100)).choices.at(0);
    CHECK(full.motor_ripple_pct == 0);
    CHECK(full.motor_ripple_loss_W == 0);
    CHECK(full.capacitor_rms_A < 1e-3);
    Setup slow = cruising(20, 5);
    const Plant p = median_plant(slow);
    REQUIRE(operate(p, {.throttle = 0.05}, source_at(p, 0.6, 25, 40, 35)).shaft_W < 1);
    CHECK(chosen(slow).choices.at(0).motor_ripple_pct > 10);
}

TEST_CASE("pwm: work below full throttle decides from two hundredths of the shaft's work on") {
    Setup s = cruising(20);
    const Plant p = median_plant(s);
    const auto shaft_W = [&](double throttle) {
        return operate(p, {.throttle = throttle}, source_at(p, 0.6, 30, 50, 45)).shaft_W;
    };
    const auto matters_at = [&](double share) {
        const double seconds = share / (1 - share) * 60 * shaft_W(1) / shaft_W(0.6);
        s.flight.parts = {part_of(60, seconds), part_of(100, 60)};
        return !has(chosen(s).text, "next to none of its work");
    };
    CHECK_FALSE(matters_at(0.019));
    CHECK(matters_at(0.021));
}

TEST_CASE("pwm: an inductance that is told is not asked for, however close the choice") {
    Setup s = cruising(12);
    s.esc.pwm_choices_Hz = {8000, 16000, 16100, 16200, 16300, 60000};
    s.esc.pwm_Hz = 16000;
    const auto report = [&] { return advise(s, {.samples = 32}).pwm; };
    const PwmReport told = report();
    REQUIRE(*choice(told, told.recommended_Hz).chance_best < 0.7);
    CHECK((has(told.text, "Chance that it is the best") || has(told.text, "None stands out") ||
           has(told.text, "which is no reason to change")));
    CHECK_FALSE(has(told.text, "inductance decides"));
    s.motor.inductance_uH.reset();
    const PwmReport untold = report();
    REQUIRE(*choice(untold, untold.recommended_Hz).chance_best < 0.7);
    CHECK(has(untold.text, "inductance decides"));
}

TEST_CASE("pwm: a likelier choice that gains next to nothing is no reason to change, and is told") {
    Setup s = holding(six_cell_drive(), 55);
    s.pack.cells = 2;
    s.pack.capacity_mAh = 300;
    s.esc.rating_A = 6;
    s.esc.pwm_Hz = 16000;
    s.esc.pwm_choices_Hz = {8000, 16000, 24000};
    s.load.full_throttle_A = 6;
    s.motor.kv_rpm_per_V = 1500;
    const PwmReport r = advise(s, {.samples = 64}).pwm;
    REQUIRE(r.recommended_Hz == 16000);
    const PwmChoice& now = choice(r, 16000);
    const PwmChoice& likelier = choice(r, 24000);
    REQUIRE(*likelier.chance_best > *now.chance_best);
    const double gain_W = now.total_loss_W - likelier.total_loss_W;
    REQUIRE(between(0, gain_W, 0.3));
    CHECK(
        has(r.text, say(" 24 kHz is better with a chance of %.0f %%, by %.1f W, which is no reason "
                        "to change.",
                        100 * *likelier.chance_best, gain_W)));
    CHECK_FALSE(has(r.text, "None stands out"));
    s.esc.pwm_Hz = 8000;  // from where it gains enough
    CHECK_FALSE(has(advise(s, {.samples = 64}).pwm.text, "no reason to change"));
}

TEST_CASE("pwm: the choices are in order, each once, the present one among them") {
    Setup s = cruising(20);
    s.esc.pwm_Hz = 12000;
    s.esc.pwm_choices_Hz = {24000, 8000, 24000};
    const PwmReport r = chosen(s);
    REQUIRE(r.choices.size() == 3);
    CHECK(r.choices[0].pwm_Hz == 8000);
    CHECK(r.choices[1].pwm_Hz == 12000);
    CHECK(r.choices[2].pwm_Hz == 24000);
    // Full throttle alone never chops: whatever it is set to stays.
    s.flight.parts[0].throttle_pct = 100;
    CHECK(chosen(s).recommended_Hz == 12000);
    CHECK(has(chosen(s).text, "never chops"));
}

TEST_CASE("pwm: where the heat runs away it says so, of the present choice or of all") {
    Setup s = overloaded_in_a_bay(40);
    s.esc.pwm_choices_Hz = {24000};
    PwmReport r = chosen(s);
    REQUIRE(choice(r, 24000).runaway);
    REQUIRE(choice(r, 32000).runaway);
    CHECK(has(r.text, "runs away at every choice"));
    CHECK(std::isnan(choice(r, 32000).esc_peak_C));
    // Air in which the low one keeps its margin, and the high one still is lost.
    s.esc.pwm_choices_Hz = {8000};
    s.esc.transition_ns = 2000;
    s.esc.pwm_Hz = 64000;
    s.air.cooling = Cooling::vented;
    s.air.temperature_C = 20;
    s.load.full_throttle_A = 50;
    r = chosen(s);
    REQUIRE(choice(r, 64000).runaway);
    REQUIRE_FALSE(choice(r, 8000).runaway);
    CHECK(r.recommended_Hz == 8000);
    if (choice(r, 8000).esc_peak_C <= s.esc.limit_C - margin_K) {
        CHECK(has(r.text, "8 kHz instead of 64, where the ESC's heat runs away."));
    } else {
        CHECK(has(r.text, "No choice keeps"));
    }
    CHECK_FALSE(has(r.text, "hardly"));
}

TEST_CASE("pwm: power that another frequency gives at the same throttle is told with it") {
    // (D) at 8 kHz a diode's currents come in gaps, in which the motor's voltage is its own
    Setup s = cruising(15, 45);
    s.load.full_throttle_A = 40;
    s.esc.pwm_choices_Hz = {8000, 24000};
    const auto power_W = [&](double pwm_Hz) {
        return at_mid_pack(median_plant(at_frequency(s, pwm_Hz)), 0.45).shaft_W;
    };
    const double less = 1 - power_W(24000) / power_W(8000);
    REQUIRE(less > 0.06);
    const std::string told = say("%.0f %% less power at 45 %% throttle", 100 * less);
    const PwmReport r = chosen(s);
    REQUIRE(r.recommended_Hz == 24000);
    CHECK(has(r.text, " Then there is " + told + "."));
    const Report whole = advise(s, {.samples = 0});
    const auto cost_of = [](const Report& of, const std::string& id) {
        for (const Change& c : of.changes) {
            if (c.id == id) {
                return c.cost;
            }
        }
        return std::string("no such change");
    };
    CHECK(has(cost_of(whole, "pwm_24000"), "; " + told));
    Setup active = s;
    active.esc.freewheel = Freewheel::active;
    const double after_W = at_mid_pack(median_plant(active), 0.45).shaft_W;
    CHECK(has(cost_of(whole, "active_freewheel"),
              say("; %.0f %% less power at 45 %% throttle", 100 * (1 - after_W / power_W(8000)))));
    // a winding that bridges the gaps gives the same at both
    s.motor.inductance_uH = 300;
    REQUIRE(std::abs(power_W(24000) / power_W(8000) - 1) < 0.05);
    CHECK(!has(cost_of(advise(s, {.samples = 0}), "pwm_24000"), "power"));
}

TEST_CASE("pwm: of the flight's parts the one whose power differs most is told, from 5 % on") {
    Setup s = cruising(30, 45);
    const Plant before = median_plant(s);
    // of what a windmilling propeller leaves, the ratio is none
    s.flight.parts = {part_of(100, 5), part_of(45, 40), part_of(55, 40), part_of(6, 40)};
    const auto as_strong = [&](double factor) {
        Plant p = before;
        p.u.kv *= factor;
        return p;
    };
    const auto most = [&](const Plant& after) {
        double most_more = 0;
        double pct = 0;
        for (const double th : {100.0, 45.0, 55.0}) {
            const double more =
                at_mid_pack(after, th / 100).shaft_W / at_mid_pack(before, th / 100).shaft_W - 1;
            pct = std::abs(more) > std::abs(most_more) ? th : pct;
            most_more = std::abs(more) > std::abs(most_more) ? more : most_more;
        }
        return std::pair(most_more, pct);
    };
    const auto [little, any] = most(as_strong(1.012));
    REQUIRE(std::abs(little) < 0.05);
    CHECK(other_power_text(s, before, as_strong(1.012)).empty());
    const auto [more, at] = most(as_strong(1.03));
    REQUIRE(more > 0.05);
    CHECK(other_power_text(s, before, as_strong(1.03)) ==
          say("%.0f %% more power at %.0f %% throttle", 100 * more, at));
    s.load.kind = LoadKind::governed;
    CHECK(other_power_text(s, before, as_strong(1.03)).empty());
}
