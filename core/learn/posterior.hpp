// Draws of what is believed once the readings are learned.
#pragma once

#include <vector>

#include "learn/calibrate.hpp"

namespace hotband {

/// `count` draws of z of what is believed, draw-major. Standard normals (Sobol, fixed seed) go
/// through the Gaussian of the fit's curvature, and each is then moved to where its readings are
/// what the straight-line model promised: temperatures bend over the plant's parameters, and a
/// straight spread along what the readings leave open would drift off what they pin down.
std::vector<double> posterior_draws(const Calibration& calibration, int count);

}  // namespace hotband
