// The operating point: an outer solve for back-EMF (or duty) round the exact switching cycle.
//
// Square law:  i_m(E) = needed current at omega = Kv E       unknown E
// Rotors:      i_m(D) = needed current at the held speed      unknown D
#include "flight/operating.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "physics/constants.hpp"
#include "physics/motor.hpp"
#include "physics/propeller.hpp"
#include "physics/root.hpp"

namespace hotband {
namespace {

constexpr double tolerance_rel = 1e-11;

// Iron and friction: hysteresis and bearings are constant, eddy currents and air grow with speed.
// Static runs of 104 small motors and propellers carry about a third more current from half speed
// down than a cube of the speed, which leaves the constant part most of it.
double no_load_current(const Plant& p, double omega) {
    const double nominal = p.u.kv * p.pack.nominal_V;
    return p.u.no_load_current * (0.85 + 0.15 * omega / nominal);
}

// Back-EMF of the averaged drive  V = E + R (k E^2 + i0),  R with the running drop, which grows
// with the speed: once at four fifths of the unloaded speed, once at the one found.
double averaged_emf(const Plant& p, const BridgeInput& in, double load_scale) {
    const double kv = p.u.kv;
    const auto [volts, resistance] = averaged_bridge(p, in);
    const double k = load_scale * p.load.torque_coefficient * kv * kv * kv;
    const auto emf = [&, V = volts, R0 = resistance](double near_E) {
        const double R = R0 + running_drop(p, kv * near_E, 1, in.winding_C);
        const double a = R * k;
        const double c = V - R * p.u.no_load_current;
        return a > 0 ? (-1 + std::sqrt(std::max(0.0, 1 + 4 * a * c))) / (2 * a) : c;
    };
    return std::clamp(emf(std::clamp(emf(0.8 * volts), 0.0, in.Voc)), 0.0, in.Voc);
}

struct Solved {
    double duty = 0, E = 0;
    double current = 0;  // A, that turns the load at this speed
    bool chopping = true;
    bool found = false, saturated = false;
};

// What the bridge works against under a current: back-EMF, the drop of a turning motor, and that of
// the resistance (Ohm) which its windings have and the bridge's have not.
double against(const Plant& p, double E, double current, double winding_C, double warmer_Ohm) {
    return E + running_drop(p, p.u.kv * E, current, winding_C) + warmer_Ohm * current;
}

Solved solve_square(const Plant& p, const Bridge& bridge, const BridgeInput& in, double warmer_Ohm,
                    double load_scale) {
    const double kv = p.u.kv;
    const auto needed = [&](double E) { return needed_current(p, kv * E, load_scale); };
    const auto against_at = [&](double E, double current) {
        return against(p, E, current, in.winding_C, warmer_Ohm);
    };
    const auto against_load = [&](double E) { return against_at(E, needed(E)); };
    const double small_E = 1e-6 * in.Voc;
    double E = averaged_emf(p, in, load_scale);
    double slope = -1 / averaged_bridge(p, in).resistance;
    // While the current flows all the time its line over back-EMF crosses the load's curve at the
    // exact point, and no further cycle is needed.
    const std::optional<CurrentLine> line = bridge.current_line(in.Voc);
    if (line && line->slope < 0) {
        const auto lack_on_line = [&](double e) {
            const double current = needed(e);
            return line->at(against_at(e, current)) - current;
        };
        const double at_guess = lack_on_line(E);
        slope = (lack_on_line(E + small_E) - at_guess) / small_E;
        const bool stands = E <= 0 && at_guess <= 0;  // too little even to begin to turn
        const Root crossing =
            stands ? Root{0, true}
                   : falling_root(lack_on_line, 0, in.Voc, E, slope, 0.01 * tolerance_rel * in.Voc);
        if (crossing.found && line->holds(against_load(crossing.x))) {
            return {in.duty, crossing.x, needed(crossing.x), in.chopping, true, false};
        }
        E = crossing.found ? crossing.x : E;
    }
    const auto lack = [&](double e) {
        return bridge.motor_current(in.Voc, against_load(e)) - needed(e);
    };
    const Root root = falling_root(lack, 0, in.Voc, E, slope, tolerance_rel * in.Voc);
    return {in.duty, root.x, needed(root.x), in.chopping, root.found, false};
}

// Shaft power and speed that a rotor asks for.
struct RotorDemand {
    double omega, torque, current;
};

RotorDemand rotor_demand(const Plant& p, double power_share) {
    const LoadPlant& l = p.load;
    const double omega = l.law == LoadLaw::constant_speed
                             ? l.hover_speed
                             : l.hover_speed * std::cbrt(std::max(power_share, 0.0));
    const double torque = l.hover_power * power_share / omega;
    return {omega, torque, torque * p.u.kv + no_load_current(p, omega)};
}

Solved solve_rotor(const Plant& p, BridgeInput in, double power_share, AveragesOff& off) {
    if (!(power_share > 0)) {
        return {0, 0, 0, true, true, false};
    }
    const RotorDemand rotor = rotor_demand(p, power_share);
    const double E = rotor.omega / p.u.kv;
    in.E = E + running_drop(p, rotor.omega, rotor.current, in.winding_C);
    const auto lack = [&](double duty) {
        in.duty = duty;
        return rotor.current - Bridge(p, in).motor_current(in.Voc, in.E);
    };
    constexpr double most_duty = 0.999;
    constexpr double near_full = 0.95;  // averages are nearer to the duty than this is to full
    const AveragedDuty guess = averaged_duty(p, in, rotor.current);
    const auto held = [&] {
        // The pack's share of the resistance bends the current over the duty; a current that stops
        // in between, more.
        constexpr double bend = 50;
        constexpr double duty_tolerance = 1e-8;
        const Root root = falling_root(lack, 0, most_duty, guess.duty * off.duty,
                                       -guess.slope * off.slope, duty_tolerance, bend);
        off = root.found ? AveragesOff{root.x / guess.duty, root.slope / -guess.slope}
                         : AveragesOff{};
        return root;
    };
    Root root;
    if (guess.duty < near_full) {
        root = held();
    }
    if ((!root.found || root.x > near_full) && lack(most_duty) > 0) {
        // Full duty cannot hold the speed: the rotor slows with its pitch as set, torque ~ speed
        // squared.
        Plant slow = p;
        slow.load.torque_coefficient = rotor.torque / (rotor.omega * rotor.omega);
        in.duty = 1;
        in.chopping = false;
        Solved out = solve_square(slow, Bridge(slow, in), in, 0, 1);
        out.saturated = true;
        return out;
    }
    if (!root.found) {
        root = held();
    }
    return {root.x, E, rotor.current, true, root.found, false};
}

// Factor on the ESC's heat for what the model may be wrong about at a duty.
double heat_error(const Plant& p, double duty) {
    const std::array<double, heat_error_duties.size()> factors = {
        p.u.heat_30, p.u.heat_45, p.u.heat_60, p.u.heat_75, p.u.heat_88, p.u.heat_100};
    size_t i = 0;
    while (i + 2 < factors.size() && duty > heat_error_duties[i + 1]) {
        ++i;
    }
    const double from = heat_error_duties[i];
    const double share = std::clamp((duty - from) / (heat_error_duties[i + 1] - from), 0.0, 1.0);
    return (1 - share) * factors[i] + share * factors[i + 1];
}

// Everything known of the point once duty and back-EMF are.
Operating point_of(const Plant& p, const Demand& d, const Bridge& bridge, BridgeInput in,
                   double warmer_Ohm, const Solved& solved, bool extrema) {
    in.duty = solved.duty;
    in.chopping = solved.chopping;
    const double omega = p.u.kv * solved.E;
    in.E = against(p, solved.E, solved.current, in.winding_C, warmer_Ohm);
    const Cycle c = bridge.solve(in.Voc, in.E, extrema);
    Operating o;
    o.duty = solved.duty;
    o.chopping = solved.chopping;
    o.saturated = solved.saturated;
    o.omega = omega;
    const double torque = (c.i_m_avg - no_load_current(p, o.omega)) / p.u.kv;
    o.shaft_W = std::max(0.0, torque * o.omega);
    // A link that rings below nothing would turn a standing motor back: the switches' diodes, which
    // hold it up, are not in the cycle.
    o.i_motor = std::max(0.0, c.i_m_avg);
    o.v_link = c.v_link_avg;
    const double ripple2 = std::max(0.0, c.i_m_rms * c.i_m_rms - c.i_m_avg * c.i_m_avg);
    const double R_windings = p.u.motor_resistance * copper_factor(in.winding_C);
    const double R_bridge = R_windings - warmer_Ohm;
    const double ripple_copper = p.u.ac_resistance * R_windings * ripple2;
    o.motor_ripple_W = ripple_copper * (1 + p.u.iron_ripple);
    o.losses = bridge_losses(p, in, c, o.omega);
    // What the cycle's ideal switches and DC motor resistance leave out is drawn from the link on
    // top.
    const Losses& l = o.losses;
    const double beyond_cycle = o.motor_ripple_W - R_bridge * ripple2 + l.switching + l.charge +
                                l.dead_time + l.commutation + c.P_on_top;
    o.i_pack = c.i_src_avg + supply_current(p, c.v_link_avg) + beyond_cycle / c.v_link_avg;
    o.motor_W = in.E * c.i_m_avg + R_bridge * c.i_m_avg * c.i_m_avg + o.motor_ripple_W;
    o.winding_W = std::max(0.0, o.motor_W - o.shaft_W);
    // However wrong the model is, the ESC makes no heat of what it passes on to the shaft.
    const double lost = o.losses.total();
    const double most = lost > 0 ? (o.v_link * o.i_pack - o.shaft_W) / lost : 1;
    o.losses =
        times(o.losses, std::min(heat_error(p, in.chopping ? in.duty : 1), std::max(1.0, most)));
    o.air_speed = air_speed_at_esc(p, o.shaft_W, d.speed_mps.value_or(p.flight_speed));
    o.cycle = c;
    o.ok = solved.found && c.ok;
    return o;
}

BridgeInput input_of(const Plant& p, const Demand& d, const Source& s) {
    BridgeInput in{.Voc = s.Voc,
                   .R_src = s.R_src,
                   .junction_C = s.junction_C,
                   .board_C = s.board_C,
                   .winding_C = s.winding_C};
    if (p.load.law == LoadLaw::square) {
        in.chopping = d.duty ? *d.duty < 1 : d.throttle < p.full_on;
        in.duty = in.chopping ? d.duty.value_or(p.load.duty_of_throttle.at(d.throttle)) : 1.0;
    }
    return in;
}

}  // namespace

double needed_current(const Plant& p, double omega, double load_scale) {
    return load_scale * p.load.torque_coefficient * omega * omega * p.u.kv +
           no_load_current(p, omega);
}

double running_drop(const Plant& p, double omega, double current, double winding_C) {
    return p.u.motor_resistance * copper_factor(winding_C) * p.u.running_loss *
           running_loss_growth(electrical_frequency(omega, p.poles)) * current;
}

double air_speed_at_esc(const Plant& p, double shaft_W, double speed_mps) {
    if (p.load.disc_area <= 0) {
        // A rotor of untold diameter: the usual downwash in hover, with the cube root of power.
        constexpr double usual_downwash = 4.5;  // m/s at 35-60 N/m2 of disc, common practice
        const double share = p.load.hover_power > 0 ? shaft_W / p.load.hover_power : 0;
        return p.air_factor * p.u.wash_share *
               (speed_mps + p.load.wake_factor * usual_downwash * std::cbrt(std::max(0.0, share)));
    }
    const double induced = induced_velocity(shaft_W * p.load.figure_of_merit, p.load.disc_area,
                                            p.air_density, speed_mps);
    return p.air_factor * p.u.wash_share * (speed_mps + p.load.wake_factor * induced);
}

Source source_at(const Plant& p, double charge, double pack_C, double junction_C, double board_C) {
    const PackPlant& k = p.pack;
    const double cell = p.u.cell_resistance * cell_resistance_factor(pack_C, charge);
    return {k.series * k.cells->open_circuit_V.at(charge),
            k.series * cell / k.parallel * k.share + k.lead_resistance, junction_C, board_C,
            p.air.celsius + usual_winding_rise_K};
}

double cells_resistance(const Plant& p, const Source& source) {
    return source.R_src - p.pack.lead_resistance;
}

double pack_after(const Plant& p, const Source& source, double pack_C, double i_pack,
                  double seconds) {
    const PackPlant& k = p.pack;
    const double heat_W = cells_resistance(p, source) * k.share * i_pack * i_pack;
    const double settled_C = p.air.celsius + heat_W / k.cooling;
    const double fade = std::exp(-seconds * k.cooling / k.heat_capacity);
    return std::min(settled_C + (pack_C - settled_C) * fade, lost_pack_C);
}

std::vector<Operating> operate_at(const Plant& p, const Demand& d, const Source& s,
                                  std::span<const Met> met, AveragesOff& off, bool extrema) {
    std::vector<Operating> points;
    BridgeInput in = input_of(p, d, s);
    if (p.load.law == LoadLaw::square) {
        const Bridge bridge(p, in);
        for (const Met& m : met) {
            in.Voc = m.Voc;
            in.winding_C = m.winding_C;
            const double warmer_Ohm =
                p.u.motor_resistance * (copper_factor(m.winding_C) - copper_factor(s.winding_C));
            const bool warmer = std::abs(warmer_Ohm) > 0;
            // A current that stops is more than its mean while it flows, a motor that stands draws
            // less than what would turn it.
            const bool stopped = warmer && !points.empty() && !points.back().cycle.continuous;
            const Solved solved =
                stopped ? Solved{} : solve_square(p, bridge, in, warmer_Ohm, d.load_scale);
            if (warmer && !(solved.E > 0)) {
                Source own = s;
                own.Voc = m.Voc;
                own.winding_C = m.winding_C;
                points.push_back(operate(p, d, own, extrema));
            } else {
                points.push_back(point_of(p, d, bridge, in, warmer_Ohm, solved, extrema));
            }
        }
        return points;
    }
    for (const Met& m : met) {
        in.Voc = m.Voc;
        in.winding_C = m.winding_C;
        const Solved solved = solve_rotor(p, in, d.throttle * d.load_scale, off);
        BridgeInput there = in;
        there.duty = solved.duty;
        there.chopping = solved.chopping;
        points.push_back(point_of(p, d, Bridge(p, there), there, 0, solved, extrema));
    }
    return points;
}

double capacitor_growth(const Plant& p, const Demand& d, const Source& s, const Operating& found,
                        double board_C) {
    BridgeInput in = input_of(p, d, s);
    in.duty = found.duty;
    in.chopping = found.chopping;
    in.E = against(p, found.omega / p.u.kv, found.i_motor, in.winding_C, 0);
    const double before = bridge_losses(p, in, found.cycle, found.omega).capacitor;
    in.board_C = board_C;
    const Cycle there = Bridge(p, in).solve(in.Voc, in.E);
    return bridge_losses(p, in, there, found.omega).capacitor / before;
}

double averaged_pack_current(const Plant& p, const Demand& d, const Source& s) {
    BridgeInput in = input_of(p, d, s);
    double current = 0;
    if (p.load.law == LoadLaw::square) {
        current = needed_current(p, p.u.kv * averaged_emf(p, in, d.load_scale), d.load_scale);
    } else if (const double power = d.throttle * d.load_scale; power > 0) {
        const RotorDemand rotor = rotor_demand(p, power);
        in.E = rotor.omega / p.u.kv + running_drop(p, rotor.omega, rotor.current, in.winding_C);
        in.duty = std::min(1.0, averaged_duty(p, in, rotor.current).duty);
        current = rotor.current;
    }
    return in.duty * current + supply_current(p, s.Voc);
}

Operating operate(const Plant& p, const Demand& d, const Source& s, bool extrema) {
    AveragesOff off;
    const Met met = {s.Voc, s.winding_C};
    return operate_at(p, d, s, {&met, 1}, off, extrema).front();
}

}  // namespace hotband
