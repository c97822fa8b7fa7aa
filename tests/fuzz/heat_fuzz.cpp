// Does every heat case end soon, in temperatures or in words? Cases of JSON as it comes, and sound
// ones with values up to thirty powers of ten off.
#include "fuzz.hpp"

using namespace hotband;
using namespace hotband::fuzz;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, size_t size) {
    Bytes bytes(data, size);
    if (bytes.byte() == '#') {
        answer_of(heat_text(bytes.rest()));
        return 0;
    }
    constexpr struct {
        const char* key;
        double usual;
    } fields[] = {{"Cj", 0.9},  {"Cb", 27},  {"Cs", 33},  {"Gjb", 1.7},  {"Gbs", 2.5},
                  {"A", 0.012}, {"H", 0.05}, {"L", 0.08}, {"p", 101325}, {"alpha", 0.005}};
    Json heat{JsonObject{}};
    for (const auto& field : fields) {
        put(heat, field.key, Json(bytes.about(field.usual)));
    }
    put(heat, "eps", Json(bytes.byte() / 255.0));
    put(heat, "a", Json(bytes.byte() / 128.0 - 0.5));
    put(heat, "b", Json(bytes.byte() / 128.0 - 0.5));
    const auto celsius = [&] { return Json(bytes.byte() * 1.5 - 100); };
    put(heat, "T_init", Json(JsonList{celsius(), celsius(), celsius()}));
    JsonList schedule;
    JsonList times;
    double end = 0;
    do {
        Json part{JsonObject{}};
        const double from = end;
        end += bytes.about(60);
        put(part, "t_end", Json(end));
        put(part, "P0", Json(bytes.about(bytes.byte() < 224 ? 20 : -20)));
        put(part, "v", Json(bytes.about(5)));
        put(part, "T_amb", celsius());
        times.push_back(Json(from + bytes.byte() / 255.0 * (end - from)));
        schedule.push_back(std::move(part));
    } while (!bytes.empty() && schedule.size() < 8);
    put(heat, "schedule", Json(std::move(schedule)));
    put(heat, "times", Json(std::move(times)));
    if (const auto answer = answer_of(heat_text(write_json(heat)))) {
        const JsonList* rows = find(*answer, "T")->as<JsonList>();
        require(rows != nullptr, "rows of temperatures");
        for (const Json& row : *rows) {
            for (const Json& node : *row.as<JsonList>()) {
                const double* T = node.as<double>();
                require(T == nullptr || (*T >= -273.15 && *T <= 1000.001),
                        "a temperature is above absolute zero, or ran away");
            }
        }
    }
    return 0;
}
