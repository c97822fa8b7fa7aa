// Hand-made rooms of a report, for the rules that read them: every figure is the test's own.
#pragma once

#include <algorithm>
#include <cctype>
#include <string>
#include <vector>

#include "advise/spread.hpp"
#include "near.hpp"

namespace hotband::test {

/// A hold that peaks at so many deg C.
inline HoldReport hold_at(double throttle_pct, double peak_C, double duty = 0.5) {
    HoldReport h;
    h.throttle_pct = throttle_pct;
    h.duty = duty;
    h.hold_s = 300;
    h.hold_peak_C = {peak_C - 10, peak_C, peak_C + 10};
    return h;
}

/// A report in which all is fine: 60 deg C of 100.
inline Report fine_report() {
    Report r;
    r.samples = 256;
    r.esc.peak_C = {50, 60, 70};
    r.esc.limit_C = 100;
    r.esc.margin_K = 40;
    r.esc.chance_over_limit = 0;
    r.flight.seconds = 400;
    return r;
}

/// The change of that name; none where it is not offered.
inline const Change* find_change(const std::vector<Change>& changes, const std::string& id) {
    const auto there =
        std::find_if(changes.begin(), changes.end(), [&](const Change& c) { return c.id == id; });
    return there == changes.end() ? nullptr : &*there;
}

/// The choice of that frequency, which must be among them.
inline const PwmChoice& choice_of(const std::vector<PwmChoice>& choices, double pwm_Hz) {
    return *std::find_if(choices.begin(), choices.end(),
                         [&](const PwmChoice& c) { return c.pwm_Hz == pwm_Hz; });
}

inline CheckItem failed_item(const char* key, double value, double bound) {
    CheckItem item;
    item.key = key;
    item.label = "Motor current";
    item.value = value;
    item.bound = bound;
    item.unit = "A";
    item.ok = false;
    return item;
}

/// The numbers in a sentence, in order; `6:40` as 400.
inline std::vector<double> numbers_in(const std::string& text) {
    std::vector<double> out;
    for (size_t i = 0; i < text.size();) {
        const bool minus = text[i] == '-' && i + 1 < text.size() && std::isdigit(text[i + 1]) != 0;
        const bool after_figure = i > 0 && std::isdigit(text[i - 1]) != 0;
        if (std::isdigit(text[i]) == 0 && !(minus && !after_figure)) {
            ++i;
            continue;
        }
        size_t used = 0;
        double x = std::stod(text.substr(i), &used);
        i += used;
        if (i + 1 < text.size() && text[i] == ':' && std::isdigit(text[i + 1]) != 0) {
            x = 60 * x + std::stod(text.substr(i + 1), &used);
            i += 1 + used;
        }
        out.push_back(x);
    }
    return out;
}

inline bool has(const std::string& text, const std::string& words) {
    return text.find(words) != std::string::npos;
}

}  // namespace hotband::test
