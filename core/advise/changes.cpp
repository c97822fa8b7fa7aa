// What would help, in kelvin: each change is the setup changed and flown again, on the middle plant
// and on the draws.
#include <algorithm>
#include <array>
#include <cmath>
#include <variant>

#include "advise/text.hpp"
#include "advise/trial.hpp"
#include "learn/readings.hpp"
#include "learn/sampling.hpp"
#include "physics/constants.hpp"
#include "physics/root.hpp"
#include "setup/parse.hpp"
#include "setup/setup_json.hpp"

namespace hotband {
namespace {

// Sizes that ESCs are sold in (common practice, no source).
constexpr std::array<double, 16> usual_ratings = {10,  15,  20,  30,  40,  50,  60,  80,
                                                  100, 120, 150, 180, 200, 250, 300, 400};

double next_rating(double rating) {
    const auto* next = std::upper_bound(usual_ratings.begin(), usual_ratings.end(), rating * 1.1);
    return next == usual_ratings.end() ? rating * 1.25 : *next;
}

// Cells in the next smaller pack that is sold: even counts above eight (common practice, no
// source).
double fewer_cells(double cells) {
    return cells > 8 ? cells - (std::fmod(cells, 2) == 0 ? 2 : 1) : cells - 1;
}

struct Candidates {
    const Setup& base;
    std::vector<Change> list;

