// One sentence a pilot acts on, and everything that moved its level, worst first.
#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

#include "advise/rooms.hpp"
#include "physics/order.hpp"

namespace hotband {
namespace {

// Chance of passing the limit that is worth watching.
constexpr double watched_chance = 0.05;
constexpr const char* no_flight = "do not fly this.";

Reason heat(const Report& r, Scale in) {
    const EscReport& e = r.esc;
    const std::string flight = clock_text(r.flight.seconds);
    if (e.runaway) {
        const double passes = r.flight.limit_after_s.value_or(r.flight.seconds);
        return {"heat", Level::stop,
                say("%s until the ESC passes its limit, and its heat then runs away: %s",
                    clock_text(passes).c_str(), no_flight)};
    }
    const std::string peak = degrees(e.peak_C.p50, in) + " is the ESC's likely peak";
    if (e.peak_C.p50 > e.limit_C) {
        return {
            "heat", Level::stop,
            say("%s, %s over its limit, which it passes after %s: %s", peak.c_str(),
                difference(e.peak_C.p50 - e.limit_C, in).c_str(),
                clock_text(r.flight.limit_after_s.value_or(r.flight.seconds)).c_str(), no_flight)};
    }
    // An empty p90 beside a known p10 is a runaway among the hotter draws.
    if (e.peak_C.p10 && !e.peak_C.p90) {
        return {"heat", Level::watch,
                say("%s over a flight of %s, but its heat could run away: %.0f %% chance of "
                    "passing its limit.",
                    peak.c_str(), flight.c_str(), 100 * e.chance_over_limit.value_or(0))};
    }
    const double high = e.peak_C.p90.value_or(e.peak_C.p50);
    if (high > e.limit_C - margin_K || e.chance_over_limit.value_or(0) > watched_chance) {
        const std::string one_in_ten =
            e.peak_C.p90 ? ", one flight in ten goes beyond " + degrees(high, in) : "";
        return {"heat", Level::watch,
                say("%s over a flight of %s%s: watch its limit of %s.", peak.c_str(),
                    flight.c_str(), one_in_ten.c_str(), degrees(e.limit_C, in).c_str())};
    }
    return {"heat", Level::fine,
            say("%s over a flight of %s, %s under its limit: fine.", peak.c_str(), flight.c_str(),
                difference(e.limit_C - e.peak_C.p50, in).c_str())};
}

std::string figure(double value, const std::string& unit, Scale in) {
    if (unit == "deg C") {
        return degrees(value, in);
    }
    const double size = std::abs(value);
    const int digits = size < 9.995 ? 2 : size < 99.95 ? 1 : 0;
    std::string number = say("%.*f", digits, value);
    if (number.find('.') != std::string::npos) {
        number.erase(number.find_last_not_of('0') + 1);
        number.erase(number.find_last_not_of('.') + 1);
    }
    return unit.empty() ? number : number + " " + unit;
}

Reason failed_check(const CheckItem& item, Scale in) {
    const char* end = item.serious ? no_flight : "mend it.";
    return {item.key, item.serious ? Level::stop : Level::watch,
            failed_text(item, in) + ": " + end};
}

// The hottest that a row's thermometer read (deg C).
double hottest_reading(const MeasuredRow& row) {
    double hottest = -std::numeric_limits<double>::infinity();
    for (const auto& C : {row.esc_mean_C, row.esc_peak_C, row.esc_after_C}) {
        hottest = std::max(hottest, C.value_or(hottest));
    }
    for (const auto& [t_s, esc_C] : row.trace) {
        hottest = std::max(hottest, esc_C);
    }
    return hottest;
}

// How much warmer (K) a measured flight began, or was flown, than the one that is told of.
double warmer_than_told_K(const Setup& s, const MeasuredRow& row) {
    const double air_C = s.air.temperature_C;
    const double start_C = s.flight.start_C.value_or(air_C);
    return std::max(
        {0.0, row.air_C.value_or(air_C) - air_C, row.start_C.value_or(start_C) - start_C});
}

// A thermometer that has read more than is believed is not talked away: over the limit, where that
// taught nothing, and after this very flight, where it is above the range.
std::optional<Reason> hot_reading(const Setup& s, const Report& r, Scale in) {
    const Learned& learned = r.learned;
    for (size_t i = 0; i < s.measured.size(); ++i) {
        const MeasuredRow& row = s.measured[i];
        const double read_C = hottest_reading(row);
        const bool dropped =
            learned.failed ||
            std::any_of(learned.misfit.begin(), learned.misfit.end(), [&](const Misfit& m) {
                return m.row == static_cast<int>(i) && m.off_K > 0;
            });
        const bool flown = row.kind == RowKind::flight && r.esc.peak_C.p90 &&
                           read_C - warmer_than_told_K(s, row) > *r.esc.peak_C.p90;
        if (flown || (dropped && read_C > s.esc.limit_C)) {
            return Reason{"readings", Level::watch,
                          say("%s read %s, hotter than is believed here: believe the thermometer "
                              "until it is found out why.",
                              row_name(s, i).c_str(), degrees(read_C, in).c_str())};
        }
    }
    return {};
}

}  // namespace

std::string failed_text(const CheckItem& item, Scale in) {
    std::string label = item.label;
    if (label.size() > 1 && std::islower(static_cast<unsigned char>(label[1])) != 0) {
        label[0] = static_cast<char>(std::tolower(static_cast<unsigned char>(label[0])));
    }
    const std::string value = figure(item.value, item.unit, in);
    const std::string bound = figure(item.bound, item.unit, in);
    std::string wanted;
    switch (item.side) {
        case Side::at_most:
            wanted = "at most " + bound;
            break;
        case Side::at_least:
            wanted = "at least " + bound;
            break;
        case Side::outside:
            wanted = "outside " + figure(item.bound, "", in) + " to " +
                     figure(item.bound_high.value_or(item.bound), item.unit, in);
            break;
    }
    return say("%s %s, where %s is right", value.c_str(), label.c_str(), wanted.c_str());
}

Verdict judge(const Setup& s, const Report& r, Scale in) {
    Verdict v;
    const auto count = [&](Reason reason) {
        v.level = std::max(v.level, reason.level);
        if (reason.level != Level::fine) {
            v.reasons.push_back(std::move(reason));
        }
    };
    for (const Misfit& misfit : r.learned.misfit) {
        if (misfit.misleads) {
            count({"readings", Level::watch, misfit.text});
        }
    }
    if (r.told_apart) {
        count({"load", Level::watch, *r.told_apart});
    }
    const bool no_flight_at_all = sags_at_once(r.flight);
    const Reason hot = heat(r, in);
    if (no_flight_at_all) {
        count({"sag", Level::stop,
               say("The pack sags below its floor as soon as the throttle opens: %s", no_flight)});
    } else {
        count(hot);
    }
    const auto count_group = [&](const CheckGroup& g) {
        for (const CheckItem& item : g.items) {
            // What the flight's own end says already.
            const bool told = no_flight_at_all && item.unit == "V";
            if (!item.ok && !told) {
                count(failed_check(item, in));
            }
        }
    };
    count_group(r.checks.rating);
    count_group(r.checks.pack);
    count_group(r.checks.capacitor);
    count_group(r.checks.supply);
    if (r.flight.ended_by == EndedBy::sag && !no_flight_at_all) {
        count({"sag", Level::watch,
               say("%s of flight, then the pack sags to its floor with charge to spare: a better "
                   "pack or less current.",
                   clock_text(r.flight.seconds).c_str())});
    }
    const auto stands = std::find_if(r.holds.begin(), r.holds.end(), [](const HoldReport& h) {
        return h.throttle_pct == 100 && !(h.rpm > 0);
    });
    if (stands != r.holds.end()) {
        count({"standstill", Level::stop,
               say("The motor does not turn, not even at full throttle: its no-load current is "
                   "more than the %s A that pack and windings let through. Check it, and their "
                   "resistances: %s",
                   three_figures(stands->motor_A).c_str(), no_flight)});
    }
    if (!r.flight.rotor_speed_reached) {
        count({"headroom", Level::stop,
               say("The rotor never reaches its speed, not even on the full pack: %s", no_flight)});
    } else if (r.flight.governor_saturates) {
        count({"headroom", Level::watch,
               "The rotor cannot keep its speed in the hardest part to the pack's end."});
    }
    for (const LongestHold& hold : r.flight.longest_holds) {
        if (!(hold.peak_C <= s.esc.limit_C) && v.level != Level::stop) {
            count({"longest_hold", Level::watch,
                   say("%.0f %% flown in one go for %s passes the ESC's limit: break it up.",
                       hold.throttle_pct, clock_text(hold.seconds).c_str())});
        }
    }
    for (const ThrottleBand& band : r.bands) {
        if (band.level == Level::stop) {
            count({"band", Level::watch, band.text});
        }
    }
    // Where the heat itself already forbids the flight, nothing hotter needs to be said.
    if (const auto hotter = hot_reading(s, r, in); hotter && hot.level != Level::stop) {
        count(*hotter);
    }
    const std::vector<size_t> worst_first = in_order(v.reasons.size(), [&](size_t a, size_t b) {
        return v.reasons[a].level > v.reasons[b].level;
    });
    v.reasons = taken(std::move(v.reasons), worst_first);
    v.headline = v.reasons.empty() ? hot.text : v.reasons.front().text;
    return v;
}

}  // namespace hotband
