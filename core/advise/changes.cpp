// What would help, in kelvin: each change is the setup changed and flown again, on the middle plant
// and on the draws.
#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <utility>

#include "advise/candidates.hpp"
#include "advise/text.hpp"
#include "advise/trial.hpp"
#include "physics/order.hpp"

namespace hotband {
namespace {

/// Cooler or warmer by less is not noticed (K), and a flight not longer or shorter (s).
constexpr double noticed_K = 0.5;
constexpr double noticed_s = 5;

// What it does on the middle plant: the flight time is the one that the page shows.
FlightRun fly_middle(const Plant& p, const March& before, Change& change) {
    FlightRun run = run_flight(p, change.changed.flight, Steps::trial);
    const March& m = run.march;
    change.flight_change_s = m.seconds - before.seconds;
    change.runs_away = m.ended_by == EndedBy::runaway;
    if (before.ended_by != EndedBy::runaway && !change.runs_away) {
        change.esc_peak_change_K = m.peak_board - before.peak_board;
    }
    change.peak_C = m.peak_board;
    return run;
}

// Share of flights that keep the limit.
double share_kept(const std::vector<Outcome>& flights, double limit_C) {
    const auto kept = std::count_if(flights.begin(), flights.end(),
                                    [&](const Outcome& o) { return o.peak_C <= limit_C; });
    return static_cast<double>(kept) / static_cast<double>(flights.size());
}

// What it does on the draws.
void tell_trial(const std::vector<Outcome>& after, const Draws& draws, Change& change) {
    const std::vector<Outcome> before(
        draws.flight.begin(), draws.flight.begin() + static_cast<std::ptrdiff_t>(after.size()));
    const std::vector<double> cooler = peak_differences(before, after);
    const double was_C = peak_band(before).p50;
    change.peak_C = peak_band(after).p50;
    change.runs_away = !std::isfinite(change.peak_C);
    Band band = band_of(cooler);
    change.esc_peak_change_K.reset();
    if (std::isfinite(was_C) && !change.runs_away) {
        change.esc_peak_change_K = change.peak_C - was_C;
        // The verdict's own difference: the middle of the draws' differences is another by tenths.
        constexpr double open = std::numeric_limits<double>::infinity();
        band.p50 = std::clamp(*change.esc_peak_change_K, band.p10.value_or(-open),
                              band.p90.value_or(open));
    }
    change.esc_peak_change_band_K = band;
    const auto helped =
        std::count_if(cooler.begin(), cooler.end(), [](double K) { return K < -noticed_K; });
    change.chance_helps = static_cast<double>(helped) / static_cast<double>(cooler.size());
    change.keeps_limit = share_kept(after, change.changed.esc.limit_C) >= sure;
}

// Whether a pilot should hear of it: it cools, or it is named as the trade it is.
bool worth_saying(Change& change, bool base_runs_away, double recommended_Hz) {
    if (change.runs_away) {
        return false;
    }
    if (base_runs_away) {
        return true;
    }
    const double K = change.esc_peak_change_K.value_or(0);
    if (K <= -noticed_K) {
        return true;
    }
    const bool recommended = change.id == pwm_id(recommended_Hz);
    const bool longer = change.flight_change_s >= noticed_s;
    if (!recommended && !longer) {
        return false;
    }
    if (K >= noticed_K) {
        change.cost = (change.cost.empty() ? "" : change.cost + "; ") + "a warmer ESC: a trade";
    }
    return true;
}

// Whether the limit is kept for all that is known of it.
bool keeps(const Change& c) { return c.keeps_limit.value_or(c.peak_C <= c.changed.esc.limit_C); }

// What a flight asks too much of.
using Broken = std::vector<Reason>;

Broken broken_by(const Plant& p, const FlightRun& flight, const Checks& checks, Scale in) {
    Broken out;
    for (const CheckGroup* group :
         {&checks.rating, &checks.pack, &checks.capacitor, &checks.supply}) {
        for (const CheckItem& item : group->items) {
            if (!item.ok) {
                out.push_back(
                    {item.key, item.serious ? Level::stop : Level::watch, failed_text(item, in)});
            }
        }
    }
    const RotorSpeed speed = rotor_speed(p, flight);
    if (!speed.reached) {
        out.push_back({"headroom", Level::stop,
                       "the rotor never reaches its speed, not even on the full pack"});
    } else if (!speed.kept) {
        out.push_back(
            {"headroom", Level::watch, "the rotor cannot keep its speed in the hardest part"});
    }
    return out;
}

// What the changes are tried against.
struct Base {
    const Setup& s;
    const Calibration& taught;
    const Plant& middle;
    const March& march;
    const Checks& checks;
    const PwmTrial& pwm;
    const Draws& draws;
    Broken broken;
    std::optional<Trial> trial = {};  // empty without draws
    bool runs_away = false;
    bool kept = true;  // the limit
    double forgotten_K = 0;
};

// A change in the trying, and what is believed of the setup it makes.
struct Attempt {
    Candidate candidate;
    Carried carried;
    FlightRun run;       // of the middle plant
    Broken breaks = {};  // what the setup as told does not

