// What the measured rows taught: row by row, what does not fit, what cannot be told apart, what to
// run next.
#include <algorithm>
#include <cmath>
#include <numeric>

#include "advise/spread.hpp"
#include "advise/text.hpp"
#include "learn/row_checks.hpp"
#include "learn/sampling.hpp"
#include "physics/none.hpp"

namespace hotband {
namespace {

// Measured flights as the fit takes them: those that stand for others are flown once.
class FlownRows {
 public:
    FlownRows(const Setup& s, const Plant& p, const Calibration& c)
        : s_(s), p_(p), c_(c), flown_(s.measured.size()) {}

    RowFit fit(int index) {
        const auto reading = std::find_if(c_.readings.begin(), c_.readings.end(),
                                          [&](const Reading& r) { return r.row == index; });
        const bool read = reading != c_.readings.end();
        const auto as = static_cast<size_t>(read ? reading->flown_as : index);
        if (!flown_[as]) {
            const March m = fly_row(p_, s_, s_.measured[as]);
            flown_[as] = RowFit{};
            flown_[as]->hold_mean_C = m.mean_board;
            flown_[as]->hold_peak_C = m.peak_board;
            flown_[as]->hold_s = m.seconds;
        }
        RowFit fit = *flown_[as];
        fit.row = index;
        const double beyond_K = read ? reading->beyond_K : 0;
        fit.hold_mean_C += beyond_K;
        fit.hold_peak_C += beyond_K;
        return fit;
    }

