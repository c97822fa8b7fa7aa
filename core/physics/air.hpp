// What is the air like here: pressure with height, and the properties that carry heat.
#pragma once

namespace hotband {

/// Properties of dry air at one temperature and pressure.
struct Air {
    double density;       // kg/m3, ideal gas
    double viscosity;     // Pa s, Sutherland
    double conductivity;  // W/(m K)
    double kinematic;     // m2/s
    double prandtl;       // dimensionless
};

/// Pressure (Pa) at a geometric height (m) in the US Standard Atmosphere 1976; -500..11000 m.
double standard_pressure(double height_m);

/// Air at temperature (deg C, -100..500) and pressure (Pa). Viscosity and conductivity: US Standard
/// Atmosphere 1976, equations 51 and 53.
Air air_at(double celsius, double pressure);

}  // namespace hotband
