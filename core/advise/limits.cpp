// How far can this day go? For the air's warmth, the field's height, the flight's length, the load
// and the ESC, each alone: the last value at which the flight keeps the ESC's limit with 90 %
// chance, found by flying it again.
//
// Whether nine draws in ten keep the limit hangs on the draw whose peak ranks there. A changed
// setup moves all draws much alike, so only those ranked near it are flown again, with the same z:
// those below stay below and those above stay above, and the peak that must keep the limit is the
// one at the same place among those flown. At the setup as told this is the report's own chance.
#include <algorithm>
#include <cmath>

#include "advise/spread.hpp"
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

// The draws around the one that must keep the limit, and its place among them.
class Deciders {
 public:
    Deciders(const Setup& s, const Belief& belief, const Draws& draws)
        : base_(s), belief_(belief), draws_(draws) {
        constexpr size_t most_flown = 16;
        constexpr double window = 0.1;  // of all draws, to either side
        const size_t n = draws.count();
        std::vector<size_t> order(n);
        for (size_t i = 0; i < n; ++i) {
            order[i] = i;
        }
        std::stable_sort(order.begin(), order.end(), [&](size_t a, size_t b) {
            return draws.flight[a].peak_C < draws.flight[b].peak_C;
        });
        const auto decisive =
            static_cast<size_t>(std::ceil(sure * static_cast<double>(n) - 1e-9)) - 1;
        const auto reach = static_cast<size_t>(window * static_cast<double>(n));
        const size_t stride = std::max<size_t>(1, 2 * reach / most_flown);
        for (size_t i = decisive % stride; i < n; i += stride) {
            if (i + reach >= decisive && i <= decisive + reach) {
                place_ = i == decisive ? flown_.size() : place_;
                flown_.push_back(order[i]);
            }
        }
    }

    // Kelvin that the decisive peak stays under the limit; a flight that cannot begin keeps none.
    double room_K(const Setup& changed) const {
        const Belief carried = carried_to(changed, belief_);
        const size_t rows = carried.priors.size();
        std::vector<double> peaks;
        for (const size_t k : flown_) {
            const Plant p =
                fitted_plant(changed, carried.priors, std::span(draws_.z).subspan(k * rows, rows));
            const March m = run_flight(p, changed.flight, true).march;
            const bool flies = m.ended_by != EndedBy::sag || m.seconds >= 1;
            peaks.push_back(flies ? std::min(peak_of(m), runaway_junction_C) : runaway_junction_C);
        }
        std::sort(peaks.begin(), peaks.end());
        return base_.esc.limit_C - peaks[place_];
    }

 private:
    const Setup& base_;
    const Belief& belief_;
    const Draws& draws_;
    std::vector<size_t> flown_;
    size_t place_ = 0;
};

// Last value of `x` on the way from `easy` to `hard` that keeps the limit, to within `tolerance`
// and on the keeping side. `room(x)` falls on the way; at `told` it is `told_room`. Secant steps
// inside a bracket, each a little too far, so that the two sides close quickly.
template <class Room>
std::optional<double> last_keeping(Room&& room, double easy, double hard, double told,
                                   double told_room, double usual_slope, double tolerance) {
    constexpr int most_steps = 24;
    const double way = hard > easy ? 1 : -1;
    const auto clamped = [&](double x) {
        return std::clamp(x, std::min(easy, hard), std::max(easy, hard));
    };
    std::optional<double> kept;
    std::optional<double> failed;
    double x = told;
    double left = told_room;
    double slope = usual_slope;
    for (int i = 0; i < most_steps; ++i) {
        (left >= 0 ? kept : failed) = x;
        if (kept && (*kept == hard || (failed && std::abs(*failed - *kept) <= tolerance))) {
            break;
        }
        if (failed && *failed == easy) {
            break;
        }
        const double beyond = 0.4 * tolerance * (left >= 0 ? way : -way);
        double next = clamped(x - left / slope + beyond);
        if (kept && failed) {
            const bool inside = (next - *kept) * (next - *failed) < 0;
            next = inside && i % 4 != 3 ? next : 0.5 * (*kept + *failed);
        }
        const double now = room(next);
        const double secant = next != x ? (now - left) / (next - x) : slope;
        slope = secant * way < 0 ? secant : usual_slope;
        x = next;
        left = now;
    }
    return kept;
}

