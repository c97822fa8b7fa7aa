// Is anything asked for more than it is made for? Each check a figure, a bound and the bound's
// basis.
#include <algorithm>
#include <cmath>

#include "advise/rooms.hpp"
#include "advise/text.hpp"
#include "physics/constants.hpp"

namespace hotband {
namespace {

void add(CheckGroup& g, CheckItem item, bool more_is_better = false) {
    constexpr double slack = 0.005;  // less than any meter reads
    item.ok = more_is_better ? item.value >= item.bound - slack * std::abs(item.bound)
                             : item.value <= item.bound + slack * std::abs(item.bound);
    g.ok = g.ok && item.ok;
    g.items.push_back(std::move(item));
}

// Operating points of the flight's parts and of a full-throttle burst, on the full and on the spent
// pack.
struct Points {
    std::vector<Operating> parts;
    Operating full;
    Operating spent;
};

Points flight_points(const Setup& s, const Plant& p, const FlightRun& flight) {
    const Source fresh = source_at(p, p.pack.start, p.pack.start_C, 50, 50);
    Points out;
    for (const Demand& d : flight.plan.demands) {
        out.parts.push_back(operate(p, d, fresh, true));
    }
    const bool governed = s.load.kind == LoadKind::governed;
    double most = 1;
    for (const Demand& d : flight.plan.demands) {
        most = governed ? std::max(most, d.throttle) : 1;
    }
    out.full = operate(p, {.throttle = most}, fresh, true);
    const Moment& last = flight.march.moments.back();
    out.spent =
        operate(p, {.throttle = most}, source_at(p, last.charge, last.pack_C, 60, 60), true);
    return out;
}

CheckGroup check_rating(const Setup& s, const Points& at, const Plant& p) {
    CheckGroup g;
    const double rating = s.esc.rating_A;
    const double burst = s.esc.burst_A.value_or(1.2 * rating);
    const std::string burst_basis =
        s.esc.burst_A ? "told" : "a fifth over the rating for a few seconds; common practice";
    const bool rotor = s.load.kind == LoadKind::governed;
    add(g, {"full_throttle_A",
            rotor ? "Motor current in the hardest part, fresh pack"
                  : "Motor current at full throttle, fresh pack",
            at.full.i_motor, rating, "A", true,
            rotor ? "the ESC's rating holds for motor current, which exceeds the pack's"
                  : "the ESC's rating holds for motor current, which is the pack's only at full "
                    "throttle"});
    add(g, {"burst_A", "Its highest value within the PWM period", at.full.cycle.i_m_max, burst, "A",
            true, burst_basis});
    if (rotor) {
        return g;
    }
    const Operating* hardest = nullptr;
    for (const Operating& o : at.parts) {
        if (o.chopping && (hardest == nullptr || o.i_motor > hardest->i_motor)) {
            hardest = &o;
        }
    }
    const Operating part = hardest != nullptr
                               ? *hardest
                               : operate(p, {.throttle = p.full_on - 0.02},
                                         source_at(p, p.pack.start, p.pack.start_C, 50, 50), true);
    add(g, {"part_throttle_A",
            say("Motor current at part throttle, where the pack shows %.0f A",
                part.i_pack * p.pack.share),
            part.i_motor, rating, "A", true,
            "below full throttle the motor's current exceeds the pack's"});
    add(g, {"part_throttle_burst_A", "Its highest value within the PWM period", part.cycle.i_m_max,
            burst, "A", true, burst_basis});
    return g;
}

CheckGroup check_pack(const Setup& s, const Plant& p, const FlightRun& flight, const Points& at) {
    CheckGroup g;
    const double Ah = p.pack.charge / 3600;
    double most_A = 0;
    double lowest_V = 10;
    double warmest = -100;
    for (const Moment& m : flight.march.moments) {
        most_A = std::max(most_A, m.i_pack * p.pack.share);
        lowest_V = std::min(lowest_V, m.cell_V);
        warmest = std::max(warmest, m.pack_C);
    }
    // Rate at which a cell of this resistance sags by 0.3 V.
    const double bound_C = 0.3 / p.u.cell_resistance * p.pack.parallel / Ah;
    add(g,
        {"rate_C", "Highest discharge rate in the flight", most_A / Ah, bound_C, "C", true,
         "sags a cell by 0.3 V; labels promise about twice what a pack sustains; common practice"});
    add(g,
        {"lowest_cell_V", "Lowest loaded cell", lowest_V, p.pack.sag_floor_V, "V", true,
         s.pack.sag_floor_V ? "told" : "usual floor of this chemistry; common practice"},
        true);
    const double spent_V = p.pack.cells->open_circuit_V.at(flight.march.moments.back().charge) -
                           p.u.cell_resistance *
                               cell_resistance_factor(flight.march.moments.back().pack_C,
                                                      flight.march.moments.back().charge) *
                               at.spent.i_pack * p.pack.share / p.pack.parallel;
    add(g,
        {"go_around_V", "Loaded cell at full throttle at the end of the flight", spent_V,
         p.pack.sag_floor_V - 0.2, "V", true,
         "a go-around may dip 0.2 V under the floor; common practice"},
        true);
    add(g, {"pack_C", "Pack at the end of the flight", warmest, 60, "deg C", true,
            "usual ceiling for lithium cells; the maker's figure comes first"});
    return g;
}

CheckGroup check_capacitor(const Setup& s, const Plant& p, const Points& at) {
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
    const double uF = p.u.capacitance * 1e6;
    add(g, {"ripple_A", "Ripple current in the link capacitors", ripple,
            s.esc.capacitor_ripple_A.value_or(0.02 * uF), "A", true,
            s.esc.capacitor_ripple_A ? "told"
                                     : "2 A for each 100 uF, several times the makers' ripple "
                                       "rating; usual in ESCs, costs life; common practice"});
    add(g, {"link_ripple_pct", "Link voltage ripple, peak to peak", swing, 10, "%", true,
            "a tenth of the link voltage; common practice"});
    const double ratio = p.pwm * 2 * pi * std::sqrt(p.u.lead_inductance * p.u.capacitance);
    CheckItem resonance{"resonance_ratio",
                        "PWM frequency over the resonance of leads and capacitors",
                        ratio,
                        1.25,
                        "x",
                        true,
                        "between 0.8 and 1.25 the two meet and the ripple grows; from the cycle"};
    resonance.ok = ratio > 1.25 || ratio < 0.8;
    g.ok = g.ok && resonance.ok;
    g.items.push_back(std::move(resonance));
    const double length = s.pack.lead_length_cm;
    const double missing = std::max(0.0, (length - 20) / 10 * 220);
    add(g, {"lead_capacitance_uF",
            "Extra capacitance wanted for leads over 20 cm, against what is fitted", missing,
            s.esc.capacitor_uF ? std::max(0.0, uF - 10 * s.esc.rating_A) : 0, "uF", true,
            "220 uF for each further 10 cm; common practice"});
    if (s.esc.cells_max) {
        add(g, {"link_peak_V", "Highest link voltage", peak,
                *s.esc.cells_max * p.pack.cells->open_circuit_V.at(1) * 1.15, "V", true,
                "15 % over the fullest pack the ESC is sold for; common practice"});
        add(g, {"cells", "Cells in series", s.pack.cells, *s.esc.cells_max, "", true,
                "the ESC's cell limit, told"});
    }
    return g;
}

CheckGroup check_supply(const Setup& s, const Plant& p) {
    CheckGroup g;
    if (s.esc.bec_kind == BecKind::none) {
        return g;
    }
    const bool linear = s.esc.bec_kind == BecKind::linear;
    const double V = p.pack.series * p.pack.cells->open_circuit_V.at(p.pack.start);
    const double most = s.esc.bec_max_A.value_or(linear ? 2 : 5);
    add(g,
        {"current_A", "Average current of servos and receiver", s.esc.bec_A, 0.5 * most, "A", true,
         s.esc.bec_max_A
             ? "half of the supply's rating, told; servos peak at several times their average"
             : "half of a usual supply's rating; servos peak at several times their average"});
    if (linear) {
        add(g, {"heat_W", "Heat of the linear supply on a fresh pack",
                (V - s.esc.bec_V) * s.esc.bec_A, 5, "W", true,
                "about what a board of this kind sheds beside its main losses; common practice"});
    }
    return g;
}

}  // namespace

Checks run_checks(const Setup& s, const Plant& p, const FlightRun& flight) {
    const Points at = flight_points(s, p, flight);
    return {check_rating(s, at, p), check_pack(s, p, flight, at), check_capacitor(s, p, at),
            check_supply(s, p)};
}

std::vector<Assumption> list_assumptions(const Setup& s, const Belief& b) {
    constexpr double z10 = 1.2815515655446004;  // 90 % quantile of the standard normal
    std::vector<Assumption> out;
    for (size_t i = 0; i < b.priors.size(); ++i) {
        const Prior& prior = b.priors[i];
        if (!prior.used) {
            continue;
        }
        const double spread = b.factor.row(static_cast<Eigen::Index>(i)).norm();
        out.push_back({std::string(prior.key), prior_value(prior, b.middle[i]),
                       prior_value(prior, b.middle[i] - z10 * spread),
                       prior_value(prior, b.middle[i] + z10 * spread), prior.basis, prior.told});
    }
    const auto fixed = [&](const char* key, double value, const char* basis) {
        out.push_back({key, value, value, value, basis, false});
    };
    const CellType& cell = cell_type(s.pack.chemistry);
    if (!s.pack.sag_floor_V) {
        fixed("pack.sag_floor_V", cell.sag_floor_V,
              "usual lowest loaded cell of this chemistry; common practice");
    }
    if (!s.pack.temperature_C) {
        fixed("pack.temperature_C", s.air.temperature_C, "as the air");
    }
    if (!s.flight.start_C) {
        fixed("flight.start_C", s.air.temperature_C, "as the air");
    }
    if (!s.esc.burst_A) {
        fixed("esc.burst_A", 1.2 * s.esc.rating_A, "a fifth over the rating; common practice");
    }
    return out;
}

}  // namespace hotband
