// One hold as the report shows it, and why it is hotter than full throttle.
#include <algorithm>
#include <cmath>
#include <limits>

#include "advise/rooms.hpp"
#include "advise/text.hpp"
#include "physics/constants.hpp"

namespace hotband {
namespace {

// Heat by cause, each with where it enters.
struct Causes {
    double conduction, freewheel, switching, other_junction;  // W at the junctions
    double capacitor, other_board;                            // W at the board
};

Causes causes_of(const Losses& l) {
    return {l.conduction,  l.freewheel, l.switching + l.charge + l.dead_time,
            l.commutation, l.capacitor, l.board + l.supply};
}

double heat(const Response& r, const Causes& c) {
    return r.rest_C +
           r.per_junction_W * (c.conduction + c.freewheel + c.switching + c.other_junction) +
           r.per_board_W * (c.capacitor + c.other_board);
}

const char* name_of_largest(const WhyParts& w) {
    struct Named {
        double kelvin;
        const char* name;
    };
    const std::array<Named, 6> parts = {{{w.conduction, "conduction"},
                                         {w.freewheel, "freewheeling through the diodes"},
                                         {w.switching, "switching"},
                                         {w.capacitor, "the link capacitors"},
                                         {w.air, "less air over the ESC"},
                                         {w.run_time, "the longer run"}}};
    return std::max_element(parts.begin(), parts.end(),
                            [](const Named& a, const Named& b) { return a.kelvin < b.kelvin; })
        ->name;
}

}  // namespace

const char* reference_name(const Plant& p) {
    return p.load.law == LoadLaw::square ? "full throttle" : "hover";
}

Why explain(const Plant& p, const HoldRun& hold, const HoldRun& full, double start_C) {
    const char* reference = reference_name(p);
    const auto body = [](const HoldRun& r) {
        return 0.5 * (r.march.moments.front().heat.body + r.march.moments.back().heat.body);
    };
    // Responses for either hold's air and either hold's length.
    const auto response = [&](const HoldRun& air, const HoldRun& length) {
        return board_response(p, air.middle.air_speed, air.map.flight_speed, body(air),
                              length.march.seconds, start_C);
    };
    const Response ff = response(full, full);
    const Response hf = response(hold, full);
    const Response fh = response(full, hold);
    const Response hh = response(hold, hold);
    const Causes a = causes_of(full.middle.losses);
    const Causes b = causes_of(hold.middle.losses);
    // Changed one after the other, once in this order and once in reverse, and averaged: the steps
    // of either order add up, so the average does too.
    const double per_junction = 0.5 * (ff.per_junction_W + hh.per_junction_W);
    const double per_board = 0.5 * (ff.per_board_W + hh.per_board_W);
    Why why;
    why.throttle_pct = percent(hold.map.throttle);
    const bool runs_away = hold.march.ended_by == EndedBy::runaway;
    if (runs_away || full.march.ended_by == EndedBy::runaway) {
        constexpr double none = std::numeric_limits<double>::quiet_NaN();
        why.rise_over_full_K = none;
        why.parts = {none, none, none, none, none, none, none};
        why.text =
            runs_away
                ? say("Held at %.0f %%, the ESC makes more heat with every kelvin than its "
                      "cooling takes away: it runs away after %s.",
                      why.throttle_pct, clock_text(hold.march.seconds).c_str())
                : say("Held at %s, the ESC's heat runs away: there is nothing to compare with.",
                      reference);
        return why;
    }
    why.rise_over_full_K = hold.march.peak_board - full.march.peak_board;
    WhyParts& w = why.parts;
    w.conduction = per_junction * (b.conduction - a.conduction);
    w.freewheel = per_junction * (b.freewheel - a.freewheel);
    w.switching = per_junction * (b.switching - a.switching);
    w.capacitor = per_board * (b.capacitor - a.capacitor);
    w.air = 0.5 * (heat(hf, b) - heat(ff, b) + heat(hh, a) - heat(fh, a));
    w.run_time = 0.5 * (heat(hh, b) - heat(hf, b) + heat(fh, a) - heat(ff, a));
    w.other = why.rise_over_full_K -
              (w.conduction + w.freewheel + w.switching + w.capacitor + w.air + w.run_time);
    if (why.rise_over_full_K > 0.5) {
        why.text =
            say("Held to the pack's end, %.0f %% ends %.0f K hotter than %s, most of it from %s.",
                why.throttle_pct, why.rise_over_full_K, reference, name_of_largest(w));
    } else if (why.rise_over_full_K < -0.5) {
        why.text = say("Held to the pack's end, %.0f %% ends %.0f K cooler than %s.",
                       why.throttle_pct, -why.rise_over_full_K, reference);
    } else {
        why.text =
            say("Held to the pack's end, %.0f %% ends as warm as %s.", why.throttle_pct, reference);
    }
    return why;
}

HoldReport report_hold(const Plant& p, const HoldRun& run, const HoldRun& full, double start_C) {
    const Operating& o = run.middle;
    HoldReport h;
    h.throttle_pct = percent(run.map.throttle);
    h.duty = o.chopping ? o.duty : 1;
    h.pack_A = o.i_pack * p.pack.share;
    h.motor_A = o.i_motor;
    h.rpm = o.omega * 30 / pi;
    h.losses = o.losses;
    const double pack_W = o.i_pack * (o.v_link + o.i_pack * p.pack.lead_resistance);
    const double link_W = o.i_pack * o.v_link;
    const auto ratio = [](double a, double b) { return b > 0 ? a / b : 0; };
    h.esc_efficiency = std::max(0.0, 1 - ratio(o.losses.total(), link_W));
    h.motor_efficiency = ratio(o.shaft_W, o.motor_W);
    h.system_efficiency = ratio(o.shaft_W, pack_W);
    if (!run.steady.runaway) {
        h.steady_C = run.steady.heat.board;
        const double to_go = *h.steady_C - start_C;
        if (std::abs(to_go) > 5) {
            h.share_reached = (run.march.moments.back().heat.board - start_C) / to_go;
        }
    }
    h.hold_s = run.march.seconds;
    h.hold_mean_C = run.march.mean_board;
    h.runaway = run.steady.runaway || run.march.ended_by == EndedBy::runaway;
    h.hold_peak_C.p50 = run.march.ended_by == EndedBy::runaway
                            ? std::numeric_limits<double>::quiet_NaN()
                            : run.march.peak_board;
    h.motor_C.p50 = run.march.moments.back().heat.winding;
    h.pack_A_band.p50 = h.pack_A;
    h.rpm_band.p50 = h.rpm;
    h.seconds_to_limit = seconds_to(run.march, p.limit_C);
    h.air_speed_mps = o.air_speed;
    h.saturated = run.map.saturated;
    h.why = explain(p, run, full, start_C);
    return h;
}

}  // namespace hotband