    Plant middle() const { return middle_plant(candidate.change.changed, carried.belief); }
};

Attempt attempt(const Base& base, Candidate candidate) {
    Attempt out{std::move(candidate), {}, {}};
    out.carried = carry_at_first(base.s, base.taught, out.candidate.change.changed);
    out.run = fly_middle(out.middle(), base.march, out.candidate.change);
    return out;
}

Broken newly_broken(const Base& base, const Attempt& one, Scale in) {
    const Setup& changed = one.candidate.change.changed;
    const Plant p = one.middle();
    Broken out = broken_by(p, one.run, run_checks(changed, p, one.run), in);
    const auto is_old = [&](const Reason& after) {
        return std::any_of(base.broken.begin(), base.broken.end(), [&](const Reason& before) {
            return before.key == after.key && before.level >= after.level;
        });
    };
    out.erase(std::remove_if(out.begin(), out.end(), is_old), out.end());
    return out;
}

// Whether it does next to nothing on the middle plant, where that stands for the draws.
bool is_idle(const Base& base, const Change& change) {
    constexpr double idle_K = 0.2;  // of random setups' draws one in 170 noticed what is less
    const bool same_kinds = chance_of_active(base.s) == chance_of_active(change.changed);
    return same_kinds && !base.runs_away && change.esc_peak_change_K &&
           std::abs(*change.esc_peak_change_K) < idle_K &&
           std::abs(change.flight_change_s) < noticed_s &&
           change.id != pwm_id(base.pwm.report.recommended_Hz);
}

// Whether it takes reserve from a governor that has none.
bool takes_what_lacks(const Base& base, const Change& change) {
    return change.id == "shorter_gearing" &&
           std::any_of(base.broken.begin(), base.broken.end(),
                       [](const Reason& broken) { return broken.key == "headroom"; });
}

// The flights of the draws with a change; another frequency's have been flown.
std::vector<Outcome> trial_of(const Base& base, const Attempt& one) {
    const Change& change = one.candidate.change;
    const std::vector<PwmChoice>& choices = base.pwm.report.choices;
    const auto choice = std::find_if(choices.begin(), choices.end(), [&](const PwmChoice& c) {
        return change.id == pwm_id(c.pwm_Hz);
    });
    if (choice != choices.end()) {
        return base.pwm.flights[static_cast<size_t>(choice - choices.begin())];
    }
    return fly_changed(base.s, base.draws, *base.trial,
                       ChangedDraws(base.s, base.taught, base.draws, change.changed, one.carried));
}

// The whole of it: what is to be learned anew, and what it does on the draws.
void try_whole(const Base& base, Attempt& one) {
    if (one.carried.only_followed) {
        learn_anew(one.candidate.change.changed, one.carried);
        one.run = fly_middle(one.middle(), base.march, one.candidate.change);
    }
    if (base.trial) {
        tell_trial(trial_of(base, one), base.draws, one.candidate.change);
    }
}

// Those that break nothing first, of them those that keep the limit, then the coolest.
void sort_by_heat(std::vector<const Attempt*>& all) {
    const std::vector<size_t> order = in_order(all.size(), [&](size_t a, size_t b) {
        const Change& x = all[a]->candidate.change;
        const Change& y = all[b]->candidate.change;
        const bool whole = all[a]->breaks.empty();
        return whole != all[b]->breaks.empty() ? whole
               : keeps(x) != keeps(y)          ? keeps(x)
                                               : x.peak_C < y.peak_C;
    });
    all = taken(std::move(all), order);
}

std::vector<const Attempt*> by_heat(const std::vector<Attempt>& all) {
    std::vector<const Attempt*> out(all.size());
    std::transform(all.begin(), all.end(), out.begin(), [](const Attempt& one) { return &one; });
    sort_by_heat(out);
    return out;
}

Candidate joined(const Change& a, Candidate second) {
    Change& pair = second.change;
    const std::string ids = a.id + "+" + pair.id;
    pair.ids = {a.id, pair.id};
    pair.id = ids;
    pair.text = a.text + ", and " + in_mid_sentence(pair.text);
    pair.cost = a.cost + (a.cost.empty() || pair.cost.empty() ? "" : "; ") + pair.cost;
    return second;
}

// The best pair of changes: of those that help most by themselves, each made on top of another,
// tried on the middle plant and the best of them on the draws.
std::optional<Attempt> best_pair(const Base& base, const std::vector<Attempt>& tried) {
    constexpr size_t most_singles = 5;
    constexpr size_t most_flown = 2;
    std::vector<const Attempt*> singles = by_heat(tried);
    singles.resize(std::min(singles.size(), most_singles));
    std::vector<Attempt> pairs;
    for (size_t i = 0; i < singles.size(); ++i) {
        const Candidate& first = singles[i]->candidate;
        const std::vector<Candidate> then = find_candidates(
            first.change.changed, singles[i]->middle(), base.checks, base.pwm.report.choices);
        for (size_t j = i + 1; j < singles.size(); ++j) {
            const std::string& id = singles[j]->candidate.change.id;
            const auto second = std::find_if(then.begin(), then.end(), [&](const Candidate& c) {
                return c.change.id == id && c.altered != first.altered;
            });
            if (second != then.end()) {
                pairs.push_back(attempt(base, joined(first.change, *second)));
            }
        }
    }
    std::vector<Attempt> flown;
    for (const Attempt* pair : by_heat(pairs)) {
        if (flown.size() < most_flown) {
            flown.push_back(*pair);
            try_whole(base, flown.back());
        }
    }
    return flown.empty() ? std::nullopt : std::optional(*by_heat(flown).front());
}

// Rows that say with what else they were taken.
auto rows_of_another_rig(const Setup& s) {
    return std::count_if(s.measured.begin(), s.measured.end(),
                         [](const MeasuredRow& row) { return rig_of(row) != OtherRig{}; });
}

// What the forecast changes by where nothing but the readings is left out (K).
double forgotten_by(const Setup& s, const March& taught) {
    if (readings_of(s).empty()) {
        return 0;
    }
    const Setup unread = without_readings(s);
    const March m =
        run_flight(middle_plant(unread, prior_belief(unread)), unread.flight, Steps::trial).march;
    const bool ends = taught.ended_by == EndedBy::runaway || m.ended_by == EndedBy::runaway;
    return ends ? 0 : m.peak_board - taught.peak_board;
}

// What becomes of the readings.
std::string readings_cost(const Base& base, const Attempt& one, Scale in) {
    const Setup& changed = one.candidate.change.changed;
    if (leaves_readings(base.s, changed)) {
        const bool all = readings_of(changed).empty();
        const double K = all ? base.forgotten_K : 0;
        return std::string(all ? "your readings were" : "your flights' readings were") +
               " taken without it and no longer count" +
               (std::abs(K) < noticed_K ? ""
                                        : ", which alone makes " + change_text(K, in) + " of that");
    }
    const bool said = rows_of_another_rig(changed) > rows_of_another_rig(base.s);
    return one.carried.moved.most_K > noticed_K && !said
               ? "your readings then count as taken with it: read again"
               : "";
}

// The change with what it costs beside kelvin.
Change finished(const Base& base, const Attempt& one, Scale in) {
    Change change = one.candidate.change;
    std::vector<std::string> costs = {change.cost, readings_cost(base, one, in)};
    const Altered altered = one.candidate.altered;
    if (change.ids.empty() && (altered == Altered::frequency || altered == Altered::freewheel)) {
        costs.push_back(other_power_text(base.s, base.middle, one.middle()));
    }
    for (const Reason& reason : one.breaks) {
        costs.push_back("then " + reason.text);
    }
    change.cost.clear();
    for (const std::string& cost : costs) {
        change.cost += (change.cost.empty() || cost.empty() ? "" : "; ") + cost;
    }
    if (base.runs_away) {
        change.text += " (ends the runaway: near " + degrees(change.peak_C, in) + ")";
    }
    return change;
}

}  // namespace

std::vector<Change> find_changes(const Setup& s, const Calibration& taught, const FlightRun& flight,
                                 const Checks& checks, const PwmTrial& pwm, const Draws& draws,
                                 Scale in) {
    const bool spread = draws.count() > 0;
    // in the steps of what it is compared with
    const Plant middle = middle_plant(s, taught.belief);
    const FlightRun run{flight.plan, fly(middle, flight.plan, Steps::trial)};
    Base base{s, taught, middle, run.march, checks, pwm, draws, broken_by(middle, run, checks, in)};
    if (spread) {
        base.trial.emplace(s, draws);
    }
    const double peak_C = spread ? peak_band(draws.flight).p50 : peak_of(run.march);
    base.runs_away = !std::isfinite(peak_C);
    base.kept = spread ? share_kept(draws.flight, s.esc.limit_C) >= sure : peak_C <= s.esc.limit_C;
    base.forgotten_K = forgotten_by(s, run.march);
    std::vector<Attempt> tried;
    for (Candidate& candidate : find_candidates(s, middle, checks, pwm.report.choices)) {
        if (takes_what_lacks(base, candidate.change)) {
            continue;
        }
        Attempt one = attempt(base, std::move(candidate));
        if (!is_idle(base, one.candidate.change)) {
            try_whole(base, one);
            tried.push_back(std::move(one));
        }
    }
    std::vector<const Attempt*> told;
    const auto tell_if_worth = [&](Attempt& one) {
        if (!worth_saying(one.candidate.change, base.runs_away, pwm.report.recommended_Hz)) {
            return;
        }
        one.breaks = newly_broken(base, one, in);
        // Where the limit is kept there is nothing to break anything else for; what the
        // frequencies' own comparison recommends has its price told.
        const bool recommended = one.candidate.change.id == pwm_id(pwm.report.recommended_Hz);
        if (one.breaks.empty() || !base.kept || recommended) {
            told.push_back(&one);
        }
    };
    std::for_each(tried.begin(), tried.end(), tell_if_worth);
    const auto keeps_it = [](const Attempt* one) { return keeps(one->candidate.change); };
    std::optional<Attempt> pair;
    if (!base.kept && std::none_of(told.begin(), told.end(), keeps_it)) {
        pair = best_pair(base, tried);
        if (pair && std::all_of(told.begin(), told.end(), [&](const Attempt* single) {
                return keeps_it(&*pair) ||
                       pair->candidate.change.peak_C <= single->candidate.change.peak_C - noticed_K;
            })) {
            tell_if_worth(*pair);
        }
    }
    sort_by_heat(told);
    std::vector<Change> out(told.size());
    std::transform(told.begin(), told.end(), out.begin(),
                   [&](const Attempt* one) { return finished(base, *one, in); });
    return out;
}

}  // namespace hotband
