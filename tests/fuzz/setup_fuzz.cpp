// Has every accepted setup a report, and is every other text refused in words? A mutator that knows
// the field table keeps most setups accepted: bytes alone are refused at the door.
#include <algorithm>

#include "../core/setup_mutator.hpp"
#include "fuzz.hpp"
#include "setup/link.hpp"

using namespace hotband;
using namespace hotband::fuzz;

namespace {

constexpr std::string_view least_setup =
    R"({"hotband":1,"pack":{"cells":4,"capacity_mAh":3300},"esc":{"rating_A":60,"pwm_Hz":16000},)"
    R"("load":{"kind":"propeller","full_throttle_A":45},"flight":{"parts":[{"throttle_pct":60,)"
    R"("seconds":40}]}})";

Json parsed(std::string_view text) {
    Problems problems;
    auto json = parse_json(text, problems);
    if (json && json->as<JsonObject>() != nullptr) {
        return *std::move(json);
    }
    return *parse_json(least_setup, problems);
}

}  // namespace

extern "C" size_t LLVMFuzzerMutate(std::uint8_t* data, size_t size, size_t most);

extern "C" size_t LLVMFuzzerCustomMutator(std::uint8_t* data, size_t size, size_t most,
                                          unsigned seed) {
    if (seed % 32 == 0) {
        return LLVMFuzzerMutate(data, size, most);
    }
    Json setup = parsed({reinterpret_cast<const char*>(data), size});
    test::SetupMutator mutator(seed);
    for (unsigned i = 0; i <= seed % 5; ++i) {
        mutator.mutate(setup);
    }
    mutator.mend(setup);
    const std::string text = write_json(setup);
    if (text.size() > most) {
        return LLVMFuzzerMutate(data, size, most);
    }
    std::copy(text.begin(), text.end(), data);
    return text.size();
}

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, size_t size) {
    const std::string_view text(reinterpret_cast<const char*>(data), size);
    const auto read = parse_setup(text);
    if (const Setup* setup = std::get_if<Setup>(&read)) {
        const std::string canonical = setup_to_json(*setup);
        const auto again = parse_setup(canonical);
        require(std::holds_alternative<Setup>(again), "a setup that was read can be written");
        require(setup_to_json(*std::get_if<Setup>(&again)) == canonical, "and is the same setup");
        const auto linked = from_link(to_link(*setup));
        require(std::holds_alternative<Setup>(linked) &&
                    setup_to_json(*std::get_if<Setup>(&linked)) == canonical,
                "and as a link too");
    }
    const auto report = advise_text(text, 0);
    answer_of(report);
    require(std::holds_alternative<std::string>(report) == std::holds_alternative<Setup>(read),
            "every accepted setup has a report");
    return 0;
}
