// Which PWM frequency? The flight flown for each choice, on the middle plant and on the draws.
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <utility>

#include "advise/candidates.hpp"
#include "advise/resonance.hpp"
#include "advise/text.hpp"
#include "advise/trial.hpp"
#include "physics/constants.hpp"
#include "physics/none.hpp"

namespace hotband {
namespace {

// Time-weighted over the flight's parts, each at half-way charge and the flight's mean temperature.
struct FlightMeans {
    double esc_W = 0, ripple_W = 0, ripple_pct = 0, capacitor_A = 0;
    double chopped = 0;  // share of the shaft's work that is done below full throttle (0..1)
};

FlightMeans flight_means(const Plant& p, const FlightRun& run, bool ripple = true) {
    const Moment& last = run.march.moments.back();
    const double charge = 0.5 * (p.pack.start + last.charge);
    const double board_C = run.march.mean_board;
    const double junction_C = board_C + 0.5 * (run.march.peak_junction - run.march.peak_board);
    const Source s =
        source_at(p, charge, 0.5 * (p.pack.start_C + last.pack_C), junction_C, board_C);
    FlightMeans mean;
    double all = 0;
    double work = 0;
    double chopped = 0;
    double most_chopped = 0;
    size_t most_rippling = 0;
    for (size_t i = 0; i < run.plan.demands.size(); ++i) {
        const Operating o = operate(p, run.plan.demands[i], s, ripple);
        const double w = run.plan.seconds[i];
        all += w;
        mean.esc_W += w * o.losses.total();
        mean.ripple_W += w * o.motor_ripple_W;
        most_rippling = o.cycle.i_c_rms > mean.capacitor_A ? i : most_rippling;
        mean.capacitor_A = std::max(mean.capacitor_A, o.cycle.i_c_rms);
        const double own = w * std::max(0.0, o.shaft_W);
        work += own;
        chopped += o.chopping ? own : 0;
        // The ripple of the part that chops most power.
        if (o.chopping && o.shaft_W > most_chopped) {
            most_chopped = o.shaft_W;
            mean.ripple_pct = 100 * (o.cycle.i_m_max - o.cycle.i_m_min) / o.i_motor;
        }
    }
    if (ripple) {
        // The most is the fresh pack's, as the capacitors' own check has it.
        const Source fresh = source_at(p, p.pack.start, p.pack.start_C, 50, 50);
        mean.capacitor_A = operate(p, run.plan.demands[most_rippling], fresh, true).cycle.i_c_rms;
    }
    mean.esc_W /= all;
    mean.ripple_W /= all;
    mean.chopped = work > 0 ? chopped / work : 0;
    return mean;
}

// What the choice hangs on, of one choice on one plant.
struct Merit {
    double peak_C = 0;  // infinite: its heat runs away
    double total_W = 0;
    bool rings = false;      // leads and capacitors resonate
    bool overdrawn = false;  // the capacitors carry more ripple than they are made for

