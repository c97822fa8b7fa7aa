// Cleaning of a log and its holds; see log.hpp.
#include "learn/log.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace hotband {
namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

// Wider than anything real, narrow enough to catch a broken number: sensors' end values, counters,
// two numbers run together (common practice, no source).
constexpr double least_throttle_pct = -30, most_throttle_pct = 130;  // stick ends beyond 0 and 100
constexpr double least_sound_A = -50, most_sound_A = 3000;           // offset and braking below 0
constexpr double least_voltage_V = 0, most_voltage_V = 200;
constexpr double least_esc_C = -50, most_esc_C = 200;
constexpr double least_rpm = 0, most_rpm = 400000;

constexpr double most_time_s = 1e11;  // three thousand years: no clock, but a broken number

constexpr double least_step_s = 0.5;  // boards take tens of seconds: nothing is lost
constexpr double least_spike_K = 10;  // no board moves by that and back within a few steps
constexpr double spike_sigmas = 5;
constexpr double mad_to_sigma = 1.4826;  // of a normal distribution
constexpr double spike_window_s = 10;    // readings further away are no neighbours
constexpr size_t look_ahead = 8;         // rows that vote on where a jumping time belongs

double median_of(std::vector<double>& values) {
    if (values.empty()) {
        return none;
    }
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    if (values.size() % 2 == 1) {
        return *middle;
    }
    return 0.5 * (*middle + *std::max_element(values.begin(), middle));
}

// Mean without the outer twentieth at each end.
double trimmed_mean(std::vector<double> values) {
    if (values.empty()) {
        return none;
    }
    std::sort(values.begin(), values.end());
    const size_t cut = values.size() / 20;
    double sum = 0;
    for (size_t i = cut; i < values.size() - cut; ++i) {
        sum += values[i];
    }
    return sum / static_cast<double>(values.size() - 2 * cut);
}

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
enum class Fit { follows, opens, broken };

Fit fit_of(const std::vector<Row>& timed, size_t i, double last, double far) {
    const double now = timed[i].t;
    const bool back = now < last;
    if (!back && now - last <= far) {
        return Fit::follows;
    }
    size_t old_clock = 0;
    size_t new_clock = 0;
    const size_t end = std::min(timed.size(), i + 1 + look_ahead);
    for (size_t k = i + 1; k < end; ++k) {
        const double t = timed[k].t;
        const bool old = t >= last && t - last <= far;
        old_clock += old ? 1 : 0;
        new_clock += !old && t >= now ? 1 : 0;
    }
    if (back) {
        return new_clock > old_clock ? Fit::opens : Fit::broken;
    }
    return old_clock > new_clock ? Fit::broken : Fit::follows;
}

