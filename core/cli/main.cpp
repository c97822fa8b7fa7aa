// The program `hotband`: the core's doors on a command line. Reads a file, standard input or an
// argument, prints the answer, or every problem on standard error. Nothing is computed here.
#include <algorithm>
#include <charconv>
#include <csignal>
#include <optional>
#include <string>
#include <string_view>
#include <system_error>
#include <utility>
#include <variant>
#include <vector>

#include "cli/streams.hpp"
#include "report/door.hpp"
#include "setup/json.hpp"

namespace {

using hotband::Problem;
using hotband::Problems;
using hotband::Result;
using hotband::cli::in_quotes;
using hotband::cli::Input;
using hotband::cli::print_line;
using hotband::cli::print_problems;

constexpr std::string_view help_text =
    R"(hotband: how hot an electric model aircraft's speed controller gets, and what to change

  hotband advise [--samples N] [--fahrenheit] [FILE]
                                        setup JSON -> report JSON
  hotband advise --lines [FILE]         a setup a line -> a report, or its problems, a line
  hotband log [--options FILE] [FILE]   a logger's file -> its columns, its steady holds as rows to
                                        learn from, what is damaged in it
  hotband cycle [FILE]                  switching-cycle case, or an array of them -> steady state
  hotband heat [FILE]                   thermal case, or an array of them -> temperatures
  hotband link [FILE]                   setup JSON -> share-link text
  hotband unlink [TEXT]                 share-link text -> setup JSON
  hotband fields                        every input: key, unit, least, most, default, help
  hotband --help | --version

FILE or TEXT left out, or `-`, is standard input. --samples N: how many plants the 10-90 % range is
drawn from; 0 leaves the range out. --fahrenheit: the report's sentences speak deg F; its numbers
stay deg C and K. --options FILE: what the log's columns are, where the guess is wrong, and the
setup to predict beside it. Exit 0 with the answer on standard output; exit 2 with one line a
problem on standard error; exit 1 when the answer could not be written.)";

constexpr int exit_answer = 0;
constexpr int exit_unwritten = 1;
constexpr int exit_problems = 2;

/// What the words after the command say.
struct Words {
    std::optional<std::string> operand;  // FILE or TEXT
    std::optional<int> samples;
    std::optional<std::string> options;  // FILE
    bool fahrenheit = false;
    bool lines = false;
};

Problems problem(std::string text) { return {Problem{"", std::move(text)}}; }

Result<int> read_samples(std::string_view word) {
    int samples = 0;
    const auto* const end = word.data() + word.size();
    const auto [stop, error] = std::from_chars(word.data(), end, samples);
    if (error != std::errc() || stop != end || samples < 0 || samples > hotband::most_samples) {
        return problem("--samples takes a whole number from 0 to " +
                       std::to_string(hotband::most_samples) + ", not " + in_quotes(word));
    }
    return samples;
}

Result<Words> read_words(std::string_view command, const std::vector<std::string_view>& words) {
    Words read;
    for (size_t i = 0; i < words.size(); ++i) {
        const auto word = words[i];
        const bool samples = command == "advise" && word == "--samples";
        const bool options = command == "log" && word == "--options";
        if ((samples || options) && i + 1 == words.size()) {
            return problem(std::string(word) +
                           (samples ? " takes a whole number from 0 up" : " takes a file's name"));
        }
        if (samples) {
            const auto number = read_samples(words[++i]);
            if (const auto* problems = std::get_if<Problems>(&number)) {
                return *problems;
            }
            read.samples = *std::get_if<int>(&number);
        } else if (options) {
            read.options = words[++i];
        } else if (command == "advise" && word == "--lines") {
            read.lines = true;
        } else if (command == "advise" && word == "--fahrenheit") {
            read.fahrenheit = true;
        } else if (word.size() > 1 && word.front() == '-') {
            return problem("unknown option " + in_quotes(word) + "; see hotband --help");
        } else if (read.operand || command == "fields") {
            return problem("one word too many: " + in_quotes(word) + "; see hotband --help");
        } else {
            read.operand = word;
        }
    }
    return read;
}

