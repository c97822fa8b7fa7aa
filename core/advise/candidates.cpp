// What could be changed about a setup; see candidates.hpp.
#include "advise/candidates.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "advise/text.hpp"
#include "advise/trial.hpp"
#include "learn/readings.hpp"
#include "physics/constants.hpp"
#include "physics/propeller.hpp"
#include "physics/root.hpp"
#include "setup/parse.hpp"
#include "setup/setup_json.hpp"

namespace hotband {
namespace {

// Sizes that ESCs are sold in (common practice, no source).
constexpr std::array<double, 16> usual_ratings = {10,  15,  20,  30,  40,  50,  60,  80,
                                                  100, 120, 150, 180, 200, 250, 300, 400};

// The next class of ESC, or the first one that is rated for `most_A`.
double next_rating(double rating, double most_A) {
    const double wanted = std::max(rating * 1.1, most_A);
    const auto* next = std::upper_bound(usual_ratings.begin(), usual_ratings.end(), wanted);
    return next == usual_ratings.end() ? std::ceil(1.1 * wanted) : *next;
}

// Cells in the next smaller pack that is sold: even counts above eight (common practice, no
// source).
double fewer_cells(double cells) {
    return cells > 9 ? cells - (std::fmod(cells, 2) == 0 ? 2 : 1) : cells - 1;
}

struct Candidates {
    const Setup& base;
    std::vector<Candidate> list;

