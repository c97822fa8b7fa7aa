// Holds round the march: days, benches, limits.
#include "flight/hold.hpp"

#include <cmath>
#include <limits>

#include "drives.hpp"
#include "near.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr double by_hand = 1e-12;

Moment moment_at(double t, double board, double charge) {
    Moment m;
    m.t = t;
    m.heat.board = board;
    m.charge = charge;
    return m;
}

March made_march() {
    March m;
    m.moments = {moment_at(0, 30, 1), moment_at(10, 50, 0.8), moment_at(30, 60, 0.5),
                 moment_at(40, 40, 0.4)};
    return m;
}

Plant drawn_plant() {
    Plant p = median_plant(six_cell_drive());
    p.u.bench_air = 0.7;
    p.u.bench_offset = 2;
    p.u.flown_air = 1.2;
    p.u.flown_offset = -3;
    p.u.coming_air = 0.9;
    p.u.coming_offset = 0.5;
    p.air_factor = 0.9;
    p.flight_speed = 12;
    return p;
}

}  // namespace

TEST_CASE("hold: when the board first passes a temperature, by a straight line (D)") {
    const March m = made_march();
    CHECK(*seconds_to(m, 25) == 0);
    CHECK(*seconds_to(m, 30) == 0);
    CHECK_THAT(*seconds_to(m, 40), WithinAbs(5, by_hand));
    CHECK_THAT(*seconds_to(m, 50), WithinAbs(10, by_hand));
    CHECK_THAT(*seconds_to(m, 52.5), WithinAbs(15, by_hand));
    CHECK_THAT(*seconds_to(m, 60), WithinAbs(30, by_hand));
    CHECK_FALSE(seconds_to(m, 60.001));
    // A board that was lost in the last step passed everything by its end.
    March lost = m;
    lost.moments.push_back(lost.moments.back());
    lost.moments.back().t = 70;
    lost.moments.back().heat.board = std::nan("");
    CHECK(*seconds_to(lost, 80) == 70);
}

TEST_CASE("hold: the moment at a charge, and half way") {
    const March m = made_march();
    CHECK(at_charge(m, 1).t == 0);
    CHECK(at_charge(m, 0.9).t == 10);
    CHECK(at_charge(m, 0.8).t == 10);
    CHECK(at_charge(m, 0.45).t == 40);
    CHECK(at_charge(m, 0.1).t == 40);  // never so low: its end
    Plant p = median_plant(six_cell_drive());
    CHECK(half_way_moment(p, m).t == 30);  // 0.7
    p.pack.start = 0.58;
    CHECK(half_way_moment(p, m).t == 40);  // 0.49
}

TEST_CASE("hold: each day has its own air, speed and frequency") {
    const Plant p = drawn_plant();
    const Plant coming = on_the_day(p, {});
    CHECK(coming.air.celsius == 25.5);
    CHECK(coming.air_factor == 0.9);
    CHECK(coming.flight_speed == 12);
    CHECK(coming.pwm == 8000);
    const Plant bench = on_the_day(p, {.day = Day::bench, .air_C = 20});
    CHECK(bench.air.celsius == 22);
    CHECK(bench.air_factor == 0.7);
    CHECK(bench.flight_speed == 0);
    CHECK_THAT(bench.air_density, WithinRel(101325 / (287.05287 * 295.15), 1e-9));
    const Plant flown = on_the_day(p, {.day = Day::flown, .pwm_Hz = 16000});
    CHECK(flown.air.celsius == 22);
    CHECK(flown.air_factor == 1.2);
    CHECK(flown.flight_speed == 12);
    CHECK(flown.pwm == 16000);
}

