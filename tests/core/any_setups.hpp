// Accepted setups of every sort: from the whole width of the field table, and sane ones of which a
// few fields were changed to anything.
#pragma once

#include <optional>

#include "sane_setups.hpp"
#include "setup_maker.hpp"
#include "setup_mutator.hpp"

namespace hotband::test {

/// Takes out the rows and speeds that a fit would learn from.
inline void forget_readings(Json& setup) {
    const auto forget = [](Json& owner, std::string_view key) {
        if (auto* members = owner.as<JsonObject>()) {
            members->erase(
                std::remove_if(members->begin(), members->end(),
                               [&](const JsonMember& member) { return member.key == key; }),
                members->end());
        }
    };
    forget(setup, "measured");
    if (const Json* points = find(setup, "load.points"); points != nullptr) {
        Json speedless = *points;
        if (auto* rows = speedless.as<JsonList>()) {
            for (Json& row : *rows) {
                forget(row, "rpm");
            }
        }
        put(setup, "load.points", std::move(speedless));
    }
}

/// The setup number `i` of a seed, as text that is accepted.
inline std::string any_setup_text(std::uint64_t seed, std::uint64_t i) {
    constexpr size_t most_tries = 20;
    constexpr std::string_view other_loads[] = {
        R"("load":{"kind":"propeller","shaft_W":800,"shaft_rpm":9000})",
        R"("load":{"kind":"propeller","diameter_cm":30,"pitch_cm":15})",
        R"("load":{"kind":"propeller","points":[{"throttle_pct":40,"pack_A":6},)"
        R"({"throttle_pct":70,"pack_A":20},{"throttle_pct":100,"pack_A":45}]})",
        R"("load":{"kind":"propeller"})",
        R"("load":{"kind":"governed"})",
        R"("load":{"kind":"propeller","full_throttle_A":45},"measured":[{"throttle_pct":60,)"
        R"("pack_A":16,"hold_s":240,"start_C":25,"esc_mean_C":41,"esc_peak_C":46}])"};
    Random mixed(Random(seed + 0x9E37 * i).next() ^ i);
    for (size_t tries = 0; tries < most_tries; ++tries) {
        SetupMutator mutator(mixed.next());
        Problems none;
        Json setup;
        const size_t sort = mixed.below(8);
        if (sort < 2) {
            setup = SetupMaker(mixed.next()).make();
        } else if (sort < 6) {
            setup = *parse_json(text_of(sane_setups[mixed.below(sane_setups.size())]), none);
        } else {
            const std::string text =
                R"({"hotband":1,"pack":{"cells":4,"capacity_mAh":3300},"esc":{"rating_A":60,)"
                R"("pwm_Hz":16000},)" +
                std::string(other_loads[mixed.below(std::size(other_loads))]) +
                R"(,"flight":{"parts":[{"throttle_pct":60,"seconds":40}]}})";
            setup = *parse_json(text, none);
        }
        // one change finds what hangs on one field, dozens what hangs on their meeting
        const size_t changes = sort == 0 ? 0 : mixed.chance(0.8) ? 1 + mixed.below(5) : 30;
        for (size_t k = 0; k < changes; ++k) {
            mutator.mutate(setup);
        }
        // Learning from readings takes a hundred times as long as all the rest.
        if (!mixed.chance(0.08)) {
            forget_readings(setup);
        }
        mutator.mend(setup);
        std::string text = write_json(setup);
        if (std::holds_alternative<Setup>(parse_setup(text))) {
            return text;
        }
    }
    return text_of(sane_setups[i % sane_setups.size()]);
}

}  // namespace hotband::test