    Setup& add(std::string id, std::string text, std::string cost) {
        Change c;
        c.id = std::move(id);
        c.text = std::move(text);
        c.cost = std::move(cost);
        c.changed = base;
        list.push_back(std::move(c));
        return list.back().changed;
    }
};

Operating at_mid_pack(const Plant& p, double throttle) {
    const double charge = 0.5 * (p.pack.start + p.pack.reserve);
    return operate(p, {.throttle = throttle}, source_at(p, charge, p.pack.start_C, 60, 50));
}

// Throttle for each part that gives the shaft power it had, full throttle where the new drive falls
// a little short. False, and nothing of use, when it falls more than a tenth short.
bool keep_shaft_power(Setup& changed, const Plant& before, const Plant& after) {
    constexpr double least_power = 0.9;
    for (FlightPart& part : changed.flight.parts) {
        const double wanted = at_mid_pack(before, part.throttle_pct / 100).shaft_W;
        const double most = after.full_on - 1e-3;
        if (wanted <= 0) {
            continue;
        }
        if (at_mid_pack(after, most).shaft_W <= wanted) {
            if (at_mid_pack(after, 1).shaft_W < least_power * wanted) {
                return false;
            }
            part.throttle_pct = 100;
            continue;
        }
        const auto lack = [&](double throttle) {
            return wanted - at_mid_pack(after, throttle).shaft_W;
        };
        const double guess = std::min(part.throttle_pct / 100, 0.95 * most);
        const Root root = falling_root(lack, 0.01, most, guess, -3 * wanted / guess, 1e-6);
        part.throttle_pct = std::round(1000 * root.x) / 10;
    }
    return true;
}

// The same propeller on another drive: the load told as shaft power at its speed, the throttle
// moved to keep each part's power. Currents measured on the old drive do not hold.
bool retune(Setup& changed, const Plant& p) {
    const Operating full = at_mid_pack(p, 1);
    changed.load.full_throttle_A.reset();
    changed.load.points.clear();
    changed.load.shaft_W = neat(full.shaft_W);
    changed.load.shaft_rpm = neat(full.omega * 30 / pi);
    changed.measured.clear();
    const std::vector<Prior> priors = make_priors(changed);
    return keep_shaft_power(changed, p, fitted_plant(changed, priors));
}

std::string pwm_id(double pwm_Hz) { return say("pwm_%.0f", pwm_Hz); }

void add_bridge_changes(Candidates& c, const PwmReport& pwm) {
    const Setup& s = c.base;
    for (const PwmChoice& choice : pwm.choices) {
        if (choice.pwm_Hz != s.esc.pwm_Hz) {
            Setup& other =
                c.add(pwm_id(choice.pwm_Hz), say("PWM at %.0f kHz", choice.pwm_Hz * 1e-3),
                      say("motor ripple %.0f %%", choice.motor_ripple_pct));
            other.esc.pwm_Hz = choice.pwm_Hz;
            // Readings stay what they were: taken at the frequency of before.
            for (MeasuredRow& row : other.measured) {
                row.pwm_Hz = row.pwm_Hz.value_or(s.esc.pwm_Hz);
            }
        }
    }
    if (s.esc.freewheel != Freewheel::active && s.esc.drive == Drive::six_step) {
        Setup& active =
            c.add("active_freewheel", "Switch active freewheel on, or use an ESC that has it",
                  "the motor brakes when the throttle closes");
        active = without_readings(s);
        active.esc.freewheel = Freewheel::active;
    }
    const double next = next_rating(s.esc.rating_A);
    Setup& bigger = c.add("bigger_esc", say("ESC of the %.0f A class", next),
                          say("about %.0f g more, and its price", 0.95 * (next - s.esc.rating_A)));
    bigger = without_readings(with_esc_of(s, next));
    if (s.esc.bec_kind == BecKind::linear) {
        c.add("switching_supply", "A switching BEC instead of the linear one, or a receiver pack",
              "a few grams")
            .esc.bec_kind = BecKind::switching;
    }
}

void add_air_changes(Candidates& c) {
    const Setup& s = c.base;
    if (s.air.cooling == Cooling::closed) {
        Setup& vented = c.add("vent_bay", "Open an inlet and a larger outlet in the ESC's bay",
                              "holes in the fuselage; dust and rain get in");
        vented.air.cooling = Cooling::vented;
        vented.air.wash_share.reset();
    }
    if (s.air.cooling != Cooling::open && s.load.kind != LoadKind::governed) {
        Setup& open = c.add("mount_open",
                            s.load.kind == LoadKind::fan ? "Mount the ESC in the fan's intake air"
                                                         : "Mount the ESC out in the slipstream",
                            "drag, rain and knocks");
        open.air.cooling = Cooling::open;
        open.air.wash_share.reset();
    }
    if (s.air.sun) {
        c.add("shade", "Keep the sun off the ESC until take-off and in flight", "").air.sun = false;
    }
    if (s.flight.start_C && *s.flight.start_C > s.air.temperature_C + 3) {
        c.add("cool_first", "Let the ESC cool to the air's temperature before take-off", "waiting")
            .flight.start_C.reset();
    }
}

void add_drive_changes(Candidates& c, const Plant& p) {
    const Setup& s = c.base;
    if (s.load.kind == LoadKind::governed) {
        return;
    }
    const bool fan = s.load.kind == LoadKind::fan;
    Setup& smaller = c.add(fan ? "less_fan" : "less_propeller",
                           fan ? "A fan that draws a tenth less at full throttle"
                               : "A propeller that draws a tenth less at full throttle",
                           "about 7 % less thrust at the same throttle");
    constexpr double tenth_less = 0.9;
    smaller = without_readings(with_load_times(s, tenth_less));
    // Cruise at higher duty for the same shaft power: a lower Kv (or gearing), or fewer cells.
    const double kv = p.u.kv * 30 / pi;
    const auto retuned = [&](Setup& changed) {
        if (!retune(changed, p)) {
            c.list.pop_back();
        }
    };
    Setup& slower = c.add("lower_kv", "A motor of 10 % lower Kv, or gearing to match, same power",
                          "less top-end power; the same cruise at more throttle");
    slower.motor.kv_rpm_per_V = neat(tenth_less * kv);
    retuned(slower);
    if (const double cells = fewer_cells(s.pack.cells); cells >= 2) {
        Setup& fewer = c.add("fewer_cells",
                             say("%.0f cells instead of %.0f, same motor and propeller, same power",
                                 cells, s.pack.cells),
                             "less top-end power; the same cruise at more throttle");
        fewer.pack.cells = cells;
        fewer.motor.kv_rpm_per_V = neat(kv);
        retuned(fewer);
    }
}

void add_link_changes(Candidates& c, const Plant& p) {
    const Setup& s = c.base;
    const double uF = p.u.capacitance * 1e6;
    Setup& more =
        c.add("more_capacitance",
              say("Twice the link capacitance: another %.0f uF, low ESR, close to the ESC", uF),
              "a few grams; mind polarity and voltage rating");
    more.esc.capacitor_uF = neat(2 * uF);
    more.esc.capacitor_esr_mOhm = neat(0.5 * p.u.capacitor_esr * 1e3);
    constexpr double already_short_cm = 8;
    if (s.pack.lead_length_cm > already_short_cm) {
        c.add("shorter_leads", "Leads between pack and ESC half as long", "moving pack or ESC")
            .pack.lead_length_cm = 0.5 * s.pack.lead_length_cm;
    }
}

void add_flying_changes(Candidates& c) {
    const Setup& s = c.base;
    if (s.flight.kind == FlightKind::sequence && s.flight.parts.size() > 1) {
        Setup& shorter =
            c.add("shorter_holds", "Every hold half as long, the round flown twice as often",
                  "another way to fly");
        for (FlightPart& part : shorter.flight.parts) {
            part.seconds = std::max(0.1, 0.5 * part.seconds);
        }
    }
}

}  // namespace

double neat(double x) {
    const double scale = std::pow(10, 3 - std::floor(std::log10(std::abs(x))));
    return std::isfinite(scale) ? std::round(x * scale) / scale : x;
}

Setup with_esc_of(const Setup& s, double rating_A) {
    EscSetup fresh;
    fresh.rating_A = rating_A;
    fresh.pwm_Hz = s.esc.pwm_Hz;
    fresh.pwm_choices_Hz = s.esc.pwm_choices_Hz;
    fresh.freewheel = s.esc.freewheel;
    fresh.drive = s.esc.drive;
    fresh.full_on_pct = s.esc.full_on_pct;
    fresh.limit_C = s.esc.limit_C;
    fresh.cells_max = s.esc.cells_max;
    fresh.bec_kind = s.esc.bec_kind;
    fresh.bec_V = s.esc.bec_V;
    fresh.bec_A = s.esc.bec_A;
    Setup out = s;
    out.esc = fresh;
    return out;
}

Setup with_load_times(const Setup& s, double factor) {
    Setup out = s;
    const auto scale = [&](std::optional<double>& value) {
        if (value) {
            value = neat(factor * *value);
        }
    };
    scale(out.load.full_throttle_A);
    scale(out.load.shaft_W);
    for (ThrottlePoint& q : out.load.points) {
        q.pack_A = neat(factor * q.pack_A);
    }
    for (MeasuredRow& r : out.measured) {
        scale(r.pack_A);
    }
    return out;
}

namespace {

/// Cooler or warmer by less is not noticed (K), and a flight not longer or shorter (s).
constexpr double noticed_K = 0.5;
constexpr double noticed_s = 5;

bool within_fields(const Setup& s) {
    return std::holds_alternative<Setup>(parse_setup(write_json(write_setup(s))));
}

// What is believed of the changed setup. A change that leaves the readings behind leaves behind
// what they taught.
Belief belief_of(const Setup& s, const Belief& belief, const Setup& changed) {
    return leaves_readings(s, changed) ? calibrate(changed).belief : carried_to(changed, belief);
}

// What it does on the middle plant: the flight time is the one that the page shows.
void fly_middle(const Setup& s, const Belief& belief, const March& before, Change& change) {
    const Plant p = middle_plant(change.changed, belief_of(s, belief, change.changed));
    const March m = run_flight(p, change.changed.flight).march;
    change.flight_change_s = m.seconds - before.seconds;
    change.runs_away = m.ended_by == EndedBy::runaway;
    if (before.ended_by != EndedBy::runaway && !change.runs_away) {
        change.esc_peak_change_K = m.peak_board - before.peak_board;
    }
    change.peak_C = m.peak_board;
}

// The flights of the draws with a change; another frequency's have been flown.
std::vector<Outcome> trial_of(const Setup& s, const Belief& belief, const Draws& draws,
                              const Trial& trial, const PwmTrial& pwm, const Change& change) {
    for (size_t i = 0; i < pwm.flights.size(); ++i) {
        if (change.id == pwm_id(pwm.report.choices[i].pwm_Hz)) {
            return pwm.flights[i];
        }
    }
    return fly_changed(s, draws, trial, ChangedDraws(s, belief.priors, draws, change.changed));
}

// What it does on the draws.
void tell_trial(const std::vector<Outcome>& after, const Draws& draws, Change& change) {
    const std::vector<Outcome> before(
        draws.flight.begin(), draws.flight.begin() + static_cast<std::ptrdiff_t>(after.size()));
    const std::vector<double> cooler = peak_differences(before, after);
    const double was_C = peak_band(before).p50;
    change.peak_C = peak_band(after).p50;
    change.runs_away = !std::isfinite(change.peak_C);
    Band band = band_of(cooler);
    change.esc_peak_change_K.reset();
    if (std::isfinite(was_C) && !change.runs_away) {
        change.esc_peak_change_K = change.peak_C - was_C;
        // The verdict's own difference: the middle of the draws' differences is another by tenths.
        band.p50 = std::clamp(*change.esc_peak_change_K, band.p10.value_or(change.peak_C - was_C),
                              band.p90.value_or(change.peak_C - was_C));
    }
    change.esc_peak_change_band_K = band;
    const auto share_of = [](const auto& list, const auto& holds) {
        return static_cast<double>(std::count_if(list.begin(), list.end(), holds)) /
               static_cast<double>(list.size());
    };
    change.chance_helps = share_of(cooler, [](double K) { return K < -noticed_K; });
    change.keeps_limit = share_of(after, [&](const Outcome& o) {
                             return o.peak_C <= change.changed.esc.limit_C;
                         }) >= sure;
}

// Whether a pilot should hear of it: it cools, or it is named as the trade it is.
bool worth_saying(Change& change, bool base_runs_away, double recommended_Hz) {
    if (change.runs_away) {
        return false;
    }
    if (base_runs_away) {
        return true;
    }
    const double K = change.esc_peak_change_K.value_or(0);
    if (K <= -noticed_K) {
        return true;
    }
    const bool recommended = change.id == pwm_id(recommended_Hz);
    const bool longer = change.flight_change_s >= noticed_s;
    if (!recommended && !longer) {
        return false;
    }
    if (K >= noticed_K) {
        change.cost = (change.cost.empty() ? "" : change.cost + "; ") + "a warmer ESC: a trade";
    }
    return true;
}

}  // namespace

std::vector<Change> find_changes(const Setup& s, const Belief& belief, const FlightRun& flight,
                                 const PwmTrial& pwm, const Draws& draws, Scale in) {
    const Plant base = middle_plant(s, belief);
    Candidates c{s, {}};
    add_bridge_changes(c, pwm.report);
    add_air_changes(c);
    add_drive_changes(c, base);
    add_link_changes(c, base);
    add_flying_changes(c);
    const bool spread = draws.count() > 0;
    const std::optional<Trial> trial =
        spread ? std::optional<Trial>(std::in_place, s, draws) : std::nullopt;
    const bool base_runs_away = spread ? !std::isfinite(peak_band(draws.flight).p50)
                                       : flight.march.ended_by == EndedBy::runaway;
    std::vector<Change> out;
    for (Change& change : c.list) {
        if (!within_fields(change.changed)) {
            continue;
        }
        fly_middle(s, belief, flight.march, change);
        if (spread) {
            tell_trial(trial_of(s, belief, draws, *trial, pwm, change), draws, change);
        }
        if (leaves_readings(s, change.changed)) {
            change.cost += change.cost.empty() ? "" : "; ";
            change.cost += "your readings were taken without it and no longer count";
        }
        if (worth_saying(change, base_runs_away, pwm.report.recommended_Hz)) {
            if (base_runs_away) {
                change.text += " (ends the runaway: near " + degrees(change.peak_C, in) + ")";
            }
            out.push_back(std::move(change));
        }
    }
    std::stable_sort(out.begin(), out.end(), [](const Change& a, const Change& b) {
        const bool a_keeps = a.keeps_limit.value_or(false);
        const bool b_keeps = b.keeps_limit.value_or(false);
        return a_keeps != b_keeps ? a_keeps : a.peak_C < b.peak_C;
    });
    return out;
}

}  // namespace hotband
