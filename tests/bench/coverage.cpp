// Do the bands keep their word? Simulated owners by the hundred whose true drive is drawn from the
// priors, or is wrong in a way that the priors do not know; and how long the fit takes.
//   bench_coverage [OWNERS [STUDY [WORLD [ROWS]]]]     500 by default; all of time, unread, untold,
//   priors, changes, noise, wrong; of untold the worlds whose names hold WORLD, and of its numbers
//   of rows ROWS alone
#include <array>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <functional>
#include <limits>
#include <map>
#include <string>
#include <vector>

#include "../core/owners.hpp"
#include "advise/advise.hpp"
#include "advise/candidates.hpp"
#include "learn/fit.hpp"
#include "learn/freewheel_kinds.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr int draws = 256;

struct Owner {
    Setup told;
    Truth truth;
    std::vector<MeasuredRow> rows;
};

struct Tally {
    int n = 0, held = 0, below = 0, above = 0, reports_named = 0, right = 0, widened = 0;
    int not_converged = 0;
    double width = 0, says_K = 0;

    void add(double truth, const Quantiles& band, const Calibration& c) {
        ++n;
        held += band.holds(truth) ? 1 : 0;
        below += truth < band.p10 ? 1 : 0;
        above += truth > band.p90 ? 1 : 0;
        width += band.width();
        widened += c.widened > 1 ? 1 : 0;
        not_converged += c.converged ? 0 : 1;
    }

    double share(int of) const { return n > 0 ? static_cast<double>(of) / n : 0; }
};

Setup with_rows(const Setup& told, const std::vector<MeasuredRow>& rows, size_t count) {
    Setup s = told;
    s.measured.assign(rows.begin(), rows.begin() + static_cast<std::ptrdiff_t>(count));
    return s;
}

Owner make_owner(int k, const Noise& noise, bool read = true) {
    Chance chance(static_cast<std::uint64_t>(k) * 1000003);
    Owner o;
    o.told = told_drive(chance);
    o.truth = draw_truth(o.told, chance);
    if (read) {
        o.rows = measure_all(o.truth.plant, noise, chance);
    }
    return o;
}

constexpr std::array<size_t, 4> levels = {0, 1, 2, 4};

std::string group_of(const Setup& s, int which) {
    constexpr std::array<const char*, 3> cooling = {"open", "vented bay", "closed bay"};
    constexpr std::array<const char*, 3> load = {"propeller", "fan", "rotor"};
    switch (which) {
        case 0:
            return cooling[static_cast<size_t>(s.air.cooling)];
        case 1:
            return load[static_cast<size_t>(s.load.kind)];
        case 2:
            return s.esc.freewheel == Freewheel::diode    ? "diode freewheel"
                   : s.esc.freewheel == Freewheel::active ? "active freewheel"
                                                          : "unknown freewheel";
        default:
            return s.esc.rating_A < 70 ? "ESC 20-60 A" : "ESC 80-160 A";
    }
}

void print(const char* name, size_t rows, const Tally& t) {
    std::printf("%-34s %4zu %7d %9.3f %7.3f %7.3f %8.2f %8.3f %6d\n", name, rows, t.n,
                t.share(t.held), t.share(t.below), t.share(t.above), t.width / t.n,
                t.share(t.widened), t.not_converged);
}

void head(const char* title) {
    std::printf("\n%s\n%-34s %4s %7s %9s %7s %7s %8s %8s %6s\n", title, "", "rows", "owners",
                "in band", "below", "above", "width K", "widened", "lost");
}

// Without readings: a flight of each draw, no fit, so thousands of owners are soon counted.
void study_unread(int owners) {
    std::map<std::string, Tally> groups;
    for (int k = 1; k <= owners; ++k) {
        const Owner o = make_owner(k, {}, false);
        const Calibration c = calibrate(o.told);
        const Quantiles band = quantiles_of(believed_peaks(o.told, c, draws));
        groups["all"].add(o.truth.flight_peak_C, band, c);
        for (int which = 0; which < 4; ++which) {
            groups[group_of(o.told, which)].add(o.truth.flight_peak_C, band, c);
        }
    }
    head("80 % band of the flight's peak without readings (wanted: 0.75 to 0.85)");
    for (const auto& [name, tally] : groups) {
        print(name.c_str(), 0, tally);
    }
}

