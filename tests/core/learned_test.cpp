// What the pilot hears of what was learned: each sentence from a hand-made fit, both sides of each
// bound, and its numbers read back.
#include <algorithm>
#include <cmath>

#include "advice.hpp"
#include "advise/advise.hpp"
#include "drives.hpp"
#include "learn/sampling.hpp"
#include "physics/air.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr Scale in = Scale::celsius;
constexpr double same_K = 1e-9;

MeasuredRow bench_row(double throttle_pct) {
    MeasuredRow row;
    row.throttle_pct = throttle_pct;
    row.hold_s = 90;
    row.start_C = 30;
    row.air_C = 20;
    row.esc_peak_C = 50;
    return row;
}

// A bench row, a flight that was read, and a told point.
Setup measured_drive() {
    Setup s = holding(six_cell_drive(), 60);
    MeasuredRow flown;
    flown.kind = RowKind::flight;
    flown.esc_after_C = 48;
    s.measured = {bench_row(75), flown};
    s.load.full_throttle_A.reset();
    s.load.points = {{50, 25, {}}, {100, 112, {}}};
    return s;
}

// A fit of that drive that taught nothing yet; its figures are the tests' own.
Calibration fit_of(const Setup& s) {
    Calibration c;
    c.told = s;
    c.belief = prior_belief(s);
    c.readings = readings_of(s);
    for (const Reading& r : c.readings) {
        c.predicted.push_back(r.measured);
    }
    c.converged = true;
    return c;
}

Learned learned(const Setup& s, const Calibration& c, Scale scale = in) {
    return report_learning(s, c, middle_plant(s, c.belief), {}, scale);
}

RowCheck check_of(int row, double doubt, double off_K, std::optional<ReadingKind> kind = {}) {
    RowCheck c;
    c.row = row;
    c.doubt = doubt;
    c.off_K = off_K;
    c.kind = kind;
    return c;
}

size_t row_of(const Belief& b, std::string_view key) {
    for (size_t i = 0; i < b.priors.size(); ++i) {
        if (b.priors[i].key == key) {
            return i;
        }
    }
    FAIL("no row " << key);
    return 0;
}

// Puts a row of the belief where its value is `value`.
void put(Belief& b, std::string_view key, double value) {
    const size_t i = row_of(b, key);
    const Prior& p = b.priors[i];
    b.middle[i] =
        p.additive ? (value - p.median) / p.spread : std::log(value / p.median) / p.spread;
}

void narrow(Belief& b, std::string_view key, double spread) {
    const size_t i = row_of(b, key);
    b.factor[i * b.middle.size() + i] = spread;
}

// Correlates two rows, both of unit spread.
void entangle(Belief& b, std::string_view one, std::string_view other, double rho) {
    const size_t n = b.middle.size();
    const size_t i = std::max(row_of(b, one), row_of(b, other));
    const size_t j = std::min(row_of(b, one), row_of(b, other));
    b.factor[i * n + j] = rho;
    b.factor[i * n + i] = std::sqrt(1 - rho * rho);
}

}  // namespace

