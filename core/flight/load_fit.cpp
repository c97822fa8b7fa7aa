// Load coefficient and duty map from told currents; see load_fit.hpp.
#include "flight/load_fit.hpp"

#include <algorithm>
#include <cmath>

#include "flight/esc_heat.hpp"
#include "physics/constants.hpp"
#include "physics/motor.hpp"
#include "physics/propeller.hpp"
#include "physics/root.hpp"

namespace hotband {
namespace {

constexpr double fit_temperature_C = 50;  // of the ESC while the pilot read the ammeter
// Of what a secant leaves, relative; of a first value, from which a better one is sought, more.
constexpr double step_tolerance = 1e-9;
constexpr double first_tolerance = 1e-6;
constexpr double least_duty = 0.01;  // below it a current tells nothing of the load

// One told current: throttle 0..1, A of one ESC, and the pack from which it was drawn.
struct Point {
    double throttle, current;
    Source source;
    bool held = false;  // over a hold, not read at a glance
    std::optional<double> seconds = {};
    OtherRig rig = {};
};

Source fit_source(const Plant& p, double charge, double pack_C) {
    return source_at(p, charge, pack_C, fit_temperature_C, fit_temperature_C);
}

// The plant as it was then, but for its load.
Plant all_but_load(Plant p, const OtherRig& rig) {
    if (rig.freewheel) {
        p.freewheel = *rig.freewheel == Freewheel::unknown ? p.freewheel_then : *rig.freewheel;
    }
    p.bec_kind = rig.bec_kind.value_or(p.bec_kind);
    if (rig.cooling || rig.sun) {
        mount(p, rig.cooling.value_or(p.cooling), rig.sun.value_or(p.sun));
    }
    if (rig.cells) {
        const double ratio = *rig.cells / p.pack.series;
        p.pack.series = *rig.cells;
        p.pack.nominal_V *= ratio;
        p.pack.heat_capacity *= ratio;
        p.pack.cooling *= ratio;
    }
    if (rig.kv_rpm_per_V) {
        p.u.kv *= *rig.kv_rpm_per_V * pi / 30 / p.told_kv;
    }
    return p;
}

std::vector<Point> told_points(const Setup& s, const Plant& p) {
    std::vector<Point> points;
    const double scale = p.u.current_scale / s.motor.count;
    for (const ThrottlePoint& t : s.load.points) {
        points.push_back(
            {t.throttle_pct / 100, t.pack_A * scale, fit_source(p, p.pack.start, p.pack.start_C)});
    }
    for (const MeasuredRow& r : s.measured) {
        if (tells_current(r)) {
            const OtherRig rig = rig_of(r);
            const Source source = rig == OtherRig{}
                                      ? mean_source(p, *r.pack_A, r.hold_s)
                                      : mean_source(all_but_load(p, rig), *r.pack_A, r.hold_s);
            points.push_back(
                {r.throttle_pct / 100, *r.pack_A * scale, source, true, r.hold_s, rig});
        }
    }
    return points;
}

double pack_current(const Plant& p, const Demand& d, const Source& s) {
    return operate(p, d, s).i_pack;
}

// Where to look for what draws a current: on a logarithm, as currents go with powers.
struct Search {
    double low, high;
    double guess, slope;  // roughly, of the current's fall below the wanted one
    double tolerance = step_tolerance;
};

// A value whose logarithm averages put at `averaged`; how far that was off helps beside it.
struct Found {
    double value, averaged;

