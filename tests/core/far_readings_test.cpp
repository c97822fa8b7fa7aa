// Readings far from all estimates: the forecast follows them, and its range says how far they are.
#include <Eigen/Dense>
#include <cmath>

#include "advice.hpp"
#include "advise/advise.hpp"
#include "drives.hpp"
#include "learn/calibrate.hpp"
#include "learn/fit.hpp"
#include "learn/freewheel_kinds.hpp"
#include "learn/sampling.hpp"
#include "near.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

MeasuredRow bench_row(double throttle_pct, double peak_C) {
    MeasuredRow row;
    row.throttle_pct = throttle_pct;
    row.hold_s = 120;
    row.esc_peak_C = peak_C;
    return row;
}

MeasuredRow flight_row(double after_C) {
    MeasuredRow row;
    row.kind = RowKind::flight;
    row.esc_after_C = after_C;
    return row;
}

// Whether the middle and the hot end rise with each reading, and what was read is what is believed
// of it.
void check_follows(const Setup& drive, const std::vector<MeasuredRow>& hotter_and_hotter) {
    constexpr double noise_K = 0.6;  // of 64 draws moved by another fit
    constexpr double believed_K = 6;
    Band last;
    for (const MeasuredRow& row : hotter_and_hotter) {
        Setup s = drive;
        s.measured = {row};
        const Report r = advise(s, {.samples = 64});
        const double read_C = row.esc_peak_C.value_or(row.esc_after_C.value_or(0));
        CAPTURE(read_C);
        CHECK(r.learned.misfit.empty());
        CHECK(r.learned.widened == 1);
        CHECK(r.esc.peak_C.p50 > last.p50 - noise_K);
        CHECK(r.esc.peak_C.p90.value_or(1e9) > last.p90.value_or(0) - noise_K);
        const Calibration c = calibrate(s);
        REQUIRE(c.predicted.size() == 1);
        CHECK_THAT(c.predicted[0], WithinAbs(read_C, believed_K));
        last = r.esc.peak_C;
    }
}

Setup flown_hard() {
    Setup s;
    s.pack.cells = 4;
    s.pack.capacity_mAh = 3300;
    s.esc.rating_A = 50;
    s.esc.pwm_Hz = 16000;
    s.load.full_throttle_A = 40;
    s.flight.parts = {part_of(65, 60), part_of(100, 5)};
    s.flight.parts[0].flight_speed_mps = 15;
    s.flight.parts[1].flight_speed_mps = 20;
    return s;
}

}  // namespace

TEST_CASE("far readings: one that is hotter never makes the forecast cooler") {
    Setup s = holding(six_cell_drive(), 60);
    std::vector<MeasuredRow> rows;
    for (double read_C = 40; read_C <= 110; read_C += 10) {
        rows.push_back(bench_row(60, read_C));
    }
    check_follows(s, rows);
    for (MeasuredRow& row : rows) {
        row.pack_A = 25;
    }
    check_follows(s, rows);
    rows.clear();
    // two kelvin apart, past where the peak goes from one moment of the flight to another
    for (double read_C = 96; read_C <= 112; read_C += 2) {
        rows.push_back(flight_row(read_C));
    }
    check_follows(flown_hard(), rows);
}

TEST_CASE("far readings: three that agree with each other are believed against the estimates") {
    Setup s = holding(six_cell_drive(), 70);
    const Report before = advise(s, {.samples = 64});
    for (const HoldReport& h : before.holds) {
        const bool asked = h.throttle_pct == 50 || h.throttle_pct == 70 || h.throttle_pct == 100;
        if (asked) {
            s.measured.push_back(bench_row(h.throttle_pct, h.hold_peak_C.p50 + 40));
        }
    }
    REQUIRE(s.measured.size() == 3);
    const Report r = advise(s, {.samples = 64});
    CHECK(r.learned.apart > 1.2);
    CHECK(r.learned.misfit.empty());
    CHECK(has(r.learned.text, "further from the estimates than these allow"));
    for (size_t i = 0; i < 3; ++i) {
        CHECK_THAT(r.learned.fit[i].hold_peak_C, WithinAbs(*s.measured[i].esc_peak_C, 8));
    }
    CHECK(r.esc.peak_C.p50 > before.esc.peak_C.p50 + 30);
    CHECK(r.esc.peak_C.p90.value_or(1e9) - *r.esc.peak_C.p10 >
          *before.esc.peak_C.p90 - *before.esc.peak_C.p10);
}

