// Where measured flights are more than can be flown anew for every figure: which of them are, and
// how do the others differ from those?
#pragma once

#include "learn/readings.hpp"

namespace hotband {

/// The readings of a fit, some predicted from a run that stands in for their own.
struct FitReadings {
    std::vector<Reading> own;   // each from its own run
    std::vector<Reading> used;  // as the fit predicts them
    int stood_in = 0;           // rows that another is flown for, though not alike
    double work = 1;            // of one prediction of `used`, in holds
    double work_own = 0;        // of one of `own`
    double work_apart = 0;      // of flying each row for itself, be it like another
};

/// The setup's readings. Where `predictions` of them at z and one more take more than `most_work`,
/// flights of one day and kind of reading that lie next to each other in frequency, speed, air and
/// start are predicted from the middle one of them: what they differ by is flown once, at z.
FitReadings fit_readings(const Setup& setup, const std::vector<Prior>& priors,
                         std::span<const double> z, double most_work, double predictions);

/// What the rows that are not flown differ by, flown anew at z: `own` readings against `used` ones.
void anchor(std::vector<Reading>& used, const std::vector<Reading>& own, const Setup& setup,
            const std::vector<Prior>& priors, std::span<const double> z);

}  // namespace hotband
