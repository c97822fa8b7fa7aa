// What do the pilot's own readings say? Maximum a posteriori over the priors' z.
//
// Minimises  sum over readings rho(r_i)  +  sum over priors z_i^2,  with r the readings' errors
// (predicted - measured) in standard deviations, those of one row made independent, and rho Huber's
// loss, so that one spiky sensor cannot drag the rest. A row that the others and the priors
// contradict is named, and counts as little as it deserves. Readings that then still scatter more
// than their sensors should are given wider sigmas until they do not. Where they agree with each
// other and not with the priors, the middle follows them, and the spread grows by how far that is:
// the drive is another than was thought, or all readings are off alike.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "learn/belief.hpp"
#include "learn/readings.hpp"

namespace hotband {

/// What all the other rows and the priors expect of one row, and what it reads.
struct RowCheck {
    int row = 0;
    double doubt = 0;                 // probability that something of the row is off (0..1)
    std::optional<ReadingKind> kind;  // what most likely is; empty: the whole row
    double off_K = 0;                 // measured minus expected, of that
    double sigma_K = 0;  // standard deviation of it, were the row as good as its sensor
};

/// Doubt from which a row is said to misfit: it is more likely off than not.
inline constexpr double likely_off = 0.5;

/// Readings that scatter more times than this beyond their sensors teach nothing.
inline constexpr double most_widened = 10;

struct Fit;

struct Calibration {
    Setup told;  // with the freewheel that this fit is for
    Belief belief;
    std::vector<Reading> readings;
    std::vector<double> predicted;  // at the middle of the belief, deg C
    std::vector<RowCheck> checks;   // of each row with readings
    double widened = 1;             // factor on the readings' sigmas, for their scatter
    double apart =
        1;  // factor on the spread of all but the coming flight's, for how far off they are
    std::shared_ptr<const Fit> fit;  // none without readings
    bool converged = false;
    bool failed = false;                  // no finite answer there, or none near: the priors stand
    bool budget_reached = false;          // the fit was ended by its budget of model runs
    int stood_in = 0;                     // flights that another one was flown for
    double work = 1;                      // of one prediction of the readings, in holds
    double spent = 0;                     // work of all its fits, of both kinds, in holds
    std::optional<double> chance_active;  // where the freewheel is open
    std::vector<Calibration> other;       // there, the less likely kind's own fit
};

/// Work that the fits of one kind may do, in holds of a twentieth to a fifth of a millisecond.
inline constexpr double most_fit_work = 8000;

/// Learns from the setup's measured rows; without readings it is the prior belief. In a six-step
/// drive both kinds of freewheel are fitted, each by itself, for what is told of it may be wrong;
/// the likelier one's fit is given, with the chance of either and the other fit beside it.
Calibration calibrate(const Setup& setup, double most_work = most_fit_work);

}  // namespace hotband
