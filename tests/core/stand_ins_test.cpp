// Measured flights that are too dear to fly for every figure: which stand for which, what they
// differ by, and what a fit that has no work left does.
#include "learn/stand_ins.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

#include "advise/rooms.hpp"
#include "drives.hpp"
#include "learn/calibrate.hpp"
#include "learn/fit.hpp"
#include "learn/linear.hpp"
#include "learn/posterior.hpp"
#include "learn/reread.hpp"
#include "learn/row_checks.hpp"
#include "learn/sampling.hpp"
#include "near.hpp"
#include "owners.hpp"

using namespace hotband;
using namespace hotband::test;
using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

MeasuredRow flight_read(double peak_C, double air_C) {
    MeasuredRow row;
    row.kind = RowKind::flight;
    row.esc_peak_C = peak_C;
    row.air_C = air_C;
    return row;
}

// A flight of `parts` throttles, read on as many days as told, in no order.
Setup read_on_days(int parts, int days) {
    Setup s = six_cell_drive();
    s.esc.freewheel_sure = true;
    s.air.cooling = Cooling::vented;
    s.flight.parts.clear();
    for (int i = 0; i < parts; ++i) {
        s.flight.parts.push_back(part_of(45 + 40.0 * i / parts, 600.0 / parts));
    }
    for (int i = 0; i < days; ++i) {
        const double air_C = 8 + 0.7 * (i * 7 % days);
        s.measured.push_back(flight_read(std::round(air_C + 38 + 2 * (i % 3)), air_C));
        s.measured.back().start_C = air_C + 3.0 * (i % 4);
    }
    return s;
}

std::vector<double> estimates(const Setup& s) {
    return std::vector<double>(make_priors(s).size(), 0.0);
}

// Of so many holds for a set of derivatives.
FitReadings fitted_in(const Setup& s, double most_work) {
    return fit_readings(s, make_priors(s), estimates(s), most_work, 1);
}

std::vector<int> flown_as(const std::vector<Reading>& readings) {
    std::vector<int> out;
    for (const Reading& r : readings) {
        out.push_back(r.flown_as);
    }
    return out;
}

}  // namespace

TEST_CASE("stand-ins: rows that tell the same run are flown once, whatever was read") {
    Setup s = read_on_days(3, 1);
    MeasuredRow hold;
    hold.throttle_pct = 80;
    hold.hold_s = 60;
    hold.pack_A = 20;
    hold.esc_mean_C = 50;
    const MeasuredRow flight = s.measured.front();
    s.measured = {flight, hold, flight, hold};
    s.measured[2].esc_peak_C = 61;
    s.measured[2].esc_after_C = 55;
    s.measured[3].esc_mean_C = 51;
    s.measured[3].sensor_K = 1;
    CHECK(first_alike(s, 0) == 0);
    CHECK(first_alike(s, 1) == 1);
    CHECK(first_alike(s, 2) == 0);
    CHECK(first_alike(s, 3) == 1);
    const std::vector<Reading> readings = readings_of(s);
    REQUIRE(readings.size() == 5);
    CHECK(flown_as(readings) == std::vector<int>{0, 1, 0, 0, 1});
    const Prediction all = predict_all(s, make_priors(s), readings, estimates(s));
    CHECK(all.row_work[0] > 0);
    CHECK(all.row_work[1] > 0);
    CHECK(all.row_work[2] == 0);
    CHECK(all.row_work[3] == 0);
    // Each row for itself, to the last digit.
    std::vector<Reading> apart = readings;
    for (Reading& r : apart) {
        r.flown_as = r.row;
    }
    const Prediction each = predict_all(s, make_priors(s), apart, estimates(s));
    CHECK(each.row_work[3] > 0);
    CHECK(each.shown == all.shown);
    CHECK(each.shown[0] != each.shown[1]);
    // Whatever tells another run is another.
    const auto differs = [&](size_t row, auto&& change) {
        Setup other = s;
        change(other.measured[row]);
        return first_alike(other, row) == row;
    };
    for (const size_t row : {2, 3}) {
        CAPTURE(row);
        CHECK(differs(row, [](MeasuredRow& r) { r.air_C = 9; }));
        CHECK(differs(row, [](MeasuredRow& r) { r.start_C = 40; }));
        CHECK(differs(row, [](MeasuredRow& r) { r.pwm_Hz = 12000; }));
        CHECK(differs(row, [](MeasuredRow& r) { r.flight_speed_mps = 7; }));
        CHECK(differs(row, [](MeasuredRow& r) { r.trace = {{10, 40}}; }));
        CHECK(differs(row, [](MeasuredRow& r) { r.full_throttle_A = 20; }));
        CHECK(differs(row, [](MeasuredRow& r) { r.kv_rpm_per_V = 900; }));
        CHECK(differs(row, [](MeasuredRow& r) { r.cells = 5; }));
        CHECK(differs(row, [](MeasuredRow& r) { r.freewheel = FreewheelThen::active; }));
        CHECK(differs(row, [](MeasuredRow& r) { r.bec_kind = BecKindThen::none; }));
        CHECK(differs(row, [](MeasuredRow& r) { r.cooling = CoolingThen::closed; }));
        CHECK(differs(row, [](MeasuredRow& r) { r.sun = SunThen::sun; }));
    }
    CHECK(differs(2, [](MeasuredRow& r) { r.where = Where::bench; }));
    CHECK(differs(3, [](MeasuredRow& r) { r.where = Where::flight; }));
    CHECK(differs(3, [](MeasuredRow& r) { r.throttle_pct = 81; }));
    CHECK(differs(3, [](MeasuredRow& r) { r.hold_s = 61; }));
    CHECK(differs(3, [](MeasuredRow& r) { r.pack_A = 21; }));
    // A flight's throttle and length are not of the row.
    CHECK_FALSE(differs(2, [](MeasuredRow& r) { r.throttle_pct = 81; }));
}

