// One step after another until something ends it; see march.hpp.
#include "flight/march.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <utility>

#include "physics/root.hpp"

namespace hotband {
namespace {

// Charge (C/s) that leaves the whole pack while each of its ESCs draws a current. Where they draw
// nothing it empties as well: cells discharge themselves (3 % a month, common practice).
double drain_of(const Plant& p, double i_pack) {
    constexpr double self_discharge = 0.03 / (30 * 86400.0);
    return i_pack * p.pack.share + self_discharge * p.pack.charge;
}

// Where between two states, the second lost, the first node reaches the end: by straight lines.
double share_until_lost(const HeatState& from, const HeatState& to) {
    const auto share = [](double a, double b) {
        const double reached = (runaway_junction_C - a) / (b - a);
        return reached >= 0 && reached <= 1 ? reached : 1;
    };
    return is_possible(to)
               ? std::min(share(from.junction, to.junction), share(from.board, to.board))
               : 0;
}

HeatState part_of_the_way(const HeatState& from, const HeatState& to, double share) {
    const auto node = [share](double a, double b) { return share > 0 ? a + share * (b - a) : a; };
    return {node(from.junction, to.junction), node(from.board, to.board), node(from.body, to.body),
            node(from.bay, to.bay), node(from.winding, to.winding)};
}

// Whether a step along the one's lines holds for the other: beside more than this it would swing
// beyond where it settles.
bool is_like(const Outside& a, const Outside& b) {
    constexpr double most_apart = 1.5;
    const auto near = [](double x, double y) { return x <= most_apart * y && y <= most_apart * x; };
    return near(a.body, b.body) && near(a.bay, b.bay);
}

// Steps start short and grow with the leg, so that the fast rise at its start is resolved.
struct StepLength {
    double first_s, growth, share;  // share: of the whole march, at most
    double crumb;                   // steps: a rest of less than so many is one of them
};

constexpr std::array<StepLength, 3> step_lengths = {
    {{3, 0.5, 1.0 / 12, 1.2}, {8, 1.2, 1.0 / 9, 1.35}, {20, 2, 1.0 / 6, 1.5}}};

// The next step (s), `into_leg` after the leg's start, with `left` to go.
double step_length(Steps steps, double into_leg, double expected, double left) {
    const StepLength& l = step_lengths[static_cast<size_t>(steps)];
    const double wanted =
        std::min(l.first_s + l.growth * into_leg, std::max(10.0, l.share * expected));
    return left < l.crumb * wanted ? left : wanted;
}

// A moment with all that the demand draws and loses then.
struct Now {
    Moment moment;
    DemandMap::Node drawn;
    Source source;
};

// One step from where the march stands; what draws and heats is taken at the step's middle. It ends
// where the reserve is reached.
struct Stride {
    double dt;              // s
    DemandMap::Node drawn;  // at its middle
    Outside out;
    HeatStep heat;
    double charge, pack_C;  // at its end
    bool too_long;          // for the lines that its losses were taken as
};

// A march under way. `run` is the page of its stages.
class Marcher {
 public:
    Marcher(const Plant& p, const std::vector<Leg>& legs, const MarchStart& start, double most_s)
        : p_(p), legs_(legs), start_(start), most_s_(most_s) {
        out_.peak_board = out_.peak_junction = start.esc_C;
        out_.peak_winding = p.air.celsius;
    }

    March run();

 private:
    const Leg& leg() const { return legs_[leg_]; }
    const DemandMap& map() const { return *leg().map; }
    // Seconds to the reserve at what is drawn now.
    double to_reserve_s() const;
    Now now_at(double t, const HeatState& heat, double charge, double pack_C,
               std::optional<double> near_V) const;
    Stride stride_of(double dt) const;
    Stride sound_stride() const;
    Now end_of(const Stride& s) const;
    Moment half_way_to(const Stride& s, const Moment& end) const;
    bool is_under_floor(const Now& now) const {
        return !(now.moment.cell_V >= p_.pack.sag_floor_V);
    }
    bool would_stay_dip(double more_s) const { return dipped_s_ + more_s < most_dip_s; }
    bool ends_by_sag(const Now& end, double dt);