TEST_CASE("learned: a bench row's fit is that hold, on the day it was read") {
    const Setup s = measured_drive();
    Calibration c = fit_of(s);
    c.readings = {
        {0, ReadingKind::trace, 10, 40, 2.5, 0},    {0, ReadingKind::trace, 20, 44, 2.5, 0},
        {0, ReadingKind::mean, 0, 40, 2.5, 0},      {0, ReadingKind::peak, 0, 40, 2.5, 0},
        {1, ReadingKind::trace, 10, 40, 2.5, 0, 1}, {1, ReadingKind::after, 10, 40, 2.5, 0, 1}};
    c.predicted = {43, 40, 99, 98, 97, 96};
    const Plant p = middle_plant(s, c.belief);
    const Learned out = report_learning(s, c, p, {}, in);
    CHECK(out.rows == 2);
    REQUIRE(out.fit.size() == 2);
    const RowFit& hold = out.fit[0];
    CHECK(hold.row == 0);
    // Its own points alone: 3 K over one, 4 K under the other.
    CHECK_THAT(*hold.trace_rms_K, WithinAbs(std::sqrt((9 + 16) / 2.0), same_K));
    CHECK(hold.hold_s == 90);
    // The hold again by the march itself: from 30 deg C in air of 20 deg C, no wind.
    Plant day = p;
    day.air.celsius = 20;
    day.flight_speed = 0;
    const March m = fly_hold(day, {{.throttle = 0.75}, 90, 30});
    CHECK_THAT(hold.hold_mean_C, WithinAbs(m.mean_board, 0.1));
    CHECK_THAT(hold.hold_peak_C, WithinAbs(m.peak_board, 0.1));
    CHECK_THAT(hold.motor_A, WithinRel(half_way_moment(day, m).i_motor, 0.02));
    REQUIRE(hold.steady_C);
    CHECK(*hold.steady_C > hold.hold_peak_C);
    CHECK_THAT(*hold.share_reached,
               WithinRel((m.moments.back().heat.board - 30) / (*hold.steady_C - 30), 0.02));
    CHECK(hold.air_speed_mps > 1);
    const RowFit& flight = out.fit[1];
    CHECK(flight.row == 1);
    const March flown = fly(p, plan_flight(p, s.flight));
    CHECK_THAT(flight.hold_mean_C, WithinAbs(flown.mean_board, 0.1));
    CHECK_THAT(flight.hold_peak_C, WithinAbs(flown.peak_board, 0.1));
    CHECK_THAT(flight.hold_s, WithinRel(flown.seconds, 1e-3));
    CHECK_FALSE(flight.trace_rms_K);
    // A row without a trace has no such figure.
    c.readings.resize(0);
    c.predicted.resize(0);
    CHECK_FALSE(report_learning(s, c, p, {}, in).fit[0].trace_rms_K);
}

TEST_CASE("learned: a flight that another one stands for is that one, so much warmer") {
    Setup s = measured_drive();
    s.measured.push_back(s.measured[1]);
    s.measured.push_back(s.measured[1]);
    s.measured[1].air_C = 5;
    s.measured[2].air_C = 17;
    Calibration c = fit_of(s);
    // Of the last row nothing is known: it is flown for itself.
    c.readings = {{1, ReadingKind::peak, 0, 40, 2.5, 0, 2, -11},
                  {2, ReadingKind::peak, 0, 40, 2.5, 0, 2}};
    const Plant p = middle_plant(s, c.belief);
    const std::vector<RowFit> fit = report_learning(s, c, p, {}, in).fit;
    REQUIRE(fit.size() == 4);
    const March m = fly_row(p, s, s.measured[2]);
    CHECK(fit[2].row == 2);
    CHECK(fit[2].hold_peak_C == m.peak_board);
    CHECK(fit[2].hold_mean_C == m.mean_board);
    CHECK(fit[1].row == 1);
    CHECK(fit[1].hold_peak_C == m.peak_board - 11);
    CHECK(fit[1].hold_mean_C == m.mean_board - 11);
    CHECK(fit[1].hold_s == m.seconds);
    CHECK(fit[3].row == 3);
    CHECK(fit[3].hold_peak_C == fly_row(p, s, s.measured[3]).peak_board);
}

