// Is the prediction beside a log the one for that log? Logs are flown here by the march itself, so
// that the history has to give them back, and what it says of them is known to the digit.
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "drives.hpp"
#include "learn/belief.hpp"
#include "learn/history.hpp"
#include "near.hpp"
#include "report/log_answer.hpp"
#include "setup/json.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

// K; the same march in the same legs, but for where the off legs and the summing of times differ
constexpr double same_K = 1e-3;

/// 90 A at full throttle from six cells of 5000 mAh.
Setup logged_drive() {
    Setup s = holding(at_rating(100, 6), 60);
    s.pack.capacity_mAh = 5000;
    s.esc.pwm_Hz = 16000;
    s.motor.kv_rpm_per_V = 500;
    s.load.full_throttle_A = 90;
    return s;
}

Plant middle_of(const Setup& s) { return middle_plant(s, prior_belief(s)); }

struct Stick {
    double throttle, seconds;
};

/// The sticks flown one after the other, down to an empty pack.
March flown(Plant plant, const std::vector<Stick>& sticks, const MarchStart& start) {
    plant.pack.reserve = 0.01;
    plant.pack.sag_floor_V = 0;
    std::vector<DemandMap> maps;
    std::vector<Leg> legs;
    double total = 0;
    maps.reserve(sticks.size());
    for (const Stick& s : sticks) {
        maps.push_back(map_demand(plant, {.throttle = s.throttle}));
    }
    for (size_t i = 0; i < sticks.size(); ++i) {
        legs.push_back({&maps[i], sticks[i].seconds, nullptr});
        total += sticks[i].seconds;
    }
    return march(plant, legs, start, total);
}

MarchStart fresh(const Plant& p, double esc_C = 25) {
    return {esc_C, p.pack.start, p.pack.start_C};
}

void add_row(Log& log, double t, double throttle_pct, double esc_C, double voltage_V = none) {
    log.time_s.push_back(t);
    log.throttle_pct.push_back(throttle_pct);
    log.voltage_V.push_back(voltage_V);
    log.esc_C.push_back(esc_C);
}

/// A row each second from `from_s` of the log's clock on. The second and the third temperature are
/// missing: so the first alone tells where the march begins.
void add_rows(Log& log, double from_s, const std::vector<Stick>& sticks, const March& m) {
    size_t k = 0;
    double until = sticks[0].seconds;
    const auto last = static_cast<size_t>(std::floor(m.seconds + 1e-9));
    for (size_t i = 0; i <= last; ++i) {
        const auto into = static_cast<double>(i);
        while (into >= until && k + 1 < sticks.size()) {
            until += sticks[++k].seconds;
        }
        const bool hidden = i == 1 || i == 2;
        add_row(log, from_s + into, 100 * sticks[k].throttle,
                hidden ? none : heat_at(m, into).board);
    }
}

/// The sticks flown from `start`, as a log.
Log log_of(const Plant& p, const std::vector<Stick>& sticks, const MarchStart& start,
           double from_s = 0) {
    Log log;
    add_rows(log, from_s, sticks, flown(p, sticks, start));
    return log;
}

History history_of(const Plant& p, const Log& log) { return check_history(p, clean_log(log)); }

/// A constant throttle and current, with a temperature that stands still: what counts is how long.
Log steady_log(double throttle_pct, double current_A, int seconds, double esc_C = 50) {
    Log log;
    for (int i = 0; i <= seconds; ++i) {
        add_row(log, i, throttle_pct, esc_C);
        if (current_A > 0) {
            log.current_A.push_back(current_A);
        }
    }
    return log;
}

std::string text_of(const Log& log, const Setup& setup) {
    Problems problems;
    const auto answer = parse_json(log_answer(log, setup, {}), problems);
    REQUIRE(answer);
    const Json* text = find(*answer, "history.text");
    REQUIRE(text != nullptr);
    return *text->as<std::string>();
}

bool says(const std::string& text, const std::string& what) {
    return text.find(what) != std::string::npos;
}

}  // namespace

