// What would help, in kelvin: each change is the setup changed and flown again.
#include <algorithm>
#include <array>
#include <cmath>

#include "advise/rooms.hpp"
#include "advise/text.hpp"
#include "physics/constants.hpp"
#include "physics/root.hpp"

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

void add_bridge_changes(Candidates& c, const PwmReport& pwm) {
    const Setup& s = c.base;
    for (const PwmChoice& choice : pwm.choices) {
        if (choice.pwm_Hz != s.esc.pwm_Hz) {
            c.add(say("pwm_%.0f", choice.pwm_Hz), say("PWM at %.0f kHz", choice.pwm_Hz * 1e-3),
                  say("motor ripple %.0f %%", choice.motor_ripple_pct))
                .esc.pwm_Hz = choice.pwm_Hz;
        }
    }
    if (s.esc.freewheel == Freewheel::diode && s.esc.drive == Drive::six_step) {
        c.add("active_freewheel", "Switch active freewheel on, or use an ESC that has it",
              "the motor brakes when the throttle closes")
            .esc.freewheel = Freewheel::active;
    }
    const double next = next_rating(s.esc.rating_A);
    Setup& bigger = c.add("bigger_esc", say("ESC of the %.0f A class", next),
                          say("about %.0f g more, and its price", 0.95 * (next - s.esc.rating_A)));
    bigger = with_esc_of(s, next);
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
    smaller = with_load_times(s, tenth_less);
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

std::vector<Change> find_changes(const Setup& s, const Belief& belief, const FlightRun& flight,
                                 const PwmReport& pwm, Scale in) {
    const Plant base = middle_plant(s, belief);
    Candidates c{s, {}};
    add_bridge_changes(c, pwm);
    add_air_changes(c);
    add_drive_changes(c, base);
    add_link_changes(c, base);
    add_flying_changes(c);
    const bool base_runs_away = flight.march.ended_by == EndedBy::runaway;
    std::vector<Change> out;
    for (Change& change : c.list) {
        const Plant p = middle_plant(change.changed, carried_to(change.changed, belief));
        const March m = run_flight(p, change.changed.flight).march;
        if (m.ended_by == EndedBy::runaway) {
            continue;
        }
        change.flight_change_s = m.seconds - flight.march.seconds;
        if (base_runs_away) {
            change.text += " (ends the runaway: near " + degrees(m.peak_board, in) + ")";
            out.push_back(std::move(change));
            continue;
        }
        change.esc_peak_change_K = m.peak_board - flight.march.peak_board;
        constexpr double least_K = 0.05;
        constexpr double least_s = 1;
        if (std::abs(*change.esc_peak_change_K) >= least_K ||
            std::abs(change.flight_change_s) >= least_s) {
            out.push_back(std::move(change));
        }
    }
    std::stable_sort(out.begin(), out.end(), [](const Change& a, const Change& b) {
        return a.esc_peak_change_K.value_or(0) < b.esc_peak_change_K.value_or(0);
    });
    return out;
}

}  // namespace hotband