TEST_CASE("learned: a row that is more likely off than not is named, with its figure") {
    const Setup s = measured_drive();
    Calibration c = fit_of(s);
    c.checks = {check_of(0, 0.49, 12), check_of(1, 0.51, 12)};
    std::vector<Misfit> m = learned(s, c).misfit;
    REQUIRE(m.size() == 1);
    CHECK(m[0].row == 1);
    CHECK(m[0].off_K == 12);
    CHECK(has(m[0].text, "Row 2 (flight) reads 12 K hotter"));
    c.checks = {check_of(0, 0.9, -7.4, ReadingKind::peak)};
    m = learned(s, c).misfit;
    REQUIRE(m.size() == 1);
    CHECK(m[0].off_K == -7.4);
    CHECK(has(m[0].text, "Row 1 (75 %): its peak reads 7 K cooler"));
    CHECK(has(learned(s, c, Scale::fahrenheit).misfit[0].text, "13 deg F cooler"));
    // What no ESC can be off by has no figure.
    c.checks = {check_of(0, 0.9, 999.6, ReadingKind::peak)};
    m = learned(s, c).misfit;
    CHECK(m[0].off_K == 999.6);
    CHECK(has(m[0].text, "its peak reads 1000 K hotter"));
    c.checks = {check_of(0, 0.9, -7e13, ReadingKind::peak)};
    m = learned(s, c).misfit;
    CHECK(m[0].off_K == -1000);
    CHECK(has(m[0].text, "its peak reads over 1000 K cooler"));
}

TEST_CASE("learned: what of a row is off is said, and how much of a speed") {
    const Setup s = measured_drive();
    Calibration c = fit_of(s);
    const auto text = [&](ReadingKind kind, double off) {
        c.checks = {check_of(0, 0.9, off, kind)};
        return learned(s, c).misfit.at(0).text;
    };
    CHECK(has(text(ReadingKind::mean, 5), ": its mean reads"));
    CHECK(has(text(ReadingKind::peak, 5), ": its peak reads"));
    CHECK(has(text(ReadingKind::after, 5), ": the reading after landing reads"));
    CHECK(has(text(ReadingKind::trace, 5), ": its log reads"));
    // 1 K of a reading is 1 % of a speed
    const std::string fast = text(ReadingKind::speed, 6);
    CHECK(has(fast, "its speed is 6 % higher"));
    CHECK(has(fast, "Kv"));
    CHECK(has(text(ReadingKind::speed, -3), "its speed is 3 % lower"));
    // What is told is a logarithm; far off, that is no share.
    CHECK(has(text(ReadingKind::speed, -70), "its speed is 50 % lower"));
    CHECK(has(text(ReadingKind::speed, 69), "its speed is 99 % higher than everything else"));
    CHECK(has(text(ReadingKind::speed, 70), "its speed is more than twice what everything else"));
    c.checks = {check_of(0, 0.9, 6, ReadingKind::speed)};
    CHECK(learned(s, c).misfit[0].off_K == 0);  // it is no temperature
    // A row beyond the measured ones is a told point.
    c.checks = {check_of(2, 0.9, 6, ReadingKind::speed), check_of(3, 0.9, 6, ReadingKind::speed)};
    CHECK(has(learned(s, c).misfit.at(0).text, "The point at 50 %: its speed"));
    CHECK(has(learned(s, c).misfit.at(1).text, "The point at 100 %: its speed"));
}

TEST_CASE("learned: a value that moved by a quarter or narrowed by a tenth is listed") {
    const Setup s = measured_drive();
    const auto listed = [&](double middle, double spread) {
        Calibration c = fit_of(s);
        const size_t i = row_of(c.belief, "esc.transition_ns");
        c.belief.middle[i] = middle;
        narrow(c.belief, "esc.transition_ns", spread);
        return learned(s, c).parameters;
    };
    CHECK(listed(0, 1).empty());
    CHECK(listed(0.24, 0.91).empty());
    CHECK(listed(-0.24, 0.91).empty());
    CHECK(listed(0.26, 1).size() == 1);
    CHECK(listed(-0.26, 1).size() == 1);
    CHECK(listed(0, 0.89).size() == 1);
    const std::vector<LearnedParameter> p = listed(0.5, 0.8);
    REQUIRE(p.size() == 1);
    CHECK(p[0].key == "esc.transition_ns");
    // Log-normal: 80 % within 1.2816 spreads either way (printed tables, M).
    const Belief b = prior_belief(s);
    const Prior& prior = b.priors[row_of(b, "esc.transition_ns")];
    constexpr double z = 1.2816;
    constexpr double table = 1e-4;  // of the printed quantile
    CHECK_THAT(p[0].prior[0], WithinRel(prior.median * std::exp(-z * prior.spread), table));
    CHECK_THAT(p[0].prior[1], WithinRel(prior.median * std::exp(z * prior.spread), table));
    CHECK_THAT(p[0].posterior[0],
               WithinRel(prior.median * std::exp((0.5 - z * 0.8) * prior.spread), table));
    CHECK_THAT(p[0].posterior[1],
               WithinRel(prior.median * std::exp((0.5 + z * 0.8) * prior.spread), table));
}

