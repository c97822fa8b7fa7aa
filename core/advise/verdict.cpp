// One sentence a pilot acts on, and the cautions that go with every answer.
#include <algorithm>
#include <cmath>

#include "advise/rooms.hpp"
#include "advise/text.hpp"

namespace hotband {
namespace {

// Chance of passing the limit that is worth watching.
constexpr double watched_chance = 0.05;

std::string on_esc(const Report& r, Level& level) {
    const EscReport& e = r.esc;
    const std::string flight = clock_text(r.flight.seconds);
    const double peak = e.peak_C.p50;
    if (e.runaway || !std::isfinite(peak)) {
        level = Level::stop;
        const auto passes = r.flight.limit_after_s;
        return passes
                   ? say("Do not fly this: the ESC passes its limit after %s and its heat then "
                         "runs away.",
                         clock_text(*passes).c_str())
                   : std::string("Do not fly this: more likely than not the ESC's heat runs away.");
    }
    if (r.flight.seconds < 1) {
        level = Level::stop;
        return "Do not fly this: the pack sags below its floor as soon as the throttle opens.";
    }
    if (peak >= e.limit_C) {
        level = Level::stop;
        return say(
            "Do not fly this: the ESC peaks near %.0f deg C, %.0f K over its limit, over a flight "
            "of %s.",
            peak, peak - e.limit_C, flight.c_str());
    }
    // An empty p90 beside a known p10 is a runaway among the hotter draws.
    const bool hot_draws_run_away = e.peak_C.p10 && !e.peak_C.p90;
    const double high = e.peak_C.p90.value_or(peak);
    if (hot_draws_run_away) {
        level = Level::watch;
        return say(
            "Watch it: the ESC peaks near %.0f deg C, but its heat could run away, over a flight "
            "of %s.",
            peak, flight.c_str());
    }
    if (high > e.limit_C - margin_K || e.chance_over_limit.value_or(0) > watched_chance) {
        level = Level::watch;
        return e.peak_C.p90 ? say("Watch it: the ESC peaks near %.0f deg C and could reach %.0f, "
                                  "its limit is %.0f, "
                                  "over a flight of %s.",
                                  peak, high, e.limit_C, flight.c_str())
                            : say("Watch it: the ESC peaks near %.0f deg C, its limit is %.0f, "
                                  "over a flight of %s.",
                                  peak, e.limit_C, flight.c_str());
    }
    return say(
        "Fine for the ESC: it peaks near %.0f deg C, %.0f K under its limit, over a flight of %s.",
        peak, e.limit_C - peak, flight.c_str());
}

}  // namespace

Verdict judge(const Setup& s, const Report& r) {
    Verdict v;
    v.headline = on_esc(r, v.level);
    const auto also = [&](const std::string& text) {
        v.headline += " " + text;
        v.level = std::max(v.level, Level::watch);
    };
    if (!r.checks.rating.ok) {
        also("The motor draws more than the ESC's rating.");
    }
    if (r.flight.ended_by == "sag" && r.flight.seconds >= 1) {
        also("The pack's sag ends it before the reserve.");
    } else if (!r.checks.pack.ok) {
        also("The pack gives more than it can sustain.");
    }
    if (r.flight.governor_saturates) {
        also("The governor runs out of headroom before the pack is empty.");
    }
    for (const ThrottleBand& band : r.bands) {
        if (band.level != Level::fine) {
            v.headline += say(" Do not hold %.0f-%.0f %%%s for long.", band.from_pct, band.to_pct,
                              s.load.kind == LoadKind::governed ? " of hover power" : "");
            break;
        }
    }
    return v;
}

std::vector<std::string> list_cautions(const Report& r) {
    std::vector<std::string> out;
    const auto caution = [&](const char* text) { out.emplace_back(text); };
    caution(
        "A prediction from estimates, not a measurement: check with a thermometer after a short "
        "first flight.");
    caution(
        "The ESC maker's limits, the pack maker's instructions and local rules come before "
        "anything said here.");
    caution(
        "Hot metal burns: above about 60 deg C do not touch ESC, motor or heatsink after landing.");
    caution(
        "Bench work: propeller off where it can be, model held fast, stay out of the disc's plane, "
        "connect the pack last.");
    caution(
        "Lithium packs: no swollen or damaged packs, charge attended on a surface that does not "
        "burn, stop at the sag floor.");
    double motor_C = 0;
    for (const SeriesRow& row : r.flight.series) {
        motor_C = std::max(motor_C, row.motor_C);
    }
    // Enamel of the usual kind and magnets of the usual grades (common practice, no source).
    constexpr double hot_winding_C = 120;
    if (motor_C > hot_winding_C) {
        out.push_back(say(
            "The motor's windings may reach about %.0f deg C, by a coarse model of an unknown "
            "motor: feel for it with a thermometer after a short flight; its maker's limit counts.",
            motor_C));
    }
    return out;
}

}  // namespace hotband
