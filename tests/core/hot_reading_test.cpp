// When is a thermometer that read more than is believed named among the verdict's reasons, and what
// of a row is doubted: one reading, or all of them?
#include <cmath>

#include "advice.hpp"
#include "advise/rooms.hpp"
#include "learn/row_checks.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

// A hold whose board was read at its hottest.
MeasuredRow read_at(double peak_C) {
    MeasuredRow row;
    row.throttle_pct = 60;
    row.esc_peak_C = peak_C;
    return row;
}

MeasuredRow landed_at(double after_C) {
    MeasuredRow row;
    row.kind = RowKind::flight;
    row.esc_after_C = after_C;
    return row;
}

// The fine report, 60 deg C of 100 and 70 at most, whose fit misses row 1 by so much.
Report missing_by(double off_K) {
    Report r = fine_report();
    r.learned.misfit = {{0, off_K, ""}};
    return r;
}

bool named(const Report& r, const std::vector<MeasuredRow>& rows) {
    Setup s;
    s.esc.limit_C = r.esc.limit_C;
    s.measured = rows;
    for (const Reason& reason : judge(s, r, Scale::celsius).reasons) {
        if (has(reason.text, "hotter than is believed")) {
            CHECK(reason.key == "readings");
            CHECK(reason.level == Level::watch);
            return true;
        }
    }
    return false;
}

// Rows as they were read, each reading by a sensor of 2.5 K, beside a model that is sure of every
// one: readings of `off_K` over what it says.
struct Read {
    ReadingKind kind;
    double off_K;
};
constexpr double sensor_K = 2.5;

std::vector<RowCheck> checks_of(const std::vector<std::vector<Read>>& rows) {
    std::vector<Reading> readings;
    ErrorBlocks errors;
    std::vector<double> off;
    for (size_t row = 0; row < rows.size(); ++row) {
        const auto n = static_cast<Eigen::Index>(rows[row].size());
        errors.emplace_back(sensor_K * sensor_K * Eigen::MatrixXd::Identity(n, n));
        for (const Read& one : rows[row]) {
            Reading r;
            r.row = static_cast<int>(row);
            r.kind = one.kind;
            readings.push_back(r);
            off.push_back(-one.off_K / sensor_K);  // predicted minus measured
        }
    }
    const auto n = static_cast<Eigen::Index>(off.size());
    LeastSquaresSummary f;
    f.x = Eigen::VectorXd::Zero(1);
    f.residuals = Eigen::Map<const Eigen::VectorXd>(off.data(), n);
    f.jacobian = Eigen::MatrixXd::Zero(n, 1);
    f.weights = Eigen::VectorXd::Ones(n);
    f.curvature = Eigen::MatrixXd::Identity(1, 1);
    const Setup s;
    const std::vector<Prior> priors;
    const ErrorFactor noise(errors);
    return check_rows({s, priors, readings, noise}, f, true);
}

}  // namespace

TEST_CASE("hot reading: a row that the fit leaves out is named from the limit on") {
    CHECK_FALSE(named(missing_by(30), {read_at(99.9)}));
    CHECK_FALSE(named(missing_by(30), {read_at(100)}));
    CHECK(named(missing_by(30), {read_at(100.1)}));
    // another limit, another bound
    Report r = missing_by(30);
    r.esc.limit_C = 80;
    CHECK_FALSE(named(r, {read_at(79.9)}));
    CHECK(named(r, {read_at(80.1)}));
}

TEST_CASE("hot reading: what the fit follows is believed, over the limit as well") {
    CHECK_FALSE(named(fine_report(), {read_at(100.1)}));
    // it is another row that is left out
    CHECK_FALSE(named(missing_by(30), {read_at(50), read_at(100.1)}));
}

TEST_CASE("hot reading: of a fit that taught nothing every row counts as left out") {
    Report r = fine_report();
    r.learned.failed = true;
    CHECK_FALSE(named(r, {read_at(99.9)}));
    CHECK(named(r, {read_at(100.1)}));
    CHECK(named(r, {read_at(50), read_at(100.1)}));
}

