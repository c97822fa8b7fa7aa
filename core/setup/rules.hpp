// Which fields must agree with one another? The rules no single row of the table can hold.
#pragma once

#include "setup/json.hpp"
#include "setup/setup.hpp"

namespace hotband {

/// Adds a problem for every rule broken between fields. `told` is the object the setup was read
/// from; fields that already have a problem of their own are left alone.
void check_rules(const Json& told, const Setup& setup, Problems& problems);

}  // namespace hotband
