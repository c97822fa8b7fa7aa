// Does a logger's file come out sound, and are its holds the ones that were flown? Logs are
// generated here: holds with ramps between them, a board that follows by one exponential, seeded
// noise, and damage put in at known rows. Expected values are the generator's own, before noise and
// damage.
#if __has_include(<catch2/catch.hpp>)
#include <catch2/catch.hpp>
#else
#include <catch2/catch_all.hpp>
#endif

#include <cmath>
#include <cstdint>
#include <limits>

#include "learn/belief.hpp"
#include "learn/history.hpp"
#include "learn/steady_holds.hpp"
#include "near.hpp"
#include "report/door.hpp"
#include "setup/json.hpp"
#include "setup/parse.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

/// splitmix64 (Steele, Lea and Flood 2014; constants from memory), and from it uniform and normal
/// numbers (Box and Muller 1958).
class Noise {
 public:
    explicit Noise(std::uint64_t seed) : state_(seed) {}
    double unit() {
        std::uint64_t z = (state_ += 0x9E3779B97F4A7C15);
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EB;
        return static_cast<double>((z ^ (z >> 31)) >> 11) * 0x1p-53;
    }
    double normal() {
        return std::sqrt(-2 * std::log(1 - unit())) * std::cos(6.283185307179586 * unit());
    }

 private:
    std::uint64_t state_;
};

struct Part {
    double throttle_pct, seconds;
};

/// What the generator flew.
struct Flown {
    Log log;                     // with noise
    std::vector<double> true_C;  // without
};

/// Throttle parts with 1 s ramps between them at `rate` rows a second. Current 90 A (throttle)^3 on
/// a pack that sags from 25 to 22 V; the board goes to 25 deg C + 0.8 K/A with a time constant of
/// 60 s. Noise: 0.2 % throttle, 0.5 A, 0.05 V, 0.4 K.
Flown fly_parts(const std::vector<Part>& parts, double rate, std::uint64_t seed,
                double start_C = 25) {
    Noise noise(seed);
    Flown out;
    double t = 0;
    double esc = start_C;
    double throttle = 0;
    for (const Part& part : parts) {
        const double from = throttle;
        const auto rows = static_cast<int>(std::lround(part.seconds * rate));
        for (int i = 0; i < rows; ++i) {
            const double into = i / rate;
            throttle = into < 1 ? from + (part.throttle_pct - from) * into : part.throttle_pct;
            const double current = 90 * std::pow(throttle / 100, 3);
            esc += (25 + 0.8 * current - esc) * (1 - std::exp(-1 / rate / 60));
            out.log.time_s.push_back(t);
            out.log.throttle_pct.push_back(throttle + 0.2 * noise.normal());
            out.log.current_A.push_back(current + 0.5 * noise.normal());
            out.log.voltage_V.push_back(25 - 3 * t / 600 + 0.05 * noise.normal());
            out.log.esc_C.push_back(esc + 0.4 * noise.normal());
            out.true_C.push_back(esc);
            t += 1 / rate;
        }
    }
    return out;
}

const std::vector<Part> three_holds = {{0, 10}, {40, 60}, {70, 90}, {0, 30}, {100, 25}, {0, 15}};

std::vector<LoggedHold> holds_of(const Log& log, const HoldOptions& options = {}) {
    return find_holds(clean_log(log), options);
}

const DamagedRows* find(const CleanLog& log, Damage reason) {
    for (const DamagedRows& d : log.damaged) {
        if (d.reason == reason) {
            return &d;
        }
    }
    return nullptr;
}

// Means over tens of readings with the noise above, and a step of half a second to either side.
constexpr double throttle_tolerance_pct = 0.3;
constexpr double current_tolerance_rel = 0.02;
constexpr double length_tolerance_s = 2;
constexpr double mean_tolerance_K = 0.5;
constexpr double peak_tolerance_K = 1.2;  // of some 100 medians the highest has the luckiest noise

