// How far can this day go? For the air's warmth, the field's height, the flight's length, the load
// and the ESC, each alone: the last value at which the flight keeps the ESC's limit with 90 %
// chance, found by flying it again.
//
// Whether nine draws in ten keep the limit hangs on the draw whose peak ranks there. A changed
// setup moves all draws much alike, so only those ranked near it are flown again, with the same z:
// those below stay below and those above stay above, and the peak that must keep the limit is the
// one at the same place among those flown. At the setup as told this is the report's own chance.
#include "advise/limits.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "advise/trial.hpp"
#include "physics/order.hpp"
#include "setup/field_table.hpp"

namespace hotband {
namespace {

struct FieldRange {
    double least, most;
};

FieldRange range_of(std::string_view key) {
    const std::vector<FieldInfo>& rows = setup_infos();
    const auto row = std::find_if(rows.begin(), rows.end(),
                                  [&](const FieldInfo& info) { return info.key == key; });
    return {row->least, row->most};
}

// A draw's flight on a changed setup. A pack that sags as soon as the throttle opens is no flight:
// it keeps no limit.
Outcome fly_draw(const Setup& changed, const Belief& carried, const Draws& draws, size_t k) {
    const size_t rows = carried.priors.size();
    const Plant p =
        fitted_plant(changed, carried.priors, std::span(draws.z).subspan(k * rows, rows));
    const March m = run_flight(p, changed.flight, Steps::drawn).march;
    Outcome out = outcome_of(m, changed.esc.limit_C);
    if (sags_at_once(out)) {
        out.peak_C = std::numeric_limits<double>::infinity();
        out.limit_s = m.moments.front().cell_V - p.pack.sag_floor_V;  // the deeper, the sooner
    }
    return out;
}

// Kelvin that the decisive peak stays under the limit of a changed setup.
double room_K(const Setup& changed, const Belief& belief, const Draws& draws, const Deciding& who) {
    const Belief carried = carried_to(changed, belief);
    std::vector<double> peaks;
    for (const size_t k : who.draws) {
        peaks.push_back(std::min(fly_draw(changed, carried, draws, k).peak_C, runaway_junction_C));
    }
    std::sort(peaks.begin(), peaks.end());
    return changed.esc.limit_C - peaks[who.place];
}

// A limit as it is told, at most `found`; the value that is told now, if that is no more than
// found but for the rounding of a logarithm that it was sought in.
double at_least_told(double limit, double now, double found) {
    constexpr double rounded = 1e-12;
    return now <= found + rounded * std::abs(found) ? std::max(limit, now) : limit;
}

std::string limits_text(const Limits& l, double flight_s, Scale in) {
    std::string text;
    const auto add = [&](const std::string& part) { text += (text.empty() ? "" : ", ") + part; };
    const auto at_most = [](double value, std::string_view key) {
        return value >= range_of(key).most ? " and more" : " at most";
    };
    if (l.warmest_air_C) {
        add(degrees(*l.warmest_air_C, in) + " of air" +
            at_most(*l.warmest_air_C, "air.temperature_C"));
    }
    if (l.highest_field_m && *l.highest_field_m >= 0) {
        add(say("%.0f m of field height%s", *l.highest_field_m,
                at_most(*l.highest_field_m, "air.altitude_m")));
    }
    if (l.longest_flight_s) {
        add(clock_text(*l.longest_flight_s) + (*l.longest_flight_s < flight_s
                                                   ? " of flight at most"
                                                   : " of flight, as the pack lasts"));
    }
    if (l.most_full_throttle_A) {
        add(three_figures(*l.most_full_throttle_A) + " A at full throttle at most, by its heat");
    }
    if (l.smallest_esc_A) {
        add("an ESC of " + three_figures(*l.smallest_esc_A) + " A at least, by its heat");
    }
    return text.empty() ? "No change of air, field, load or ESC alone keeps the ESC's limit."
                        : text +
                              ": each alone, the rest as told, keeps the ESC's limit with 90 % "
                              "chance.";
}

// The setup with a full-throttle current: its load in proportion where its size is told, else the
// current itself.
Setup with_full_throttle(const Setup& s, double present_A, double amperes) {
    const LoadTold told = load_told(s);
    if (told != LoadTold::size && told != LoadTold::nothing) {
        return with_load_times(s, amperes / present_A);
    }
    Setup out = s;
    out.load.full_throttle_A = amperes;
    return out;
}

class LimitSearch {
 public:
    LimitSearch(const Setup& s, const Belief& belief, const Draws& draws)
        : belief_(belief),
          draws_(draws),
          decide_(draws_to_decide(s, draws)),
          near_(deciding(draws.flight, decide_)) {}