TEST_CASE("learned: what is fixed, or which freewheel, is no learned value, nor without readings") {
    Setup s = measured_drive();
    s.esc.freewheel = Freewheel::unknown;
    Calibration c = fit_of(s);
    c.belief.middle[row_of(c.belief, "esc.freewheel")] = 1;
    c.belief.middle[row_of(c.belief, "load.hover_duty")] = 1;  // of rotors: fixed here
    REQUIRE(c.belief.priors[row_of(c.belief, "load.hover_duty")].spread == 0);
    CHECK(learned(s, c).parameters.empty());
    c.belief.middle[row_of(c.belief, "esc.diode_V")] = 1;
    CHECK(learned(s, c).parameters.size() == 1);
    c.readings.clear();
    c.predicted.clear();
    CHECK(learned(s, c).parameters.empty());
}

TEST_CASE("learned: two causes that the readings cannot tell apart are named, the worst pair") {
    const Setup s = measured_drive();
    const auto text = [&](double rho, std::string_view one = "esc.transition_ns",
                          std::string_view other = "esc.diode_V") {
        Calibration c = fit_of(s);
        entangle(c.belief, one, other, rho);
        return learned(s, c).text;
    };
    CHECK_FALSE(has(text(0.34), "cannot tell"));
    CHECK(has(text(0.36), "The readings cannot tell switching from freewheeling."));
    CHECK(has(text(-0.36), "The readings cannot tell switching from freewheeling."));
    CHECK_FALSE(has(text(0.9, "esc.transition_ns", "esc.idle_W"), "cannot tell"));
    Calibration c = fit_of(s);
    entangle(c.belief, "esc.transition_ns", "esc.diode_V", 0.5);
    entangle(c.belief, "esc.mass_g", "esc.surface_cm2", -0.6);
    entangle(c.belief, "air.wash_share", "air.convection_factor", 0.4);
    CHECK(has(learned(s, c).text, "cannot tell the ESC's surface from the ESC's mass."));
    // It is their correlation: wide rows are as entangled as narrow ones.
    Calibration wide = fit_of(s);
    const size_t n = wide.belief.middle.size();
    const size_t low = row_of(wide.belief, "esc.transition_ns");
    const size_t high = row_of(wide.belief, "esc.diode_V");
    wide.belief.factor[low * n + low] = 0.2;
    wide.belief.factor[high * n + low] = 0.05;
    wide.belief.factor[high * n + high] = 0.1;
    CHECK(has(learned(s, wide).text, "cannot tell"));  // 0.45
    wide.belief.factor[high * n + low] = 0.03;
    CHECK_FALSE(has(learned(s, wide).text, "cannot tell"));  // 0.29
}

TEST_CASE("learned: every cause that may be entangled has a plain name of its own") {
    Setup s = measured_drive();
    s.air.cooling = Cooling::closed;
    struct Name {
        const char *key, *words;
    };
    for (const Name& n : std::vector<Name>{{"esc.switch_resistance_mOhm", "the switches'"},
                                           {"esc.board_resistance_mOhm", "the board's resistance"},
                                           {"esc.diode_V", "freewheeling"},
                                           {"esc.capacitor_esr_mOhm", "the capacitors"},
                                           {"esc.surface_cm2", "the ESC's surface"},
                                           {"esc.mass_g", "the ESC's mass"},
                                           {"esc.case_path_K_per_W", "the path from board to case"},
                                           {"air.convection_factor", "the surface's cooling"},
                                           {"air.wash_share", "the air reaching the ESC"},
                                           {"motor.inductance_uH", "the motor's inductance"},
                                           {"air.bay_surface_cm2", "the bay's skin"}}) {
        Calibration c = fit_of(s);
        entangle(c.belief, "esc.transition_ns", n.key, 0.5);
        const std::string text = learned(s, c).text;
        INFO(text);
        CHECK(has(text, n.words));
        CHECK(has(text, "switching"));
    }
}

