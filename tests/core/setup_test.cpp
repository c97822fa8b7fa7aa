// Does every input pass or fail at the door as the contract says, with every problem at once?
// Expected texts are the contract's or this program's own wording; nothing here is physics.
#if __has_include(<catch2/catch.hpp>)
#include <catch2/catch.hpp>
#else
#include <catch2/catch_all.hpp>
#endif

#include <algorithm>
#include <limits>
#include <set>

#include "report/case_table.hpp"
#include "setup/field_table.hpp"
#include "setup/json.hpp"
#include "setup/parse.hpp"
#include "setup/setup_json.hpp"
#include "setup_maker.hpp"

using namespace hotband;

namespace {

const std::string contract_example = R"({
  "hotband": 1,
  "name": "free text, up to 80 characters",
  "pack":  { "cells": 6, "capacity_mAh": 5000, "parallel": 1, "chemistry": "lipo",
             "cell_resistance_mOhm": 2.4, "temperature_C": 25, "start_pct": 100, "reserve_pct": 20,
             "lead_length_cm": 20, "lead_area_mm2": 5.3, "sag_floor_V": 3.2 },
  "esc":   { "rating_A": 100, "pwm_Hz": 8000, "pwm_choices_Hz": [8000, 16000, 24000],
             "freewheel": "diode", "drive": "six-step", "limit_C": 100,
             "switch_resistance_mOhm": 0.7, "transition_ns": 150, "dead_time_ns": 500, "diode_V": 0.7,
             "capacitor_uF": 1000, "capacitor_esr_mOhm": 8, "surface_cm2": 95, "mass_g": 100,
             "bec_kind": "none", "bec_V": 5, "bec_A": 1 },
  "motor": { "kv_rpm_per_V": 500, "resistance_mOhm": 12, "inductance_uH": 12, "no_load_A": 2.5,
             "poles": 14, "count": 1 },
  "load":  { "kind": "propeller", "full_throttle_A": 100 },
  "air":   { "temperature_C": 25, "altitude_m": 0, "cooling": "open", "flight_speed_mps": 0, "sun": false },
  "flight": { "kind": "sequence", "parts": [ { "throttle_pct": 60, "seconds": 40 }, { "throttle_pct": 100, "seconds": 5 } ],
              "start_C": 25 },
  "measured": [ { "throttle_pct": 75, "pack_A": 50, "hold_s": 280, "start_C": 25,
                  "esc_mean_C": 47, "esc_peak_C": 53 } ]
})";

/// The smallest setup: what the contract stars.
const std::string least_setup =
    R"({"hotband":1,"pack":{"cells":6,"capacity_mAh":5000},"esc":{"rating_A":100,"pwm_Hz":8000},)"
    R"("load":{"full_throttle_A":100},"flight":{"parts":[{"throttle_pct":60,"seconds":40}]}})";

std::vector<std::string> lines(std::string_view json_text) {
    const Result<Setup> result = parse_setup(json_text);
    const Problems* problems = std::get_if<Problems>(&result);
    return problems != nullptr ? lines_of(*problems) : std::vector<std::string>{};
}

/// The least setup with one value put in, as text of JSON; an empty value takes the key out.
std::string with(std::string_view dotted_key, std::string_view json_value) {
    Problems problems;
    Json json = *parse_json(least_setup, problems);
    if (json_value.empty()) {
        const size_t dot = dotted_key.rfind('.');
        const Json* holder = dot == dotted_key.npos ? &json : find(json, dotted_key.substr(0, dot));
        Json object = *holder;
        auto& members = *object.as<JsonObject>();
        const std::string_view leaf = dotted_key.substr(dot + 1);
        members.erase(std::remove_if(members.begin(), members.end(),
                                     [&](const JsonMember& m) { return m.key == leaf; }),
                      members.end());
        if (dot == dotted_key.npos) {
            return write_json(object);
        }
        put(json, dotted_key.substr(0, dot), object);
    } else {
        put(json, dotted_key, *parse_json(json_value, problems));
    }
    REQUIRE(problems.empty());
    return write_json(json);
}

using Lines = std::vector<std::string>;

Setup must_parse(std::string_view text) {
    const Result<Setup> result = parse_setup(text);
    CAPTURE(lines(text));
    REQUIRE(std::holds_alternative<Setup>(result));
    return std::get<Setup>(result);
}

}  // namespace

TEST_CASE("a number that is none is no number, wherever a setup is read from") {
    const Result<Setup> read = parse_setup(contract_example);
    REQUIRE(std::holds_alternative<Setup>(read));
    Setup setup = std::get<Setup>(read);
    Problems none;
    read_setup(write_setup(setup), none);
    CHECK(none.empty());
    setup.esc.surface_cm2 = std::numeric_limits<double>::quiet_NaN();
    Problems problems;
    read_setup(write_setup(setup), problems);
    REQUIRE(problems.size() == 1);
    CHECK(problems.front().path == "esc.surface_cm2");
}