TEST_CASE(
    "log history: a hot start, a motor that stands and a lost throttle are flown as they were",
    "[log]") {
    const Plant plant = middle_of(logged_drive());
    SECTION("begun at 60 deg C") {
        const History h = history_of(plant, log_of(plant, {{0.6, 120}}, fresh(plant, 60)));
        CHECK(h.samples == 119);
        CHECK(h.seconds == 120);
        CHECK(h.rms_K < same_K);
    }
    SECTION("the electronics warm an ESC whose motor stands") {
        const History h =
            history_of(plant, log_of(plant, {{0.8, 60}, {0, 200}, {0.6, 60}}, fresh(plant)));
        CHECK(h.end == HistoryEnd::whole);
        CHECK(h.rms_K < 0.2);  // K; standing, the gates are driven too
    }
    SECTION("where no throttle was logged the last one goes on") {
        Log log = log_of(plant, {{0.8, 90}}, fresh(plant));
        for (size_t i = 40; i < 60; ++i) {
            log.throttle_pct[i] = none;
        }
        const History h = history_of(plant, log);
        CHECK(h.samples == 89);
        CHECK(h.rms_K < same_K);
    }
    SECTION("the temperature to begin with is that of the first two seconds") {
        // three readings about 30 deg C, then 5 K over the march that begins there
        const std::vector<Stick> sticks = {{0.6, 60}};
        const double first[] = {33, 27, 30};
        Log log = log_of(plant, sticks, fresh(plant, 30));
        for (size_t i = 0; i < log.esc_C.size(); ++i) {
            log.esc_C[i] = i < 3 ? first[i] : log.esc_C[i] + 5;
        }
        const History h = history_of(plant, log);
        CHECK_THAT(h.series[20].predicted_C - h.series[20].logged_C, WithinAbs(-5, same_K));
    }
}

TEST_CASE("log history: twenty seconds are the least that is compared", "[log]") {
    const Plant plant = middle_of(logged_drive());
    CHECK(history_of(plant, log_of(plant, {{0.6, 19}}, fresh(plant))).samples == 0);
    CHECK(history_of(plant, log_of(plant, {{0.6, 20}}, fresh(plant))).samples == 19);
    CHECK(history_of(plant, log_of(plant, {{0.6, 25}}, fresh(plant))).seconds == 25);
}

TEST_CASE("log history: over a gap the pack's charge and warmth are kept", "[log]") {
    const Plant plant = middle_of(logged_drive());
    const std::vector<Stick> before = {{0.8, 150}};
    const std::vector<Stick> after = {{0.8, 60}};
    const March one = flown(plant, before, fresh(plant));
    const Moment& left = one.moments.back();
    REQUIRE(left.charge < 0.8);
    REQUIRE(left.pack_C > plant.pack.start_C + 3);
    // begun again at 45 deg C, whatever the gap did to the ESC
    const March two = flown(plant, after, {45, left.charge, left.pack_C});
    Log log;
    add_rows(log, 0, before, one);
    add_rows(log, 190, after, two);
    const History h = history_of(plant, log);
    CHECK(h.seconds == 210);
    CHECK(h.rms_K < same_K);
}

TEST_CASE("log history: a gap of ten seconds is flown through, a longer one is not", "[log]") {
    const Plant plant = middle_of(logged_drive());
    const auto seconds_with = [&](double gap_s) {
        Log log = steady_log(60, 0, 40);
        for (int i = 0; i <= 40; ++i) {
            add_row(log, 40 + gap_s + i, 60, 50);
        }
        return history_of(plant, log).seconds;
    };
    CHECK(seconds_with(9.5) == 89.5);
    CHECK(seconds_with(10.5) == 80);
}