TEST_CASE("hot reading: one that read too cool is not named, however hot it was") {
    CHECK_FALSE(named(missing_by(-30), {read_at(101)}));
    CHECK_FALSE(named(missing_by(0), {read_at(101)}));
    CHECK(named(missing_by(30), {read_at(101)}));
}

TEST_CASE("hot reading: a row is as hot as its hottest figure, whichever that is") {
    const auto at = [](double hottest_C, auto&& put) {
        MeasuredRow row = read_at(40);
        put(row, hottest_C);
        return named(missing_by(30), {row});
    };
    const auto check = [&](const char* what, auto&& put) {
        INFO(what);
        CHECK_FALSE(at(99.9, put));
        CHECK(at(100.1, put));
    };
    check("mean", [](MeasuredRow& row, double C) { row.esc_mean_C = C; });
    check("peak", [](MeasuredRow& row, double C) { row.esc_peak_C = C; });
    check("after", [](MeasuredRow& row, double C) { row.esc_after_C = C; });
    check("trace", [](MeasuredRow& row, double C) { row.trace = {{10, 40}, {60, C}}; });
    check("trace, not its last", [](MeasuredRow& row, double C) {
        row.trace = {{10, C}, {60, 40}};
    });
    check("trace alone", [](MeasuredRow& row, double C) {
        row.esc_peak_C.reset();
        row.trace = {{10, 40}, {60, C}};
    });
}

TEST_CASE("hot reading: a flight above the range is named, a hold of that heat is not") {
    const Report r = fine_report();  // 70 deg C at most, nine times in ten
    CHECK_FALSE(named(r, {landed_at(69.9)}));
    CHECK(named(r, {landed_at(70.1)}));
    CHECK(named(r, {landed_at(80)}));
    MeasuredRow held = landed_at(80);
    held.kind = RowKind::hold;
    CHECK_FALSE(named(r, {held}));
    CHECK_FALSE(named(r, {read_at(80)}));
    // Without draws there is no range.
    Report alone = r;
    alone.esc.peak_C = {{}, 60, {}};
    CHECK_FALSE(named(alone, {landed_at(80)}));
}

TEST_CASE("odd reading: of a mean and a peak one may be off alone (D)") {
    constexpr auto mean = ReadingKind::mean;
    constexpr auto peak = ReadingKind::peak;
    const std::vector<Read> sound = {{mean, 0}, {peak, 0}};
    const RowCheck alone = checks_of({{{mean, 0}, {peak, 30}}, sound, sound}).at(0);
    CHECK(alone.kind == peak);
    CHECK_THAT(alone.off_K, WithinAbs(30, 1e-9));
    CHECK_THAT(alone.sigma_K, WithinAbs(sensor_K, 1e-9));
    CHECK(alone.doubt > 0.99);
    // both as far: their thermometer
    const RowCheck both = checks_of({{{mean, 30}, {peak, 30}}, sound, sound}).at(0);
    CHECK_FALSE(both.kind);
    CHECK_THAT(both.off_K, WithinAbs(30, 1e-9));
    CHECK_THAT(both.sigma_K, WithinAbs(sensor_K / std::sqrt(2), 1e-9));
    CHECK(checks_of({sound, sound, sound}).at(0).doubt < likely_off);
}

TEST_CASE("odd reading: a point of a trace is not, the whole trace is (D)") {
    constexpr auto trace = ReadingKind::trace;
    const std::vector<Read> sound = {{trace, 0}, {trace, 0}, {trace, 0}, {trace, 0}};
    std::vector<Read> odd = sound;
    odd[2].off_K = 30;
    const RowCheck check = checks_of({odd, sound, sound}).at(0);
    CHECK_FALSE(check.kind);
    CHECK_THAT(check.off_K, WithinAbs(30.0 / 4, 1e-9));  // what all of them are off
    CHECK_THAT(check.sigma_K, WithinAbs(sensor_K / 2, 1e-9));
    CHECK(check.doubt > likely_off);
    // of a peak beside it the peak alone
    std::vector<Read> beside = sound;
    beside.push_back({ReadingKind::peak, 30});
    CHECK(checks_of({beside, sound, sound}).at(0).kind == ReadingKind::peak);
    // one row alone has nothing but estimates against it
    CHECK(checks_of({odd}).at(0).doubt == 0);
}
