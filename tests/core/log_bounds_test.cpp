// Where a log's bounds lie: which figures and times are sound, and what is still one steady hold.
// Each bound from both sides, with rows made by hand.
#include <cmath>
#include <limits>
#include <vector>

#include "learn/clean_log.hpp"
#include "learn/steady_holds.hpp"
#include "near.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

/// `rows` rows of 50 %, 30 A, 22 V, 45 deg C and 9000 rpm, `row_s` apart.
Log plain_log(size_t rows, double row_s = 1) {
    Log log;
    for (size_t i = 0; i < rows; ++i) {
        log.time_s.push_back(row_s * static_cast<double>(i));
    }
    log.throttle_pct.assign(rows, 50);
    log.current_A.assign(rows, 30);
    log.voltage_V.assign(rows, 22);
    log.esc_C.assign(rows, 45);
    log.rpm.assign(rows, 9000);
    return log;
}

/// A log of these times, with a throttle alone.
Log log_at(const std::vector<double>& times) {
    Log log;
    log.time_s = times;
    log.throttle_pct.assign(times.size(), 50);
    return log;
}

std::vector<double> times(size_t count, double step, double from = 0) {
    std::vector<double> out;
    for (size_t i = 0; i < count; ++i) {
        out.push_back(from + step * static_cast<double>(i));
    }
    return out;
}

void append(std::vector<double>& to, const std::vector<double>& more) {
    to.insert(to.end(), more.begin(), more.end());
}

/// The rows that are left out for their times alone.
std::vector<size_t> jumps_in(const CleanLog& log) {
    if (log.damaged.empty()) {
        return {};
    }
    REQUIRE(log.damaged.size() == 1);
    CHECK(log.damaged[0].reason == Damage::time_jumps);
    return log.damaged[0].first_rows;
}

std::vector<LoggedHold> holds_of(const Log& log) { return find_holds(clean_log(log)); }

using Rows = std::vector<size_t>;

}  // namespace

TEST_CASE("log bounds: stick ends, large drives and winter are sound", "[log]") {
    Log log = plain_log(60);
    log.throttle_pct.assign(60, 103);
    log.current_A.assign(60, 250);
    log.voltage_V.assign(60, 50.4);
    log.esc_C.assign(60, -8);
    const CleanLog clean = clean_log(log);
    CHECK(clean.damaged.empty());
    REQUIRE(clean.samples.size() == 60);
    CHECK(clean.samples[30].throttle_pct == 100);
    CHECK(clean.samples[30].current_A == 250);
    CHECK(clean.samples[30].voltage_V == 50.4);
    CHECK(clean.samples[30].esc_C == -8);
    const std::vector<LoggedHold> holds = find_holds(clean);
    REQUIRE(holds.size() == 1);
    CHECK(holds[0].row.throttle_pct == 100);
    log.throttle_pct.assign(60, -3);
    CHECK(clean_log(log).damaged.empty());
    CHECK(clean_log(log).samples[30].throttle_pct == 0);
}

TEST_CASE("log bounds: a figure is left out beyond the bound that its reason names", "[log]") {
    struct Bound {
        std::vector<double> Log::*column;
        double LogSample::*member;
        Damage reason;
        double sound, broken;
    };
    using L = Log;
    using S = LogSample;
    const Bound bounds[] = {
        // "far outside": 30 % of the stick beyond its ends
        {&L::throttle_pct, &S::throttle_pct, Damage::throttle_off, -30, -30.1},
        {&L::throttle_pct, &S::throttle_pct, Damage::throttle_off, 130, 130.1},
        {&L::current_A, &S::current_A, Damage::current_off, -50, -50.1},
        {&L::current_A, &S::current_A, Damage::current_off, 3000, 3000.1},
        {&L::voltage_V, &S::voltage_V, Damage::voltage_off, 0, -0.1},
        {&L::voltage_V, &S::voltage_V, Damage::voltage_off, 200, 200.1},
        {&L::esc_C, &S::esc_C, Damage::esc_off, -50, -50.1},
        {&L::esc_C, &S::esc_C, Damage::esc_off, 200, 200.1},
        {&L::rpm, &S::rpm, Damage::speed_off, 0, -1},
        {&L::rpm, &S::rpm, Damage::speed_off, 400000, 400001},
    };
    for (const Bound& b : bounds) {
        CAPTURE(b.sound);
        Log log = plain_log(30);
        (log.*b.column).assign(30, b.sound);
        const CleanLog sound = clean_log(log);
        CHECK(sound.damaged.empty());
        CHECK_FALSE(std::isnan(sound.samples[7].*b.member));
        (log.*b.column).assign(30, b.broken);
        const CleanLog broken = clean_log(log);
        REQUIRE(broken.damaged.size() == 1);
        CHECK(broken.damaged[0].reason == b.reason);
        CHECK(broken.damaged[0].count == 30);
        CHECK(std::isnan(broken.samples[7].*b.member));
        CHECK(broken.used == 30);
    }
}

