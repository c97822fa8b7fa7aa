// One hold as the report shows it.
#include <algorithm>
#include <cmath>
#include <limits>

#include "advise/rooms.hpp"
#include "advise/text.hpp"
#include "physics/constants.hpp"
#include "physics/none.hpp"

namespace hotband {

double peak_of(const March& m) {
    return m.ended_by == EndedBy::runaway ? std::numeric_limits<double>::infinity() : m.peak_board;
}

std::optional<double> limit_passed_s(const March& m, double limit_C) {
    const std::optional<double> seen = seconds_to(m, limit_C);
    return seen || m.ended_by != EndedBy::runaway ? seen : m.seconds;
}

HoldReport report_hold(const Plant& p, const HoldRun& run) {
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
        const double start_C = run.march.moments.front().heat.board;
        const double to_go = *h.steady_C - start_C;
        if (std::abs(to_go) > 5) {
            h.share_reached = (run.march.moments.back().heat.board - start_C) / to_go;
        }
    }
    h.hold_s = run.march.seconds;
    h.hold_mean_C = run.march.mean_board;
    h.ended_by = run.march.ended_by;
    h.runaway = h.ended_by == EndedBy::runaway;
    h.hold_peak_C.p50 = h.runaway ? none : run.march.peak_board;
    h.motor_C.p50 = run.march.moments.back().heat.winding;
    h.pack_A_band.p50 = h.pack_A;
    h.rpm_band.p50 = h.rpm;
    h.seconds_to_limit = limit_passed_s(run.march, p.limit_C);
    h.air_speed_mps = o.air_speed;
    h.saturated = run.map.saturated;
    return h;
}

}  // namespace hotband
