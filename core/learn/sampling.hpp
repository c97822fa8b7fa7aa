// Quasi-random draws of the plant, the same ones every time: Sobol points as standard normals.
#pragma once

#include <cstdint>
#include <vector>

namespace hotband {

inline constexpr int most_sobol_dimensions = 64;

/// The first `count` points of the Sobol sequence (Joe and Kuo 2008 direction numbers),
/// point-major, in [0, 1). `shift_seed` 0: the plain sequence; otherwise a digital shift drawn from
/// the seed.
std::vector<double> sobol(int count, int dimensions, std::uint64_t shift_seed);

/// Inverse of the standard normal distribution function, 0 < p < 1, absolute error below 1e-13 for
/// 1e-11 < p < 1 - 1e-11: Wichura, Algorithm AS 241 (PPND16), Applied Statistics 37(3), 1988.
double normal_quantile(double p);

/// Quantile of chi-squared, 0 < p < 1, degrees of freedom >= 1, within 3 % for p in 0.5..0.999:
/// Wilson and Hilferty, Proc. Natl. Acad. Sci. 17, 1931.
double chi_squared_quantile(double p, double degrees);

/// `count` quasi-random standard normal vectors, point-major; fixed seed. A power of two keeps the
/// sequence balanced.
std::vector<double> normal_draws(int count, int dimensions);

/// Share (0..1) of y's variance that its regression on log x leaves; x > 0, as many of both.
/// Parabola in log x, since a temperature bends over a current.
double unexplained_share(const std::vector<double>& x, const std::vector<double>& y);

/// Quantile (q in 0..1) of values, linear between order statistics; infinities sort last.
double quantile(std::vector<double>& values, double q);

}  // namespace hotband
