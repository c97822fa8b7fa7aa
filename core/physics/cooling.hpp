// How much heat does a warm surface give to the air around it?
#pragma once

#include "physics/air.hpp"

namespace hotband {

/// Average Nusselt numbers (dimensionless).
/// Vertical plate, all Rayleigh numbers: Churchill and Chu 1975.
double nusselt_vertical(double rayleigh, double prandtl);
/// Horizontal plate, mean of the upper and the lower face of a warm plate, length = area /
/// perimeter: McAdams; Incropera et al., Fundamentals of Heat and Mass Transfer, ch. 9 (from
/// memory).
double nusselt_horizontal(double rayleigh);
/// Flat plate along the flow, laminar: 0.664 Re^1/2 Pr^1/3.
double nusselt_laminar(double reynolds, double prandtl);
/// Flat plate along the flow, laminar up to Re 5e5 and turbulent behind: (0.037 Re^0.8 - 871)
/// Pr^1/3.
double nusselt_plate(double reynolds, double prandtl);

/// A convecting and radiating surface.
struct Surface {
    double area = 0;        // m2
    double height = 0;      // m, natural convection (vertical), or area / perimeter (horizontal)
    double length = 0;      // m, along the flow
    double emissivity = 0;  // dimensionless
    double factor = 1;      // on the convection, for what a flat plate is not (dimensionless)
    bool horizontal = false;
    bool turbulent_allowed = true;  // false: laminar formula at every Reynolds number
};

/// Air at the place.
struct Ambient {
    double celsius = 25;
    double pressure = 101325;  // Pa
    double speed = 0;          // m/s
};

/// Conductance surface to air (W/K) at this surface temperature (deg C): natural and forced
/// convection combined with exponent 3, properties at the film temperature, plus radiation to
/// surroundings at air temperature. Positive for every finite temperature above absolute zero.
double surface_conductance(const Surface& s, const Ambient& air, double surface_celsius);

}  // namespace hotband