 private:
    const Setup& s_;
    const Plant& p_;
    const Calibration& c_;
    std::vector<std::optional<RowFit>> flown_;
};

RowFit fit_hold(const Setup& s, const Plant& p, const Calibration& c, int index) {
    const MeasuredRow& row = s.measured[static_cast<size_t>(index)];
    RowFit fit;
    fit.row = index;
    const BenchCase bench = bench_case(p, bench_of(row));
    const HoldRun run = run_hold(bench.plant, bench.ask);
    const HoldReport h = report_hold(bench.plant, run);
    fit.hold_mean_C = h.hold_mean_C;
    fit.hold_peak_C = h.hold_peak_C.p50;
    fit.steady_C = h.steady_C;
    fit.share_reached = h.share_reached;
    fit.hold_s = h.hold_s;
    fit.air_speed_mps = h.air_speed_mps;
    fit.motor_A = h.motor_A;
    double squares = 0;
    double points = 0;
    // a fit that failed predicts nothing
    for (size_t i = 0; i < c.predicted.size(); ++i) {
        if (c.readings[i].row == index && c.readings[i].kind == ReadingKind::trace) {
            const double off = c.predicted[i] - c.readings[i].measured;
            squares += off * off;
            ++points;
        }
    }
    if (points > 0) {
        fit.trace_rms_K = std::sqrt(squares / points);
    }
    return fit;
}

const char* subject(std::optional<ReadingKind> kind) {
    if (!kind) {
        return "";
    }
    switch (*kind) {
        case ReadingKind::mean:
            return ": its mean";
        case ReadingKind::peak:
            return ": its peak";
        case ReadingKind::after:
            return ": the reading after landing";
        case ReadingKind::trace:
            return ": its log";
        case ReadingKind::speed:
            return ": its speed";
    }
    return "";
}

// How a speed compares, its logarithm off by so much.
std::string faster(double off) {
    const double percent = 100 * std::expm1(off);
    return percent > 100
               ? "more than twice what"
               : say("%.0f %% %s than", std::abs(percent), percent > 0 ? "higher" : "lower");
}

std::vector<Misfit> find_misfits(const Setup& s, const Calibration& c, Scale in) {
    // What reads hot or cool beside a current that cannot be right is not to blame for it.
    std::vector<Misfit> out = find_slips(s);
    if (!out.empty()) {
        return out;
    }
    for (const RowCheck& check : c.checks) {
        if (check.doubt > likely_off) {
            const std::string name = row_name(s, static_cast<size_t>(check.row));
            if (check.kind == ReadingKind::speed) {
                out.push_back({check.row, 0,
                               say("%s: its speed is %s everything else allows, and counts less "
                                   "for it: check the pole count and the Kv.",
                                   name.c_str(), faster(check.off_K / speed_scale).c_str())});
                continue;
            }
            constexpr double most_told_K = 1000;
            const double off_K = std::clamp(check.off_K, -most_told_K, most_told_K);
            const char* more = std::abs(check.off_K) > most_told_K ? "over " : "";
            out.push_back(
                {check.row, off_K,
                 say("%s%s reads %s%s %s than everything else allows, and counts less for it: "
                     "check its airflow, sensor, current, length and start temperature.",
                     name.c_str(), subject(check.kind), more,
                     difference(std::abs(off_K), in).c_str(),
                     check.off_K > 0 ? "hotter" : "cooler")});
        }
    }
    const std::vector<Reading> readings = readings_of(s);
    constexpr double contradict = 3;  // times further apart than sensors err
    if (out.empty() && c.widened > contradict && rows_that_tell_heat(readings) == 2) {
        const int last = readings.back().row;
        out.push_back({last, 0,
                       say("%s and %s contradict each other, and nothing tells which is right: "
                           "read again.",
                           row_name(s, static_cast<size_t>(readings.front().row)).c_str(),
                           in_mid_sentence(row_name(s, static_cast<size_t>(last))).c_str()),
                       true});
    }
    return out;
}

std::vector<LearnedParameter> learned_parameters(const Belief& b) {
    constexpr double moved = 0.25;    // sigmas
    constexpr double narrowed = 0.9;  // of the prior's spread
    std::vector<LearnedParameter> out;
    for (size_t i = 0; i < b.priors.size(); ++i) {
        const Prior& prior = b.priors[i];
        const double spread = b.spread(i);
        if (prior.slot == &Unknowns::active_freewheel || prior.spread == 0 ||
            (std::abs(b.middle[i]) < moved && spread > narrowed)) {
            continue;
        }
        out.push_back({std::string(prior.key),
                       {prior_value(prior, -z90), prior_value(prior, z90)},
                       {prior_value(prior, b.middle[i] - z90 * spread),
                        prior_value(prior, b.middle[i] + z90 * spread)}});
    }
    return out;
}

const char* plain_name(std::string_view key) {
    struct Name {
        std::string_view key;
        const char* name;
    };
    static constexpr std::array<Name, 12> names = {{
        {"esc.switch_resistance_mOhm", "the switches' resistance"},
        {"esc.board_resistance_mOhm", "the board's resistance"},
        {"esc.transition_ns", "switching"},
        {"esc.diode_V", "freewheeling"},
        {"esc.capacitor_esr_mOhm", "the capacitors"},
        {"esc.surface_cm2", "the ESC's surface"},
        {"esc.mass_g", "the ESC's mass"},
        {"esc.case_path_K_per_W", "the path from board to case"},
        {"air.convection_factor", "the surface's cooling"},
        {"air.wash_share", "the air reaching the ESC"},
        {"motor.inductance_uH", "the motor's inductance"},
        {"air.bay_surface_cm2", "the bay's skin"},
    }};
    for (const Name& n : names) {
        if (n.key == key) {
            return n.name;
        }
    }
    return nullptr;
}

// Two causes that the readings leave entangled: the strongest posterior correlation between rows
// that are still wide.
std::string entangled(const Belief& b) {
    double strongest = 0.35;
    std::string text;
    for (size_t i = 0; i < b.priors.size(); ++i) {
        for (size_t j = 0; j < i; ++j) {
            const char* a = plain_name(b.priors[i].key);
            const char* c = plain_name(b.priors[j].key);
            const double rho = std::abs(b.covariance(i, j)) / (b.spread(i) * b.spread(j));
            if (a != nullptr && c != nullptr && rho > strongest) {
                strongest = rho;
                text = say(" The readings cannot tell %s from %s.", c, a);
            }
        }
    }
    return text;
}

// Of values over the draws; from the mean of one of the two, the other's takes nothing away.
double covariance(std::span<const double> x, std::span<const double> y) {
    const auto n = static_cast<double>(x.size());
    const double mean_x = std::accumulate(x.begin(), x.end(), 0.0) / n;
    double sum = 0;
    for (size_t i = 0; i < x.size(); ++i) {
        sum += (x[i] - mean_x) * y[i];
    }
    return sum / n;
}

// The bench run whose predicted reading, with its sensor's error, leaves the flight's peak least
// spread: var(flight | run) = var - cov^2 / (var_run + sigma^2), from the belief's draws. A run
// that may pass the ESC's limit is none, nor one that `p` holds above the ESC's rating, nor any of
// a rotor, which is not held at hover power on a bench.
std::optional<NextRun> best_next_run(const Setup& s, const Plant& p, const Draws& draws, Scale in) {
    constexpr size_t few = 64;      // draws at least that a run is tried on
    constexpr size_t many = 128;    // and at most
    constexpr double useful_K = 1;  // narrower by less is not worth a pack
    const auto finite = [](std::span<const double> v) {
        return std::all_of(v.begin(), v.end(), [](double x) { return std::isfinite(x); });
    };
    const std::vector<double> flight_peaks = peaks_of(draws.flight);
    if (draws.count() < few || !finite(flight_peaks) || s.load.kind == LoadKind::governed) {
        return {};
    }
    const Source fresh = source_at(p, p.pack.start, p.pack.start_C, 50, 50);
    const auto is_held = [&](double pct) {
        return operate(p, {.throttle = pct / 100}, fresh).i_pack <= s.esc.rating_A;
    };
    const size_t tried = std::min(draws.count(), many);
    NextRun best;
    double best_left = 1e300;
    const auto consider = [&](double throttle_pct, double f, std::span<const double> run,
                              std::span<const double> flight) {
        std::vector<double> peaks(run.begin(), run.end());
        if (!finite(run) || quantile(peaks, sure) > s.esc.limit_C) {
            return;
        }
        const double both = covariance(run, flight);
        const double read = covariance(run, run) + board_sensor_K * board_sensor_K;
        const double left = 1 - both * both / (read * covariance(flight, flight));
        if (left < best_left) {
            best_left = left;
            best.throttle_pct = throttle_pct;
            best.pwm_Hz = f;
        }
    };
    // Flown on the bench of each draw, with the unknowns that are the bench's own.
    const std::span<const double> flight_tried(flight_peaks.data(), tried);
    const auto try_run = [&](double pct, double f) {
        std::vector<double> run;
        for (size_t k = 0; k < tried; ++k) {
            BenchRun ask{.throttle = pct / 100, .day = Day::bench};
            ask.pwm_Hz = f;
            ask.speed_mps = 0;
            const BenchCase bench = bench_case(draws.plants[k], ask);
            const March m = fly_hold(bench.plant, bench.ask, Steps::trial);
            run.push_back(m.ended_by == EndedBy::runaway
                              ? none
                              : shown_by_sensor(bench.plant.u.bench_gain, bench.plant.air.celsius,
                                                m.peak_board));
        }
        consider(pct, f, run, flight_tried);
    };
    for (const double pct : {40.0, 50.0, 60.0, 65.0, 70.0, 75.0, 80.0, 85.0, 90.0, 100.0}) {
        if (is_held(pct)) {
            try_run(pct, s.esc.pwm_Hz);
        }
    }
    for (const double f : s.esc.pwm_choices_Hz) {
        for (const double pct : {60.0, 85.0}) {
            if (f != s.esc.pwm_Hz && is_held(pct)) {
                try_run(pct, f);
            }
        }
    }
    if (best.throttle_pct == 0) {
        return {};
    }
    std::vector<double> peaks = flight_peaks;
    best.band_before_K = quantile(peaks, sure) - quantile(peaks, 1 - sure);
    best.band_after_K = best.band_before_K * std::sqrt(std::max(0.0, best_left));
    if (best.band_before_K - best.band_after_K < useful_K) {
        return {};
    }
    best.text =
        say("%.0f %% at %.0f kHz, held to the reserve on the bench, tells most: read the "
            "ESC's temperature at the end. It should narrow this flight's range from %s to "
            "about %s.",
            best.throttle_pct, best.pwm_Hz * 1e-3, difference(best.band_before_K, in).c_str(),
            difference(best.band_after_K, in).c_str());
    return best;
}

// Where a row of this slot ends up, and how surely.
struct Ends {
    double middle = 1, spread = 0;
};

Ends ends_of(const Belief& b, double Unknowns::*slot) {
    for (size_t i = 0; i < b.priors.size(); ++i) {
        if (b.priors[i].slot == slot) {
            const double spread = b.spread(i);
            return {prior_value(b.priors[i], b.middle[i]), b.priors[i].spread * spread};
        }
    }
    return {};
}

// What the readings say of the place they were taken in, where that is more than noise.
std::string place_text(const Belief& b, double Unknowns::*air, double Unknowns::*offset,
                       const char* place, Scale in) {
    constexpr double clear_factor = 1.25;
    constexpr double clear_K = 2;
    const double factor = ends_of(b, air).middle;
    const double warmer_K = ends_of(b, offset).middle;
    std::string text;
    if (factor < 1 / clear_factor || factor > clear_factor) {
        text += say(" %s seems to have had %.1f times the air over the ESC that was expected.",
                    place, factor);
    }
    if (std::abs(warmer_K) > clear_K) {
        text += say(" %s seems to have had air %s %s than told.", place,
                    difference(std::abs(warmer_K), in).c_str(), warmer_K > 0 ? "warmer" : "cooler");
    }
    return text;
}

std::string session_text(const Setup& s, const Calibration& c, Scale in) {
    std::string text;
    if (std::any_of(c.readings.begin(), c.readings.end(), [&](const Reading& r) {
            const auto row = static_cast<size_t>(r.row);
            return row < s.measured.size() && place_of(s.measured[row]) == Where::bench;
        })) {
        text +=
            place_text(c.belief, &Unknowns::bench_air, &Unknowns::bench_offset, "Your bench", in);
    }
    return text + place_text(c.belief, &Unknowns::flown_air, &Unknowns::flown_offset,
                             "The flight you read", in);
}

// Where a kind was told: only what speaks against it.
std::string freewheel_text(const Setup& s, const Calibration& c) {
    if (!c.chance_active) {
        return {};
    }
    const double active = *c.chance_active;
    if (doubts_rows(s)) {
        return say(" Freewheel when you read: a diode's with %.0f %%, active with %.0f %% chance.",
                   100 * (1 - active), 100 * active);
    }
    const bool told_active = s.esc.freewheel == Freewheel::active;
    if (s.esc.freewheel == Freewheel::unknown) {
        return say(
            " Freewheel by your readings: a diode's with %.0f %%, active with %.0f %% chance.",
            100 * (1 - active), 100 * active);
    }
    const double as_told = told_active ? active : 1 - active;
    if (as_told >= sure) {
        return {};
    }
    return say(
        " You told %s freewheel; your readings leave it %.0f to %.0f against %s: look at the "
        "ESC's setting.",
        told_active ? "active" : "diode", 100 * as_told, 100 * (1 - as_told),
        told_active ? "diode" : "active");
}

}  // namespace

std::string row_name(const Setup& s, size_t row) {
    if (row >= s.measured.size()) {
        return say("The point at %.0f %%", s.load.points[row - s.measured.size()].throttle_pct);
    }
    const MeasuredRow& told = s.measured[row];
    return told.kind == RowKind::flight ? say("Row %zu (flight)", row + 1)
                                        : say("Row %zu (%.0f %%)", row + 1, told.throttle_pct);
}

Learned report_learning(const Setup& s, const Calibration& c, const Plant& p, const Draws& draws,
                        Scale in) {
    Learned out;
    out.rows = static_cast<int>(s.measured.size());
    FlownRows flights(s, p, c);
    for (int i = 0; i < out.rows; ++i) {
        const bool flight = s.measured[static_cast<size_t>(i)].kind == RowKind::flight;
        out.fit.push_back(flight ? flights.fit(i) : fit_hold(s, p, c, i));
    }
    out.misfit = find_misfits(s, c, in);
    out.widened = c.widened;
    out.apart = c.apart;
    if (!c.readings.empty()) {
        out.parameters = learned_parameters(c.belief);
    }
    out.next_run = best_next_run(s, p, draws, in);
    if (c.readings.empty()) {
        out.text =
            out.rows == 0
                ? "Nothing measured yet: the range comes from estimates alone."
                : "Currents are measured; a temperature reading would narrow the range most.";
        return out;
    }
    out.chance_active = c.chance_active;
    out.failed = c.failed;
    if (c.failed) {
        const std::string why =
            c.widened > most_widened
                ? say("they scatter %s times more than their sensors should, whatever is "
                      "assumed. Check rows, resistances",
                      c.widened > 1000 ? "over a thousand" : say("%.0f", c.widened).c_str())
                : "with these figures the model has no finite temperature there. Check resistances";
        out.text =
            say("Nothing learned from %d measured row%s: %s and currents; the range is that of the "
                "estimates alone.",
                out.rows, out.rows == 1 ? "" : "s", why.c_str());
        return out;
    }
    out.text = out.rows == 0
                   ? "Learned from the speeds told with the currents."
                   : say("Learned from %d measured row%s.", out.rows, out.rows == 1 ? "" : "s");
    if (c.stood_in > 0) {
        out.text += say(
            " To answer in time, %d measured flight%s the most similar other one, a fixed number "
            "of kelvin above or below it.",
            c.stood_in, c.stood_in == 1 ? " follows" : "s follow");
    }
    if (c.budget_reached) {
        out.text +=
            " There are more readings than can be weighed to the last digit in the time a "
            "phone has: the fit was ended early.";
    } else if (!c.converged) {
        out.text += " The fit did not settle: take its figures with care.";
    }
    if (c.widened > 1) {
        out.text += c.readings.size() == 1 ? say(" The reading is %.1f times further off than its "
                                                 "sensor should be, whatever is assumed: the "
                                                 "range is widened to match.",
                                                 c.widened)
                                           : say(" The readings scatter %.1f times more than their "
                                                 "sensors should: the range is "
                                                 "widened to match.",
                                                 c.widened);
    }
    if (c.apart > 1) {
        out.text += say(
            " What was read is further from the estimates than these allow: the forecast follows "
            "the readings, and its range is %.1f times wider. Check the rows, and what is told of "
            "the drive and its cooling.",
            c.apart);
    }
    out.text += session_text(s, c, in);
    out.text += freewheel_text(s, c);
    out.text += entangled(c.belief);
    return out;
}

}  // namespace hotband
