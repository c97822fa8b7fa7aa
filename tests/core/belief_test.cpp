// What nobody told: the freewheel, the pack, the edges of the switches, the current. Are both kinds
// believed, do the priors follow class and label, and does no setup break the fits?
#include <Eigen/LU>

#include "advise/advise.hpp"
#include "advise/spread.hpp"
#include "advise/trial.hpp"
#include "drives.hpp"
#include "files.hpp"
#include "learn/fit.hpp"
#include "learn/freewheel_kinds.hpp"
#include "learn/reread.hpp"
#include "near.hpp"
#include "owners.hpp"
#include "physics/constants.hpp"
#include "physics/propeller.hpp"
#include "report/to_json.hpp"
#include "setup/parse.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

const Prior& row_of(const std::vector<Prior>& priors, double Unknowns::*slot) {
    return *std::find_if(priors.begin(), priors.end(),
                         [&](const Prior& row) { return row.slot == slot; });
}

double median_of(const Setup& s, double Unknowns::*slot) {
    const std::vector<Prior> priors = make_priors(s);
    const Prior& row = row_of(priors, slot);
    return row.median * row.to_si;
}

Setup open_drive() {
    Setup s = six_cell_drive();
    s.esc.freewheel = Freewheel::unknown;
    s.flight.parts = {part_of(65, 40), part_of(100, 6)};
    return s;
}

// Four holds of a drive whose freewheel is `kind`, every other unknown at its median, read without
// error.
Setup read_on(Freewheel kind) {
    Setup s = open_drive();
    Setup truth = s;
    truth.esc.freewheel = kind;
    const Plant p = median_plant(truth);
    Chance chance(1);
    for (const double throttle_pct : bench_throttles) {
        s.measured.push_back(measure(p, throttle_pct, 25, {.own_K = 0}, 0, chance));
    }
    return s;
}

}  // namespace

TEST_CASE("freewheel: both kinds are believed, the one that is told far more") {
    const Calibration c = calibrate(open_drive());
    REQUIRE(c.chance_active);
    CHECK(*c.chance_active == chance_of_active(open_drive()));
    CHECK(c.other.size() == 1);
    CHECK(c.other.front().told.esc.freewheel != c.told.esc.freewheel);
    const Draws draws = draw_plants(open_drive(), c, 256);
    int active = 0;
    for (const Plant& p : draws.plants) {
        active += p.freewheel == Freewheel::active ? 1 : 0;
    }
    // shared out by weight: to within a draw in a hundred
    CHECK_THAT(active / 256.0, WithinAbs(*c.chance_active, 0.02));
    Setup told = open_drive();
    told.esc.freewheel = Freewheel::diode;
    CHECK_THAT(calibrate(told).chance_active.value_or(0), WithinAbs(0.05, 1e-12));
    CHECK(median_plant(told).freewheel == Freewheel::diode);
    const Draws doubted = draw_plants(told, calibrate(told), 256);
    int otherwise = 0;
    for (const Plant& p : doubted.plants) {
        otherwise += p.freewheel == Freewheel::active ? 1 : 0;
    }
    CHECK(between(11, otherwise, 15));  // a twentieth of 256 is 12.8
    told.esc.freewheel = Freewheel::unknown;
    told.esc.drive = Drive::sinusoidal;
    CHECK_FALSE(calibrate(told).chance_active);  // it has none
}

TEST_CASE("freewheel: readings move its chance towards what is there") {
    const double before = chance_of_active(open_drive());
    const double read_active = *calibrate(read_on(Freewheel::active)).chance_active;
    const double read_diode = *calibrate(read_on(Freewheel::diode)).chance_active;
    CAPTURE(before, read_active, read_diode);
    CHECK(read_active > before + 0.05);
    CHECK(read_diode < before - 0.05);
}

TEST_CASE("freewheel: readings speak against one that was told wrongly, and for one told rightly") {
    const auto chance = [](Freewheel there, Freewheel told) {
        Setup s = read_on(there);
        s.esc.freewheel = told;
        return *calibrate(s).chance_active;
    };
    const double wrongly = chance(Freewheel::active, Freewheel::diode);
    const double rightly = chance(Freewheel::diode, Freewheel::diode);
    CAPTURE(wrongly, rightly);
    CHECK(wrongly > 0.06);
    CHECK(rightly < 0.05);
    CHECK(chance(Freewheel::diode, Freewheel::active) < 0.94);
    CHECK(chance(Freewheel::active, Freewheel::active) > 0.95);
}

