// Which PWM frequency? The flight flown once for each choice.
#include <algorithm>
#include <cmath>
#include <limits>

#include "advise/resonance.hpp"
#include "advise/rooms.hpp"
#include "advise/text.hpp"
#include "physics/constants.hpp"

namespace hotband {
namespace {

// Time-weighted over the flight's parts, each at half-way charge and the flight's mean temperature.
struct FlightMeans {
    double esc_W = 0, ripple_W = 0, ripple_pct = 0, capacitor_A = 0;
    bool chops = false;
};

FlightMeans flight_means(const Plant& p, const FlightRun& run) {
    const Moment& last = run.march.moments.back();
    const double charge = 0.5 * (p.pack.start + last.charge);
    const double board_C = run.march.mean_board;
    const double junction_C = board_C + 0.5 * (run.march.peak_junction - run.march.peak_board);
    const Source s =
        source_at(p, charge, 0.5 * (p.pack.start_C + last.pack_C), junction_C, board_C);
    FlightMeans mean;
    double all = 0;
    double most_power = 0;
    for (size_t i = 0; i < run.plan.demands.size(); ++i) {
        const Operating o = operate(p, run.plan.demands[i], s, true);
        const double w = run.plan.seconds[i];
        all += w;
        mean.esc_W += w * o.losses.total();
        mean.ripple_W += w * o.motor_ripple_W;
        mean.capacitor_A = std::max(mean.capacitor_A, o.cycle.i_c_rms);
        mean.chops = mean.chops || (o.chopping && o.shaft_W > 0);
        // The ripple of the part that chops most power.
        if (o.chopping && o.shaft_W > most_power) {
            most_power = o.shaft_W;
            mean.ripple_pct = 100 * (o.cycle.i_m_max - o.cycle.i_m_min) / o.i_motor;
        }
    }
    mean.esc_W /= all;
    mean.ripple_W /= all;
    return mean;
}

std::string advice(const Setup& s, const PwmChoice& best, const PwmChoice& present, bool any_keeps,
                   bool rings, Scale in) {
    const char* each = s.motor.count > 1 ? "each ESC and motor" : "ESC and motor together";
    std::string text;
    if (best.runaway) {
        text = say("The ESC's heat runs away at every choice; %.0f kHz makes least of it.",
                   best.pwm_Hz * 1e-3);
    } else if (!any_keeps) {
        text = say("No choice keeps the ESC %s under its limit; %.0f kHz is the coolest.",
                   difference(margin_K, in).c_str(), best.pwm_Hz * 1e-3);
    } else if (best.pwm_Hz == present.pwm_Hz) {
        text = say("%.0f kHz is as good as any choice that keeps the ESC %s under its limit.",
                   best.pwm_Hz * 1e-3, difference(margin_K, in).c_str());
    } else if (present.runaway) {
        text = say("%.0f kHz instead of %.0f, where the ESC's heat runs away.", best.pwm_Hz * 1e-3,
                   present.pwm_Hz * 1e-3);
    } else {
        text = say(
            "%.0f kHz instead of %.0f: ESC %s, motor ripple %.0f %% instead of %.0f %%, "
            "%s %+.1f W.",
            best.pwm_Hz * 1e-3, present.pwm_Hz * 1e-3,
            change_text(best.esc_peak_C - present.esc_peak_C, in).c_str(), best.motor_ripple_pct,
            present.motor_ripple_pct, each, best.total_loss_W - present.total_loss_W);
    }
    if (rings) {
        text +=
            " Leads and capacitors resonate close to it: shorter leads or more capacitance help.";
    }
    if (!s.motor.inductance_uH) {
        text += " The motor's inductance decides the ripple; measure it if the choice is close.";
    }
    return text;
}

}  // namespace

FlightRun run_flight(const Plant& p, const FlightSetup& flight, bool coarse) {
    FlightRun run;
    run.plan = plan_flight(p, flight);
    run.march = fly(p, run.plan, coarse);
    return run;
}

PwmReport compare_pwm(const Setup& s, const Belief& belief, Scale in) {
    PwmReport report;
    bool chops = false;
    std::vector<bool> rings;  // one for each choice
    std::vector<double> frequencies = s.esc.pwm_choices_Hz;
    frequencies.push_back(s.esc.pwm_Hz);
    std::sort(frequencies.begin(), frequencies.end());
    frequencies.erase(std::unique(frequencies.begin(), frequencies.end()), frequencies.end());
    for (const double f : frequencies) {
        Setup changed = s;
        changed.esc.pwm_Hz = f;
        const Plant p = middle_plant(changed, belief);
        const FlightRun run = run_flight(p, s.flight);
        const FlightMeans mean = flight_means(p, run);
        PwmChoice c;
        c.pwm_Hz = f;
        c.runaway = run.march.ended_by == EndedBy::runaway;
        c.esc_peak_C = c.runaway ? std::numeric_limits<double>::quiet_NaN() : run.march.peak_board;
        c.motor_ripple_pct = mean.ripple_pct;
        c.esc_loss_W = mean.esc_W;
        c.motor_ripple_loss_W = mean.ripple_W;
        c.total_loss_W = mean.esc_W + mean.ripple_W;
        c.capacitor_rms_A = mean.capacitor_A;
        c.resonance_ratio = resonance_ratio(p);
        rings.push_back(resonates(p));
        c.flight_s = run.march.seconds;
        report.choices.push_back(c);
        chops = chops || mean.chops;
    }
    const double ceiling = s.esc.limit_C - margin_K;
    const auto keeps = [&](const PwmChoice& c) { return !c.runaway && c.esc_peak_C <= ceiling; };
    const bool any_keeps = std::any_of(report.choices.begin(), report.choices.end(), keeps);
    // Of choices that do not keep the margin the coolest is best, and a runaway is hotter than all.
    const auto cooler = [](const PwmChoice& a, const PwmChoice& b) {
        return b.runaway ? !a.runaway || a.total_loss_W < b.total_loss_W
                         : a.esc_peak_C < b.esc_peak_C;
    };
    const PwmChoice* best = nullptr;
    for (const PwmChoice& c : report.choices) {
        if (any_keeps && !keeps(c)) {
            continue;
        }
        const bool better =
            best == nullptr || (any_keeps ? c.total_loss_W < best->total_loss_W : cooler(c, *best));
        best = better ? &c : best;
    }
    const auto present = std::find_if(report.choices.begin(), report.choices.end(),
                                      [&](const PwmChoice& c) { return c.pwm_Hz == s.esc.pwm_Hz; });
    // A few tenths of a watt are within the guess at the motor's inductance: no reason to change.
    constexpr double worth_W = 0.3;
    constexpr double worth_share = 0.02;
    const double saved = present->total_loss_W - best->total_loss_W;
    if (any_keeps && keeps(*present) &&
        saved < std::max(worth_W, worth_share * present->total_loss_W)) {
        best = &*present;
    }
    report.recommended_Hz = chops ? best->pwm_Hz : s.esc.pwm_Hz;
    report.text = chops
                      ? advice(s, *best, *present, any_keeps,
                               rings[static_cast<size_t>(best - report.choices.data())], in)
                      : "This flight never chops: at full throttle the frequency does not matter.";
    return report;
}

}  // namespace hotband
