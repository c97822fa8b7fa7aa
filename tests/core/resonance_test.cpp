// Where leads and link capacitors ring: the closed form against complex impedances and against the
// exact cycle.
#include "advise/resonance.hpp"

#include <cmath>
#include <complex>

#include "bridge/cycle.hpp"
#include "drives.hpp"
#include "near.hpp"
#include "physics/constants.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

// Capacitor current over chopped current at `ratio` times the resonance.
double growth(double R, double L, double C, double esr, double ratio) {
    const std::complex<double> j(0, 1);
    const double w = ratio / std::sqrt(L * C);
    const std::complex<double> pack = R + j * w * L;
    return std::abs(pack / (pack + esr + 1.0 / (j * w * C)));
}

}  // namespace

TEST_CASE("resonance: at the window's ends the ripple grows by half, inside by more (D)") {
    constexpr double closed_form = 1e-9;
    for (const double R : {0.0, 2e-3, 6e-3}) {
        for (const double esr : {0.0, 1e-3, 4e-3}) {
            const double L = 200e-9;
            const double C = 1000e-6;
            INFO(R << " " << esr);
            const auto window = resonance_window(R, L, C, esr);
            REQUIRE(window);
            CHECK(window->low < window->high);
            CHECK_THAT(growth(R, L, C, esr, window->low), WithinAbs(1.5, closed_form));
            CHECK_THAT(growth(R, L, C, esr, window->high), WithinAbs(1.5, closed_form));
            CHECK(growth(R, L, C, esr, std::sqrt(window->low * window->high)) > 1.5);
            CHECK(growth(R, L, C, esr, 0.99 * window->low) < 1.5);
            CHECK(growth(R, L, C, esr, 1.01 * window->high) < 1.5);
        }
    }
}

TEST_CASE("resonance: where there is no window the ripple grows by half nowhere (D)") {
    int damped = 0;
    for (double R = 0; R < 40e-3; R += 2e-3) {
        const double L = 200e-9;
        const double C = 1000e-6;
        const double esr = 5e-3;
        double most = 0;
        for (double ratio = 0.1; ratio < 10; ratio *= 1.01) {
            most = std::max(most, growth(R, L, C, esr, ratio));
        }
        const bool any = resonance_window(R, L, C, esr).has_value();
        damped += any ? 0 : 1;
        CHECK((any ? most > 1.49 : most < 1.51));
    }
    CHECK(between(5, damped, 19));
}

TEST_CASE("resonance: the exact cycle's ripple grows there and nowhere else") {
    // A motor current all but flat, chopped half of the time: the capacitor's share of its ripple.
    const auto grown = [](double ratio) {
        CycleCase c;
        c.mode = CycleMode::active;
        c.Voc = 20;
        c.R_src = 3e-3;
        c.L_src = 200e-9;
        c.C = 1000e-6;
        c.R_esr = 1e-3;
        c.R_on = 1e-3;
        c.R_m = 20e-3;
        c.L_m = 10e-3;
        c.E = 9;
        c.D = 0.5;
        c.f = ratio / (2 * pi * std::sqrt(c.L_src * c.C));
        const Cycle cycle = solve_cycle(c);
        return cycle.i_c_rms / (0.5 * cycle.i_m_avg);
    };
    const auto window = resonance_window(3e-3, 200e-9, 1000e-6, 1e-3);
    REQUIRE(window);
    CHECK(grown(1) > 1.5);
    CHECK(grown(1.2 * window->high) < 1.5);
    CHECK_THAT(grown(20), WithinAbs(1, 0.05));
}

TEST_CASE("resonance: a plant's ratio, window and verdict on itself agree") {
    Plant p = median_plant(six_cell_drive());
    p.u.cell_resistance = 1e-5;
    p.pack.lead_resistance = 1e-5;
    p.u.capacitor_esr = 1e-4;
    const double resonance = 1 / (2 * pi * std::sqrt(p.u.lead_inductance * p.u.capacitance));
    for (const double ratio : {0.5, 1.0, 3.0}) {
        p.pwm = ratio * resonance;
        CHECK_THAT(resonance_ratio(p), WithinRel(ratio, 1e-12));
        const auto window = resonance_window(p);
        REQUIRE(window);
        CHECK(resonates(p) == (ratio == 1.0));
    }
    p.pwm = resonance;
    p.u.cell_resistance = 20e-3;
    CHECK_FALSE(resonance_window(p));
    CHECK_FALSE(resonates(p));
}