void check_three(const std::vector<LoggedHold>& holds, const Flown& flown, double rate) {
    REQUIRE(holds.size() == 3);
    const double starts[] = {10, 70, 190};
    const Part parts[] = {{40, 60}, {70, 90}, {100, 25}};
    for (size_t k = 0; k < 3; ++k) {
        CAPTURE(k);
        const MeasuredRow& row = holds[k].row;
        CHECK(holds[k].throttle_told);
        CHECK_THAT(row.throttle_pct, WithinAbs(parts[k].throttle_pct, throttle_tolerance_pct));
        const double current = 90 * std::pow(parts[k].throttle_pct / 100, 3);
        CHECK_THAT(*row.pack_A, WithinRel(current, current_tolerance_rel));
        CHECK_THAT(holds[k].start_s, WithinAbs(starts[k], length_tolerance_s));
        CHECK_THAT(*row.hold_s, WithinAbs(parts[k].seconds, length_tolerance_s));
        const auto first = static_cast<size_t>(std::lround(holds[k].start_s * rate));
        const auto last = static_cast<size_t>(std::lround(holds[k].end_s * rate));
        double sum = 0;
        double peak = -100;
        for (size_t i = first; i <= last; ++i) {
            sum += flown.true_C[i];
            peak = std::max(peak, flown.true_C[i]);
        }
        CHECK_THAT(*row.esc_mean_C,
                   WithinAbs(sum / static_cast<double>(last - first + 1), mean_tolerance_K));
        CHECK_THAT(*row.esc_peak_C, WithinAbs(peak, peak_tolerance_K));
        CHECK_THAT(*row.start_C, WithinAbs(flown.true_C[first], peak_tolerance_K));
        CHECK(row.trace.size() >= 10);
        CHECK(row.trace.size() <= 40);
        for (size_t i = 0; i < row.trace.size(); ++i) {
            const auto [at, celsius] = row.trace[i];
            CHECK((at >= 0 && at <= *row.hold_s));
            if (i > 0) {
                CHECK(at > row.trace[i - 1][0]);
            }
            const auto truth = flown.true_C[first + static_cast<size_t>(std::lround(at * rate))];
            CHECK_THAT(celsius, WithinAbs(truth, peak_tolerance_K));
        }
    }
}

/// The log as a row-major table of five columns.
std::vector<double> table_of(const Log& log) {
    std::vector<double> table;
    for (size_t i = 0; i < log.time_s.size(); ++i) {
        table.insert(table.end(), {log.time_s[i], log.throttle_pct[i], log.current_A[i],
                                   log.voltage_V[i], log.esc_C[i]});
    }
    return table;
}

const std::string all_columns =
    R"("columns":{"time_s":0,"throttle_pct":1,"current_A":2,"voltage_V":3,"esc_C":4})";

const std::string setup_text =
    R"({"hotband":1,"pack":{"cells":6,"capacity_mAh":5000},"esc":{"rating_A":100,"pwm_Hz":16000},)"
    R"("motor":{"kv_rpm_per_V":500},"load":{"full_throttle_A":90},)"
    R"("flight":{"parts":[{"throttle_pct":60,"seconds":40}]}})";

Json answer_of(const Result<std::string>& result) {
    const auto* text = std::get_if<std::string>(&result);
    REQUIRE(text != nullptr);
    Problems problems;
    const std::optional<Json> json = parse_json(*text, problems);
    REQUIRE(json);
    return *json;
}

std::vector<std::string> paths_of(const Result<std::string>& result) {
    std::vector<std::string> paths;
    if (const auto* problems = std::get_if<Problems>(&result)) {
        for (const Problem& p : *problems) {
            paths.push_back(p.path);
        }
    }
    return paths;
}

double number(const Json& json, std::string_view key) { return *find(json, key)->as<double>(); }
const JsonList& list(const Json& json, std::string_view key) {
    return *find(json, key)->as<JsonList>();
}

Setup setup_of(const std::string& text) {
    const Result<Setup> result = parse_setup(text);
    REQUIRE(std::holds_alternative<Setup>(result));
    return *std::get_if<Setup>(&result);
}

}  // namespace

TEST_CASE("log: the holds that were flown are found at any rate of rows", "[log]") {
    for (const double rate : {1.0, 2.0, 5.0, 10.0, 100.0}) {
        CAPTURE(rate);
        const Flown flown = fly_parts(three_holds, rate, 20240501);
        const CleanLog clean = clean_log(flown.log);
        CHECK(clean.rows == flown.log.time_s.size());
        CHECK(clean.used == clean.rows);
        CHECK(clean.damaged.empty());
        CHECK(clean.sessions.size() == 1);
        CHECK_THAT(clean.row_s, WithinRel(1 / rate, 1e-6));
        check_three(find_holds(clean), flown, rate);
    }
}

TEST_CASE("log: what is shorter than the least hold is none", "[log]") {
    const Flown flown = fly_parts({{0, 10}, {50, 17}, {0, 10}, {60, 24}, {0, 10}}, 10, 7);
    const std::vector<LoggedHold> holds = holds_of(flown.log);
    REQUIRE(holds.size() == 1);
    CHECK_THAT(holds[0].row.throttle_pct, WithinAbs(60, throttle_tolerance_pct));
    CHECK(*holds[0].row.hold_s >= 20);
}