TEST_CASE("log bounds: a last row with an early time is a broken one, not a session", "[log]") {
    std::vector<double> at = times(60, 1);
    at.push_back(5);
    const CleanLog clean = clean_log(log_at(at));
    CHECK(jumps_in(clean) == Rows{60});
    CHECK(clean.sessions.size() == 1);
    // with a row that follows it, it is one
    at.push_back(6);
    CHECK(clean_log(log_at(at)).sessions.size() == 2);
}

TEST_CASE("log bounds: a time a minute or fifty rows ahead is doubted", "[log]") {
    struct Case {
        double row_s, pause_s, ahead_s;
    };
    for (const Case& c : {Case{0.5, 58, 68}, Case{2, 98, 110}}) {
        CAPTURE(c.row_s);
        // One row ahead of its time, the clock before it goes on: the row is broken.
        std::vector<double> at = times(100, c.row_s);
        at[50] = at[49] + c.ahead_s;
        const CleanLog strayed = clean_log(log_at(at));
        CHECK(jumps_in(strayed) == Rows{50});
        CHECK(strayed.sessions.size() == 1);
        // A time that is no one's, and a pause behind it that is none too long for the same clock.
        at = times(50, c.row_s);
        const double resumes = at.back() + c.pause_s;
        at.push_back(1e6);
        append(at, times(50, c.row_s, resumes));
        const CleanLog paused = clean_log(log_at(at));
        CHECK(jumps_in(paused) == Rows{50});
        CHECK(paused.sessions.size() == 1);
        // Rows that stay ahead are a pause, however long.
        at = times(50, c.row_s);
        append(at, times(50, c.row_s, at.back() + 2000));
        const CleanLog later = clean_log(log_at(at));
        CHECK(later.damaged.empty());
        CHECK(later.sessions.size() == 1);
    }
}

TEST_CASE("log bounds: two rows before the clock starts anew are strays, three are a session",
          "[log]") {
    const auto begun_with = [](size_t rows) {
        std::vector<double> at = times(rows, 1, 1e6);
        append(at, times(60, 1));
        return clean_log(log_at(at));
    };
    const CleanLog two = begun_with(2);
    CHECK(jumps_in(two) == Rows{0, 1});
    CHECK(two.sessions.size() == 1);
    for (const size_t rows : {3, 4}) {
        const CleanLog more = begun_with(rows);
        CHECK(more.damaged.empty());
        REQUIRE(more.sessions.size() == 2);
        CHECK(more.sessions[0].last == rows);
    }
}

TEST_CASE("log bounds: a row or two ahead of the clock by less are strays as well, three are not",
          "[log]") {
    const auto with_ahead = [](size_t rows, double by_s) {
        std::vector<double> at = times(100, 1);
        for (size_t i = 50; i < 50 + rows; ++i) {
            at[i] += by_s;
        }
        return clean_log(log_at(at));
    };
    for (const double by_s : {4.0, 30.0, 58.0}) {
        CAPTURE(by_s);
        CHECK(jumps_in(with_ahead(1, by_s)) == Rows{50});
        CHECK(with_ahead(1, by_s).sessions.size() == 1);
        const CleanLog two = with_ahead(2, by_s);
        CHECK(jumps_in(two) == Rows{50, 51});
        CHECK(two.sessions.size() == 1);
        CHECK(two.used == 98);
    }
    CHECK(with_ahead(3, 30).sessions.size() == 2);
    // as many ahead as behind: what was kept stays
    CHECK(jumps_in(with_ahead(2, 3)) == Rows{52, 53});
    // a second session is told by its own rows
    std::vector<double> at = times(60, 1);
    append(at, times(60, 1));
    at[90] += 20;
    const CleanLog anew = clean_log(log_at(at));
    CHECK(jumps_in(anew) == Rows{90});
    CHECK(anew.sessions.size() == 2);
}

