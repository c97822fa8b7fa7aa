// Actuator-disc momentum theory; see propeller.hpp.
#include "physics/propeller.hpp"

#include <algorithm>
#include <cmath>

#include "physics/constants.hpp"

namespace hotband {

double induced_velocity(double useful_power, double area, double density, double speed) {
    if (!(useful_power > 0)) {
        return 0;
    }
    const double c = useful_power / (2 * density * area);
    // v (V + v)^2 is convex and rising for v > 0 and the static root is never below the wanted one:
    // Newton from there falls monotonically.
    double v = std::cbrt(c);
    for (int i = 0; i < 60; ++i) {
        const double flow = speed + v;
        const double next = v - (v * flow * flow - c) / (flow * flow + 2 * v * flow);
        if (!(next < v)) {
            break;
        }
        v = next;
    }
    return v;
}

double static_power_coefficient(double pitch_over_diameter, double blades) {
    return 0.0885 * std::pow(pitch_over_diameter, 1.233) * std::pow(0.5 * blades, 0.81);
}

double propeller_power(double power_coefficient, double density, double n, double diameter) {
    return power_coefficient * density * n * n * n * std::pow(diameter, 5);
}

double hover_power(double thrust, double area, double density, double figure_of_merit) {
    return thrust * std::sqrt(thrust / (2 * density * area)) / figure_of_merit;
}

namespace {

constexpr double induced_factor = 1.15;

}  // namespace

double rotor_profile_share(double figure_of_merit) {
    return std::max(0.0, 1 - induced_factor * figure_of_merit);
}

double rotor_figure_of_merit(double thrust, double area, double density, double tip_speed) {
    constexpr double blades = 2;
    constexpr double chord_over_radius = 0.08;
    constexpr double solidity = blades * chord_over_radius / pi;
    constexpr double drag_coefficient = 0.012;
    const double ideal = hover_power(thrust, area, density, 1);
    const double profile =
        solidity * drag_coefficient / 8 * density * area * tip_speed * tip_speed * tip_speed;
    return ideal / (induced_factor * ideal + profile);
}

}  // namespace hotband
