// Which throttle must one not sit at? Intervals of the hold curve over the limit's margin.
#include <algorithm>
#include <cmath>

#include "advise/rooms.hpp"
#include "advise/text.hpp"

namespace hotband {
namespace {

// Share of the flight's time flown between two throttles, %.
double flown_share(const Setup& s, double from_pct, double to_pct) {
    double inside = 0;
    double all = 0;
    for (const FlightPart& part : s.flight.parts) {
        const double weight = s.flight.kind == FlightKind::sequence ? part.seconds : part.share_pct;
        all += weight;
        inside += part.throttle_pct >= from_pct && part.throttle_pct <= to_pct ? weight : 0;
    }
    return all > 0 ? 100 * inside / all : 0;
}

std::string flown_text(double share) {
    return share > 0 ? say(" %.0f %% of this flight is in it.", std::max(1.0, share))
                     : std::string(" This flight stays out of it.");
}

// A hold that runs away has no temperature: it is hotter than every limit.
double heat_of(const HoldReport& h) {
    return std::isfinite(h.hold_peak_C.p50) ? h.hold_peak_C.p50 : runaway_junction_C;
}

// Throttle where the curve between two neighbouring holds, one of them cooler than that, crosses a
// temperature; the step at full-on is no slope: the band ends where the bridge stops chopping.
double crossing(const HoldReport& a, const HoldReport& b, double C) {
    constexpr double step_pct = 3.5;
    if (b.duty == 1 && a.duty < 1 && b.throttle_pct - a.throttle_pct < step_pct) {
        return a.throttle_pct;
    }
    const double share = (C - heat_of(a)) / (heat_of(b) - heat_of(a));
    return a.throttle_pct + share * (b.throttle_pct - a.throttle_pct);
}

// Whether the limit comes sooner in one hold than in another, where it may not come at all.
bool is_sooner(const HoldReport& a, const HoldReport& b) {
    return a.seconds_to_limit && (!b.seconds_to_limit || *a.seconds_to_limit < *b.seconds_to_limit);
}

// `soonest`: the hold of the band that passes the limit first, where one does.
std::string band_text(const Setup& s, const ThrottleBand& b, const HoldReport& top,
                      const HoldReport& soonest, Scale in) {
    const char* of = s.load.kind == LoadKind::governed ? " of hover power" : "";
    const std::string to = say("%.0f %%%s", b.to_pct, of);
    const std::string from = say("%.0f", b.from_pct);
    const std::string range = from == say("%.0f", b.to_pct) ? to : from + "-" + to;
    if (b.runaway_from_pct) {
        return say("%s: do not hold it for long, from about %.0f %% on the ESC's heat runs away.",
                   range.c_str(), *b.runaway_from_pct);
    }
    if (b.level == Level::stop) {
        return say("%s: do not hold it for long, the limit comes after about %s at %.0f %%.",
                   range.c_str(),
                   clock_text(soonest.seconds_to_limit.value_or(soonest.hold_s)).c_str(),
                   soonest.throttle_pct);
    }
    const std::string peak = degrees(top.hold_peak_C.p50, in);
    if (b.level == Level::watch) {
        return say(
            "%s: held to the pack's end it comes within %s of the limit, about %s at "
            "%.0f %%.",
            range.c_str(), difference(margin_K, in).c_str(), peak.c_str(), b.hottest_pct);
    }
    return say("%s is the hottest band: held to the pack's end, about %s at %.0f %%.",
               range.c_str(), peak.c_str(), b.hottest_pct);
}

}  // namespace

std::vector<ThrottleBand> find_bands(const Setup& s, const std::vector<HoldReport>& holds,
                                     Scale in) {
    size_t hottest = 0;
    for (size_t i = 1; i < holds.size(); ++i) {
        hottest = heat_of(holds[i]) > heat_of(holds[hottest]) ? i : hottest;
    }
    const double limit = s.esc.limit_C;
    const double highest = heat_of(holds[hottest]);
    const bool passes = highest >= limit - margin_K;
    // Without a hold near the limit, name where it is hottest: within a tenth of the highest rise.
    const double floor_C =
        passes ? limit - margin_K : highest - 0.1 * (highest - s.air.temperature_C);
    std::vector<ThrottleBand> bands;
    for (size_t i = 0; i < holds.size(); ++i) {
        if (heat_of(holds[i]) < floor_C) {
            continue;
        }
        ThrottleBand band;
        band.from_pct = i == 0 ? holds[i].throttle_pct : crossing(holds[i - 1], holds[i], floor_C);
        size_t top = i;
        size_t last = i;
        while (last + 1 < holds.size() && heat_of(holds[last + 1]) >= floor_C) {
            ++last;
            top = heat_of(holds[last]) > heat_of(holds[top]) ? last : top;
        }
        band.to_pct = last + 1 < holds.size() ? crossing(holds[last], holds[last + 1], floor_C)
                                              : holds[last].throttle_pct;
        band.hottest_pct = holds[top].throttle_pct;
        for (size_t k = i; k <= last && !band.runaway_from_pct; ++k) {
            if (holds[k].runaway) {
                band.runaway_from_pct = holds[k].throttle_pct;
            }
        }
        // Where no hold comes near the limit, one band is the hottest.
        if (!passes && (hottest < i || hottest > last)) {
            i = last;
            continue;
        }
        size_t soonest = top;
        for (size_t k = i; k <= last; ++k) {
            soonest = is_sooner(holds[k], holds[soonest]) ? k : soonest;
        }
        const double peak = heat_of(holds[top]);
        band.level = !passes ? Level::fine : peak <= limit ? Level::watch : Level::stop;
        band.text = band_text(s, band, holds[top], holds[soonest], in) +
                    flown_text(flown_share(s, band.from_pct, band.to_pct));
        bands.push_back(std::move(band));
        i = last;
    }
    return bands;
}

}  // namespace hotband
