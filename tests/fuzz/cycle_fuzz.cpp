// Has every switching cycle a finite steady state, or is it refused in words? Cases of JSON as it
// comes, and sound ones with values up to thirty powers of ten off.
#include "fuzz.hpp"

using namespace hotband;
using namespace hotband::fuzz;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, size_t size) {
    Bytes bytes(data, size);
    const std::uint8_t way = bytes.byte();
    if (way == '#') {
        answer_of(cycle_text(bytes.rest()));
        return 0;
    }
    constexpr struct {
        const char* key;
        double usual;
    } fields[] = {{"Voc", 22},     {"R_src", 0.01}, {"L_src", 2e-7}, {"C", 1e-3},
                  {"R_esr", 0.01}, {"R_on", 1e-3},  {"V_f0", 0.5},   {"r_d", 1e-3},
                  {"R_m", 0.012},  {"L_m", 1.2e-5}, {"E", 9},        {"f", 16000}};
    Json cycle{JsonObject{}};
    put(cycle, "mode", Json(std::string(way % 2 == 0 ? "active" : "diode")));
    for (const auto& field : fields) {
        put(cycle, field.key, Json(bytes.about(field.usual)));
    }
    put(cycle, "D", Json(bytes.byte() / 255.0));
    if (const auto answer = answer_of(cycle_text(write_json(cycle)))) {
        for (const JsonMember& member : *answer->as<JsonObject>()) {
            require(!member.value.is_null(), "every figure of a cycle is finite");
        }
    }
    return 0;
}
