// Sentences with figures in them, in one style, in deg C or deg F.
#pragma once

#include <cmath>
#include <string>

namespace hotband {

/// A number with so many digits behind the point, 0 to 9; a tie goes to the even one. Without a
/// sign where nothing is left of it; from 9e15 in its digits' parts on in its shortest form.
std::string fixed_text(double number, int digits);

/// A number in three figures, as short as it goes.
std::string three_figures(double number);

/// A sentence: of printf's language %s, %c, %%, %d, %ld and %zu, a nought and a digit for the width
/// of these, and %f with digits behind the point (%.1f, %.*f) and perhaps a sign (%+.1f).
[[gnu::format(printf, 1, 2)]] std::string say(const char* format, ...);

/// A sentence inside another: "a propeller", but "ESC" and "PWM" stay.
inline std::string in_mid_sentence(std::string text) {
    const auto upper = [](char c) { return c >= 'A' && c <= 'Z'; };
    if (text.size() > 1 && upper(text[0]) && !upper(text[1])) {
        text[0] = static_cast<char>(text[0] - 'A' + 'a');
    }
    return text;
}

/// Seconds as minutes and seconds, `6:40`, or from an hour on as `1 h 28 min`.
inline std::string clock_text(double seconds) {
    const long s = std::lround(seconds);
    return s < 3600 ? say("%ld:%02ld min", s / 60, s % 60)
                    : say("%ld h %02ld min", s / 3600, s % 3600 / 60);
}

/// The scale that the report's sentences speak. Its numbers are deg C and K in either.
enum class Scale { celsius, fahrenheit };

/// A temperature (deg C) as a number on the scale.
inline double on_scale(double celsius, Scale in) {
    return in == Scale::fahrenheit ? 1.8 * celsius + 32 : celsius;
}

/// A temperature (deg C) in whole degrees. Rounded in deg C first, so that a sentence that is
/// turned from one scale into the other says what one made in the other says.
inline std::string degrees(double celsius, Scale in) {
    return say("%.0f deg %c", on_scale(std::nearbyint(celsius), in),
               in == Scale::fahrenheit ? 'F' : 'C');
}

/// A difference of temperatures (K): kelvin beside deg C, rounded as temperatures are.
inline std::string difference(double kelvin, Scale in, int digits = 0) {
    const double unit = std::pow(10, -digits);
    return in == Scale::fahrenheit
               ? say("%.*f deg F", digits, 1.8 * unit * std::nearbyint(kelvin / unit))
               : say("%.*f K", digits, kelvin);
}

/// The same with its sign.
inline std::string change_text(double kelvin, Scale in) {
    return (kelvin < 0 ? "-" : "+") + difference(std::abs(kelvin), in, 1);
}

/// A share as a percentage, without the last digits that a division by 100 leaves.
inline double percent(double share) { return std::round(share * 1e10) / 1e8; }

}  // namespace hotband
