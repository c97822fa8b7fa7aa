// The field table: every field of setup v1, once. JSON reading and its messages, the share link,
// the page's form, `hotband fields` and the documentation all come from it.
#pragma once

#include <vector>

#include "setup/field.hpp"
#include "setup/setup.hpp"

namespace hotband {

/// The table of a setup, in the order of the contract.
const std::vector<Field<Setup>>& setup_fields();

/// The data of its rows.
const std::vector<FieldInfo>& setup_infos();

}  // namespace hotband
