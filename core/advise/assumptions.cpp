// What was believed where the pilot told nothing: every prior with its range, and the plain
// defaults.
#include <cmath>

#include "advise/rooms.hpp"

namespace hotband {

double burst_rating_A(const EscSetup& esc) { return esc.burst_A.value_or(1.2 * esc.rating_A); }

std::vector<Assumption> list_assumptions(const Setup& s, const Calibration& c) {
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
        fixed("esc.burst_A", burst_rating_A(s.esc), "a fifth over the rating; common practice");
    }
    return out;
}

}  // namespace hotband