TEST_CASE("log: no hold wanders by more than its tolerance", "[log]") {
    // A stick that is never still: a sine of 10 % about 55 % over 40 s, and a slow ramp of 1 % in 2
    // s.
    Log log;
    for (int i = 0; i < 3000; ++i) {
        const double t = 0.1 * i;
        log.time_s.push_back(t);
        log.throttle_pct.push_back(t < 200 ? 55 + 10 * std::sin(t * 6.283185307179586 / 40)
                                           : 40 + 0.5 * (t - 200));
        log.current_A.push_back(30);
        log.esc_C.push_back(40);
    }
    CHECK(holds_of(log).empty());
}

TEST_CASE("log: spikes break no hold, and each one of the temperature is named", "[log]") {
    const double rate = 10;
    Flown flown = fly_parts(three_holds, rate, 20240502);
    Noise noise(99);
    std::vector<size_t> esc_rows;
    for (size_t i = 40; i + 40 < flown.log.time_s.size(); i += 97) {
        const size_t kind = static_cast<size_t>(noise.unit() * 3);
        if (kind == 0) {
            flown.log.esc_C[i] += noise.unit() < 0.5 ? 60 : -40;
            esc_rows.push_back(i);
        } else if (kind == 1) {
            flown.log.throttle_pct[i] = 100 * noise.unit();
        } else {
            flown.log.current_A[i] = 600;
        }
    }
    REQUIRE(esc_rows.size() >= 5);
    const CleanLog clean = clean_log(flown.log);
    const DamagedRows* spikes = find(clean, Damage::esc_spike);
    REQUIRE(spikes != nullptr);
    CHECK(spikes->count == esc_rows.size());
    CHECK(spikes->first_rows == std::vector<size_t>(esc_rows.begin(), esc_rows.begin() + 5));
    check_three(find_holds(clean), flown, rate);
}

TEST_CASE("log: a spike in a log of one row a second is taken out", "[log]") {
    Flown flown = fly_parts(three_holds, 1, 20240503);
    flown.log.esc_C[100] = 140;
    flown.log.esc_C[101] = 139;
    flown.log.esc_C[229] = 8;  // the file's last number, cut off
    const CleanLog clean = clean_log(flown.log);
    const DamagedRows* spikes = find(clean, Damage::esc_spike);
    REQUIRE(spikes != nullptr);
    CHECK(spikes->first_rows == std::vector<size_t>{100, 101, 229});
    CHECK(std::isnan(clean.samples[100].esc_C));
    check_three(find_holds(clean), flown, 1);
}

TEST_CASE("log: a fast real rise is no spike", "[log]") {
    // 4 K a second for 20 s from rest, and down again at half that: more than a board does.
    Log log;
    for (int i = 0; i < 120; ++i) {
        log.time_s.push_back(i);
        log.esc_C.push_back(i < 40   ? 25
                            : i < 60 ? 25 + 4.0 * (i - 40)
                                     : 105 - 2.0 * (i - 60) / 1.5);
    }
    CHECK(clean_log(log).damaged.empty());
}

TEST_CASE("log: a gap ends a hold, a missing row does not", "[log]") {
    const Flown whole = fly_parts({{0, 10}, {50, 100}, {0, 10}}, 10, 11);
    Log log;
    for (size_t i = 0; i < whole.log.time_s.size(); ++i) {
        const double t = whole.log.time_s[i];
        const bool gap = t >= 60 && t < 68;      // 8 s: splits
        const bool missing = t >= 35 && t < 37;  // 2 s: does not
        if (gap || missing) {
            continue;
        }
        log.time_s.push_back(t);
        log.throttle_pct.push_back(whole.log.throttle_pct[i]);
        log.current_A.push_back(whole.log.current_A[i]);
        log.esc_C.push_back(whole.log.esc_C[i]);
    }
    const std::vector<LoggedHold> holds = holds_of(log);
    REQUIRE(holds.size() == 2);
    CHECK_THAT(*holds[0].row.hold_s, WithinAbs(50, length_tolerance_s));
    CHECK_THAT(*holds[1].row.hold_s, WithinAbs(42, length_tolerance_s));
}