    double off() const { return std::log(value) - averaged; }
};

// The value at which a demand draws `wanted` (A). `current` gives what it draws at a logarithm,
// asked with how to work that out: by averages first, for they cost little and say where to begin
// and how steep it is there. `off`: by how much averages are off.
template <class Current>
Found value_for(double wanted, const Search& at, Current&& current, double off = 0) {
    const auto lack = [&](auto* how) {
        return [&, how](double x) { return std::log(wanted / current(x, how)); };
    };
    const auto averaged = lack(averaged_pack_current);
    constexpr double near_enough = 1e-6;
    constexpr double apart = 1e-2;
    constexpr double bend = 2;  // on logarithms currents are nearly straight
    const double about =
        falling_root(averaged, at.low, at.high, at.guess, at.slope, near_enough, bend).x;
    const double slope = (averaged(about + apart) - averaged(about)) / apart;
    const bool falls = slope < 0.1 * at.slope;
    const Root root = falling_root(lack(pack_current), at.low, at.high, about + off,
                                   falls ? slope : at.slope, at.tolerance, bend);
    // Beyond an end is at it: currents that cannot be drawn have all the same value.
    constexpr double at_an_end = 1e-4;
    const double x = root.x - at.low < at_an_end    ? at.low
                     : at.high - root.x < at_an_end ? at.high
                                                    : root.x;
    return {std::exp(x), about};
}

// Coefficient that draws `current` at `throttle`.
double coefficient_for(Plant p, const Point& told) {
    const double throttle = told.throttle;
    const Source& s = told.source;
    const double duty = throttle >= p.full_on ? 1 : p.load.duty_of_throttle.at(throttle);
    const double I = std::max(1e-6, told.current / duty);
    const double omega = p.u.kv * 0.8 * duty * s.Voc;
    const double k = std::max(1e-4 * I, I - p.u.no_load_current) / (p.u.kv * omega * omega);
    const double guess = std::log(k);
    return value_for(told.current, {guess - 12, guess + 12, guess, -0.8},
                     [&](double log_k, auto* how) {
                         p.load.torque_coefficient = std::exp(log_k);
                         return how(p, {.throttle = throttle}, s);
                     })
        .value;
}

// The same at full throttle from the fresh pack.
double coefficient_drawing(const Plant& p, double current) {
    return coefficient_for(p, {1, current, fit_source(p, 1, p.pack.start_C)});
}

// Duty that draws `current`, which goes about with its cube.
Found duty_for(const Plant& p, double current, const Source& s, double tolerance = step_tolerance,
               double off = 0) {
    constexpr double most_duty = 0.9999;
    return value_for(
        current, {std::log(least_duty), std::log(most_duty), std::log(0.5), -3, tolerance},
        [&](double log_duty, auto* how) {
            const double duty = std::exp(log_duty);
            return how(p, {.throttle = duty, .duty = duty}, s);
        },
        off);
}

// Mean temperature of the windings over a hold from air temperature: towards where the demand's
// heat settles them, exponentially.
double mean_winding_C(const Plant& p, const Demand& d, const Source& s,
                      std::optional<double> seconds) {
    const Operating o = operate(p, d, s);
    const double G = winding_conductance(p, o.omega);
    const double settled = std::min(lost_winding_C, p.air.celsius + o.winding_W / G);
    const double constants = seconds ? *seconds * G / p.winding.capacity : 0;
    return constants > 0 ? settled + (p.air.celsius - settled) * -std::expm1(-constants) / constants
                         : settled;
}

// Pool-adjacent-violators on duty over throttle, points at one throttle averaged, then the curve.
MonotoneCurve monotone_map(std::vector<std::array<double, 2>> knots) {
    std::sort(knots.begin(), knots.end());
    struct Block {
        double x_sum, y_sum, n;
    };
    std::vector<Block> blocks;
    for (const auto& [x, y] : knots) {
        Block b{x, y, 1};
        while (!blocks.empty() && (blocks.back().y_sum * b.n >= b.y_sum * blocks.back().n ||
                                   b.x_sum / b.n - blocks.back().x_sum / blocks.back().n < 1e-6)) {
            b = {b.x_sum + blocks.back().x_sum, b.y_sum + blocks.back().y_sum,
                 b.n + blocks.back().n};
            blocks.pop_back();
        }
        blocks.push_back(b);
    }
    std::vector<double> x{0};
    std::vector<double> y{0};
    for (const Block& b : blocks) {
        x.push_back(b.x_sum / b.n);
        y.push_back(b.y_sum / b.n);
    }
    if (x.back() < 1) {
        x.push_back(1);
        y.push_back(1);
    }
    return make_monotone(std::move(x), std::move(y));
}

MonotoneCurve power_map(double exponent) {
    std::vector<double> x;
    std::vector<double> y;
    constexpr int knots = 20;
    for (int i = 0; i <= knots; ++i) {
        x.push_back(static_cast<double>(i) / knots);
        y.push_back(std::pow(x.back(), exponent));
    }
    return make_monotone(std::move(x), std::move(y));
}

double geometric_mean(const std::vector<double>& v) {
    double sum = 0;
    for (const double x : v) {
        sum += std::log(x);
    }
    return std::exp(sum / static_cast<double>(v.size()));
}

// Windings cool so that they settle where motors of their kind do: at full throttle, rotors in
// hover.
void fit_winding(Plant& p) {
    Source warm = fit_source(p, 0.5 * (p.pack.start + p.pack.reserve), p.pack.start_C);
    warm.winding_C = p.air.celsius + p.u.winding_rise;
    const Operating o = operate(p, {.throttle = 1}, warm);
    constexpr double least_W = 0.1;  // a motor without load still cools
    p.winding.conductance = std::max(least_W, o.winding_W) / p.u.winding_rise;
    p.winding.omega = std::max(1.0, o.omega);
}

// The source of a point, its windings as warm as the demand makes them over the point's hold.
Source held_source(const Plant& p, const Point& q, const Demand& d) {
    Source warm = q.source;
    warm.winding_C = mean_winding_C(p, d, warm, q.seconds);
    return warm;
}

double duty_of_point(const Plant& p, const Point& q) {
    const Found duty = duty_for(p, q.current, q.source, q.held ? first_tolerance : step_tolerance);
    if (!q.held) {
        return duty.value;
    }
    const Source warm = held_source(p, q, {.throttle = duty.value, .duty = duty.value});
    return duty_for(p, q.current, warm, step_tolerance, duty.off()).value;
}

double coefficient_of_full_point(Plant p, const Point& q) {
    p = all_but_load(p, q.rig);
    const Point full{1, q.current, q.source};
    p.load.torque_coefficient = coefficient_for(p, full);
    if (!q.held) {
        return p.load.torque_coefficient;
    }
    fit_winding(p);
    return coefficient_for(p, {1, q.current, held_source(p, q, {.throttle = 1})});
}

void fit_square(const Setup& s, Asked asked, Plant& p) {
    p.load.duty_of_throttle = power_map(p.u.throttle_curve);
    const std::vector<Point> points = told_points(s, p);
    std::vector<double> full;
    std::vector<double> part;
    for (const Point& q : points) {
        if (q.throttle >= p.full_on && !q.rig.full_throttle_A) {
            full.push_back(coefficient_of_full_point(p, q));
        }
    }
    // Measured points count most, then the full-throttle current, then the shaft power.
    if (full.empty() && s.load.full_throttle_A) {
        full.push_back(
            coefficient_drawing(p, *s.load.full_throttle_A * p.u.current_scale / s.motor.count));
    }
    if (full.empty() && s.load.shaft_W && s.load.shaft_rpm) {
        const double omega = *s.load.shaft_rpm * pi / 30;
        full.push_back(*s.load.shaft_W / (omega * omega * omega));
    }
    if (full.empty() && load_told(s) == LoadTold::size) {
        // torque = P / omega at one radian a second
        full.push_back(
            propeller_power(p.u.size_coefficient, p.air_density, 1 / (2 * pi), p.load.diameter));
    }
    if (full.empty() && load_told(s) == LoadTold::nothing) {
        full.push_back(coefficient_drawing(p, p.u.untold_current / s.motor.count));
    }
    if (full.empty()) {
        // Only part-throttle points: the coefficient that fits them best with throttle taken as
        // duty.
        for (const Point& q : points) {
            if (!q.rig.full_throttle_A && p.load.duty_of_throttle.at(q.throttle) >= least_duty) {
                part.push_back(coefficient_for(all_but_load(p, q.rig), q));
            }
        }
        if (part.empty()) {
            part.push_back(coefficient_drawing(p, p.u.untold_current / s.motor.count));
        }
    }
    p.load.torque_coefficient = geometric_mean(full.empty() ? part : full);
    fit_winding(p);
    if (asked == Asked::currents) {
        return;
    }
    std::vector<std::array<double, 2>> knots;
    // Rows of one day follow each other: their plant is made once.
    std::pair<OtherRig, Plant> other;
    for (const Point& q : points) {
        if (q.throttle >= p.full_on) {
            continue;
        }
        if (q.rig != OtherRig{} && q.rig != other.first) {
            other = {q.rig, rigged(p, q.rig)};
        }
        const Plant& then = q.rig == OtherRig{} ? p : other.second;
        knots.push_back({q.throttle, duty_of_point(then, q)});
    }
    if (!knots.empty()) {
        p.load.duty_of_throttle = monotone_map(std::move(knots));
    }
}

// Rotor power from the hover current (A, one motor): the shaft power whose duty draws it at mid
// pack.
void fit_hover_current(Plant& p, double wanted) {
    const Source middle = fit_source(p, 0.5 * (p.pack.start + p.pack.reserve), p.pack.start_C);
    const double guess = std::log(0.8 * wanted * middle.Voc);
    p.load.hover_power =
        value_for(wanted, {guess - 12, guess + 4, guess, -0.9}, [&](double log_P, auto* how) {
            p.load.hover_power = std::exp(log_P);
            return how(p, {.throttle = 1}, middle);
        }).value;
}

// The same from the currents that were read at shares of that power, the one told among them. One
// that full duty does not draw, as meters err, is taken as what the motor's usual efficiency makes
// of it.
void fit_hover_points(const Setup& s, Plant& p) {
    std::vector<double> powers;
    if (s.load.hover_A) {
        fit_hover_current(p, *s.load.hover_A * p.u.current_scale / s.motor.count);
        powers.push_back(p.load.hover_power);
    }
    for (const Point& q : told_points(s, p)) {
        if (q.rig.full_throttle_A || q.throttle <= 0) {
            continue;
        }
        Plant then = all_but_load(p, q.rig);
        const double guess = std::log(0.8 * q.current * q.source.Voc / q.throttle);
        const auto drawn = [&](double log_P, auto* how) {
            then.load.hover_power = std::exp(log_P);
            return how(then, {.throttle = q.throttle}, q.source);
        };
        const double power = value_for(q.current, {guess - 2, guess + 2, guess, -0.9}, drawn).value;
        constexpr double drawn_well = 0.02;
        const double off = drawn(std::log(power), pack_current) / q.current - 1;
        powers.push_back(std::abs(off) < drawn_well ? power : std::exp(guess));
    }
    p.load.hover_power = geometric_mean(powers);
}

}  // namespace

Plant fitted_plant(const Setup& s, std::span<const Prior> priors, std::span<const double> z,
                   Asked asked) {
    Plant p = make_plant(s, priors, z);
    if (p.load.law == LoadLaw::square) {
        fit_square(s, asked, p);
    } else if (load_told(s) == LoadTold::points) {
        fit_hover_points(s, p);
    } else if (s.load.hover_A) {
        fit_hover_current(p, *s.load.hover_A * p.u.current_scale / s.motor.count);
    } else if (load_told(s) == LoadTold::nothing) {
        fit_hover_current(p, p.u.untold_current / s.motor.count);
    }
    fit_winding(p);
    return p;
}

namespace {

// The setup's choice of what a row may have told to be other: one place behind `as_now`.
template <class Choice, class Then>
std::optional<Choice> told_then(Then then) {
    return then == Then::as_now ? std::nullopt
                                : std::optional(static_cast<Choice>(static_cast<int>(then) - 1));
}

}  // namespace

OtherRig rig_of(const MeasuredRow& row) {
    return {row.full_throttle_A,
            row.kv_rpm_per_V,
            row.cells,
            told_then<Freewheel>(row.freewheel),
            told_then<BecKind>(row.bec_kind),
            told_then<Cooling>(row.cooling),
            told_then<bool>(row.sun)};
}

bool OtherRig::operator==(const OtherRig&) const = default;

Plant rigged(Plant p, const OtherRig& rig) {
    if (rig == OtherRig{}) {
        return p;
    }
    p = all_but_load(std::move(p), rig);
    if (rig.full_throttle_A && p.load.law == LoadLaw::square) {
        p.load.torque_coefficient =
            coefficient_drawing(p, *rig.full_throttle_A * p.u.current_scale / p.pack.share);
    }
    if (rig.full_throttle_A || rig.kv_rpm_per_V || rig.cells) {
        fit_winding(p);
    }
    return p;
}

double fresh_full_throttle_A(const Plant& p) {
    const double drawn = operate(p, {.throttle = 1}, fit_source(p, 1, p.pack.start_C)).i_pack;
    return drawn * p.pack.share / p.u.current_scale;
}

double half_way_charge(const PackPlant& pack, std::optional<double> pack_A,
                       std::optional<double> seconds) {
    const double empty = 0.02;
    if (pack_A && seconds) {
        return std::max(empty, pack.start - 0.5 * *pack_A * *seconds / pack.charge);
    }
    return 0.5 * (pack.start + pack.reserve);
}

Source mean_source(const Plant& p, double pack_A, std::optional<double> seconds) {
    constexpr int steps = 8;
    const PackPlant& k = p.pack;
    const double I = pack_A * p.u.current_scale;
    const double dt = seconds.value_or((k.start - k.reserve) * k.charge / I) / steps;
    const auto warmed = [&](double pack_C, double charge, double for_s) {
        return pack_after(p, fit_source(p, charge, pack_C), pack_C, I / k.share, for_s);
    };
    double pack_C = k.start_C;
    Source mean = fit_source(p, k.start, pack_C);
    mean.Voc = mean.R_src = 0;
    for (int i = 0; i < steps; ++i) {
        const double charge = std::max(0.0, k.start - I * (i + 0.5) * dt / k.charge);
        const Source now = fit_source(p, charge, warmed(pack_C, charge, 0.5 * dt));
        mean.Voc += now.Voc / steps;
        mean.R_src += now.R_src / steps;
        pack_C = warmed(pack_C, charge, dt);
    }
    return mean;
}

namespace {

struct FoundDemand {
    Demand demand;
    double off;  // of the averages
};

FoundDemand demand_on(const Plant& p, double throttle, double pack_A, const Source& source,
                      double tolerance = step_tolerance, double off = 0) {
    const double wanted = pack_A * p.u.current_scale / p.pack.share;
    Demand d{.throttle = throttle};
    if (p.load.law == LoadLaw::square && throttle < p.full_on) {
        const Found duty = duty_for(p, wanted, source, tolerance, off);
        d.duty = duty.value;
        return {d, duty.off()};
    }
    const Found scale = value_for(
        wanted, {-6, 6, 0, -0.9, tolerance},
        [&](double log_scale, auto* how) {
            d.load_scale = std::exp(log_scale);
            return how(p, d, source);
        },
        off);
    d.load_scale = scale.value;
    return {d, scale.off()};
}

}  // namespace

Demand demand_for_current(const Plant& p, double throttle, double pack_A, const Source& source,
                          std::optional<double> seconds) {
    const auto [cold, off] = demand_on(p, throttle, pack_A, source, first_tolerance);
    Source warm = source;
    warm.winding_C = mean_winding_C(p, cold, source, seconds);
    return demand_on(p, throttle, pack_A, warm, step_tolerance, off).demand;
}

Demand demand_for_current(const Plant& p, double throttle, double pack_A, double charge) {
    return demand_on(p, throttle, pack_A, fit_source(p, charge, p.pack.start_C)).demand;
}

}  // namespace hotband