void study_priors(int owners) {
    std::array<Tally, levels.size()> all;
    std::map<std::string, std::array<Tally, levels.size()>> groups;
    for (int k = 1; k <= owners; ++k) {
        const Owner o = make_owner(k, {});
        for (size_t i = 0; i < levels.size(); ++i) {
            if (o.rows.size() < levels[i]) {
                continue;
            }
            const Setup s = with_rows(o.told, o.rows, levels[i]);
            const Calibration c = calibrate(s);
            const Quantiles band = quantiles_of(believed_peaks(s, c, draws));
            all[i].add(o.truth.flight_peak_C, band, c);
            for (int which = 0; which < 4; ++which) {
                groups[group_of(s, which)][i].add(o.truth.flight_peak_C, band, c);
            }
        }
    }
    head("80 % band of the flight's peak, truth drawn from the priors (wanted: 0.75 to 0.85)");
    for (size_t i = 0; i < levels.size(); ++i) {
        print("all", levels[i], all[i]);
    }
    for (const auto& [name, tallies] : groups) {
        for (size_t i = 0; i < levels.size(); ++i) {
            print(name.c_str(), levels[i], tallies[i]);
        }
    }
}

void study_changes(int owners) {
    constexpr size_t rows = 2;
    struct Told {
        Tally tally;
        double off_K = 0, absolute_K = 0;
    };
    std::map<std::string, Told> kinds;
    for (int k = 1; k <= owners; ++k) {
        const Owner o = make_owner(k, {});
        if (o.rows.size() < rows) {
            continue;
        }
        for (const ToldChange& change :
             told_changes(o.told, o.truth, with_rows(o.told, o.rows, rows))) {
            for (const std::string& group :
                 {std::string("all"), change.id.substr(0, change.id.find('_'))}) {
                Told& sum = kinds[group];
                sum.tally.add(change.true_K, change.band_K, {});
                sum.off_K += change.band_K.p50 - change.true_K;
                sum.absolute_K += std::abs(change.band_K.p50 - change.true_K);
            }
        }
    }
    head("80 % band of what a change does, told after readings");
    for (const auto& [name, told] : kinds) {
        print(name.c_str(), rows, told.tally);
        std::printf("%34s middle off by %+.2f K, %.2f K either way\n", "",
                    told.off_K / told.tally.n, told.absolute_K / told.tally.n);
    }
}

void study_noise(int owners) {
    struct Kind {
        const char* name;
        Noise noise;
    };
    const std::array<Kind, 4> kinds = {{
        {"ammeter errs by row too, 3 %", {.row_current = 0.03}},
        {"2 of 2.5 K common to a row", {.own_K = 1.5, .row_K = 2}},
        {"2 of 2.5 K common to all rows", {.own_K = 1.5, .sensor_K = 2}},
        {"no error at all", {.own_K = 0}},
    }};
    head("The same with errors other than the fit assumes");
    for (const Kind& kind : kinds) {
        for (const size_t rows : {size_t{2}, size_t{4}}) {
            Tally t;
            for (int k = 1; k <= owners; ++k) {
                const Owner o = make_owner(k, kind.noise);
                if (o.rows.size() < rows) {
                    continue;
                }
                const Setup s = with_rows(o.told, o.rows, rows);
                const Calibration c = calibrate(s);
                t.add(o.truth.flight_peak_C, quantiles_of(believed_peaks(s, c, draws)), c);
            }
            print(kind.name, rows, t);
        }
    }
}

// A truth that is wrong in a way the priors do not know: the drive that flies, the one on the
// bench, and what happens to the readings of the one row that is spoiled, if any.
struct Wrong {
    const char* name;
    std::function<void(Plant&)> truth;
    std::function<void(Plant&)> bench;
    std::function<void(MeasuredRow&)> row;
};