/// The text of a file, or of standard input.
Result<std::string> read_file(const std::optional<std::string>& operand, size_t most_bytes) {
    auto input = Input::open(operand);
    if (auto* problems = std::get_if<Problems>(&input)) {
        return std::move(*problems);
    }
    return std::get_if<Input>(&input)->whole(most_bytes);
}

Result<std::string> read_json(const std::optional<std::string>& operand) {
    return read_file(operand, hotband::most_text_bytes);
}

/// The operand itself, or standard input.
Result<std::string> read_text(const std::optional<std::string>& operand) {
    if (operand && *operand != "-") {
        return *operand;
    }
    return read_json(operand);
}

template <class Door>
Result<std::string> through(const Door& door, const Result<std::string>& input) {
    if (const auto* problems = std::get_if<Problems>(&input)) {
        return *problems;
    }
    return door(*std::get_if<std::string>(&input));
}

Result<std::string> advise(std::string_view setup, const Words& words) {
    return hotband::advise_text(
        setup, words.samples.value_or(hotband::usual_samples),
        words.fahrenheit ? hotband::Scale::fahrenheit : hotband::Scale::celsius);
}

Result<std::string> answer(std::string_view command, const Words& words) {
    if (command == "fields") {
        return hotband::fields_text();
    }
    if (command == "unlink") {
        return through(hotband::unlink_text, read_text(words.operand));
    }
    if (command == "log") {
        const auto options = words.options ? read_json(words.options) : std::string("{}");
        if (const auto* problems = std::get_if<Problems>(&options)) {
            return *problems;
        }
        return through(
            [&](std::string_view log) {
                return hotband::log_file_text(log, *std::get_if<std::string>(&options));
            },
            read_file(words.operand, hotband::most_log_bytes));
    }
    if (command == "cycle") {
        return through(hotband::cycle_text, read_json(words.operand));
    }
    if (command == "heat") {
        return through(hotband::heat_text, read_json(words.operand));
    }
    if (command == "link") {
        return through(hotband::link_text, read_json(words.operand));
    }
    return through([&](std::string_view setup) { return advise(setup, words); },
                   read_json(words.operand));
}

int finish(const Result<std::string>& result) {
    if (const auto* problems = std::get_if<Problems>(&result)) {
        print_problems(*problems);
        return exit_problems;
    }
    return print_line(*std::get_if<std::string>(&result)) ? exit_answer : exit_unwritten;
}

/// A line out for each line in, whatever stands in it: only what cannot be read or written ends it.
int advise_lines(const Words& words) {
    auto opened = Input::open(words.operand);
    if (const auto* problems = std::get_if<Problems>(&opened)) {
        return finish(*problems);
    }
    Input& input = *std::get_if<Input>(&opened);
    while (const auto line = input.line(hotband::most_text_bytes)) {
        const auto result = advise(*line, words);
        const auto* problems = std::get_if<Problems>(&result);
        if (!print_line(problems != nullptr ? problems_to_json(*problems)
                                            : *std::get_if<std::string>(&result))) {
            return exit_unwritten;
        }
    }
    if (const auto failure = input.failure()) {
        return finish(Problems{*failure});
    }
    return exit_answer;
}

}  // namespace

int main(int argc, char** argv) {
    // a reader that went away is a write error like any other
    std::signal(SIGPIPE, SIG_IGN);
    const std::vector<std::string_view> words(argv + 1, argv + argc);
    if (words.empty()) {
        return finish(problem(std::string(help_text)));
    }
    if (std::find(words.begin(), words.end(), "--help") != words.end()) {
        return finish(std::string(help_text));
    }
    if (words[0] == "--version") {
        return finish("hotband " HOTBAND_VERSION);
    }
    constexpr std::string_view commands[] = {"advise", "log",    "cycle", "heat",
                                             "link",   "unlink", "fields"};
    const auto command = words[0];
    if (std::find(std::begin(commands), std::end(commands), command) == std::end(commands)) {
        return finish(problem("unknown command " + in_quotes(command) + "; see hotband --help"));
    }
    const auto read = read_words(command, {words.begin() + 1, words.end()});
    if (const auto* problems = std::get_if<Problems>(&read)) {
        return finish(*problems);
    }
    const Words& told = *std::get_if<Words>(&read);
    return told.lines ? advise_lines(told) : finish(answer(command, told));
}
