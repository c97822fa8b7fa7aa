// What does the pack give: open-circuit voltage over charge, resistance over temperature and
// charge.
#pragma once

#include <string_view>

#include "physics/monotone.hpp"
#include "setup/setup.hpp"

namespace hotband {

/// One cell chemistry as data.
struct CellType {
    Chemistry chemistry;
    std::string_view name;
    MonotoneCurve open_circuit_V;  // of one rested cell over state of charge 0..1
    double sag_floor_V;            // usual lowest voltage under load
    double resistance_capacity;    // Ohm Ah of one fresh cell at 25 deg C, median
    double label_resistance;       // Ohm Ah times the labelled rate (1/h): V
    double loaded_V;               // of one cell under its hardest usual load, fresh
    double energy_J_per_kg;        // for the pack's mass
    std::string_view basis;        // of the resistance
};

/// The chemistry's data. Tables: common practice, no source.
const CellType& cell_type(Chemistry chemistry);

/// Cells beyond this have vented (deg C; common practice, no source). Nothing is computed hotter.
inline constexpr double lost_pack_C = 150;

/// Share of its charge that a cell gives which is as cold as this (deg C) as it begins: all from
/// 20 deg C on, 88 % at 0, 64 % at -20 (common practice, no source: a fifth less at 0 and half at
/// -20 is told of it as well).
double cold_capacity(double celsius);

/// Resistance relative to 25 deg C and a charged cell (dimensionless): Arrhenius with 20 kJ/mol in
/// temperature (deg C), rising towards empty (common practice, no source). Charge 0..1.
double cell_resistance_factor(double celsius, double charge);

}  // namespace hotband
