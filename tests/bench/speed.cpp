// How long do the exact cycle and a whole report take, natively? Prints one JSON object;
// tests/bench/run puts it beside the wasm module's times.
//   bench_speed SETUP...
#include <algorithm>
#include <chrono>
#include <cstddef>
#include <fstream>
#include <iostream>
#include <iterator>
#include <limits>
#include <nlohmann/json.hpp>
#include <string>
#include <variant>
#include <vector>

#include "bridge/cycle.hpp"
#include "report/door.hpp"

namespace {

using Clock = std::chrono::steady_clock;

double seconds_since(Clock::time_point start) {
    return std::chrono::duration<double>(Clock::now() - start).count();
}

/// The least time of one call over `rounds` rounds of at least `round_s` each: other work on the
/// machine only ever adds to a time.
template <class Call>
double least_seconds(Call call, int rounds = 5, double round_s = 0.1) {
    double least = std::numeric_limits<double>::infinity();
    for (int round = 0; round < rounds; ++round) {
        size_t calls = 0;
        const auto start = Clock::now();
        do {
            call();
            ++calls;
        } while (seconds_since(start) < round_s);
        least = std::min(least, seconds_since(start) / static_cast<double>(calls));
    }
    return least;
}

/// The bench's own circuit: six cells, a 100 A class ESC, a motor of 12 mOhm and 12 uH.
std::vector<hotband::CycleCase> cycle_cases() {
    std::vector<hotband::CycleCase> cases;
    for (const auto mode : {hotband::CycleMode::active, hotband::CycleMode::diode}) {
        for (const double duty : {0.1, 0.3, 0.5, 0.7, 0.9}) {
            for (const double pwm_Hz : {8000.0, 16000.0, 24000.0}) {
                // E at 0.9 of the mean voltage runs on; above it a diode bridge runs dry
                for (const double share : {0.9, 1.02}) {
                    cases.push_back({.mode = mode,
                                     .Voc = 24,
                                     .R_src = 0.015,
                                     .L_src = 2e-7,
                                     .C = 1e-3,
                                     .R_esr = 0.008,
                                     .R_on = 7e-4,
                                     .V_f0 = 0.5,
                                     .r_d = 0.002,
                                     .R_m = 0.012,
                                     .L_m = 12e-6,
                                     .E = share * duty * 24,
                                     .D = duty,
                                     .f = pwm_Hz});
                }
            }
        }
    }
    return cases;
}

nlohmann::json cycle_times() {
    const auto cases = cycle_cases();
    double sum = 0;
    double worst = 0;
    bool solved = true;
    for (const auto& c : cases) {
        const double one =
            least_seconds([&] { solved = hotband::solve_cycle(c).ok && solved; }, 3, 0.01);
        sum += one;
        worst = std::max(worst, one);
    }
    return {{"solved", solved},
            {"mean_us", 1e6 * sum / static_cast<double>(cases.size())},
            {"worst_us", 1e6 * worst}};
}

nlohmann::json report_times(const std::string& file) {
    std::ifstream stream(file, std::ios::binary);
    const std::string setup{std::istreambuf_iterator<char>(stream), {}};
    bool answered = true;
    const auto answers = [&](const hotband::Result<std::string>& result) {
        answered = answered && std::holds_alternative<std::string>(result);
    };
    const double nominal_s = least_seconds([&] { answers(hotband::advise_text(setup, 0)); });
    const double whole_s = least_seconds([&] { answers(hotband::advise_text(setup)); });
    return {{"setup", file},
            {"answered", answered},
            {"nominal_ms", 1e3 * nominal_s},
            {"whole_ms", 1e3 * whole_s}};
}

}  // namespace

int main(int argc, char** argv) {
    nlohmann::json times = {{"cycle", cycle_times()}, {"reports", nlohmann::json::array()}};
    for (int i = 1; i < argc; ++i) {
        times["reports"].push_back(report_times(argv[i]));
    }
    std::cout << times.dump() << '\n';
}