TEST_CASE("learned: a place whose air was another is named beyond a quarter and two kelvin") {
    const Setup s = measured_drive();
    const auto text = [&](std::string_view key, double value, Scale scale = in) {
        Calibration c = fit_of(s);
        put(c.belief, key, value);
        return learned(s, c, scale).text;
    };
    CHECK_FALSE(has(text("bench.air_factor", 1.24), "the air"));
    CHECK_FALSE(has(text("bench.air_factor", 1 / 1.24), "the air"));
    CHECK(has(text("bench.air_factor", 1.26), "Your bench seems to have had 1.3 times the air"));
    CHECK(has(text("bench.air_factor", 1 / 1.26), "Your bench seems to have had 0.8 times"));
    CHECK_FALSE(has(text("bench.air_offset_K", 1.9), "had air"));
    CHECK(has(text("bench.air_offset_K", 2.1), "Your bench seems to have had air 2 K warmer"));
    CHECK_FALSE(has(text("bench.air_offset_K", -1.9), "had air"));
    CHECK(has(text("bench.air_offset_K", -5), "Your bench seems to have had air 5 K cooler"));
    CHECK(has(text("bench.air_offset_K", -5, Scale::fahrenheit), "air 9 deg F cooler"));
    CHECK(has(text("flown.air_factor", 2), "The flight you read seems to have had 2.0 times"));
    CHECK(has(text("flown.air_offset_K", 3), "The flight you read seems to have had air 3 K"));
    // A bench that nobody read tells nothing.
    Calibration c = fit_of(s);
    put(c.belief, "bench.air_factor", 2);
    CHECK(has(learned(s, c).text, "Your bench"));
    c.readings.erase(c.readings.begin());
    c.predicted.erase(c.predicted.begin());
    REQUIRE(c.readings.size() == 1);
    REQUIRE(c.readings[0].row == 1);
    CHECK_FALSE(has(learned(s, c).text, "Your bench"));
    c.readings[0].row = 2;  // a told point's speed
    CHECK_FALSE(has(learned(s, c).text, "Your bench"));
}

