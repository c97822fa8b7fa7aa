// What is listed as assumed: every prior that is used with its range, and the plain defaults where
// nothing was told.
#include <cmath>

#include "advice.hpp"
#include "drives.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

const Assumption* find_assumption(const std::vector<Assumption>& all, const std::string& key) {
    const auto found =
        std::find_if(all.begin(), all.end(), [&](const Assumption& a) { return a.key == key; });
    return found == all.end() ? nullptr : &*found;
}

}  // namespace

TEST_CASE("assumptions: priors are listed with the range that holds four draws in five") {
    const Setup s = six_cell_drive();
    const Calibration c = calibrate(s);
    const Belief& b = c.belief;
    const auto listed = list_assumptions(s, c);
    size_t used = 0;
    for (const Prior& prior : b.priors) {
        const Assumption* a = find_assumption(listed, std::string(prior.key));
        CHECK((a != nullptr) == prior.used);
        if (a != nullptr) {
            ++used;
            CHECK_FALSE(a->basis.empty());
            CHECK(a->told == prior.told);
            if (prior.key == "esc.freewheel") {
                CHECK_THAT(a->value, WithinAbs(0.05, 1e-12));
                CHECK((a->low == 0 && a->high == 1));
                continue;
            }
            CHECK(a->value == prior.median);
            // 1.28155 standard deviations to either side (M: normal table), of the logarithm but
            // for what is as likely so much above as below.
            const double off = 1.2815516 * prior.spread;
            const double low = prior.additive ? prior.median - off : prior.median * std::exp(-off);
            const double high = prior.additive ? prior.median + off : prior.median * std::exp(off);
            CHECK_THAT(a->low, WithinAbs(low, 1e-6 * (1 + std::abs(low))));
            CHECK_THAT(a->high, WithinAbs(high, 1e-6 * (1 + std::abs(high))));
        }
    }
    CHECK(listed.size() == used + 4);
}

TEST_CASE("assumptions: what was learned moves the value and narrows the range") {
    const Setup s = six_cell_drive();
    Calibration c = calibrate(s);
    Belief& b = c.belief;
    b.middle[0] = 1;
    b.factor[0] *= 0.5;
    const Assumption first = list_assumptions(s, c).front();
    const Prior& prior = b.priors.front();
    CHECK_THAT(first.value, WithinRel(prior_value(prior, 1), 1e-12));
    CHECK_THAT(first.high, WithinRel(prior_value(prior, 1 + 0.5 * z90), 1e-12));
}

TEST_CASE("assumptions: defaults are listed until they are told") {
    Setup s = six_cell_drive();
    s.air.temperature_C = 17;
    const auto untold = list_assumptions(s, calibrate(s));
    CHECK(find_assumption(untold, "pack.sag_floor_V")->value == 3.2);
    CHECK(find_assumption(untold, "pack.temperature_C")->value == 17);
    CHECK(find_assumption(untold, "flight.start_C")->value == 17);
    CHECK_THAT(find_assumption(untold, "esc.burst_A")->value, WithinAbs(180, 1e-9));
    s.pack.sag_floor_V = 3.1;
    s.pack.temperature_C = 30;
    s.flight.start_C = 40;
    s.esc.burst_A = 200;
    const auto told = list_assumptions(s, calibrate(s));
    for (const char* key :
         {"pack.sag_floor_V", "pack.temperature_C", "flight.start_C", "esc.burst_A"}) {
        CHECK(find_assumption(told, key) == nullptr);
    }
    CHECK(burst_rating_A(s.esc) == 200);
}
