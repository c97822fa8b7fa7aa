// Which throttle must one not sit at? Intervals of the hold curve over the limit's margin.
#include <algorithm>

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
    return share > 0 ? say(" %.0f %% of this flight is in it.", share)
                     : std::string(" This flight stays out of it.");
}

// Throttle where the curve between two neighbouring holds crosses a temperature.
double crossing(const HoldReport& a, const HoldReport& b, double C) {
    const double rise = b.hold_peak_C.p50 - a.hold_peak_C.p50;
    const double share = rise != 0 ? std::clamp((C - a.hold_peak_C.p50) / rise, 0.0, 1.0) : 0;
    return a.throttle_pct + share * (b.throttle_pct - a.throttle_pct);
}

}  // namespace

std::vector<ThrottleBand> find_bands(const Setup& s, const std::vector<HoldReport>& holds) {
    const auto peak = [&](size_t i) { return holds[i].hold_peak_C.p50; };
    size_t hottest = 0;
    for (size_t i = 1; i < holds.size(); ++i) {
        hottest = peak(i) > peak(hottest) ? i : hottest;
    }
    const double limit = s.esc.limit_C;
    const bool passes = peak(hottest) >= limit - margin_K;
    // Without a hold near the limit, name where it is hottest: within a tenth of the highest rise.
    const double floor_C =
        passes ? limit - margin_K : peak(hottest) - 0.1 * (peak(hottest) - s.air.temperature_C);
    std::vector<ThrottleBand> bands;
    for (size_t i = 0; i < holds.size(); ++i) {
        if (peak(i) < floor_C) {
            continue;
        }
        ThrottleBand band;
        band.from_pct = i == 0 ? holds[i].throttle_pct : crossing(holds[i - 1], holds[i], floor_C);
        size_t top = i;
        size_t last = i;
        while (last + 1 < holds.size() && peak(last + 1) >= floor_C) {
            ++last;
            top = peak(last) > peak(top) ? last : top;
        }
        band.to_pct = last + 1 < holds.size() ? crossing(holds[last], holds[last + 1], floor_C)
                                              : holds[last].throttle_pct;
        band.hottest_pct = holds[top].throttle_pct;
        const double share = flown_share(s, band.from_pct, band.to_pct);
        const bool endless = !holds[top].steady_C;
        if (!passes) {
            band.level = Level::fine;
            band.text =
                say("Held to the pack's end, %.0f-%.0f %% is the hottest band, about %.0f deg C at "
                    "%.0f %%.",
                    band.from_pct, band.to_pct, peak(top), band.hottest_pct);
        } else if (peak(top) < limit) {
            band.level = Level::watch;
            band.text =
                say("Do not sit at %.0f-%.0f %%: held to the pack's end it comes within %.0f K of "
                    "the limit.",
                    band.from_pct, band.to_pct, margin_K);
        } else {
            band.level = Level::stop;
            band.text = say("Do not sit at %.0f-%.0f %%: held there the ESC passes its limit%s.",
                            band.from_pct, band.to_pct, endless ? " and its heat runs away" : "");
        }
        band.text += flown_text(share);
        bands.push_back(band);
        i = last;
    }
    return bands;
}

}  // namespace hotband
