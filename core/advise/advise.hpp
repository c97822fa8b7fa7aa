// A setup in, the whole report out: the walk through the house.
#pragma once

#include "advise/report.hpp"

namespace hotband {

struct AdviseOptions {
    int samples = 256;  // draws behind the bands; 0 answers with the middle alone, in one frame
};

/// The report of a valid setup. Deterministic: the same setup gives the same report bit for bit.
Report advise(const Setup& setup, const AdviseOptions& options = {});

}  // namespace hotband
