// Is every file a log or refused, whatever its columns are said to be? The first bytes are the
// mapping, the rest the file.
#include "fuzz.hpp"

using namespace hotband;
using namespace hotband::fuzz;

namespace {

constexpr std::string_view setup_text =
    R"({"hotband":1,"pack":{"cells":6,"capacity_mAh":5000},"esc":{"rating_A":100,"pwm_Hz":16000},)"
    R"("load":{"kind":"propeller","full_throttle_A":80},"flight":{"parts":[{"throttle_pct":60,)"
    R"("seconds":40}]}})";

Json mapping(Bytes& bytes) {
    Json options{JsonObject{}};
    for (const char* role : {"time_s", "throttle_pct", "current_A", "voltage_V", "esc_C"}) {
        const std::uint8_t place = bytes.byte();
        if (place == 255) {
            put(options, path_join("columns", role), Json());
        } else if (place >= 128) {
            put(options, path_join("columns", role), Json(double(place - 128)));
        }
    }
    const std::uint8_t units = bytes.byte();
    constexpr const char* time_units[] = {"s", "ms", "us", "min"};
    if ((units & 1) != 0) {
        put(options, "time_unit", Json(std::string(time_units[(units >> 1) & 3])));
    }
    if ((units & 8) != 0) {
        put(options, "row_s", Json(bytes.about(0.1)));
    }
    if ((units & 16) != 0) {
        put(options, "throttle_ends", Json(JsonList{Json(bytes.about(1)), Json(bytes.about(-1))}));
    }
    if ((units & 0xE0) == 0xE0) {
        Problems none;
        put(options, "setup", *parse_json(setup_text, none));
    }
    return options;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, size_t size) {
    Bytes bytes(data, size);
    const Json options = mapping(bytes);
    if (const auto answer = answer_of(log_file_text(bytes.rest(), write_json(options)))) {
        const double rows = *find(*answer, "rows")->as<double>();
        const double used = *find(*answer, "used")->as<double>();
        require(rows >= 0 && used >= 0 && used <= rows, "no more rows used than there are");
    }
    return 0;
}
