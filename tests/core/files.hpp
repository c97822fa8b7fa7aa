// A file of the tests' as text, by its path in the repository.
#pragma once

#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

namespace hotband::test {

inline std::string text_of_file(const std::filesystem::path& path) {
    std::ifstream stream(std::filesystem::path(HOTBAND_SOURCE_DIR) / path, std::ios::binary);
    return {std::istreambuf_iterator<char>(stream), {}};
}

}  // namespace hotband::test
