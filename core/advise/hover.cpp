// How long does a hover last, and what ends it?
#include <algorithm>
#include <array>
#include <cmath>

#include "advise/spread.hpp"
#include "learn/sampling.hpp"
#include "physics/order.hpp"

namespace hotband {
namespace {

struct End {
    double seconds;
    HoverEnd by;
};

End end_of(const Outcome& o) {
    if (o.ended_by == EndedBy::runaway && o.limit_s >= o.seconds) {
        return {o.seconds, HoverEnd::runaway};
    }
    if (o.limit_s < o.seconds) {
        return {o.limit_s, HoverEnd::limit};
    }
    return {o.seconds, o.ended_by == EndedBy::sag ? HoverEnd::sag : HoverEnd::reserve};
}

const char* what_ends(HoverEnd by) {
    switch (by) {
        case HoverEnd::reserve:
            return "the pack's reserve ends it";
        case HoverEnd::sag:
            return "the pack's sag ends it";
        case HoverEnd::limit:
            return "the ESC's limit ends it";
        case HoverEnd::runaway:
            return "the ESC's heat running away ends it";
    }
    return "";
}

}  // namespace

std::optional<Hover> find_hover(const Setup& s, const std::vector<HoldReport>& holds,
                                const Draws& draws) {
    const auto hover = std::find_if(holds.begin(), holds.end(),
                                    [](const HoldReport& h) { return h.throttle_pct == 100; });
    if (s.load.kind != LoadKind::governed || draws.count() == 0 || hover == holds.end()) {
        return {};
    }
    const std::vector<Outcome>& draws_held =
        draws.holds[static_cast<size_t>(hover - holds.begin())];
    std::vector<double> seconds(draws_held.size());
    std::transform(draws_held.begin(), draws_held.end(), seconds.begin(),
                   [](const Outcome& o) { return end_of(o).seconds; });
    const std::vector<size_t> shortest_first =
        in_order(seconds.size(), [&](size_t x, size_t y) { return seconds[x] < seconds[y]; });
    // What ends most of the `count` shortest.
    const auto commonest = [&](size_t count) {
        std::array<int, 4> times{};
        for (size_t i = 0; i < count; ++i) {
            ++times[static_cast<size_t>(end_of(draws_held[shortest_first[i]]).by)];
        }
        return static_cast<HoverEnd>(std::max_element(times.begin(), times.end()) - times.begin());
    };
    Hover h;
    h.land_by_s = surely_reached(seconds);
    h.seconds = quantile(seconds, 0.5);
    h.ended_by = commonest(draws_held.size());
    // Of the hovers that a pilot who lands by then is spared, and as many again.
    const HoverEnd sooner = commonest((draws_held.size() + 4) / 5);
    h.text =
        say("%s: land by then, and the hover lasts with 90 %% chance%s%s. %s in the middle; %s.",
            clock_text(h.land_by_s).c_str(), sooner == h.ended_by ? "" : "; sooner ",
            sooner == h.ended_by ? "" : what_ends(sooner), clock_text(h.seconds).c_str(),
            what_ends(h.ended_by));
    return h;
}

}  // namespace hotband
