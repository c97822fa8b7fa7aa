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

// Throttle for each part that gives the shaft power it had; full throttle where the new drive falls
// short.
void keep_shaft_power(Setup& changed, const Plant& before, const Plant& after) {
    for (FlightPart& part : changed.flight.parts) {
        const double wanted = at_mid_pack(before, part.throttle_pct / 100).shaft_W;
        const double most = after.full_on - 1e-3;
        if (at_mid_pack(after, most).shaft_W <= wanted) {
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
}

// The same propeller on another drive: the load told as shaft power at its speed.
void tell_load_as_power(Setup& s, const Plant& p) {
    const Operating full = at_mid_pack(p, 1);
    s.load.full_throttle_A.reset();
    s.load.points.clear();
    s.load.shaft_W = full.shaft_W;
    s.load.shaft_rpm = full.omega * 30 / pi;
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
              "a brake-like feel when the throttle closes")
            .esc.freewheel = Freewheel::active;
    }
    const double next = next_rating(s.esc.rating_A);
    Setup& bigger = c.add("bigger_esc", say("ESC of the %.0f A class", next),
                          say("about %.0f g more, and its price", 0.95 * (next - s.esc.rating_A)));
    bigger.esc.rating_A = next;
    // A bigger ESC is another ESC: what was told of this one does not hold for it.
    bigger.esc.burst_A.reset();
    bigger.esc.switch_resistance_mOhm.reset();
    bigger.esc.board_resistance_mOhm.reset();
    bigger.esc.transition_ns.reset();
    bigger.esc.dead_time_ns.reset();
    bigger.esc.capacitor_uF.reset();
    bigger.esc.capacitor_esr_mOhm.reset();
    bigger.esc.capacitor_ripple_A.reset();
    bigger.esc.surface_cm2.reset();
    bigger.esc.mass_g.reset();
    bigger.esc.length_cm.reset();
    bigger.esc.idle_W.reset();
}

void add_air_changes(Candidates& c) {
    const Setup& s = c.base;
    const auto wash_told = [](Setup& changed) { changed.air.wash_share.reset(); };
    if (s.air.cooling == Cooling::closed) {
        Setup& vented = c.add("vent_bay", "Open an inlet and a larger outlet in the ESC's bay",
                              "holes in the fuselage; dust and rain get in");
        vented.air.cooling = Cooling::vented;
        wash_told(vented);
    }
    if (s.air.cooling != Cooling::open) {
        Setup& open =
            c.add("mount_open", "Mount the ESC out in the slipstream", "drag, rain and knocks");
        open.air.cooling = Cooling::open;
        wash_told(open);
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
    if (s.load.kind != LoadKind::governed) {
        Setup& smaller =
            c.add("less_propeller", "A propeller that draws a tenth less at full throttle",
                  "about 7 % less thrust at the same throttle");
        if (s.load.full_throttle_A) {
            *smaller.load.full_throttle_A *= 0.9;
        }
        for (ThrottlePoint& q : smaller.load.points) {
            q.pack_A *= 0.9;
        }
        if (s.load.shaft_W) {
            *smaller.load.shaft_W *= 0.9;
        }
        for (MeasuredRow& r : smaller.measured) {
            if (r.pack_A) {
                *r.pack_A *= 0.9;
            }
        }
    }
    // Cruise at higher duty for the same shaft power: a lower Kv (or gearing), or one cell less.
    const auto retuned = [&](Setup& changed) {
        tell_load_as_power(changed, p);
        changed.measured.clear();
        const std::vector<Prior> priors = make_priors(changed);
        keep_shaft_power(changed, p, fitted_plant(changed, priors));
    };
    if (s.load.kind != LoadKind::governed && p.load.torque_coefficient > 0) {
        const double kv = p.u.kv * 30 / pi;
        Setup& slower =
            c.add("lower_kv", "A motor of 10 % lower Kv, or gearing to match, same propeller",
                  "less top-end power; the same cruise at more throttle");
        slower.motor.kv_rpm_per_V = 0.9 * kv;
        retuned(slower);
        if (s.pack.cells >= 3) {
            Setup& fewer = c.add("one_cell_less",
                                 say("%.0f cells instead of %.0f, same motor and propeller",
                                     s.pack.cells - 1, s.pack.cells),
                                 "less top-end power; the same cruise at more throttle");
            fewer.pack.cells = s.pack.cells - 1;
            fewer.motor.kv_rpm_per_V = kv;
            retuned(fewer);
        }
    }
}

void add_link_changes(Candidates& c, const Plant& p) {
    const Setup& s = c.base;
    const double uF = p.u.capacitance * 1e6;
    Setup& more =
        c.add("more_capacitance",
              say("Twice the link capacitance: another %.0f uF, low ESR, close to the ESC", uF),
              "a few grams; mind polarity and voltage rating");
    more.esc.capacitor_uF = 2 * uF;
    more.esc.capacitor_esr_mOhm = 0.5 * p.u.capacitor_esr * 1e3;
    if (s.pack.lead_length_cm > 8) {
        c.add("shorter_leads", "Leads between pack and ESC half as long", "moving pack or ESC")
            .pack.lead_length_cm = 0.5 * s.pack.lead_length_cm;
    }
}

// Shorter holds in the hottest part: half as long at a time, twice as often, when the flight is
// ordered.
void add_flying_changes(Candidates& c, const std::vector<HoldReport>& holds) {
    const Setup& s = c.base;
    const auto peak_at = [&](double throttle_pct) {
        double best = 0;
        double nearest = 1e9;
        for (const HoldReport& h : holds) {
            const double off = std::abs(h.throttle_pct - throttle_pct);
            if (off < nearest) {
                nearest = off;
                best = h.hold_peak_C.p50;
            }
        }
        return best;
    };
    size_t hot = 0;
    for (size_t i = 1; i < s.flight.parts.size(); ++i) {
        hot = peak_at(s.flight.parts[i].throttle_pct) > peak_at(s.flight.parts[hot].throttle_pct)
                  ? i
                  : hot;
    }
    if (s.flight.kind == FlightKind::sequence && s.flight.parts.size() > 1) {
        const FlightPart& part = s.flight.parts[hot];
        c.add("shorter_holds",
              say("Hold %.0f %% half as long at a time: %.0f s instead of %.0f", part.throttle_pct,
                  0.5 * part.seconds, part.seconds),
              "another way to fly")
            .flight.parts[hot]
            .seconds *= 0.5;
    }
}

}  // namespace

std::vector<Change> find_changes(const Setup& s, const Belief& belief, const FlightRun& flight,
                                 const PwmReport& pwm, const std::vector<HoldReport>& holds) {
    const Plant base = middle_plant(s, belief);
    Candidates c{s, {}};
    add_bridge_changes(c, pwm);
    add_air_changes(c);
    add_drive_changes(c, base);
    add_link_changes(c, base);
    add_flying_changes(c, holds);
    for (Change& change : c.list) {
        const Plant p = middle_plant(change.changed, carried_to(change.changed, belief));
        const FlightRun run = run_flight(p, change.changed.flight);
        change.esc_peak_change_K = run.march.peak_board - flight.march.peak_board;
        change.flight_change_s = run.march.seconds - flight.march.seconds;
    }
    std::stable_sort(c.list.begin(), c.list.end(), [](const Change& a, const Change& b) {
        return a.esc_peak_change_K < b.esc_peak_change_K;
    });
    return c.list;
}

}  // namespace hotband
