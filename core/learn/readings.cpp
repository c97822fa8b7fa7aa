// The pilot's readings and their prediction; see readings.hpp.
#include "learn/readings.hpp"

#include <algorithm>
#include <cmath>
#include <tuple>

#include "flight/flight_plan.hpp"
#include "physics/constants.hpp"

namespace hotband {
namespace {

// An infrared reading after landing is of the case and some seconds late (common practice, no
// source).
constexpr double after_landing_K = 4;
// Telemetry and optical tachometers, the pole count known: 1 %; the battery of the day and the
// moment of reading as much again (common practice, no source).
constexpr double speed_pct = 1.4;
// Where the sensor sits and how it is calibrated errs alike in all readings of one row: 1.4 K of
// the 2.5 K. The rest, the display's steps and the moment of reading, is each reading's own (common
// practice, no source).
constexpr double shared_variance = 0.3;  // of a sensor's variance
// Neighbouring trace points err together: a whole trace weighs as much as this many readings.
constexpr double trace_weight = 6;
constexpr size_t most_trace_points = 24;
// Of many traces as many points all together, and of each no less than it weighs.
constexpr size_t most_points = 1200;

double logarithmic(double omega) { return speed_scale * std::log(std::max(omega, 1e-3)); }

Reading speed_reading(int row, int flown_as, double rpm) {
    return {row, ReadingKind::speed, 0, logarithmic(rpm * pi / 30), speed_pct, 0, flown_as};
}

double temperature_of(const March& m, const Reading& r) {
    switch (r.kind) {
        case ReadingKind::mean:
            return m.mean_board;
        case ReadingKind::peak:
            return m.peak_board;
        case ReadingKind::after:
            return m.moments.back().heat.board;
        case ReadingKind::trace:
            return heat_at(m, r.t).board;
        case ReadingKind::speed:
            break;
    }
    return m.peak_board;
}

// What the session's sensor shows of the board.
double shown(const Plant& p, const BenchRun& run, double board_C) {
    const double gain = run.day == Day::bench ? p.u.bench_gain : p.u.flown_gain;
    return shown_by_sensor(gain, air_of_the_day(p, run), board_C);
}

size_t trace_points(const Setup& setup) {
    const auto traces = static_cast<size_t>(
        std::count_if(setup.measured.begin(), setup.measured.end(),
                      [](const MeasuredRow& row) { return !row.trace.empty(); }));
    return std::clamp(most_points / std::max<size_t>(1, traces), static_cast<size_t>(trace_weight),
                      most_trace_points);
}

void add_row_readings(std::vector<Reading>& out, int index, int flown_as, const MeasuredRow& row,
                      size_t points) {
    if (row.rpm && row.kind == RowKind::hold) {
        out.push_back(speed_reading(index, flown_as, *row.rpm));
    }
    const double sensor = row.sensor_K.value_or(board_sensor_K);
    const double shared = std::sqrt(shared_variance) * sensor;
    if (!row.trace.empty()) {
        const size_t n = row.trace.size();
        const size_t take = std::min(n, points);
        const double thinner = std::max(1.0, static_cast<double>(take) / trace_weight);
        const double each = sensor * std::sqrt(shared_variance + (1 - shared_variance) * thinner);
        for (size_t i = 0; i < take; ++i) {
            const auto& [t, C] = row.trace[take == 1 ? 0 : i * (n - 1) / (take - 1)];
            out.push_back({index, ReadingKind::trace, t, C, each, shared, flown_as});
        }
        return;
    }
    if (row.esc_mean_C) {
        out.push_back({index, ReadingKind::mean, 0, *row.esc_mean_C, sensor, shared, flown_as});
    }
    if (row.esc_peak_C) {
        out.push_back({index, ReadingKind::peak, 0, *row.esc_peak_C, sensor, shared, flown_as});
    }
    if (row.esc_after_C) {
        // Another sensor, so its error is its own.
        const double after = row.sensor_K.value_or(after_landing_K);
        out.push_back({index, ReadingKind::after, 0, *row.esc_after_C, after, 0, flown_as});
    }
}

// Speed (rad/s) at a told point, from the fresh pack as the point's current is.
double point_speed(const Plant& p, const ThrottlePoint& point) {
    const Source fresh = source_at(p, p.pack.start, p.pack.start_C, 50, 50);
    return operate(p, {.throttle = point.throttle_pct / 100}, fresh).omega;
}

}  // namespace

BenchRun bench_of(const MeasuredRow& r) {
    return {.throttle = r.throttle_pct / 100,
            .day = place_of(r) == Where::bench ? Day::bench : Day::flown,
            .pack_A = r.pack_A,
            .seconds = r.hold_s,
            .start_C = r.start_C,
            .air_C = r.air_C,
            .pwm_Hz = r.pwm_Hz,
            .speed_mps = r.flight_speed_mps,
            .rig = rig_of(r)};
}

namespace {

// A row as it was flown: what each of its throttles draws, and the march over them.
struct RowRun {
    std::vector<DemandMap> maps;
    size_t solved = 1;  // of the maps
    March march;
};

RowRun run_row(const Plant& p, const Setup& setup, const MeasuredRow& row, Steps steps) {
    RowRun run;
    if (row.kind == RowKind::flight) {
        Plant day = on_the_day(p, bench_of(row));
        day.esc_start_C = row.start_C.value_or(p.esc_start_C);
        FlightPlan plan = plan_flight(day, setup.flight);
        run.march = fly(day, plan, steps);
        run.maps = std::move(plan.maps);
        run.solved = plan.solved;
        return run;
    }
    const BenchCase bench = bench_case(p, bench_of(row));
    run.maps.push_back(map_demand(bench.plant, bench.ask.demand));
    run.march = fly_hold(bench.plant, bench.ask, run.maps.front());
    return run;
}

}  // namespace

March fly_row(const Plant& p, const Setup& setup, const MeasuredRow& row, Steps steps) {
    return run_row(p, setup, row, steps).march;
}

Steps steps_for(const MeasuredRow& row) { return row.trace.empty() ? Steps::trial : Steps::drawn; }

size_t first_alike(const Setup& setup, size_t row) {
    const MeasuredRow& own = setup.measured[row];
    const auto run = [](const MeasuredRow& r) {
        // A flight's throttles and length are the setup's.
        const bool hold = r.kind == RowKind::hold;
        return std::tuple(r.kind, place_of(r), steps_for(r), hold ? r.throttle_pct : 0,
                          hold ? r.pack_A : std::nullopt, hold ? r.hold_s : std::nullopt, r.start_C,
                          r.air_C, r.pwm_Hz, rig_of(r), r.flight_speed_mps);
    };
    const auto first =
        std::find_if(setup.measured.begin(), setup.measured.end(),
                     [&](const MeasuredRow& other) { return run(other) == run(own); });
    return static_cast<size_t>(first - setup.measured.begin());
}

std::vector<Reading> readings_of(const Setup& setup) {
    std::vector<Reading> out;
    const size_t points = trace_points(setup);
    for (size_t i = 0; i < setup.measured.size(); ++i) {
        add_row_readings(out, static_cast<int>(i), static_cast<int>(first_alike(setup, i)),
                         setup.measured[i], points);
    }
    for (size_t i = 0; i < setup.load.points.size(); ++i) {
        if (setup.load.points[i].rpm) {
            const auto row = static_cast<int>(setup.measured.size() + i);
            out.push_back(speed_reading(row, row, *setup.load.points[i].rpm));
        }
    }
    return out;
}

Setup without_readings(Setup setup) {
    std::erase_if(setup.measured, [](const MeasuredRow& row) {
        return row.kind == RowKind::flight || !row.pack_A;
    });
    for (MeasuredRow& row : setup.measured) {
        row.esc_mean_C.reset();
        row.esc_peak_C.reset();
        row.rpm.reset();
        row.trace.clear();
    }
    for (ThrottlePoint& point : setup.load.points) {
        point.rpm.reset();
    }
    return setup;
}

namespace {

// Work of a map, in holds: of one of three nodes, and by the exact points of one with a kink. A
// rotor's point takes several cycles until its duty is found.
double work_of_map(const Plant& p, const DemandMap& map) {
    constexpr double usual_work = 0.35;
    constexpr double usual_points = 6;
    constexpr double rotor = 2;
    const auto nodes = static_cast<double>(map.nodes.size());
    const double points = nodes > 3 ? 3 * nodes + 4 : usual_points;
    return usual_work * points / usual_points * (p.load.law == LoadLaw::square ? 1 : rotor);
}

double work_of_run(const Plant& p, const RowRun& run) {
    constexpr double moments_of_a_hold = 66;  // with its map
    double work = static_cast<double>(run.march.moments.size()) / moments_of_a_hold;
    const double solved = static_cast<double>(run.solved) / static_cast<double>(run.maps.size());
    for (const DemandMap& map : run.maps) {
        work += solved * work_of_map(p, map);
    }
    return work;
}

// Which readings each measured row is flown for.
std::vector<std::vector<size_t>> by_run(const Setup& setup, const std::vector<Reading>& readings) {
    std::vector<std::vector<size_t>> out(setup.measured.size());
    for (size_t i = 0; i < readings.size(); ++i) {
        const auto row = static_cast<size_t>(readings[i].flown_as);
        if (row < out.size()) {
            out[row].push_back(i);
        }
    }
    return out;
}

}  // namespace

namespace {

// Whether the runs are of full throttle and of told currents alone.
Asked asked_by(const Setup& setup, const std::vector<Reading>& readings) {
    const bool by_current = std::all_of(readings.begin(), readings.end(), [&](const Reading& r) {
        const auto row = static_cast<size_t>(r.flown_as);
        return row < setup.measured.size() && setup.measured[row].kind == RowKind::hold &&
               setup.measured[row].pack_A;
    });
    return by_current ? Asked::currents : Asked::throttles;
}

}  // namespace

Prediction predict_all(const Setup& setup, const std::vector<Prior>& priors,
                       const std::vector<Reading>& readings, std::span<const double> z) {
    const Plant p = fitted_plant(setup, priors, z, asked_by(setup, readings));
    Prediction out;
    out.shown.resize(readings.size());
    out.board_C.resize(readings.size());
    out.row_work.resize(setup.measured.size());
    const std::vector<MeasuredRow>& rows = setup.measured;
    for (size_t i = 0; i < readings.size(); ++i) {
        const auto row = static_cast<size_t>(readings[i].row);
        if (row >= rows.size()) {
            out.shown[i] = logarithmic(point_speed(p, setup.load.points[row - rows.size()]));
        }
    }
    const std::vector<std::vector<size_t>> runs = by_run(setup, readings);
    for (size_t row = 0; row < rows.size(); ++row) {
        if (runs[row].empty()) {
            continue;
        }
        const RowRun run = run_row(p, setup, rows[row], steps_for(rows[row]));
        out.row_work[row] = work_of_run(p, run);
        out.work += out.row_work[row];
        for (const size_t i : runs[row]) {
            const Reading& reading = readings[i];
            if (reading.kind == ReadingKind::speed) {
                out.shown[i] = logarithmic(run.march.mean_omega);
                continue;
            }
            out.board_C[i] = temperature_of(run.march, reading) + reading.beyond_K;
            const BenchRun own = bench_of(rows[static_cast<size_t>(reading.row)]);
            out.shown[i] = shown(p, own, out.board_C[i]);
        }
    }
    return out;
}

std::vector<double> predict(const Setup& setup, const std::vector<Prior>& priors,
                            const std::vector<Reading>& readings, std::span<const double> z) {
    return predict_all(setup, priors, readings, z).shown;
}

}  // namespace hotband
