// Standard atmosphere and air properties; see air.hpp.
#include "physics/air.hpp"

#include <cmath>

#include "physics/constants.hpp"

namespace hotband {

double standard_pressure(double height_m) {
    constexpr double earth_radius = 6356766;  // m, US Standard Atmosphere 1976
    constexpr double lapse = 0.0065;          // K/m
    constexpr double sea_level_K = 288.15;
    constexpr double sea_level_Pa = 101325;
    const double geopotential = earth_radius * height_m / (earth_radius + height_m);
    return sea_level_Pa *
           std::pow(1 - lapse * geopotential / sea_level_K, gravity / (air_gas_constant * lapse));
}

Air air_at(double celsius, double pressure) {
    const double T = kelvin(celsius);
    const double T15 = T * std::sqrt(T);
    Air air{};
    air.density = pressure / (air_gas_constant * T);
    air.viscosity = 1.458e-6 * T15 / (T + 110.4);
    air.conductivity = 2.64638e-3 * T15 / (T + 245.4 * std::exp(-12 * std::log(10.0) / T));
    air.kinematic = air.viscosity / air.density;
    air.prandtl = air.viscosity * air_heat_capacity / air.conductivity;
    return air;
}

}  // namespace hotband