TEST_CASE("log: a clock that starts anew opens a session", "[log]") {
    const double rate = 5;
    const Flown one = fly_parts(three_holds, rate, 21);
    const Flown two = fly_parts(three_holds, rate, 22);
    Log log = one.log;
    const auto join = [](std::vector<double>& a, const std::vector<double>& b) {
        a.insert(a.end(), b.begin(), b.end());
    };
    join(log.time_s, two.log.time_s);
    join(log.throttle_pct, two.log.throttle_pct);
    join(log.current_A, two.log.current_A);
    join(log.voltage_V, two.log.voltage_V);
    join(log.esc_C, two.log.esc_C);
    const CleanLog clean = clean_log(log);
    REQUIRE(clean.sessions.size() == 2);
    CHECK(clean.damaged.empty());
    const std::vector<LoggedHold> holds = find_holds(clean);
    REQUIRE(holds.size() == 6);
    check_three({holds.begin(), holds.begin() + 3}, one, rate);
    check_three({holds.begin() + 3, holds.end()}, two, rate);
    CHECK(holds[3].session == 1);
    CHECK(holds[3].first_row >= one.log.time_s.size());
}

TEST_CASE("log: times that jump are left out and named, the clock goes on", "[log]") {
    const double rate = 10;
    Flown flown = fly_parts(three_holds, rate, 31);
    flown.log.time_s[0] = 9e6;     // the first row
    flown.log.time_s[300] = 0.25;  // back
    flown.log.time_s[301] = 0.75;
    flown.log.time_s[900] = 5e5;  // and far ahead
    flown.log.time_s[1200] = none;
    flown.log.time_s[1201] = std::numeric_limits<double>::infinity();
    const CleanLog clean = clean_log(flown.log);
    const DamagedRows* jumps = find(clean, Damage::time_jumps);
    REQUIRE(jumps != nullptr);
    CHECK(jumps->first_rows == std::vector<size_t>{0, 300, 301, 900});
    const DamagedRows* missing = find(clean, Damage::no_time);
    REQUIRE(missing != nullptr);
    CHECK(missing->first_rows == std::vector<size_t>{1200, 1201});
    CHECK(clean.used == clean.rows - 6);
    CHECK(clean.sessions.size() == 1);
    check_three(find_holds(clean), flown, rate);
}

TEST_CASE("log: a clock coarser than the rows repeats its times", "[log]") {
    const double rate = 10;
    Flown flown = fly_parts(three_holds, rate, 41);
    for (double& t : flown.log.time_s) {
        t = std::floor(t);
    }
    const CleanLog clean = clean_log(flown.log);
    CHECK(clean.repeated_times == clean.rows - 230);
    CHECK(clean.row_s == 1);
    CHECK(clean.damaged.empty());
    check_three(find_holds(clean), flown, rate);
}

TEST_CASE("log: values that cannot be true are left out by reason", "[log]") {
    Flown flown = fly_parts(three_holds, 10, 51);
    flown.log.throttle_pct[200] = 65535;
    flown.log.current_A[201] = 1e9;
    flown.log.current_A[202] = -std::numeric_limits<double>::infinity();
    flown.log.voltage_V[203] = -3;
    flown.log.esc_C[204] = 999;
    const CleanLog clean = clean_log(flown.log);
    const std::pair<Damage, std::vector<size_t>> expected[] = {{Damage::throttle_off, {200}},
                                                               {Damage::current_off, {201, 202}},
                                                               {Damage::voltage_off, {203}},
                                                               {Damage::esc_off, {204}}};
    CHECK(clean.damaged.size() == 4);
    for (const auto& [reason, rows] : expected) {
        const DamagedRows* found = find(clean, reason);
        REQUIRE(found != nullptr);
        CHECK(found->first_rows == rows);
        CHECK_FALSE(damage_text(reason).empty());
    }
    CHECK(clean.used == clean.rows);
    check_three(find_holds(clean), flown, 10);
}

TEST_CASE("log: rows without any value are named", "[log]") {
    Flown flown = fly_parts(three_holds, 5, 61);
    for (auto* column :
         {&flown.log.throttle_pct, &flown.log.current_A, &flown.log.voltage_V, &flown.log.esc_C}) {
        (*column)[70] = none;
    }
    const CleanLog clean = clean_log(flown.log);
    const DamagedRows* found = find(clean, Damage::no_value);
    REQUIRE(found != nullptr);
    CHECK(found->first_rows == std::vector<size_t>{70});
}

TEST_CASE("log: holds are told by the current where there is no throttle", "[log]") {
    Flown flown = fly_parts(three_holds, 5, 71);
    flown.log.throttle_pct.clear();
    const CleanLog clean = clean_log(flown.log);
    CHECK(steady_by(clean, {}) == SteadyBy::current);
    const std::vector<LoggedHold> holds = find_holds(clean);
    REQUIRE(holds.size() == 3);
    const double currents[] = {90 * 0.064, 90 * 0.343, 90};
    for (size_t k = 0; k < 3; ++k) {
        CHECK_FALSE(holds[k].throttle_told);
        CHECK_THAT(*holds[k].row.pack_A, WithinRel(currents[k], current_tolerance_rel));
    }
}

