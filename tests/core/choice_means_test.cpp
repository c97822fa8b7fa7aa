// What a frequency's losses are means of, whose draws follow which fit, and when a frequency that
// is recommended has its price told.
#include <algorithm>
#include <cmath>

#include "advice.hpp"
#include "advise/advise.hpp"
#include "advise/candidates.hpp"
#include "advise/trial.hpp"
#include "drives.hpp"
#include "learn/freewheel_kinds.hpp"
#include "near.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr Scale in = Scale::celsius;

}  // namespace

TEST_CASE("pwm: the losses are the parts' means, the junction half its peak's way over the board") {
    Setup s = six_cell_drive();
    s.flight.parts = {part_of(60, 40), part_of(85, 20)};
    s.esc.pwm_choices_Hz = {8000, 24000};
    const Calibration taught = calibrate(s);
    const PwmTrial trial = compare_pwm(s, taught, {}, in);
    REQUIRE(trial.report.choices.size() == 2);
    for (const PwmChoice& c : trial.report.choices) {
        const Plant p = middle_plant(at_frequency(s, c.pwm_Hz), taught.belief);
        const March m = run_flight(p, s.flight).march;
        const double over_board_K = 0.5 * (m.peak_junction - m.peak_board);
        CHECK(over_board_K > 1);
        const Moment& end = m.moments.back();
        const Source middle =
            source_at(p, 0.5 * (p.pack.start + end.charge), 0.5 * (p.pack.start_C + end.pack_C),
                      m.mean_board + over_board_K, m.mean_board);
        const Operating slow = operate(p, {.throttle = 0.60}, middle);
        const Operating fast = operate(p, {.throttle = 0.85}, middle);
        INFO(c.pwm_Hz);
        CHECK_THAT(c.esc_loss_W,
                   WithinRel((40 * slow.losses.total() + 20 * fast.losses.total()) / 60, 1e-9));
        CHECK_THAT(c.motor_ripple_loss_W,
                   WithinRel((40 * slow.motor_ripple_W + 20 * fast.motor_ripple_W) / 60, 1e-9));
        CHECK_THAT(c.total_loss_W, WithinRel(c.esc_loss_W + c.motor_ripple_loss_W, 1e-12));
    }
}

TEST_CASE("trial: draws of either freewheel follow that kind's own fit") {
    Setup s = holding(six_cell_drive(), 75);
    s.esc.freewheel = Freewheel::unknown;
    MeasuredRow row;
    row.throttle_pct = 75;
    row.pack_A = 55;
    row.esc_peak_C = 55;
    s.measured = {row};
    const Calibration taught = calibrate(s);
    REQUIRE(taught.chance_active);
    REQUIRE(taught.other.size() == 1);
    constexpr int count = 64;
    Draws draws;
    draws.z = draw_plants(s, taught, count).z;
    draws.plants.resize(count);
    const size_t rows = taught.belief.priors.size();
    // Every unknown is taken elsewhere, of one kind up and of the other down.
    Carried carried;
    carried.belief = taught.belief;
    carried.moved.by.assign(rows, 0.25);
    carried.other.by.assign(rows, -0.5);
    const auto moved = [&](const Carried& by) {
        const ChangedDraws changed(s, taught, draws, s, by);
        CHECK_FALSE(changed.own());
        return changed.z();
    };
    const std::vector<double> after = moved(carried);
    REQUIRE(after.size() == draws.z.size());
    int likelier = 0;
    int others = 0;
    for (size_t k = 0; k < count; ++k) {
        const std::span<const double> z = std::span<const double>(draws.z).subspan(k * rows, rows);
        const bool of_one = of_likelier(taught, z);
        (of_one ? likelier : others) += 1;
        for (size_t i = 0; i < rows; ++i) {
            CHECK_THAT(after[k * rows + i] - z[i], WithinAbs(of_one ? 0.25 : -0.5, 1e-12));
        }
    }
    CHECK(likelier > 0);
    CHECK(others > 0);
    // Where a kind's own readings move nothing its draws stay.
    carried.other.by.clear();
    const std::vector<double> one_moved = moved(carried);
    for (size_t k = 0; k < count; ++k) {
        const std::span<const double> z = std::span<const double>(draws.z).subspan(k * rows, rows);
        CHECK_THAT(one_moved[k * rows] - z[0], WithinAbs(of_likelier(taught, z) ? 0.25 : 0, 1e-12));
    }
}

TEST_CASE(
    "changes: a frequency that fails a check is told, with its price, where it is recommended") {
    Setup s = holding(six_cell_drive(), 75);
    s.esc.pwm_Hz = 32000;
    s.motor.inductance_uH = 15;
    s.esc.capacitor_ripple_A = 60;
    s.esc.capacitor_uF = 320;
    constexpr double slow_Hz = 8000;
    const Calibration taught = calibrate(s);
    const auto link_ripple = [&](const Setup& at) {
        const Plant p = middle_plant(at, taught.belief);
        const Checks checks = run_checks(at, p, run_flight(p, at.flight));
        const auto there =
            std::find_if(checks.capacitor.items.begin(), checks.capacitor.items.end(),
                         [](const CheckItem& i) { return i.key == "link_ripple_pct"; });
        REQUIRE(there != checks.capacitor.items.end());
        return *there;
    };
    // The slower one, and only that, makes the link's voltage swing more than is good.
    REQUIRE(link_ripple(s).ok);
    REQUIRE_FALSE(link_ripple(at_frequency(s, slow_Hz)).ok);
    const Plant p = middle_plant(s, taught.belief);
    const FlightRun flight = run_flight(p, s.flight);
    const Checks checks = run_checks(s, p, flight);
    REQUIRE(flight.march.peak_board < s.esc.limit_C);
    const auto offered = [&](double recommended_Hz) {
        PwmTrial pwm;
        for (const double Hz : {slow_Hz, s.esc.pwm_Hz}) {
            pwm.report.choices.emplace_back().pwm_Hz = Hz;
        }
        pwm.report.recommended_Hz = recommended_Hz;
        return find_changes(s, taught, flight, checks, pwm, {}, in);
    };
    const std::vector<Change> with = offered(slow_Hz);
    const Change* slow = find_change(with, pwm_id(slow_Hz));
    REQUIRE(slow != nullptr);
    INFO(slow->cost);
    CHECK(*slow->esc_peak_change_K < -0.5);
    CHECK(has(slow->cost, "then " + failed_text(link_ripple(at_frequency(s, slow_Hz)), in)));
    CHECK(find_change(offered(s.esc.pwm_Hz), pwm_id(slow_Hz)) == nullptr);
    // Where the limit is not kept it is told either way.
    s.esc.limit_C = flight.march.peak_board - 1;
    CHECK(find_change(offered(s.esc.pwm_Hz), pwm_id(slow_Hz)) != nullptr);
}