TEST_CASE("far readings: the range is as many times wider as they are too far") {
    Setup s = holding(six_cell_drive(), 60);
    s.esc.freewheel_sure = true;
    int wider = 0;
    for (const double read_C : {50.0, 60.0, 90.0, 110.0}) {
        // one row determines one unknown, three of them more
        s.measured = {bench_row(60, read_C)};
        if (read_C == 110) {
            s.measured = {bench_row(40, 60), bench_row(60, 110), bench_row(100, 90)};
        }
        const Calibration c = calibrate(s);
        const LeastSquaresSummary& f = c.fit->minimum;
        const Eigen::MatrixXd covariance = f.curvature.inverse();
        // (D) the unknowns' share of the cost against the 95 % of chi-squared with as many degrees
        // of freedom as the reading determines of them, one at least
        const double determined = static_cast<double>(f.x.size()) - covariance.trace();
        const double most = chi_squared_quantile(0.95, std::max(1.0, determined));
        CAPTURE(read_C, determined);
        CHECK((determined > 1.2) == (read_C == 110));
        CHECK_THAT(c.apart, WithinRel(std::sqrt(std::max(1.0, f.x.squaredNorm() / most)), 1e-9));
        wider += c.apart > 1 ? 1 : 0;
        for (size_t i = 0; i < c.belief.priors.size(); ++i) {
            const auto at = static_cast<Eigen::Index>(i);
            // but of the coming flight's own nothing was read
            CHECK_THAT(c.belief.spread(i),
                       WithinRel(times_wider(c, i) * std::sqrt(covariance(at, at)), 1e-6));
        }
    }
    CHECK(wider == 2);
}

TEST_CASE(
    "far readings: what speaks for a kind of freewheel counts less, the further both are off") {
    Setup s = holding(six_cell_drive(), 60);
    s.measured = {bench_row(60, 60)};
    s.esc.freewheel_sure = true;
    s.esc.freewheel = Freewheel::active;
    Calibration active = calibrate(s);
    s.esc.freewheel = Freewheel::diode;
    Calibration diode = calibrate(s);
    const auto log_odds = [&] {
        const double chance = weighed_chance(0.5, active, diode);
        return std::log(chance / (1 - chance));
    };
    active.apart = diode.apart = 1;
    const double plain = log_odds();
    REQUIRE(std::abs(plain) > 0.1);
    // by the square of the lesser one
    active.apart = 2;
    CHECK_THAT(log_odds(), WithinRel(plain, 1e-9));
    diode.apart = 3;
    CHECK_THAT(log_odds(), WithinRel(plain / 4, 1e-9));
    active.apart = 3;
    CHECK_THAT(log_odds(), WithinRel(plain / 9, 1e-9));
}

TEST_CASE(
    "far readings: of two that contradict each other neither is talked away, and it is said") {
    Setup s = holding(plain_drive(), 60);
    const auto read = [&](std::vector<double> peaks) {
        s.measured.clear();
        for (const double peak_C : peaks) {
            MeasuredRow row;
            row.throttle_pct = 60;
            row.hold_s = 120;
            row.esc_peak_C = peak_C;
            s.measured.push_back(row);
        }
        return advise(s, {.samples = 64});
    };
    const double alone_C = read({50}).esc.peak_C.p50;
    double before_C = 0;
    for (const double other_C : {50.0, 60.0, 75.0, 90.0, 105.0}) {
        const Report r = read({50, other_C});
        INFO(other_C);
        CHECK(r.esc.peak_C.p50 > before_C - 0.5);  // hotter readings never make it cooler
        CHECK(r.esc.peak_C.p50 < read({other_C}).esc.peak_C.p50 + 1);
        before_C = r.esc.peak_C.p50;
        const bool apart = other_C >= 75;
        CHECK((r.learned.widened > 3) == apart);
        REQUIRE(r.learned.misfit.size() == (apart ? 1 : 0));
        if (apart) {
            CHECK(r.learned.misfit[0].text ==
                  "Row 1 (60 %) and row 2 (60 %) contradict each other, and nothing tells which is "
                  "right: read again.");
            CHECK(r.verdict.level >= Level::watch);
            CHECK(r.esc.peak_C.p90.value_or(500) > alone_C + 10);
        }
    }
    // a third says which
    const Report three = read({50, 105, 51});
    REQUIRE(three.learned.misfit.size() == 1);
    CHECK(three.learned.misfit[0].row == 1);
}
