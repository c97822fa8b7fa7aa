// Which temperatures did the pilot read, how well, and what does a plant predict for each?
#pragma once

#include <span>
#include <vector>

#include "flight/hold.hpp"
#include "flight/load_fit.hpp"

namespace hotband {

enum class ReadingKind { mean, peak, after, trace, speed };

/// One number the pilot read.
struct Reading {
    int row = 0;  // of Setup::measured; beyond its end, of Setup::load.points
    ReadingKind kind = ReadingKind::peak;
    double t = 0;         // s, of a trace point
    double measured = 0;  // deg C; of a speed, `speed_scale` times the logarithm of its rad/s
    double sigma = 2.5;   // K, of its whole error
    double shared = 0;    // K, of the part of it that all readings of the row have in common
};

/// Speeds stand among temperatures: 1 K of a reading is 1 % of a speed.
inline constexpr double speed_scale = 100;

/// Readings of the setup's measured rows and speeds of its points, in order. Rows with currents
/// alone have none.
std::vector<Reading> readings_of(const Setup& setup);

/// The setup without them, for a change that was not there when they were taken. The rows' currents
/// and lengths stay, from which the load may be known; a row that holds nothing else goes.
Setup without_readings(Setup setup);

/// What a plant draw predicts for each reading, as `Reading::measured` counts it.
std::vector<double> predict(const Setup& setup, const std::vector<Prior>& priors,
                            const std::vector<Reading>& readings, std::span<const double> z);

/// Work of one such prediction at z, in holds: what a flight costs goes with its legs, and a
/// setup's told points are fitted each time.
double work_of(const Setup& setup, const std::vector<Prior>& priors,
               const std::vector<Reading>& readings, std::span<const double> z);

/// The measured row as a bench run.
BenchRun bench_of(const MeasuredRow& row);

/// A measured row's hold, or its flight, on the plant as it was that day; `steps` of a flight.
March fly_row(const Plant& p, const Setup& setup, const MeasuredRow& row,
              Steps steps = Steps::fine);

}  // namespace hotband
