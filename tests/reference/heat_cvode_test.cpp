// The heat march against SUNDIALS CVODE on the same network.
// Source: the equations of the contract, `hotband heat`; integrator SUNDIALS CVODE.
#include "flight/heat.hpp"

#include <cmath>

#include "core/near.hpp"
#include "physics/cooling.hpp"
#include "reference/stiff.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr double march_K = 1e-4;  // K, what heat.hpp promises (the contract asks for 0.05 K)

State slope_of(const HeatCase& c, const HeatPart& part, const State& T) {
    const Surface surface{
        .area = c.A, .height = c.H, .length = c.L, .emissivity = c.eps, .turbulent_allowed = false};
    const Ambient air{.celsius = part.T_amb, .pressure = c.p, .speed = part.v};
    const double P = part.P0 * (c.a + c.b * (1 + c.alpha * (T[0] - 25)));
    const double off = surface_conductance(surface, air, T[2]) * (T[2] - part.T_amb);
    return {(P - c.Gjb * (T[0] - T[1])) / c.Cj,
            (c.Gjb * (T[0] - T[1]) - c.Gbs * (T[1] - T[2])) / c.Cb,
            (c.Gbs * (T[1] - T[2]) - off) / c.Cs};
}

// Rows at the asked times, which rise; each part of the schedule is integrated by itself.
std::vector<State> reference(const HeatCase& c) {
    std::vector<State> rows;
    State T(c.T_init.begin(), c.T_init.end());
    double t = 0;
    size_t part = 0;
    const auto advance = [&](double to) {
        if (to > t) {
            const Slope slope = [&](const State& y) { return slope_of(c, c.schedule[part], y); };
            const Integrated end = integrate(slope, T, to - t);
            REQUIRE(end.ok);
            T = end.y;
            t = to;
        }
    };
    for (const double asked : c.times) {
        while (c.schedule[part].t_end < asked) {
            advance(c.schedule[part].t_end);
            ++part;
        }
        advance(asked);
        rows.push_back(T);
    }
    return rows;
}

void compare(const HeatCase& c) {
    const auto got = march_heat(c).rows;
    const auto want = reference(c);
    REQUIRE(got.size() == want.size());
    for (size_t i = 0; i < got.size(); ++i) {
        for (size_t node = 0; node < 3; ++node) {
            CAPTURE(c.times[i], node);
            CHECK_THAT(got[i][node], WithinAbs(want[i][node], march_K));
        }
    }
}

// An ESC of a class (A): capacities, conductances and surface in proportion.
HeatCase esc(double rating) {
    HeatCase c;
    c.Cj = 0.009 * rating;
    c.Cb = 0.27 * rating;
    c.Cs = 0.33 * rating;
    c.Gjb = rating / 60;
    c.Gbs = rating / 40;
    c.A = 1.2e-4 * rating;
    c.L = 0.75 * std::sqrt(c.A);
    c.H = 0.6 * c.L;
    c.eps = 0.85;
    c.a = 0.4;
    c.b = 0.6;
    c.alpha = 0.005;
    c.T_init = {25, 25, 25};
    return c;
}

}  // namespace

TEST_CASE("heat: a hold, as CVODE integrates it") {
    HeatCase c = esc(GENERATE(10.0, 60.0, 200.0));
    const double W = GENERATE(0.05, 0.3);
    c.schedule = {{400, W * c.A / 1.2e-4, 6, 25}};
    c.times = {0.05, 0.5, 2, 10, 60, 200, 400};
    compare(c);
}

TEST_CASE("heat: bursts and glides, as CVODE integrates them") {
    HeatCase c = esc(80);
    double t = 0;
    for (int i = 0; i < 12; ++i) {
        c.schedule.push_back({t + 5, 40, 18, 25});
        c.schedule.push_back({t + 45, 12, 9, 25});
        c.schedule.push_back({t + 60, 0.8, 2, 25});
        for (const double s : {0.1, 4.9, 5.1, 30.0, 45.0, 46.0, 60.0}) {
            c.times.push_back(t + s);
        }
        t += 60;
    }
    compare(c);
}

TEST_CASE(
    "heat: still air, where the conductance hangs on the rise itself, as CVODE integrates it") {
    HeatCase c = esc(40);
    c.T_init = {25, 25, 25};
    c.schedule = {{900, 6, 0, 25}, {2400, 0, 0, 25}};
    c.times = {1, 30, 300, 900, 901, 1200, 2400};
    compare(c);
}

TEST_CASE(
    "heat: a junction a hundred thousand times quicker than the case, as CVODE integrates it") {
    HeatCase c = esc(100);
    c.Cj *= 1e-3;
    c.schedule = {{10, 50, 10, 25}, {300, 20, 10, 25}};
    c.times = {1e-4, 1e-3, 0.1, 10, 10.001, 50, 300};
    compare(c);
}
