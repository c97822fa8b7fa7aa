// Is every text a setup or refused? Links as they come, and bodies with a check sum that fits; what
// is read must be written and read again as the same.
#include "fuzz.hpp"
#include "setup/link.hpp"

using namespace hotband;
using namespace hotband::fuzz;

namespace {

/// CRC-32 of ISO 3309, as the link has it.
std::string check_of(std::string_view text) {
    std::uint32_t crc = 0xFFFFFFFF;
    for (const char c : text) {
        crc ^= static_cast<unsigned char>(c);
        for (int bit = 0; bit < 8; ++bit) {
            crc = (crc >> 1) ^ ((crc & 1) != 0 ? 0xEDB88320 : 0);
        }
    }
    char out[9];
    std::snprintf(out, sizeof out, "%08X", ~crc);
    return out;
}

void try_link(std::string_view link) {
    answer_of(unlink_text(link));
    const auto read = from_link(link);
    if (const Setup* setup = std::get_if<Setup>(&read)) {
        const auto again = from_link(to_link(*setup));
        require(std::holds_alternative<Setup>(again), "a link that was read can be written");
        require(setup_to_json(*std::get_if<Setup>(&again)) == setup_to_json(*setup),
                "and is the same setup");
    }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, size_t size) {
    const std::string_view text(reinterpret_cast<const char*>(data), size);
    try_link(text);
    for (const char* version : {"HB1/", "HB2/", "HB3/"}) {
        const std::string body = version + std::string(text) + "/";
        try_link(body + check_of(body));
    }
    return 0;
}
