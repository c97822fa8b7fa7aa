// Plate correlations and their combination; see cooling.hpp.
#include "physics/cooling.hpp"

#include <algorithm>
#include <cmath>

#include "physics/constants.hpp"

namespace hotband {

double nusselt_vertical(double rayleigh, double prandtl) {
    const double shape = std::pow(1 + std::pow(0.492 / prandtl, 9.0 / 16), 8.0 / 27);
    const double root = 0.825 + 0.387 * std::sqrt(std::cbrt(rayleigh)) / shape;
    return root * root;
}

double nusselt_horizontal(double rayleigh) {
    const double quarter = std::sqrt(std::sqrt(rayleigh));
    const double upper = rayleigh < 1e7 ? 0.54 * quarter : 0.15 * std::cbrt(rayleigh);
    const double lower = 0.27 * quarter;
    return 0.5 * (upper + lower);
}

double nusselt_laminar(double reynolds, double prandtl) {
    return 0.664 * std::sqrt(reynolds) * std::cbrt(prandtl);
}

double nusselt_plate(double reynolds, double prandtl) {
    constexpr double transition = 5e5;
    return reynolds < transition ? nusselt_laminar(reynolds, prandtl)
                                 : (0.037 * std::pow(reynolds, 0.8) - 871) * std::cbrt(prandtl);
}

double surface_conductance(const Surface& s, const Ambient& air, double surface_celsius) {
    const double film_C = 0.5 * (surface_celsius + air.celsius);
    const Air a = air_at(film_C, air.pressure);
    const double rise = std::abs(surface_celsius - air.celsius);
    const double diffusivity = a.kinematic / a.prandtl;
    const double rayleigh = gravity / kelvin(film_C) * rise * s.height * s.height * s.height /
                            (a.kinematic * diffusivity);
    const double natural =
        (s.horizontal ? nusselt_horizontal(rayleigh) : nusselt_vertical(rayleigh, a.prandtl)) *
        a.conductivity / s.height;
    const double reynolds = air.speed * s.length / a.kinematic;
    const double forced = (s.turbulent_allowed ? nusselt_plate(reynolds, a.prandtl)
                                               : nusselt_laminar(reynolds, a.prandtl)) *
                          a.conductivity / s.length;
    const double convective =
        s.factor * std::cbrt(natural * natural * natural + forced * forced * forced);
    const double Ts = kelvin(surface_celsius);
    const double Ta = kelvin(air.celsius);
    // eps sigma (Ts^4 - Ta^4) = h_r (Ts - Ta)
    const double radiative = s.emissivity * stefan_boltzmann * (Ts * Ts + Ta * Ta) * (Ts + Ta);
    return s.area * (convective + radiative);
}

}  // namespace hotband
