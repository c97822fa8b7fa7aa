// Is anything asked for more than it is made for? Each check a figure, a bound and the bound's
// basis; one that fails by far forbids the flight.
#include <algorithm>
#include <cmath>
#include <utility>

#include "advise/resonance.hpp"
#include "advise/rooms.hpp"
#include "advise/text.hpp"
#include "learn/belief.hpp"

namespace hotband {
namespace {

// A figure on the right side of its bound, by more than no meter reads.
bool keeps(double value, double bound, Side side) {
    constexpr double slack = 0.005;
    const double near = slack * std::abs(bound);
    return side == Side::at_least ? value >= bound - near : value <= bound + near;
}

// `stop`: the bound from which failing forbids the flight, where there is one.
void add(CheckGroup& g, CheckItem item, std::optional<double> stop = {}) {
    item.ok = keeps(item.value, item.bound, item.side);
    item.serious = !item.ok && stop && !keeps(item.value, *stop, item.side);
    g.ok = g.ok && item.ok;
    g.items.push_back(std::move(item));
}

CheckItem at_most(const char* key, std::string label, double value, double bound, const char* unit,
                  std::string basis) {
    CheckItem item;
    item.key = key;
    item.label = std::move(label);
    item.value = value;
    item.bound = bound;
    item.unit = unit;
    item.basis = std::move(basis);
    return item;
}

CheckItem at_least(const char* key, std::string label, double value, double bound, const char* unit,
                   std::string basis) {
    CheckItem item = at_most(key, std::move(label), value, bound, unit, std::move(basis));
    item.side = Side::at_least;
    return item;
}

// Operating points of the flight's parts and of its hardest pull, on the full and on the spent
// pack.
struct Points {
    std::vector<Operating> parts;
    Operating full;
    Operating spent;
    std::optional<Operating> chopping;  // the part that draws most motor current while it chops
};

Points flight_points(const Setup& s, const Plant& p, const FlightRun& flight) {
    const Source fresh = source_at(p, p.pack.start, p.pack.start_C, 50, 50);
    Points out;
    double most = 1;
    for (const Demand& d : flight.plan.demands) {
        out.parts.push_back(operate(p, d, fresh, true));
        most = s.load.kind == LoadKind::governed ? std::max(most, d.throttle) : 1;
    }
    for (const Operating& o : out.parts) {
        if (o.chopping && (!out.chopping || o.i_motor > out.chopping->i_motor)) {
            out.chopping = o;
        }
    }
    out.full = operate(p, {.throttle = most}, fresh, true);
    const Moment& last = flight.march.moments.back();
    out.spent =
        operate(p, {.throttle = most}, source_at(p, last.charge, last.pack_C, 60, 60), true);
    return out;
}

CheckGroup check_rating(const Setup& s, const Plant& p, const Points& at) {
    constexpr double far_over = 1.5;  // ESCs cut out or fail; common practice
    CheckGroup g;
    const double rating = s.esc.rating_A;
    const double burst = burst_rating_A(s.esc);
    const std::string burst_basis =
        s.esc.burst_A ? "told" : "a fifth over the rating for a few seconds; common practice";
    const bool rotor = s.load.kind == LoadKind::governed;
    const std::string where = rotor ? "in the hardest part" : "at full throttle";
    add(g,
        at_most("full_throttle_A", "Motor current " + where + ", fresh pack", at.full.i_motor,
                rating, "A",
                rotor ? "the ESC's rating holds for motor current, which exceeds the pack's"
                      : "the ESC's rating holds for motor current, which is the pack's only at "
                        "full throttle"),
        far_over * rating);
    add(g,
        at_most("burst_A", "Highest motor current within the PWM period, " + where,
                at.full.cycle.i_m_max, burst, "A", burst_basis),
        far_over * burst);
    // a propeller that the air turns draws next to nothing
    constexpr double idle = 0.02;
    if (rotor || !at.chopping || at.chopping->i_motor < idle * rating) {
        return g;
    }
    add(g,
        at_most(
            "part_throttle_A",
            say(p.pack.share > 1 ? "Motor current at part throttle, of each motor, where the pack "
                                   "shows %.0f A for all"
                                 : "Motor current at part throttle, where the pack shows %.0f A",
                at.chopping->i_pack * p.pack.share),
            at.chopping->i_motor, rating, "A",
            "below full throttle the motor's current exceeds the pack's"),
        far_over * rating);
    add(g,
        at_most("part_throttle_burst_A",
                "Highest motor current within the PWM period, at part throttle",
                at.chopping->cycle.i_m_max, burst, "A", burst_basis),
        far_over * burst);
    return g;
}

// Loaded voltage of one cell (V) as `pack_A` is drawn from the whole pack.
double loaded_cell(const Plant& p, double charge, double pack_C, double pack_A) {
    return p.pack.cells->open_circuit_V.at(charge) -
           p.u.cell_resistance * cell_resistance_factor(pack_C, charge) * pack_A / p.pack.parallel;
}

CheckGroup check_pack(const Setup& s, const Plant& p, const FlightRun& flight, const Points& at) {
    constexpr double warmest_C = 60;
    constexpr double ruined_C = 80;  // lithium cells begin to gas; common practice
    constexpr double dip_V = 0.2;
    CheckGroup g;
    const double Ah = p.pack.charge / 3600;
    double most_A = 0;
    double lowest_V = flight.march.moments.front().cell_V;
    double warmest = p.pack.start_C;
    for (const Moment& m : flight.march.moments) {
        most_A = std::max(most_A, m.i_pack * p.pack.share);
        lowest_V = std::min(lowest_V, m.cell_V);
        warmest = std::max(warmest, m.pack_C);
    }
    const double half_V = loaded_cell(p, 0.5, p.pack.start_C, 0);
    const double per_A = half_V - loaded_cell(p, 0.5, p.pack.start_C, 1);
    const double sags_C = (half_V - p.pack.sag_floor_V) / per_A / Ah;
    const bool by_label = s.pack.label_C && *s.pack.label_C < sags_C;
    const bool by_custom = !s.pack.label_C && !s.pack.cell_resistance_mOhm && most_usual_C < sags_C;
    add(g,
        at_most("rate_C", "Highest discharge rate in the flight", most_A / Ah,
                by_label    ? *s.pack.label_C
                : by_custom ? most_usual_C
                            : sags_C,
                "C",
                by_label    ? "the pack's label, told"
                : by_custom ? "few packs are made for more, and no label is told; common practice"
                            : "sags the half-empty pack, as warm as at the start, to its floor"));
    add(g,
        at_least("lowest_cell_V", "Lowest loaded cell", lowest_V, p.pack.sag_floor_V, "V",
                 s.pack.sag_floor_V ? "told" : "usual floor of this chemistry; common practice"));
    const Moment& last = flight.march.moments.back();
    add(g, at_least("go_around_V",
                    s.load.kind == LoadKind::governed
                        ? "Loaded cell in the hardest part, at the end of the flight"
                        : "Loaded cell at full throttle, at the end of the flight",
                    loaded_cell(p, last.charge, last.pack_C, at.spent.i_pack * p.pack.share),
                    p.pack.sag_floor_V - dip_V, "V",
                    "a go-around may dip 0.2 V under the floor; common practice"));
    add(g,
        at_most("pack_C", "Warmest pack in the flight", warmest, warmest_C, "deg C",
                "usual ceiling for lithium cells; the maker's figure comes first"),
        ruined_C);
    return g;
}

// Capacitance (uF) that an ESC of this rating usually has.
double usual_capacitance_uF(const Setup& s) {
    Setup untold = s;
    untold.esc.capacitor_uF.reset();
    const std::vector<Prior> priors = make_priors(untold);
    const auto row = std::find_if(priors.begin(), priors.end(), [](const Prior& prior) {
        return prior.key == "esc.capacitor_uF";
    });
    return row->median;
}

// LiPo cells in series that ESCs of a rating are usually made for (common practice, no source).
double usual_cells(double rating_A) { return rating_A < 60 ? 6 : rating_A < 100 ? 8 : 14; }

void check_resonance(CheckGroup& g, const Plant& p, const std::string& by) {
    const auto window = resonance_window(p);
    if (!window) {
        return;
    }
    CheckItem item =
        at_most("resonance_ratio", "PWM frequency over the resonance of leads and capacitors" + by,
                resonance_ratio(p), window->low, "x",
                "between the two the ripple current grows by half and more");
    item.side = Side::outside;
    item.bound_high = window->high;
    item.ok = !resonates(p);
    g.ok = g.ok && item.ok;
    g.items.push_back(std::move(item));
}

CheckGroup check_capacitor(const Setup& s, const Plant& p, const Points& at) {
    constexpr double most_swing_pct = 10;
    constexpr double lost_swing_pct = 50;  // the electronics' own supply gives way
    constexpr double free_lead_cm = 30;
    constexpr double uF_per_cm = 22;
    constexpr double over_full = 1.15;
    constexpr double breakdown = 1.4;  // switches stand half as much again as the fullest pack
    CheckGroup g;
    double ripple = 0;
    double swing = 0;
    double peak = 0;
    const auto take = [&](const Operating& o) {
        ripple = std::max(ripple, o.cycle.i_c_rms);
        swing = std::max(swing, 100 * (o.cycle.v_link_max - o.cycle.v_link_min) / o.v_link);
        peak = std::max(peak, o.cycle.v_link_max);
    };
    for (const Operating& o : at.parts) {
        take(o);
    }
    take(at.full);
    const std::string by = s.esc.capacitor_uF ? "" : ", the capacitors estimated";
    add(g, at_most("ripple_A", "Ripple current in the link capacitors" + by, ripple,
                   most_ripple_A(s, p), "A",
                   s.esc.capacitor_ripple_A
                       ? "told"
                       : "5 A for each 100 uF: what the smallest usual bank of an ESC at its "
                         "rating carries, at the cost of its life; common practice"));
    add(g,
        at_most("link_ripple_pct", "Link voltage ripple, peak to peak" + by, swing, most_swing_pct,
                "%", "a tenth of the link voltage; common practice"),
        lost_swing_pct);
    check_resonance(g, p, by);
    const double missing = uF_per_cm * std::max(0.0, s.pack.lead_length_cm - free_lead_cm);
    const double fitted =
        s.esc.capacitor_uF ? std::max(0.0, *s.esc.capacitor_uF - usual_capacitance_uF(s)) : 0;
    // Where the ripple is small in spite of its leads there is nothing to mend.
    if (missing > 0 && swing > 0.5 * most_swing_pct) {
        add(g, at_least("lead_capacitance_uF", "Capacitance fitted beyond the ESC's own", fitted,
                        missing, "uF", "220 uF for each 10 cm of lead over 30; common practice"));
    }
    if (s.esc.cells_max) {
        const double fullest = *s.esc.cells_max * p.pack.cells->open_circuit_V.at(1);
        add(g,
            at_most("link_peak_V", "Highest link voltage", peak, over_full * fullest, "V",
                    "15 % over the fullest pack the ESC is sold for; common practice"),
            breakdown * fullest);
        add(g,
            at_most("cells", "Cells in series", s.pack.cells, *s.esc.cells_max, "",
                    "the ESC's cell limit, told"),
            *s.esc.cells_max);
    }
    const double LiPo_cells = s.pack.cells * p.pack.cells->open_circuit_V.at(1) /
                              cell_type(Chemistry::lipo).open_circuit_V.at(1);
    if (!s.esc.cells_max && LiPo_cells > usual_cells(s.esc.rating_A)) {
        add(g, at_most("cells", "Cells in series, the ESC's own limit not told", s.pack.cells,
                       std::floor(s.pack.cells * usual_cells(s.esc.rating_A) / LiPo_cells), "",
                       "what ESCs of this rating are usually made for; common practice: its label "
                       "comes first"));
    }
    return g;
}

CheckGroup check_supply(const Setup& s, const Plant& p) {
    constexpr double most_heat_W = 5;
    CheckGroup g;
    if (s.esc.bec_kind == BecKind::none) {
        return g;
    }
    const bool linear = s.esc.bec_kind == BecKind::linear;
    const double V = p.pack.series * p.pack.cells->open_circuit_V.at(p.pack.start);
    const double most = s.esc.bec_max_A.value_or(linear ? 2 : 5);
    // A supply that gives way takes the receiver with it.
    add(g,
        at_most("current_A", "Average current of servos and receiver", s.esc.bec_A, 0.5 * most, "A",
                s.esc.bec_max_A
                    ? "half of the supply's rating, told; servos peak at several times their "
                      "average"
                    : "half of a usual supply's rating; servos peak at several times their "
                      "average"),
        most);
    if (linear) {
        add(g,
            at_most("heat_W", "Heat of the linear supply on a fresh pack",
                    (V - s.esc.bec_V) * s.esc.bec_A, most_heat_W, "W",
                    "about what a board of this kind sheds beside its main losses; common "
                    "practice"),
            2 * most_heat_W);
    }
    return g;
}

}  // namespace

Checks run_checks(const Setup& s, const Plant& p, const FlightRun& flight) {
    const Points at = flight_points(s, p, flight);
    return {check_rating(s, p, at), check_pack(s, p, flight, at), check_capacitor(s, p, at),
            check_supply(s, p)};
}

double most_ripple_A(const Setup& s, const Plant& p) {
    constexpr double ripple_A_per_uF = 0.05;
    return s.esc.capacitor_ripple_A.value_or(ripple_A_per_uF * p.u.capacitance * 1e6);
}

double hardest_A(const Checks& checks) { return checks.rating.items.front().value; }

RotorSpeed rotor_speed(const Plant& p, const FlightRun& flight) {
    const Moment& last = flight.march.moments.back();
    const Source fresh = source_at(p, p.pack.start, p.pack.start_C, 50, 50);
    const Source spent = source_at(p, last.charge, last.pack_C, 60, 60);
    const std::vector<Demand>& all = flight.plan.demands;
    const auto held_on = [&](const Source& source) {
        return [&p, &source](const Demand& d) { return !operate(p, d, source).saturated; };
    };
    return {std::any_of(all.begin(), all.end(), held_on(fresh)),
            std::all_of(all.begin(), all.end(), held_on(spent))};
}

}  // namespace hotband
