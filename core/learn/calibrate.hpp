// What do the pilot's own readings say? Maximum a posteriori over the priors' z, spread from
// curvature.
//
// Minimises  sum over readings rho((predicted - measured) / sigma)  +  sum over priors z_i^2
// by Levenberg-Marquardt; rho is Huber's, so that one spiky sensor cannot drag the rest. The
// posterior is Gaussian with the inverse of the Gauss-Newton curvature at the minimum. Where the
// readings scatter more than their sigmas, all sigmas are widened by the factor that makes them
// fit, and fitted again.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "flight/hold.hpp"
#include "learn/belief.hpp"

namespace hotband {

enum class ReadingKind { mean, peak, after, trace };

/// One number the pilot read.
struct Reading {
    int row = 0;  // of Setup::measured
    ReadingKind kind = ReadingKind::peak;
    double t = 0;         // s, of a trace point
    double measured = 0;  // deg C
    double sigma = 2;     // K
};

/// Readings of the setup's measured rows, in order. Rows with currents alone have none.
std::vector<Reading> readings_of(const Setup& setup);

/// What a plant draw predicts for each reading, deg C.
std::vector<double> predict(const Setup& setup, const std::vector<Prior>& priors,
                            const std::vector<Reading>& readings, std::span<const double> z);

/// The measured row as a bench run.
BenchRun bench_of(const MeasuredRow& row);

struct Calibration {
    Belief belief;
    std::vector<Reading> readings;
    std::vector<double> predicted;  // at the middle of the belief
    double widened = 1;             // factor on every sigma
    int iterations = 0;
    bool converged = false;
};

/// Learns from the setup's measured rows; without readings it is the prior belief.
Calibration calibrate(const Setup& setup);

/// Huber's threshold in sigmas; 95 % efficient where the errors are normal.
inline constexpr double huber_sigmas = 1.345;

/// Weight of a standardised residual in the reweighted least squares of Huber's loss.
double huber_weight(double standardised);

}  // namespace hotband
