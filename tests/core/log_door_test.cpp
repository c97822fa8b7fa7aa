// Do the log doors answer what the log says: a rotor's power by its current, each hold's own
// figures under their own names, and times and throttles in whatever unit they were logged?
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "flight/load_fit.hpp"
#include "learn/belief.hpp"
#include "learn/steady_holds.hpp"
#include "near.hpp"
#include "report/door.hpp"
#include "report/log_answer.hpp"
#include "setup/json.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

Json json_of(const std::string& text) {
    Problems problems;
    const auto json = parse_json(text, problems);
    REQUIRE(json);
    return *json;
}

Json answer_of(const Result<std::string>& result) {
    const auto* text = std::get_if<std::string>(&result);
    REQUIRE(text != nullptr);
    return json_of(*text);
}

double number(const Json& json, std::string_view key) {
    const Json* value = find(json, key);
    REQUIRE(value != nullptr);
    REQUIRE(value->as<double>() != nullptr);
    return *value->as<double>();
}

const JsonList& list(const Json& json, std::string_view key) {
    const Json* value = find(json, key);
    REQUIRE(value != nullptr);
    REQUIRE(value->as<JsonList>() != nullptr);
    return *value->as<JsonList>();
}

/// Six rotors that lift 6.8 kg from six cells of 10 Ah.
Setup six_rotors() {
    Setup s;
    s.pack.cells = 6;
    s.pack.capacity_mAh = 10000;
    s.esc.rating_A = 40;
    s.esc.pwm_Hz = 24000;
    s.esc.freewheel = Freewheel::active;
    s.motor.kv_rpm_per_V = 270;
    s.motor.resistance_mOhm = 95;
    s.motor.no_load_A = 0.5;
    s.motor.poles = 28;
    s.motor.count = 6;
    s.load.kind = LoadKind::governed;
    s.load.mass_kg = 6.8;
    s.load.rotor_diameter_m = 0.41;
    s.load.rotors = 6;
    FlightPart part;
    part.throttle_pct = 100;
    part.seconds = 60;
    s.flight.parts = {part};
    return s;
}

/// A minute at 40 A and one at 55 A, all motors together, a row a second. The stick, about 55 and
/// 65 %, is `sway_pct` of a sine off; the ESC stands at 40 and at 48 deg C.
Log two_powers(double sway_pct) {
    Log log;
    for (int i = 0; i < 122; ++i) {
        const bool second = i >= 61;
        log.time_s.push_back(i);
        log.throttle_pct.push_back((second ? 65 : 55) + sway_pct * std::sin(0.4 * i));
        log.current_A.push_back(second ? 55 : 40);
        log.esc_C.push_back(second ? 48 : 40);
    }
    return log;
}

}  // namespace

TEST_CASE("log door: a rotor's throttle is the one at which it draws what was logged", "[log]") {
    const Setup setup = six_rotors();
    const Plant plant = middle_plant(setup, prior_belief(setup));
    for (const double sway_pct : {0.0, 10.0}) {
        CAPTURE(sway_pct);
        const Json answer = json_of(log_answer(two_powers(sway_pct), setup, {}));
        CHECK(*find(answer, "steady_by")->as<std::string>() == "current");
        CHECK(*find(answer, "history.by")->as<std::string>() == "current");
        const JsonList& holds = list(answer, "holds");
        REQUIRE(holds.size() == 2);
        const double currents[] = {40, 55};
        for (size_t k = 0; k < 2; ++k) {
            CAPTURE(k);
            const double asked = currents[k];
            CHECK(number(holds[k], "measured.pack_A") == asked);
            CHECK(number(holds[k], "measured.hold_s") == 60);
            const double throttle = number(holds[k], "measured.throttle_pct") / 100;
            CHECK(throttle > 1);  // hover takes less than 40 A
            // (D) half a minute at that current from the full 10 Ah
            const double charge = 1 - asked * 30 / 36000;
            const Operating o =
                operate(plant, {.throttle = throttle}, source_at(plant, charge, 25, 50, 50));
            CHECK_THAT(6 * o.i_pack / plant.u.current_scale, WithinRel(asked, 0.01));
        }
    }
}