TEST_CASE("the contract's example is a setup") {
    const Setup setup = must_parse(contract_example);
    CHECK(setup.name == "free text, up to 80 characters");
    CHECK(setup.pack.cells == 6);
    CHECK(setup.pack.cell_resistance_mOhm == 2.4);
    CHECK(setup.pack.lead_spacing_mm == std::nullopt);
    CHECK(setup.esc.freewheel == Freewheel::diode);
    CHECK(setup.load.full_throttle_A == 100);
    REQUIRE(setup.flight.parts.size() == 2);
    CHECK(setup.flight.parts[1].seconds == 5);
    REQUIRE(setup.measured.size() == 1);
    CHECK(setup.measured[0].esc_peak_C == 53);
}

TEST_CASE("only the starred fields are required") {
    const Setup setup = must_parse(least_setup);
    CHECK(setup.pack.reserve_pct == PackSetup{}.reserve_pct);
    CHECK(setup.motor.kv_rpm_per_V == std::nullopt);
    must_parse(with("hotband", ""));

    CHECK(lines("{}") ==
          Lines{"pack.cells: is missing: a whole number from 1 to 16 is required",
                "pack.capacity_mAh: is missing: a number from 50 to 100000 mAh is required",
                "esc.rating_A: is missing: a number from 1 to 600 A is required",
                "esc.pwm_Hz: is missing: a number from 1000 to 200000 Hz is required",
                "flight.parts: is missing: a list of 1 to 200 rows is required"});
}

TEST_CASE("the contract's refusal, word for word") {
    CHECK(lines(with("esc.rating_A", "4000")) ==
          Lines{"esc.rating_A: 4000 is above the most accepted, 600 A"});
}

TEST_CASE("a value of the wrong type or range says what is accepted") {
    struct Case {
        std::string key, value, line;
    };
    const std::vector<Case> cases = {
        {"esc.rating_A", "0.5", "esc.rating_A: 0.5 is below the least accepted, 1 A"},
        {"esc.rating_A", "\"100\"",
         "esc.rating_A: must be a number from 1 to 600 A, not text \"100\""},
        {"esc.rating_A", "null",
         "esc.rating_A: must be a number from 1 to 600 A, not null (leave out what you do not "
         "know)"},
        {"esc.rating_A", "[100]",
         "esc.rating_A: must be a number from 1 to 600 A, not a list of 1"},
        {"esc.rating_A", "true", "esc.rating_A: must be a number from 1 to 600 A, not true"},
        {"pack.cells", "5.5",
         "pack.cells: 5.5 is not a whole number: a whole number from 1 to 16 is accepted"},
        {"motor.poles", "13",
         "motor.poles: 13 is odd: an even whole number from 2 to 60 is accepted"},
        {"pack.chemistry", "\"LIPO\"",
         "pack.chemistry: must be one of lipo, lihv, liion, lifepo4, not text \"LIPO\""},
        {"pack.chemistry", "0", "pack.chemistry: must be one of lipo, lihv, liion, lifepo4, not 0"},
        {"air.sun", "1", "air.sun: must be true or false, not 1"},
        {"name", "7", "name: must be text of up to 80 characters on one line, not 7"},
        {"name", "\"a\\nb\"",
         "name: holds a control character: text of up to 80 characters on one line is accepted"},
        {"name", "\"a\\u0085b\"",
         "name: holds a control character: text of up to 80 characters on one line is accepted"},
        {"pack", "[]", "pack: must be an object, not a list of 0"},
        {"esc.pwm_choices_Hz", "[]",
         "esc.pwm_choices_Hz: must be a list of 1 to 16 numbers, each from 1000 to 200000 Hz, not "
         "a "
         "list of 0"},
        {"esc.pwm_choices_Hz", "[8000,16]",
         "esc.pwm_choices_Hz[1]: 16 is below the least accepted, 1000 Hz"},
        {"flight.parts", "[]", "flight.parts: must be a list of 1 to 200 rows, not a list of 0"},
        {"flight.parts", "[{\"throttle_pct\":-1,\"seconds\":1}]",
         "flight.parts[0].throttle_pct: -1 is below the least accepted, 0 %"},
        {"flight.parts", "[{\"throttle_pct\":50,\"seconds\":0}]",
         "flight.parts[0].seconds: 0 is below the least accepted, 0.1 s"},
        {"flight.parts", "[{\"throttle_pct\":50,\"seconds\":36001}]",
         "flight.parts[0].seconds: 36001 is above the most accepted, 36000 s"},
        {"flight.parts", "[5]", "flight.parts[0]: must be an object, not 5"},
        {"flight.parts", "[{\"seconds\":5}]",
         "flight.parts[0].throttle_pct: is missing: a number from 0 to 250 % is required"},
        {"air.temperature_C", "61", "air.temperature_C: 61 is above the most accepted, 60 deg C"},
        {"air.temperature_C", "-41",
         "air.temperature_C: -41 is below the least accepted, -40 deg C"},
        {"hotband", "2", "hotband: must be the setup version 1, not 2"},
        {"hotband", "\"1\"", "hotband: must be the setup version 1, not text \"1\""},
        {"measured", "[{\"trace\":[[0,25],[1]]}]",
         "measured[0].trace[1]: must be a list [t_s, esc_C], not a list of 1"},
        {"measured", "[{\"trace\":[[0,25],[1,151]]}]",
         "measured[0].trace[1][1]: 151 is above the most accepted, 150 deg C"},
    };
    for (const Case& one : cases) {
        CAPTURE(one.key, one.value);
        const Lines found = lines(with(one.key, one.value));
        CHECK(std::count(found.begin(), found.end(), one.line) == 1);
        CHECK(!found.empty());
        CAPTURE(found);
        if (one.key != "pack") {
            CHECK(found.size() == 1);
        }
    }
}

