// What are a log's columns, and what are they in? The options of the log doors, see door.hpp.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "learn/steady_holds.hpp"
#include "setup/json.hpp"
#include "setup/setup.hpp"

namespace hotband {

inline constexpr size_t most_log_rows = 4'000'000;
inline constexpr size_t most_log_columns = 1000;

enum class TimeUnit { seconds, milliseconds, microseconds, minutes };
enum class TemperatureUnit { celsius, fahrenheit };
enum class ThrottleUnit { percent, microseconds, share };
enum class CurrentUnit { ampere, milliampere };
enum class VoltageUnit { volt, millivolt };

/// What the table's columns are, told by the pilot.
struct LogAsk {
    std::optional<double> time, throttle, current, voltage, esc, rpm;  // places of columns, from 0
    std::optional<double> row_s;                                       // s from row to row
    TimeUnit time_unit = TimeUnit::seconds;
    TemperatureUnit temperature_unit = TemperatureUnit::celsius;
    ThrottleUnit throttle_unit = ThrottleUnit::percent;
    CurrentUnit current_unit = CurrentUnit::ampere;
    VoltageUnit voltage_unit = VoltageUnit::volt;
    std::vector<double> throttle_ends;  // raw values of no and of full throttle
};

struct LogAsked {
    LogAsk ask;
    std::optional<Setup> setup;
};

/// Reads the options for a table of so many columns.
Result<LogAsked> read_log_ask(Json options, size_t columns);

/// The table's columns, row-major, as a log in our units.
Log log_of(std::span<const double> table, size_t columns, const LogAsk& ask);

}  // namespace hotband
