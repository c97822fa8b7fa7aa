// A setup in, the whole report out: the walk through the house.
#pragma once

#include "advise/report.hpp"
#include "advise/text.hpp"

namespace hotband {

/// Draws behind the bands where nobody asks for others.
inline constexpr int usual_samples = 256;

struct AdviseOptions {
    int samples =
        usual_samples;  // draws behind the bands; 0 answers with the middle alone, in one frame
    Scale scale = Scale::celsius;  // of the sentences; the numbers are deg C and K in either
};

/// The report of a valid setup. Deterministic: the same setup gives the same report bit for bit.
Report advise(const Setup& setup, const AdviseOptions& options = {});

}  // namespace hotband
