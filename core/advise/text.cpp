// Sentences with figures in them; see text.hpp. Written by hand, for the C library's printf of
// floating point would be a fiftieth of what a phone fetches.
#include "advise/text.hpp"

#include <cmath>
#include <cstdarg>

#include "setup/json.hpp"

namespace hotband {
namespace {

bool is_digit(char c) { return c >= '0' && c <= '9'; }

// What stands between a `%` and its letter: a sign wanted, noughts in front up to a width, digits
// behind the point, a wide integer.
struct Figure {
    bool sign = false, wide = false;
    size_t width = 0;
    int digits = 6;
};

std::string with_noughts(const std::string& text, size_t width) {
    return text.size() < width ? std::string(width - text.size(), '0') + text : text;
}

std::string with_sign(double number, const Figure& f) {
    return (f.sign && number >= 0 ? "+" : "") + fixed_text(number, f.digits);
}

}  // namespace

std::string fixed_text(double number, int digits) {
    constexpr double most_whole = 9e15;  // below 2^53 there are parts of one
    const double scale = std::pow(10, digits);
    const double parts = std::nearbyint(std::abs(number) * scale);
    if (!(parts < most_whole)) {
        return std::isfinite(number) ? number_text(number) : "infinite";
    }
    std::string text = with_noughts(number_text(parts), static_cast<size_t>(digits) + 1);
    if (digits > 0) {
        text.insert(text.size() - static_cast<size_t>(digits), 1, '.');
    }
    return (number < 0 && parts > 0 ? "-" : "") + text;
}

std::string three_figures(double number) {
    const double scale = std::pow(10, 2 - std::floor(std::log10(std::abs(number))));
    return number_text(std::isfinite(scale) ? std::nearbyint(number * scale) / scale : number);
}

std::string say(const char* format, ...) {
    std::va_list args;
    va_start(args, format);
    std::string out;
    for (const char* at = format; *at != '\0'; ++at) {
        if (*at != '%') {
            out += *at;
            continue;
        }
        Figure f;
        for (++at; *at == '+' || *at == '.' || *at == 'l' || *at == 'z' || is_digit(*at); ++at) {
            f.sign = f.sign || *at == '+';
            f.wide = f.wide || *at == 'l' || *at == 'z';
            if (*at == '.') {
                ++at;
                f.digits = *at == '*' ? va_arg(args, int) : *at - '0';
            } else if (is_digit(*at)) {
                f.width = static_cast<size_t>(*at - '0');
            }
        }
        if (*at == 'f') {
            out += with_sign(va_arg(args, double), f);
        } else if (*at == 's') {
            out += va_arg(args, const char*);
        } else if (*at == 'c') {
            out += static_cast<char>(va_arg(args, int));
        } else if (*at == '%') {
            out += '%';
        } else {
            const long whole = f.wide ? va_arg(args, long) : va_arg(args, int);
            out += with_noughts(std::to_string(whole), f.width);
        }
    }
    va_end(args);
    return out;
}

}  // namespace hotband
