// Rows in order, sessions apart, what cannot be true taken out; see clean_log.hpp.
#include "learn/clean_log.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "learn/robust.hpp"
#include "physics/none.hpp"

namespace hotband {
namespace {

// Wider than anything real, narrow enough to catch a broken number: sensors' end values, counters,
// two numbers run together (common practice, no source).
constexpr double least_throttle_pct = -30, most_throttle_pct = 130;  // stick ends beyond 0 and 100
constexpr double least_sound_A = -50, most_sound_A = 3000;           // offset and braking below 0
constexpr double least_voltage_V = 0, most_voltage_V = 200;
constexpr double least_esc_C = -50, most_esc_C = 200;
constexpr double least_rpm = 0, most_rpm = 400000;

constexpr double most_time_s = 1e11;  // three thousand years: no clock, but a broken number

constexpr double least_sample_s = 0.5;  // boards take tens of seconds: nothing is lost
constexpr double least_spike_K = 10;    // no board moves by that and back within a few steps
constexpr double spike_sigmas = 5;
constexpr double mad_to_sigma = 1.4826;  // of a normal distribution
constexpr double spike_window_s = 10;    // readings further away are no neighbours
constexpr size_t rows_ahead = 8;         // rows that vote on where a jumping time belongs

class Damages {
 public:
    void add(Damage reason, size_t row) {
        DamagedRows& d = all_[static_cast<size_t>(reason)];
        constexpr size_t most_named = 5;
        if (d.first_rows.size() < most_named) {
            d.first_rows.push_back(row);
        }
        ++d.count;
    }

    std::vector<DamagedRows> take() {
        std::vector<DamagedRows> out;
        for (size_t i = 0; i < all_.size(); ++i) {
            if (all_[i].count > 0) {
                all_[i].reason = static_cast<Damage>(i);
                out.push_back(std::move(all_[i]));
            }
        }
        return out;
    }