TEST_CASE("the limits themselves are accepted, the next number is not") {
    for (const FieldInfo& info : setup_infos()) {
        const bool numeric = info.type == FieldType::number || info.type == FieldType::integer;
        if (!numeric || !info.only_with.empty()) {
            continue;
        }
        CAPTURE(info.key);
        const auto problems_at = [&](double value) {
            const Lines found = lines(with(info.key, number_text(value)));
            return std::count_if(found.begin(), found.end(), [&](const std::string& line) {
                return line.find("accepted") != line.npos && line.rfind(info.key, 0) == 0;
            });
        };
        CHECK(problems_at(info.least) == 0);
        CHECK(problems_at(info.most) == 0);
        const double step = info.type == FieldType::integer ? 1 : 1e-6;
        CHECK(problems_at(info.least - step) == 1);
        CHECK(problems_at(info.most + step) == 1);
    }
}

TEST_CASE("a whole number may be written as a float and a float as a whole number") {
    CHECK(must_parse(with("pack.cells", "6.0")).pack.cells == 6);
    Problems problems;
    const auto json = parse_json(R"([6.0, 6, 6e0, 60e-1, -0, 1e-400])", problems);
    REQUIRE(json);
    CHECK(*json ==
          Json{JsonList{Json{6.0}, Json{6.0}, Json{6.0}, Json{6.0}, Json{0.0}, Json{0.0}}});
}

TEST_CASE("a name is counted in characters, not bytes") {
    const auto named = [](int count, std::string_view character) {
        std::string text;
        for (int i = 0; i < count; ++i) {
            text += character;
        }
        return with("name", "\"" + text + "\"");
    };
    CHECK(lines(named(80, "\xC3\xA9")).empty());
    CHECK(lines(named(80, "\xF0\x9F\x9A\x81")).empty());
    CHECK(lines(named(81, "x")) ==
          Lines{"name: 81 characters are more than the most accepted, 80"});
}

TEST_CASE("an unknown key names the nearest known one") {
    CHECK(lines(with("pack.capacity", "5000")) ==
          Lines{"pack.capacity: is not a known key; did you mean capacity_mAh?"});
    CHECK(lines(with("esc.pwm_hz", "8000")) ==
          Lines{"esc.pwm_hz: is not a known key; did you mean pwm_Hz?"});
    CHECK(lines(with("motr", "{}")) == Lines{"motr: is not a known key; did you mean motor?"});
    CHECK(lines(with("motor.cells", "6")) ==
          Lines{"motor.cells: is not a known key; did you mean pack.cells?"});
    CHECK(lines(with("esc.colour", "6")) == Lines{"esc.colour: is not a known key"});
    CHECK(lines(with("flight.parts", R"([{"throttle_pct":5,"seconds":5,"second":5}])")) ==
          Lines{"flight.parts[0].second: is not a known key; did you mean seconds?"});
    // A dotted key is not a way around the object.
    CHECK(lines(R"({"pack.cells":6})")[0] == "pack.cells: is not a known key");
    // A key cannot break the line it is reported on.
    for (const std::string& line : lines("{\"a\\nb\":1,\"\":2,\"\\u001b[2J\":3}")) {
        CHECK(!has_control_character(line));
    }
}

