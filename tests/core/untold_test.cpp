// The current that nobody told: its range, what a reading would be worth, and the words.
#include "advise/untold.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "advice.hpp"
#include "advise/advise.hpp"
#include "drives.hpp"
#include "learn/calibrate.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr Scale in = Scale::celsius;

Setup untold() {
    Setup s = six_cell_drive();
    s.load.full_throttle_A.reset();
    return s;
}

Setup sized() {
    Setup s = untold();
    s.motor.kv_rpm_per_V = 300;
    s.load.diameter_cm = 50;
    return s;
}

Setup rotor() {
    Setup s = untold();
    s.load.kind = LoadKind::governed;
    return s;
}

std::optional<UntoldCurrent> report(const Setup& s, const Draws& draws = {}, Scale scale = in) {
    const Belief b = prior_belief(s);
    return report_untold_current(s, middle_plant(s, b), b, draws, scale);
}

// A hundred draws from 80 to 130 A whose peaks follow the current's logarithm, and beside it a part
// that knows nothing of it: pairs of draws at one current, one cooler, one warmer by `own_K`.
Draws following(double per_log_K, double own_K) {
    Draws d;
    for (int i = 0; i < 50; ++i) {
        for (const double side : {-1.0, 1.0}) {
            const double amperes = 80 * std::pow(130.0 / 80, i / 49.0);
            d.full_A.push_back(amperes);
            Outcome o;
            o.peak_C = 60 + per_log_K * std::log(amperes / 100) + side * own_K;
            d.flight.push_back(o);
            d.plants.emplace_back();
        }
    }
    return d;
}

}  // namespace

TEST_CASE("untold: nothing to say where a current, a power or points are told") {
    Setup s = six_cell_drive();
    CHECK_FALSE(report(s));
    s.load.full_throttle_A.reset();
    CHECK(report(s));
    s.load.shaft_W = 1500;
    s.load.shaft_rpm = 7000;
    CHECK_FALSE(report(s));
    s = untold();
    s.load.points = {{50, 24, {}}};
    CHECK_FALSE(report(s));
    s = rotor();
    CHECK(report(s));
    s.load.hover_A = 30;
    CHECK_FALSE(report(s));
}

TEST_CASE("untold: the fresh pack's current, all motors together") {
    CHECK_THAT(fresh_current(median_plant(six_cell_drive())), WithinRel(112, 1e-6));
    Setup two = six_cell_drive();
    two.motor.count = 2;
    CHECK_THAT(fresh_current(median_plant(two)), WithinRel(112, 1e-6));
    // 70 % of the rating (P)
    CHECK_THAT(report(untold())->pack_A.p50, WithinRel(105, 1e-6));
}

TEST_CASE("untold: without draws the range is what each unknown alone makes of it, together") {
    // All that the current hangs on where nobody tells it is how it is guessed: 20 % either way.
    const UntoldCurrent out = *report(untold());
    constexpr double z90 = 1.2816;  // printed tables (M)
    CHECK_THAT(out.pack_A.p50 / *out.pack_A.p10, WithinRel(std::exp(z90 * 0.2), 1e-4));
    CHECK_THAT(*out.pack_A.p90 / out.pack_A.p50, WithinRel(std::exp(z90 * 0.2), 1e-4));
    CHECK_FALSE(out.band_before_K);
    CHECK(numbers_in(out.text) == std::vector<double>{105});
    // By size it hangs on Kv, propeller, motor and pack: as wide as its draws.
    const Setup s = sized();
    const UntoldCurrent by_size = *report(s);
    const Draws draws = draw_plants(s, calibrate(s), 256);
    std::vector<double> amperes;
    for (const Plant& p : draws.plants) {
        amperes.push_back(std::log(fresh_current(p)));
    }
    std::sort(amperes.begin(), amperes.end());
    const double drawn = amperes[230] - amperes[25];
    CHECK_THAT(std::log(*by_size.pack_A.p90 / *by_size.pack_A.p10), WithinRel(drawn, 0.1));
    // A belief half as wide is a range half as wide.
    Belief half = prior_belief(s);
    for (double& x : half.factor) {
        x *= 0.5;
    }
    const UntoldCurrent narrow = *report_untold_current(s, middle_plant(s, half), half, {}, in);
    CHECK_THAT(std::log(*narrow.pack_A.p90 / narrow.pack_A.p50),
               WithinRel(0.5 * std::log(*by_size.pack_A.p90 / by_size.pack_A.p50), 0.05));
    // Around what is believed, wherever that is.
    Belief moved = prior_belief(s);
    for (size_t i = 0; i < moved.priors.size(); ++i) {
        moved.middle[i] = moved.priors[i].slot == &Unknowns::kv ? 1 : 0;
    }
    const UntoldCurrent there = *report_untold_current(s, middle_plant(s, moved), moved, {}, in);
    CHECK(there.pack_A.p50 > 1.05 * by_size.pack_A.p50);
    CHECK(*there.pack_A.p10 < there.pack_A.p50);
}