 private:
    std::array<DamagedRows, static_cast<size_t>(Damage::esc_spike) + 1> all_;
};

// A value, or NaN with the row named where it cannot be true.
double sound(const std::vector<double>& column, size_t row, double least, double most,
             Damage reason, Damages& damages) {
    if (column.empty() || std::isnan(column[row])) {
        return none;
    }
    if (column[row] >= least && column[row] <= most) {
        return column[row];
    }
    damages.add(reason, row);
    return none;
}

struct Row {
    size_t row = 0;
    double t = 0;
    bool opens_session = false;
};

// Usual time between rows, of those that differ; 0 when there are none.
double usual_interval(const std::vector<Row>& rows) {
    std::vector<double> steps;
    for (size_t i = 1; i < rows.size(); ++i) {
        if (!rows[i].opens_session && rows[i].t > rows[i - 1].t) {
            steps.push_back(rows[i].t - rows[i - 1].t);
        }
    }
    return steps.empty() ? 0 : median_of(steps);
}

// Does the row at `i` open a session, does it fit, or is its time a broken one? Told by the rows
// that follow: they go on with the clock before it, whose last time is `last`, or with its own.
enum class Place { follows, opens, broken };

Place place_of_time(const std::vector<Row>& timed, size_t i, double last, double far) {
    const double now = timed[i].t;
    const bool back = now < last;
    if (!back && now - last <= far) {
        return Place::follows;
    }
    size_t old_clock = 0;
    size_t new_clock = 0;
    const size_t end = std::min(timed.size(), i + 1 + rows_ahead);
    for (size_t k = i + 1; k < end; ++k) {
        const double t = timed[k].t;
        const bool old = t >= last && t - last <= far;
        old_clock += old ? 1 : 0;
        new_clock += !old && t >= now ? 1 : 0;
    }
    if (back) {
        return new_clock > old_clock ? Place::opens : Place::broken;
    }
    return old_clock > new_clock ? Place::broken : Place::follows;
}

// Rows from the one at `i` on that go on with its time and stay behind `last`, of those that vote.
size_t rows_behind(const std::vector<Row>& timed, size_t i, double last) {
    const size_t end = std::min(timed.size(), i + 1 + rows_ahead);
    size_t k = i;
    while (k < end && timed[k].t >= timed[i].t && timed[k].t < last) {
        ++k;
    }
    return k - i;
}

// Where the row at `i` is behind those kept, a row or two before it may be the broken ones: the
// file's first, or fewer that were ahead than are behind. Leaves those out; false where it is not
// so.
bool drop_strays(std::vector<Row>& kept, size_t session, const std::vector<Row>& timed, size_t i,
                 bool opens, Damages& damages) {
    constexpr size_t most_strays = 2;  // rows that are no session of their own
    const double now = timed[i].t;
    auto stray = kept.begin();
    if (session > 0 || kept.size() > most_strays) {
        if (kept.size() <= session + most_strays || (kept.end() - most_strays - 1)->t > now) {
            return false;
        }
        stray = std::find_if(kept.end() - most_strays, kept.end(),
                             [&](const Row& r) { return r.t > now; });
        if (rows_behind(timed, i, kept.back().t) <= static_cast<size_t>(kept.end() - stray)) {
            return false;
        }
    } else if (!opens) {
        return false;
    }
    std::for_each(stray, kept.end(), [&](const Row& r) { damages.add(Damage::time_jumps, r.row); });
    kept.erase(stray, kept.end());
    return true;
}

// Rows in order of time within sessions.
std::vector<Row> in_time_order(const std::vector<double>& time, Damages& damages) {
    std::vector<Row> timed;
    for (size_t i = 0; i < time.size(); ++i) {
        if (std::abs(time[i]) <= most_time_s) {
            timed.push_back({i, time[i], false});
        } else {
            damages.add(Damage::no_time, i);
        }
    }
    const double far =
        std::max(60.0, 50 * usual_interval(timed));  // s: a step this long is doubted
    std::vector<Row> kept;
    size_t session = 0;  // where in `kept` the present one begins
    for (size_t i = 0; i < timed.size(); ++i) {
        Place place = kept.empty() ? Place::follows : place_of_time(timed, i, kept.back().t, far);
        const bool opens = place == Place::opens;
        if ((opens || place == Place::broken) && timed[i].t < kept.back().t &&
            drop_strays(kept, session, timed, i, opens, damages)) {
            place = Place::follows;
        }
        if (place == Place::broken) {
            damages.add(Damage::time_jumps, timed[i].row);
            continue;
        }
        if (place == Place::opens) {
            session = kept.size();
        }
        kept.push_back({timed[i].row, timed[i].t, place == Place::opens});
    }
    return kept;
}

// The values of one row that are sound.
struct Values {
    double throttle, current, voltage, esc, rpm;
    bool any() const {
        return !std::isnan(throttle) || !std::isnan(current) || !std::isnan(voltage) ||
               !std::isnan(esc) || !std::isnan(rpm);
    }
};

Values values_of(const Log& log, size_t row, Damages& damages) {
    return {
        sound(log.throttle_pct, row, least_throttle_pct, most_throttle_pct, Damage::throttle_off,
              damages),
        sound(log.current_A, row, least_sound_A, most_sound_A, Damage::current_off, damages),
        sound(log.voltage_V, row, least_voltage_V, most_voltage_V, Damage::voltage_off, damages),
        sound(log.esc_C, row, least_esc_C, most_esc_C, Damage::esc_off, damages),
        sound(log.rpm, row, least_rpm, most_rpm, Damage::speed_off, damages)};
}

// Gathers rows until the step of time is over.
class Gathering {
 public:
    bool empty() const { return rows_ == 0; }
    void add(const Row& row, const Values& v) {
        if (rows_++ == 0) {
            sample_.begin_s = row.t;
            sample_.first_row = row.row;
        }
        sample_.end_s = row.t;
        sample_.last_row = row.row;
        gather(throttle_, v.throttle);
        gather(current_, v.current);
        gather(voltage_, v.voltage);
        gather(esc_, v.esc);
        gather(rpm_, v.rpm);
    }
    LogSample take() {
        LogSample out = sample_;
        const double throttle = median_of(throttle_);
        out.throttle_pct = std::isnan(throttle) ? none : std::clamp(throttle, 0.0, 100.0);
        out.current_A = median_of(current_);
        out.voltage_V = median_of(voltage_);
        out.esc_C = median_of(esc_);
        out.rpm = median_of(rpm_);
        for (auto* column : {&throttle_, &current_, &voltage_, &esc_, &rpm_}) {
            column->clear();
        }
        rows_ = 0;
        return out;
    }