void study_wrong(int owners) {
    const auto nothing = [](Plant&) {};
    const auto no_row = [](MeasuredRow&) {};
    const auto offset = [](double mean_K, double peak_K) {
        return [=](MeasuredRow& r) {
            *r.esc_mean_C += mean_K;
            *r.esc_peak_C += peak_K;
        };
    };
    const std::vector<Wrong> wrongs = {
        {"nothing", nothing, nothing, no_row},
        {"switching loss x 1.5", [](Plant& p) { p.u.transition *= 1.5; }, nothing, no_row},
        {"switch resistance x 1.5", [](Plant& p) { p.u.switch_resistance *= 1.5; }, nothing,
         no_row},
        {"air at the ESC halved", [](Plant& p) { p.u.wash_share *= 0.5; }, nothing, no_row},
        {"sensor + 8 K in one row", nothing, nothing, offset(8, 8)},
        {"sensor - 8 K in one row", nothing, nothing, offset(-8, -8)},
        {"peak + 8 K in one row", nothing, nothing, offset(0, 8)},
        {"sensor + 15 K in one row", nothing, nothing, offset(15, 15)},
        {"peak + 40 K in one row", nothing, nothing, offset(0, 40)},
    };
    std::printf("\nWrong truths: is it said, and what does the band hold then\n");
    std::printf("%-34s %4s %7s %7s %7s %7s %8s %9s %8s\n", "", "rows", "owners", "named", "right",
                "says K", "widened", "in band", "width K");
    for (const Wrong& w : wrongs) {
        for (const size_t rows : {size_t{2}, size_t{4}}) {
            Tally t;
            for (int k = 1; k <= owners; ++k) {
                Chance chance(static_cast<std::uint64_t>(k) * 1000003);
                const Setup told = told_drive(chance);
                Truth truth = draw_truth(told, chance);
                w.truth(truth.plant);
                const double peak = flight_peak(truth.plant, told.flight);
                Plant bench = truth.plant;
                w.bench(bench);
                std::vector<MeasuredRow> all = measure_all(bench, {}, chance);
                if (all.size() < 4) {
                    continue;
                }
                const size_t bad = static_cast<size_t>(k) % rows;
                w.row(all[bad]);
                const Setup s = with_rows(told, all, rows);
                const Calibration c = calibrate(s);
                t.add(peak, quantiles_of(believed_peaks(s, c, draws)), c);
                bool named = false;
                for (const RowCheck& check : c.checks) {
                    if (check.doubt > likely_off) {
                        named = true;
                        if (check.row == static_cast<int>(bad)) {
                            ++t.right;
                            t.says_K += check.off_K;
                        }
                    }
                }
                t.reports_named += named ? 1 : 0;
            }
            std::printf("%-34s %4zu %7d %7.2f %7.2f %7.1f %8.2f %9.3f %8.2f\n", w.name, rows, t.n,
                        t.share(t.reports_named), t.share(t.right),
                        t.right > 0 ? t.says_K / t.right : 0.0, t.share(t.widened), t.share(t.held),
                        t.width / t.n);
        }
    }
}