    void open_leg(const HeatState& heat, double charge, double pack_C);
    void stop_at_floor(const Stride& s, const Now& end);
    void stop_where_lost(const Stride& s, const Moment& lost);
    void take_whole(const Stride& s, const Moment& half_way, const Now& end);
    void take(const Now& next, double mean_board_C, double omega);
    void turn_to_next_leg();
    March finished();

    const Plant& p_;
    const std::vector<Leg>& legs_;
    const MarchStart& start_;
    double most_s_;

    size_t leg_ = 0;
    double into_leg_s_ = 0;
    Now now_{};
    // As the last step of the leg had them.
    Outside last_out_;
    HeatDrift last_drift_;
    double dipped_s_ = 0;        // under the sag floor so far
    double board_integral_ = 0;  // K s
    double turned_ = 0;          // rad
    std::optional<EndedBy> end_;
    March out_;
};

March Marcher::run() {
    open_leg({start_.esc_C, start_.esc_C, start_.esc_C, p_.air.celsius, p_.air.celsius},
             start_.charge, start_.pack_C);
    while (!end_ && out_.moments.size() < start_.most_moments) {
        const Stride s = sound_stride();
        const Now end = end_of(s);
        const Moment half_way = half_way_to(s, end.moment);
        if (ends_by_sag(end, s.dt)) {
            stop_at_floor(s, end);
        } else if (is_lost(s.heat.middle)) {
            stop_where_lost(s, half_way);
        } else if (is_lost(end.moment.heat)) {
            stop_where_lost(s, end.moment);
        } else {
            take_whole(s, half_way, end);
            turn_to_next_leg();
        }
    }
    return finished();
}

double Marcher::to_reserve_s() const {
    return (now_.moment.charge - p_.pack.reserve) * p_.pack.charge /
           drain_of(p_, now_.moment.i_pack);
}

Now Marcher::now_at(double t, const HeatState& heat, double charge, double pack_C,
                    std::optional<double> near_V) const {
    const Source s = source_at(p_, charge, pack_C, 0, 0);
    const double v_link = link_voltage(s, map(), heat.junction, heat.winding, near_V);
    const DemandMap::Node n = map().at(v_link, heat.junction, heat.winding);
    double i_sag = n.i_pack;
    if (leg().hardest != nullptr) {
        const DemandMap& hardest = *leg().hardest;
        const double v = link_voltage(s, hardest, heat.junction, heat.winding);
        i_sag = hardest.pack_current(v, heat.junction, heat.winding);
    }
    const double cell_V = (s.Voc - cells_resistance(p_, s) * i_sag) / p_.pack.series;
    return {{t, map().throttle, heat, charge, pack_C, cell_V, v_link, n.i_pack, n.i_motor, n.omega},
            n,
            s};
}

// A leg begins where the march stands; one that sags at once is none.
void Marcher::open_leg(const HeatState& heat, double charge, double pack_C) {
    now_ = now_at(now_.moment.t, heat, charge, pack_C, {});
    last_drift_ = {};
    last_out_ = outside_of(p_, now_.drawn.air_speed, map().flight_speed, heat);
    out_.moments.push_back(now_.moment);
    if (is_under_floor(now_) && !would_stay_dip(leg().seconds)) {
        end_ = EndedBy::sag;
    }
}

// One step of at most `dt`: charge, pack and temperatures are taken half way.
Stride Marcher::stride_of(double dt) const {
    constexpr double lost_by_far_C = runaway_junction_C + 20;
    constexpr double most_astray_K = 40;  // of the state half way from the one looked ahead to
    const Moment& m = now_.moment;
    const double drain = drain_of(p_, m.i_pack);
    const double charge_mid =
        std::max(p_.pack.reserve, m.charge - 0.5 * dt * drain / p_.pack.charge);
    const double form = map().current_form;
    const double pack_mid_C =
        0.5 * (m.pack_C + pack_after(p_, now_.source, m.pack_C, form * m.i_pack, dt));
    const Source source_mid = source_at(p_, charge_mid, pack_mid_C, 0, 0);
    const HeatFlows start = {m.heat, heating_at(p_, map(), now_.drawn, m.heat), last_out_};
    const HeatStride stride(p_, start, dt);
    HeatState middle = stride.ahead(last_drift_);
    const WindingFlow winding =
        winding_flow(p_, map(), now_.drawn, m.heat.junction, m.heat.winding);
    middle.winding = winding_after(p_, winding, winding, m.heat.winding, 0.5 * dt);
    const double v_mid = link_voltage(source_mid, map(), middle.junction, middle.winding, m.v_link);

    Stride s{dt, map().at(v_mid, middle.junction, middle.winding), {}, {}, 0, 0, false};
    const double drain_mid = drain_of(p_, s.drawn.i_pack);
    const double usable = (m.charge - p_.pack.reserve) * p_.pack.charge;
    s.dt = std::min(dt, usable / drain_mid);
    s.out = outside_of(p_, s.drawn.air_speed, map().flight_speed, middle);
    const HeatFlows half_way = {middle, heating_at(p_, map(), s.drawn, middle), s.out};
    const bool same_lines = s.dt == dt && is_like(s.out, start.out);
    s.heat = same_lines ? stride.to_end(half_way)
                        : HeatStride(p_, {start.at, start.in, s.out}, s.dt).to_end(half_way);
    s.heat.middle.winding = middle.winding;
    s.heat.end.winding = winding_after(
        p_, winding, winding_flow(p_, map(), s.drawn, middle.junction, m.heat.winding),
        m.heat.winding, s.dt);
    s.pack_C = pack_after(p_, source_mid, m.pack_C, form * s.drawn.i_pack, s.dt);
    s.charge = m.charge - s.dt * drain_mid / p_.pack.charge;
    const double astray_K = std::abs(s.heat.middle.junction - middle.junction);
    s.too_long = is_lost(middle, lost_by_far_C) || is_lost(s.heat.end, lost_by_far_C) ||
                 astray_K > most_astray_K;
    return s;
}

// The longest step that the leg, the reserve and the asked time leave, halved until its lines hold.
Stride Marcher::sound_stride() const {
    constexpr double shortest_step_s = 1e-6;
    const double t = now_.moment.t;
    const double reserve_s = to_reserve_s();
    const double left_s = std::min({leg().seconds - into_leg_s_, reserve_s, most_s_ - t});
    Stride s =
        stride_of(step_length(start_.steps, leg().settled_s + into_leg_s_, t + reserve_s, left_s));
    while (s.too_long && s.dt > shortest_step_s) {
        s = stride_of(0.5 * s.dt);
    }
    return s;
}

Now Marcher::end_of(const Stride& s) const {
    return now_at(now_.moment.t + s.dt, s.heat.end, s.charge, s.pack_C, s.drawn.v_link);
}

Moment Marcher::half_way_to(const Stride& s, const Moment& end) const {
    const Moment& m = now_.moment;
    const auto mean = [](double a, double b) { return 0.5 * (a + b); };
    return {m.t + 0.5 * s.dt,
            m.throttle,
            s.heat.middle,
            mean(m.charge, end.charge),
            mean(m.pack_C, end.pack_C),
            mean(m.cell_V, end.cell_V),
            s.drawn.v_link,
            s.drawn.i_pack,
            s.drawn.i_motor,
            s.drawn.omega};
}

// Whether the floor is passed for longer than a dip.
bool Marcher::ends_by_sag(const Now& end, double dt) {
    const bool under = is_under_floor(end);
    const bool dips = under && would_stay_dip(leg().seconds - into_leg_s_);
    dipped_s_ = dips ? dipped_s_ + dt : 0;
    out_.dips = out_.dips || dips;
    return under && !dips;
}

// The floor is passed inside the step: stop there.
void Marcher::stop_at_floor(const Stride& s, const Now& end) {
    const Moment& m = now_.moment;
    const auto at_share = [&](double share) {
        return now_at(m.t + share * s.dt, m.heat, m.charge + share * (s.charge - m.charge),
                      m.pack_C + share * (s.pack_C - m.pack_C), s.drawn.v_link);
    };
    const auto above_floor = [&](double share) {
        return at_share(share).moment.cell_V - p_.pack.sag_floor_V;
    };
    const double fall = std::max(1e-9, m.cell_V - end.moment.cell_V);
    const double guess = (m.cell_V - p_.pack.sag_floor_V) / fall;
    const double share = falling_root(above_floor, 0, 1, guess, -fall, 1e-9).x;
    Now floor = at_share(share);
    const double dt = std::max(share * s.dt, 1e-6);
    const HeatStride stride(p_, {m.heat, heating_at(p_, map(), now_.drawn, m.heat), s.out}, dt);
    const HeatState middle = stride.ahead(last_drift_);
    floor.moment.heat = stride.to_end({middle, heating_at(p_, map(), s.drawn, middle), s.out}).end;
    end_ = EndedBy::sag;
    if (is_lost(floor.moment.heat)) {
        stop_where_lost(s, floor.moment);
        return;
    }
    take(floor, 0.5 * (m.heat.board + floor.moment.heat.board), s.drawn.omega);
}

void Marcher::stop_where_lost(const Stride& s, const Moment& lost) {
    const Moment& m = now_.moment;
    const double share = share_until_lost(m.heat, lost.heat);
    Now end = now_;
    end.moment = lost;
    end.moment.heat = part_of_the_way(m.heat, lost.heat, share);
    end.moment.t = m.t + share * (lost.t - m.t);
    end_ = EndedBy::runaway;
    take(end, 0.5 * (m.heat.board + end.moment.heat.board), s.drawn.omega);
}

void Marcher::take_whole(const Stride& s, const Moment& half_way, const Now& end) {
    const double reserve_slack = 1e-9 + 1e-6 * (p_.pack.start - p_.pack.reserve);
    const double before_C = now_.moment.heat.board;
    out_.peak_board = std::max(out_.peak_board, half_way.heat.board);
    out_.peak_junction = std::max(out_.peak_junction, half_way.heat.junction);
    out_.moments.push_back(half_way);
    into_leg_s_ += s.dt;
    last_out_ = s.out;
    last_drift_ = s.heat.drift;
    take(end, (before_C + 4 * half_way.heat.board + end.moment.heat.board) / 6, s.drawn.omega);
    if (now_.moment.charge - p_.pack.reserve <= reserve_slack) {
        end_ = EndedBy::reserve;
    } else if (now_.moment.t >= most_s_ * (1 - 1e-12)) {
        end_ = EndedBy::time;
    }
}

// The march stands at `next`, after a board and a speed of this mean.
void Marcher::take(const Now& next, double mean_board_C, double omega) {
    const double dt = next.moment.t - now_.moment.t;
    board_integral_ += dt * mean_board_C;
    turned_ += dt * omega;
    now_ = next;
    const HeatState& reached = next.moment.heat;
    out_.moments.push_back(next.moment);
    out_.peak_board = std::max(out_.peak_board, reached.board);
    out_.peak_junction = std::max(out_.peak_junction, reached.junction);
    out_.peak_winding = std::max(out_.peak_winding, reached.winding);
}

void Marcher::turn_to_next_leg() {
    if (end_ || into_leg_s_ < leg().seconds * (1 - 1e-12)) {
        return;
    }
    const DemandMap* before = leg().map;
    leg_ = (leg_ + 1) % legs_.size();
    into_leg_s_ = 0;
    if (leg().map != before) {
        open_leg(now_.moment.heat, now_.moment.charge, now_.moment.pack_C);
    }
}

March Marcher::finished() {
    const Moment& last = now_.moment;
    out_.ended_by = end_.value_or(EndedBy::steps);
    out_.seconds = last.t;
    out_.charge_share = (p_.pack.start - last.charge) / (p_.pack.start - p_.pack.reserve);
    out_.mean_board = last.t > 0 ? board_integral_ / last.t : last.heat.board;
    out_.mean_omega = last.t > 0 ? turned_ / last.t : last.omega;
    return std::move(out_);
}

}  // namespace

March march(const Plant& p, const std::vector<Leg>& legs, const MarchStart& start, double most_s) {
    return Marcher(p, legs, start, most_s).run();
}

HeatState heat_at(const March& m, double t) {
    const auto next = std::lower_bound(m.moments.begin(), m.moments.end(), t,
                                       [](const Moment& a, double at) { return a.t < at; });
    if (next == m.moments.begin()) {
        return m.moments.front().heat;
    }
    if (next == m.moments.end()) {
        return m.moments.back().heat;
    }
    const Moment& before = *(next - 1);
    return part_of_the_way(before.heat, next->heat, (t - before.t) / (next->t - before.t));
}

}  // namespace hotband