    Setup& add(Altered altered, std::string id, std::string text, std::string cost) {
        Candidate c{altered, {}};
        c.change.id = std::move(id);
        c.change.text = std::move(text);
        c.change.cost = std::move(cost);
        c.change.changed = base;
        list.push_back(std::move(c));
        return list.back().change.changed;
    }
};

// Throttle for each part that gives the shaft power it had. False, and nothing of use, where that
// takes full throttle for what did not, or is more than full throttle gives.
bool keep_shaft_power(Setup& changed, const Plant& before, const Plant& after) {
    for (FlightPart& part : changed.flight.parts) {
        const double wanted = at_mid_pack(before, part.throttle_pct / 100).shaft_W;
        const double most = after.full_on - 1e-3;
        if (wanted <= 0) {
            continue;
        }
        if (at_mid_pack(after, most).shaft_W <= wanted) {
            if (part.throttle_pct < 100 * before.full_on ||
                at_mid_pack(after, 1).shaft_W < wanted) {
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
// moved to keep each part's power. Points tell of the old drive; measured rows say that they do,
// but for flights, which are not flown with that throttle any more.
bool retune(Setup& changed, const Plant& p) {
    const Operating full = at_mid_pack(p, 1);
    changed.load.full_throttle_A.reset();
    changed.load.points.clear();
    changed.load.shaft_W = neat(full.shaft_W);
    changed.load.shaft_rpm = neat(full.omega * 30 / pi);
    std::erase_if(changed.measured,
                  [](const MeasuredRow& row) { return row.kind == RowKind::flight; });
    const std::vector<Prior> priors = make_priors(changed);
    return keep_shaft_power(changed, p, fitted_plant(changed, priors));
}

// Rows that were taken with what a change replaces say so.
template <class Then>
void keep_as_now(std::vector<MeasuredRow>& rows, Then MeasuredRow::*what, Then now) {
    for (MeasuredRow& row : rows) {
        row.*what = row.*what == Then::as_now ? now : row.*what;
    }
}

void add_bridge_changes(Candidates& c, const Checks& checks,
                        const std::vector<PwmChoice>& choices) {
    const Setup& s = c.base;
    for (const PwmChoice& choice : choices) {
        if (choice.pwm_Hz != s.esc.pwm_Hz) {
            c.add(Altered::frequency, pwm_id(choice.pwm_Hz),
                  say("PWM at %.0f kHz", choice.pwm_Hz * 1e-3),
                  say("motor ripple %.0f %%", choice.motor_ripple_pct)) =
                at_frequency(s, choice.pwm_Hz);
        }
    }
    if (s.esc.freewheel != Freewheel::active && s.esc.drive == Drive::six_step) {
        Setup& active = c.add(Altered::freewheel, "active_freewheel",
                              "Switch active freewheel on, or use an ESC that has it",
                              "the motor brakes when the throttle closes");
        keep_as_now(
            active.measured, &MeasuredRow::freewheel,
            s.esc.freewheel == Freewheel::diode ? FreewheelThen::diode : FreewheelThen::unknown);
        active.esc.freewheel = Freewheel::active;
    }
    const double most_A = hardest_A(checks);
    const double next = next_rating(s.esc.rating_A, most_A);
    Setup& bigger = c.add(Altered::esc, "bigger_esc",
                          say(!checks.rating.items.front().ok
                                  ? "ESC of the %.0f A class, the first that carries the current"
                                  : "ESC of the %.0f A class",
                              next),
                          say("about %.0f g more, and its price", 0.95 * (next - s.esc.rating_A)));
    bigger = without_readings(with_esc_of(s, next));
    if (s.esc.bec_kind == BecKind::linear) {
        Setup& cooler =
            c.add(Altered::supply, "switching_supply",
                  "A switching BEC instead of the linear one, or a receiver pack", "a few grams");
        keep_as_now(cooler.measured, &MeasuredRow::bec_kind, BecKindThen::linear);
        cooler.esc.bec_kind = BecKind::switching;
    }
}

void add_air_changes(Candidates& c, const Plant& p) {
    const Setup& s = c.base;
    if (s.air.cooling == Cooling::closed) {
        Setup& vented =
            c.add(Altered::air, "vent_bay", "Open an inlet and a larger outlet in the ESC's bay",
                  "holes in the fuselage; dust and rain get in");
        keep_as_now(vented.measured, &MeasuredRow::cooling, CoolingThen::closed);
        vented.air.cooling = Cooling::vented;
        vented.air.wash_share.reset();
    }
    if (s.air.cooling != Cooling::open && s.load.kind != LoadKind::governed) {
        Setup& open = c.add(Altered::air, "mount_open",
                            s.load.kind == LoadKind::fan ? "Mount the ESC in the fan's intake air"
                                                         : "Mount the ESC out in the slipstream",
                            "drag, rain and knocks");
        keep_as_now(open.measured, &MeasuredRow::cooling,
                    s.air.cooling == Cooling::closed ? CoolingThen::closed : CoolingThen::vented);
        open.air.cooling = Cooling::open;
        open.air.wash_share.reset();
    }
    if (s.air.sun) {
        Setup& shaded = c.add(Altered::sun, "shade",
                              "Keep the sun off the ESC until take-off and in flight", "");
        keep_as_now(shaded.measured, &MeasuredRow::sun, SunThen::sun);
        shaded.air.sun = false;
    }
    if (s.flight.start_C && *s.flight.start_C > s.air.temperature_C + 3) {
        HeatState landed{};
        landed.junction = landed.board = landed.body = *s.flight.start_C;
        landed.bay = landed.winding = s.air.temperature_C;
        constexpr double cool_K = 3;
        const std::optional<double> wait_s = cool_down_seconds(p, landed, cool_K);
        c.add(Altered::start, "cool_first",
              "Wait between flights until the ESC is as cool as the air",
              wait_s ? say("about %.0f minutes of waiting", std::ceil(*wait_s / 60))
                     : "hours of waiting")
            .flight.start_C.reset();
    }
}

// The hover current (A) on the half empty pack, where it is told or was read.
std::optional<double> believed_hover_A(const Setup& s, const Plant& p) {
    if (load_told(s) != LoadTold::points) {
        return s.load.hover_A;
    }
    return neat(at_mid_pack(p, 1).i_pack * p.pack.share / p.u.current_scale);
}

// A rotor held at its speed: other gearing, other head speed.
void add_rotor_changes(Candidates& c, const Plant& p) {
    const Setup& s = c.base;
    if (!s.load.rotor_rpm) {
        return;
    }
    constexpr double tenth_more = 1.1;
    Setup& geared = c.add(Altered::drive, "shorter_gearing",
                          "A pinion with a tenth fewer teeth, or a motor of 10 % lower Kv, at the "
                          "same head speed",
                          "less reserve for the governor");
    geared = without_readings(s);
    geared.motor.kv_rpm_per_V = neat(p.u.kv * 30 / pi);
    geared.load.gear_ratio = neat(tenth_more * gear_ratio_of(s));
    if (const std::optional<double> hover_A = believed_hover_A(s, p)) {
        // The lift takes as much as before. Where mass and size are not told the blades take 0.55
        // to 0.75 of a model helicopter's hover (common practice, no source).
        constexpr double slower = 0.95;
        constexpr double usual_profile = 0.6;
        const bool sized = s.load.mass_kg && s.load.rotor_diameter_m;
        const double profile = sized ? rotor_profile_share(p.load.figure_of_merit) : usual_profile;
        Setup& slow = c.add(Altered::load, "lower_head_speed", "Head speed 5 % lower",
                            "softer on the stick, less lift in reserve");
        slow.measured.clear();  // they tell of the old head speed
        slow.load.rotor_rpm = neat(slower * *s.load.rotor_rpm);
        slow.load.hover_A = neat(*hover_A * (1 - profile + profile * slower * slower * slower));
    }
}

// The setup with a propeller that draws `factor` times as much; its rows were taken with this one.
Setup with_other_propeller(const Setup& s, const Plant& p, double factor) {
    if (s.measured.empty()) {
        return with_load_times(s, factor);
    }
    Setup out = s;
    for (MeasuredRow& row : out.measured) {
        if (!row.full_throttle_A) {
            row.full_throttle_A = neat(fresh_full_throttle_A(rigged(p, rig_of(row))));
        }
    }
    out = with_load_times(out, factor);
    out.load.full_throttle_A = neat(factor * fresh_full_throttle_A(p));
    return out;
}

void add_drive_changes(Candidates& c, const Plant& p) {
    const Setup& s = c.base;
    if (s.load.kind == LoadKind::governed) {
        add_rotor_changes(c, p);
        return;
    }
    const bool fan = s.load.kind == LoadKind::fan;
    Setup& smaller = c.add(Altered::load, fan ? "less_fan" : "less_propeller",
                           fan ? "A fan that draws a tenth less at full throttle"
                               : "A propeller that draws a tenth less at full throttle",
                           "about 7 % less thrust at the same throttle");
    constexpr double tenth_less = 0.9;
    smaller = with_other_propeller(s, p, tenth_less);
    // Cruise at higher duty for the same shaft power: a lower Kv (or gearing), or fewer cells.
    const double kv = p.u.kv * 30 / pi;
    const auto retuned = [&](Setup& changed) {
        for (MeasuredRow& row : changed.measured) {
            row.kv_rpm_per_V = row.kv_rpm_per_V.value_or(neat(kv));
            row.cells = row.cells.value_or(s.pack.cells);
        }
        if (!retune(changed, p)) {
            c.list.pop_back();
        }
    };
    Setup& slower = c.add(Altered::drive, "lower_kv",
                          "A motor of 10 % lower Kv, or gearing to match, same power",
                          "less top-end power; the same cruise at more throttle");
    slower.motor.kv_rpm_per_V = neat(tenth_less * kv);
    retuned(slower);
    if (const double cells = fewer_cells(s.pack.cells); cells >= 2) {
        Setup& fewer = c.add(Altered::drive, "fewer_cells",
                             say("%.0f cells instead of %.0f, same motor and propeller, same power",
                                 cells, s.pack.cells),
                             "less top-end power; the same cruise at more throttle");
        fewer.pack.cells = cells;
        fewer.motor.kv_rpm_per_V = neat(kv);
        retuned(fewer);
    }
}

// The changed pack, the same flying on it: as much shaft power, throttle or current told anew.
bool same_flying(Setup& changed, const Plant& p) {
    if (changed.load.kind != LoadKind::governed) {
        changed.measured.clear();  // they tell of the old pack
        return retune(changed, p);
    }
    if (const std::optional<double> hover_A = believed_hover_A(changed, p)) {
        changed.measured.clear();
        changed.load.hover_A = hover_A;
        // as much power: a better pack's voltage draws less, twice sought is near enough
        for (int i = 0; i < 2; ++i) {
            const Plant after = fitted_plant(changed, make_priors(changed));
            *changed.load.hover_A *= at_mid_pack(p, 1).shaft_W / at_mid_pack(after, 1).shaft_W;
        }
        changed.load.hover_A = neat(*changed.load.hover_A);
    }
    changed = without_readings(changed);
    return true;
}

// A pack that gives more, where the present one is asked too much.
void add_pack_changes(Candidates& c, const Plant& p, const Checks& checks) {
    const Setup& s = c.base;
    if (checks.pack.ok) {
        return;
    }
    const auto flown_alike = [&](Setup& changed) {
        if (!same_flying(changed, p)) {
            c.list.pop_back();
        }
    };
    Setup& better =
        c.add(Altered::pack, "better_pack",
              "A pack of the same size and half the resistance, same power", "its price");
    better.pack.cell_resistance_mOhm = neat(0.5e3 * p.u.cell_resistance);
    flown_alike(better);
    constexpr double half_more = 1.5;
    const double larger_mAh = neat(half_more * s.pack.capacity_mAh);
    Setup& larger = c.add(
        Altered::pack, "larger_pack",
        say("A pack of %.0f mAh instead of %.0f, same power", larger_mAh, s.pack.capacity_mAh),
        "half as heavy again, which is not counted here");
    larger.pack.capacity_mAh = larger_mAh;
    larger.pack.cell_resistance_mOhm = neat(1e3 * p.u.cell_resistance / half_more);
    flown_alike(larger);
    Setup& second = c.add(
        Altered::pack, "second_pack", "A second pack of the same kind in parallel, same power",
        "twice the weight, which is not counted here; join packs only at the same "
        "voltage");
    second.pack.parallel = 2 * s.pack.parallel;
    second.pack.cell_resistance_mOhm = neat(1e3 * p.u.cell_resistance);
    flown_alike(second);
}

void add_link_changes(Candidates& c, const Plant& p) {
    const Setup& s = c.base;
    const double uF = p.u.capacitance * 1e6;
    Setup& more =
        c.add(Altered::capacitors, "more_capacitance",
              say("Twice the link capacitance: another %.0f uF, low ESR, close to the ESC", uF),
              "a few grams; mind polarity and voltage rating");
    more.esc.capacitor_uF = neat(2 * uF);
    more.esc.capacitor_esr_mOhm = neat(0.5 * p.u.capacitor_esr * 1e3);
    constexpr double already_short_cm = 8;
    if (s.pack.lead_length_cm > already_short_cm) {
        c.add(Altered::leads, "shorter_leads", "Leads between pack and ESC half as long",
              "moving pack or ESC")
            .pack.lead_length_cm = 0.5 * s.pack.lead_length_cm;
    }
}

void add_flying_changes(Candidates& c) {
    const Setup& s = c.base;
    if (s.flight.kind == FlightKind::sequence && s.flight.parts.size() > 1) {
        Setup& shorter =
            c.add(Altered::flight, "shorter_holds",
                  "Every hold half as long, the round flown twice as often", "another way to fly");
        for (FlightPart& part : shorter.flight.parts) {
            part.seconds = std::max(0.1, 0.5 * part.seconds);
        }
    }
}

bool within_fields(const Setup& s) {
    Problems problems;
    read_setup(write_setup(s), problems);
    return problems.empty();
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
    // motor and load stay what they are believed to be
    out.load.for_esc_A = s.load.for_esc_A.value_or(s.esc.rating_A);
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
        if (tells_load(r)) {
            scale(r.pack_A);
        }
    }
    return out;
}

std::string pwm_id(double pwm_Hz) { return say("pwm_%.0f", pwm_Hz); }

Operating at_mid_pack(const Plant& p, double throttle) {
    const double charge = 0.5 * (p.pack.start + p.pack.reserve);
    return operate(p, {.throttle = throttle}, source_at(p, charge, p.pack.start_C, 60, 50));
}

std::string other_power_text(const Setup& s, const Plant& before, const Plant& after) {
    constexpr double noticed = 0.05;
    constexpr double idle = 0.02;  // of full power: what a windmilling propeller leaves
    if (s.load.kind == LoadKind::governed) {
        return "";
    }
    const double full_W = at_mid_pack(before, 1).shaft_W;
    double most = 0;
    double at_pct = 0;
    for (const FlightPart& part : s.flight.parts) {
        const double was_W = at_mid_pack(before, part.throttle_pct / 100).shaft_W;
        const double is_W = at_mid_pack(after, part.throttle_pct / 100).shaft_W;
        const double more = was_W > idle * full_W ? is_W / was_W - 1 : 0;
        at_pct = std::abs(more) > std::abs(most) ? part.throttle_pct : at_pct;
        most = std::abs(more) > std::abs(most) ? more : most;
    }
    return std::abs(most) > noticed ? say("%.0f %% %s power at %.0f %% throttle",
                                          100 * std::abs(most), most > 0 ? "more" : "less", at_pct)
                                    : "";
}

std::vector<Candidate> find_candidates(const Setup& s, const Plant& p, const Checks& checks,
                                       const std::vector<PwmChoice>& choices) {
    Candidates c{s, {}};
    add_bridge_changes(c, checks, choices);
    add_air_changes(c, p);
    add_drive_changes(c, p);
    add_pack_changes(c, p, checks);
    add_link_changes(c, p);
    add_flying_changes(c);
    std::erase_if(c.list, [](const Candidate& one) { return !within_fields(one.change.changed); });
    return c.list;
}

}  // namespace hotband
