// What was believed where the pilot told nothing: every prior with its range, and the plain
// defaults.
#include <cmath>

#include "advise/rooms.hpp"

namespace hotband {

double burst_rating_A(const EscSetup& esc) { return esc.burst_A.value_or(1.2 * esc.rating_A); }

std::vector<Assumption> list_assumptions(const Setup& s, const Calibration& c,
                                         const Plant& middle) {
    const Belief& b = c.belief;
    std::vector<Assumption> out;
    for (size_t i = 0; i < b.priors.size(); ++i) {
        const Prior& prior = b.priors[i];
        if (!prior.used) {
            continue;
        }
        if (prior.slot == &Unknowns::active_freewheel) {
            out.push_back({std::string(prior.key), c.chance_active.value_or(0.5), 0, 1,
                           prior.basis + (s.measured.empty() ? "" : " and your readings"),
                           prior.told});
            continue;
        }
        const double spread = b.spread(i);
        out.push_back({std::string(prior.key), prior_value(prior, b.middle[i]),
                       prior_value(prior, b.middle[i] - z90 * spread),
                       prior_value(prior, b.middle[i] + z90 * spread), prior.basis, prior.told});
    }
    const auto fixed = [&](const char* key, double value, const char* basis) {
        out.push_back({key, value, value, value, basis, false});
    };
    if (!s.pack.lead_area_mm2) {
        fixed("pack.lead_area_mm2", lead_area_mm2(s), "by the ESC's rating; common practice");
    }
    if (!s.pack.lead_spacing_mm) {
        fixed("pack.lead_spacing_mm", lead_spacing_mm(s), "a lead's width apart; common practice");
    }
    if (!s.esc.length_cm) {
        fixed("esc.length_cm", 1e2 * middle.heat.surface.length, "from its cooling surface");
    }
    if (!s.esc.capacitor_ripple_A) {
        fixed("esc.capacitor_ripple_A", most_ripple_A(s, middle),
              "5 A for each 100 uF; common practice");
    }
    if (s.load.kind != LoadKind::governed && !s.load.diameter_cm) {
        fixed("load.diameter_cm", 1e2 * middle.load.diameter, "from the power that it takes");
    }
    if (s.load.kind == LoadKind::governed && !s.load.figure_of_merit &&
        load_told(s) != LoadTold::size) {
        fixed("load.figure_of_merit", middle.load.figure_of_merit,
              s.load.rotor_rpm && s.load.mass_kg
                  ? "lift and the drag of two blades at this head speed"
                  : "of usual model rotors; common practice");
    }
    if (s.load.kind == LoadKind::governed && s.load.rotor_rpm && !s.load.gear_ratio) {
        fixed("load.gear_ratio", gear_ratio_of(s),
              "takes the motor to the rotor's speed; common practice");
    }
    const AirSetup& air = s.air;
    if (s.load.kind != LoadKind::governed && air.flight_speed_mps == 0) {
        fixed("air.flight_speed_mps", 0, "as on the stand, where the wash alone cools");
    }
    const bool chops = s.load.kind != LoadKind::governed && s.esc.drive == Drive::six_step;
    if (chops && s.esc.full_on_pct == EscSetup{}.full_on_pct) {
        fixed("esc.full_on_pct", s.esc.full_on_pct,
              "where most ESCs stop chopping; common practice");
    }
    if (!s.motor.poles) {
        fixed("motor.poles", poles_of(s), "usual for its kind; common practice");
    }
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
    if (s.load.mass_kg && !s.load.rotors) {
        fixed("load.rotors", s.motor.count, "one for each motor");
    }
    if (!s.esc.burst_A) {
        fixed("esc.burst_A", burst_rating_A(s.esc), "a fifth over the rating; common practice");
    }
    return out;
}

}  // namespace hotband