TEST_CASE("learned: how the fit went is said") {
    Setup s = measured_drive();
    Calibration c = fit_of(s);
    CHECK(learned(s, c).text == "Learned from 2 measured rows.");
    c.widened = 1.4;
    CHECK(has(learned(s, c).text, "scatter 1.4 times more"));
    CHECK(learned(s, c).widened == 1.4);
    c.widened = 1;
    CHECK_FALSE(has(learned(s, c).text, "further from the estimates"));
    c.apart = 1.26;
    CHECK(learned(s, c).apart == 1.26);
    CHECK(has(learned(s, c).text,
              "the forecast follows the readings, and its range is 1.3 times wider"));
    c.apart = 1;
    c.converged = false;
    CHECK(has(learned(s, c).text, "did not settle"));
    c.budget_reached = true;
    CHECK(has(learned(s, c).text, "ended early"));
    CHECK_FALSE(has(learned(s, c).text, "did not settle"));
    c.budget_reached = false;
    c.converged = true;
    c.stood_in = 1;
    CHECK(learned(s, c).text ==
          "Learned from 2 measured rows. To answer in time, 1 measured flight follows the most "
          "similar other one, a fixed number of kelvin above or below it.");
    c.stood_in = 2;
    CHECK(has(learned(s, c).text, "time, 2 measured flights follow the most similar"));
    c.stood_in = 0;
    c.chance_active = 0.27;
    CHECK(learned(s, c).chance_active == 0.27);
    s.esc.freewheel = Freewheel::unknown;
    CHECK(has(learned(s, c).text,
              "Freewheel by your readings: a diode's with 73 %, active with 27 % chance."));
    // What was told is spoken of once the readings leave it less than nine in ten.
    s.esc.freewheel = Freewheel::diode;
    CHECK(has(learned(s, c).text,
              "You told diode freewheel; your readings leave it 73 to 27 against active: look at "
              "the ESC's setting."));
    c.chance_active = 0.11;
    CHECK(has(learned(s, c).text, "89 to 11"));
    c.chance_active = 0.09;
    CHECK_FALSE(has(learned(s, c).text, "freewheel"));
    s.esc.freewheel = Freewheel::active;
    CHECK(has(learned(s, c).text, "You told active freewheel; your readings leave it 9 to 91"));
    c.chance_active = 0.91;
    CHECK_FALSE(has(learned(s, c).text, "freewheel"));
    c.failed = true;
    CHECK(has(learned(s, c).text, "Nothing learned from 2 measured rows: with these figures"));
    c.widened = 10;
    CHECK(has(learned(s, c).text, "with these figures"));
    c.widened = 10.4;
    CHECK(has(learned(s, c).text, "they scatter 10 times more than their sensors should"));
    c.widened = 1000;
    CHECK(has(learned(s, c).text, "they scatter 1000 times more"));
    c.widened = 8e10;
    CHECK(has(learned(s, c).text, "they scatter over a thousand times more"));
    s.measured.pop_back();
    Calibration one = fit_of(s);
    CHECK(learned(s, one).text == "Learned from 1 measured row.");
    one.failed = true;
    CHECK(has(learned(s, one).text, "Nothing learned from 1 measured row:"));
}

TEST_CASE("learned: without readings it says what is missing") {
    Setup s = measured_drive();
    s.measured.clear();
    const Calibration none = fit_of(s);
    CHECK(has(learned(s, none).text, "Nothing measured yet"));
    s.measured = {bench_row(75)};
    s.measured[0].esc_peak_C.reset();
    s.measured[0].pack_A = 50;
    const Calibration currents = fit_of(s);
    REQUIRE(currents.readings.empty());
    CHECK(has(learned(s, currents).text, "Currents are measured"));
    CHECK_FALSE(learned(s, currents).chance_active);
}

namespace {

// A bench run of each plant: what a thermometer reads at its end.
std::vector<double> bench_peaks(const std::vector<Plant>& plants, double throttle, double pwm_Hz) {
    std::vector<double> out;
    for (const Plant& p : plants) {
        Plant day = p;
        day.air.celsius = p.told_air_C + p.u.bench_offset;
        day.air_factor = p.u.bench_air;
        day.air_density = air_at(day.air.celsius, p.air.pressure).density;
        day.flight_speed = 0;
        day.pwm = pwm_Hz;
        const double peak =
            fly_hold(day, {{.throttle = throttle}, {}, day.air.celsius}, Steps::trial).peak_board;
        out.push_back(day.air.celsius + p.u.bench_gain * (peak - day.air.celsius));
    }
    return out;
}

double variance(const std::vector<double>& v) {
    double mean = 0;
    for (const double x : v) {
        mean += x / static_cast<double>(v.size());
    }
    double sum = 0;
    for (const double x : v) {
        sum += (x - mean) * (x - mean) / static_cast<double>(v.size());
    }
    return sum;
}

// Draws whose flight's peak goes with what a bench run would read: peak = 30 + gain * (read - 25).
Draws going_with(const Setup& s, double throttle, double pwm_Hz, double gain) {
    Draws draws = draw_plants(s, calibrate(s), 64);
    for (const double read : bench_peaks(draws.plants, throttle, pwm_Hz)) {
        Outcome o;
        o.peak_C = 30 + gain * (read - 25);
        draws.flight.push_back(o);
    }
    return draws;
}

double width(const Draws& draws) {
    std::vector<double> peaks = peaks_of(draws.flight);
    return quantile(peaks, 0.9) - quantile(peaks, 0.1);
}

}  // namespace

