// No cry of wolf, and no silence: over sane setups of every class few checks fail and few alarms
// are without heat; of setups that burn each one alarms.
#include <map>

#include "advice.hpp"
#include "advise/advise.hpp"
#include "sane_setups.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

// What must hold of any report, whatever its figures.
void check_agreement(const Setup& s, const Report& r) {
    const auto runs_away = [](const Band& b) { return !std::isfinite(b.p50); };
    bool any_failed = false;
    for (const CheckGroup* g :
         {&r.checks.rating, &r.checks.pack, &r.checks.capacitor, &r.checks.supply}) {
        for (const CheckItem& i : g->items) {
            any_failed = any_failed || !i.ok;
            CHECK((!i.serious || !i.ok));
            CHECK((!i.serious || r.verdict.level == Level::stop));
        }
    }
    bool not_hold = false;
    for (const ThrottleBand& b : r.bands) {
        not_hold = not_hold || has(b.text, "do not hold");
        for (const HoldReport& h : r.holds) {
            const bool in_it = h.throttle_pct >= b.from_pct && h.throttle_pct <= b.to_pct;
            if (in_it && b.runaway_from_pct && h.throttle_pct < *b.runaway_from_pct) {
                CHECK_FALSE(h.runaway);
            }
        }
    }
    CHECK((r.verdict.level != Level::fine || !any_failed));
    CHECK((r.verdict.level != Level::fine || !not_hold));
    CHECK((r.verdict.level == Level::fine) == r.verdict.reasons.empty());
    // One temperature.
    const double limit = s.esc.limit_C;
    CHECK(r.esc.runaway == runs_away(r.esc.peak_C));
    CHECK(r.esc.runaway == (r.flight.ended_by == EndedBy::runaway));
    CHECK((r.esc.runaway || r.esc.margin_K == limit - r.esc.peak_C.p50));
    CHECK(r.flight.limit_after_s.has_value() == !(r.esc.peak_C.p50 <= limit));
    CHECK((r.esc.runaway || r.esc.junction_peak_C >= r.esc.peak_C.p50));
    for (const SeriesRow& row : r.flight.series) {
        // A board warmer than its junctions by the capacitors' heat alone is none of a flight's.
        CHECK((!std::isfinite(row.junction_C) || row.junction_C >= row.board_C.p50 - 0.1));
    }
    for (const HoldReport& h : r.holds) {
        INFO(h.throttle_pct << " %");
        CHECK(h.runaway == runs_away(h.hold_peak_C));
        CHECK(h.runaway == (h.ended_by == EndedBy::runaway));
        CHECK(h.seconds_to_limit.has_value() == !(h.hold_peak_C.p50 <= limit));
        if (h.seconds_to_limit) {
            CHECK(between(0, *h.seconds_to_limit, h.hold_s));
        }
    }
    CHECK(r.hover.has_value() == (s.load.kind == LoadKind::governed));
    if (r.hover) {
        CHECK(r.hover->land_by_s <= r.hover->seconds);
    }
}

}  // namespace

TEST_CASE("sane setups: no check fails in more than a tenth of them, few alarms without heat") {
    std::map<std::string, int> failed;
    int without_heat = 0;
    for (const Sketch& sketch : sane_setups) {
        INFO(sketch.name);
        const Setup s = setup_of(sketch);
        const Report r = advise(s, {.samples = 64});
        check_agreement(s, r);
        bool heat = false;
        for (const Reason& reason : r.verdict.reasons) {
            heat = heat || reason.key == "heat" || reason.key == "band";
        }
        without_heat += r.verdict.level != Level::fine && !heat ? 1 : 0;
        for (const CheckGroup* g :
             {&r.checks.rating, &r.checks.pack, &r.checks.capacitor, &r.checks.supply}) {
            for (const CheckItem& i : g->items) {
                failed[i.key] += i.ok ? 0 : 1;
            }
        }
    }
    for (const auto& [key, count] : failed) {
        INFO(key);
        CHECK(count <= static_cast<int>(sane_setups.size()) / 10);
    }
    CHECK(without_heat <= 8);
}

TEST_CASE("burning setups: every one alarms, and what its name says is among the reasons") {
    const std::map<std::string_view, std::vector<std::string>> expected = {
        {"twice its rating at full throttle", {"heat", "full_throttle_A", "band"}},
        {"twelve cells on a six-cell ESC", {"cells", "link_peak_V"}},
        {"held at 85 % in a closed bay", {"heat", "band"}},
        {"servos overload the linear supply", {"heat_W", "current_A"}},
        {"average servo current over the supply's rating", {"current_A"}},
        {"sixty times its capacity from a small pack", {"rate_C"}},
        {"old pack, four times the resistance", {"sag"}},
        {"a tenth of the usual capacitance", {"ripple_A", "link_ripple_pct"}},
        {"rotor speed beyond the pack's voltage", {"headroom"}},
        {"second flight on a hot ESC in the sun", {"heat"}},
        {"fan jet in a sealed bay on its rating", {"heat"}},
        {"hover far over the ESC", {"heat", "full_throttle_A"}}};
    for (const Sketch& sketch : burning_setups) {
        INFO(sketch.name);
        const Setup s = setup_of(sketch);
        const Report r = advise(s, {.samples = 64});
        check_agreement(s, r);
        CHECK(r.verdict.level != Level::fine);
        for (const std::string& key : expected.at(sketch.name)) {
            INFO(key);
            CHECK(std::any_of(r.verdict.reasons.begin(), r.verdict.reasons.end(),
                              [&](const Reason& reason) { return reason.key == key; }));
        }
    }
}
