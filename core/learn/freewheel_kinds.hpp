// Diode or active: which kind of freewheel do the readings speak for?
#pragma once

#include <span>
#include <vector>

#include "learn/calibrate.hpp"

namespace hotband {

/// The setup with this kind, or where rows do not know theirs, these with it: no longer open.
Setup with_freewheel(Setup s, Freewheel freewheel);

/// The kind that a fit is for.
Freewheel freewheel_of(const Calibration& calibration);

/// Place of the prior row that says which kind a draw is of, and its z in a fit's draws.
size_t freewheel_row(const std::vector<Prior>& priors);
double freewheel_z(const Calibration& calibration);

/// Whether a draw is of the likelier freewheel, where the freewheel is open; else true.
bool of_likelier(const Calibration& calibration, std::span<const double> z);

/// A chance once its odds are exp(evidence) times what they were.
double chance_after(double before, double evidence);

/// The chance of an active freewheel from the one before any reading and from how well either
/// kind's fit explains the readings; a kind with which they make no sense is not the one.
double weighed_chance(double prior, const Calibration& active, const Calibration& diode);

/// By what a difference of two fits' evidence is divided, where even the better one has its
/// readings further from the priors than these allow: the square of how many times
/// (quasi-likelihood, Wedderburn, Biometrika 61(3), 1974).
double dispersion(const Calibration& a, const Calibration& b);

}  // namespace hotband