TEST_CASE("stand-ins: as few as the work allows, neighbours by frequency, speed, air and start") {
    Setup s = read_on_days(4, 9);
    const FitReadings all = fitted_in(s, 1e9);
    CHECK(all.stood_in == 0);
    CHECK(flown_as(all.used) == std::vector<int>{0, 1, 2, 3, 4, 5, 6, 7, 8});
    CHECK(all.work == all.work_own);
    CHECK_THAT(all.work_apart, WithinRel(all.work_own, 1e-12));
    const double each = all.work_own / 9;
    // Flying them all once is of the work, and so is a prediction.
    CHECK(fitted_in(s, 2.01 * all.work_own).stood_in == 0);
    CHECK(fitted_in(s, 1.99 * all.work_own).stood_in > 0);
    // By air rows 0, 4, 8, 3, 7, 2, 6, 1, 5. Of three the middle one is flown.
    const FitReadings three = fitted_in(s, all.work_own + 3.5 * each);
    CHECK(three.stood_in == 6);
    CHECK(flown_as(three.used) == std::vector<int>{4, 1, 7, 7, 4, 1, 1, 7, 4});
    CHECK(flown_as(three.own) == flown_as(all.own));
    CHECK(between(2.5 * each, three.work, 3.5 * each));
    CHECK(three.work_own == all.work_own);
    // One at least.
    const FitReadings one = fitted_in(s, 0.5 * each);
    CHECK(one.stood_in == 8);
    CHECK(flown_as(one.used) == std::vector<int>(9, 7));
    // Frequency before speed, speed before air: 4, 8, 3, 7, 2, 6, 1, 0, 5.
    s.measured[5].pwm_Hz = 17000;
    s.measured[0].flight_speed_mps = 30;
    const double work = fitted_in(s, 1e9).work;
    CHECK(flown_as(fitted_in(s, work * (1 + 3.5 / 9)).used) ==
          std::vector<int>{0, 0, 2, 8, 8, 0, 2, 2, 8});
    // Start before nothing: two flights of the same air.
    s = read_on_days(4, 3);
    for (MeasuredRow& row : s.measured) {
        row.air_C = 20;
    }
    s.measured[0].start_C = 30;
    s.measured[1].start_C = 50;
    s.measured[2].start_C = 40;
    CHECK(flown_as(fitted_in(s, 0).used) == std::vector<int>{2, 2, 2});
}

