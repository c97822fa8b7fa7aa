// The program `hotband`: the core's doors on a command line. Reads a file, standard input or an
// argument, prints the answer, or every problem on standard error. Nothing is computed here.
#include <algorithm>
#include <charconv>
#include <fstream>
#include <functional>
#include <iostream>
#include <optional>
#include <sstream>
#include <string>
#include <string_view>
#include <system_error>
#include <utility>
#include <variant>
#include <vector>

#include "report/door.hpp"

namespace {

using hotband::Problem;
using hotband::Problems;
using hotband::Result;

constexpr std::string_view help_text =
    R"(hotband: how hot an electric model aircraft's speed controller gets, and what to change

  hotband advise [--samples N] [--fahrenheit] [FILE]
                                        setup JSON -> report JSON
  hotband cycle [FILE]                  switching-cycle case, or an array of them -> steady state
  hotband heat [FILE]                   thermal case, or an array of them -> temperatures
  hotband link [FILE]                   setup JSON -> share-link text
  hotband unlink [TEXT]                 share-link text -> setup JSON
  hotband fields                        every input: key, unit, least, most, default, help
  hotband --help | --version

FILE or TEXT left out, or `-`, is standard input. --samples N: how many plants the 10-90 % range is
drawn from; 0 leaves the range out. --fahrenheit: the report's sentences speak deg F; its numbers
stay deg C and K. Exit 0 with the answer on standard output; exit 2 with one line
a problem on standard error.
)";

constexpr int exit_answer = 0;
constexpr int exit_problems = 2;

/// What the words after the command say.
struct Words {
    std::optional<std::string> operand;  // FILE or TEXT
    std::optional<int> samples;
    bool fahrenheit = false;
};

Problems problem(std::string text) { return {Problem{"", std::move(text)}}; }

std::string quoted(std::string_view word) { return '`' + std::string(word) + '`'; }

Result<int> read_samples(std::string_view word) {
    int samples = 0;
    const auto* const end = word.data() + word.size();
    const auto [stop, error] = std::from_chars(word.data(), end, samples);
    if (error != std::errc() || stop != end || samples < 0) {
        return problem("--samples takes a whole number from 0 up, not " + quoted(word));
    }
    return samples;
}

Result<Words> read_words(std::string_view command, const std::vector<std::string_view>& words) {
    Words read;
    for (std::size_t i = 0; i < words.size(); ++i) {
        const auto word = words[i];
        if (command == "advise" && word == "--samples") {
            if (++i == words.size()) return problem("--samples takes a whole number from 0 up");
            const auto samples = read_samples(words[i]);
            if (const auto* problems = std::get_if<Problems>(&samples)) return *problems;
            read.samples = *std::get_if<int>(&samples);
        } else if (command == "advise" && word == "--fahrenheit") {
            read.fahrenheit = true;
        } else if (word.size() > 1 && word.front() == '-') {
            return problem("unknown option " + quoted(word) + "; see hotband --help");
        } else if (read.operand || command == "fields") {
            return problem("one word too many: " + quoted(word) + "; see hotband --help");
        } else {
            read.operand = word;
        }
    }
    return read;
}

/// Everything a stream has; empty when it breaks off, as a folder opened like a file does.
std::optional<std::string> all_of(std::istream& stream) {
    std::ostringstream text;
    text << stream.rdbuf();
    if (text.bad()) return std::nullopt;
    return std::move(text).str();
}

/// The text of a file, or of standard input.
Result<std::string> read_file(const std::optional<std::string>& operand) {
    if (!operand || *operand == "-") {
        if (auto text = all_of(std::cin)) return *std::move(text);
        return problem("cannot read standard input");
    }
    std::ifstream file(*operand, std::ios::binary);
    if (file.is_open()) {
        if (auto text = all_of(file)) return *std::move(text);
    }
    return problem("cannot read " + quoted(*operand));
}

/// The operand itself, or standard input.
Result<std::string> read_text(const std::optional<std::string>& operand) {
    if (operand && *operand != "-") return *operand;
    return read_file(operand);
}

using Door = std::function<Result<std::string>(std::string_view)>;

Result<std::string> through(const Door& door, const Result<std::string>& input) {
    if (const auto* problems = std::get_if<Problems>(&input)) return *problems;
    return door(*std::get_if<std::string>(&input));
}

Result<std::string> answer(std::string_view command, const std::vector<std::string_view>& rest) {
    const bool known = command == "advise" || command == "cycle" || command == "heat" ||
                       command == "link" || command == "unlink" || command == "fields";
    if (!known) return problem("unknown command " + quoted(command) + "; see hotband --help");

    const auto read = read_words(command, rest);
    if (const auto* problems = std::get_if<Problems>(&read)) return *problems;
    const Words& told = *std::get_if<Words>(&read);
    const auto& operand = told.operand;

    if (command == "fields") return hotband::fields_text();
    if (command == "unlink") return through(hotband::unlink_text, read_text(operand));
    if (command == "cycle") return through(hotband::cycle_text, read_file(operand));
    if (command == "heat") return through(hotband::heat_text, read_file(operand));
    if (command == "link") return through(hotband::link_text, read_file(operand));
    return through(
        [&](std::string_view setup) {
            const auto scale =
                told.fahrenheit ? hotband::Scale::fahrenheit : hotband::Scale::celsius;
            return hotband::advise_text(setup, told.samples.value_or(hotband::usual_samples),
                                        scale);
        },
        read_file(operand));
}

}  // namespace

int main(int argc, char** argv) {
    const std::vector<std::string_view> words(argv + 1, argv + argc);
    if (words.empty()) {
        std::cerr << help_text;
        return exit_problems;
    }
    if (std::find(words.begin(), words.end(), "--help") != words.end()) {
        std::cout << help_text;
        return exit_answer;
    }
    if (words[0] == "--version") {
        std::cout << "hotband " HOTBAND_VERSION "\n";
        return exit_answer;
    }
    const auto result = answer(words[0], {words.begin() + 1, words.end()});
    if (const auto* problems = std::get_if<Problems>(&result)) {
        for (const auto& [path, text] : *problems) {
            std::cerr << path << (path.empty() ? "" : ": ") << text << '\n';
        }
        return exit_problems;
    }
    std::cout << *std::get_if<std::string>(&result) << '\n';
    return exit_answer;
}