TEST_CASE("log door: what is no rotor has its throttle from the stick", "[log]") {
    Setup setup = six_rotors();
    setup.load = {};
    setup.load.full_throttle_A = 90;
    const Json answer = json_of(log_answer(two_powers(0), setup, {}));
    CHECK(*find(answer, "steady_by")->as<std::string>() == "throttle");
    const JsonList& holds = list(answer, "holds");
    REQUIRE(holds.size() == 2);
    CHECK(number(holds[0], "measured.throttle_pct") == 55);
    CHECK(number(holds[1], "measured.throttle_pct") == 65);
    CHECK(list(json_of(log_answer(two_powers(10), setup, {})), "holds").empty());
}

TEST_CASE("log door: each figure of a hold is told under its own name", "[log]") {
    // Two sessions; every figure differs from every other and none is round.
    Log log;
    for (int session = 0; session < 2; ++session) {
        for (int i = 0; i < 70; ++i) {
            const bool on = i >= 7;
            log.time_s.push_back(3 + 1.007 * i);
            log.throttle_pct.push_back(on ? 61.3 + session : 0);
            log.current_A.push_back(on ? 37.456 + session + 0.01 * (i % 7) : 0);
            log.voltage_V.push_back(i == 5 ? none : 24.876 - 0.011 * i);
            log.esc_C.push_back(31.234 + 0.237 * i - 0.0012 * i * i);
            log.rpm.push_back(on ? 8765.4 + 3 * i : 0);
        }
    }
    const Json answer = json_of(log_answer(log, {}, {}));
    const std::vector<LoggedHold> holds = find_holds(clean_log(log));
    const JsonList& told = list(answer, "holds");
    REQUIRE(holds.size() == 2);
    REQUIRE(told.size() == 2);
    // What the answer rounds to, and half of it.
    const auto near = [](double value, double step) { return WithinAbs(value, 0.5001 * step); };
    for (size_t k = 0; k < 2; ++k) {
        CAPTURE(k);
        const LoggedHold& hold = holds[k];
        const MeasuredRow& row = hold.row;
        CHECK(number(told[k], "session") == static_cast<double>(k));
        CHECK(number(told[k], "first_row") == static_cast<double>(hold.first_row));
        CHECK(number(told[k], "last_row") == static_cast<double>(hold.last_row));
        CHECK_THAT(number(told[k], "start_s"), near(hold.start_s, 1e-3));
        CHECK_THAT(number(told[k], "end_s"), near(hold.end_s, 1e-3));
        CHECK_THAT(number(told[k], "measured.throttle_pct"), near(row.throttle_pct, 0.1));
        CHECK_THAT(number(told[k], "measured.pack_A"), near(*row.pack_A, 0.01));
        CHECK_THAT(number(told[k], "measured.rpm"), near(*row.rpm, 0.01));
        CHECK_THAT(number(told[k], "measured.hold_s"), near(*row.hold_s, 0.01));
        CHECK_THAT(number(told[k], "measured.start_C"), near(*row.start_C, 0.01));
        CHECK_THAT(number(told[k], "measured.esc_mean_C"), near(*row.esc_mean_C, 0.01));
        CHECK_THAT(number(told[k], "measured.esc_peak_C"), near(*row.esc_peak_C, 0.01));
        const JsonList& trace = list(told[k], "measured.trace");
        REQUIRE(trace.size() == row.trace.size());
        REQUIRE(trace.size() > 10);
        for (size_t i = 0; i < trace.size(); ++i) {
            const JsonList& point = *trace[i].as<JsonList>();
            CHECK_THAT(*point[0].as<double>(), near(row.trace[i][0], 0.01));
            CHECK_THAT(*point[1].as<double>(), near(row.trace[i][1], 0.01));
        }
    }
    // (D) the first and last of each column, the temperature's peak at the end
    const auto range = [&](const char* key, double least, double most) {
        CAPTURE(key);
        const JsonList& ends = list(answer, std::string("ranges.") + key);
        CHECK_THAT(*ends[0].as<double>(), near(least, 0.01));
        CHECK_THAT(*ends[1].as<double>(), near(most, 0.01));
    };
    range("throttle_pct", 0, 62.3);
    range("current_A", 0, 38.516);
    range("voltage_V", 24.876 - 0.011 * 69, 24.876);
    range("esc_C", 31.234, 31.234 + 0.237 * 69 - 0.0012 * 69 * 69);
    range("rpm", 0, 8765.4 + 3 * 69);
}