TEST_CASE("freewheel: the band of an open one holds both told ones' middles") {
    const auto peak = [](Freewheel kind) {
        Setup s = open_drive();
        s.esc.freewheel = kind;
        return advise(s, {.samples = 64}).esc.peak_C;
    };
    const Band open = peak(Freewheel::unknown);
    CHECK(*open.p10 < peak(Freewheel::active).p50);
    CHECK(*open.p90 > peak(Freewheel::diode).p50);
}

TEST_CASE("edges: tens of ns in a small ESC, several hundred at 120-200 A and high voltage (P)") {
    const auto edge = [](double rating_A, double cells) {
        return median_of(at_rating(rating_A, cells), &Unknowns::transition);
    };
    CHECK(between(20e-9, edge(15, 3), 80e-9));
    CHECK(between(250e-9, edge(120, 8), 600e-9));
    CHECK(between(500e-9, edge(180, 14), 1000e-9));
    CHECK(edge(60, 6) > edge(40, 6));
    CHECK(edge(60, 12) > edge(60, 6));
    // 8-30 nC from 0.1-1 A, a number of switches that differs by 2.5, each even in its logarithm;
    // and what the formula leaves out (reference: edge_ngspice)
    const std::vector<Prior> priors = make_priors(open_drive());
    const double ranges = std::hypot(std::log(30.0 / 8), std::log(10.0), std::log(2.5));
    CHECK_THAT(row_of(priors, &Unknowns::transition).spread,
               WithinAbs(std::hypot(ranges / std::sqrt(12.0), 0.39), 0.01));
}

TEST_CASE("pack: a better label is less resistance, and the told current bounds it") {
    Setup s = open_drive();
    s.load.full_throttle_A = 40;
    const double unlabelled = median_of(s, &Unknowns::cell_resistance);
    s.pack.label_C = 25;
    const double ordinary = median_of(s, &Unknowns::cell_resistance);
    s.pack.label_C = 65;
    const double good = median_of(s, &Unknowns::cell_resistance);
    CHECK(good < unlabelled);
    CHECK(unlabelled < ordinary);
    // chargers show 4-5 mOhm Ah for the cells of packs sold for 40-65 C, 1-2 mOhm at 5 Ah (P)
    CHECK(between(0.7e-3, good, 1.4e-3));
    // 100 C drawn from a pack: its cells cannot have the resistance of the law
    s.pack.label_C = {};
    s.pack.capacity_mAh = 1000;
    s.esc.rating_A = 150;
    s.load.full_throttle_A = 100;
    const double hard = median_of(s, &Unknowns::cell_resistance);
    CHECK_THAT(hard, WithinRel(0.5 * (4.2 - 3.3) / 100, 1e-9));
}

TEST_CASE("pack: three seconds under the floor are a dip, longer is the end") {
    Setup s = open_drive();
    s.pack.cell_resistance_mOhm = 4.2;
    s.pack.sag_floor_V = 3.6;
    const Plant p = median_plant(s);
    const DemandMap full = map_demand(p, {.throttle = 1});
    const DemandMap cruise = map_demand(p, {.throttle = 0.5});
    const auto fly = [&](double burst_s) {
        return march(p, {{&cruise, 20, nullptr}, {&full, burst_s, nullptr}},
                     {25, p.pack.start, p.pack.start_C});
    };
    const March brief = fly(0.9 * most_dip_s);
    const March longer = fly(1.1 * most_dip_s);
    CHECK(brief.dips);
    CHECK(longer.ended_by == EndedBy::sag);
    CHECK(brief.seconds > longer.seconds + 30);
}