TEST_CASE("every problem at once") {
    const Lines found = lines(
        R"({"hotband":2,"nme":"x","pack":{"cells":0,"capacity_mAh":"5000","start_pct":20,"reserve_pct":30},
            "esc":{"rating_A":4000,"burst_A":3},"motor":{"poles":7},
            "load":{"kind":"governed","full_throttle_A":3},"flight":{"kind":"shares",
            "parts":[{"throttle_pct":120,"seconds":3},{"share_pct":30,"throttle_pct":300}]},
            "measured":[{"throttle_pct":50},{"kind":"flight"}]})");
    CHECK(
        found ==
        Lines{
            "hotband: must be the setup version 1, not 2",
            "nme: is not a known key; did you mean name?",
            "pack.cells: 0 is below the least accepted, 1",
            "pack.capacity_mAh: must be a number from 50 to 100000 mAh, not text \"5000\"",
            "esc.rating_A: 4000 is above the most accepted, 600 A",
            "esc.pwm_Hz: is missing: a number from 1000 to 200000 Hz is required",
            "motor.poles: 7 is odd: an even whole number from 2 to 60 is accepted",
            "flight.parts[1].throttle_pct: 300 is above the most accepted, 250 %",
            "load.full_throttle_A: goes only with load.kind propeller or fan, not with governed",
            "flight.parts[0].seconds: goes only with flight.kind sequence, not with shares",
            "pack.reserve_pct: 30 must be below pack.start_pct, 20 %",
            "flight.parts[0].share_pct: is missing: each part needs it with flight.kind shares",
            "measured[0]: needs at least one of pack_A, rpm, esc_mean_C, esc_peak_C, trace",
            "measured[1]: kind flight needs at least one of esc_after_C, esc_peak_C, esc_mean_C"});
}

TEST_CASE("a load is told by what its kind needs") {
    const auto load = [](std::string_view json) { return lines(with("load", json)); };
    CHECK(load(R"({"full_throttle_A":80})").empty());
    CHECK(load(R"({"kind":"fan","points":[{"throttle_pct":50,"pack_A":20}]})").empty());
    CHECK(load(R"({"shaft_W":800,"shaft_rpm":9000})").empty());
    CHECK(load(R"({"kind":"governed","hover_A":20,"rotor_rpm":2000,"gear_ratio":9})").empty());
    CHECK(load(R"({"kind":"governed","mass_kg":3,"rotor_diameter_m":1.2,"rotors":1})").empty());

    CHECK(load(R"({"shaft_W":800})") ==
          Lines{"load.shaft_rpm: is missing: it is required with load.shaft_W"});
    CHECK(load(R"({"shaft_rpm":800})") ==
          Lines{"load.shaft_W: is missing: it is required with load.shaft_rpm"});
    CHECK(load(R"({"points":[]})") ==
          Lines{"load.points: must be a list of 1 to 100 rows, not a list of 0"});
    // Nobody needs an ammeter: what draws the current may be left out.
    CHECK(load("{}").empty());
    CHECK(load(R"({"kind":"fan"})").empty());
    CHECK(load(R"({"kind":"governed"})").empty());
    CHECK(load(R"({"diameter_cm":25.4,"pitch_cm":12.7,"blades":3})").empty());
    CHECK(load(R"({"kind":"fan","pitch_cm":12})") ==
          Lines{"load.pitch_cm: goes only with load.kind propeller, not with fan"});
    CHECK(load(R"({"kind":"governed","hover_A":20})") ==
          Lines{"load.rotor_rpm: is missing: it is required with load.hover_A"});
    CHECK(load(R"({"kind":"governed","mass_kg":20})") ==
          Lines{"load.rotor_diameter_m: is missing: it is required with load.mass_kg"});
    CHECK(load(R"({"kind":"governed","rotor_diameter_m":1})") ==
          Lines{"load.mass_kg: is missing: it is required with load.rotor_diameter_m"});
    CHECK(load(R"({"kind":"rotor","mass_kg":20})") ==
          Lines{"load.kind: must be one of propeller, fan, governed, not text \"rotor\""});
    CHECK(load(R"({"full_throttle_A":80,"rotors":1})") ==
          Lines{"load.rotors: goes only with load.kind governed, not with propeller"});
}

TEST_CASE("a flight is told by what its kind needs") {
    const auto flight = [](std::string_view json) { return lines(with("flight", json)); };
    const auto shares = [&](std::string_view a, std::string_view b) {
        return flight(R"({"kind":"shares","parts":[{"throttle_pct":50,"share_pct":)" +
                      std::string(a) + R"(},{"throttle_pct":90,"share_pct":)" + std::string(b) +
                      "}]}");
    };
    CHECK(shares("70", "30").empty());
    CHECK(shares("70", "30.5").empty());
    CHECK(shares("70", "29.5").empty());
    CHECK(shares("70", "30.6") ==
          Lines{"flight.parts: shares sum to 100.6 %: they must sum to 100 within 0.5"});
    CHECK(shares("70", "29.4").size() == 1);
    CHECK(
        flight(R"({"parts":[{"throttle_pct":50}]})") ==
        Lines{"flight.parts[0].seconds: is missing: each part needs it with flight.kind sequence"});
    CHECK(flight(R"({"parts":[{"throttle_pct":50,"seconds":5,"share_pct":100}]})") ==
          Lines{"flight.parts[0].share_pct: goes only with flight.kind shares, not with sequence"});
}

