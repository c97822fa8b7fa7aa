// Report -> JSON, contract v1. Each struct of advise/report.hpp has one writer here.
#pragma once

#include <string>

#include "advise/report.hpp"
#include "setup/setup.hpp"

namespace hotband {

/// The report as compact JSON; `setup` is what it answers, against which each change is a merge
/// patch.
std::string report_to_json(const Report& report, const Setup& setup);

}  // namespace hotband