TEST_CASE("log: columns of nothing, no rows, one row", "[log]") {
    const Flown flown = fly_parts(three_holds, 5, 81);
    const size_t n = flown.log.time_s.size();
    SECTION("a column of NaN is as good as none") {
        Log log = flown.log;
        log.throttle_pct.assign(n, none);
        CHECK(holds_of(log).size() == 3);
        log.current_A.assign(n, none);
        CHECK(holds_of(log).empty());
        CHECK(steady_by(clean_log(log), {}) == SteadyBy::nothing);
    }
    SECTION("without a temperature a hold still has its current") {
        Log log = flown.log;
        log.esc_C.clear();
        const std::vector<LoggedHold> holds = holds_of(log);
        REQUIRE(holds.size() == 3);
        CHECK_FALSE(holds[0].row.start_C);
        CHECK_FALSE(holds[0].row.esc_peak_C);
        CHECK(holds[0].row.trace.empty());
        log.current_A.clear();
        CHECK(holds_of(log).empty());
    }
    SECTION("times of NaN") {
        Log log = flown.log;
        log.time_s.assign(n, none);
        const CleanLog clean = clean_log(log);
        CHECK(clean.used == 0);
        CHECK(find(clean, Damage::no_time)->count == n);
        CHECK(find_holds(clean).empty());
    }
    SECTION("no rows") {
        const CleanLog clean = clean_log({});
        CHECK(clean.rows == 0);
        CHECK(clean.sessions.empty());
        CHECK(find_holds(clean).empty());
    }
    SECTION("one row") {
        Log log;
        log.time_s = {5};
        log.throttle_pct = {50};
        log.esc_C = {30};
        const CleanLog clean = clean_log(log);
        CHECK(clean.used == 1);
        CHECK(clean.sessions.size() == 1);
        CHECK(clean.row_s == 0);
        CHECK(find_holds(clean).empty());
        CHECK(answer_of(log_text(std::vector<double>{5, 50, 12, 22, 30}, 5,
                                 "{" + all_columns + R"(,"setup":)" + setup_text + "}"))
                  .as<JsonObject>() != nullptr);
    }
}

TEST_CASE("log: a million rows have their holds, a hundred at most", "[log]") {
    // Generator: parts of 40 s at random throttles, 100 rows a second, seed 1000003.
    Noise noise(1000003);
    std::vector<Part> parts;
    for (size_t n = 0; n < 1000000; n += 4000) {
        parts.push_back({std::floor(100 * noise.unit()), 40});
    }
    const std::vector<LoggedHold> holds = holds_of(fly_parts(parts, 100, 1000003).log);
    CHECK(holds.size() > 80);
    CHECK(holds.size() <= 100);
}