 private:
    static void gather(std::vector<double>& column, double value) {
        if (!std::isnan(value)) {
            column.push_back(value);
        }
    }
    LogSample sample_;
    size_t rows_ = 0;
    std::vector<double> throttle_, current_, voltage_, esc_, rpm_;
};

// What the temperature should be at each sample of a session, where it was read: the reading
// itself, or the median of those around it where the reading stands apart.
std::vector<double> expected_esc(const std::vector<LogSample>& samples, const LogSession& session) {
    std::vector<size_t> read;
    for (size_t i = session.first; i < session.last; ++i) {
        if (!std::isnan(samples[i].esc_C)) {
            read.push_back(i);
        }
    }
    std::vector<double> expected(session.last - session.first, none);
    std::vector<double> window;
    for (size_t k = 0; k < read.size(); ++k) {
        const LogSample& here = samples[read[k]];
        window.clear();
        size_t sides[2] = {0, 0};
        const size_t end = std::min(read.size(), k + 4);
        for (size_t n = k < 3 ? 0 : k - 3; n < end; ++n) {
            const LogSample& there = samples[read[n]];
            if (std::abs(there.begin_s - here.begin_s) <= spike_window_s) {
                window.push_back(there.esc_C);
                sides[n < k ? 0 : 1] += n == k ? 0 : 1;
            }
        }
        const double middle = median_of(window);
        for (double& value : window) {
            value = std::abs(value - middle);
        }
        const double sigma = mad_to_sigma * median_of(window);
        // At an end a steep rise alone puts a reading apart from those beside it.
        const bool at_end = std::min(sides[0], sides[1]) < 2;
        const double apart = std::max((at_end ? 2 : 1) * least_spike_K, spike_sigmas * sigma);
        const bool spike = std::abs(here.esc_C - middle) > apart;
        expected[read[k] - session.first] = spike ? middle : here.esc_C;
    }
    return expected;
}

// Whether a row is among those kept, which stand in the file's order.
bool is_kept(const std::vector<Row>& kept, size_t row) {
    const auto at = std::lower_bound(kept.begin(), kept.end(), row,
                                     [](const Row& r, size_t wanted) { return r.row < wanted; });
    return at != kept.end() && at->row == row;
}

// Takes the spikes out of a session's temperatures and names the rows that read them.
void drop_spikes(const Log& log, const std::vector<Row>& kept, const LogSession& session,
                 CleanLog& out, Damages& damages) {
    const std::vector<double> expected = expected_esc(out.samples, session);
    for (size_t i = session.first; i < session.last; ++i) {
        LogSample& sample = out.samples[i];
        const double should = expected[i - session.first];
        if (std::isnan(should)) {
            continue;
        }
        for (size_t row = sample.first_row; row <= sample.last_row; ++row) {
            const double read = log.esc_C[row];
            const bool sane = read >= least_esc_C && read <= most_esc_C;
            if (sane && std::abs(read - should) > least_spike_K && is_kept(kept, row)) {
                damages.add(Damage::esc_spike, row);
            }
        }
        if (should != sample.esc_C) {
            sample.esc_C = none;
        }
    }
}

}  // namespace

std::string_view damage_text(Damage damage) {
    switch (damage) {
        case Damage::no_time:
            return "no time that can be read: row left out";
        case Damage::time_jumps:
            return "a time that fits neither the rows before nor those after: row left out";
        case Damage::no_value:
            return "nothing but a time: row left out";
        case Damage::throttle_off:
            return "throttle far outside 0 to 100 %: value left out";
        case Damage::current_off:
            return "a current outside -50 to 3000 A: value left out";
        case Damage::voltage_off:
            return "a voltage outside 0 to 200 V: value left out";
        case Damage::esc_off:
            return "an ESC temperature outside -50 to 200 deg C: value left out";
        case Damage::speed_off:
            return "a motor speed outside 0 to 400,000 rpm: value left out";
        case Damage::esc_spike:
            return "an ESC temperature more than 10 K off those around it: value left out";
    }
    return "";
}

CleanLog clean_log(const Log& log) {
    CleanLog out;
    Damages damages;
    out.rows = log.time_s.size();
    const std::vector<Row> rows = in_time_order(log.time_s, damages);
    out.row_s = usual_interval(rows);
    const double step_s = std::max(least_sample_s, out.row_s);
    Gathering gathered;
    double step_start = 0;
    const auto close_step = [&] {
        if (!gathered.empty()) {
            out.samples.push_back(gathered.take());
        }
    };
    const auto close_session = [&] {
        close_step();
        const size_t first = out.sessions.empty() ? 0 : out.sessions.back().last;
        if (out.samples.size() > first) {
            out.sessions.push_back({first, out.samples.size()});
        }
    };
    for (size_t i = 0; i < rows.size(); ++i) {
        const Row& row = rows[i];
        if (row.opens_session) {
            close_session();
        } else if (i > 0 && row.t == rows[i - 1].t) {
            ++out.repeated_times;
        }
        const Values values = values_of(log, row.row, damages);
        if (!values.any()) {
            damages.add(Damage::no_value, row.row);
            continue;
        }
        ++out.used;
        // A row that is due just at the step's end, give or take its jitter, opens the next one.
        if (row.t - step_start > 0.95 * step_s) {
            close_step();
        }
        if (gathered.empty()) {
            step_start = row.t;
        }
        gathered.add(row, values);
    }
    close_session();
    for (const LogSession& session : out.sessions) {
        drop_spikes(log, rows, session, out, damages);
    }
    out.damaged = damages.take();
    return out;
}

}  // namespace hotband