    int strained() const { return (rings ? 1 : 0) + (overdrawn ? 1 : 0); }
};

Merit merit_of(const Setup& s, const Plant& p, const FlightRun& run, const FlightMeans& mean) {
    return {peak_of(run.march), mean.esc_W + mean.ripple_W, resonates(p),
            mean.capacitor_A > most_ripple_A(s, p)};
}

// Of the choices that keep the margin the one that loses least, of those that do not the coolest;
// one that strains the capacitors only where all do.
using Rank = std::array<double, 4>;

Rank rank_of(const Merit& m, double ceiling_C) {
    const bool keeps = m.peak_C <= ceiling_C;
    return {keeps ? 0.0 : 1.0, static_cast<double>(m.strained()), keeps ? m.total_W : m.peak_C,
            m.total_W};
}

size_t best_of(const std::vector<Merit>& choices, double ceiling_C) {
    size_t best = 0;
    for (size_t i = 1; i < choices.size(); ++i) {
        best = rank_of(choices[i], ceiling_C) < rank_of(choices[best], ceiling_C) ? i : best;
    }
    return best;
}

// Whether two differ by less than any of this can tell: full throttle does not chop at any choice.
bool alike(const Rank& a, const Rank& b) {
    constexpr double share = 1e-4;
    return a[0] == b[0] && a[1] == b[1] && std::abs(a[2] - b[2]) <= share * std::abs(b[2]);
}

// Which of them share a draw's chance of being the best.
std::vector<size_t> bests_of(const std::vector<Merit>& choices, double ceiling_C) {
    const size_t best = best_of(choices, ceiling_C);
    const Rank top = rank_of(choices[best], ceiling_C);
    std::vector<size_t> out;
    for (size_t i = 0; i < choices.size(); ++i) {
        if (i == best || alike(rank_of(choices[i], ceiling_C), top)) {
            out.push_back(i);
        }
    }
    return out;
}

// Whether nine draws in ten keep the limit, where there are draws; a band that is open above runs
// away.
bool surely_keeps(const PwmChoice& c, double limit_C) {
    const std::optional<Band>& band = c.esc_peak_band_C;
    return !band || (!c.runaway && (!band->p10 || band->p90.value_or(limit_C + 1) <= limit_C));
}

// A few tenths of a watt are within the guess at the motor's inductance: no reason to change.
double worth_W(const Merit& present) {
    constexpr double least_W = 0.3;
    constexpr double least_share = 0.02;
    return std::max(least_W, least_share * present.total_W);
}

struct Chosen {
    const PwmChoice &best, &present;
    bool keeps = false;  // the best one, the margin
    Merit of_best, of_present;
};

constexpr double alike_K = 2;  // peaks that differ by less are one to a pilot

// "It hardly matters", where all that keep the margin are alike.
std::string indifference(const std::vector<PwmChoice>& choices, double ceiling_C, double worth,
                         Scale in) {
    double least_W = std::numeric_limits<double>::infinity();
    double most_W = -least_W;
    double coolest = least_W;
    double hottest = -coolest;
    for (const PwmChoice& c : choices) {
        if (c.runaway || c.esc_peak_C > ceiling_C) {
            return "";
        }
        least_W = std::min(least_W, c.total_loss_W);
        most_W = std::max(most_W, c.total_loss_W);
        coolest = std::min(coolest, c.esc_peak_C);
        hottest = std::max(hottest, c.esc_peak_C);
    }
    const bool alike = most_W - least_W < worth && hottest - coolest < alike_K;
    return alike && choices.size() > 1
               ? say(" It hardly matters: the choices differ by %.1f W and %s.", most_W - least_W,
                     difference(hottest - coolest, in, 1).c_str())
               : "";
}

std::string advice(const Setup& s, const PwmReport& report, const Chosen& c, double worth,
                   Scale in) {
    const PwmChoice& best = c.best;
    const PwmChoice& present = c.present;
    const char* each = s.motor.count > 1 ? "each ESC and motor" : "ESC and motor together";
    std::string text;
    if (best.runaway) {
        text = say("The ESC's heat runs away at every choice; %.0f kHz makes least of it.",
                   best.pwm_Hz * 1e-3);
    } else if (!c.keeps) {
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
    if (c.of_present.rings && !c.of_best.rings) {
        text += say(" At %.0f kHz leads and capacitors resonate.", present.pwm_Hz * 1e-3);
    }
    if (c.of_present.overdrawn && !c.of_best.overdrawn) {
        text += say(" At %.0f kHz the capacitors carry more ripple than they are made for.",
                    present.pwm_Hz * 1e-3);
    }
    if (c.of_best.rings) {
        text +=
            " Leads and capacitors resonate close to it: shorter leads or more capacitance help.";
    }
    if (c.of_best.overdrawn) {
        text +=
            say(" The capacitors carry %.0f A of ripple there, more than they are made for: "
                "more capacitance helps.",
                best.capacitor_rms_A);
    }
    if (c.keeps && !surely_keeps(best, s.esc.limit_C)) {
        const auto surer = std::find_if(
            report.choices.begin(), report.choices.end(),
            [&](const PwmChoice& other) { return surely_keeps(other, s.esc.limit_C); });
        text += surer == report.choices.end()
                    ? " Not with 90 % chance: none does."
                    : say(" Not with 90 %% chance: %.0f kHz keeps the limit so surely.",
                          surer->pwm_Hz * 1e-3);
    }
    const std::string indifferent =
        indifference(report.choices, s.esc.limit_C - margin_K, worth, in);
    text += indifferent;
    // How sure, where it matters.
    constexpr double doubtful = 0.7;
    if (indifferent.empty() && best.chance_best) {
        const PwmChoice& likeliest = *std::max_element(
            report.choices.begin(), report.choices.end(),
            [](const PwmChoice& a, const PwmChoice& b) { return *a.chance_best < *b.chance_best; });
        const bool stays = best.pwm_Hz == present.pwm_Hz && likeliest.pwm_Hz != best.pwm_Hz;
        const double gain_W = present.total_loss_W - likeliest.total_loss_W;
        text +=
            stays && gain_W >= 0 && gain_W < worth
                ? say(" %.0f kHz is better with a chance of %.0f %%, by %.1f W, which is no reason "
                      "to change.",
                      likeliest.pwm_Hz * 1e-3, 100 * *likeliest.chance_best, gain_W)
            : *likeliest.chance_best > *best.chance_best
                ? say(" None stands out: it is the best of these with a chance of %.0f %%, "
                      "%.0f kHz with %.0f %%.",
                      100 * *best.chance_best, likeliest.pwm_Hz * 1e-3,
                      100 * *likeliest.chance_best)
                : say(" Chance that it is the best of these: %.0f %%.", 100 * *best.chance_best);
        if (*best.chance_best < doubtful && !s.motor.inductance_uH) {
            text +=
                " The motor's inductance decides: measure it between two leads (LCR meter, the "
                "mean "
                "over a turn of the shaft), or ask its maker.";
        }
    }
    return text;
}

}  // namespace

FlightRun run_flight(const Plant& p, const FlightSetup& flight, Steps steps) {
    FlightRun run;
    run.plan = plan_flight(p, flight);
    run.march = fly(p, run.plan, steps);
    return run;
}

namespace {

// The choices on the draws: how often each is the best, and its band. The present one's flights are
// the verdict's own. Gives for each the share of draws in which it is better than the present one;
// where the two are alike, half of a draw.
std::vector<double> spread_choices(const Setup& s, const Calibration& taught, const Draws& draws,
                                   size_t present, PwmTrial& out) {
    PwmReport& report = out.report;
    const Trial trial(s, draws);
    std::vector<std::vector<Merit>> merits;  // for each draw
    for (PwmChoice& c : report.choices) {
        const Setup there = at_frequency(s, c.pwm_Hz);
        const ChangedDraws changed(s, taught, draws, there, carry(s, taught, there));
        merits.resize(trial_draws(s, draws));
        std::vector<Outcome> flights;
        for (std::vector<Merit>& of_draw : merits) {
            const Plant p = changed.plant(flights.size());
            const FlightRun run = run_flight(p, s.flight, Steps::trial);
            of_draw.push_back(merit_of(s, p, run, flight_means(p, run, false)));
            flights.push_back(outcome_of(run.march, s.esc.limit_C));
        }
        out.flights.push_back(c.pwm_Hz == s.esc.pwm_Hz
                                  ? draws.flight
                                  : fly_others(s, draws, trial, changed, std::move(flights)));
        const Band peak_C = peak_band(out.flights.back());
        c.esc_peak_band_C = peak_C;
        c.esc_peak_C = peak_C.p50;
        c.runaway = !std::isfinite(peak_C.p50);
        c.chance_best = 0;
    }
    for (const std::vector<Merit>& of_draw : merits) {
        const std::vector<size_t> bests = bests_of(of_draw, s.esc.limit_C - margin_K);
        for (const size_t best : bests) {
            *report.choices[best].chance_best +=
                1 / static_cast<double>(merits.size() * bests.size());
        }
    }
    std::vector<double> better(report.choices.size());
    for (const std::vector<Merit>& of_draw : merits) {
        const Rank now = rank_of(of_draw[present], s.esc.limit_C - margin_K);
        for (size_t i = 0; i < better.size(); ++i) {
            const Rank other = rank_of(of_draw[i], s.esc.limit_C - margin_K);
            const double counts = alike(other, now) ? 0.5 : other < now ? 1 : 0;
            better[i] += counts / static_cast<double>(merits.size());
        }
    }
    return better;
}

// Whether any of this tells the choices apart by their heat.
bool differ_in_heat(const std::vector<PwmChoice>& choices) {
    const auto [cool, hot] =
        std::minmax_element(choices.begin(), choices.end(), [](const auto& a, const auto& b) {
            return std::pair(a.runaway, a.esc_peak_C) < std::pair(b.runaway, b.esc_peak_C);
        });
    return hot->runaway != cool->runaway || hot->esc_peak_C - cool->esc_peak_C > alike_K;
}

}  // namespace

PwmTrial compare_pwm(const Setup& s, const Calibration& taught, const Draws& draws, Scale in) {
    PwmTrial out;
    PwmReport& report = out.report;
    double chopped = 0;
    std::vector<Merit> merits;
    std::vector<double> frequencies = s.esc.pwm_choices_Hz;
    frequencies.push_back(s.esc.pwm_Hz);
    std::sort(frequencies.begin(), frequencies.end());
    frequencies.erase(std::unique(frequencies.begin(), frequencies.end()), frequencies.end());
    for (const double f : frequencies) {
        const Plant p = middle_plant(at_frequency(s, f), taught.belief);
        const FlightRun run = run_flight(p, s.flight);
        const FlightMeans mean = flight_means(p, run);
        PwmChoice c;
        c.pwm_Hz = f;
        c.runaway = run.march.ended_by == EndedBy::runaway;
        c.esc_peak_C = c.runaway ? none : run.march.peak_board;
        c.motor_ripple_pct = mean.ripple_pct;
        c.esc_loss_W = mean.esc_W;
        c.motor_ripple_loss_W = mean.ripple_W;
        c.total_loss_W = mean.esc_W + mean.ripple_W;
        c.capacitor_rms_A = mean.capacitor_A;
        c.resonance_ratio = resonance_ratio(p);
        c.flight_s = run.march.seconds;
        merits.push_back(merit_of(s, p, run, mean));
        report.choices.push_back(c);
        chopped = std::max(chopped, mean.chopped);
    }
    const auto present = static_cast<size_t>(
        std::find(frequencies.begin(), frequencies.end(), s.esc.pwm_Hz) - frequencies.begin());
    std::vector<double> better;
    if (draws.count() > 0) {
        better = spread_choices(s, taught, draws, present, out);
        for (size_t i = 0; i < merits.size(); ++i) {
            const PwmChoice& c = report.choices[i];
            merits[i].peak_C = c.runaway ? std::numeric_limits<double>::infinity() : c.esc_peak_C;
        }
    }
    const double ceiling = s.esc.limit_C - margin_K;
    size_t best = best_of(merits, ceiling);
    const Merit& now = merits[present];
    const double worth = worth_W(now);
    // Of those that lose hardly more the coolest, where the limit is not kept surely.
    for (size_t i = 0; i < merits.size() && !surely_keeps(report.choices[best], s.esc.limit_C);
         ++i) {
        const bool as_good = merits[i].peak_C <= ceiling &&
                             merits[i].strained() <= merits[best].strained() &&
                             merits[i].total_W - merits[best].total_W < worth;
        best = as_good && merits[i].peak_C < merits[best].peak_C - alike_K ? i : best;
    }
    const bool no_likelier = !better.empty() && better[best] <= 0.5;
    const bool as_cool = surely_keeps(report.choices[present], s.esc.limit_C) ||
                         now.peak_C <= merits[best].peak_C + alike_K;
    if (now.peak_C <= ceiling && as_cool && now.strained() <= merits[best].strained() &&
        (now.total_W - merits[best].total_W < worth || no_likelier)) {
        best = present;
    }
    // A windmilling propeller's few watts are no reason for one frequency or another.
    constexpr double least_chopped = 0.02;
    const bool chops = chopped > least_chopped || differ_in_heat(report.choices);
    for (PwmChoice& c : report.choices) {
        // where it does not matter none is better by its last digit
        c.chance_best = c.chance_best && !chops ? 1.0 / static_cast<double>(report.choices.size())
                                                : c.chance_best;
    }
    report.recommended_Hz = chops ? report.choices[best].pwm_Hz : s.esc.pwm_Hz;
    if (chops) {
        report.text = advice(s, report,
                             {report.choices[best], report.choices[present],
                              merits[best].peak_C <= ceiling, merits[best], now},
                             worth, in);
        const std::string power =
            other_power_text(s, middle_plant(s, taught.belief),
                             middle_plant(at_frequency(s, report.recommended_Hz), taught.belief));
        report.text += power.empty() ? "" : " Then there is " + power + ".";
    } else {
        report.text = chopped > 0
                          ? "This flight does next to none of its work below full throttle: "
                            "the frequency does not matter."
                          : "This flight never chops: at full throttle the frequency does "
                            "not matter.";
    }
    return out;
}

}  // namespace hotband
