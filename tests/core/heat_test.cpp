// The heat march against hand calculation: conservation, first-order rises, balances, schedules.
// SciPy and SUNDIALS integrate the same network in reference/.
#include "flight/heat.hpp"

#include <cmath>

#include "near.hpp"
#include "physics/cooling.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr double march_K = 1e-4;  // K, what heat.hpp promises for a march

HeatCase usual() {
    HeatCase c;
    c.Cj = 1.4;
    c.Cb = 40;
    c.Cs = 60;
    c.Gjb = 3;
    c.Gbs = 4;
    c.A = 0.016;
    c.H = 0.06;
    c.L = 0.08;
    c.eps = 0.85;
    c.a = 0.4;
    c.b = 0.6;
    c.alpha = 0.005;
    c.schedule = {{300, 25, 10, 25}};
    c.T_init = {25, 25, 25};
    c.times = {300};
    return c;
}

Surface surface_of(const HeatCase& c) {
    return {
        .area = c.A, .height = c.H, .length = c.L, .emissivity = c.eps, .turbulent_allowed = false};
}

}  // namespace

TEST_CASE("heat: without a surface every joule stays in the nodes") {
    HeatCase c = usual();
    c.A = 1e-12;
    c.a = 1;
    c.b = 0;
    c.times = {10, 100, 300};
    const auto rows = march_heat(c).rows;
    for (size_t i = 0; i < rows.size(); ++i) {
        const double stored =
            c.Cj * (rows[i][0] - 25) + c.Cb * (rows[i][1] - 25) + c.Cs * (rows[i][2] - 25);
        CHECK_THAT(stored, WithinAbs(25 * c.times[i], march_K * 100));  // J
    }
}

TEST_CASE(
    "heat: a junction on a heavy board rises first-order, P / G (1 - exp(-t G / C)) (textbook)") {
    HeatCase c = usual();
    c.Cb = 1e9;
    c.a = 1;
    c.b = 0;
    const double tau = c.Cj / c.Gjb;
    c.times = {0.1 * tau, tau, 3 * tau, 60 * tau};
    c.schedule = {{100 * tau, 25, 10, 25}};
    const auto rows = march_heat(c).rows;
    for (size_t i = 0; i < rows.size(); ++i) {
        CHECK_THAT(rows[i][0] - rows[i][1],
                   WithinAbs(25 / c.Gjb * -std::expm1(-c.times[i] / tau), march_K));
    }
}

TEST_CASE("heat: 30 g of aluminium with 40 cm2 cools in 519 s at h 13, 169 s at h 40 (D)") {
    // 27 J/K; the air speed is the one that gives h at a small excess; 1/e of it is left then.
    struct Row {
        double h, seconds;
    };
    const auto row = GENERATE(Row{13, 519}, Row{40, 169});
    HeatCase c = usual();
    c.Cj = c.Cb = 1e-3;
    c.Cs = 27 - 2e-3;
    c.A = 40e-4;
    c.T_init = {30, 30, 30};
    double low = 0;
    double high = 60;
    for (int i = 0; i < 60; ++i) {
        const double v = 0.5 * (low + high);
        const Ambient air{.celsius = 25, .speed = v};
        (surface_conductance(surface_of(c), air, 28) / c.A < row.h ? low : high) = v;
    }
    c.schedule = {{2000, 0, low, 25}};
    c.times = {row.seconds};
    constexpr double first_order = 0.03;  // h falls a little with the excess (relative)
    CHECK_THAT(march_heat(c).rows[0][2] - 25, WithinRel(5 * std::exp(-1.0), first_order));
}

TEST_CASE("heat: long held, what goes in goes out at every node") {
    HeatCase c = usual();
    c.schedule = {{20000, 25, 10, 25}};
    c.times = {20000};
    const auto [Tj, Tb, Ts] = march_heat(c).rows[0];
    const double P = 25 * (0.4 + 0.6 * (1 + 0.005 * (Tj - 25)));
    CHECK_THAT(c.Gjb * (Tj - Tb), WithinAbs(P, 1e-3));  // W
    CHECK_THAT(c.Gbs * (Tb - Ts), WithinAbs(P, 1e-3));
    const Ambient air{.celsius = 25, .speed = 10};
    CHECK_THAT(surface_conductance(surface_of(c), air, Ts) * (Ts - 25), WithinAbs(P, 1e-3));
}

