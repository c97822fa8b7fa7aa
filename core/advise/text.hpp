// Sentences with figures in them, in one style.
#pragma once

#include <cmath>
#include <cstdarg>
#include <cstdio>
#include <string>

namespace hotband {

/// printf into a string.
[[gnu::format(printf, 1, 2)]] inline std::string say(const char* format, ...) {
    std::va_list args;
    va_start(args, format);
    char buffer[512];
    std::vsnprintf(buffer, sizeof buffer, format, args);
    va_end(args);
    return buffer;
}

/// Seconds as minutes and seconds, `6:40`, or from an hour on as `1 h 28 min`.
inline std::string clock_text(double seconds) {
    const long s = std::lround(seconds);
    return s < 3600 ? say("%ld:%02ld min", s / 60, s % 60)
                    : say("%ld h %02ld min", s / 3600, s % 3600 / 60);
}

/// A share as a percentage, without the last digits that a division by 100 leaves.
inline double percent(double share) { return std::round(share * 1e10) / 1e8; }

}  // namespace hotband
