// Sentences' figures: clocks, degrees and differences in both scales, and the report's sentences
// read back against its numbers.
#include "advise/text.hpp"

#include <array>
#include <cmath>
#include <cstdarg>
#include <cstdio>
#include <random>

#include "advice.hpp"
#include "advise/advise.hpp"
#include "drives.hpp"
#include "owners.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

// What the C library makes of it.
[[gnu::format(printf, 1, 2)]] std::string printed(const char* format, ...) {
    std::va_list args;
    va_start(args, format);
    std::array<char, 256> text{};
    std::vsnprintf(text.data(), text.size(), format, args);
    va_end(args);
    return text.data();
}

}  // namespace

TEST_CASE("text: figures are as the C library prints them") {
    constexpr double nearly_half = 1e-6;  // ties of decimals are none of the double's
    std::mt19937 random(20261127);
    std::uniform_real_distribution<double> magnitude(-6, 12);
    std::uniform_int_distribution<int> digits_of(0, 4);
    int compared = 0;
    for (int i = 0; i < 4000; ++i) {
        const double x = (i % 2 == 0 ? 1 : -1) * std::pow(10, magnitude(random));
        const int digits = digits_of(random);
        const double parts = std::abs(x) * std::pow(10, digits);
        if (std::abs(parts - std::floor(parts) - 0.5) < nearly_half || parts < 0.5) {
            continue;
        }
        INFO(x << " to " << digits);
        CHECK(fixed_text(x, digits) == printed("%.*f", digits, x));
        CHECK(say("%.*f|", digits, x) == printed("%.*f|", digits, x));
        ++compared;
    }
    CHECK(compared > 3000);
    for (const double tie : {0.5, 1.5, 2.5, -3.5}) {
        CHECK(say("%.0f", tie) == (tie == 0.5 ? "0" : printed("%.0f", tie)));
    }
    for (const double x : {1.26, -1.24, 1234.5}) {
        CHECK(say("%+.1f", x) == printed("%+.1f", x));
    }
    CHECK(say("%+.1f", 0.0) == "+0.0");
    CHECK(say("%.0f", -0.4) == "0");  // where C says -0
    CHECK(say("%.3f", 0.0625) == printed("%.3f", 0.0625));
    CHECK(say("%s %c%% %d %d %zu", "of", 'C', 7, -12, size_t{40}) ==
          printed("%s %c%% %d %d %zu", "of", 'C', 7, -12, size_t{40}));
    CHECK(say("%ld:%02ld, %02ld, %02ld", 12L, 5L, 59L, 123L) == "12:05, 59, 123");
}

TEST_CASE("text: figures beyond what a double counts in parts are as short as they go") {
    CHECK(fixed_text(8.9e15, 0) == "8900000000000000");
    CHECK(fixed_text(9.1e15, 1) == "9.1e+15");
    CHECK(fixed_text(-1e22, 2) == "-1e+22");
    CHECK(fixed_text(INFINITY, 0) == "infinite");
    CHECK(three_figures(45) == "45");
    CHECK(three_figures(123.4) == "123");
    CHECK(three_figures(0.012345) == "0.0123");
    CHECK(three_figures(1236) == "1240");
    CHECK(three_figures(12.25) == "12.2");
    CHECK(three_figures(0) == "0");
}

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
    CHECK(numbers_in(f.verdict.headline)[0] == std::round(1.8 * std::round(c.esc.peak_C.p50) + 32));
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
