// Why is a hold as hot as it is? Its rise over the air, and over full throttle, in kelvin by cause.
//
// Over the time of a hold the board's temperature is nearly linear in the heat that enters:
//   T(losses, air, run) = rest + sum over causes (per_junction W_junction + per_board W_board),
// with the responses those of the hold's air and of its length and start. Each hold's heat is
// scaled so that T is the peak the report gives; the same scale for all causes.
// From one hold to another three things change: losses, air, run. Losses and air are compared over
// the shorter of the two runs, which both last, each changed first and last; what the longer one
// then goes on for is the run's part. Of the two ways the one counts more that passes by the cooler
// state between: full throttle's heat in the still air of an idling propeller is hundreds of
// kelvin that neither hold comes near. So the parts add up, and taken backwards each changes its
// sign. Within the losses T is linear, and each cause has its own part.
#include <algorithm>
#include <array>
#include <cmath>

#include "advise/rooms.hpp"
#include "advise/text.hpp"
#include "physics/none.hpp"

namespace hotband {
namespace {

struct Cause {
    double WhyParts::*part;
    const char* name;
};
constexpr std::array<Cause, heat_causes> causes = {
    {{&WhyParts::conduction, "conduction"},
     {&WhyParts::freewheel, "freewheeling through the diodes"},
     {&WhyParts::switching, "switching"},
     {&WhyParts::commutation, "commutation"},
     {&WhyParts::capacitor, "the link capacitors"},
     {&WhyParts::supply, "the supply and the electronics"}}};

double rise_by(const Response& r, const HeatInput& w) {
    return r.per_junction_W * w.junction + r.per_board_W * w.board;
}

double rise_by(const Response& r, const CauseHeat& heat) {
    double sum = r.rest_C;
    for (const HeatInput& w : heat) {
        sum += rise_by(r, w);
    }
    return sum;
}

// Response in the air of one hold, over the length and from the start of another.
Response response(const Plant& p, const HoldRun& air, const HoldRun& run) {
    const std::vector<Moment>& m = air.march.moments;
    const double body_C = 0.5 * (m.front().heat.body + m.back().heat.body);
    return board_response(p, air.middle.air_speed, air.map.flight_speed, body_C, run.march.seconds,
                          run.march.moments.front().heat.board);
}

// The hold's heat by cause, so scaled that it makes the hold's peak: the median of two kinds of
// freewheel may be twice as hot as the middle plant, which is of one. A factor beyond four is none
// of the linear model's making: the peak is then that of a warm start, and stays in `other`. The
// limit that a runaway passes is no peak of its heat's: there any factor will do.
CauseHeat scaled_heat(const Plant& p, const ToldHold& hold) {
    constexpr double most_scale = 4;
    const bool lost = hold.run->march.ended_by == EndedBy::runaway;
    CauseHeat heat = heat_by_cause(hold.run->middle.losses);
    const Response own = response(p, *hold.run, *hold.run);
    const double scale =
        std::max(0.0, (hold.peak_C - own.rest_C) / (rise_by(own, heat) - own.rest_C));
    // What is lost in no time at all has warmed nothing yet.
    if (!std::isfinite(scale) || !(scale < most_scale || lost)) {
        return heat;
    }
    for (HeatInput& w : heat) {
        w.junction *= scale;
        w.board *= scale;
    }
    return heat;
}

// Parts of the step from one hold to another.
WhyParts step_parts(const Plant& p, const ToldHold& from, const ToldHold& to) {
    const CauseHeat a = scaled_heat(p, from);
    const CauseHeat b = scaled_heat(p, to);
    const bool longer = to.run->march.seconds > from.run->march.seconds;
    const HoldRun& shared = longer ? *from.run : *to.run;
    const Response before = response(p, *from.run, shared);
    const Response after = response(p, *to.run, shared);
    const double began = rise_by(response(p, *from.run, *from.run), a);
    const double ended = rise_by(response(p, *to.run, *to.run), b);
    const double air_first = rise_by(after, a);
    const double losses_first = rise_by(before, b);
    constexpr double least_K = 1;  // what is no warmer than the air has a weight as well
    const auto over_air = [&](double celsius) {
        return least_K + std::abs(celsius - p.air.celsius);
    };
    const double share = over_air(losses_first) / (over_air(air_first) + over_air(losses_first));
    const auto mean = [share](double where_air_first, double where_losses_first) {
        return share * where_air_first + (1 - share) * where_losses_first;
    };
    const Response for_losses = {
        .per_junction_W = mean(after.per_junction_W, before.per_junction_W),
        .per_board_W = mean(after.per_board_W, before.per_board_W)};
    WhyParts parts;
    for (size_t i = 0; i < heat_causes; ++i) {
        parts.*causes[i].part = rise_by(for_losses, b[i]) - rise_by(for_losses, a[i]);
    }
    parts.air = mean(air_first - rise_by(before, a), rise_by(after, b) - losses_first);
    parts.run_time = longer ? ended - rise_by(after, b) : rise_by(before, a) - began;
    parts.other = to.peak_C - from.peak_C - (ended - began);
    return parts;
}

// Of a rise without a number.
WhyParts no_parts() {
    WhyParts parts;
    for (const Cause& cause : causes) {
        parts.*cause.part = none;
    }
    parts.air = parts.run_time = parts.other = none;
    return parts;
}

struct Largest {
    double kelvin;
    const char* name;
};

Largest largest_of(const WhyParts& w) {
    Largest most = {w.air, "less air over the ESC"};
    const auto offer = [&](double kelvin, const char* name) {
        most = kelvin > most.kelvin ? Largest{kelvin, name} : most;
    };
    offer(w.run_time, "the longer run");
    for (const Cause& cause : causes) {
        offer(w.*cause.part, cause.name);
    }
    return most;
}

// A hold that the pack's sag ends after less than a tenth of its charge tells nothing; nor does one
// that most draws end so, whose peak is then less than sun and air alone make of the middle's run.
bool tells_nothing(const Plant& p, const ToldHold& hold) {
    constexpr double least_share = 0.1;
    constexpr double same_K = 1;
    const HoldRun& run = *hold.run;
    const double used = p.pack.start - run.march.moments.back().charge;
    return (run.march.ended_by == EndedBy::sag &&
            used < least_share * (p.pack.start - p.pack.reserve)) ||
           (hold.peak_C < run.march.peak_board - same_K &&
            hold.peak_C < response(p, run, run).rest_C - same_K);
}

std::string rise_text(const Why& why, const char* reference, Scale in) {
    constexpr double same_K = 0.5;
    const std::string held = say("%.0f %%, held to the pack's end.", why.throttle_pct);
    if (std::abs(why.rise_over_full_K) < same_K) {
        return say("As warm as %s: %s", reference, held.c_str());
    }
    const std::string by = difference(std::abs(why.rise_over_full_K), in);
    if (why.rise_over_full_K < 0) {
        return say("%s cooler than %s: %s", by.c_str(), reference, held.c_str());
    }
    const Largest most = largest_of(why.parts);
    return say("%s hotter than %s: %s The largest part, %s, comes from %s.", by.c_str(), reference,
               held.c_str(), difference(most.kelvin, in).c_str(), most.name);
}

}  // namespace

CauseHeat heat_by_cause(const Losses& l) {
    return {{{l.conduction, l.board},
             {l.freewheel, 0},
             {l.switching + l.charge + l.dead_time, 0},
             {l.commutation, 0},
             {0, l.capacitor},
             {0, l.supply}}};
}

Why explain(const Plant& p, const ToldHold& hold, const ToldHold& full, Scale in) {
    const char* reference = p.load.law == LoadLaw::square ? "full throttle" : "hover";
    Why why;
    why.throttle_pct = percent(hold.run->map.throttle);
    const bool runs_away = !std::isfinite(hold.peak_C);
    const bool no_reference = !std::isfinite(full.peak_C) || tells_nothing(p, full);
    if (runs_away || no_reference) {
        why.rise_over_full_K = none;
        why.parts = no_parts();
        why.text =
            runs_away
                ? say("%.0f %%: the ESC makes more heat with every degree than its cooling takes "
                      "away, and its heat runs away.",
                      why.throttle_pct)
            : std::isfinite(full.peak_C)
                ? say("The pack sags too soon at %s: there is nothing to compare with.", reference)
                : say("Held at %s, the ESC's heat runs away: there is nothing to compare with.",
                      reference);
        return why;
    }
    why.rise_over_full_K = hold.peak_C - full.peak_C;
    why.parts = step_parts(p, full, hold);
    why.text = rise_text(why, reference, in);
    return why;
}

WhyOverAir explain_over_air(const Plant& p, ToldHold hold, Scale in) {
    WhyOverAir why;
    why.throttle_pct = percent(hold.run->map.throttle);
    const bool runs_away = !std::isfinite(hold.peak_C);
    hold.peak_C = runs_away ? p.limit_C : hold.peak_C;
    why.rise_K = hold.peak_C - p.air.celsius;
    const CauseHeat heat = scaled_heat(p, hold);
    const Response own = response(p, *hold.run, *hold.run);
    why.parts.other = why.rise_K;
    for (size_t i = 0; i < heat_causes; ++i) {
        why.parts.*causes[i].part = rise_by(own, heat[i]);
        why.parts.other -= rise_by(own, heat[i]);
    }
    const Largest most = largest_of(why.parts);
    const char* held = runs_away ? "held until the limit is passed" : "held to the pack's end";
    why.text = say("%s over the air: %.0f %%, %s. The largest part, %s, comes from %s.",
                   difference(why.rise_K, in).c_str(), why.throttle_pct, held,
                   difference(most.kelvin, in).c_str(), most.name);
    return why;
}

}  // namespace hotband
