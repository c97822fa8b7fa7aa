// Which temperatures did the pilot read, how well, and what does a plant predict for each?
#pragma once

#include <span>
#include <vector>

#include "flight/hold.hpp"
#include "flight/load_fit.hpp"

namespace hotband {

enum class ReadingKind { mean, peak, after, trace, speed };

/// Error (K, one standard deviation) of a sensor on the board, which reads to 2 K and sits
/// somewhere on it (common practice, no source).
inline constexpr double board_sensor_K = 2.5;

/// What a sensor shows of the board (deg C): its rise over the air is off by the factor `gain`.
constexpr double shown_by_sensor(double gain, double air_C, double board_C) {
    return air_C + gain * (board_C - air_C);
}

/// One number the pilot read.
struct Reading {
    int row = 0;  // of Setup::measured; beyond its end, of Setup::load.points
    ReadingKind kind = ReadingKind::peak;
    double t = 0;         // s, of a trace point
    double measured = 0;  // deg C; of a speed, `speed_scale` times the logarithm of its rad/s
    double sigma = board_sensor_K;  // K, of its whole error
    double shared = 0;    // K, of the part of it that all readings of the row have in common
    int flown_as = 0;     // the row whose run it is predicted from: the first that is alike
    double beyond_K = 0;  // by which its own run's board is warmer than that one's
};

/// Speeds stand among temperatures: 1 K of a reading is 1 % of a speed.
inline constexpr double speed_scale = 100;

/// The first measured row whose run is the same as this one's, whatever was read of it: itself, if
/// none before it is.
size_t first_alike(const Setup& setup, size_t row);

/// A flight's peak, mean and end hardly know its steps (by a tenth of a kelvin); a trace is read
/// between its moments.
Steps steps_for(const MeasuredRow& row);

/// Readings of the setup's measured rows and speeds of its points, in order. Rows with currents
/// alone have none.
std::vector<Reading> readings_of(const Setup& setup);

/// The setup without them, for a change that was not there when they were taken. The rows' currents
/// and lengths stay, from which the load may be known; a row that holds nothing else goes.
Setup without_readings(Setup setup);

/// What a plant draw predicts for the readings, and at what cost.
struct Prediction {
    std::vector<double> shown;     // of each reading, as `Reading::measured` counts it
    std::vector<double> board_C;   // of each reading but a speed: before the sensor
    std::vector<double> row_work;  // of each measured row, in holds; 0: not flown
    double work = 0;               // of them all
};
Prediction predict_all(const Setup& setup, const std::vector<Prior>& priors,
                       const std::vector<Reading>& readings, std::span<const double> z);

/// `Prediction::shown` alone.
std::vector<double> predict(const Setup& setup, const std::vector<Prior>& priors,
                            const std::vector<Reading>& readings, std::span<const double> z);

/// The measured row as a bench run.
BenchRun bench_of(const MeasuredRow& row);

/// A measured row's hold, or its flight, on the plant as it was that day; `steps` of a flight.
March fly_row(const Plant& p, const Setup& setup, const MeasuredRow& row,
              Steps steps = Steps::fine);

}  // namespace hotband