TEST_CASE(
    "untold current: rating, frequency and mix alone are a setup, size and a reading narrow it") {
    Setup s = open_drive();
    s.load = {};
    const Report wide = advise(s, {.samples = 64});
    REQUIRE(wide.untold_current);
    CHECK(wide.untold_current->key == "load.full_throttle_A");
    // 55-90 % of the rating (P)
    CHECK(between(0.50 * 150, *wide.untold_current->pack_A.p10, 0.70 * 150));
    CHECK(between(0.75 * 150, *wide.untold_current->pack_A.p90, 1.05 * 150));
    const auto listed = [](const Report& r, const std::string& key) {
        return std::any_of(r.assumptions.begin(), r.assumptions.end(), [&](const Assumption& a) {
            return a.key == key && a.low < a.value && a.value < a.high;
        });
    };
    CHECK(listed(wide, "load.full_throttle_A"));
    s.motor.kv_rpm_per_V = 400;
    s.load.diameter_cm = 45;
    s.load.pitch_cm = 25;
    const Report sized = advise(s, {.samples = 64});
    REQUIRE(sized.untold_current);
    CHECK(listed(sized, "load.full_throttle_A"));
    CHECK(listed(sized, "load.power_coefficient"));
    s.load.full_throttle_A = sized.untold_current->pack_A.p50;
    const Report told = advise(s, {.samples = 64});
    CHECK_FALSE(told.untold_current);
    CHECK_FALSE(listed(told, "load.full_throttle_A"));
    const auto width = [](const Report& r) { return *r.esc.peak_C.p90 - *r.esc.peak_C.p10; };
    CHECK(width(told) < width(sized));
    s.load = {};
    s.load.full_throttle_A = wide.untold_current->pack_A.p50;
    CHECK(width(advise(s, {.samples = 64})) < width(wide));
}

TEST_CASE("untold current: a propeller's size gives the power its coefficient says") {
    Setup s = open_drive();
    s.motor.kv_rpm_per_V = 400;
    s.load.full_throttle_A = {};
    s.load.diameter_cm = 45;
    s.load.pitch_cm = 25;
    const Plant p = median_plant(s);
    const Operating o = operate(p, {.throttle = 1}, source_at(p, 1, 25, 50, 50));
    const double n = o.omega / (2 * pi);
    const double expected =
        propeller_power(static_power_coefficient(25.0 / 45, 2), p.air_density, n, 0.45);
    CHECK_THAT(o.shaft_W, WithinRel(expected, 1e-6));
    s.load.blades = 3;
    CHECK(operate(median_plant(s), {.throttle = 1}, source_at(p, 1, 25, 50, 50)).i_pack > o.i_pack);
}

TEST_CASE("told speed: it pins Kv, resistance and running loss") {
    Setup s = open_drive();
    s.load.full_throttle_A = {};
    s.load.points = {{50, 22}, {100, 110}};
    const auto spread_of = [](const Calibration& c, double Unknowns::*slot) {
        for (size_t i = 0; i < c.belief.priors.size(); ++i) {
            if (c.belief.priors[i].slot == slot) {
                return c.belief.spread(i);
            }
        }
        return 0.0;
    };
    const Plant p = median_plant(s);
    const auto rpm = [&](double throttle) {
        return operate(p, {.throttle = throttle}, source_at(p, 1, 25, 50, 50)).omega * 30 / pi;
    };
    Setup told = s;
    told.load.points[0].rpm = 1.1 * rpm(0.5);
    told.load.points[1].rpm = 1.1 * rpm(1);
    const Calibration c = calibrate(told);
    REQUIRE(c.readings.size() == 2);
    CHECK(c.converged);
    CHECK(report_learning(told, c, middle_plant(told, c.belief), {}, Scale::celsius)
              .text.find("Learned from the speeds told with the currents.") == 0);
    CHECK(spread_of(c, &Unknowns::kv) < 0.7);
    // a tenth faster than the middle: mostly a higher Kv
    const Plant learned = middle_plant(told, c.belief);
    CHECK(learned.u.kv > 1.05 * p.u.kv);
    const double back =
        operate(learned, {.throttle = 1}, source_at(learned, 1, 25, 50, 50)).omega * 30 / pi;
    CHECK_THAT(back, WithinRel(1.1 * rpm(1), 0.03));
}

TEST_CASE("a fit without a finite answer teaches nothing and says so") {
    Setup s =
        std::get<Setup>(parse_setup(text_of_file("tests/hostile/scatters_beyond_reading.json")));
    const Calibration found = calibrate(s);
    CHECK(found.failed);
    CHECK(found.widened > most_widened);
    CHECK(found.predicted.empty());
    for (size_t i = 0; i < found.belief.priors.size(); ++i) {
        CHECK((found.belief.spread(i) == 1 || found.belief.priors[i].spread == 0));
    }
    const std::string said =
        report_learning(s, found, middle_plant(s, found.belief), {}, Scale::celsius).text;
    CHECK(said.find("times more than their sensors should, whatever is assumed") !=
          std::string::npos);
    // A fit that fails all the same predicts nothing, not even for a trace.
    s.measured[0].trace = {{0, 25}, {60, 40}, {120, 46}};
    Setup unread = s;
    unread.measured.clear();
    Calibration failed = calibrate(unread);
    failed.readings = readings_of(s);
    failed.failed = true;
    const Plant p = fitted_plant(s, failed.belief.priors);
    const Learned learned = report_learning(s, failed, p, {}, Scale::celsius);
    CHECK(learned.text.find("Nothing learned") != std::string::npos);
    for (const RowFit& fit : learned.fit) {
        CHECK_FALSE(fit.trace_rms_K.has_value());
    }
}