TEST_CASE("learned: the next run is the one that the flight's peak hangs on most") {
    Setup s = six_cell_drive();
    s.esc.pwm_choices_Hz = {8000, 24000};
    const auto next = [&](const Draws& draws, Scale scale = in) {
        const Calibration c = calibrate(s);
        return report_learning(s, c, middle_plant(s, c.belief), draws, scale).next_run;
    };
    const Draws slow = going_with(s, 1, 8000, 0.9);
    const std::optional<NextRun> run = next(slow);
    REQUIRE(run);
    CHECK(run->throttle_pct == 100);
    CHECK(run->pwm_Hz == 8000);
    // What is left where the flight follows the run entirely: the thermometer's 2.5 K.
    const double read = variance(bench_peaks(slow.plants, 1, 8000));
    CHECK_THAT(run->band_before_K, WithinRel(width(slow), 1e-9));
    CHECK_THAT(run->band_after_K, WithinRel(width(slow) * std::sqrt(6.25 / (read + 6.25)), 1e-6));
    const std::vector<double> said = numbers_in(run->text);
    REQUIRE(said.size() == 4);
    CHECK(said[0] == 100);
    CHECK(said[1] == 8);
    CHECK(said[2] == std::round(run->band_before_K));
    CHECK(said[3] == std::round(run->band_after_K));
    // Where it narrows by less than a kelvin it is not worth a pack: the same draws, their flights
    // closer together.
    const double gain_K = run->band_before_K - run->band_after_K;
    const auto closer = [&](double kelvin) {
        Draws d = slow;
        for (Outcome& o : d.flight) {
            o.peak_C = 30 + (o.peak_C - 30) * kelvin / gain_K;
        }
        return d;
    };
    CHECK_FALSE(next(closer(0.95)));
    CHECK(next(closer(1.05)));
    // Nor is there one where a flight runs away, or with fewer draws than it is tried on.
    Draws lost = slow;
    lost.flight[7].peak_C = std::numeric_limits<double>::infinity();
    CHECK_FALSE(next(lost));
    Draws few = slow;
    few.plants.pop_back();
    few.flight.pop_back();
    CHECK_FALSE(next(few));
}

TEST_CASE("learned: no next run holds a rotor on the bench, or an ESC above its rating") {
    Setup s = holding(six_cell_drive(), 70);
    const auto next = [&] { return advise(s, {.samples = 64}).learned.next_run; };
    REQUIRE(next());
    // (D) 112 A at full throttle: behind half of that no throttle is held that draws more
    s.esc.rating_A = 56;
    s.esc.limit_C = 150;
    const Plant p = median_plant(s);
    const Source fresh = source_at(p, p.pack.start, p.pack.start_C, 50, 50);
    if (const std::optional<NextRun> run = next()) {
        CHECK(operate(p, {.throttle = run->throttle_pct / 100}, fresh).i_pack < 57);
    }
    s.esc.rating_A = 1;
    CHECK_FALSE(next());
    Setup rotor = six_cell_rotor(1500);
    rotor.flight.parts = {part_of(100, 60)};
    CHECK_FALSE(advise(rotor, {.samples = 64}).learned.next_run);
}

