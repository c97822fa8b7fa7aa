// Cell chemistries as data, and the resistance law; see pack.hpp.
#include "physics/pack.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "physics/constants.hpp"

namespace hotband {

const CellType& cell_type(Chemistry chemistry) {
    static const std::vector<double> charge = {0,   0.05, 0.1, 0.2, 0.3, 0.4,
                                               0.5, 0.6,  0.7, 0.8, 0.9, 1};
    // Resistance times capacity as chargers show it for packs as they are sold (common practice, no
    // source); Li-ion and LiFePO4 energy cells have several times as much.
    static const auto types = std::to_array<CellType>({
        {Chemistry::lipo, "LiPo",
         make_monotone(charge,
                       {3.27, 3.61, 3.69, 3.73, 3.77, 3.80, 3.84, 3.88, 3.95, 4.02, 4.11, 4.20}),
         3.2, 0.0065, 0.25, 3.3, 140 * 3600.0,
         "4-12 mOhm Ah for the cells of packs sold for 25-65 C, chargers' readings; common "
         "practice"},
        {Chemistry::lihv, "LiHV",
         make_monotone(charge,
                       {3.27, 3.61, 3.69, 3.74, 3.79, 3.83, 3.89, 3.97, 4.06, 4.15, 4.24, 4.35}),
         3.2, 0.0065, 0.25, 3.3, 150 * 3600.0,
         "4-12 mOhm Ah for the cells of packs sold for 25-65 C, chargers' readings; common "
         "practice"},
        {Chemistry::liion, "Li-ion",
         make_monotone(charge,
                       {2.70, 3.10, 3.25, 3.40, 3.50, 3.58, 3.66, 3.76, 3.86, 3.95, 4.05, 4.18}),
         2.8, 0.060, 0.50, 2.9, 220 * 3600.0,
         "about 60 mOhm Ah for a Li-ion power cell; common practice"},
        {Chemistry::lifepo4, "LiFePO4",
         make_monotone(charge,
                       {2.60, 3.00, 3.15, 3.22, 3.25, 3.27, 3.28, 3.29, 3.30, 3.32, 3.34, 3.45}),
         2.5, 0.025, 0.40, 2.7, 100 * 3600.0,
         "about 25 mOhm Ah for a LiFePO4 cell; common practice"},
    });
    return types[static_cast<size_t>(chemistry)];
}

double cold_capacity(double celsius) {
    constexpr double warm_C = 20;
    constexpr double mild_share_per_K = 0.006;
    constexpr double frost_share_per_K = 0.012;
    constexpr double least = 0.3;
    const double mild_K = std::clamp(warm_C - celsius, 0.0, warm_C);
    const double frost_K = std::max(0.0, -celsius);
    return std::max(least, 1 - mild_share_per_K * mild_K - frost_share_per_K * frost_K);
}

double cell_resistance_factor(double celsius, double charge) {
    constexpr double activation = 20e3;  // J/mol
    constexpr double reference_K = 298.15;
    const double cold =
        std::exp(activation / gas_constant * (1 / kelvin(celsius) - 1 / reference_K));
    const double empty = 1 + 0.6 * std::exp(-charge / 0.08);
    return cold * empty;
}

}  // namespace hotband
