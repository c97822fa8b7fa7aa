// The cautions: always there, in the scale asked for, and one more for hot windings.
#include "advice.hpp"

using namespace hotband;
using namespace hotband::test;

TEST_CASE("cautions: five always, in either scale, none that promises anything") {
    const auto in_C = list_cautions({}, Scale::celsius);
    CHECK(in_C.size() == 5);
    CHECK(has(in_C[2], "60 deg C"));
    CHECK(has(list_cautions({}, Scale::fahrenheit)[2], "140 deg F"));
    for (const std::string& text : in_C) {
        CHECK_FALSE(has(text, "safe"));
    }
}

TEST_CASE("cautions: hot windings are named from 120 deg C on") {
    Report r;
    r.flight.series.resize(3);
    r.flight.series[1].motor_C = 120;
    CHECK(list_cautions(r, Scale::celsius).size() == 5);
    r.flight.series[1].motor_C = 120.1;
    CHECK(list_cautions(r, Scale::celsius).size() == 6);
    r.flight.series[1].motor_C = 131;
    const auto all = list_cautions(r, Scale::celsius);
    REQUIRE(all.size() == 6);
    CHECK(numbers_in(all.back())[0] == 131);
}