// Rows in order of time within sessions.
std::vector<Row> in_order(const std::vector<double>& time, Damages& damages) {
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
    constexpr size_t most_strays = 2;                // rows that are no session of their own
    std::vector<Row> kept;
    size_t session = 0;  // where in `kept` the present one begins
    for (size_t i = 0; i < timed.size(); ++i) {
        Fit fit = kept.empty() ? Fit::follows : fit_of(timed, i, kept.back().t, far);
        if (fit == Fit::opens && session == 0 && kept.size() <= most_strays) {
            // The clock of the file's first rows was the broken one.
            for (const Row& stray : kept) {
                damages.add(Damage::time_jumps, stray.row);
            }
            kept.clear();
            fit = Fit::follows;
        }
        if (fit == Fit::broken) {
            damages.add(Damage::time_jumps, timed[i].row);
            continue;
        }
        if (fit == Fit::opens) {
            session = kept.size();
        }
        kept.push_back({timed[i].row, timed[i].t, fit == Fit::opens});
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
class Step {
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

// Takes the spikes out of a session's temperatures and names the rows that read them.
void drop_spikes(const Log& log, CleanLog& out, const LogSession& session, Damages& damages) {
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
            if (sane && std::isfinite(log.time_s[row]) && std::abs(read - should) > least_spike_K) {
                damages.add(Damage::esc_spike, row);
            }
        }
        if (should != sample.esc_C) {
            sample.esc_C = none;
        }
    }
}

// A run of samples without a gap, and the quantity that is to be steady.
struct SteadyRun {
    std::vector<size_t> index;  // of its samples
    std::vector<double> value;
};

double quantity(const LogSample& s, SteadyBy by) {
    return by == SteadyBy::throttle ? s.throttle_pct : s.current_A;
}

std::vector<double> running_median(const std::vector<double>& values) {
    constexpr size_t reach = 2;
    std::vector<double> out(values.size());
    std::vector<double> window;
    for (size_t i = 0; i < values.size(); ++i) {
        const size_t side = std::min({reach, i, values.size() - 1 - i});
        window.assign(values.begin() + static_cast<std::ptrdiff_t>(i - side),
                      values.begin() + static_cast<std::ptrdiff_t>(i + side + 1));
        out[i] = median_of(window);
    }
    return out;
}

// Least and greatest of a window that only moves forward (monotone queues, linear time in all).
class Extremes {
 public:
    explicit Extremes(const std::vector<double>& values) : values_(values) {}
    void take_in(size_t i) {
        push(least_, i, 1);
        push(most_, i, -1);
    }
    void leave_out(size_t i) {
        for (Queue* queue : {&least_, &most_}) {
            queue->head += queue->rows[queue->head] == i ? 1 : 0;
        }
    }
    void clear() { least_ = most_ = {}; }
    double least() const { return values_[least_.rows[least_.head]]; }
    double most() const { return values_[most_.rows[most_.head]]; }

 private:
    // Those that may yet become the extreme; what is before `head` has left the window.
    struct Queue {
        std::vector<size_t> rows;
        size_t head = 0;
    };
    void push(Queue& queue, size_t i, double sign) {
        while (queue.rows.size() > queue.head &&
               sign * (values_[queue.rows.back()] - values_[i]) >= 0) {
            queue.rows.pop_back();
        }
        queue.rows.push_back(i);
    }
    const std::vector<double>& values_;
    Queue least_, most_;
};

double tolerance(const HoldOptions& o, SteadyBy by, double middle) {
    return by == SteadyBy::throttle ? o.throttle_pct
                                    : std::max(o.current_A, o.current_share * middle);
}

bool within(const HoldOptions& o, SteadyBy by, double least, double most) {
    return most - least <= 2 * tolerance(o, by, 0.5 * (least + most));
}

std::vector<double> column_of(const CleanLog& log, size_t first, size_t last,
                              double LogSample::*member) {
    std::vector<double> out;
    for (size_t i = first; i <= last; ++i) {
        if (!std::isnan(log.samples[i].*member)) {
            out.push_back(log.samples[i].*member);
        }
    }
    return out;
}

std::optional<double> start_of(const CleanLog& log, const LogSession& session, size_t first,
                               size_t last) {
    constexpr double before_s = 3;
    constexpr double after_s = 2;
    const double start = log.samples[first].begin_s;
    size_t from = first;
    while (from > session.first && log.samples[from - 1].begin_s >= start - before_s) {
        --from;
    }
    size_t to = first;
    while (to < last && log.samples[to + 1].begin_s <= start + after_s) {
        ++to;
    }
    std::vector<double> readings = column_of(log, from, to, &LogSample::esc_C);
    if (readings.empty()) {
        return {};
    }
    return median_of(readings);
}

// Means over equal parts of the hold's length, [seconds from its start, deg C].
std::vector<std::array<double, 2>> thinned_trace(const CleanLog& log, size_t first, size_t last,
                                                 size_t most) {
    std::vector<std::array<double, 2>> trace;
    const double start = log.samples[first].begin_s;
    const double part_s = (log.samples[last].end_s - start) / static_cast<double>(most);
    size_t i = first;
    for (size_t part = 0; part < most && i <= last; ++part) {
        double t = 0;
        double celsius = 0;
        double n = 0;
        const double until = start + part_s * static_cast<double>(part + 1);
        for (; i <= last && (log.samples[i].begin_s < until || part + 1 == most); ++i) {
            const LogSample& s = log.samples[i];
            if (!std::isnan(s.esc_C)) {
                t += 0.5 * (s.begin_s + s.end_s) - start;
                celsius += s.esc_C;
                ++n;
            }
        }
        if (n > 0) {
            trace.push_back({t / n, celsius / n});
        }
    }
    return trace;
}

LoggedHold describe(const CleanLog& log, size_t session, size_t first, size_t last,
                    const HoldOptions& options) {
    LoggedHold hold;
    hold.session = session;
    hold.first_row = log.samples[first].first_row;
    hold.last_row = log.samples[last].last_row;
    hold.start_s = log.samples[first].begin_s;
    hold.end_s = log.samples[last].end_s;
    MeasuredRow& row = hold.row;
    const double throttle = trimmed_mean(column_of(log, first, last, &LogSample::throttle_pct));
    hold.throttle_told = throttle > 0;
    row.throttle_pct = hold.throttle_told ? throttle : row.throttle_pct;
    const double current = trimmed_mean(column_of(log, first, last, &LogSample::current_A));
    if (current >= options.least_current_A) {
        row.pack_A = current;
    }
    const double rpm = trimmed_mean(column_of(log, first, last, &LogSample::rpm));
    constexpr double standing_rpm = 100;
    if (rpm > standing_rpm) {
        row.rpm = rpm;
    }
    row.hold_s = hold.end_s - hold.start_s;
    const std::vector<double> esc = column_of(log, first, last, &LogSample::esc_C);
    // A mean or a peak of less than most of the hold would be one of some other run.
    const bool whole = esc.size() * 5 >= (last - first + 1) * 4;
    if (whole) {
        double sum = 0;
        for (const double celsius : esc) {
            sum += celsius;
        }
        row.esc_mean_C = sum / static_cast<double>(esc.size());
        row.esc_peak_C = *std::max_element(esc.begin(), esc.end());
        row.start_C = start_of(log, log.sessions[session], first, last);
        row.trace = thinned_trace(log, first, last, options.most_points);
    }
    return hold;
}

void find_in_run(const CleanLog& log, size_t session, const SteadyRun& run, SteadyBy by,
                 const HoldOptions& options, std::vector<LoggedHold>& holds) {
    const std::vector<double> smooth = running_median(run.value);
    const double least =
        by == SteadyBy::throttle ? options.least_throttle_pct : options.least_current_A;
    Extremes extremes(smooth);
    const auto length = [&](size_t from, size_t to) {
        return log.samples[run.index[to]].end_s - log.samples[run.index[from]].begin_s;
    };
    const auto offer = [&](size_t from, size_t to) {
        // The ends may hold a little of the way to the level and from it.
        std::vector<double> part(smooth.begin() + static_cast<std::ptrdiff_t>(from),
                                 smooth.begin() + static_cast<std::ptrdiff_t>(to + 1));
        const double middle = median_of(part);
        const double room = tolerance(options, by, middle);
        while (from < to && std::abs(smooth[from] - middle) > room) {
            ++from;
        }
        while (to > from && std::abs(smooth[to] - middle) > room) {
            --to;
        }
        if (length(from, to) >= options.least_s && middle >= least) {
            holds.push_back(describe(log, session, run.index[from], run.index[to], options));
        }
    };
    size_t from = 0;
    for (size_t i = 0; i < smooth.size(); ++i) {
        extremes.take_in(i);
        if (within(options, by, extremes.least(), extremes.most())) {
            continue;
        }
        if (i > from && length(from, i - 1) >= options.least_s) {
            offer(from, i - 1);
            extremes.clear();
            extremes.take_in(i);
            from = i;
            continue;
        }
        while (!within(options, by, extremes.least(), extremes.most())) {
            extremes.leave_out(from++);
        }
    }
    if (!smooth.empty()) {
        offer(from, smooth.size() - 1);
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
    const std::vector<Row> rows = in_order(log.time_s, damages);
    out.row_s = usual_interval(rows);
    const double step_s = std::max(least_step_s, out.row_s);
    Step step;
    double step_start = 0;
    const auto close_step = [&] {
        if (!step.empty()) {
            out.samples.push_back(step.take());
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
        if (step.empty()) {
            step_start = row.t;
        }
        step.add(row, values);
    }
    close_session();
    for (const LogSession& session : out.sessions) {
        drop_spikes(log, out, session, damages);
    }
    out.damaged = damages.take();
    return out;
}

SteadyBy steady_by(const CleanLog& log, const HoldOptions& options) {
    const auto has = [&](double LogSample::*member) {
        return std::any_of(log.samples.begin(), log.samples.end(),
                           [&](const LogSample& s) { return !std::isnan(s.*member); });
    };
    if (!options.by_current && has(&LogSample::throttle_pct)) {
        return SteadyBy::throttle;
    }
    return has(&LogSample::current_A) ? SteadyBy::current : SteadyBy::nothing;
}

std::vector<LoggedHold> find_holds(const CleanLog& log, const HoldOptions& options) {
    std::vector<LoggedHold> holds;
    const SteadyBy by = steady_by(log, options);
    if (by == SteadyBy::nothing) {
        return holds;
    }
    const double gap_s = std::max(3.0, 5 * log.row_s);
    for (size_t session = 0; session < log.sessions.size(); ++session) {
        SteadyRun run;
        const auto close = [&] {
            find_in_run(log, session, run, by, options, holds);
            run = {};
        };
        for (size_t i = log.sessions[session].first; i < log.sessions[session].last; ++i) {
            const double value = quantity(log.samples[i], by);
            if (std::isnan(value)) {
                continue;
            }
            if (!run.index.empty() &&
                log.samples[i].begin_s - log.samples[run.index.back()].end_s > gap_s) {
                close();
            }
            run.index.push_back(i);
            run.value.push_back(value);
        }
        close();
    }
    // A hold with neither current nor temperature teaches nothing.
    std::erase_if(holds, [](const LoggedHold& h) { return !h.row.pack_A && h.row.trace.empty(); });
    if (holds.size() > options.most_holds) {
        // The length that as many as are wanted reach; of those that just reach it the first ones.
        std::vector<double> lengths;
        lengths.reserve(holds.size());
        for (const LoggedHold& hold : holds) {
            lengths.push_back(-*hold.row.hold_s);
        }
        const auto last = lengths.begin() + static_cast<std::ptrdiff_t>(options.most_holds) - 1;
        std::nth_element(lengths.begin(), last, lengths.end());
        const double least_s = -*last;
        auto longer = std::count_if(lengths.begin(), lengths.end(),
                                    [&](double length) { return -length > least_s; });
        auto room = static_cast<std::ptrdiff_t>(options.most_holds) - longer;
        std::erase_if(holds, [&](const LoggedHold& h) {
            return *h.row.hold_s < least_s || (*h.row.hold_s == least_s && room-- <= 0);
        });
    }
    return holds;
}

}  // namespace hotband