TEST_CASE("throttle above 100 % is for a governed rotor") {
    const std::string refusal =
        ": 120 is above the most accepted, 100 % (more goes only with load.kind governed)";
    const std::string part = R"([{"throttle_pct":120,"seconds":5}])";
    CHECK(lines(with("flight.parts", part)) == Lines{"flight.parts[0].throttle_pct" + refusal});
    CHECK(lines(with("measured", R"([{"throttle_pct":120,"pack_A":5}])")) ==
          Lines{"measured[0].throttle_pct" + refusal});
    CHECK(lines(with("ask_holds", R"([{"throttle_pct":120}])")) ==
          Lines{"ask_holds[0].throttle_pct" + refusal});
    CHECK(lines(R"({"pack":{"cells":6,"capacity_mAh":5000},"esc":{"rating_A":100,"pwm_Hz":8000},)"
                R"("load":{"kind":"governed","hover_A":20,"rotor_rpm":2000,"gear_ratio":9},)"
                R"("flight":{"parts":)" +
                part + "}}")
              .empty());
}

TEST_CASE("pack and ESC fields must agree") {
    CHECK(lines(with("esc.burst_A", "99")) ==
          Lines{"esc.burst_A: 99 must not be below esc.rating_A, 100 A"});
    CHECK(lines(with("esc.burst_A", "100")).empty());
    CHECK(lines(with("pack.sag_floor_V", "4.2")) ==
          Lines{"pack.sag_floor_V: 4.2 must be below the full cell's 4.2 V"});
    CHECK(lines(with("pack", R"({"cells":6,"capacity_mAh":1000,"start_pct":20})")) ==
          Lines{"pack.reserve_pct: 20 must be below pack.start_pct, 20 %"});
    CHECK(lines(with("esc.bec_max_A", "5")) ==
          Lines{"esc.bec_max_A: goes only with esc.bec_kind linear or switching, not with none"});
}

TEST_CASE("a measured row must tell something, in order") {
    const auto measured = [](std::string_view json) {
        return lines(with("measured", "[" + std::string(json) + "]"));
    };
    CHECK(measured(R"({"pack_A":50})").empty());
    CHECK(measured(R"({"esc_mean_C":50})").empty());
    CHECK(measured(R"({"trace":[[0,25],[10,30.5]]})").empty());
    CHECK(measured(R"({"kind":"flight","esc_after_C":60})").empty());
    CHECK(measured(R"({"throttle_pct":50})").size() == 1);
    CHECK(measured(R"({"kind":"flight","pack_A":60})").size() == 1);
    CHECK(measured(R"({"esc_after_C":60,"pack_A":50})") ==
          Lines{"measured[0].esc_after_C: goes only with kind flight, not with hold"});
    CHECK(measured(R"({"esc_mean_C":60,"esc_peak_C":50})") ==
          Lines{"measured[0].esc_peak_C: 50 must not be below esc_mean_C, 60 deg C"});
    CHECK(measured(R"({"trace":[[0,25],[10,30],[10,31],[9,32]]})") ==
          Lines{"measured[0].trace[2]: time 10 s must be later than the one before, 10 s"});
}

TEST_CASE("the set frequency is always one of the choices") {
    CHECK(must_parse(with("esc.pwm_Hz", "12000")).esc.pwm_choices_Hz ==
          std::vector<double>{8000, 12000, 16000, 24000});
    CHECK(must_parse(with("esc.pwm_choices_Hz", "[32000,16000,32000]")).esc.pwm_choices_Hz ==
          std::vector<double>{8000, 16000, 32000});
}

