// A setup as one short line of text that survives a link's fragment and a QR code, and back.
#pragma once

#include <string>
#include <string_view>

#include "setup/parse.hpp"

namespace hotband {

/// Share-link text: characters of the QR alphanumeric set that a URL fragment takes unescaped.
std::string to_link(const Setup& setup);

/// Reads a share-link text of this or any older version (with or without a leading `#`, or a whole
/// address). A damaged or foreign text gives one problem saying so.
Result<Setup> from_link(std::string_view given);

}  // namespace hotband