TEST_CASE("stand-ins: only flights of one place stand for each other, no hold for any") {
    Setup s = read_on_days(4, 4);
    s.measured[1].where = Where::bench;
    s.measured[3].where = Where::bench;
    MeasuredRow hold;
    hold.throttle_pct = 80;
    hold.esc_mean_C = 50;
    s.measured.push_back(hold);
    hold.throttle_pct = 70;
    s.measured.push_back(hold);
    const FitReadings few = fitted_in(s, 0);
    CHECK(few.stood_in == 2);
    CHECK(flown_as(few.used) == std::vector<int>{2, 1, 2, 1, 4, 5});
    // Nor do flights of one propeller for those of another, in whatever order they were read.
    Setup propellers = read_on_days(4, 4);
    propellers.measured[0].full_throttle_A = 90;
    propellers.measured[2].full_throttle_A = 90;
    CHECK(flown_as(fitted_in(propellers, 0).used) == std::vector<int>{2, 1, 2, 1});
    // What holds take is not there for flights.
    Setup both = read_on_days(4, 9);
    for (int i = 0; i < 8; ++i) {
        hold.throttle_pct = 60 + i;
        both.measured.push_back(hold);
    }
    const FitReadings all = fitted_in(both, 1e9);
    const std::vector<double> work =
        predict_all(both, make_priors(both), all.own, estimates(both)).row_work;
    const double flights = std::accumulate(work.begin(), work.begin() + 9, 0.0);
    const double holds = std::accumulate(work.begin() + 9, work.end(), 0.0);
    REQUIRE(holds > flights / 9);
    CHECK(fitted_in(both, all.work_own + holds + 3.1 * flights / 9).stood_in == 6);
    // Holds alone, however many, are all flown.
    s.measured.erase(s.measured.begin(), s.measured.begin() + 4);
    CHECK(fitted_in(s, 0).stood_in == 0);
    // Rows that are alike stay with the one that is flown for them.
    Setup twice = read_on_days(4, 3);
    twice.measured.insert(twice.measured.end(), twice.measured.begin(), twice.measured.end());
    const FitReadings shared = fitted_in(twice, 0);
    CHECK(shared.stood_in == 2);
    CHECK(flown_as(shared.used) == std::vector<int>{1, 1, 1, 1, 1, 1});
    CHECK_THAT(shared.work_apart, WithinRel(2 * shared.work_own, 1e-12));
}

TEST_CASE("stand-ins: where they are anchored every row reads as its own flight does") {
    const Setup s = read_on_days(6, 12);
    const std::vector<Prior> priors = make_priors(s);
    FitReadings r = fitted_in(s, 0);
    REQUIRE(r.stood_in == 11);
    const auto most_off = [&](const std::vector<double>& z) {
        const std::vector<double> own = predict(s, priors, r.own, z);
        const std::vector<double> used = predict(s, priors, r.used, z);
        double most = 0;
        for (size_t i = 0; i < own.size(); ++i) {
            most = std::max(most, std::abs(own[i] - used[i]));
        }
        return most;
    };
    CHECK(most_off(estimates(s)) < 1e-9);
    // Elsewhere by little: 9 K of air and 9 K of start apart, one sigma of every unknown away.
    constexpr double read_K = 1.25;  // half a good thermometer's error
    Chance chance(7);
    for (int k = 0; k < 6; ++k) {
        std::vector<double> z(priors.size());
        for (double& x : z) {
            x = chance.normal();
        }
        const double before = most_off(z);
        CHECK(before > 1e-6);
        CHECK(before < read_K);
        anchor(r.used, r.own, s, priors, z);
        CHECK(most_off(z) < 1e-9);
        anchor(r.used, r.own, s, priors, estimates(s));
        CHECK(most_off(estimates(s)) < 1e-9);
    }
}

namespace {

struct Fitted {
    Setup s;
    std::vector<Prior> priors = make_priors(s);
    std::vector<Reading> readings = readings_of(s);
    ErrorFactor noise = ErrorFactor(error_covariance(readings));
    Residuals residuals{s, priors, readings, noise};
    VectorXd start = VectorXd::Zero(static_cast<Index>(priors.size()));

    LeastSquaresSummary fit_in(double runs) const {
        double budget = runs;
        return fit(residuals, start, budget);
    }
};

}  // namespace

