// What pilots report of real ESCs: does the model, told no more than they told, have it in the same
// order, and a band as wide as the ignorance? Each fact says where it comes from.
#include <catch2/catch.hpp>

#include "advise/advise.hpp"
#include "core/near.hpp"
#include "core/owners.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

MeasuredRow read_hold(double throttle_pct, double pack_A, double mean_C, double peak_C) {
    MeasuredRow row;
    row.throttle_pct = throttle_pct;
    row.pack_A = pack_A;
    row.start_C = 26;
    row.esc_mean_C = mean_C;
    row.esc_peak_C = peak_C;
    return row;
}

AskedHold asked(double throttle_pct, std::optional<double> pack_A = {},
                std::optional<double> hold_s = {}) {
    AskedHold a;
    a.throttle_pct = throttle_pct;
    a.pack_A = pack_A;
    a.hold_s = hold_s;
    return a;
}

Setup guess(double rating_A, double cells, double pwm_Hz, double full_A) {
    Setup s;
    s.pack.cells = cells;
    s.pack.capacity_mAh = 5000;
    s.esc.rating_A = rating_A;
    s.esc.pwm_Hz = pwm_Hz;
    s.load.full_throttle_A = full_A;
    s.flight.parts = {part_of(75, 60)};
    return s;
}

}  // namespace

TEST_CASE(
    "facts: two bench holds known, the throttle between them is hotter, and not too sure (P)") {
    // Common practice, no source: held for a whole pack from the mid 20s deg C, 100 A at full
    // throttle averaged about 40 with a peak of 45, 50 A at 75 % about 47 with a peak of 53-54,
    // hottest near 85 %. Class, pack, frequency and freewheel were not told: each of these is a
    // guess.
    struct Guess {
        double rating_A, cells, pwm_Hz;
    };
    const Guess g = GENERATE(Guess{120, 6, 8000}, Guess{120, 12, 16000}, Guess{160, 6, 16000},
                             Guess{160, 12, 8000});
    CAPTURE(g.rating_A, g.cells, g.pwm_Hz);
    Setup s = guess(g.rating_A, g.cells, g.pwm_Hz, 108);
    s.measured = {read_hold(100, 100, 40, 45), read_hold(75, 50, 47, 53.5)};
    s.ask_holds = {asked(75), asked(85), asked(100)};
    const Report r = advise(s, {.samples = 64});
    const Band at75 = r.asked_holds[0].hold_peak_C;
    const Band at85 = r.asked_holds[1].hold_peak_C;
    const Band full = r.asked_holds[2].hold_peak_C;
    CHECK(at85.p50 > at75.p50);
    CHECK(at85.p50 > full.p50 + 5);
    // both kinds of freewheel stay believed, and the third throttle is open by more than a sensor
    CHECK(between(0.1, *r.learned.chance_active, 0.9));
    CHECK(between(8, *at85.p90 - *at85.p10, 40));
}

TEST_CASE("facts: large high-voltage ESCs take full throttle with ease and overheat below it") {
    // Public reports in web forums, trend only: two ESCs of the 160-200 A class took 80-100 A at
    // full throttle and overheated at 40-50 A of pack current at part throttle.
    const auto [rating_A, cells] = GENERATE(table<double, double>({{160, 12}, {200, 14}}));
    Setup s = guess(rating_A, cells, 16000, 95);
    s.ask_holds = {asked(72, 45), asked(100)};
    const Report r = advise(s, {.samples = 64});
    CHECK(r.asked_holds[0].hold_peak_C.p50 > r.asked_holds[1].hold_peak_C.p50 + 15);
    CHECK(*r.asked_holds[0].hold_peak_C.p90 > 85);
    CHECK(*r.asked_holds[1].hold_peak_C.p90 < 60);
}

TEST_CASE(
    "facts: in a closed case an hour at 60 % ends hotter than half an hour at full throttle") {
    // A public report in a web forum, trend only: about 37 against 35 deg C. A diode freewheel does
    // that, an active one does not.
    const Freewheel kind = GENERATE(Freewheel::diode, Freewheel::active);
    Setup s = guess(60, 4, 8000, 12);
    s.pack.capacity_mAh = 90000;
    s.esc.freewheel = kind;
    s.air.cooling = Cooling::closed;
    s.air.temperature_C = 22;
    s.ask_holds = {asked(60, {}, 3600), asked(100, {}, 1800)};
    const Report r = advise(s, {.samples = 0});
    const double part = r.asked_holds[0].hold_peak_C.p50;
    const double full = r.asked_holds[1].hold_peak_C.p50;
    CHECK((part > full) == (kind == Freewheel::diode));
}