TEST_CASE("log bounds: a row whose time is left out is named for that alone", "[log]") {
    Log log = plain_log(100, 0.1);
    log.time_s[52] = 9;
    log.esc_C[52] = 150;
    log.esc_C[53] = 150;
    const CleanLog clean = clean_log(log);
    REQUIRE(clean.damaged.size() == 2);
    CHECK(clean.damaged[0].reason == Damage::time_jumps);
    CHECK(clean.damaged[0].first_rows == Rows{52});
    CHECK(clean.damaged[1].reason == Damage::esc_spike);
    CHECK(clean.damaged[1].first_rows == Rows{53});
}

TEST_CASE("log bounds: the time from row to row is the usual one, not the least", "[log]") {
    std::vector<double> at = {0};
    for (int i = 1; i < 100; ++i) {
        at.push_back(at.back() + (i % 5 == 0 ? 0.1 : 1));
    }
    CHECK_THAT(clean_log(log_at(at)).row_s, WithinRel(1, 1e-9));
}

TEST_CASE("log bounds: a hold begins at the temperature around its first moment", "[log]") {
    // The motor stands for 8 s, the board falls by 2 K a second to 44 deg C and stays there.
    Log log = plain_log(48);
    for (size_t i = 0; i < 48; ++i) {
        log.throttle_pct[i] = i < 8 ? 0 : 50;
        log.esc_C[i] = i < 8 ? 60 - 2.0 * static_cast<double>(i) : 44;
    }
    const std::vector<LoggedHold> holds = holds_of(log);
    REQUIRE(holds.size() == 1);
    CHECK(holds[0].first_row == 8);
    // (D) of 50, 48 and 46 within 3 s before, 44 at once and twice within 2 s: half way from 44 to
    // 46
    CHECK(*holds[0].row.start_C == 45);
}

TEST_CASE("log bounds: four readings of five make a mean and a peak", "[log]") {
    for (const size_t missing : {20u, 21u}) {
        Log log = plain_log(100);
        for (size_t k = 0; k < missing; ++k) {
            log.esc_C[10 + 4 * k] = none;
        }
        const std::vector<LoggedHold> holds = holds_of(log);
        REQUIRE(holds.size() == 1);
        const MeasuredRow& row = holds[0].row;
        CHECK(row.esc_mean_C.has_value() == (missing == 20));
        CHECK(row.esc_peak_C.has_value() == (missing == 20));
        CHECK(row.start_C.has_value() == (missing == 20));
        CHECK(row.trace.empty() == (missing != 20));
        CHECK(*row.pack_A == 30);
    }
}

TEST_CASE("log bounds: a break of three seconds or five rows ends a hold", "[log]") {
    struct Case {
        double row_s, short_s, long_s;
    };
    for (const Case& c : {Case{0.2, 2.9, 3.1}, Case{1, 4.9, 5.1}, Case{2, 9.9, 10.1}}) {
        CAPTURE(c.row_s);
        const auto holds_with = [&](double break_s) {
            const auto rows = static_cast<size_t>(std::lround(30 / c.row_s)) + 1;
            Log log = plain_log(2 * rows, c.row_s);
            for (size_t i = rows; i < 2 * rows; ++i) {
                log.time_s[i] += break_s - c.row_s;
            }
            return holds_of(log).size();
        };
        CHECK(holds_with(c.short_s) == 1);
        CHECK(holds_with(c.long_s) == 2);
    }
}

