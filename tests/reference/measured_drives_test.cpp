// Does the drive in the model turn as fast, draw as much and lose as much as drives that others
// measured? Open data in data/, each file with its source; nothing in the core knows them but the
// priors whose basis says so: runs A and D gave the running loss, the inductance and, with the
// static runs, the no-load current; run B and the other half of the propellers gave nothing.
#include <catch2/catch.hpp>
#include <cmath>
#include <fstream>
#include <map>
#include <sstream>
#include <string>
#include <vector>

#include "advise/advise.hpp"
#include "core/drives.hpp"
#include "core/near.hpp"
#include "physics/constants.hpp"
#include "physics/propeller.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

using Row = std::map<std::string, std::string>;

std::vector<Row> read_csv(const std::string& name) {
    std::ifstream file(std::string(HOTBAND_SOURCE_DIR "/tests/reference/data/") + name);
    std::vector<Row> rows;
    std::vector<std::string> keys;
    for (std::string line; std::getline(file, line);) {
        if (line.empty() || line[0] == '#') {
            continue;
        }
        std::vector<std::string> cells;
        std::stringstream stream(line);
        for (std::string cell; std::getline(stream, cell, ',');) {
            cells.push_back(cell);
        }
        if (keys.empty()) {
            keys = cells;
            continue;
        }
        Row row;
        for (size_t i = 0; i < keys.size() && i < cells.size(); ++i) {
            row[keys[i]] = cells[i];
        }
        rows.push_back(row);
    }
    REQUIRE(rows.size() > 10);
    return rows;
}

double number(const Row& row, const char* key) { return std::stod(row.at(key)); }

std::vector<Row> run_of(const char* name) {
    std::vector<Row> rows;
    for (const Row& row : read_csv("drive_runs.csv")) {
        if (row.at("run") == name) {
            rows.push_back(row);
        }
    }
    return rows;
}

double shaft_W(const Row& r) { return number(r, "torque_Nm") * number(r, "rpm") * pi / 30; }
double input_W(const Row& r) { return number(r, "volt_V") * number(r, "pack_A"); }

// A laboratory supply of 16.0 V with 42 mOhm of leads, as the runs' own sag tells: four cells at
// 4.0 V that hardly empty. Told of the drive: Kv, supply, full-throttle current; the freewheel and
// a usual frequency of small ESCs, 24 kHz (not recorded).
Setup bench_supply(const std::vector<Row>& run, Freewheel freewheel) {
    Setup s;
    s.pack.cells = 4;
    s.pack.capacity_mAh = 100000;
    s.pack.start_pct = 77.6;
    s.pack.cell_resistance_mOhm = 9.5;
    s.pack.lead_length_cm = 10;
    s.esc.rating_A = 35;
    s.esc.pwm_Hz = 24000;
    s.esc.freewheel = freewheel;
    s.motor.kv_rpm_per_V = number(run.back(), "kv_rpm_per_V");
    s.load.diameter_cm = 17.8;
    s.load.points = {{100, number(run.back(), "pack_A")}};
    FlightPart part;
    part.throttle_pct = 50;
    part.seconds = 30;
    s.flight.parts = {part};
    constexpr double step_s = 4;  // as long as the runs' own steps
    for (const Row& row : run) {
        if (!row.at("duty_pct").empty()) {
            s.ask_holds.push_back({number(row, "duty_pct"), {}, step_s, {}, {}});
        }
    }
    return s;
}

struct Figures {
    double current_off = 0;  // worst, of the full-throttle current, from 30 % duty on
    double full_speed = 0, full_efficiency = 0,
           half_efficiency = 0;  // model minus or over measured
};

Figures compare(const std::vector<Row>& run, Freewheel freewheel) {
    const Report r = advise(bench_supply(run, freewheel), {.samples = 0});
    REQUIRE(r.asked_holds.size() == run.size());
    Figures out;
    for (size_t i = 0; i < run.size(); ++i) {
        const HoldReport& h = r.asked_holds[i];
        const double duty = number(run[i], "duty_pct");
        const double efficiency = h.system_efficiency - shaft_W(run[i]) / input_W(run[i]);
        if (duty >= 30) {
            out.current_off =
                std::max(out.current_off, std::abs(h.pack_A - number(run[i], "pack_A")) /
                                              number(run.back(), "pack_A"));
        }
        if (duty == 50) {
            out.half_efficiency = efficiency;
        }
        if (duty == 100) {
            out.full_efficiency = efficiency;
            out.full_speed = h.rpm / number(run[i], "rpm") - 1;
        }
    }
    return out;
}

}  // namespace

TEST_CASE("measured drives: told Kv, supply and full-throttle current, the rest follows") {
    const auto [name, freewheel] =
        GENERATE(table<const char*, Freewheel>({{"A", Freewheel::active},
                                                {"A", Freewheel::diode},
                                                {"D", Freewheel::diode},
                                                {"D", Freewheel::active}}));
    CAPTURE(name);
    const Figures f = compare(run_of(name), freewheel);
    CHECK(f.current_off < 0.06);
    CHECK(std::abs(f.full_speed) < 0.10);
    CHECK(std::abs(f.half_efficiency) < 0.08);
    CHECK(std::abs(f.full_efficiency) < 0.08);
}

TEST_CASE("measured drives: the first model's ideal motor would be far off") {
    // Without running loss, and with the no-load current and resistance that the trade's rules of
    // thumb give, the measured drive turns a quarter slower than the model: the check notices.
    const std::vector<Row> run = run_of("D");
    Setup s = bench_supply(run, Freewheel::diode);
    const std::vector<Prior> priors = make_priors(s);
    Plant p = fitted_plant(s, priors);
    p.u.running_loss = 0;
    p.load.torque_coefficient *= 0.7;
    const Operating o = operate(p, {.throttle = 1}, source_at(p, 0.776, 25, 50, 50));
    CHECK(o.omega * 30 / pi > 1.2 * number(run.back(), "rpm"));
}

