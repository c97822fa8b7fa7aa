// Sentences' figures: clocks, degrees and differences in both scales, and the report's sentences
// read back against its numbers.
#include "advise/text.hpp"

#include <cmath>

#include "advice.hpp"
#include "advise/advise.hpp"
#include "drives.hpp"
#include "owners.hpp"

using namespace hotband;
using namespace hotband::test;

TEST_CASE("text: seconds as a clock") {
    CHECK(clock_text(0) == "0:00 min");
    CHECK(clock_text(59.6) == "1:00 min");
    CHECK(clock_text(400) == "6:40 min");
    CHECK(clock_text(3599.4) == "59:59 min");
    CHECK(clock_text(3600) == "1 h 00 min");
    CHECK(clock_text(5280) == "1 h 28 min");
}

TEST_CASE("text: inside a sentence a word begins small, an abbreviation stays") {
    CHECK(in_mid_sentence("A propeller") == "a propeller");
    CHECK(in_mid_sentence("Zebra") == "zebra");
    CHECK(in_mid_sentence("Leads half as long") == "leads half as long");
    CHECK(in_mid_sentence("ESC of the 80 A class") == "ESC of the 80 A class");
    CHECK(in_mid_sentence("PWM at 8 kHz") == "PWM at 8 kHz");
    CHECK(in_mid_sentence("already small") == "already small");
    CHECK(in_mid_sentence("6 cells") == "6 cells");
    CHECK(in_mid_sentence("[b") == "[b");  // the signs next to A and Z
    CHECK(in_mid_sentence("@b") == "@b");
    CHECK(in_mid_sentence("A") == "A");
    CHECK(in_mid_sentence("").empty());
}

TEST_CASE("text: degrees and differences in both scales (D)") {
    CHECK(degrees(100, Scale::celsius) == "100 deg C");
    CHECK(degrees(100, Scale::fahrenheit) == "212 deg F");
    CHECK(degrees(-40, Scale::fahrenheit) == "-40 deg F");
    CHECK(difference(10, Scale::celsius) == "10 K");
    CHECK(difference(10, Scale::fahrenheit) == "18 deg F");
    CHECK(difference(2.25, Scale::celsius, 1) == "2.2 K");
    CHECK(change_text(-5, Scale::celsius) == "-5.0 K");
    CHECK(change_text(5, Scale::fahrenheit) == "+9.0 deg F");
    CHECK(on_scale(37, Scale::celsius) == 37);
}

TEST_CASE("text: a share as a percentage has no last digits of its own") {
    CHECK(percent(0.97) == 97);
    CHECK(percent(0.29) == 29);
    CHECK(percent(1.0 / 3) != 33);
}

TEST_CASE("text: a report in deg F differs in its sentences alone") {
    Setup s = six_cell_drive();
    s.esc.freewheel = Freewheel::diode;
    s.flight.parts = {part_of(70, 40), part_of(100, 8)};
    const Report c = advise(s, {.samples = 64});
    const Report f = advise(s, {.samples = 64, .scale = Scale::fahrenheit});
    CHECK(c.esc.peak_C.p50 == f.esc.peak_C.p50);
    CHECK(c.why.rise_over_full_K == f.why.rise_over_full_K);
    CHECK(c.limits->warmest_air_C == f.limits->warmest_air_C);
    const auto all = [](const Report& r) {
        std::string text = r.verdict.headline + r.why.text + r.why_over_air.text + r.limits->text +
                           r.pwm.text + r.learned.text;
        for (const ThrottleBand& b : r.bands) {
            text += b.text;
        }
        for (const std::string& caution : r.cautions) {
            text += caution;
        }
        return text;
    };
    CHECK(has(all(c), "deg C"));
    CHECK_FALSE(has(all(c), "deg F"));
    CHECK(has(all(f), "deg F"));
    CHECK_FALSE(has(all(f), "deg C"));
    CHECK_FALSE(has(all(f), " K "));
    CHECK(numbers_in(c.verdict.headline)[0] == std::round(c.esc.peak_C.p50));
    CHECK(numbers_in(f.verdict.headline)[0] == std::round(1.8 * c.esc.peak_C.p50 + 32));
    CHECK(numbers_in(c.why.text)[0] == std::round(std::abs(c.why.rise_over_full_K)));
    CHECK(numbers_in(c.why_over_air.text)[0] == std::round(c.why_over_air.rise_K));
    CHECK(numbers_in(c.why_over_air.text)[1] == std::round(c.why_over_air.throttle_pct));
}

TEST_CASE("text: no machine words reach the pilot") {
    Setup s = six_cell_drive();
    s.flight.parts = {part_of(70, 40), part_of(100, 8)};
    const Report r = advise(s, {.samples = 64});
    std::vector<std::string> said = {r.verdict.headline, r.why.text, r.why_over_air.text,
                                     r.limits->text,     r.pwm.text, r.learned.text};
    for (const Change& c : r.changes) {
        said.push_back(c.text);
        said.push_back(c.cost);
    }
    for (const CheckGroup* g :
         {&r.checks.rating, &r.checks.pack, &r.checks.capacitor, &r.checks.supply}) {
        for (const CheckItem& i : g->items) {
            said.push_back(i.label);
            said.push_back(i.basis);
        }
    }
    for (const std::string& text : said) {
        INFO(text);
        CHECK_FALSE(has(text, "_"));
        CHECK_FALSE(has(text, "nan"));
        CHECK_FALSE(has(text, "safe"));
    }
}
