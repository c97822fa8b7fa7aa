// A switching circuit made ready: what depends neither on Voc nor on E is worked out once, so that
// a search over back-EMF or pack voltage pays little for each cycle. Circuit and symbols:
// cycle.hpp.
#pragma once

#include <optional>

#include "bridge/cycle.hpp"
#include "bridge/interval.hpp"

namespace hotband {

class Circuit {
 public:
    /// Voc and E of the case are not used. With 0 < D < 1 the intervals are prepared here.
    explicit Circuit(const CycleCase& c);

    /// Mean motor current (A) of the periodic steady state at this pack voltage and back-EMF.
    double motor_current(double Voc, double E) const;

    /// The same over back-EMF where it is a straight line; empty for diodes that never see the
    /// pack.
    std::optional<CurrentLine> current_line(double Voc) const;

    /// The whole periodic steady state there.
    Cycle solve(double Voc, double E, bool extrema) const;

 private:
    // States are scaled by the square root of their inductance or capacitance, so that their square
    // is an energy and the matrices are well balanced: divide a scaled state by these.
    struct Scale {
        double m, s, c;
    };
    struct Inputs {
        Eigen::Vector3d on;
        Eigen::Matrix<double, 1, 1> coast;
    };
    // States at turn-on and turn-off, and for how long the motor current coasts.
    struct Edges {
        Eigen::Vector3d x0, x1;
        double t_coast = 0;
        bool continuous = true;
        bool flows = true;
    };

    bool chops() const { return k_.D > 0 && k_.D < 1; }
    Inputs inputs(double Voc, double E) const;
    Edges edges(const Inputs& b) const;
    Eigen::Vector3d continuous_start(const Eigen::Vector3d& g_on,
                                     const Eigen::Matrix<double, 1, 1>& g_coast) const;
    Interval<1> coast_interval(const Edges& e) const;
    Cycle unchopped(double Voc, double E) const;
    Cycle direct_current(double Voc, double E, double i_m, double i_s) const;
    Cycle finish(double Voc, double E, Cycle out) const;

    CycleCase k_;
    Scale q_;
    double V_fw_, R_fw_;  // threshold and resistance of the freewheel element
    double t_on_ = 0, t_off_ = 0;
    Interval<3> on_;
    Interval<2> pack_;
    Interval<1> coast_;
    Eigen::PartialPivLU<Eigen::Matrix3d> continuous_;     // of I - Phi_off Phi_on
    Eigen::PartialPivLU<Eigen::Matrix2d> discontinuous_;  // the pack loop's alone
};

}  // namespace hotband
