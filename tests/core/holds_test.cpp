// A hold's row of the report against the march it stands for.
#include <cmath>
#include <limits>

#include "advice.hpp"
#include "drives.hpp"
#include "physics/constants.hpp"

using namespace hotband;
using namespace hotband::test;

TEST_CASE("holds: efficiencies follow the watts from pack to shaft") {
    const Plant p = median_plant(six_cell_drive());
    const HoldRun run = run_hold(p, {{.throttle = 0.7}, {}, 25});
    const HoldReport h = report_hold(p, run);
    const Operating& o = run.middle;
    const double link_W = o.v_link * o.i_pack;
    const double lead_W = o.i_pack * o.i_pack * p.pack.lead_resistance;
    CHECK_THAT(h.system_efficiency, WithinRel(o.shaft_W / (link_W + lead_W), 1e-12));
    CHECK_THAT(h.motor_efficiency, WithinRel(o.shaft_W / o.motor_W, 1e-12));
    CHECK_THAT(h.esc_efficiency, WithinRel(1 - o.losses.total() / link_W, 1e-12));
    CHECK(h.throttle_pct == 70);
    CHECK(h.duty == o.duty);
    CHECK(h.pack_A == o.i_pack);
    CHECK(h.motor_A == o.i_motor);
    CHECK_THAT(h.rpm, WithinRel(o.omega * 60 / (2 * pi), 1e-12));
    CHECK(h.hold_s == run.march.seconds);
    CHECK(h.hold_mean_C == run.march.mean_board);
    CHECK(h.hold_peak_C.p50 == run.march.peak_board);
    CHECK(h.air_speed_mps == o.air_speed);
    CHECK(report_hold(p, run_hold(p, {{.throttle = 1}, {}, 25})).duty == 1);
    // Less than a watt has an efficiency as well.
    HoldRun slow = run;
    slow.middle.shaft_W = 0.3;
    slow.middle.motor_W = 0.6;
    CHECK(report_hold(p, slow).motor_efficiency == 0.5);
    slow.middle.motor_W = 0;
    CHECK(report_hold(p, slow).motor_efficiency == 0);
}

TEST_CASE("holds: two motors on a pack draw twice what one ESC does") {
    Plant p = median_plant(six_cell_drive());
    const HoldRun run = run_hold(p, {{.throttle = 0.7}, 20.0, 25});
    p.pack.share = 2;
    CHECK(report_hold(p, run).pack_A == 2 * run.middle.i_pack);
}

TEST_CASE("holds: what ends a hold is said") {
    Plant p = median_plant(six_cell_drive());
    const auto end_of = [&](std::optional<double> seconds) {
        return report_hold(p, run_hold(p, {{.throttle = 1}, seconds, 25})).ended_by;
    };
    CHECK(end_of({}) == EndedBy::reserve);
    CHECK(end_of(20.0) == EndedBy::time);
    p.pack.sag_floor_V = 3.75;
    CHECK(end_of({}) == EndedBy::sag);
}

TEST_CASE("holds: the share reached is that of the way to the settled temperature") {
    const Plant p = median_plant(six_cell_drive());
    const HoldRun run = run_hold(p, {{.throttle = 0.8}, 60.0, 25});
    const HoldReport h = report_hold(p, run);
    REQUIRE(h.steady_C);
    REQUIRE(h.share_reached);
    const double end_C = run.march.moments.back().heat.board;
    CHECK_THAT(25 + *h.share_reached * (*h.steady_C - 25), WithinAbs(end_C, 1e-9));
    CHECK(between(0.05, *h.share_reached, 0.95));
    const HoldRun near = run_hold(p, {{.throttle = 0.8}, 60.0, *h.steady_C - 4});
    CHECK_FALSE(report_hold(p, near).share_reached);
    const HoldRun far = run_hold(p, {{.throttle = 0.8}, 60.0, *h.steady_C - 5.5});
    CHECK(report_hold(p, far).share_reached);
    const HoldRun above = run_hold(p, {{.throttle = 0.8}, 60.0, *h.steady_C + 8});
    REQUIRE(report_hold(p, above).share_reached);
    CHECK(between(0.01, *report_hold(p, above).share_reached, 1));
}

TEST_CASE("holds: a runaway has no peak, and passes the limit at its end at the latest") {
    March m;
    m.moments.resize(2);
    m.moments[0].heat.board = 30;
    m.moments[1].t = 100;
    m.moments[1].heat.board = 90;
    m.seconds = 100;
    m.peak_board = 90;
    CHECK(peak_of(m) == 90);
    CHECK_FALSE(limit_passed_s(m, 95));
    CHECK_THAT(*limit_passed_s(m, 60), WithinAbs(50, 1e-9));
    m.ended_by = EndedBy::runaway;
    CHECK(peak_of(m) == std::numeric_limits<double>::infinity());
    CHECK(limit_passed_s(m, 95) == 100);
    CHECK_THAT(*limit_passed_s(m, 60), WithinAbs(50, 1e-9));

    const Plant p = median_plant(six_cell_drive());
    HoldRun run = run_hold(p, {{.throttle = 0.8}, 20.0, 25});
    run.march.ended_by = EndedBy::runaway;
    run.steady.runaway = true;
    const HoldReport h = report_hold(p, run);
    CHECK(h.runaway);
    CHECK(std::isnan(h.hold_peak_C.p50));
    CHECK_FALSE(h.steady_C);
    CHECK(h.seconds_to_limit == run.march.seconds);
}
