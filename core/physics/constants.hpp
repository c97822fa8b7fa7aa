// Constants of nature and of air. Unit and source on each line.
#pragma once

#include <numbers>

namespace hotband {

inline constexpr double pi = std::numbers::pi;
inline constexpr double zero_celsius_K = 273.15;            // K, definition
inline constexpr double gravity = 9.80665;                  // m/s2, standard gravity
inline constexpr double stefan_boltzmann = 5.670374419e-8;  // W/(m2 K4), CODATA 2018 (from memory)
inline constexpr double gas_constant = 8.314462618;         // J/(mol K), SI definition
inline constexpr double air_gas_constant = 287.05287;       // J/(kg K), US Standard Atmosphere 1976
inline constexpr double air_heat_capacity = 1006;           // J/(kg K), dry air near 300 K
inline constexpr double copper_tempco = 0.00393;         // 1/K at 20 deg C, IEC 60228 (from memory)
inline constexpr double copper_resistivity = 1.7241e-8;  // Ohm m at 20 deg C, annealed standard

constexpr double kelvin(double celsius) { return celsius + zero_celsius_K; }

}  // namespace hotband
