// The march along a log; see history.hpp.
#include "learn/history.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <memory>
#include <optional>
#include <tuple>
#include <utility>

#include "flight/load_fit.hpp"
#include "physics/root.hpp"

namespace hotband {
namespace {

constexpr double current_step = 0.04;   // of the current, in its logarithm
constexpr double throttle_step = 0.02;  // of full throttle
constexpr double charge_step = 0.2;
constexpr double least_throttle = 0.03;  // below the motor stands
constexpr double least_current_A = 0.3;  // of one motor, above what the electronics draw
constexpr double empty_charge = 0.01;
constexpr size_t most_flown = 20000;  // of a march: longer logs are flown in longer steps

// A sample as the march takes it.
struct Ask {
    double begin = 0, end = 0;  // s
    std::optional<double> throttle, pack_A, voltage, esc_C;
};

std::optional<double> if_told(double value) {
    return std::isnan(value) ? std::optional<double>{} : value;
}

bool has_demand(const Ask& a) { return a.throttle || a.pack_A; }

// What a demand is filed under: off, full on or chopping, and the steps of current or throttle and
// of charge.
using Key = std::tuple<int, long, long>;
enum FiledUnder { off, by_throttle, chopping, full_on };

// Demand maps made when first asked for.
class Maps {
 public:
    explicit Maps(const Plant& p) : plant_(p) {
        const Operating idle =
            operate(p, {.throttle = 0.05}, source_at(p, 0.5, p.pack.start_C, 25, 25));
        const double series = p.pack.series;
        for (const double charge : {0.0, 0.5, 1.0}) {
            const double V = series * p.pack.cells->open_circuit_V.at(charge);
            off_.nodes.push_back({.v_link = V,
                                  .i_pack = supply_current(p, V),
                                  .board_W = idle.losses.supply,
                                  .air_speed = air_speed_at_esc(p, 0, p.flight_speed)});
        }
        off_.flight_speed = p.flight_speed;
        off_.ok = true;
        off_.warming.resize(off_.nodes.size());
        off_.bending.resize(off_.nodes.size());
        off_current_ = supply_current(p, off_.nodes[1].v_link) + least_current_A;
    }

    bool is_off(const Ask& a) const {
        return a.pack_A ? *a.pack_A <= off_current_ * plant_.pack.share
                        : a.throttle.value_or(0) < least_throttle;
    }

    const DemandMap* find(const Ask& a, double charge) {
        if (is_off(a)) {
            return &off_;
        }
        const Key key = key_of(a, charge);
        auto& map = maps_[key];
        if (!map) {
            map = std::make_unique<DemandMap>(map_demand(plant_, demand_of(key)));
        }
        return map.get();
    }

 private:
    Key key_of(const Ask& a, double charge) const {
        if (!a.pack_A) {
            return {by_throttle, std::lround(*a.throttle / throttle_step), 0};
        }
        const bool full =
            plant_.load.law == LoadLaw::square && a.throttle && *a.throttle >= plant_.full_on;
        return {full ? full_on : chopping, std::lround(std::log(*a.pack_A) / current_step),
                std::lround(charge / charge_step)};
    }

    Demand demand_of(const Key& key) const {
        const auto& [kind, step, charge_steps] = key;
        if (kind == by_throttle) {
            return {.throttle = std::min(1.0, throttle_step * static_cast<double>(step))};
        }
        const double pack_A = std::exp(current_step * static_cast<double>(step));
        const double charge =
            std::clamp(charge_step * static_cast<double>(charge_steps), 0.05, 1.0);
        const bool square = plant_.load.law == LoadLaw::square;
        if (kind == full_on || !square) {
            return demand_for_current(plant_, 1, pack_A, charge);
        }
        Demand d = demand_for_current(plant_, 0.5, pack_A, charge);
        if (*d.duty >= plant_.load.duty_of_throttle.at(plant_.full_on)) {
            return demand_for_current(plant_, 1, pack_A, charge);
        }
        d.throttle = *d.duty;
        return d;
    }