TEST_CASE(
    "heat: rows follow the asked times in any order, twice if asked twice, and the start is told") {
    HeatCase c = usual();
    c.times = {100, 0, 50, 100, 300};
    const auto rows = march_heat(c).rows;
    REQUIRE(rows.size() == 5);
    CHECK(rows[1] == c.T_init);
    CHECK(rows[0] == rows[3]);
    CHECK(rows[2][1] < rows[0][1]);
    HeatCase sorted = c;
    sorted.times = {0, 50, 100, 300};
    const auto in_order = march_heat(sorted).rows;
    CHECK_THAT(rows[0][1], WithinAbs(in_order[2][1], 1e-12));
}

TEST_CASE("heat: a schedule cut into equal pieces is the same schedule") {
    HeatCase whole = usual();
    HeatCase pieces = usual();
    pieces.schedule.clear();
    for (int i = 1; i <= 30; ++i) {
        pieces.schedule.push_back({10.0 * i, 25, 10, 25});
    }
    for (size_t node = 0; node < 3; ++node) {
        CHECK_THAT(march_heat(pieces).rows[0][node],
                   WithinAbs(march_heat(whole).rows[0][node], march_K));
    }
}

TEST_CASE("heat: each part of a schedule begins where the one before ended, with its own figures") {
    HeatCase c = usual();
    c.schedule = {{100, 60, 15, 25}, {160, 0, 2, 30}, {400, 20, 5, 10}};
    c.times = {400, 130, 160, 50, 100};  // in any order
    const auto rows = march_heat(c).rows;
    // The same as three marches of one part, one after the other.
    std::array<double, 3> T = c.T_init;
    double t = 0;
    for (const HeatPart& part : c.schedule) {
        HeatCase alone = usual();
        alone.T_init = T;
        alone.schedule = {{part.t_end - t, part.P0, part.v, part.T_amb}};
        alone.times.clear();
        for (const double asked : c.times) {
            if (asked > t && asked <= part.t_end) {
                alone.times.push_back(asked - t);
            }
        }
        const auto ends = march_heat(alone).rows;
        size_t next = 0;
        for (size_t i = 0; i < c.times.size(); ++i) {
            if (c.times[i] > t && c.times[i] <= part.t_end) {
                INFO(c.times[i] << " s");
                for (size_t node = 0; node < 3; ++node) {
                    CHECK_THAT(rows[i][node], WithinAbs(ends[next][node], march_K));
                }
                T = c.times[i] == part.t_end ? ends[next] : T;
                ++next;
            }
        }
        t = part.t_end;
    }
    CHECK(rows[4][0] > rows[2][0]);  // the second part cools
}

TEST_CASE("heat: the state is continuous across a schedule edge") {
    HeatCase c = usual();
    c.schedule = {{100, 60, 15, 25}, {200, 0, 0, 25}};
    c.times = {100 - 1e-6, 100, 100 + 1e-6};
    const auto rows = march_heat(c).rows;
    for (size_t node = 0; node < 3; ++node) {
        // the junction moves at 20 K/s at most
        CHECK_THAT(rows[0][node], WithinAbs(rows[1][node], march_K));
        CHECK_THAT(rows[2][node], WithinAbs(rows[1][node], march_K));
    }
    CHECK(rows[1][0] > rows[1][1]);
}

TEST_CASE("heat: losses that outgrow the cooling run away, as infinities and not as numbers") {
    HeatCase c = usual();
    c.a = 0;
    c.b = 1;
    c.alpha = 0.1;
    c.schedule = {{3600, 40, 1, 25}};
    c.times = {1, 3600};
    const auto rows = march_heat(c).rows;
    CHECK(std::isfinite(rows[0][0]));
    CHECK(std::isinf(rows[1][0]));
    CHECK(std::isinf(rows[1][2]));
}

TEST_CASE("heat: junction above board above case while heated, hotter air, hotter everything") {
    const auto [Tj, Tb, Ts] = march_heat(usual()).rows[0];
    CHECK((Tj > Tb && Tb > Ts && Ts > 25));
    HeatCase summer = usual();
    summer.schedule[0].T_amb = 35;
    summer.T_init = {35, 35, 35};
    const auto warm = march_heat(summer).rows[0];
    CHECK(between(Tb + 9, warm[1], Tb + 11.5));
}

TEST_CASE("heat: thin air cools less") {
    HeatCase c = usual();
    const double low = march_heat(c).rows[0][1];
    c.p = 70000;
    CHECK(march_heat(c).rows[0][1] > low + 0.5);
}

