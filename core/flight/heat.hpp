// How do junction, board and case warm and cool? Three nodes in a row, the last one to the air.
//
//   C_j dT_j/dt = P(T_j) - G_jb (T_j - T_b)         junction (the switches' silicon)
//   C_b dT_b/dt = G_jb (T_j - T_b) - G_bs (T_b - T_s) + P_b   board, where the ESC's sensor sits
//   C_s dT_s/dt = G_bs (T_b - T_s) - A q(T_s, air)   case or heatsink
#pragma once

#include <array>
#include <vector>

namespace hotband {

/// `hotband heat`, contract v1: SI units, temperatures in deg C.
struct HeatPart {
    double t_end = 0;  // s
    double P0 = 0;     // W
    double v = 0;      // air speed along the plate (m/s)
    double T_amb = 0;  // deg C
};

struct HeatCase {
    double Cj = 0, Cb = 0, Cs = 0;   // J/K
    double Gjb = 0, Gbs = 0;         // W/K
    double A = 0;                    // m2, convecting and radiating
    double H = 0;                    // m, height (natural convection)
    double L = 0;                    // m, length along the flow (forced)
    double p = 101325;               // Pa
    double eps = 0;                  // emissivity
    double a = 1, b = 0, alpha = 0;  // heat P = P0 (a + b (1 + alpha (Tj - 25)))
    std::vector<HeatPart> schedule;
    std::array<double, 3> T_init = {};  // [Tj, Tb, Ts], deg C
    std::vector<double> times;          // s, any order, within the schedule
};

/// How a march ended.
enum class HeatEnd {
    unsolved,    // its steps became too many, or a value was not finite: no answer
    whole,       // at the last asked time
    runaway,     // above 1000 deg C: its losses outgrew its cooling
    below_zero,  // below absolute zero: more heat was drawn out than there is; no answer
};

/// Rows [Tj, Tb, Ts] (deg C), one for each asked time; infinities from where the march ended.
struct HeatMarch {
    std::vector<std::array<double, 3>> rows;
    HeatEnd end = HeatEnd::unsolved;
};

/// Error-controlled to 1e-4 K, however far capacities and conductances are apart; work is bounded.
HeatMarch march_heat(const HeatCase& c);

}  // namespace hotband