TEST_CASE("follow: a search that ended comes to the minimum without derivatives of its own") {
    const Fitted f{read_on_days(3, 5)};
    const LeastSquaresSummary whole = f.fit_in(1e9);
    REQUIRE(whole.converged);
    const LeastSquaresSummary ended = f.fit_in(0);  // where it starts, with one set
    REQUIRE(ended.ended == Ended::budget);
    CHECK(ended.runs == runs_of_a_set(f.priors));
    REQUIRE(ended.cost > whole.cost + 0.5);
    double budget = 50;
    const LeastSquaresSummary there = follow(f.residuals, ended, budget);
    CHECK(between(38, budget, 48));
    CHECK_THAT(there.cost, WithinAbs(whole.cost, 1e-3 * (1 + whole.cost)));
    CHECK((there.x - whole.x).norm() < 0.1);  // of a prior's sigma, over all
    CHECK((f.residuals(there.x) - there.residuals).norm() < 1e-12);
    // To the budget's end, one step at least, never uphill.
    budget = 0;
    const LeastSquaresSummary step = follow(f.residuals, ended, budget);
    CHECK(budget == -1);
    CHECK(step.cost < ended.cost);
    CHECK(step.cost >= there.cost);
    // Slopes a fifth of what they are lead too far, and uphill.
    LeastSquaresSummary flat = ended;
    flat.jacobian *= 0.2;
    budget = 0;
    const LeastSquaresSummary stays = follow(f.residuals, flat, budget);
    CHECK(stays.x == ended.x);
    CHECK(stays.cost == ended.cost);
    LeastSquaresSummary settled = whole;
    settled.to_gain = 0;
    budget = 5;
    CHECK(follow(f.residuals, settled, budget).x == whole.x);
    CHECK(budget == 5);
}

TEST_CASE("refit: with other errors it comes to their minimum, with and without work left") {
    Setup s = read_on_days(3, 5);
    *s.measured[0].esc_peak_C += 9;
    const Fitted f{s};
    const LeastSquaresSummary before = f.fit_in(1e9);
    // The first row counts for little, the others err twice as much.
    ErrorBlocks covariance = error_covariance(f.readings);
    for (MatrixXd& row : covariance) {
        row *= 4;
    }
    covariance.front() *= 100;
    const ErrorFactor noise(covariance);
    const Residuals errs{f.s, f.priors, f.readings, noise};
    double budget = 1e9;
    const LeastSquaresSummary want = fit(errs, f.start, budget);
    REQUIRE(want.converged);
    REQUIRE((want.x - before.x).norm() > 0.05);
    for (const double left : {1e9, 0.0, 2 * runs_of_a_set(f.priors) - 0.5}) {
        CAPTURE(left);
        budget = left;
        const LeastSquaresSummary got = refit(errs, before, f.noise, budget);
        CHECK(left - budget >= 1);
        CHECK((left - budget > 20) == (left > 1e3));  // derivatives anew
        CHECK_THAT(got.cost, WithinAbs(want.cost, 2e-3 * (1 + want.cost)));
        CHECK((errs(got.x) - got.residuals).norm() < 1e-12);
        CHECK_THAT(got.curvature.trace(), WithinRel(want.curvature.trace(), 0.1));
    }
}

TEST_CASE("row checks: what is in doubt errs more, of its row and kind alone") {
    Setup s = read_on_days(3, 3);
    for (MeasuredRow& row : s.measured) {
        row.esc_mean_C = 40;
    }
    const std::vector<Reading> readings = readings_of(s);
    const ErrorBlocks before = error_covariance(readings);
    std::vector<RowCheck> checks(3);
    checks[0].doubt = 0.19;
    checks[1].doubt = 0.5;
    checks[1].kind = ReadingKind::peak;
    checks[1].off_K = -14;
    checks[1].sigma_K = 6;
    checks[2].doubt = 0.99;
    checks[2].off_K = std::numeric_limits<double>::infinity();  // of a reading that tells nothing
    checks[2].sigma_K = 6;
    const ErrorBlocks after = doubted(before, readings, checks);
    REQUIRE(after.size() == 3);
    CHECK(after[0] == before[0]);
    REQUIRE(readings[3].kind == ReadingKind::peak);
    // (D) odds of 1, less the 0.25 that every row may have, of what it would be off by chance
    CHECK_THAT(after[1](1, 1) - before[1](1, 1), WithinRel(0.75 * 6 * 6, 1e-12));
    CHECK(after[1](0, 0) == before[1](0, 0));
    CHECK(after[1](0, 1) == before[1](0, 1));
    const MatrixXd all = after[2] - before[2];
    // never more than what is off, or than a spoiled row may be
    CHECK((all.array() - 10 * 10).abs().maxCoeff() < 1e-12);
    checks[2].off_K = -31;
    CHECK_THAT((doubted(before, readings, checks)[2] - before[2])(0, 0),
               WithinRel(31.0 * 31, 1e-12));
    checks[2].doubt = 1;
    CHECK_THAT((doubted(before, readings, checks)[2] - before[2])(0, 0),
               WithinRel(31.0 * 31, 1e-12));
    // from nothing at a fifth on, without a jump
    checks[1].doubt = 0.2;
    CHECK(doubted(before, readings, checks)[1] == before[1]);
    checks[1].doubt = 0.201;
    const double little = doubted(before, readings, checks)[1](1, 1) - before[1](1, 1);
    CHECK(little > 0);
    CHECK(little < 0.01 * 6 * 6);
}

