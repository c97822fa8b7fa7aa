// Holds found in runs of samples; see steady_holds.hpp.
#include "learn/steady_holds.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "learn/robust.hpp"

namespace hotband {
namespace {

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