TEST_CASE("log door: times and throttles are turned from every unit", "[log]") {
    // Throttle 25 % for half a minute, then 75 %: a row a second.
    struct Case {
        const char* options;
        double second, none, full;  // raw
    };
    const Case cases[] = {
        {R"("time_unit":"s","throttle_unit":"pct")", 1, 0, 100},
        {R"("time_unit":"ms","throttle_unit":"share")", 1e3, 0, 1},
        {R"("time_unit":"us","throttle_unit":"us")", 1e6, 1000, 2000},
        {R"("time_unit":"min","throttle_unit":"share","throttle_ends":[0.1,0.9])", 1.0 / 60, 0.1,
         0.9},
        {R"("throttle_unit":"us","throttle_ends":[1900,1100])", 1, 1900, 1100},
    };
    for (const Case& c : cases) {
        CAPTURE(c.options);
        std::vector<double> table;
        for (int i = 0; i < 60; ++i) {
            table.push_back(c.second * i);
            table.push_back(c.none + (c.full - c.none) * (i < 30 ? 0.25 : 0.75));
            table.push_back(45);
        }
        const Json answer = answer_of(
            log_text(table, 3,
                     std::string(R"({"columns":{"time_s":0,"throttle_pct":1,"esc_C":2},)") +
                         c.options + "}"));
        CHECK_THAT(number(answer, "row_s"), WithinRel(1, 1e-9));
        const JsonList& sessions = list(answer, "sessions");
        REQUIRE(sessions.size() == 1);
        CHECK_THAT(number(sessions[0], "end_s"), WithinRel(59, 1e-9));
        const JsonList& holds = list(answer, "holds");
        REQUIRE(holds.size() == 2);
        CHECK_THAT(number(holds[0], "measured.throttle_pct"), WithinAbs(25, 1e-9));
        CHECK_THAT(number(holds[1], "measured.throttle_pct"), WithinAbs(75, 1e-9));
        CHECK_THAT(number(holds[1], "measured.hold_s"), WithinAbs(29, 1e-9));
    }
}

TEST_CASE("log door: a clock tells seconds, whatever unit is told for times", "[log]") {
    const auto file = [](bool clock) {
        std::string text = "time,throttle,current,esc temp\n";
        for (int i = 0; i < 90; ++i) {
            const std::string second = (i % 60 < 10 ? "0" : "") + std::to_string(i % 60);
            text +=
                clock ? "10:0" + std::to_string(i / 60) + ":" + second : std::to_string(1000 * i);
            text += ",50,40,45\n";
        }
        return text;
    };
    for (const bool clock : {true, false}) {
        CAPTURE(clock);
        const Json answer = answer_of(log_file_text(
            file(clock),
            R"({"time_unit":"ms","columns":{"time_s":0,"throttle_pct":1,"current_A":2,"esc_C":3}})"));
        CHECK_THAT(number(answer, "row_s"), WithinRel(1, 1e-9));
        REQUIRE(list(answer, "holds").size() == 1);
        CHECK(number(list(answer, "holds")[0], "measured.hold_s") == 89);
    }
}