TEST_CASE("measured drives: a diode drive turns faster than D V Kv at small duty, an active not") {
    const std::vector<Row> run = run_of("D");
    for (const Freewheel freewheel : {Freewheel::diode, Freewheel::active}) {
        const Report r = advise(bench_supply(run, freewheel), {.samples = 0});
        for (size_t i = 0; i < run.size(); ++i) {
            const double duty = number(run[i], "duty_pct");
            if (duty != 15 && duty != 20) {
                continue;
            }
            const double ideal =
                duty / 100 * number(run[i], "volt_V") * number(run[i], "kv_rpm_per_V");
            CHECK(number(run[i], "rpm") > ideal);
            CHECK((r.asked_holds[i].rpm > ideal) == (freewheel == Freewheel::diode));
        }
    }
}

TEST_CASE("measured drives: run B, which no prior has seen, told its currents") {
    // Its duties are not stated: each step is asked for by its current, and the speed follows.
    // Below 1.5 A the stand's log carries some 0.8 A that the propeller's cube law leaves no room
    // for.
    std::vector<Row> run = run_of("B");
    run.erase(run.begin(), run.begin() + 2);
    Setup s = bench_supply(run, Freewheel::active);
    s.load.points = {{100, 33.9}};  // of its sister, run D: the same propeller and Kv
    for (const Row& row : run) {
        s.ask_holds.push_back({60, number(row, "pack_A"), 4, {}, {}});
    }
    const Report r = advise(s, {.samples = 64});
    REQUIRE(r.asked_holds.size() == run.size());
    int inside = 0;
    for (size_t i = 0; i < run.size(); ++i) {
        const HoldReport& h = r.asked_holds[i];
        const double measured = number(run[i], "rpm");
        CAPTURE(measured, h.rpm);
        CHECK_THAT(h.pack_A, WithinRel(number(run[i], "pack_A"), 0.02));
        CHECK_THAT(h.rpm, WithinRel(measured, 0.10));
        inside += *h.rpm_band.p10 <= measured && measured <= *h.rpm_band.p90 ? 1 : 0;
    }
    CHECK(inside >= static_cast<int>(run.size()) / 2);
}

TEST_CASE("measured drives: static runs told their currents turn as the model says") {
    std::map<std::string, std::vector<Row>> runs;
    for (const Row& row : read_csv("static_runs_11V.csv")) {
        runs[row.at("motor") + "/" + row.at("propeller") + "/" + row.at("kv_rpm_per_V")].push_back(
            row);
    }
    CHECK(runs.size() == 104);
    struct Tally {
        double at, bound, sum = 0;
        int n = 0;
    };
    // mean error of the speed ratio at half, seven and nine tenths of the run's highest speed
    std::vector<Tally> tallies = {{0.5, 0.03}, {0.7, 0.02}, {0.9, 0.01}};
    for (const auto& [name, run] : runs) {
        Setup s;
        s.pack.cells = 3;
        s.pack.capacity_mAh = 100000;
        s.pack.start_pct = 8.5;  // 11.06 V at rest
        s.pack.reserve_pct = 0;
        s.pack.sag_floor_V = 2.5;
        s.pack.cell_resistance_mOhm = 3;
        s.esc.rating_A = 30;
        s.esc.pwm_Hz = 24000;
        s.esc.freewheel = Freewheel::active;
        s.motor.kv_rpm_per_V = number(run.front(), "kv_rpm_per_V");
        s.load.diameter_cm = 12.7;
        const double top = number(run.back(), "throttle_us") - 1000;
        for (const Row& row : run) {
            s.load.points.push_back(
                {100 * (number(row, "throttle_us") - 1000) / top, number(row, "pack_A")});
        }
        const Plant p = median_plant(s);
        const auto speed = [&](double throttle_pct) {
            const Source fresh = source_at(p, p.pack.start, p.pack.start_C, 50, 50);
            return operate(p, {.throttle = throttle_pct / 100}, fresh).omega;
        };
        const double highest = speed(100);
        for (Tally& t : tallies) {
            for (size_t i = 0; i + 1 < run.size(); ++i) {
                const auto measured = [&](size_t k) {
                    return number(run[k], "rpm_logged") / number(run.back(), "rpm_logged");
                };
                if (measured(i) <= t.at && t.at <= measured(i + 1)) {
                    const double share = (t.at - measured(i)) / (measured(i + 1) - measured(i));
                    const double a = speed(s.load.points[i].throttle_pct) / highest;
                    const double b = speed(s.load.points[i + 1].throttle_pct) / highest;
                    t.sum += (a + share * (b - a)) / t.at - 1;
                    ++t.n;
                }
            }
        }
    }
    for (const Tally& t : tallies) {
        CAPTURE(t.at, t.n, t.sum / t.n);
        CHECK(t.n > 90);
        CHECK(std::abs(t.sum / t.n) < t.bound);
    }
}

TEST_CASE("measured drives: a propeller's power coefficient by its pitch, on those not fitted to") {
    // sigma of the prior is 0.20; the mean of 81 must be within three of its standard errors
    double sum = 0;
    double squares = 0;
    const std::vector<Row> held = read_csv("propellers_held_out.csv");
    for (const Row& row : held) {
        const double off = std::log(
            number(row, "cp") /
            static_power_coefficient(number(row, "pitch_in") / number(row, "diameter_in"), 2));
        sum += off;
        squares += off * off;
    }
    const auto n = static_cast<double>(held.size());
    CHECK(std::abs(sum / n) < 0.067);
    CHECK(between(0.14, std::sqrt(squares / n), 0.25));
}