    const Plant& plant_;
    DemandMap off_;
    double off_current_ = 0;  // A of one motor
    std::map<Key, std::unique_ptr<DemandMap>> maps_;
};

// Samples joined where there are more than a march needs; the middle one stands for its group.
std::vector<Ask> asks_of(const Plant& p, const CleanLog& log, const LogSession& session,
                         size_t group) {
    std::vector<Ask> asks;
    for (size_t i = session.first; i < session.last; i += group) {
        const size_t last = std::min(session.last, i + group) - 1;
        const LogSample& s = log.samples[i + (last - i) / 2];
        Ask a{log.samples[i].begin_s, log.samples[last].end_s, if_told(s.throttle_pct),
              if_told(s.current_A),   if_told(s.voltage_V),    if_told(s.esc_C)};
        if (p.load.law != LoadLaw::square) {
            a.throttle.reset();
        } else if (a.throttle) {
            *a.throttle /= 100;
        }
        asks.push_back(a);
    }
    return asks;
}

// The charge that the cells' voltage shows while nothing turns.
std::optional<double> rest_charge(const Plant& p, const Ask& a) {
    if (!a.voltage) {
        return {};
    }
    const double cell_V = *a.voltage / p.pack.series;
    const MonotoneCurve& table = p.pack.cells->open_circuit_V;
    constexpr double slack_V = 0.05;  // of one cell: meters differ
    if (cell_V < table.y.front() || cell_V > table.y.back() + slack_V) {
        return {};
    }
    const auto lack = [&](double charge) { return cell_V - table.at(charge); };
    return falling_root(lack, 0, 1, 0.5, -1, 1e-6).x;
}

struct Charge {
    double now = 1;
    double pack_C = 25;
};

class Comparison {
 public:
    Comparison(Plant p, const HistoryOptions& options)
        : plant_(std::move(p)), options_(options), maps_(plant_) {
        // A log is flown to its end, as a bench run is.
        plant_.pack.reserve = empty_charge;
        plant_.pack.sag_floor_V = 0;
    }

    void fly_session(size_t session, const std::vector<Ask>& asks) {
        Charge charge{plant_.pack.start, plant_.pack.start_C};
        if (!asks.empty() && has_demand(asks.front()) && maps_.is_off(asks.front())) {
            charge.now = rest_charge(plant_, asks.front()).value_or(charge.now);
        }
        size_t first = 0;
        while (first < asks.size() && charge.now > 2 * empty_charge) {
            size_t last = first;
            while (last + 1 < asks.size() &&
                   asks[last + 1].begin - asks[last].end <= options_.gap_s) {
                ++last;
            }
            fly_stretch(session, asks, first, last, charge);
            first = last + 1;
        }
        if (first < asks.size() && out_.end == HistoryEnd::whole) {
            out_.end = HistoryEnd::empty;
        }
    }

    History take() {
        if (out_.samples > 0) {
            const auto n = static_cast<double>(out_.samples);
            out_.rms_K = std::sqrt(squares_ / n);
            out_.mean_K = sum_ / n;
        }
        out_.series = thinned();
        return std::move(out_);
    }

 private:
    // One stretch without a gap, from the first sample that has both a demand and a temperature.
    void fly_stretch(size_t session, const std::vector<Ask>& asks, size_t first, size_t last,
                     Charge& charge) {
        while (first <= last && (!asks[first].esc_C || !has_demand(asks[first]))) {
            ++first;
        }
        if (first > last || asks[last].end - asks[first].begin < options_.least_s) {
            return;
        }
        std::vector<Leg> legs;
        double level = charge.now;  // of charge, by the currents so far
        const double start = asks[first].begin;
        Ask demand = asks[first];
        for (size_t i = first; i <= last; ++i) {
            if (has_demand(asks[i])) {
                demand = asks[i];  // where neither was logged the last one goes on
            }
            out_.by_current = out_.by_current || demand.pack_A.has_value();
            const double until = i < last ? asks[i + 1].begin : asks[i].end;
            const double seconds = until - asks[i].begin;
            const DemandMap* map = maps_.find(demand, level);
            level = std::max(0.0, level - demand.pack_A.value_or(0) * seconds / plant_.pack.charge);
            if (!map->ok) {
                out_.end = HistoryEnd::unsolved;
                break;
            }
            if (seconds <= 0) {
                continue;
            }
            if (!legs.empty() && legs.back().map == map) {
                legs.back().seconds += seconds;
            } else {
                legs.push_back({map, seconds, nullptr});
            }
        }
        if (legs.empty()) {
            return;
        }
        double total = 0;
        for (const Leg& leg : legs) {
            total += leg.seconds;
        }
        const double start_C = start_temperature(asks, first, last);
        const March flown = march(plant_, legs, {start_C, charge.now, charge.pack_C}, total);
        compare(session, asks, first, last, start, flown);
        charge.now = flown.moments.back().charge;
        charge.pack_C = flown.moments.back().pack_C;
        if (flown.ended_by == EndedBy::runaway) {
            out_.end = HistoryEnd::runaway;
        } else if (flown.ended_by != EndedBy::time && out_.end == HistoryEnd::whole) {
            out_.end = HistoryEnd::empty;
        }
    }