TEST_CASE("hold: a bench run of a told length is flown out, one without ends with the pack") {
    const Plant p = drawn_plant();
    const BenchCase free = bench_case(p, {.throttle = 0.8});
    CHECK(free.ask.start_C == 25.5);  // the day's air
    CHECK_FALSE(free.ask.seconds);
    CHECK(free.ask.demand.throttle == 0.8);
    CHECK_FALSE(free.ask.demand.duty);
    CHECK_FALSE(free.ask.demand.speed_mps);
    CHECK(free.plant.pack.reserve == 0.2);
    CHECK(free.plant.pack.sag_floor_V == p.pack.sag_floor_V);
    const BenchCase told = bench_case(
        p, {.throttle = 0.8, .pack_A = 50, .seconds = 250, .start_C = 33, .speed_mps = 6});
    CHECK(told.ask.start_C == 33);
    CHECK(*told.ask.seconds == 250);
    CHECK(*told.ask.demand.speed_mps == 6);
    CHECK(told.plant.pack.reserve == 0.01);
    CHECK(told.plant.pack.sag_floor_V == 0);
    // it draws what was told, on the mean of the hold
    const March m = fly_hold(told.plant, told.ask);
    CHECK(m.ended_by == EndedBy::time);
    CHECK_THAT(m.seconds, WithinRel(250, 1e-9));
    CHECK_THAT(mean_current(m), WithinRel(50, 0.01));
    // beyond the reserve, where nobody told an end: 80 % of 5 Ah
    CHECK_THAT(
        mean_current(fly_hold(free.plant, free.ask)) * fly_hold(free.plant, free.ask).seconds,
        WithinRel(0.8 * 18000, 0.01));
    const March longer =
        fly_hold(told.plant, {told.ask.demand, 18000 / 50.0 * 0.9, told.ask.start_C});
    CHECK(longer.ended_by == EndedBy::time);
    CHECK(longer.moments.back().charge < 0.15);
}

TEST_CASE("hold: what is reported of it is half way through it") {
    const Plant p = median_plant(six_cell_drive());
    const HoldRun run = run_hold(p, {{.throttle = 0.7}, {}, 25});
    CHECK(run.ok);
    CHECK(run.march.ended_by == EndedBy::reserve);
    CHECK_THAT(run.mid_charge, WithinAbs(0.6, 1e-3));
    const Moment& half = half_way_moment(p, run.march);
    CHECK_THAT(run.middle.i_pack, WithinRel(half.i_pack, 0.01));
    CHECK_THAT(run.middle.i_motor, WithinRel(half.i_motor, 0.01));
    CHECK(run.middle.cycle.i_m_max > run.middle.cycle.i_m_min);  // its extremes are known
    // The board settles where the march is going, beyond its end.
    CHECK(run.steady.heat.board > run.march.moments.back().heat.board);
    const HoldRun whole = run_hold(p, {{.throttle = 0.7}, 100, 25});
    CHECK_THAT(whole.march.seconds, WithinRel(100, 1e-9));
    CHECK(whole.mid_charge > 0.85);
    // Coarse steps are within 0.3 K (mission.hpp).
    CHECK_THAT(fly_hold(p, {{.throttle = 0.7}, {}, 25}, Steps::drawn).peak_board,
               WithinAbs(run.march.peak_board, 0.3));
    CHECK(4 * fly_hold(p, {{.throttle = 0.7}, {}, 25}, Steps::drawn).moments.size() <
          3 * run.march.moments.size());
    CHECK(fly_hold(p, {{.throttle = 0.7}, {}, 25}).peak_board == run.march.peak_board);
    // A pack that warms by much is as stiff half way as it is between its two ends.
    Setup weak = six_cell_drive();
    weak.pack.cell_resistance_mOhm = 4;
    weak.load.full_throttle_A = 80;
    const Plant soft = median_plant(weak);
    const HoldRun sagging = run_hold(soft, {{.throttle = 1}, {}, 25});
    const double end_C = sagging.march.moments.back().pack_C;
    REQUIRE(end_C > 45);
    const Operating& o = sagging.middle;
    const Source mean = source_at(soft, sagging.mid_charge, 25 + 0.5 * (end_C - 25), 60, 60);
    CHECK_THAT(mean.Voc - mean.R_src * o.i_pack, WithinRel(o.v_link, 1e-3));
    const Source warmer = source_at(soft, sagging.mid_charge, 25 + 0.6 * (end_C - 25), 60, 60);
    CHECK(warmer.Voc - warmer.R_src * o.i_pack > 1.001 * o.v_link);
    // A map that failed makes no answer of it.
    Plant broken = p;
    broken.u.motor_resistance = std::numeric_limits<double>::quiet_NaN();
    CHECK_FALSE(run_hold(broken, {{.throttle = 0.7}, 1, 25}).ok);
}

TEST_CASE("hold: a limit passed and left again between two moments is passed at the hottest") {
    March m;
    for (const auto& [t, board_C] : {std::pair{0.0, 90.0}, {4.0, 95.0}, {8.0, 94.0}}) {
        Moment now;
        now.t = t;
        now.heat.board = board_C;
        m.moments.push_back(now);
    }
    m.peak_board = 96.5;  // half way through a step
    CHECK(seconds_to(m, 96) == 4);
    CHECK(seconds_to(m, 96.5) == 4);
    CHECK_FALSE(seconds_to(m, 97));
    CHECK_THAT(*seconds_to(m, 92.5), WithinAbs(2, 1e-12));
}
