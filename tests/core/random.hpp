// Random numbers that are the same everywhere: splitmix64 (Steele, Lea and Flood, "Fast splittable
// pseudorandom number generators", 2014; constants from memory).
#pragma once

#include <cmath>
#include <cstddef>
#include <cstdint>

namespace hotband::test {

/// So many tries natively; as wasm, where each takes ten times as long and the answers are no
/// others, an eighth, at least one.
constexpr int tries(int natively) {
#ifdef __EMSCRIPTEN__
    constexpr int share = 8;
    return natively < share ? 1 : natively / share;
#else
    return natively;
#endif
}

class Random {
 public:
    explicit Random(std::uint64_t seed) : state_(seed) {}

    std::uint64_t next() {
        std::uint64_t z = (state_ += 0x9E3779B97F4A7C15);
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EB;
        return z ^ (z >> 31);
    }
    double unit() { return static_cast<double>(next() >> 11) * 0x1p-53; }
    double uniform(double low, double high) { return low + (high - low) * unit(); }
    double log_uniform(double low, double high) {
        return std::exp(uniform(std::log(low), std::log(high)));
    }
    bool chance(double p) { return unit() < p; }
    /// 0 where there is nothing to choose from.
    size_t below(size_t n) { return n == 0 ? 0 : static_cast<size_t>(next() % n); }

 private:
    std::uint64_t state_;
};

}  // namespace hotband::test
