// Which currents cannot be what was meant? A digit too many, a throttle that lost its nought: held
// against what the load draws at each throttle, and against what the pack holds.
#include <algorithm>
#include <cmath>
#include <iterator>

#include "advise/candidates.hpp"
#include "advise/text.hpp"
#include "learn/sampling.hpp"
#include "plant/plant.hpp"

namespace hotband {
namespace {

// A current beside what the load as told draws at its throttle, logarithm of the ratio.
struct Current {
    int row = 0;
    double pack_A = 0, log_ratio = 0;
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
    const auto add = [&](size_t row, double throttle_pct, double pack_A) {
        // What an ESC takes idling is no share of what its load draws.
        constexpr double idle = 0.03;
        const double drawn_A = drawn(throttle_pct / 100);
        if (drawn_A > 0 && std::max(drawn_A, pack_A) > idle * full_A) {
            out.push_back({static_cast<int>(row), pack_A, std::log(pack_A / drawn_A)});
        }
    };
    for (size_t i = 0; i < s.measured.size(); ++i) {
        const MeasuredRow& row = s.measured[i];
        if (tells_load(row) && rig_of(row) == OtherRig{}) {
            add(i, row.throttle_pct, *row.pack_A);
        }
    }
    for (size_t i = 0; i < s.load.points.size(); ++i) {
        const ThrottlePoint& point = s.load.points[i];
        add(s.measured.size() + i, point.throttle_pct, point.pack_A);
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
    const std::vector<Current> currents = told_currents(s, p);
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
        const bool is_told =
            std::any_of(out.begin(), out.end(), [&](const Misfit& m) { return m.row == c.row; });
        if (is_told || (off < slipped && off > 1 / slipped)) {
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
    return out;
}

}  // namespace hotband
