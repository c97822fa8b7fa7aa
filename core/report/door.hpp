// The house's doors: text in, text out. The program and the wasm binding call these and nothing
// else.
#pragma once

#include <string>
#include <string_view>

#include "setup/parse.hpp"

namespace hotband {

/// Setup JSON -> report JSON v1. `samples` quasi-random plants make the 10-50-90 band; 0 leaves the
/// band out (p10 and p90 null, chance_over_limit null) for an answer in one frame.
Result<std::string> advise_text(std::string_view setup_json, int samples = 256);

/// One switching-cycle case or an array of them (contract, `hotband cycle`) -> results, same shape.
Result<std::string> cycle_text(std::string_view case_json);

/// One thermal-network case or an array of them (contract, `hotband heat`) -> results, same shape.
Result<std::string> heat_text(std::string_view case_json);

/// Setup JSON -> share-link text.
Result<std::string> link_text(std::string_view setup_json);

/// Share-link text -> setup JSON.
Result<std::string> unlink_text(std::string_view link);

/// The field table as JSON.
std::string fields_text();

}  // namespace hotband
