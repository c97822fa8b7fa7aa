// How much air does a propeller, fan or rotor move: momentum theory.
#pragma once

namespace hotband {

/// Induced velocity (m/s) at a disc of `area` (m2) that turns `useful_power` (W, shaft power times
/// figure of merit) into thrust times flow, at flight speed `speed` (m/s, >= 0) along its axis:
/// the root v > 0 of  P = 2 rho A v (V + v)^2  (actuator disc; T = 2 rho A v (V + v)).
double induced_velocity(double useful_power, double area, double density, double speed);

/// Shaft power (W) to hover: T sqrt(T / (2 rho A)) / FM, thrust in N, one rotor.
double hover_power(double thrust, double area, double density, double figure_of_merit);

}  // namespace hotband