// What a pilot does not know and does not tell: the world is other than told, on the bench or in
// the air. The band must hold all the same, as far as its unknowns reach.
void study_untold(int owners, const std::string& of, const std::vector<size_t>& row_counts) {
    struct World {
        const char* name;
        bool told;
        std::function<void(Plant&)> change;
        std::function<void(Setup&)> tells;
    };
    const auto as_told = [](Setup&) {};
    const std::vector<World> worlds = {
        {"told: drawn from the priors", true, [](Plant&) {}, as_told},
        {"bench air halved", false, [](Plant& p) { p.u.bench_air *= 0.5; }, as_told},
        {"bench air doubled", false, [](Plant& p) { p.u.bench_air *= 2; }, as_told},
        {"bench 8 K warmer", false, [](Plant& p) { p.u.bench_offset += 8; }, as_told},
        {"bench 8 K cooler", false, [](Plant& p) { p.u.bench_offset -= 8; }, as_told},
        {"chopping loss x 3", false, [](Plant& p) { p.u.transition *= 3; }, as_told},
        {"freewheel other than told", false, [](Plant&) {},
         [](Setup& s) {
             s.esc.freewheel =
                 s.esc.freewheel == Freewheel::diode ? Freewheel::active : Freewheel::diode;
         }},
        {"winding resistance x 2", false, [](Plant& p) { p.u.motor_resistance *= 2; }, as_told},
        {"sensor 10 % low", false, [](Plant& p) { p.u.bench_gain *= 0.9; }, as_told},
        {"the flight's wash halved", false, [](Plant& p) { p.air_factor *= 0.5; }, as_told},
        {"motor Kv 5 % off", false, [](Plant& p) { p.u.kv *= 1.05; }, as_told},
    };
    head("80 % band of the flight's peak in worlds other than told (wanted: 0.65; told 0.75-0.85)");
    for (const World& w : worlds) {
        if (std::string(w.name).find(of) == std::string::npos) {
            continue;
        }
        for (const size_t rows : row_counts) {
            Tally t;
            for (int k = 1; k <= owners; ++k) {
                Chance chance(static_cast<std::uint64_t>(k) * 1000003);
                Setup told = told_drive(chance);
                if (told.esc.freewheel == Freewheel::unknown &&
                    w.tells.target_type() != worlds.front().tells.target_type()) {
                    told.esc.freewheel = Freewheel::diode;
                }
                Truth truth = draw_truth(told, chance, w.told);
                w.change(truth.plant);
                const double peak = flight_peak(truth.plant, told.flight);
                const std::vector<MeasuredRow> all = measure_all(truth.plant, {}, chance, w.told);
                if (all.size() < rows) {
                    continue;
                }
                w.tells(told);
                const Setup s = with_rows(told, all, rows);
                const Calibration c = calibrate(s);
                t.add(peak, quantiles_of(believed_peaks(s, c, draws)), c);
            }
            print(w.name, rows, t);
        }
    }
}

void time_fits() {
    using Clock = std::chrono::steady_clock;
    const auto least_ms = [](const auto& call) {
        double least = std::numeric_limits<double>::infinity();
        for (int round = 0; round < 3; ++round) {
            const auto start = Clock::now();
            call();
            least = std::min(
                least, std::chrono::duration<double, std::milli>(Clock::now() - start).count());
        }
        return least;
    };
    double fit = 0;
    double worst = 0;
    double drawn = 0;
    double evaluations = 0;
    int n = 0;
    for (int k = 1; k <= 30; ++k) {
        const Owner o = make_owner(k, {});
        if (o.rows.size() < 4) {
            continue;
        }
        const Setup s = with_rows(o.told, o.rows, 4);
        Calibration c;
        const double ms = least_ms([&] { c = calibrate(s); });
        fit += ms;
        worst = std::max(worst, ms);
        drawn += least_ms([&] { posterior_draws(c, draws); });
        evaluations += c.fit->minimum.evaluations +
                       c.fit->minimum.iterations * static_cast<double>(c.belief.priors.size());
        ++n;
    }
    std::printf(
        "\nFour rows, %zu priors, native: fit %.0f ms (most %.0f; goal 150), %.0f predictions; "
        "%d draws %.0f ms\n",
        make_priors(make_owner(1, {}).told).size(), fit / n, worst, evaluations / n, draws,
        drawn / n);
}

}  // namespace

int main(int argc, char** argv) {
    std::setvbuf(stdout, nullptr, _IOLBF, 0);
    const int owners = argc > 1 ? std::atoi(argv[1]) : 500;
    const std::string which = argc > 2 ? argv[2] : "all";
    const auto wanted = [&](const char* name) { return which == "all" || which == name; };
    if (wanted("time")) {
        time_fits();
    }
    if (wanted("unread")) {
        study_unread(owners);
    }
    if (wanted("untold")) {
        std::vector<size_t> row_counts(levels.begin(), levels.end());
        if (argc > 4) {
            row_counts = {std::strtoul(argv[4], nullptr, 10)};
        }
        study_untold(owners, argc > 3 ? argv[3] : "", row_counts);
    }
    if (wanted("priors")) {
        study_priors(owners);
    }
    if (wanted("changes")) {
        study_changes(std::max(1, owners / 4));
    }
    if (wanted("noise")) {
        study_noise(std::max(1, owners / 2));
    }
    if (wanted("wrong")) {
        study_wrong(std::max(1, owners / 4));
    }
}