TEST_CASE("a text that is not JSON gives one clear line") {
    const auto one = [](std::string_view text) {
        const Lines found = lines(text);
        REQUIRE(found.size() == 1);
        return found[0];
    };
    CHECK(one("") == "JSON: is empty");
    CHECK(one(" \n ") == "JSON: is empty");
    CHECK(one("{\"pack\":{") == "JSON: ends too early, at line 1, column 10");
    CHECK(one("{\"pack\":\"abc") == "JSON: ends too early, at line 1, column 13");
    CHECK(one("{}\n{}") == "JSON: goes on after its end, at line 2, column 1");
    CHECK(one("{} x") == "JSON: goes on after its end, at line 1, column 4");
    CHECK(one("{\n \"a\": NaN}") ==
          "JSON: holds NaN at line 2, column 7, which is not a number JSON has");
    CHECK(one("[-Infinity]").find("not a number JSON has") != std::string::npos);
    CHECK(one("[1e999]") == "JSON: holds a number too large for a double at line 1, column 6");
    CHECK(one("[-1e999]").find("too large") != std::string::npos);
    CHECK(one("{\"a\":1,}").find("JSON: is broken at line 1, column 8") == 0);
    CHECK(one("{'a':1}").find("JSON: is broken at line 1, column 2") == 0);
    CHECK(one("[01]").find("JSON: is broken at line 1, column 3") == 0);
    CHECK(one("[1 /* no */]").find("JSON: is broken") == 0);
    CHECK(one("\"\x80\"") == "JSON: is not UTF-8 text");
    CHECK(one("\"\xC0\xAF\"") == "JSON: is not UTF-8 text");
    CHECK(one("\"\xED\xA0\x80\"") == "JSON: is not UTF-8 text");
    CHECK(one("\"\xF4\x90\x80\x80\"") == "JSON: is not UTF-8 text");
    CHECK(one("\"\\ud800\"").find("JSON: is broken") == 0);
    CHECK(one(std::string("{}\0{}", 5)) == "JSON: holds a zero byte at line 1, column 3");
    CHECK(one(std::string(4'000'001, ' ')) == "JSON: is longer than 4 MB");
    CHECK(one("7") == "JSON: must be an object, not 7");
    CHECK(one("null") == "JSON: must be an object, not null");
    CHECK(one("[]") == "JSON: must be an object, not a list of 0");
}

TEST_CASE("nesting and keys have an end") {
    const auto nested = [](size_t depth) {
        return std::string(depth, '[') + std::string(depth, ']');
    };
    Problems problems;
    CHECK(parse_json(nested(16), problems));
    CHECK(problems.empty());
    CHECK(!parse_json(nested(17), problems));
    CHECK(lines_of(problems) == Lines{"JSON: is nested deeper than 16 levels"});
    CHECK(lines(nested(1'000'000)) == Lines{"JSON: is nested deeper than 16 levels"});

    const auto keyed = [](int count) {
        std::string text = "{";
        for (int i = 0; i < count; ++i) {
            text += (i > 0 ? ",\"k" : "\"k") + std::to_string(i) + "\":0";
        }
        return text + "}";
    };
    problems = {};
    CHECK(parse_json(keyed(256), problems));
    CHECK(!parse_json(keyed(257), problems));
    CHECK(lines_of(problems) == Lines{"JSON: holds an object of more than 256 keys"});
}

TEST_CASE("a key given twice is a problem and the first one counts") {
    Problems problems;
    const auto json =
        parse_json(R"({"a":{"b":1,"b":{"c":[1,{"b":2}]}},"l":[0,{"d":1,"d":2}],"e":3})", problems);
    REQUIRE(json);
    CHECK(lines_of(problems) == Lines{"a.b: is given twice", "l[1].d: is given twice"});
    CHECK(write_json(*json) == R"({"a":{"b":1},"l":[0,{"d":1}],"e":3})");
}

TEST_CASE("too many rows are refused in one line") {
    std::string rows = "[";
    for (int i = 0; i < 201; ++i) {
        rows += (i > 0 ? "," : "") + std::string(R"({"pack_A":1})");
    }
    CHECK(lines(with("measured", rows + "]")) ==
          Lines{"measured: must be a list of up to 200 rows, not a list of 201"});
}

TEST_CASE("no part of a setup's text is a setup") {
    for (const std::string& text : {contract_example, least_setup}) {
        for (size_t length = 0; length < text.size(); ++length) {
            const Result<Setup> result = parse_setup(std::string_view(text).substr(0, length));
            REQUIRE(std::holds_alternative<Problems>(result));
            REQUIRE(std::get<Problems>(result).size() == 1);
        }
    }
}

TEST_CASE("damage of any one byte gives a setup or problems, never a crash") {
    std::string text = contract_example;
    const size_t step =
        text.size() / static_cast<size_t>(test::tries(static_cast<int>(text.size())));
    for (size_t i = 0; i < text.size(); i += step) {
        const char kept = text[i];
        for (const char c : {'\0', '"', '9', '-', '{', '}', '[', '\\', '\x80', ' ', 'e'}) {
            text[i] = c;
            const Result<Setup> result = parse_setup(text);
            const Problems* problems = std::get_if<Problems>(&result);
            REQUIRE((problems == nullptr || !problems->empty()));
        }
        text[i] = kept;
    }
}

