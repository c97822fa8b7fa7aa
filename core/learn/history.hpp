// Would the prediction have known? The march flown along a log, its board temperature beside the
// logged one.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "flight/hold.hpp"
#include "learn/steady_holds.hpp"

namespace hotband {

struct HistoryPoint {
    size_t session = 0;
    double t_s = 0;  // the log's own time
    double logged_C = 0, predicted_C = 0;
};

struct HistoryOptions {
    size_t most_points = 150;  // of the series
    double gap_s = 10;         // s: a longer one starts the march afresh from the log
    double least_s = 20;       // s: shorter stretches are no history
};

enum class HistoryEnd {
    whole,     // every stretch was flown
    empty,     // the pack as entered was empty before the log was over
    runaway,   // the model ran away
    unsolved,  // the plant has no operating point for what was logged
};

/// Predicted along the log against logged. `samples` of 0: there was nothing to compare.
struct History {
    size_t samples = 0;
    double seconds = 0;  // s, compared
    double rms_K = 0;    // of predicted minus logged
    double mean_K = 0;   // predicted minus logged: above 0 the model is too hot
    double worst_K = 0;  // predicted minus logged where it is furthest off
    double worst_t_s = 0;
    size_t worst_session = 0;
    bool by_current = false;  // the logged current set the load; else the throttle did
    HistoryEnd end = HistoryEnd::whole;
    std::vector<HistoryPoint> series;  // means over equal parts, in order of time
};

/// Flies the plant along the log. Each sample is a demand: its current where it was logged, else
/// its throttle (a rotor's stick is no demand: without a current there is no history), in steps of
/// 4 % of the current (or 2 % of throttle) and a fifth of the charge, so that few demands are
/// solved exactly. The march starts at the logged temperature, board and case alike, which in a
/// warm ESC puts the case somewhat too high; with the charge told, or with the one that the cells'
/// voltage shows where a session begins at rest.
History check_history(const Plant& plant, const CleanLog& log, const HistoryOptions& options = {});

/// Throttle (0..1; for rotors shaft power over hover's) at which the plant draws `pack_A` (all
/// motors) near state of charge `charge`; the most
/// there is (1, for rotors 2.5) where even that draws less.
double throttle_for_current(const Plant& plant, double pack_A, double charge);

}  // namespace hotband