    template <class Change>
    std::optional<double> last(const Way& way, Change&& change) const {
        const auto along = [&](const Deciding& who, double from) {
            return last_keeping([&](double x) { return room_K(change(x), belief_, draws_, who); },
                                way, from);
        };
        const std::optional<double> found = along(near_, way.told);
        if (!ranked_anew(way, found)) {
            return found;
        }
        const size_t most_ranked = 64 * decide_ / most_to_decide;
        const Setup there = change(*found);
        const Belief carried = carried_to(there, belief_);
        std::vector<Outcome> outcomes;
        for (size_t k = 0; k < std::min(most_ranked, draws_.count()); ++k) {
            outcomes.push_back(fly_draw(there, carried, draws_, k));
        }
        return along(deciding(outcomes, decide_), *found);
    }

 private:
    const Belief& belief_;
    const Draws& draws_;
    size_t decide_;
    Deciding near_;
};

}  // namespace

namespace {

// A hundredth to a fortieth of a positive value, 1, 2 or 5 of a power of ten.
double step_of(double x) {
    const double power = std::pow(10, std::floor(std::log10(x)));
    const double lead = x / power;
    return power / 100 * (lead < 2 ? 2 : lead < 5 ? 5 : 10);
}

constexpr double on_it = 1e-9;  // steps: what a rounding is off

}  // namespace

double step_below(double x) { return x > 0 ? std::floor(x / step_of(x) + on_it) * step_of(x) : x; }

double step_above(double x) { return x > 0 ? std::ceil(x / step_of(x) - on_it) * step_of(x) : x; }

size_t draws_to_decide(const Setup& s, const Draws& draws) {
    constexpr size_t fewest = 6;
    return std::clamp(trial_draws(s, draws) / 2, fewest, most_to_decide);
}

Deciding deciding(const std::vector<Outcome>& outcomes, size_t most) {
    constexpr double window = 0.1;  // of all draws, to either side
    const size_t n = outcomes.size();
    // Of two that run away the one that passes the limit first is the hotter.
    const std::vector<size_t> order = in_order(n, [&](size_t a, size_t b) {
        const Outcome& x = outcomes[a];
        const Outcome& y = outcomes[b];
        return x.peak_C < y.peak_C || (x.peak_C == y.peak_C && x.limit_s > y.limit_s);
    });
    const auto decisive = static_cast<size_t>(std::ceil(sure * static_cast<double>(n) - 1e-9)) - 1;
    const auto reach = static_cast<size_t>(window * static_cast<double>(n));
    const size_t stride = std::max<size_t>(1, 2 * reach / most);
    Deciding out;
    for (size_t i = decisive % stride; i < n; i += stride) {
        if (i + reach >= decisive && i <= decisive + reach) {
            out.place = i == decisive ? out.draws.size() : out.place;
            out.draws.push_back(order[i]);
        }
    }
    return out;
}

bool ranked_anew(const Way& way, const std::optional<double>& found) {
    return found && *found != way.hard && std::abs(*found - way.told) > way.ranks_hold;
}

// Secant steps inside a bracket, each a little too far, so that the two sides close quickly.
std::optional<double> last_keeping(const std::function<double(double)>& room, const Way& way,
                                   double from) {
    constexpr int most_steps = 24;
    const auto [least, most] = std::minmax(way.easy, way.hard);
    const double onward = way.hard > way.easy ? 1 : -1;
    std::optional<double> kept;
    std::optional<double> failed;
    double x = from;
    double left = room(from);
    double slope = way.usual_slope;
    for (int i = 0; i < most_steps; ++i) {
        (left >= 0 ? kept : failed) = x;
        if (kept && (*kept == way.hard || (failed && std::abs(*failed - *kept) <= way.tolerance))) {
            break;
        }
        if (failed && *failed == way.easy) {
            break;
        }
        const double beyond = 0.4 * way.tolerance * (left >= 0 ? onward : -onward);
        double next = std::clamp(x - left / slope + beyond, least, most);
        if (kept && failed) {
            const bool inside = (next - *kept) * (next - *failed) < 0;
            next = inside && i % 4 != 3 ? next : 0.5 * (*kept + *failed);
        }
        const double now = room(next);
        const double secant = (now - left) / (next - x);  // no number where it stands still
        slope = secant * onward < 0 ? secant : way.usual_slope;
        x = next;
        left = now;
    }
    return kept;
}

std::optional<Limits> find_limits(const Setup& s, const Belief& belief, const FlightReport& flight,
                                  const std::vector<HoldReport>& holds, const Draws& draws,
                                  Scale in) {
    if (draws.count() == 0) {
        return {};
    }
    Limits limits;
    if (sags_at_once(flight)) {
        limits.text = "The pack sags as soon as the throttle opens: no flight to find limits of.";
        return limits;
    }
    const LimitSearch search(s, belief, draws);

    // Nobody flies where it is colder.
    constexpr double coldest_C = -20;
    const FieldRange air = range_of("air.temperature_C");
    const std::optional<double> air_C =
        search.last({.easy = std::min(coldest_C, s.air.temperature_C),
                     .hard = air.most,
                     .told = s.air.temperature_C,
                     .usual_slope = -1,
                     .tolerance = 0.2,
                     .ranks_hold = 30},
                    [&](double celsius) {
                        Setup day = s;
                        day.air.temperature_C = celsius;
                        return day;
                    });
    // What is found hangs on a dozen draws, and is worth a kelvin or a hundredth; what is told and
    // keeps the limit is not denied for that.
    if (air_C) {
        limits.warmest_air_C = at_least_told(std::floor(*air_C), s.air.temperature_C, *air_C);
    }

    const FieldRange height = range_of("air.altitude_m");
    const std::optional<double> field_m = search.last({.easy = height.least,
                                                       .hard = height.most,
                                                       .told = s.air.altitude_m,
                                                       .usual_slope = -0.004,
                                                       .tolerance = 20,
                                                       .ranks_hold = 4000},
                                                      [&](double metres) {
                                                          Setup field = s;
                                                          field.air.altitude_m = metres;
                                                          return field;
                                                      });
    if (field_m) {
        limits.highest_field_m = at_least_told(step_below(*field_m), s.air.altitude_m, *field_m);
    }

    std::vector<double> passed;
    for (const Outcome& o : draws.flight) {
        passed.push_back(o.limit_s);
    }
    if (const double kept_s = surely_reached(passed); kept_s > 0) {
        limits.longest_flight_s = std::min(kept_s, flight.seconds);
    }

    // Loads and ratings go by their ratio: a rise of some 60 K goes with about the load's power of
    // 1.3.
    constexpr double usual_K = 80;
    constexpr double share_tolerance = 0.005;
    constexpr double ranks_hold = 0.3;  // by a third, or a quarter
    if (s.load.kind != LoadKind::governed) {
        const double present_A = s.load.full_throttle_A.value_or(holds.back().pack_A);
        const FieldRange load = range_of("load.full_throttle_A");
        const auto log_load_A =
            search.last({.easy = std::log(load.least),
                         .hard = std::log(load.most),
                         .told = std::log(present_A),
                         .usual_slope = -usual_K,
                         .tolerance = share_tolerance,
                         .ranks_hold = ranks_hold},
                        [&](double x) { return with_full_throttle(s, present_A, std::exp(x)); });
        if (log_load_A) {
            const double found_A = std::exp(*log_load_A);
            limits.most_full_throttle_A = at_least_told(step_below(found_A), present_A, found_A);
        }
    }
    const FieldRange rating = range_of("esc.rating_A");
    const auto log_A = search.last({.easy = std::log(rating.most),
                                    .hard = std::log(rating.least),
                                    .told = std::log(s.esc.rating_A),
                                    .usual_slope = usual_K,
                                    .tolerance = share_tolerance,
                                    .ranks_hold = ranks_hold},
                                   [&](double x) { return with_esc_of(s, std::exp(x)); });
    if (log_A) {
        const double found_A = std::exp(*log_A);
        limits.smallest_esc_A = -at_least_told(-step_above(found_A), -s.esc.rating_A, -found_A);
    }
    limits.text = limits_text(limits, flight.seconds, in);
    return limits;
}

}  // namespace hotband
