// The ESC's bridge at one operating point: its currents (exact cycle, or the sinusoidal model) and
// its losses term by term. One interface for every drive.
#pragma once

#include <array>
#include <memory>
#include <optional>

#include "bridge/cycle.hpp"
#include "plant/plant.hpp"

namespace hotband {

class Circuit;

/// What the bridge sees.
struct BridgeInput {
    double Voc = 0;        // V, pack at rest
    double R_src = 0;      // Ohm, pack share and leads
    double duty = 0;       // 0..1
    bool chopping = true;  // false: full on, plain DC
    double E = 0;          // V, back-EMF
    double junction_C = 25;
    double board_C = 25;
    double winding_C = 65;
};

/// ESC losses, W. Each term is defined beside its formula in losses.cpp.
struct Losses {
    double conduction = 0, freewheel = 0, switching = 0, charge = 0, dead_time = 0, commutation = 0,
           capacitor = 0, board = 0, supply = 0;

    /// Heat that enters at the junctions; the rest enters at the board.
    double at_junction() const;
    double at_board() const;
    double total() const { return at_junction() + at_board(); }
};

/// A loss by its name in the report, and where its heat enters.
struct LossTerm {
    const char* name;
    double Losses::*watts;
    bool at_junction;
};

/// Every loss, once: what is summed, scaled and written is this list.
inline constexpr std::array<LossTerm, 9> loss_terms = {{{"conduction", &Losses::conduction, true},
                                                        {"freewheel", &Losses::freewheel, true},
                                                        {"switching", &Losses::switching, true},
                                                        {"charge", &Losses::charge, true},
                                                        {"dead_time", &Losses::dead_time, true},
                                                        {"commutation", &Losses::commutation, true},
                                                        {"capacitor", &Losses::capacitor, false},
                                                        {"board", &Losses::board, false},
                                                        {"supply", &Losses::supply, false}}};
static_assert(sizeof(Losses) == loss_terms.size() * sizeof(double), "a loss without its row");

constexpr double sum_of(const Losses& l, bool at_junction) {
    double sum = 0;
    for (const LossTerm& term : loss_terms) {
        sum += term.at_junction == at_junction ? l.*term.watts : 0;
    }
    return sum;
}
inline double Losses::at_junction() const { return sum_of(*this, true); }
inline double Losses::at_board() const { return sum_of(*this, false); }

/// Every term times a factor.
Losses times(const Losses& l, double factor);

/// Switch resistance over its value at 25 deg C (dimensionless), -40..250 deg C: 1.45 at 100
/// and 1.66 at 125 deg C, the middle of data-sheet ratings.
constexpr double switch_resistance_factor(double junction_C) {
    const double x = junction_C - 25;
    return 1 + 5.0e-3 * x + 1.6e-5 * x * x;
}

/// Series resistance (Ohm) of an aluminium electrolytic: the electrolyte's, told at 100 kHz and 25
/// deg C, which halves over 62 K, and the oxide's dielectric loss tan(delta) / (2 pi f C), which
/// falls with frequency (Hz). Frequency > 0, capacitance (F) > 0, -40..105 deg C. Both constants
/// from memory.
double capacitor_esr(double told_esr, double capacitance, double frequency, double celsius);

/// The plant's bridge at one duty, made ready for any pack voltage and back-EMF. Of `in`, Voc and E
/// are not used.
class Bridge {
 public:
    Bridge(const Plant& p, const BridgeInput& in);
    ~Bridge();
    Bridge(const Bridge&) = delete;
    Bridge& operator=(const Bridge&) = delete;

    /// Mean motor current (A).
    double motor_current(double Voc, double E) const;
    /// The same over back-EMF where it is a straight line, if anywhere.
    std::optional<CurrentLine> current_line(double Voc) const;
    /// Currents and voltages.
    Cycle solve(double Voc, double E, bool extrema = false) const;

 private:
    CycleCase case_;
    std::unique_ptr<const Circuit> circuit_;  // six-step exactly; none: sinusoidal by averages
};

/// What a motor sees of the bridge, by averages over the period: a voltage (V) behind a resistance
/// (ohm), its own included. Where current flows all the time, some hundredths off in the current
/// and four thousandths in the duty.
struct AveragedBridge {
    double volts, resistance;
};
AveragedBridge averaged_bridge(const Plant& p, const BridgeInput& in);

/// Duty at which that carries a mean motor current (A) against the back-EMF of `in`, and how the
/// current rises with duty there (A). A current that the pack cannot give is put at full duty. Of
/// `in` the duty is not used.
struct AveragedDuty {
    double duty, slope;
};
AveragedDuty averaged_duty(const Plant& p, const BridgeInput& in, double current);

/// Every loss term at the cycle that the bridge gave; `omega` is the motor's speed (rad/s).
Losses bridge_losses(const Plant& p, const BridgeInput& in, const Cycle& c, double omega);

/// Current (A) that BEC and electronics draw from a link at V volts.
double supply_current(const Plant& p, double V);

}  // namespace hotband