TEST_CASE("log bounds: a hold stays within 2 % of throttle, or 6 % or 1 A of current", "[log]") {
    // Ten rows at each of a level, above it, below it and at it again: one hold of all, or none.
    const auto holds_at = [](double level, double sway, bool by_current) {
        Log log = plain_log(40);
        std::vector<double>& column = by_current ? log.current_A : log.throttle_pct;
        for (size_t i = 0; i < 40; ++i) {
            const double off[] = {0, sway, -sway, 0};
            column[i] = level + off[i / 10];
        }
        if (by_current) {
            log.throttle_pct.clear();
        }
        return holds_of(log).size();
    };
    CHECK(holds_at(50, 1.9, false) == 1);
    CHECK(holds_at(50, 2.1, false) == 0);
    CHECK(holds_at(10, 0.95, true) == 1);
    CHECK(holds_at(10, 1.05, true) == 0);
    CHECK(holds_at(100, 5.9, true) == 1);
    CHECK(holds_at(100, 6.1, true) == 0);
}

TEST_CASE("log bounds: the way to the level and from it is not of the hold", "[log]") {
    // 46.5 % for 5 s, a minute of 50 %, 46.5 % again: 3.5 % from least to most, but 3.5 from the
    // middle.
    Log log = plain_log(70);
    for (const size_t from : {0u, 65u}) {
        for (size_t i = from; i < from + 5; ++i) {
            log.throttle_pct[i] = 46.5;
        }
    }
    const std::vector<LoggedHold> holds = holds_of(log);
    REQUIRE(holds.size() == 1);
    CHECK(holds[0].first_row == 5);
    CHECK(holds[0].last_row == 64);
    CHECK(holds[0].row.throttle_pct == 50);
    // what is within 2 % of it is
    for (double& throttle : log.throttle_pct) {
        throttle = throttle < 50 ? 48.1 : throttle;
    }
    CHECK(holds_of(log)[0].first_row == 0);
    CHECK(holds_of(log)[0].last_row == 69);
}

TEST_CASE("log bounds: a throttle of five per cent is the least that is held", "[log]") {
    for (const double throttle : {4.9, 5.1, 25.0}) {
        CAPTURE(throttle);
        Log log = plain_log(40);
        log.throttle_pct.assign(40, throttle);
        const std::vector<LoggedHold> holds = holds_of(log);
        REQUIRE(holds.size() == (throttle > 5 ? 1 : 0));
        if (!holds.empty()) {
            CHECK(holds[0].throttle_told);
            CHECK_THAT(holds[0].row.throttle_pct, WithinRel(throttle, 1e-12));
        }
    }
}

TEST_CASE("log bounds: the points of a trace lie on the rise that was logged", "[log]") {
    // 0.1 K a second from 30 deg C, ten rows a second, the clock begun at 500 s.
    Log log = plain_log(701, 0.1);
    for (size_t i = 0; i < log.time_s.size(); ++i) {
        log.esc_C[i] = 30 + 0.1 * log.time_s[i];
        log.time_s[i] += 500;
    }
    const std::vector<LoggedHold> holds = holds_of(log);
    REQUIRE(holds.size() == 1);
    CHECK(holds[0].row.trace.size() == 40);
    for (const auto& [t, celsius] : holds[0].row.trace) {
        CHECK_THAT(celsius, WithinAbs(30 + 0.1 * t, 1e-9));
    }
}

TEST_CASE("log bounds: a twentieth at each end does not move a hold's current", "[log]") {
    const auto current_with = [](size_t strays) {
        Log log = plain_log(100);
        log.current_A.assign(100, 25);
        for (size_t k = 0; k < strays; ++k) {
            log.current_A[10 + 12 * k] = 60;
        }
        const std::vector<LoggedHold> holds = holds_of(log);
        REQUIRE(holds.size() == 1);
        return *holds[0].row.pack_A;
    };
    CHECK(current_with(4) == 25);
    CHECK(current_with(5) == 25);
    // (D) one of the ninety in the middle is at 60 A
    CHECK_THAT(current_with(6), WithinRel((89 * 25.0 + 60) / 90, 1e-12));
}