TEST_CASE("heat: a node bound to the next by a huge conductance moves as one with it") {
    // the network of two nodes that is left, in the same march
    HeatCase c = usual();
    const bool junction = GENERATE(true, false);
    const double huge = GENERATE(1e7, 1e9, 1e15, 1e30);  // W/K
    (junction ? c.Gjb : c.Gbs) = huge;
    c.T_init = {60, junction ? 20.0 : 25.0, 25};
    c.times = {1, 30, 300};
    const auto rows = march_heat(c).rows;
    HeatCase one = c;
    (junction ? one.Gjb : one.Gbs) = 1e12;
    const double first = junction ? c.Cj : c.Cb;
    const double second = junction ? c.Cb : c.Cs;
    const double joined =
        (first * c.T_init[junction ? 0 : 1] + second * c.T_init[junction ? 1 : 2]) /
        (first + second);
    one.T_init[junction ? 0 : 1] = one.T_init[junction ? 1 : 2] = joined;
    const auto want = march_heat(one).rows;
    for (size_t i = 0; i < rows.size(); ++i) {
        for (size_t node = 0; node < 3; ++node) {
            CAPTURE(huge, c.times[i], node);
            CHECK_THAT(rows[i][node], WithinAbs(want[i][node], march_K));
        }
        CHECK_THAT(rows[i][junction ? 0 : 1], WithinAbs(rows[i][junction ? 1 : 2], march_K));
    }
}

TEST_CASE("heat: without a surface a bound pair keeps every joule for a day") {
    HeatCase c = usual();
    c.A = 0;
    c.a = 1;
    c.b = 0;
    c.Gjb = GENERATE(1e10, 1e15, 1e20);
    c.schedule = {{86400, 1e-3, 0, 25}};
    c.times = {86400};
    const auto [Tj, Tb, Ts] = march_heat(c).rows[0];
    const double stored = c.Cj * (Tj - 25) + c.Cb * (Tb - 25) + c.Cs * (Ts - 25);
    CHECK_THAT(stored, WithinAbs(86.4, march_K));  // J
}

TEST_CASE("heat: a node without mass follows its balance") {
    HeatCase c = usual();
    c.Cj = GENERATE(1e-9, 1e-30, 1e-300);
    c.times = {1, 300};
    for (const auto& [Tj, Tb, Ts] : march_heat(c).rows) {
        const double P = 25 * (0.4 + 0.6 * (1 + 0.005 * (Tj - 25)));
        CHECK_THAT(c.Gjb * (Tj - Tb), WithinAbs(P, 1e-6));  // W
        CHECK(Ts < Tb);
    }
}

TEST_CASE("heat: a surface without mass gives off at once what comes in, for days") {
    HeatCase c = usual();
    c.Cs = GENERATE(1e-6, 1e-12);
    c.T_init = {90, 90, 90};
    c.schedule = {{1e6, 25, 0, 25}};
    c.times = {600, 1e6};
    const HeatMarch march = march_heat(c);
    REQUIRE(march.end == HeatEnd::whole);
    for (const auto& [Tj, Tb, Ts] : march.rows) {
        const double off = surface_conductance(surface_of(c), {25, c.p, 0}, Ts) * (Ts - 25);
        CHECK_THAT(c.Gbs * (Tb - Ts), WithinAbs(off, 1e-3));  // W; 1e-4 K of 4 W/K and of the plate
    }
}

TEST_CASE("heat: what has no answer says why, and soon") {
    HeatCase c = usual();
    c.schedule = {{3600, -1e4, 1, 25}};
    c.times = {0, 3600};
    const HeatMarch frozen = march_heat(c);
    CHECK(frozen.end == HeatEnd::below_zero);
    CHECK(frozen.rows[0] == c.T_init);
    CHECK(std::isinf(frozen.rows[1][1]));
    c.schedule = {{3600, 1e308, 1, 25}};
    CHECK(march_heat(c).end != HeatEnd::whole);
    c.schedule = {{3600, 25, 1e308, 25}};
    CHECK(march_heat(c).end == HeatEnd::unsolved);
}

TEST_CASE("heat: times a hair apart cost no steps of a hair") {
    HeatCase c = usual();
    c.times = {1e-300, 1e-12, 10, 10 + 1e-12, 300};
    const HeatMarch march = march_heat(c);
    CHECK(march.end == HeatEnd::whole);
    HeatCase plain = usual();
    CHECK_THAT(march.rows[4][1], WithinAbs(march_heat(plain).rows[0][1], march_K));
}