std::string limits_text(const Limits& l, Scale in) {
    std::string text;
    const auto add = [&](const std::string& part) { text += (text.empty() ? "" : ", ") + part; };
    if (l.warmest_air_C) {
        add(degrees(*l.warmest_air_C, in) + " of air at most");
    }
    if (l.highest_field_m) {
        add(say("%.0f m of field at most", *l.highest_field_m));
    }
    if (l.longest_flight_s) {
        add(clock_text(*l.longest_flight_s) + " of flight at most");
    }
    if (l.most_full_throttle_A) {
        add(say("%.3g A at full throttle at most", *l.most_full_throttle_A));
    }
    if (l.smallest_esc_A) {
        add(say("an ESC of %.3g A at least by its heat", *l.smallest_esc_A));
    }
    return text.empty() ? "No change of air, field, load or ESC alone keeps the ESC's limit."
                        : text +
                              ": each alone, the rest as told, keeps the ESC's limit with 90 % "
                              "chance.";
}

// What the pack gives at full throttle (A), told or solved; empty where no load's size is told.
std::optional<double> full_throttle_A(const Setup& s, const std::vector<HoldReport>& holds) {
    const LoadSetup& load = s.load;
    const bool told = load.full_throttle_A || !load.points.empty() || load.shaft_W;
    if (load.kind == LoadKind::governed || !told) {
        return {};
    }
    return load.full_throttle_A ? *load.full_throttle_A : holds.back().pack_A;
}

}  // namespace

std::optional<Limits> find_limits(const Setup& s, const Belief& belief, const FlightReport& flight,
                                  const std::vector<HoldReport>& holds, const Draws& draws,
                                  Scale in) {
    if (draws.count() == 0) {
        return {};
    }
    const Deciders deciders(s, belief, draws);
    const double told_room = deciders.room_K(s);
    Limits limits;

    constexpr double air_tolerance_K = 0.2;
    const FieldRange air = range_of("air.temperature_C");
    const auto in_air = [&](double celsius) {
        Setup day = s;
        day.air.temperature_C = celsius;
        return deciders.room_K(day);
    };
    limits.warmest_air_C = last_keeping(in_air, air.least, air.most, s.air.temperature_C, told_room,
                                        -1, air_tolerance_K);

    constexpr double field_tolerance_m = 20;
    constexpr double usual_K_per_m = 0.004;
    const FieldRange height = range_of("air.altitude_m");
    const auto at_field = [&](double metres) {
        Setup field = s;
        field.air.altitude_m = metres;
        return deciders.room_K(field);
    };
    limits.highest_field_m = last_keeping(at_field, height.least, height.most, s.air.altitude_m,
                                          told_room, -usual_K_per_m, field_tolerance_m);

    std::vector<double> passed;
    for (const Outcome& o : draws.flight) {
        passed.push_back(o.limit_s);
    }
    if (const double kept_s = surely_reached(passed); kept_s > 0) {
        limits.longest_flight_s = std::min(kept_s, flight.seconds);
    }

    // Loads and ratings go by their ratio: a rise over the air of some 60 K goes with about the
    // load's power of 1.3.
    constexpr double share_tolerance = 0.004;
    constexpr double usual_K = 80;
    if (const auto full_A = full_throttle_A(s, holds)) {
        const FieldRange load = range_of("load.full_throttle_A");
        const auto with_load = [&](double log_factor) {
            return deciders.room_K(with_load_times(s, std::exp(log_factor)));
        };
        const auto log_factor =
            last_keeping(with_load, std::log(load.least / *full_A), std::log(load.most / *full_A),
                         0, told_room, -usual_K, share_tolerance);
        if (log_factor) {
            limits.most_full_throttle_A = *full_A * std::exp(*log_factor);
        }
    }
    const FieldRange rating = range_of("esc.rating_A");
    const auto with_esc = [&](double log_A) {
        return deciders.room_K(with_esc_of(s, std::exp(log_A)));
    };
    const double told_log_A = std::log(s.esc.rating_A);
    const auto log_A = last_keeping(with_esc, std::log(rating.most), std::log(rating.least),
                                    told_log_A, with_esc(told_log_A), usual_K, share_tolerance);
    if (log_A) {
        limits.smallest_esc_A = std::exp(*log_A);
    }
    limits.text = limits_text(limits, in);
    return limits;
}

}  // namespace hotband
