// The example setups that ship, in the order of their files' names.
#pragma once

#include <algorithm>
#include <filesystem>
#include <variant>
#include <vector>

#include "files.hpp"
#include "near.hpp"
#include "setup/parse.hpp"

namespace hotband::test {

inline std::vector<Setup> preset_setups() {
    std::vector<std::filesystem::path> files;
    for (const auto& entry :
         std::filesystem::directory_iterator(HOTBAND_SOURCE_DIR "/presets/setups")) {
        files.push_back(entry.path());
    }
    std::sort(files.begin(), files.end());
    std::vector<Setup> setups;
    for (const auto& file : files) {
        const Result<Setup> setup = parse_setup(text_of_file(file));
        REQUIRE(std::holds_alternative<Setup>(setup));
        setups.push_back(std::get<Setup>(setup));
    }
    return setups;
}

}  // namespace hotband::test
