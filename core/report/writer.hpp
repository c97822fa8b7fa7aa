// JSON text written straight out, in order, without a tree: the report is written once and is the
// slow part of a call where allocation is dear.
#pragma once

#include <cmath>
#include <optional>
#include <string>
#include <string_view>

#include "setup/json.hpp"

namespace hotband {

/// Appends JSON to a text. The caller keeps begin and end in pairs.
class Writer {
 public:
    std::string take() { return std::move(out_); }

    Writer& begin(char bracket) {
        comma();
        out_ += bracket;
        first_ = true;
        return *this;
    }
    Writer& end(char bracket) {
        out_ += bracket;
        first_ = false;
        return *this;
    }
    Writer& key(std::string_view name) {
        comma();
        out_ += '"';
        out_ += name;
        out_ += "\":";
        first_ = true;
        return *this;
    }
    /// What is not finite is no JSON number: null.
    Writer& value(double number) {
        return raw(std::isfinite(number) ? number_text(number) : "null");
    }
    Writer& value(std::optional<double> number) { return number ? value(*number) : raw("null"); }
    Writer& value(bool flag) { return raw(flag ? "true" : "false"); }
    Writer& value(std::string_view text) { return raw(string_text(text)); }
    Writer& value(const char* text) { return value(std::string_view(text)); }
    /// JSON text as it is.
    Writer& raw(std::string_view json) {
        comma();
        out_ += json;
        return *this;
    }
    template <class T>
    Writer& pair(std::string_view name, const T& thing) {
        return key(name).value(thing);
    }

 private:
    void comma() {
        if (!first_) {
            out_ += ',';
        }
        first_ = false;
    }

    std::string out_;
    bool first_ = true;
};

}  // namespace hotband