TEST_CASE("untold: with draws it is theirs, and a reading leaves what the current does not tell") {
    const Draws draws = following(60, 2);
    const UntoldCurrent out = *report(untold(), draws);
    std::vector<double> amperes = draws.full_A;
    std::sort(amperes.begin(), amperes.end());
    CHECK_THAT(*out.pack_A.p10, WithinRel(amperes[10], 0.01));
    CHECK_THAT(out.pack_A.p50, WithinRel(std::sqrt(80.0 * 130), 0.01));
    CHECK_THAT(*out.pack_A.p90, WithinRel(amperes[89], 0.01));
    // Of the variance 60^2 var(log A) + 2^2 the second is left; log A is even over log(130 / 80).
    const double step = std::log(130.0 / 80) / 49;
    const double told = 3600 * step * step * (50 * 50 - 1) / 12.0;
    REQUIRE(out.band_before_K);
    CHECK_THAT(*out.band_after_K / *out.band_before_K, WithinRel(std::sqrt(4 / (told + 4)), 1e-6));
    const std::vector<double> said = numbers_in(out.text);
    REQUIRE(said.size() == 5);
    CHECK(said[0] == std::round(out.pack_A.p50));
    CHECK(said[1] == std::round(*out.pack_A.p10));
    CHECK(said[2] == std::round(*out.pack_A.p90));
    CHECK(said[3] == std::round(*out.band_before_K));
    CHECK(said[4] == std::round(*out.band_after_K));
    std::vector<double> peaks = peaks_of(draws.flight);
    std::sort(peaks.begin(), peaks.end());
    CHECK_THAT(*out.band_before_K, WithinAbs(peaks[89] - peaks[10], 1));
    CHECK(has(report(untold(), draws, Scale::fahrenheit)->text, " deg F "));
}

TEST_CASE("untold: a report says what a reading of the current would be worth, of its own draws") {
    const Report r = advise(holding(untold(), 70), {.samples = 64});
    REQUIRE(r.untold_current);
    REQUIRE(r.untold_current->band_before_K);
    CHECK(*r.untold_current->band_after_K < *r.untold_current->band_before_K);
    CHECK(has(r.untold_current->text, "A reading of it would narrow the range"));
    // told, there are no draws of it
    const Setup s = holding(six_cell_drive(), 70);
    CHECK(draw_plants(s, calibrate(s), 4).full_A.empty());
}

TEST_CASE("untold: a reading that narrows the range by less than a kelvin is not asked for") {
    const Draws draws = following(60, 2);
    const UntoldCurrent out = *report(untold(), draws);
    const double gain_K = *out.band_before_K - *out.band_after_K;
    const auto asks = [&](double kelvin) {
        Draws d = draws;
        for (Outcome& o : d.flight) {
            o.peak_C = 60 + (o.peak_C - 60) * kelvin / gain_K;
        }
        return has(report(untold(), d)->text, "A reading");
    };
    CHECK(asks(1.02));
    CHECK_FALSE(asks(0.98));
    Draws lost = draws;
    lost.flight[3].peak_C = std::numeric_limits<double>::infinity();
    const UntoldCurrent none = *report(untold(), lost);
    CHECK_FALSE(none.band_before_K);
    CHECK_FALSE(has(none.text, "A reading"));
    CHECK(none.pack_A.p90);
}

TEST_CASE("untold: it says where the current comes from, and of what") {
    CHECK(report(untold())->key == "load.full_throttle_A");
    CHECK(has(report(untold())->text, "at full throttle by the ESC's rating and what pilots"));
    CHECK(has(report(sized())->text, "at full throttle by the size:"));
    Setup s = rotor();
    CHECK(report(s)->key == "load.hover_A");
    CHECK(has(report(s)->text, "in hover by the ESC's rating:"));
    s.load.mass_kg = 5;
    s.load.rotor_diameter_m = 1.4;
    CHECK(report(s)->key == "load.hover_A");
    CHECK(has(report(s)->text, "in hover by the mass and the rotor:"));
}
