// What do the pilot's own readings say? Maximum a posteriori over the priors' z, and draws of what
// is then believed.
//
// Minimises  sum over readings rho(r_i)  +  sum over priors z_i^2,  with r the readings' errors
// (predicted - measured) in standard deviations, those of one row made independent, and rho Huber's
// loss, so that one spiky sensor cannot drag the rest. A row that the others and the priors
// contradict is named, and counts as little as it deserves. Where the minimum is then still higher
// than readings and priors can explain, all sigmas are widened until they can.
#pragma once

#include <memory>
#include <optional>
#include <span>
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
    std::vector<double> predicted;   // at the middle of the belief, deg C
    std::vector<RowCheck> checks;    // of each row with readings
    double widened = 1;              // factor on every sigma
    std::shared_ptr<const Fit> fit;  // none without readings
    bool converged = false;
    bool failed = false;                  // no finite answer there, or none near: the priors stand
    bool budget_reached = false;          // the fit was ended by its budget of model runs
    double work = 1;                      // of one prediction of the readings, in holds
    std::optional<double> chance_active;  // where the freewheel is open
    std::vector<Calibration> other;       // there, the less likely kind's own fit
};

/// Learns from the setup's measured rows; without readings it is the prior belief. In a six-step
/// drive both kinds of freewheel are fitted, each by itself, for what is told of it may be wrong;
/// the likelier one's fit is given, with the chance of either and the other fit beside it.
Calibration calibrate(const Setup& setup);

/// `count` draws of z of what is believed, draw-major. Standard normals (Sobol, fixed seed) go
/// through the Gaussian of the fit's curvature, and each is then moved to where its readings are
/// what the straight-line model promised: temperatures bend over the plant's parameters, and a
/// straight spread along what the readings leave open would drift off what they pin down.
std::vector<double> posterior_draws(const Calibration& calibration, int count);

/// Whether a draw is of the likelier freewheel, where the freewheel is open; else true.
bool of_likelier(const Calibration& calibration, std::span<const double> z);

/// The chance of an active freewheel from the one before any reading and from how well either
/// kind's fit explains the readings; a kind with which they make no sense is not the one.
double weighed_chance(double prior, const Calibration& active, const Calibration& diode);

/// What the same readings teach where they are read as of a changed setup.
struct Reread {
    std::vector<double> by;  // from the belief's middle (z)
    double most_K = 0;       // that a row would have read otherwise, by what was believed
    double evidence = 0;     // what this fit's logarithm of the evidence changes by
    bool another = false;    // so much that all is to be learned anew
};

/// The minimum is followed to the changed setup by Newton's steps with the fit's own curvature;
/// where the rows read otherwise by more than a quarter of a kelvin, and it is not too much work,
/// nothing is carried. Empty `by`: nothing moves. For the freewheel of this fit alone.
Reread reread(const Calibration& calibration, const Setup& changed);

/// Whether the readings, reread with the likelier freewheel and with the other, speak so much more
/// for one of them than before that draws of before no longer share out as is believed; never where
/// learning anew is too much work.
bool weighed_otherwise(const Calibration& calibration, const Reread& likelier, const Reread& other);

}  // namespace hotband