TEST_CASE("freewheel: a kind is weighed by how well it explains the readings") {
    // Against the likelihood under either kind, averaged over plain draws of the priors. The
    // readings' errors are those of the fit, which may doubt a row; the loss is Huber's.
    constexpr double prior = 0.3;
    // The 64 draws that weigh a kind have a standard error of 0.021 here (five shifts of the
    // sequence), the 4096 of this test one of 0.010.
    constexpr double two_errors = 2 * 0.023;
    Setup s = read_on(Freewheel::active);
    s.esc.freewheel_sure = true;
    for (MeasuredRow& row : s.measured) {
        row.esc_mean_C = std::nullopt;
    }
    const auto calibrated = [&](Freewheel kind) {
        s.esc.freewheel = kind;
        return calibrate(s);
    };
    const auto likelihood = [&](const Calibration& c) {
        const std::vector<Prior> priors = make_priors(c.told);
        constexpr int count = 4096;
        const std::vector<double> z = normal_draws(count, static_cast<int>(priors.size()));
        double sum = 0;
        for (size_t k = 0; k < count; ++k) {
            const auto draw = std::span(z).subspan(k * priors.size(), priors.size());
            double cost = 0;
            for (size_t i = 0; i < c.readings.size(); ++i) {
                // one reading a row: they err independently
                const Reading& r = c.readings[i];
                cost += huber_loss((predict(c.told, priors, {r}, draw).front() - r.measured) /
                                   c.fit->noise.blocks()[i](0, 0));
            }
            sum += std::exp(-0.5 * cost);
        }
        return sum / std::exp(c.fit->noise.log_determinant());
    };
    for (const size_t rows : {size_t{2}, size_t{1}}) {
        s.measured.resize(rows);
        const Calibration active = calibrated(Freewheel::active);
        const Calibration diode = calibrated(Freewheel::diode);
        REQUIRE(active.readings.size() == rows);
        const double odds = prior / (1 - prior) * likelihood(active) / likelihood(diode);
        CAPTURE(rows);
        CHECK(odds / (1 + odds) > prior + 0.2);
        CHECK_THAT(weighed_chance(prior, active, diode), WithinAbs(odds / (1 + odds), two_errors));
        CHECK_THAT(weighed_chance(1 - prior, diode, active), WithinAbs(1 / (1 + odds), two_errors));
    }
    const Calibration active = calibrated(Freewheel::active);
    const Calibration diode = calibrated(Freewheel::diode);
    // A kind with which the readings make no sense is not the one.
    Calibration senseless = diode;
    senseless.failed = true;
    CHECK(weighed_chance(prior, active, senseless) == 1);
    CHECK(weighed_chance(prior, senseless, active) == 0);
    // Without any that makes sense the chance is what it was.
    Calibration neither = active;
    neither.failed = true;
    CHECK_THAT(weighed_chance(prior, senseless, neither), WithinAbs(prior, 1e-12));
    CHECK_THAT(weighed_chance(prior, neither, senseless), WithinAbs(prior, 1e-12));
    // Nor is one whose readings come out as no number, wherever it is tried.
    Calibration no_number = active;
    no_number.readings.front().measured = std::nan("");
    CHECK(weighed_chance(prior, no_number, diode) == 0);
    CHECK(weighed_chance(prior, diode, no_number) == 1);
    CHECK(weighed_chance(prior, no_number, senseless) == prior);
}

