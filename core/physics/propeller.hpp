// How much air does a propeller, fan or rotor move: momentum theory.
#pragma once

namespace hotband {

/// Induced velocity (m/s) at a disc of `area` (m2) that turns `useful_power` (W, shaft power times
/// figure of merit) into thrust times flow, at flight speed `speed` (m/s, >= 0) along its axis:
/// the root v > 0 of  P = 2 rho A v (V + v)^2  (actuator disc; T = 2 rho A v (V + v)).
double induced_velocity(double useful_power, double area, double density, double speed);

/// Power coefficient C_P = P / (rho n^3 D^5) of a standing propeller of this pitch over diameter
/// (0.3..1.0) and number of blades, dimensionless: 0.0885 (p/D)^1.233 (blades/2)^0.81, fitted to
/// half of the two-blade propellers of 4 to 20 in of the UIUC propeller data base (volumes 1 to 3),
/// off by a factor of e^0.19 in the other half; the blades' exponent from five three- and
/// four-blade ones.
double static_power_coefficient(double pitch_over_diameter, double blades);

/// Shaft power (W) that a propeller or fan of power coefficient C_P absorbs at n turns a second and
/// diameter D (m): C_P rho n^3 D^5.
double propeller_power(double power_coefficient, double density, double n, double diameter);

inline constexpr double fan_power_coefficient = 1.6;  // ducted fans, common practice, no source
inline constexpr double usual_pitch_over_diameter = 0.55;  // sport propellers, common practice

/// Figure of merit of a two-blade model rotor of a helicopter that carries `thrust` (N) on a disc
/// of `area` (m2) with its blades' tips at `tip_speed` (m/s): the ideal power over 1.15 times
/// itself and what drags the blades round, sigma C_d0/8 rho A V_tip^3 (Leishman, Principles of
/// Helicopter Aerodynamics, section 2.4, from memory). Chord 8 % of the radius and C_d0 0.012:
/// common practice, no source.
double rotor_figure_of_merit(double thrust, double area, double density, double tip_speed);

/// Share of such a rotor's hover power that drags its blades round, which goes with the cube of its
/// speed (0..1).
double rotor_profile_share(double figure_of_merit);

/// Shaft power (W) to hover: T sqrt(T / (2 rho A)) / FM, thrust in N, one rotor.
double hover_power(double thrust, double area, double density, double figure_of_merit);

}  // namespace hotband
