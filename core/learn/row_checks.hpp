// Which rows do all the others and the priors contradict?
#pragma once

#include <vector>

#include "learn/calibrate.hpp"
#include "learn/fit.hpp"

namespace hotband {

/// Each row against all the others and the priors, at the minimum `f`. Each is flown where it would
/// be without itself, unless it is too dear: then the model is taken as `straight` about the fit.
std::vector<RowCheck> check_rows(const Residuals& residuals, const LeastSquaresSummary& f,
                                 bool straight);

/// How many rows have readings of a temperature.
size_t rows_that_tell_heat(const std::vector<Reading>& readings);

/// Error covariance with the rows in doubt given the offset that they may have.
ErrorBlocks doubted(ErrorBlocks covariance, const std::vector<Reading>& readings,
                    const std::vector<RowCheck>& checks);

}  // namespace hotband