TEST_CASE("learned: a run at each of these throttles is tried, and at two of another frequency") {
    // The flight's peak goes with what a run at one throttle tells and no other does: the rest of
    // its reading once all the other runs have told theirs. That is little, so the flight hangs on
    // it a thousandfold.
    Setup s = six_cell_drive();
    s.esc.pwm_choices_Hz = {8000, 24000};
    s.esc.limit_C = 150;  // no run is left out for it
    const Calibration c = calibrate(s);
    Draws draws = draw_plants(s, c, 64);
    struct Run {
        double throttle_pct, pwm_Hz;
    };
    std::vector<Run> runs;
    for (const double pct : {40.0, 50.0, 60.0, 65.0, 70.0, 75.0, 80.0, 85.0, 90.0, 100.0}) {
        runs.push_back({pct, 8000});
    }
    runs.push_back({60, 24000});
    runs.push_back({85, 24000});
    std::vector<std::vector<double>> read;  // about their means
    for (const Run& r : runs) {
        read.push_back(bench_peaks(draws.plants, r.throttle_pct / 100, r.pwm_Hz));
        double mean = 0;
        for (const double x : read.back()) {
            mean += x / 64;
        }
        for (double& x : read.back()) {
            x -= mean;
        }
    }
    const auto dot = [](const std::vector<double>& a, const std::vector<double>& b) {
        double sum = 0;
        for (size_t k = 0; k < a.size(); ++k) {
            sum += a[k] * b[k];
        }
        return sum;
    };
    const auto take_away = [&](std::vector<double>& from, const std::vector<double>& what) {
        const double share = dot(from, what) / dot(what, what);
        for (size_t k = 0; k < from.size(); ++k) {
            from[k] -= share * what[k];
        }
    };
    for (size_t own = 0; own < runs.size(); ++own) {
        // Gram and Schmidt, twice for the rounding.
        std::vector<std::vector<double>> others;
        std::vector<double> alone = read[own];
        for (int again = 0; again < 2; ++again) {
            for (size_t i = 0; i < runs.size(); ++i) {
                if (i == own) {
                    continue;
                }
                std::vector<double> rest = read[i];
                for (int twice = 0; twice < 2; ++twice) {
                    for (const std::vector<double>& before : others) {
                        take_away(rest, before);
                    }
                }
                others.push_back(rest);
                take_away(alone, rest);
            }
            others.clear();
        }
        const double spread = std::sqrt(dot(alone, alone) / 64);
        // What the reading narrows, as a share: enough of a wide flight to be worth a pack.
        const double told = spread * spread / (dot(read[own], read[own]) / 64 + 6.25);
        const double wide_K = 10 / (1 - std::sqrt(1 - told));
        draws.flight.assign(64, {});
        for (size_t k = 0; k < 64; ++k) {
            draws.flight[k].peak_C = wide_K * alone[k] / spread;
        }
        const auto next = report_learning(s, c, middle_plant(s, c.belief), draws, in).next_run;
        INFO(runs[own].throttle_pct << " % at " << runs[own].pwm_Hz << " Hz, " << spread << " K");
        REQUIRE(next);
        CHECK(next->throttle_pct == runs[own].throttle_pct);
        CHECK(next->pwm_Hz == runs[own].pwm_Hz);
    }
}

TEST_CASE("learned: the next run may be at another frequency, and stays under the limit") {
    Setup s = six_cell_drive();
    s.esc.pwm_choices_Hz = {8000, 24000};
    s.esc.limit_C = 150;  // no run is left out for it
    const auto next = [&](const Setup& told, const Draws& draws) {
        const Calibration c = calibrate(told);
        return report_learning(told, c, middle_plant(told, c.belief), draws, in).next_run;
    };
    const Draws fast = going_with(s, 0.85, 24000, 0.9);
    const std::optional<NextRun> run = next(s, fast);
    REQUIRE(run);
    CHECK(run->throttle_pct == 85);
    CHECK(run->pwm_Hz == 24000);
    CHECK(numbers_in(run->text)[1] == 24);
    // One draw in ten past the limit, and it is none.
    std::vector<double> read = bench_peaks(fast.plants, 0.85, 24000);
    Setup tight = s;
    tight.esc.limit_C = quantile(read, 0.9) - 0.1;
    const std::optional<NextRun> other = next(tight, fast);
    CHECK((!other || other->throttle_pct != 85 || other->pwm_Hz != 24000));
    tight.esc.limit_C += 0.2;
    CHECK(next(tight, fast)->pwm_Hz == 24000);
}