TEST_CASE("log: the prediction flown along a log of its own gives it back", "[log]") {
    const Setup setup = setup_of(setup_text);
    const Plant plant = middle_plant(setup, prior_belief(setup));
    // Flown by the march itself, in its own legs, and logged at 5 rows a second.
    const std::vector<Part> parts = {{40, 60}, {80, 45}, {100, 20}, {60, 90}};
    std::vector<DemandMap> maps;
    std::vector<Leg> legs;
    double total = 0;
    for (const Part& p : parts) {
        maps.push_back(map_demand(plant, {.throttle = p.throttle_pct / 100}));
        total += p.seconds;
    }
    for (size_t i = 0; i < parts.size(); ++i) {
        legs.push_back({&maps[i], parts[i].seconds, nullptr});
    }
    const March truth = march(plant, legs, {25, plant.pack.start, plant.pack.start_C}, total);
    const auto at = [&](double t) {
        size_t k = 0;
        while (k + 2 < truth.moments.size() && truth.moments[k + 1].t <= t) {
            ++k;
        }
        const Moment& a = truth.moments[k];
        const Moment& b = truth.moments[k + 1];
        const double share = b.t > a.t ? (t - a.t) / (b.t - a.t) : 0;
        Moment m = a;
        m.heat.board += share * (b.heat.board - a.heat.board);
        m.i_pack += share * (b.i_pack - a.i_pack);
        return m;
    };
    Log log;
    for (double t = 0.1; t < truth.seconds; t += 0.2) {
        const Moment m = at(t);
        log.time_s.push_back(t);
        log.throttle_pct.push_back(100 * m.throttle);
        log.current_A.push_back(m.i_pack * plant.pack.share);
        log.esc_C.push_back(m.heat.board);
    }
    const auto check = [&](const Log& of, double tolerance_K) {
        const History h = check_history(plant, clean_log(of));
        REQUIRE(h.samples > 0);
        CHECK(h.end == HistoryEnd::whole);
        CHECK_THAT(h.seconds, WithinAbs(truth.seconds, 1));
        CHECK(h.rms_K < tolerance_K);
        CHECK(std::abs(h.worst_K) < 3 * tolerance_K);
        CHECK(h.series.size() <= 150);
        CHECK(h.series.size() >= 75);
        return h;
    };
    SECTION("by throttle") {
        Log of = log;
        of.current_A.clear();
        CHECK_FALSE(check(of, 0.5).by_current);  // K; steps of half a second and 2 % of throttle
    }
    SECTION("by throttle and current") {
        CHECK(check(log, 0.5).by_current);  // K; currents in steps of 4 %
    }
    SECTION("by current alone") {
        Log of = log;
        of.throttle_pct.clear();
        check(of, 0.5);  // K; near full throttle the current alone tells chopping from full on
    }
    SECTION("a plant with half the surface is too hot, and by how much is said") {
        Setup small = setup;
        small.esc.surface_cm2 = 0.5e4 * plant.u.surface;
        const Plant hot = middle_plant(small, prior_belief(small));
        const History h = check_history(hot, clean_log(log));
        CHECK(h.mean_K > 2);
        CHECK(h.worst_K > h.mean_K);
    }
    SECTION("a second session on the same pack is compared on its own") {
        Log of = log;
        const size_t n = log.time_s.size();
        for (size_t i = 0; i < n; ++i) {
            of.time_s.push_back(log.time_s[i]);
            of.throttle_pct.push_back(log.throttle_pct[i]);
            of.current_A.push_back(log.current_A[i]);
            of.esc_C.push_back(log.esc_C[i]);
        }
        const History h = check_history(plant, clean_log(of));
        CHECK_THAT(h.seconds, WithinAbs(2 * truth.seconds, 2));
        CHECK(h.rms_K < 1);
        CHECK(h.series.back().session == 1);
        CHECK(h.series.size() <= 150);
    }
    SECTION("a log longer than the pack ends where the pack does") {
        Log of;
        for (int i = 0; i < 3000; ++i) {
            of.time_s.push_back(i);
            of.throttle_pct.push_back(60);
            of.esc_C.push_back(50);
        }
        const History h = check_history(plant, clean_log(of));
        CHECK(h.end == HistoryEnd::empty);
        CHECK(h.seconds < 3000);
    }
    SECTION("without a temperature or a demand there is none") {
        Log of = log;
        of.esc_C.clear();
        CHECK(check_history(plant, clean_log(of)).samples == 0);
        of = log;
        of.throttle_pct.clear();
        of.current_A.clear();
        CHECK(check_history(plant, clean_log(of)).samples == 0);
        CHECK(check_history(plant, clean_log({})).samples == 0);
    }
}

TEST_CASE("log: a current finds its throttle back", "[log]") {
    const Setup setup = setup_of(setup_text);
    const Plant plant = middle_plant(setup, prior_belief(setup));
    for (const double throttle : {0.2, 0.5, 0.8, 0.95}) {
        const Operating o =
            operate(plant, {.throttle = throttle}, source_at(plant, 0.6, 25, 50, 50));
        CHECK_THAT(
            throttle_for_current(plant, o.i_pack * plant.pack.share / plant.u.current_scale, 0.6),
            WithinAbs(throttle, 1e-3));
    }
    CHECK(throttle_for_current(plant, 500, 0.6) == 1);
}

TEST_CASE("log: the door offers rows that a setup takes, and the prediction beside the log",
          "[log]") {
    const Flown flown = fly_parts(three_holds, 5, 91);
    const std::vector<double> table = table_of(flown.log);
    const Json answer =
        answer_of(log_text(table, 5, "{" + all_columns + R"(,"setup":)" + setup_text + "}"));
    CHECK(number(answer, "rows") == static_cast<double>(flown.log.time_s.size()));
    CHECK(number(answer, "used") == number(answer, "rows"));
    CHECK(list(answer, "damaged").empty());
    CHECK(*find(answer, "steady_by")->as<std::string>() == "throttle");
    const JsonList& holds = list(answer, "holds");
    REQUIRE(holds.size() == 3);
    Problems problems;
    Json setup = *parse_json(setup_text, problems);
    JsonList measured;
    for (const Json& hold : holds) {
        CHECK(list(hold, "problems").empty());
        measured.push_back(*find(hold, "measured"));
    }
    put(setup, "measured", Json{measured});
    const Result<Setup> taken = parse_setup(write_json(setup));
    REQUIRE(std::get_if<Setup>(&taken) != nullptr);
    CHECK(std::get_if<Setup>(&taken)->measured.size() == 3);
    REQUIRE(find(answer, "history") != nullptr);
    CHECK(number(answer, "history.rms_K") > 0);
    CHECK(list(answer, "history.series").size() <= 150);
    CHECK_FALSE(find(answer, "history.text")->as<std::string>()->empty());

    // Learning from the log's own holds brings the prediction closer to it.
    const Json learned =
        answer_of(log_text(table, 5, "{" + all_columns + R"(,"setup":)" + write_json(setup) + "}"));
    CHECK(number(learned, "history.rms_K") < number(answer, "history.rms_K"));
}