    static double start_temperature(const std::vector<Ask>& asks, size_t first, size_t last) {
        constexpr double over_s = 2;
        std::vector<double> read;
        for (size_t i = first; i <= last && asks[i].begin - asks[first].begin <= over_s; ++i) {
            if (asks[i].esc_C) {
                read.push_back(*asks[i].esc_C);
            }
        }
        const auto middle = read.begin() + static_cast<std::ptrdiff_t>(read.size() / 2);
        std::nth_element(read.begin(), middle, read.end());
        return *middle;
    }

    void compare(size_t session, const std::vector<Ask>& asks, size_t first, size_t last,
                 double start, const March& flown) {
        for (size_t i = first; i <= last; ++i) {
            const double t = 0.5 * (asks[i].begin + asks[i].end);
            if (!asks[i].esc_C) {
                continue;
            }
            if (t - start > flown.seconds) {
                break;
            }
            const double predicted = heat_at(flown, t - start).board;
            const double off = predicted - *asks[i].esc_C;
            ++out_.samples;
            sum_ += off;
            squares_ += off * off;
            if (std::abs(off) > std::abs(out_.worst_K)) {
                out_.worst_K = off;
                out_.worst_t_s = t;
                out_.worst_session = session;
            }
            all_.push_back({session, t, *asks[i].esc_C, predicted});
        }
        out_.seconds += std::min(flown.seconds, asks[last].end - start);
    }

    // Means over equal numbers of points, never across sessions.
    std::vector<HistoryPoint> thinned() const {
        std::vector<HistoryPoint> out;
        std::map<size_t, size_t> counts;
        for (const HistoryPoint& p : all_) {
            ++counts[p.session];
        }
        const size_t room =
            options_.most_points - std::min(options_.most_points - 1, counts.size());
        const size_t group = std::max<size_t>(1, (all_.size() + room - 1) / room);
        for (size_t i = 0; i < all_.size() && out.size() < options_.most_points;) {
            HistoryPoint mean{all_[i].session, 0, 0, 0};
            double n = 0;
            for (; i < all_.size() && all_[i].session == mean.session &&
                   n < static_cast<double>(group);
                 ++i) {
                mean.t_s += all_[i].t_s;
                mean.logged_C += all_[i].logged_C;
                mean.predicted_C += all_[i].predicted_C;
                ++n;
            }
            mean.t_s /= n;
            mean.logged_C /= n;
            mean.predicted_C /= n;
            out.push_back(mean);
        }
        return out;
    }

    Plant plant_;
    HistoryOptions options_;
    Maps maps_;
    History out_;
    double sum_ = 0, squares_ = 0;
    std::vector<HistoryPoint> all_;
};

}  // namespace

History check_history(const Plant& plant, const CleanLog& log, const HistoryOptions& options) {
    Comparison comparison(plant, options);
    const size_t group = log.samples.size() / most_flown + 1;
    for (size_t session = 0; session < log.sessions.size(); ++session) {
        comparison.fly_session(session, asks_of(plant, log, log.sessions[session], group));
    }
    return comparison.take();
}

double throttle_for_current(const Plant& p, double pack_A, double charge) {
    const Source source = source_at(p, charge, p.pack.start_C, 50, 50);
    const double wanted = pack_A * p.u.current_scale / p.pack.share;
    const double most = p.load.law == LoadLaw::square ? p.full_on - 1e-3 : 2.5;
    const auto lack = [&](double throttle) {
        return wanted - operate(p, {.throttle = throttle}, source).i_pack;
    };
    constexpr double least = 0.01;
    if (lack(most) > 0) {
        return p.load.law == LoadLaw::square ? 1 : most;
    }
    constexpr double close = 1e-4;
    return falling_root(lack, least, most, 0.5, -2 * wanted, close).x;
}

}  // namespace hotband
