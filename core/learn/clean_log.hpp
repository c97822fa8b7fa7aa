// What in a logger's file can be believed? Its columns made sound: rows in order of time, sessions
// told apart, what cannot be true taken out and named by its reason.
#pragma once

#include <cstddef>
#include <string_view>
#include <vector>

namespace hotband {

/// Columns of a logger's file, row by row as they stand in it; NaN is a missing value, an empty
/// column was not logged. All columns that are there have the same length. Throttle is the pilot's
/// unit, as in a setup.
struct Log {
    std::vector<double> time_s;        // s, any zero
    std::vector<double> throttle_pct;  // %
    std::vector<double> current_A;     // A, of the pack, all motors together
    std::vector<double> voltage_V;     // V, of the pack
    std::vector<double> esc_C;         // deg C, the ESC's own sensor
    std::vector<double> rpm;           // of the motor
};

/// Why a row, or one value of it, was not used.
enum class Damage {
    no_time,       // the row: its time is missing or no number
    time_jumps,    // the row: its time fits neither the rows before nor those after
    no_value,      // the row: nothing but its time
    throttle_off,  // the value: far outside 0..100 %
    current_off,   // the value: no current of a model's pack
    voltage_off,   // the value: no voltage of a model's pack
    esc_off,       // the value: no temperature that a board survives
    speed_off,     // the value: no speed of a model's motor
    esc_spike,     // the value: apart from the readings around it, faster than a board can warm
};

/// The reason in words.
std::string_view damage_text(Damage damage);

struct DamagedRows {
    Damage reason = Damage::no_time;
    size_t count = 0;
    std::vector<size_t> first_rows;  // the first five, counted from 0
};

/// Medians over one short step of time; NaN where nothing was logged.
struct LogSample {
    double begin_s = 0, end_s = 0;  // times of its first and last row
    double throttle_pct = 0, current_A = 0, voltage_V = 0, esc_C = 0, rpm = 0;
    size_t first_row = 0, last_row = 0;
};

/// Rows between two resets of the logger's clock; the samples from `first` up to, not with, `last`.
struct LogSession {
    size_t first = 0, last = 0;
};

/// A log made sound.
struct CleanLog {
    std::vector<LogSample> samples;
    std::vector<LogSession> sessions;
    std::vector<DamagedRows> damaged;  // only reasons that occurred
    size_t rows = 0;
    size_t used = 0;            // rows that gave at least one value
    size_t repeated_times = 0;  // rows with the time of the row before: joined with it
    double row_s = 0;           // s, usual time from row to row; 0 when there are no two
};

/// Makes a log sound. Linear time in rows.
///
/// Rows are put into steps of half a second (or of one row, where rows are rarer) and each column's
/// median is taken there, so that a step stands for itself whatever the logger's rate. A time that
/// goes back opens a session, if the rows after it follow the new clock; else that row is damaged.
/// Spikes of the temperature are found by Hampel's identifier on the steps: the median of seven,
/// and 1.4826 times their median absolute deviation (R. K. Pearson, "Data cleaning for dynamic
/// modeling and control", European Control Conference 1999).
CleanLog clean_log(const Log& log);

}  // namespace hotband