TEST_CASE("log: the door turns units", "[log]") {
    const Flown flown = fly_parts(three_holds, 5, 92);
    const Json plain = answer_of(log_text(table_of(flown.log), 5, "{" + all_columns + "}"));
    CHECK(find(plain, "history")->is_null());
    Log turned = flown.log;
    for (size_t i = 0; i < turned.time_s.size(); ++i) {
        turned.time_s[i] *= 1000;
        turned.throttle_pct[i] = 1100 + 8 * turned.throttle_pct[i];
        turned.current_A[i] *= 1000;
        turned.voltage_V[i] *= 1000;
        turned.esc_C[i] = 32 + 1.8 * turned.esc_C[i];
    }
    const Json other = answer_of(
        log_text(table_of(turned), 5,
                 "{" + all_columns +
                     R"(,"time_unit":"ms","throttle_unit":"us","throttle_ends":[1100,1900],)"
                     R"("current_unit":"mA","voltage_unit":"mV","temperature_unit":"F"})"));
    const JsonList& one = list(plain, "holds");
    const JsonList& two = list(other, "holds");
    REQUIRE(one.size() == two.size());
    const char* const keys[] = {"start_s",
                                "end_s",
                                "measured.throttle_pct",
                                "measured.pack_A",
                                "measured.hold_s",
                                "measured.start_C",
                                "measured.esc_mean_C",
                                "measured.esc_peak_C"};
    for (size_t i = 0; i < one.size(); ++i) {
        for (const char* key : keys) {
            // 0.1: the coarsest rounding of the answer, when a last bit tips it
            CHECK_THAT(number(two[i], key), WithinAbs(number(one[i], key), 0.1001));
        }
    }
}

TEST_CASE("log: without a throttle column the setup tells the throttle, or nobody does", "[log]") {
    const Flown flown = fly_parts(three_holds, 5, 93);
    const std::string columns =
        R"("columns":{"time_s":0,"throttle_pct":null,"current_A":2,"esc_C":4})";
    const Json bare = answer_of(log_text(table_of(flown.log), 5, "{" + columns + "}"));
    REQUIRE(list(bare, "holds").size() == 3);
    CHECK(find(list(bare, "holds")[0], "measured.throttle_pct")->is_null());
    const Json told = answer_of(
        log_text(table_of(flown.log), 5, "{" + columns + R"(,"setup":)" + setup_text + "}"));
    const JsonList& holds = list(told, "holds");
    REQUIRE(holds.size() == 3);
    // 90 A at full throttle is what setup and log agree on; below, throttle rises with current.
    CHECK(number(holds[2], "measured.throttle_pct") > 95);
    CHECK(number(holds[0], "measured.throttle_pct") < number(holds[1], "measured.throttle_pct"));
}

TEST_CASE("log: a column of motor speeds gives each hold its own", "[log]") {
    std::vector<double> table;
    for (int i = 0; i < 60; ++i) {
        // one stray reading that no motor turns: left out and named
        const double rpm = i == 30 ? 5e5 : 9000.0 + (i % 2 == 0 ? 20 : -20);
        for (const double value : {1.0 * i, 50.0, 40.0, 45.0, rpm}) {
            table.push_back(value);
        }
    }
    const Json answer = answer_of(log_text(
        table, 5, R"({"columns":{"time_s":0,"throttle_pct":1,"current_A":2,"esc_C":3,"rpm":4}})"));
    REQUIRE(list(answer, "holds").size() == 1);
    CHECK_THAT(number(list(answer, "holds")[0], "measured.rpm"), WithinAbs(9000, 20));
    const Json without = answer_of(
        log_text(table, 5, R"({"columns":{"time_s":0,"throttle_pct":1,"current_A":2,"esc_C":3}})"));
    CHECK(find(list(without, "holds")[0], "measured.rpm") == nullptr);
}

