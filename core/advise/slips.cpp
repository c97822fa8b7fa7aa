// Which currents cannot be what was meant? A digit too many, a throttle that lost its nought: held
// against what the load draws at each throttle, and against what the pack holds.
#include <algorithm>
#include <cmath>
#include <iterator>

#include "advise/candidates.hpp"
#include "advise/text.hpp"
#include "advise/untold.hpp"
#include "learn/sampling.hpp"
#include "plant/plant.hpp"

namespace hotband {
namespace {

// A current beside what the load as told draws at its throttle, logarithm of the ratio.
struct Current {
    int row = 0;  // below nought: told with the load, at full throttle or in hover
    double throttle_pct = 0, pack_A = 0, log_ratio = 0;
    Where where = Where::bench;
};

// The load as it is told without any current at a throttle but full.
Setup without_currents(Setup s) {
    s.measured.clear();
    s.load.points.clear();
    return s;
}

std::vector<Current> told_currents(const Setup& s, const Plant& p) {
    std::vector<Current> out;
    const auto drawn = [&](double throttle) {
        return at_mid_pack(p, throttle).i_pack * p.pack.share;
    };
    const double full_A = drawn(1);
    const auto add = [&](size_t row, double throttle_pct, double pack_A, Where where) {
        // What an ESC takes idling is no share of what its load draws.
        constexpr double idle = 0.03;
        const double drawn_A = drawn(throttle_pct / 100);
        if (drawn_A > 0 && std::max(drawn_A, pack_A) > idle * full_A) {
            out.push_back(
                {static_cast<int>(row), throttle_pct, pack_A, std::log(pack_A / drawn_A), where});
        }
    };
    for (size_t i = 0; i < s.measured.size(); ++i) {
        const MeasuredRow& row = s.measured[i];
        if (tells_load(row) && rig_of(row) == OtherRig{}) {
            add(i, row.throttle_pct, *row.pack_A, place_of(row));
        }
    }
    for (size_t i = 0; i < s.load.points.size(); ++i) {
        const ThrottlePoint& point = s.load.points[i];
        add(s.measured.size() + i, point.throttle_pct, point.pack_A, Where::bench);
    }
    return out;
}

// How much of a charge a pack may give beyond what it is sold with: none is that generous.
constexpr double generous = 1.1;

// The model misses part-throttle currents of measured drives by less than a factor of two, and a
// digit is ten.
constexpr double slipped = 2.5;

// A hold of untold current against what `p` would draw in it.
void find_outlasting(const Setup& s, const Plant& p, double pack_Ah, std::vector<Misfit>& out) {
    for (size_t i = 0; i < s.measured.size(); ++i) {
        const MeasuredRow& row = s.measured[i];
        if (row.kind != RowKind::hold || row.pack_A || !row.hold_s ||
            !(rig_of(row) == OtherRig{})) {
            continue;
        }
        const double drawn_A = at_mid_pack(p, row.throttle_pct / 100).i_pack * p.pack.share;
        const double lasts_s = pack_Ah * 3600 / drawn_A;
        if (*row.hold_s > slipped * lasts_s) {
            out.push_back(
                {static_cast<int>(i), 0,
                 say("%s: held for %s, where the pack lasts about %s: check how long it was "
                     "held, and its throttle.",
                     row_name(s, i).c_str(), clock_text(*row.hold_s).c_str(),
                     clock_text(lasts_s).c_str()),
                 true});
        }
    }
}

void find_overdrawn(const Setup& s, double pack_Ah, std::vector<Misfit>& out) {
    for (size_t i = 0; i < s.measured.size(); ++i) {
        const MeasuredRow& row = s.measured[i];
        if (!tells_current(row) || !row.hold_s || row.cells) {
            continue;
        }
        const double drawn_Ah = *row.pack_A * *row.hold_s / 3600;
        if (drawn_Ah > generous * pack_Ah) {
            out.push_back({static_cast<int>(i), 0,
                           say("%s: %s A for %s are %s Ah, more than the pack holds: check its "
                               "current and how long it was held.",
                               row_name(s, i).c_str(), three_figures(*row.pack_A).c_str(),
                               clock_text(*row.hold_s).c_str(), three_figures(drawn_Ah).c_str()),
                           true});
        }
    }
}

bool is_named(const std::vector<Misfit>& named, const Current& c) {
    return std::any_of(named.begin(), named.end(), [&](const Misfit& m) { return m.row == c.row; });
}

// A current that a higher throttle undercuts, or that is another at the same: of the two the one
// further from the usual is named. At the same duty a spent pack draws a quarter less than a full
// one, and five points of throttle are worth some of that (common practice, no source).
void find_contradicting(const Setup& s, const std::vector<Current>& currents, double usual,
                        std::vector<Misfit>& out) {
    constexpr double least_apart_pct = 5;
    constexpr double falls = 1.25;
    constexpr double most_alike_pct = 2;
    constexpr double most_unlike = 1.5;
    for (const Current& low : currents) {
        for (const Current& high : currents) {
            const double apart_pct = high.throttle_pct - low.throttle_pct;
            const bool undercut = apart_pct >= least_apart_pct && low.pack_A > falls * high.pack_A;
            const bool unlike =
                std::abs(apart_pct) <= most_alike_pct && low.pack_A > most_unlike * high.pack_A;
            if (low.where != high.where || !(undercut || unlike) || is_named(out, low) ||
                is_named(out, high)) {
                continue;
            }
            // what was told with the load is no row to be named
            const bool low_is_off =
                high.row < 0 || (low.row >= 0 && std::abs(low.log_ratio - usual) >
                                                     std::abs(high.log_ratio - usual));
            const Current& off = low_is_off ? low : high;
            const Current& other = low_is_off ? high : low;
            out.push_back(
                {off.row, 0,
                 say("%s: %s A, where %s draws %s A: %s. Check both currents and throttles.",
                     row_name(s, static_cast<size_t>(off.row)).c_str(),
                     three_figures(off.pack_A).c_str(),
                     other.row < 0
                         ? (s.load.kind == LoadKind::governed ? "hover, as told,"
                                                              : "full throttle, as told,")
                         : in_mid_sentence(row_name(s, static_cast<size_t>(other.row))).c_str(),
                     three_figures(other.pack_A).c_str(),
                     undercut ? "a higher throttle draws more"
                              : "at one throttle a pack does not differ so much"),
                 true});
        }
    }
}

}  // namespace

std::vector<Misfit> find_slips(const Setup& s) {
    std::vector<Misfit> out;
    if (s.measured.empty() && s.load.points.empty()) {
        return out;
    }
    const double pack_Ah = s.pack.capacity_mAh * s.pack.parallel * 1e-3;
    const Setup alone = without_currents(s);
    const Plant p = fitted_plant(alone, make_priors(alone));
    find_overdrawn(s, pack_Ah, out);
    find_outlasting(s, p, pack_Ah, out);
    std::vector<Current> currents = told_currents(s, p);
    std::vector<double> ratios;
    std::transform(currents.begin(), currents.end(), std::back_inserter(ratios),
                   [](const Current& c) { return c.log_ratio; });
    const LoadTold told = load_told(alone);
    if (told == LoadTold::current || told == LoadTold::shaft) {
        ratios.push_back(0);  // the load as told is one more that agrees or does not
    }
    if (ratios.size() < 2) {
        return out;
    }
    const double usual = quantile(ratios, 0.5);
    for (const Current& c : currents) {
        const double off = std::exp(c.log_ratio - usual);
        if (is_named(out, c) || (off < slipped && off > 1 / slipped)) {
            continue;
        }
        const std::string expected = off > 100    ? "over a hundred times"
                                     : off > 1    ? three_figures(off) + " times"
                                     : off < 0.01 ? "less than a hundredth of"
                                                  : say("%.0f %% of", 100 * off);
        out.push_back({c.row, 0,
                       say("%s: its current of %s A is %s what the other currents lead to expect: "
                           "check it, and its throttle.",
                           row_name(s, static_cast<size_t>(c.row)).c_str(),
                           three_figures(c.pack_A).c_str(), expected.c_str()),
                       true});
    }
    if (told == LoadTold::current) {
        constexpr int as_told = -1;
        const bool governed = s.load.kind == LoadKind::governed;
        currents.push_back(
            {as_told, 100, governed ? *s.load.hover_A : *s.load.full_throttle_A, 0, Where::bench});
    }
    find_contradicting(s, currents, usual, out);
    return out;
}

std::optional<std::string> told_apart(const Setup& s) {
    constexpr double surely = 3;  // standard deviations
    Setup by_size = without_currents(s);
    by_size.load.full_throttle_A.reset();
    by_size.load.shaft_W.reset();
    by_size.load.hover_A.reset();
    if (load_told(by_size) != LoadTold::size || is_current_untold(s)) {
        return {};
    }
    const double told_A = fresh_current(middle_plant(s, prior_belief(s)));
    const Belief belief = prior_belief(by_size);
    const Plant p = middle_plant(by_size, belief);
    const double expected_A = fresh_current(p);
    const double off = std::abs(std::log(told_A / expected_A));
    if (!(off > std::log(slipped)) || off < surely * fresh_current_spread(by_size, p, belief)) {
        return {};
    }
    const bool governed = s.load.kind == LoadKind::governed;
    return say(
        "%s leads to expect about %s A, where %s A are told: check %s, Kv, cells and "
        "current.",
        governed ? "What is told of the rotor's size" : "What is told of the load's size",
        three_figures(expected_A).c_str(), three_figures(told_A).c_str(),
        governed ? "its mass and diameter" : "its size");
}

}  // namespace hotband
