// Flights that stand in for others; see stand_ins.hpp.
#include "learn/stand_ins.hpp"

#include <algorithm>
#include <cmath>
#include <tuple>
#include <utility>

#include "physics/order.hpp"

namespace hotband {
namespace {

// What lies near in it stands in best.
auto nearness(const MeasuredRow& r) {
    return std::tuple(place_of(r), steps_for(r), rig_of(r).key(), r.pwm_Hz, r.flight_speed_mps,
                      r.air_C, r.start_C);
}

bool may_stand_in(const MeasuredRow& a, const MeasuredRow& b) {
    return place_of(a) == place_of(b) && steps_for(a) == steps_for(b) && rig_of(a) == rig_of(b);
}

// For each row the one that is flown for it, where at most `group` in a row share one.
std::vector<size_t> stand_ins(const Setup& setup, const std::vector<double>& row_work,
                              size_t group) {
    const std::vector<MeasuredRow>& rows = setup.measured;
    std::vector<size_t> as;
    std::vector<size_t> flights;
    for (size_t i = 0; i < rows.size(); ++i) {
        as.push_back(i);
        if (rows[i].kind == RowKind::flight && row_work[i] > 0) {
            flights.push_back(i);
        }
    }
    const std::vector<size_t> near = in_order(flights.size(), [&](size_t a, size_t b) {
        return nearness(rows[flights[a]]) < nearness(rows[flights[b]]);
    });
    flights = taken(std::move(flights), near);
    for (size_t first = 0; first < flights.size();) {
        size_t end = first + 1;
        while (end < flights.size() && end - first < group &&
               may_stand_in(rows[flights[first]], rows[flights[end]])) {
            ++end;
        }
        for (size_t i = first; i < end; ++i) {
            as[flights[i]] = flights[(first + end) / 2];
        }
        first = end;
    }
    return as;
}

// By how much each reading's own board is warmer than its stand-in's.
void set_beyond(std::vector<Reading>& readings, const Prediction& own, const Prediction& used) {
    for (size_t i = 0; i < readings.size(); ++i) {
        readings[i].beyond_K += own.board_C[i] - used.board_C[i];
    }
}

}  // namespace

FitReadings fit_readings(const Setup& setup, const std::vector<Prior>& priors,
                         std::span<const double> z, double most_work, double predictions) {
    FitReadings out;
    out.own = out.used = readings_of(setup);
    if (out.own.empty()) {
        return out;
    }
    const std::vector<MeasuredRow>& rows = setup.measured;
    const Prediction own = predict_all(setup, priors, out.own, z);
    int last = -1;
    for (const Reading& r : out.own) {
        if (r.row != last && static_cast<size_t>(r.row) < rows.size()) {
            out.work_apart += own.row_work[static_cast<size_t>(r.flown_as)];
        }
        last = r.row;
    }
    double holds = static_cast<double>(setup.load.points.size());  // told points: fitted each time
    double flights = 0;
    double count = 0;  // of flights flown
    for (size_t i = 0; i < rows.size(); ++i) {
        const bool flight = rows[i].kind == RowKind::flight;
        (flight ? flights : holds) += own.row_work[i];
        count += flight && own.row_work[i] > 0 ? 1 : 0;
    }
    out.work_own = out.work = std::max(1.0, holds + flights);
    const double each = std::max(0.0, most_work - out.work_own) / predictions;
    if (out.work <= each || count == 0) {
        return out;
    }
    const double few = std::floor((each - holds) / flights * count);
    const double group = std::ceil(count / std::max(1.0, few));
    const std::vector<size_t> as = stand_ins(setup, own.row_work, static_cast<size_t>(group));
    for (size_t i = 0; i < as.size(); ++i) {
        out.stood_in += as[i] != i ? 1 : 0;
    }
    if (out.stood_in == 0) {
        return out;
    }
    for (Reading& r : out.used) {
        if (static_cast<size_t>(r.row) < as.size()) {
            r.flown_as = static_cast<int>(as[static_cast<size_t>(r.flown_as)]);
        }
    }
    const Prediction used = predict_all(setup, priors, out.used, z);
    set_beyond(out.used, own, used);
    out.work = std::max(1.0, out.work_own - own.work + used.work);
    return out;
}

void anchor(std::vector<Reading>& used, const std::vector<Reading>& own, const Setup& setup,
            const std::vector<Prior>& priors, std::span<const double> z) {
    set_beyond(used, predict_all(setup, priors, own, z), predict_all(setup, priors, used, z));
}

}  // namespace hotband