TEST_CASE("the canonical text holds only what differs from the defaults") {
    CHECK(setup_to_json(must_parse(least_setup)) == least_setup);
    CHECK(setup_to_json(must_parse(with("pack.parallel", "1"))) == least_setup);
    CHECK(setup_to_json(must_parse(with("esc.pwm_Hz", "12000"))) == with("esc.pwm_Hz", "12000"));
    CHECK(setup_to_json(must_parse(with("pack.lead_length_cm", "0.1e2"))) ==
          with("pack.lead_length_cm", "10"));
}

TEST_CASE("numbers are written shortest and read back the same") {
    CHECK(number_text(600) == "600");
    CHECK(number_text(-0.0) == "0");
    CHECK(number_text(0.1) == "0.1");
    CHECK(number_text(2.4) == "2.4");
    CHECK(number_text(1.0 / 3.0) == "0.3333333333333333");
    CHECK(number_text(1e300) == "1e+300");
}

TEST_CASE("texts are JSON strings on one line, whatever bytes they hold") {
    CHECK(string_text("") == R"("")");
    CHECK(string_text("a \"b\" \\ c/") == R"("a \"b\" \\ c/")");
    CHECK(string_text("\b\f\n\r\t") == R"("\b\f\n\r\t")");
    CHECK(string_text("\x01\x1f \x7f") == R"("\u0001\u001f \u007f")");
    CHECK(string_text("\xC2\x85\xC2\x9F\xC2\xA0") == "\"\\u0085\\u009f\xC2\xA0\"");
    CHECK(string_text("gr\xC3\xBC\xC3\x9F \xF0\x9F\x9B\xA9") ==
          "\"gr\xC3\xBC\xC3\x9F \xF0\x9F\x9B\xA9\"");
    CHECK(string_text("\xFFz\xC3") == "\"\xEF\xBF\xBDz\xEF\xBF\xBD\"");
    for (int byte = 1; byte < 0x80; ++byte) {
        const std::string text(1, static_cast<char>(byte));
        Problems problems;
        const std::optional<Json> read = parse_json(string_text(text), problems);
        INFO("byte " << byte);
        REQUIRE(read);
        CHECK(*read->as<std::string>() == text);
    }
}

TEST_CASE("written and read again, a setup is the same") {
    constexpr std::uint64_t seed = 20240229;
    test::SetupMaker maker(seed);
    for (int i = 0; i < test::tries(2000); ++i) {
        const Json made = maker.make();
        CAPTURE(write_json(made));
        const std::string written = setup_to_json(must_parse(write_json(made)));
        REQUIRE(setup_to_json(must_parse(written)) == written);
        // Nothing told is lost and nothing is made up.
        Problems problems;
        const auto json = parse_json(written, problems);
        REQUIRE(json);
        REQUIRE(test::holds_all_of(*json, made, setup_infos()));
    }
}