TEST_CASE("freewheel: draws are learned anew where a change weighs the kinds otherwise") {
    const Setup s = read_on(Freewheel::active);
    Calibration c = calibrate(s);
    c.chance_active = 0.8;
    // From odds of 4 the chance of the likelier kind goes to 0.79 or 0.81.
    const auto toward = [](double log_odds) {
        Reread reread;
        reread.evidence = log_odds;
        return reread;
    };
    const double down = std::log(0.79 / 0.21 / 4);
    const double up = std::log(0.81 / 0.19 / 4);
    CHECK_FALSE(weighed_otherwise(c, toward(0.98 * up), {}));
    CHECK(weighed_otherwise(c, toward(1.02 * up), {}));
    CHECK_FALSE(weighed_otherwise(c, toward(0.98 * down), {}));
    CHECK(weighed_otherwise(c, toward(1.02 * down), {}));
    // What speaks for both weighs nothing; for the other alone, the other way.
    CHECK_FALSE(weighed_otherwise(c, toward(up + 2), toward(2.001)));
    CHECK(weighed_otherwise(c, {}, toward(-1.02 * up)));
    CHECK_FALSE(weighed_otherwise(c, {}, toward(-0.98 * up)));
    // The likelier kind is the one that is said to be.
    c.chance_active = 0.2;
    CHECK(weighed_otherwise(c, toward(1.02 * up), {}));
    CHECK_FALSE(weighed_otherwise(c, toward(0.98 * up), {}));
    c.chance_active = std::nullopt;
    CHECK_FALSE(weighed_otherwise(c, toward(5), {}));
    // Never where it is too much work.
    c.chance_active = 0.8;
    c.work = 19;
    CHECK(weighed_otherwise(c, toward(up + 1), {}));
    c.work = 20;
    CHECK_FALSE(weighed_otherwise(c, toward(up + 1), {}));
    c.work = 1;
    c.spent = 8999;
    CHECK(weighed_otherwise(c, toward(up + 1), {}));
    c.spent = 9000;
    CHECK_FALSE(weighed_otherwise(c, toward(up + 1), {}));
}

TEST_CASE("reread: the evidence is that of the readings where the fit is moved to") {
    Setup s = read_on(Freewheel::diode);
    s.esc.freewheel = Freewheel::diode;
    s.measured.at(1).esc_peak_C = *s.measured.at(1).esc_peak_C + 6;
    const Calibration before = calibrate(s);
    Setup shorter = s;
    shorter.pack.lead_length_cm = 18.5;
    const Reread moved = reread(before, shorter);
    CAPTURE(moved.most_K);
    REQUIRE_FALSE(moved.by.empty());
    const Calibration anew = calibrate(shorter);
    const double fitted = 0.5 * (before.fit->minimum.cost - anew.fit->minimum.cost);
    CHECK(std::abs(fitted) > 0.01);
    CHECK_THAT(moved.evidence, WithinAbs(fitted, 0.1 * std::abs(fitted)));
}

TEST_CASE("reread: readings of a changed setup move the middle as a fit of it does") {
    Setup s = read_on(Freewheel::diode);
    s.esc.freewheel = Freewheel::diode;
    const Calibration before = calibrate(s);
    // Rows that say how they were taken read the same.
    const Reread same = reread(before, at_frequency(s, 16000));
    CHECK(same.by.empty());
    CHECK(same.most_K < 0.02);
    // Shorter leads: a little less ripple, so that the same heat is more of the ESC's own.
    Setup shorter = s;
    shorter.pack.lead_length_cm = 18.5;
    const Reread moved = reread(before, shorter);
    CAPTURE(moved.most_K);
    REQUIRE_FALSE(moved.by.empty());
    CHECK(between(0.15, moved.most_K, 0.25));
    CHECK_FALSE(moved.another);
    const Calibration anew = calibrate(shorter);
    const auto peak = [](const Setup& of, const Belief& b) {
        return run_flight(middle_plant(of, b), of.flight).march.peak_board;
    };
    const double fitted = peak(shorter, anew.belief);
    CHECK_THAT(peak(shorter, carry(s, before, shorter).belief), WithinAbs(fitted, 0.2));
    CHECK(std::abs(peak(shorter, carried_to(shorter, before.belief)) - fitted) >
          std::abs(peak(shorter, carry(s, before, shorter).belief) - fitted));
    // Out of a closed bay the same readings tell of another ESC: they are fitted anew.
    Setup closed = s;
    closed.air.cooling = Cooling::closed;
    const Calibration in_bay = calibrate(closed);
    CHECK(reread(in_bay, s).another);
    CHECK(carry(closed, in_bay, s).anew.has_value());
    Setup much_shorter = s;
    much_shorter.pack.lead_length_cm = 17.5;
    CHECK(between(0.25, reread(before, much_shorter).most_K, 0.4));
    CHECK(reread(before, much_shorter).another);
    CHECK_THAT(peak(s, carry(closed, in_bay, s).belief), WithinAbs(peak(s, before.belief), 1e-9));
}