TEST_CASE("log history: the cells' voltage at rest tells the charge that a session begins with",
          "[log]") {
    Setup setup = logged_drive();
    setup.pack.start_pct = 80;
    const Plant plant = middle_of(setup);
    const auto cell_V = [&](double charge) { return plant.pack.cells->open_circuit_V.at(charge); };
    const std::vector<Stick> sticks = {{0.8, 90}};
    // Two seconds before the flight, without a temperature; then the flight from `charge`.
    const auto rms = [&](double charge, double throttle_pct, double V) {
        Log log;
        add_row(log, 0, throttle_pct, none, V);
        add_row(log, 1, throttle_pct, none, V);
        add_rows(log, 2, sticks, flown(plant, sticks, {25, charge, plant.pack.start_C}));
        const History h = history_of(plant, log);
        CHECK(h.samples == 89);
        return h.rms_K;
    };
    CHECK(rms(0.4, 0, 6 * cell_V(0.4)) < same_K);
    CHECK(rms(0.9, 0, 6 * cell_V(0.9)) < same_K);
    CHECK(rms(0.8, 0, none) < same_K);  // nothing read: as told
    // a motor that turns makes the cells sag: no rest
    CHECK(rms(0.8, 4, 6 * cell_V(0.4)) < same_K);
    CHECK(rms(0.4, 2, 6 * cell_V(0.4)) < same_K);
    // a meter may be 0.05 V a cell off; further than that above a full cell it is of other cells
    CHECK(rms(1, 0, 6 * (cell_V(1) + 0.04)) < same_K);
    CHECK(rms(0.8, 0, 6 * (cell_V(1) + 0.06)) < same_K);
    CHECK(rms(0.8, 0, 6 * (cell_V(0) - 0.01)) < same_K);
    // and a charge that is not the flown one is noticed
    CHECK(rms(0.8, 0, 6 * cell_V(0.4)) > 1);
}

TEST_CASE("log history: at rest is what all motors together do not draw", "[log]") {
    // Each ESC draws some 0.04 A of its own, and 0.3 A more count as no turning motor: two, 0.7 A.
    Setup setup = logged_drive();
    setup.motor.count = 2;
    const Plant plant = middle_of(setup);
    const auto seconds_after = [&](double rest_A) {
        Log log;
        const double V = 6 * plant.pack.cells->open_circuit_V.at(0.4);
        for (int i = 0; i < 700; ++i) {
            add_row(log, i, none, i < 2 ? none : 50, V);
            log.current_A.push_back(i < 2 ? rest_A : 30);
        }
        return history_of(plant, log).seconds;
    };
    // (D) 39 % or 99 % of 5 Ah at 30 A, in steps of 4 %
    CHECK_THAT(seconds_after(0.5), WithinRel(234, 0.03));
    CHECK_THAT(seconds_after(1.2), WithinRel(594, 0.03));
}

TEST_CASE("log history: nothing is compared or counted beyond the empty pack", "[log]") {
    // (D) 99 % of 5 Ah at 30 A: 594 s. Currents are flown in steps of 4 %, 30 A as 29.96.
    constexpr double end_s = 0.99 * 5 * 3600 / 30;
    Setup setup = logged_drive();
    const auto check = [&](double tolerance_s) {
        const History h = history_of(middle_of(setup), steady_log(60, 30, 700));
        CHECK(h.end == HistoryEnd::empty);
        CHECK_THAT(h.seconds, WithinAbs(end_s, tolerance_s));
        CHECK_THAT(static_cast<double>(h.samples), WithinAbs(h.seconds, 1));
        CHECK(h.series.back().t_s <= h.seconds);
    };
    SECTION("whatever reserve is told") {
        setup.pack.reserve_pct = 40;
        check(3);
    }
    SECTION("and whatever sag is told to end a flight") {
        setup.pack.cell_resistance_mOhm = 8;
        setup.pack.sag_floor_V = 3.6;
        check(20);  // the demand is found at steps of a fifth of the charge: cells sag between
    }
}

TEST_CASE("log history: stretches behind a gap that the empty pack does not fly are said",
          "[log]") {
    // (D) 30 A for 300 s are half of 5 Ah; a second such stretch behind a gap of 60 s is the other
    const Setup setup = logged_drive();
    const auto ends_at = [&](double mAh) {
        Setup s = setup;
        s.pack.capacity_mAh = mAh;
        Log log = steady_log(60, 30, 300);
        const Log then = steady_log(60, 30, 300);
        for (size_t i = 0; i < then.time_s.size(); ++i) {
            add_row(log, 360 + then.time_s[i], then.throttle_pct[i], then.esc_C[i]);
            log.current_A.push_back(then.current_A[i]);
        }
        return history_of(middle_of(s), log).end;
    };
    CHECK(ends_at(6000) == HistoryEnd::whole);
    CHECK(ends_at(2546) == HistoryEnd::empty);  // less than 2 % are left: the second is not flown
    CHECK(ends_at(2300) == HistoryEnd::empty);
}