TEST_CASE("the table itself is in order") {
    const auto check_table = [](const auto& self, const std::vector<FieldInfo>& infos) -> void {
        std::set<std::string_view> codes;
        std::set<std::string_view> keys;
        for (const FieldInfo& info : infos) {
            CAPTURE(info.key);
            CHECK(keys.insert(info.key).second);
            CHECK(codes.insert(info.code).second);
            CHECK(info.code.size() == 2);
            CHECK(std::all_of(info.code.begin(), info.code.end(), [](char c) {
                return (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
            }));
            CHECK(!info.label.empty());
            CHECK(!info.help.empty());
            CHECK((info.type != FieldType::choice || info.choices.size() > 1));
            CHECK((info.least <= info.most && info.least_count <= info.most_count));
            // A default that stands must itself be accepted.
            if (info.presence == Presence::standard && info.type == FieldType::number) {
                CHECK(*info.standard->as<double>() >= info.least);
                CHECK(*info.standard->as<double>() <= info.most);
            }
            if (info.rows != nullptr) {
                self(self, *info.rows);
            }
        }
    };
    check_table(check_table, setup_infos());
}

TEST_CASE("the field table as JSON") {
    Problems problems;
    const auto json = parse_json(fields_to_json(), problems);
    REQUIRE(json);
    REQUIRE(problems.empty());
    const JsonList& fields = *find(*json, "fields")->as<JsonList>();
    REQUIRE(fields.size() == setup_infos().size());
    std::set<std::string> quick;
    for (const Json& field : fields) {
        const std::string key = *find(field, "key")->as<std::string>();
        if (*find(field, "quick")->as<bool>()) {
            quick.insert(key);
        }
        if (key == "pack.parallel") {
            CHECK(*find(field, "default") == Json{1.0});
        }
        if (key == "pack.cells") {
            CHECK(*find(field, "required") == Json{true});
            CHECK(find(field, "default")->is_null());
            CHECK(*find(field, "most") == Json{16.0});
        }
        if (key == "flight.parts") {
            CHECK(find(field, "rows")->as<JsonList>()->size() == 4);
        }
    }
    CHECK(quick == std::set<std::string>{"pack.cells", "pack.capacity_mAh", "esc.rating_A",
                                         "esc.pwm_Hz", "load.full_throttle_A", "flight.parts"});
}

namespace {

const std::string cycle_case =
    R"({"mode":"active","Voc":25,"R_src":0.01,"L_src":1e-7,"C":1e-3,"R_esr":0.01,"R_on":0.001,)"
    R"("R_m":0.01,"L_m":1e-5,"E":10,"D":0.5,"f":8000})";
const std::string heat_case =
    R"({"Cj":0.5,"Cb":20,"Cs":60,"Gjb":2,"Gbs":3,"A":0.01,"H":0.05,"L":0.05,"p":101325,"eps":0.9,)"
    R"("a":1,"b":0,"alpha":0,"schedule":[{"t_end":60,"P0":20,"v":3,"T_amb":25}],)"
    R"("T_init":[25,26,27],"times":[60,0,30]})";

std::string replaced(std::string text, std::string_view old, std::string_view now) {
    const size_t place = text.find(old);
    REQUIRE(place != text.npos);
    return text.replace(place, old.size(), now);
}

template <class Case>
Lines case_lines(const Result<Cases<Case>>& result) {
    const Problems* problems = std::get_if<Problems>(&result);
    return problems != nullptr ? lines_of(*problems) : Lines{};
}

}  // namespace

TEST_CASE("switching-cycle cases") {
    const auto one = parse_cycles(cycle_case);
    REQUIRE(case_lines(one).empty());
    CHECK(!std::get<0>(one).is_array);
    CHECK(std::get<0>(one).cases.at(0).L_m == 1e-5);
    CHECK(std::get<0>(one).cases.at(0).mode == CycleMode::active);
    const auto two = parse_cycles("[" + cycle_case + "," + cycle_case + "]");
    REQUIRE(case_lines(two).empty());
    CHECK(std::get<0>(two).is_array);
    CHECK(std::get<0>(two).cases.size() == 2);
    CHECK(case_lines(parse_cycles("[]")).empty());

    const std::string diode = replaced(cycle_case, "active", "diode");
    CHECK(case_lines(parse_cycles("[" + cycle_case + "," + diode + "]")) ==
          Lines{"[1].V_f0: is missing: mode diode requires it",
                "[1].r_d: is missing: mode diode requires it"});
    CHECK(
        case_lines(parse_cycles(replaced(diode, "\"E\"", "\"V_f0\":0.7,\"r_d\":0,\"E\""))).empty());
    CHECK(case_lines(parse_cycles(replaced(cycle_case, "\"f\":8000", "\"f\":0"))) ==
          Lines{"f: 0 is too low: it must be above 0 Hz"});
    CHECK(case_lines(parse_cycles(replaced(cycle_case, "\"D\":0.5", "\"D\":1.5"))) ==
          Lines{"D: 1.5 is above the most accepted, 1"});
    CHECK(case_lines(parse_cycles(replaced(cycle_case, "\"E\":10,", ""))) ==
          Lines{"E: is missing: a number of at least 0 V is required"});
    CHECK(case_lines(parse_cycles(replaced(replaced(cycle_case, "\"R_m\":0.01", "\"R_m\":0"),
                                           "\"R_on\":0.001", "\"R_on\":0")))
              .size() == 1);
    CHECK(case_lines(parse_cycles("[1]")) == Lines{"[0]: must be an object, not 1"});
}

TEST_CASE("thermal-network cases") {
    const auto one = parse_heats(heat_case);
    REQUIRE(case_lines(one).empty());
    const HeatCase& heat = std::get<0>(one).cases.at(0);
    CHECK(heat.T_init == std::array<double, 3>{25, 26, 27});
    CHECK(heat.times == std::vector<double>{60, 0, 30});
    CHECK(heat.schedule.at(0).P0 == 20);
    CHECK(case_lines(parse_heats(replaced(heat_case, "[60,0,30]", "[61]"))) ==
          Lines{"times[0]: 61 is after the schedule's end, 60 s"});
    CHECK(case_lines(parse_heats(replaced(heat_case, "[25,26,27]", "[25,26]"))) ==
          Lines{"T_init: must be a list of 3 numbers, each above -273.15 deg C, not a list of 2"});
    CHECK(case_lines(parse_heats(
              replaced(heat_case, "\"schedule\":[",
                       "\"schedule\":[{\"t_end\":60,\"P0\":1,\"v\":0,\"T_amb\":20},"))) ==
          Lines{"schedule[1].t_end: 60 s must be later than the part before, 60 s"});
    CHECK(case_lines(parse_heats(replaced(heat_case, "\"eps\":0.9", "\"eps\":1.1"))).size() == 1);
}
