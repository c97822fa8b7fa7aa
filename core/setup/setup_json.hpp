// A Setup as a JSON tree and back: the one validation that JSON texts and share links both pass.
#pragma once

#include "setup/json.hpp"
#include "setup/setup.hpp"

namespace hotband {

/// Reads a setup v1 object; every problem is added. The setup is valid only when none was.
Setup read_setup(const Json& json, Problems& problems);

/// The setup as an object holding what is required or differs from the defaults, without `hotband`.
Json write_setup(const Setup& setup);

}  // namespace hotband
