// The wasm module's face: plain C calls, text in, text out. Nothing is computed here.
//
// Each call takes bytes of UTF-8 and gives the address of an Answer, to be given back with
// hotband_free. Its text is {"ok": <JSON>} or {"problems": [{"path": "", "text": ""}, ...]}. A
// log's numbers come as doubles beside its text.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <string>
#include <string_view>
#include <utility>
#include <variant>

#include "report/door.hpp"
#include "setup/json.hpp"

#define HOTBAND_EXPORT(name) extern "C" [[clang::export_name(#name)]]

namespace {

using hotband::Problems;
using hotband::Result;
using hotband::string_text;

/// What a call gives back: the length in bytes, then the text right behind it.
struct Answer {
    std::uint32_t size;
};

/// Memory that the caller frees. Out of memory is a trap, which the loader turns into an error.
void* take(size_t size) {
    auto* block = std::malloc(size);
    if (block == nullptr && size > 0) {
        std::abort();
    }
    return block;
}

Answer* give(const std::string& text) {
    auto* answer = static_cast<Answer*>(take(sizeof(Answer) + text.size()));
    answer->size = static_cast<std::uint32_t>(text.size());
    std::memcpy(answer + 1, text.data(), text.size());
    return answer;
}

Answer* give_json(const std::string& json) { return give(R"({"ok":)" + json + "}"); }

Answer* give_problems(const Problems& problems) {
    return give(hotband::problems_to_json(problems));
}

Answer* give_result(const Result<std::string>& result) {
    if (const auto* problems = std::get_if<Problems>(&result)) {
        return give_problems(*problems);
    }
    return give_json(*std::get_if<std::string>(&result));
}

}  // namespace

HOTBAND_EXPORT(hotband_alloc) void* hotband_alloc(size_t size) { return take(size); }

HOTBAND_EXPORT(hotband_free) void hotband_free(void* block) { std::free(block); }

/// A negative number of samples asks for the core's default. Sentences are in deg C: the page turns
/// them itself.
HOTBAND_EXPORT(hotband_advise)
Answer* hotband_advise(const char* text, size_t size, int samples) {
    return give_result(hotband::advise_text(
        {text, size}, samples < 0 ? hotband::usual_samples : samples, hotband::Scale::celsius));
}

HOTBAND_EXPORT(hotband_cycle) Answer* hotband_cycle(const char* text, size_t size) {
    return give_result(hotband::cycle_text({text, size}));
}

HOTBAND_EXPORT(hotband_heat) Answer* hotband_heat(const char* text, size_t size) {
    return give_result(hotband::heat_text({text, size}));
}

/// A share-link text is no JSON of its own: it is given as a JSON string.
HOTBAND_EXPORT(hotband_link) Answer* hotband_link(const char* text, size_t size) {
    const auto result = hotband::link_text({text, size});
    if (const auto* problems = std::get_if<Problems>(&result)) {
        return give_problems(*problems);
    }
    return give_json(string_text(*std::get_if<std::string>(&result)));
}

HOTBAND_EXPORT(hotband_unlink) Answer* hotband_unlink(const char* text, size_t size) {
    return give_result(hotband::unlink_text({text, size}));
}

/// `numbers` doubles, row by row.
HOTBAND_EXPORT(hotband_log)
Answer* hotband_log(const double* table, size_t numbers, size_t columns, const char* text,
                    size_t size) {
    return give_result(hotband::log_text({table, numbers}, columns, {text, size}));
}

/// The linker puts this in the place of the C library's: only the JSON parser prints, a control
/// character's code for a message of its own that nobody is shown, and printf would be a fiftieth
/// of the module. `tests/wasm/compare.mjs` sees who prints besides.
extern "C" int __wrap_snprintf(char* out, size_t size, const char* /*format*/, ...) {
    if (size > 0) {
        *out = '\0';
    }
    return 0;
}

HOTBAND_EXPORT(hotband_fields) Answer* hotband_fields() {
    return give_json(hotband::fields_text());
}
