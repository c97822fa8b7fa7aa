// Has any accepted setup a finite, physical, ordered report? Random setups by the hundred thousand,
// held against the rules of tests/core/report_rules.hpp, and those that break one shrunk.
//   bench_any_setup [COUNT [SEED [SAMPLES [SHOWN]]]]   10000 setups of seed 1 without draws by
//                                                      default; SHOWN (1) of each rule are shrunk
//   bench_any_setup --file FILE [SAMPLES]              what one setup breaks, and the smallest
//                                                      that breaks the same
#include <signal.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <map>
#include <string>
#include <string_view>

#include "../core/any_setups.hpp"
#include "../core/report_rules.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

double seconds_now() {
    const auto now = std::chrono::steady_clock::now().time_since_epoch();
    return std::chrono::duration<double>(now).count();
}

// The setup at work, for one that takes the process with it.
std::string at_work;

void tell_and_die(int signal_number) {
    // nothing but system calls: the process is in no known state
    if (write(STDERR_FILENO, at_work.data(), at_work.size()) < 0) {
        _exit(1);
    }
    raise(signal_number);
}

// On a stack of its own, for it may be the stack that has run out.
void tell_of_crashes() {
    static std::array<char, 65536> stack;
    const stack_t own{.ss_sp = stack.data(), .ss_flags = 0, .ss_size = stack.size()};
    sigaltstack(&own, nullptr);
    struct sigaction action {};
    action.sa_handler = tell_and_die;
    action.sa_flags = static_cast<int>(SA_ONSTACK | SA_RESETHAND | SA_NODEFER);
    for (const int crash : {SIGSEGV, SIGABRT, SIGFPE, SIGBUS}) {
        sigaction(crash, &action, nullptr);
    }
}

std::vector<BrokenRule> broken_by(const std::string& text, int samples) {
    at_work = "Died at " + text + "\n";
    const auto read = parse_setup(text);
    const Setup* s = std::get_if<Setup>(&read);
    return s == nullptr ? std::vector<BrokenRule>{}
                        : broken_rules(*s, advise(*s, {.samples = samples}));
}

// Drops members, rows and digits as long as the rule stays broken.
class Shrinker {
 public:
    Shrinker(std::string_view rule, int samples) : rule_(rule), samples_(samples) {}

    std::string shrink(const std::string& text) {
        Problems none;
        whole_ = *parse_json(text, none);
        for (bool smaller = true; smaller;) {
            smaller = shrink_inside(whole_);
        }
        return write_json(whole_);
    }

 private:
    bool still_broken() const {
        for (const BrokenRule& broken : broken_by(write_json(whole_), samples_)) {
            if (broken.rule == rule_) {
                return true;
            }
        }
        return false;
    }

    template <class List>
    bool drop_some(Json& json) {
        bool smaller = false;
        for (size_t i = json.as<List>()->size(); i-- > 0;) {
            const List before = *json.as<List>();
            json.as<List>()->erase(json.as<List>()->begin() + static_cast<std::ptrdiff_t>(i));
            if (still_broken()) {
                smaller = true;
            } else {
                *json.as<List>() = before;
            }
        }
        return smaller;
    }

    bool shrink_inside(Json& json) {
        bool smaller = false;
        if (json.as<JsonObject>() != nullptr) {
            smaller = drop_some<JsonObject>(json);
            for (JsonMember& member : *json.as<JsonObject>()) {
                smaller = shrink_inside(member.value) || smaller;
            }
        } else if (json.as<JsonList>() != nullptr) {
            smaller = drop_some<JsonList>(json);
            for (Json& item : *json.as<JsonList>()) {
                smaller = shrink_inside(item) || smaller;
            }
        } else if (double* number = json.as<double>()) {
            char digits[40];
            const double before = *number;
            std::snprintf(digits, sizeof digits, "%.2g", before);
            *number = std::atof(digits);
            if (*number != before && !still_broken()) {
                *number = before;
            }
        }
        return smaller;
    }

    Json whole_;
    std::string_view rule_;
    int samples_;
};

int judge_file(const char* path, int samples) {
    std::ifstream stream(path);
    const std::string text{std::istreambuf_iterator<char>(stream), {}};
    const auto broken = broken_by(text, samples);
    std::map<std::string, size_t> rules;
    for (const BrokenRule& b : broken) {
        std::printf("%s: %s\n", b.rule.c_str(), b.what.c_str());
        ++rules[b.rule];
    }
    for (const auto& [rule, times] : rules) {
        std::printf("\n%s, %zu times\n  %s\n", rule.c_str(), times,
                    Shrinker(rule, samples).shrink(text).c_str());
    }
    return broken.empty() ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
    tell_of_crashes();
    const auto number = [&](int i, long usual) {
        return argc > i ? std::strtol(argv[i], nullptr, 10) : usual;
    };
    if (argc > 2 && std::string_view(argv[1]) == "--file") {
        return judge_file(argv[2], static_cast<int>(number(3, 0)));
    }
    const long count = number(1, 10000);
    const auto seed = static_cast<std::uint64_t>(number(2, 1));
    const int samples = static_cast<int>(number(3, 0));
    const auto most_shown = static_cast<size_t>(number(4, 1));
    std::map<std::string, size_t> found;
    long failed = 0;
    double slowest_s = 0;
    std::string slowest;
    const double begin_s = seconds_now();
    for (long i = 0; i < count; ++i) {
        const std::string text = any_setup_text(seed, static_cast<std::uint64_t>(i));
        const double start_s = seconds_now();
        const auto broken = broken_by(text, samples);
        const double took_s = seconds_now() - start_s;
        if (took_s > slowest_s) {
            slowest_s = took_s;
            slowest = text;
        }
        failed += broken.empty() ? 0 : 1;
        std::map<std::string, std::string> first;
        for (const BrokenRule& b : broken) {
            first.emplace(b.rule, b.what);
        }
        for (const auto& [rule, what] : first) {
            if (++found[rule] <= most_shown) {
                const std::string small = Shrinker(rule, samples).shrink(text);
                const auto still = broken_by(small, samples);
                const auto same = std::find_if(still.begin(), still.end(),
                                               [&](const auto& b) { return b.rule == rule; });
                std::printf("%s: %s\n  %s\n", rule.c_str(),
                            same == still.end() ? what.c_str() : same->what.c_str(), small.c_str());
                std::fflush(stdout);
            }
        }
    }
    std::printf("\n%ld setups of seed %llu, %d draws: %ld break a rule, %.0f s\n", count,
                static_cast<unsigned long long>(seed), samples, failed, seconds_now() - begin_s);
    for (const auto& [rule, times] : found) {
        std::printf("%7zu  %s\n", times, rule.c_str());
    }
    std::printf("slowest, %.2f s: %s\n", slowest_s, slowest.c_str());
    return failed == 0 ? 0 : 1;
}
