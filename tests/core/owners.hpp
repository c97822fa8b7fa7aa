// Simulated owners: what a pilot tells of a drive, and the drive that is really behind it, drawn
// from the priors. What the learning is held to account with.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <string>
#include <vector>

#include "advise/advise.hpp"
#include "advise/candidates.hpp"
#include "advise/rooms.hpp"
#include "drives.hpp"
#include "learn/calibrate.hpp"
#include "learn/freewheel_kinds.hpp"
#include "learn/posterior.hpp"
#include "learn/sampling.hpp"
#include "random.hpp"

namespace hotband::test {

/// Random numbers of their own, unrelated to the Sobol points of the draws; normals by the inverse
/// distribution function.
class Chance {
 public:
    explicit Chance(std::uint64_t seed) : random_(seed) {}
    /// 0 < u < 1
    double unit() { return (static_cast<double>(random_.next() >> 11) + 0.5) * 0x1p-53; }
    double between(double low, double high) { return low + (high - low) * unit(); }
    bool happens(double p) { return unit() < p; }
    double normal() { return normal_quantile(unit()); }
    template <class T, size_t n>
    T one_of(const std::array<T, n>& of) {
        return of[static_cast<size_t>(unit() * n)];
    }

 private:
    Random random_;
};

/// A drive as its pilot tells it, without readings: ESC classes from 20 to 160 A, loads from a
/// third of the rating to all of it, every cooling and freewheel, propellers, fans and rotors.
inline Setup told_drive(Chance& c) {
    struct Size {
        double rating_A, cells;
    };
    constexpr std::array<Size, 7> sizes = {
        {{20, 3}, {40, 4}, {60, 4}, {80, 6}, {100, 6}, {120, 8}, {160, 12}}};
    const Size size = c.one_of(sizes);
    Setup s;
    s.esc.rating_A = size.rating_A;
    s.esc.pwm_Hz = c.one_of(std::array<double, 3>{8000, 16000, 24000});
    s.esc.freewheel = c.happens(0.4)   ? Freewheel::unknown
                      : c.happens(0.6) ? Freewheel::diode
                                       : Freewheel::active;
    s.pack.cells = size.cells;
    s.air.temperature_C = std::round(c.between(5, 32));
    s.air.flight_speed_mps = std::round(c.between(0, 20));
    const double kind = c.unit();
    s.air.cooling = kind < 0.5 ? Cooling::open : kind < 0.85 ? Cooling::vented : Cooling::closed;
    const bool closed = s.air.cooling == Cooling::closed;
    const double full_A = size.rating_A * (closed ? c.between(0.3, 0.5) : c.between(0.45, 0.95));
    s.pack.capacity_mAh = std::round(full_A * 1000 / c.between(10, 20));
    if (c.happens(0.4)) {
        s.pack.cell_resistance_mOhm = 10 / (s.pack.capacity_mAh * 1e-3);
    }
    const double load = c.unit();
    s.load.kind = load < 0.7    ? LoadKind::propeller
                  : load < 0.85 ? LoadKind::fan
                                : LoadKind::governed;
    const double V = 3.7 * size.cells;
    if (s.load.kind == LoadKind::fan) {
        s.motor.poles = 4;
    }
    if (s.load.kind == LoadKind::governed) {
        s.load.hover_A = 0.4 * full_A;
        s.load.rotor_rpm = 2000;
        s.load.gear_ratio = 8;
        s.motor.poles = 10;
        s.motor.kv_rpm_per_V = 16000 / (0.72 * V);
        s.air.flight_speed_mps = 2;
    } else {
        s.load.full_throttle_A = std::round(full_A * 10) / 10;
        if (c.happens(0.6)) {
            s.motor.kv_rpm_per_V = (s.load.kind == LoadKind::fan ? 36000 : 10000) / V;
        }
    }
    if (c.happens(0.5)) {
        s.motor.resistance_mOhm = 0.06 * V / full_A * 1e3;
    }
    if (c.happens(0.3)) {
        s.esc.switch_resistance_mOhm = 8.5 * std::pow(size.rating_A / 15, -1.167);
    }
    if (c.happens(0.3)) {
        s.esc.mass_g = size.rating_A;
    }
    if (c.happens(0.3)) {
        s.flight.kind = FlightKind::shares;
        const double cruise = std::round(c.between(50, 75));
        s.flight.parts = {share_of(std::round(c.between(40, 80)), cruise), share_of(100, 10),
                          share_of(30, 90 - cruise)};
    } else {
        s.flight.parts = {part_of(std::round(c.between(40, 80)), std::round(c.between(20, 60))),
                          part_of(100, std::round(c.between(3, 10)))};
        if (c.happens(0.4)) {
            s.flight.parts.push_back(part_of(std::round(c.between(25, 60)), 20));
        }
    }
    return s;
}

/// What is really there: one draw of the priors of `told`.
struct Truth {
    std::vector<double> z;
    Plant plant;
    double flight_peak_C = 0;  // as the report counts it: a runaway shows as the junction's end
};

inline double flight_peak(const Plant& p, const FlightSetup& flight) {
    const March m = run_flight(p, flight).march;
    return m.ended_by == EndedBy::runaway ? runaway_junction_C : m.peak_board;
}

/// A bench row as far as the priors look at it: read, with its air and air speed told or not.
inline MeasuredRow bench_row(bool air_told) {
    MeasuredRow row;
    row.esc_peak_C = 50;
    if (air_told) {
        row.air_C = 20;
        row.flight_speed_mps = 0;
    }
    return row;
}

/// `air_told`: the bench's air and air speed are written down beside the readings.
inline Truth draw_truth(const Setup& told, Chance& c, bool air_told = true) {
    Truth t;
    Setup read = told;
    read.measured = {bench_row(air_told)};
    const std::vector<Prior> priors = make_priors(read);
    for (const Prior& row : priors) {
        t.z.push_back(c.normal());
        if (row.slot == &Unknowns::active_freewheel) {
            t.z.back() = c.happens(chance_of_active(told)) ? 1 : -1;
        }
    }
    t.plant = fitted_plant(told, priors, t.z);
    t.flight_peak_C = flight_peak(t.plant, told.flight);
    return t;
}

/// How the readings of a row err.
struct Noise {
    double own_K = 2.5;      // of each reading, by itself
    double row_K = 0;        // common to mean and peak of a row
    double sensor_K = 0;     // common to all rows of an owner
    double row_current = 0;  // of each row's ammeter reading (relative), beside the meter's own
};

/// Throttles of the bench holds, percent, in the order in which they are done.
inline constexpr std::array<double, 4> bench_throttles = {75, 100, 60, 90};

/// Mean current of a march (A, one ESC), trapezoids between its moments.
inline double mean_pack_current(const March& m) {
    double charge = 0;
    for (size_t i = 1; i < m.moments.size(); ++i) {
        charge += 0.5 * (m.moments[i].i_pack + m.moments[i - 1].i_pack) *
                  (m.moments[i].t - m.moments[i - 1].t);
    }
    return charge / m.seconds;
}

/// One hold to the reserve on the truth's bench: the meter reads low by the truth's current_scale,
/// the sensor by its gain, and errs as `noise` says.
inline MeasuredRow measure(const Plant& truth, double throttle_pct, double start_C,
                           const Noise& noise, double sensor_off_K, Chance& c,
                           bool air_told = true) {
    BenchRun run{.throttle = throttle_pct / 100, .day = Day::bench};
    run.start_C = start_C;
    run.speed_mps = 0;
    const BenchCase bench = bench_case(truth, run);
    const March m = fly_hold(bench.plant, bench.ask);
    const double air_C = bench.plant.air.celsius;
    MeasuredRow row;
    row.throttle_pct = throttle_pct;
    row.hold_s = m.seconds;
    row.start_C = start_C;
    row.pack_A = mean_pack_current(m) * truth.pack.share / truth.u.current_scale *
                 std::exp(noise.row_current * c.normal());
    const double off = sensor_off_K + noise.row_K * c.normal();
    const auto shown = [&](double celsius) {
        return air_C + truth.u.bench_gain * (celsius - air_C) + off + noise.own_K * c.normal();
    };
    row.esc_mean_C = shown(m.mean_board);
    row.esc_peak_C = std::max(*row.esc_mean_C, shown(m.peak_board));
    if (air_told) {
        row.air_C = truth.told_air_C;
        row.flight_speed_mps = 0;
    }
    return row;
}

/// The four bench rows of an owner. Rows whose hold runs away or cannot be flown are left out: no
/// pilot would write them down.
inline std::vector<MeasuredRow> measure_all(const Plant& truth, const Noise& noise, Chance& c,
                                            bool air_told = true) {
    std::vector<MeasuredRow> rows;
    const double sensor_off_K = noise.sensor_K * c.normal();
    for (const double throttle_pct : bench_throttles) {
        const double start_C = truth.told_air_C + std::round(c.between(0, 8));
        MeasuredRow row = measure(truth, throttle_pct, start_C, noise, sensor_off_K, c, air_told);
        if (*row.hold_s > 20 && *row.esc_peak_C < 200) {
            rows.push_back(row);
        }
    }
    return rows;
}

/// Flight peaks of `count` draws of what is believed, deg C.
inline std::vector<double> believed_peaks(const Setup& s, const Calibration& c, int count) {
    const size_t priors = c.belief.priors.size();
    const std::vector<double> z = posterior_draws(c, count);
    std::vector<double> peaks;
    for (size_t k = 0; k < static_cast<size_t>(count); ++k) {
        const Plant p = fitted_plant(s, c.belief.priors, std::span(z).subspan(k * priors, priors));
        peaks.push_back(flight_peak(p, s.flight));
    }
    return peaks;
}

/// 10, 50 and 90 % of values.
struct Quantiles {
    double p10 = 0, p50 = 0, p90 = 0;
    double width() const { return p90 - p10; }
    bool holds(double x) const { return p10 <= x && x <= p90; }
};
inline Quantiles quantiles_of(std::vector<double> values) {
    return {quantile(values, 0.1), quantile(values, 0.5), quantile(values, 0.9)};
}

/// What a report tells of a change, and what it does to the true drive.
struct ToldChange {
    std::string id;
    Quantiles band_K;
    double true_K = 0;
};

/// The changes that a report on `read`, `told` with readings, tells of, as far as the truth is
/// flown with them as it is without: at the same throttles, on the same ESC and pack.
inline std::vector<ToldChange> told_changes(const Setup& told, const Truth& truth,
                                            const Setup& read) {
    const Report r = advise(read, {.samples = 64});
    Setup bare = told;
    bare.measured = {bench_row(true)};
    const FlightRun flight = run_flight(truth.plant, told.flight);
    std::vector<ToldChange> out;
    for (const Candidate& really :
         find_candidates(bare, truth.plant, run_checks(bare, truth.plant, flight), r.pwm.choices)) {
        const std::string& id = really.change.id;
        const bool flown_alike = id == "less_propeller" || id == "less_fan" || id == "vent_bay" ||
                                 id == "mount_open" || id == "active_freewheel" ||
                                 id.rfind("pwm_", 0) == 0;
        const auto change = std::find_if(r.changes.begin(), r.changes.end(),
                                         [&](const Change& c) { return c.id == id; });
        if (!flown_alike || change == r.changes.end() || !change->esc_peak_change_K ||
            !change->esc_peak_change_band_K->p10 || !change->esc_peak_change_band_K->p90) {
            continue;
        }
        const Setup& changed = really.change.changed;
        const std::vector<Prior> priors = make_priors(changed);
        std::vector<double> z = truth.z;
        if (id == "active_freewheel") {
            z[freewheel_row(priors)] = 1;
        }
        const Band& band = *change->esc_peak_change_band_K;
        out.push_back(
            {id,
             {*band.p10, band.p50, *band.p90},
             flight_peak(fitted_plant(changed, priors, z), changed.flight) - truth.flight_peak_C});
    }
    return out;
}

}  // namespace hotband::test