TEST_CASE("log history: how far the prediction is off is said to a tenth of a kelvin", "[log]") {
    const Setup setup = logged_drive();
    const Plant plant = middle_of(setup);
    const std::vector<Stick> sticks = {{0.6, 300}};
    // The first reading is the march's own, the next two are missing: 298 are off by `off_K`.
    const auto log_off = [&](double off_K, double from_s = 0) {
        Log log = log_of(plant, sticks, fresh(plant), from_s);
        for (size_t i = 1; i < log.esc_C.size(); ++i) {
            log.esc_C[i] -= off_K;
        }
        return log;
    };
    const auto same_but_first = [&](double mean_K) { return log_off(mean_K * 299 / 298); };
    SECTION("too cool, and furthest where the log is hottest") {
        Log log = log_off(-5);
        log.esc_C[200] += 2;
        CHECK(text_of(log, setup) ==
              "Over 5:00 min the prediction is 5.0 K off (root mean square), 5.0 K too cool on "
              "average; furthest at 3:20 min, 7.0 K too cool.");
        const History h = history_of(plant, log);
        CHECK_THAT(h.mean_K, WithinAbs(-(298 * 5.0 + 2) / 299, same_K));
        CHECK_THAT(h.rms_K, WithinAbs(std::sqrt((297 * 25.0 + 49) / 299), same_K));
        CHECK_THAT(h.worst_K, WithinAbs(-7, same_K));
        CHECK(h.worst_t_s == 200);
    }
    SECTION("too hot; and the furthest to the other side") {
        Log log = log_off(3);
        log.esc_C[100] += 9;
        CHECK(text_of(log, setup) ==
              "Over 5:00 min the prediction is 3.0 K off (root mean square), 3.0 K too hot on "
              "average; furthest at 1:40 min, 6.0 K too cool.");
    }
    SECTION("less than half a kelvin on average is not said") {
        CHECK_FALSE(says(text_of(same_but_first(0.49), setup), "on average"));
        CHECK(says(text_of(same_but_first(0.51), setup), ", 0.5 K too hot on average;"));
        CHECK_FALSE(says(text_of(same_but_first(-0.49), setup), "on average"));
        CHECK(says(text_of(same_but_first(-0.51), setup), ", 0.5 K too cool on average;"));
    }
    SECTION("times are the session's, whatever the clock began with") {
        Log log = log_off(5, 36000);
        log.esc_C[200] -= 2;
        CHECK(says(text_of(log, setup), "; furthest at 3:20 min, 7.0 K too hot."));
        CHECK(history_of(plant, log).worst_t_s == 36200);
    }
    SECTION("of several sessions the one that is furthest off is named") {
        Log log = log_off(1);
        CHECK_FALSE(says(text_of(log, setup), "session"));
        Log next = log_off(8);
        next.esc_C[50] -= 1;
        for (size_t i = 0; i < next.time_s.size(); ++i) {
            add_row(log, next.time_s[i], next.throttle_pct[i], next.esc_C[i]);
        }
        CHECK(says(text_of(log, setup), "; furthest at 0:50 min of session 2, 9.0 K too hot."));
        CHECK(history_of(plant, log).worst_session == 1);
    }
}

TEST_CASE("log history: where it ends before the log does is said", "[log]") {
    const std::string empty = " It ends where the pack as entered would be empty.";
    const std::string runaway = " It ends where the prediction runs away.";
    const auto ends_with = [](const std::string& text, const std::string& end) {
        return text.size() > end.size() && text.substr(text.size() - end.size()) == end;
    };
    const Setup setup = logged_drive();
    SECTION("the whole log: nothing") {
        CHECK(text_of(steady_log(60, 30, 300), setup).find("It ends") == std::string::npos);
    }
    SECTION("an empty pack") { CHECK(ends_with(text_of(steady_log(60, 30, 700), setup), empty)); }
    SECTION("a runaway") {
        const Setup closed = overloaded_in_a_bay(40);
        const Log log = steady_log(85, 0, 900, 90);
        CHECK(history_of(middle_of(closed), log).end == HistoryEnd::runaway);
        CHECK(ends_with(text_of(log, closed), runaway));
    }
    SECTION("a plant without an operating point is no prediction") {
        Plant broken = middle_of(setup);
        broken.u.motor_inductance = none;
        const History h = history_of(broken, steady_log(60, 0, 60));
        CHECK(h.end == HistoryEnd::unsolved);
        CHECK(h.samples == 0);
    }
}