TEST_CASE("log: a row that a setup would refuse says so", "[log]") {
    std::vector<double> table;
    for (int i = 0; i < 60; ++i) {
        for (const double value : {1.0 * i, 50.0, 40.0, 170.0}) {
            table.push_back(value);
        }
    }
    const Json answer = answer_of(
        log_text(table, 4, R"({"columns":{"time_s":0,"throttle_pct":1,"current_A":2,"esc_C":3}})"));
    REQUIRE(list(answer, "holds").size() == 1);
    const JsonList& problems = list(list(answer, "holds")[0], "problems");
    REQUIRE_FALSE(problems.empty());
    CHECK(*find(problems[0], "path")->as<std::string>() == "start_C");
}

TEST_CASE("log: bad options are problems, every one at once", "[log]") {
    const std::vector<double> table(10, 1.0);
    using Paths = std::vector<std::string>;
    CHECK(paths_of(log_text(table, 3, "{}")) == Paths{"table"});
    CHECK(paths_of(log_text(table, 0, "{}")) == Paths{"table"});
    CHECK(paths_of(log_text(table, 5, "{")) == Paths{"JSON"});
    CHECK(paths_of(log_text(table, 5, "{}")) == Paths{"columns.time_s"});
    CHECK(paths_of(log_text(table, 5, R"({"columns":{"time_s":5,"esc_C":-1},"time_unit":"h"})")) ==
          Paths{"columns.esc_C", "time_unit"});
    CHECK(paths_of(log_text(table, 5, R"({"columns":{"time_s":5}})")) == Paths{"columns.time_s"});
    CHECK(paths_of(log_text(table, 5, R"({"columns":{"time_s":0},"throttle_ends":[5,5]})")) ==
          Paths{"throttle_ends"});
    CHECK(paths_of(log_text(table, 5, R"({"columns":{"time_s":0},"setup":{"pack":{}}})")).size() >
          1);
    CHECK(paths_of(log_text(table, 5, R"({"columns":{"time_s":0},"setup":{"pack":{"cells":0}}})"))
              .front()
              .rfind("setup.", 0) == 0);
    CHECK(paths_of(log_text(std::vector<double>{}, 5, "{" + all_columns + "}")).empty());
    CHECK(paths_of(log_text(table, 5, R"({"row_s":0.1,"columns":{"esc_C":4}})")).empty());
}

TEST_CASE("log: whatever the numbers are, the answer is sound", "[log]") {
    // Generator: splitmix64, seed 4242; runs of steady, noisy, broken and missing values in every
    // column, times that run, stand, jump and start anew.
    Noise noise(4242);
    const double odd[] = {
        none,   std::numeric_limits<double>::infinity(), -1e308, 1e308, 0, -0.0, 5e-324, 65535,
        -273.15};
    const auto strange = [&] { return odd[static_cast<size_t>(noise.unit() * std::size(odd))]; };
    for (int file = 0; file < 150; ++file) {
        std::vector<double> table;
        double t = 0;
        double level[4] = {50, 40, 22, 40};
        const double dt = std::pow(10, -2 + 2 * noise.unit());
        const double damage = file % 3 == 0 ? 0.3 : 0.01;
        for (int row = 0; row < 600; ++row) {
            t += dt * (noise.unit() < 0.02 ? 100 * noise.unit() : 1);
            if (noise.unit() < 0.005) {
                t = 0;
            }
            if (noise.unit() < 0.02) {
                level[0] = 100 * noise.unit();
            }
            if (noise.unit() < 0.02) {
                level[1] = 300 * noise.unit();
            }
            level[3] += 0.1 * noise.normal();
            table.push_back(noise.unit() < damage ? strange() : t);
            for (const double value : level) {
                table.push_back(noise.unit() < damage ? strange()
                                                      : value * (1 + 0.01 * noise.normal()));
            }
        }
        const Json answer =
            answer_of(log_text(table, 5, "{" + all_columns + R"(,"setup":)" + setup_text + "}"));
        CHECK(number(answer, "used") <= number(answer, "rows"));
        Problems problems;
        Json setup = *parse_json(setup_text, problems);
        for (const Json& hold : list(answer, "holds")) {
            if (!list(hold, "problems").empty()) {
                continue;
            }
            put(setup, "measured", Json{JsonList{*find(hold, "measured")}});
            const Result<Setup> taken = parse_setup(write_json(setup));
            CHECK(std::holds_alternative<Setup>(taken));
        }
        if (!find(answer, "history")->is_null()) {
            CHECK(std::isfinite(number(answer, "history.rms_K")));
        }
    }
}
