// What do the same readings teach about a changed setup, without a fit of its own?
#pragma once

#include <vector>

#include "learn/calibrate.hpp"

namespace hotband {

/// What the same readings teach where they are read as of a changed setup.
struct Reread {
    std::vector<double> by;  // from the belief's middle (z)
    double most_K = 0;       // that a row would have read otherwise, by what was believed
    double evidence = 0;     // what this fit's logarithm of the evidence changes by
    bool another = false;    // so much that all is to be learned anew
};

/// The minimum is followed to the changed setup by Newton's steps with the fit's own curvature.
/// Where the rows read otherwise by more than a quarter of a kelvin, and it is not too much work,
/// it is `another`: what is followed then serves a first look, and by more than 2 K nothing is.
/// Empty `by`: nothing moves. For the freewheel of this fit alone.
Reread reread(const Calibration& calibration, const Setup& changed);

/// Whether the readings, reread with the likelier freewheel and with the other, speak so much more
/// for one of them than before that draws of before no longer share out as is believed; never where
/// learning anew is too much work.
bool weighed_otherwise(const Calibration& calibration, const Reread& likelier, const Reread& other);

}  // namespace hotband