TEST_CASE("row checks: a straight model doubts what a flown one doubts") {
    Setup s = read_on_days(3, 6);
    *s.measured[2].esc_peak_C += 18;
    const Fitted f{s};
    const LeastSquaresSummary minimum = f.fit_in(1e9);
    const std::vector<RowCheck> flown = check_rows(f.residuals, minimum, false);
    const std::vector<RowCheck> straight = check_rows(f.residuals, minimum, true);
    REQUIRE(flown.size() == 6);
    REQUIRE(straight.size() == 6);
    for (size_t i = 0; i < flown.size(); ++i) {
        CHECK_THAT(straight[i].doubt, WithinAbs(flown[i].doubt, 0.05));
        CHECK_THAT(straight[i].off_K, WithinAbs(flown[i].off_K, 0.5));
        CHECK((straight[i].doubt > likely_off) == (i == 2));
        CHECK(straight[i].doubt != flown[i].doubt);
    }
}

TEST_CASE("reread: flights that others stand for stay as far from them") {
    const Setup s = read_on_days(40, 12);
    const Calibration c = calibrate(s);
    REQUIRE(c.stood_in > 6);
    CHECK(reread(c, s).most_K == 0);
    CHECK(reread(c, s).by.empty());
    // Leads of half the length ripple less: what is read then is of a warmer ESC, by one flight of
    // each and one straight step.
    Setup shorter = s;
    shorter.pack.lead_length_cm = 10;
    const Reread moved = reread(c, shorter);
    REQUIRE_FALSE(moved.by.empty());
    CHECK_FALSE(moved.another);
    const std::vector<Prior> priors = make_priors(shorter);
    const Residuals residuals{shorter, priors, c.readings, c.fit->noise};
    const VectorXd x = c.fit->minimum.x;
    const VectorXd there =
        x + Eigen::Map<const VectorXd>(moved.by.data(), static_cast<Index>(moved.by.size()));
    const auto cost = [&](const VectorXd& z) { return cost_of({}, residuals(z), z); };
    CHECK(cost(there) < cost(x));
    CHECK_THAT(moved.evidence,
               WithinAbs(0.5 * (c.fit->minimum.cost - cost(there)), 0.02 * c.fit->minimum.cost));
}

TEST_CASE("posterior: draws are moved as long as all of them can be") {
    const Setup s = read_on_days(3, 2);
    Calibration c = calibrate(s);
    const size_t rows = c.belief.priors.size();
    const auto lack = [&](const std::vector<double>& z) {
        // What is left of  z + J'W r(z) = u  over all draws, in posterior sigmas.
        const LeastSquaresSummary& f = c.fit->minimum;
        const std::vector<Prior> priors = make_priors(c.told);
        const Residuals residuals{c.told, priors, c.readings, c.fit->noise};
        const std::vector<double> xi = normal_draws(32, static_cast<int>(rows) + 1);
        double sum = 0;
        for (size_t k = 0; k < 32; ++k) {
            const std::vector<double> straight =
                draw_of(c.belief, std::span(xi).subspan(k * (rows + 1), rows));
            const VectorXd from =
                Eigen::Map<const VectorXd>(straight.data(), static_cast<Index>(rows));
            const VectorXd at =
                Eigen::Map<const VectorXd>(z.data() + k * rows, static_cast<Index>(rows));
            const MatrixXd JW = f.jacobian.transpose() * f.weights.asDiagonal();
            const VectorXd u = from + JW * (f.residuals + f.jacobian * (from - f.x));
            const VectorXd left = u - at - JW * residuals(at);
            sum += left.dot(f.curvature.ldlt().solve(left));
        }
        return sum;
    };
    const auto moved_with = [&](double work) {
        c.work = work;
        return lack(posterior_draws(c, 32));
    };
    // 24000 holds in all: 750 a draw.
    const double straight = moved_with(751);
    const double once = moved_with(749);
    const double twice = moved_with(374);
    CHECK(moved_with(1e6) == straight);
    CHECK(moved_with(376) == once);
    CHECK(once < 0.5 * straight);
    CHECK(twice <= once);
    CHECK(moved_with(1) <= twice);
}
