// The march over a hold or a whole flight: charge, pack, junction, board and case, step by step.
#pragma once

#include <limits>
#include <vector>

#include "flight/esc_heat.hpp"

namespace hotband {

/// State at one moment.
struct Moment {
    double t = 0;         // s
    double throttle = 0;  // 0..1
    HeatState heat;
    double charge = 1;  // 0..1
    double pack_C = 25;
    double cell_V = 0;   // loaded
    double v_link = 0;   // V
    double i_pack = 0;   // A, one ESC
    double i_motor = 0;  // A
    double omega = 0;    // rad/s
};

/// `steps`: none of the others within the moments a march may take; what it tells is unfinished.
enum class EndedBy { reserve, sag, runaway, time, steps };

struct March {
    std::vector<Moment> moments;  // where each step begins, half way through it, and at its end
    double seconds = 0;
    EndedBy ended_by = EndedBy::reserve;
    bool dips = false;        // under the sag floor for moments that do not end it
    double charge_share = 0;  // of what was usable, drawn
    double peak_board = 0, peak_junction = 0, peak_winding = 0, mean_board = 0;  // deg C
    double mean_omega = 0;                                                       // rad/s
};

/// One leg of a march: a demand for so long.
struct Leg {
    const DemandMap* map = nullptr;
    double seconds = std::numeric_limits<double>::infinity();
    const DemandMap* hardest = nullptr;  // whose sag counts, where the leg is a mixture
    double settled_s = 0;  // flown before at about the same heat: no fast rise at its start
};

/// A loaded cell under the sag floor for less than this is a dip, not the end (s; common practice,
/// no source).
inline constexpr double most_dip_s = 3;

/// How long a march's steps are, and how far off the peaks of nineteen in twenty holds of a whole
/// pack are for it (the worst of a thousand six times as far): `fine` 0.06 K; `drawn`
/// 0.1 K, for draws whose spread is far wider; `trial` 0.2 K, with few moments on the way there.
enum class Steps { fine, drawn, trial };

/// Moments of a hold, at most: one that takes a thousand has something that swings in it.
inline constexpr size_t most_hold_moments = 4000;

struct MarchStart {
    double esc_C = 25;
    double charge = 1;
    double pack_C = 25;
    Steps steps = Steps::fine;
    size_t most_moments = 200000;  // no flight of this world takes as many
};

/// Repeats the legs until the pack's reserve, its sag floor, thermal runaway (junction beyond
/// `runaway_junction_C`) or `most_s` ends it.
March march(const Plant& p, const std::vector<Leg>& legs, const MarchStart& start,
            double most_s = std::numeric_limits<double>::infinity());

/// The ESC's and windings' temperatures at a time of a march (s), by straight lines between its
/// moments; before and after it as it begins and ends.
HeatState heat_at(const March& m, double t);

}  // namespace hotband
