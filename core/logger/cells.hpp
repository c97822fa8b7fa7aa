// Which number stands in a cell? Decimal point or comma, grouped thousands, a unit behind the
// number, clock times and dates. What is no number is told apart from what is merely missing.
#pragma once

#include <string_view>
#include <vector>

namespace hotband::logger {

enum class Decimal : char { point = '.', comma = ',' };
enum class Kind { number, clock, date, text, empty };

std::string_view kind_name(Kind kind);

/// A cell that holds nothing on purpose.
bool is_missing(std::string_view cell);

/// The number in a cell, NaN where there is none.
double number_in(std::string_view cell, Decimal decimal);

/// The unit behind a number, empty where there is none.
std::string_view unit_behind(std::string_view cell, Decimal decimal);

/// Seconds of a time of day, or of a time run: h:mm:ss, h:mm:ss.fff, mm:ss. NaN where there is
/// none.
double clock_in(std::string_view cell);

/// Seconds since 1970 of a date with its time of day, NaN where there is none. Where day and month
/// may be either, the day comes first: only differences of time count.
double date_in(std::string_view cell);

/// How a cell of a column of that kind is read.
double value_in(std::string_view cell, Kind kind, Decimal decimal);

/// True for what stands in data rather than in a header.
bool is_figure(std::string_view cell);

/// What most of the cells are.
Kind kind_of(const std::vector<std::string_view>& cells, Decimal decimal);

struct DecimalFound {
    Decimal decimal = Decimal::point;
    bool sure = true;
};

/// Which sign do these cells use, and is it beyond doubt? `1,234` alone may be either.
DecimalFound decimal_of(const std::vector<std::string_view>& cells);

}  // namespace hotband::logger
