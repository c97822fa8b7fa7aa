// Zero, infinity, NaN and the ends of every range: answers stay finite, or say that they are not
// one.
#include <cmath>
#include <limits>
#include <string>

#include "drives.hpp"
#include "flight/heat.hpp"
#include "near.hpp"
#include "setup/parse.hpp"
#include "setup_maker.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

constexpr double not_a_number = std::numeric_limits<double>::quiet_NaN();
constexpr double infinite = std::numeric_limits<double>::infinity();

CycleCase usual() {
    return {.mode = CycleMode::diode,
            .Voc = 22.2,
            .R_src = 0.015,
            .L_src = 3e-7,
            .C = 1e-3,
            .R_esr = 8e-3,
            .R_on = 1e-3,
            .V_f0 = 0.6,
            .r_d = 2e-3,
            .R_m = 0.02,
            .L_m = 2e-5,
            .E = 10,
            .D = 0.5,
            .f = 8000};
}

bool finite(const Cycle& c) {
    return std::isfinite(c.i_m_avg + c.i_m_rms + c.i_m_min + c.i_m_max + c.i_src_avg + c.i_src_rms +
                         c.i_c_rms + c.v_link_avg + c.v_link_min + c.v_link_max + c.P_hs + c.P_ret +
                         c.P_fw + c.P_esr + c.P_R_src + c.P_R_m + c.P_emf + c.P_pack);
}

bool finite(const Losses& l) { return std::isfinite(l.total()) && l.total() >= 0; }

// A number between 0 and 1 that is plainly the same on every machine.
double fraction(int n, double step) { return std::fmod(n * step, 1.0); }

}  // namespace

TEST_CASE("edges: a cycle with a NaN or an infinity is not ok") {
    double CycleCase::*const members[] = {
        &CycleCase::Voc,  &CycleCase::R_src, &CycleCase::L_src, &CycleCase::C,   &CycleCase::R_esr,
        &CycleCase::R_on, &CycleCase::V_f0,  &CycleCase::r_d,   &CycleCase::R_m, &CycleCase::L_m,
        &CycleCase::E,    &CycleCase::D,     &CycleCase::f};
    for (double CycleCase::*member : members) {
        CycleCase k = usual();
        k.*member = not_a_number;
        CHECK_FALSE(solve_cycle(k, true).ok);
    }
    CycleCase k = usual();
    k.Voc = infinite;
    CHECK_FALSE(solve_cycle(k).ok);
    k = usual();
    k.E = infinite;
    k.mode = CycleMode::active;
    CHECK_FALSE(solve_cycle(k).ok);
}

TEST_CASE("edges: a cycle at the ends of each value's range closes its energy") {
    struct End {
        double CycleCase::*member;
        double value;
    };
    const End ends[] = {
        {&CycleCase::R_src, 1e-6}, {&CycleCase::R_src, 2},    {&CycleCase::L_src, 1e-10},
        {&CycleCase::L_src, 1e-4}, {&CycleCase::C, 1e-7},     {&CycleCase::C, 0.1},
        {&CycleCase::R_esr, 0},    {&CycleCase::R_esr, 2},    {&CycleCase::R_on, 0},
        {&CycleCase::R_on, 0.1},   {&CycleCase::V_f0, 0},     {&CycleCase::V_f0, 2},
        {&CycleCase::r_d, 0},      {&CycleCase::r_d, 1},      {&CycleCase::R_m, 1e-5},
        {&CycleCase::R_m, 10},     {&CycleCase::L_m, 1e-8},   {&CycleCase::L_m, 0.1},
        {&CycleCase::E, 0},        {&CycleCase::E, 22.2},     {&CycleCase::E, 60},
        {&CycleCase::D, 1e-6},     {&CycleCase::D, 1 - 1e-9}, {&CycleCase::f, 50},
        {&CycleCase::f, 1e6}};
    for (const End& end : ends) {
        for (const CycleMode mode : {CycleMode::diode, CycleMode::active}) {
            CycleCase k = usual();
            k.mode = mode;
            k.*end.member = end.value;
            const Cycle c = solve_cycle(k, true);
            CAPTURE(&end - ends, end.value, mode == CycleMode::active, c.energy_residual_rel);
            CHECK(c.ok);
            CHECK(finite(c));
            CHECK(c.energy_residual_rel <= 1e-9);
            CHECK((mode == CycleMode::active || c.i_m_min >= 0));
        }
    }
}

TEST_CASE("edges: nothing jumps when the duty moves by the last digit") {
    for (const CycleMode mode : {CycleMode::diode, CycleMode::active}) {
        for (int i = 1; i < 400; ++i) {
            CycleCase k = usual();
            k.mode = mode;
            k.D = i / 400.0;
            const Cycle one = solve_cycle(k);
            k.D = std::nextafter(k.D, 1.0);
            const Cycle two = solve_cycle(k);
            CHECK_THAT(two.i_m_avg, WithinAbs(one.i_m_avg, 1e-9));
            CHECK_THAT(two.i_src_rms, WithinAbs(one.i_src_rms, 1e-9));
            CHECK_THAT(two.P_fw, WithinAbs(one.P_fw, 1e-9));
        }
    }
}

TEST_CASE("edges: the currents join where conduction turns discontinuous") {
    // bisect the boundary in E; the currents on its two sides agree
    CycleCase k = usual();
    double low = 5;
    double high = 11;
    REQUIRE(solve_cycle([&] {
                k.E = low;
                return k;
            }())
                .continuous);
    k.E = high;
    REQUIRE_FALSE(solve_cycle(k).continuous);
    for (int i = 0; i < 80; ++i) {
        k.E = 0.5 * (low + high);
        (solve_cycle(k).continuous ? low : high) = k.E;
    }
    k.E = low;
    const Cycle in = solve_cycle(k);
    k.E = high;
    const Cycle out = solve_cycle(k);
    CHECK_THAT(out.i_m_avg, WithinRel(in.i_m_avg, 1e-9));
    CHECK_THAT(out.i_m_rms, WithinRel(in.i_m_rms, 1e-9));
    CHECK_THAT(out.i_c_rms, WithinRel(in.i_c_rms, 1e-9));
    CHECK_THAT(out.conduction_fraction, WithinAbs(1, 1e-6));
}

TEST_CASE("edges: a cold or hot, still or stormy surface has a finite conductance") {
    for (const double celsius : {-60.0, 0.0, 25.0, 200.0, 900.0}) {
        for (const double speed : {0.0, 1e-12, 5.0, 150.0}) {
            for (const bool horizontal : {false, true}) {
                const Surface s{.area = 1e-4,
                                .height = 1e-3,
                                .length = 0.5,
                                .emissivity = 1,
                                .horizontal = horizontal};
                const double G = surface_conductance(s, {.celsius = 25, .speed = speed}, celsius);
                CHECK(std::isfinite(G));
                CHECK(G > 0);
            }
        }
    }
}

TEST_CASE("edges: nothing jumps when the air speeds up or warms through a formula's switch") {
    // The relative step allowed is what the textbook's own pieces differ by where they meet.
    constexpr double seam = 1e-3;
    const Surface s{.area = 0.01, .height = 0.05, .length = 0.1, .emissivity = 0.85};
    double last = 0;
    for (int i = 0; i <= 20000; ++i) {
        const double speed = i * 0.0075;
        const double G = surface_conductance(s, {.celsius = 25, .speed = speed}, 60);
        if (i > 100) {
            CHECK(G >= last * (1 - seam));
            CHECK(G <= last * (1 + 0.01));
        }
        last = G;
    }
}

TEST_CASE("edges: a lying plate gives off more heat the warmer it is, without a step") {
    // The textbook's formulas meet with a step of 3 % at Ra 1e7; the largest board the field table
    // allows, 50 cm long and in air at -40 deg C, stays below half of that.
    double last = 0;
    for (int i = 1; i < 1620; ++i) {
        const double Nu = nusselt_horizontal(1e4 * std::pow(10, i / 600.0));
        CHECK(Nu > last);
        if (last > 0) {
            CHECK(Nu < last * 1.002);  // a six-hundredth of a decade: 0.1 %
        }
        last = Nu;
    }
}

TEST_CASE("edges: a heat case without times, without a schedule, or with a NaN") {
    HeatCase c;
    c.Cj = c.Cb = c.Cs = 10;
    c.Gjb = c.Gbs = 1;
    c.A = 0.01;
    c.H = c.L = 0.05;
    c.T_init = {30, 30, 30};
    CHECK(march_heat(c).rows.empty());
    c.times = {0};
    CHECK(march_heat(c).rows[0] == c.T_init);
    c.schedule = {{10, 5, 0, 25}};
    c.times = {0, 10};
    CHECK(std::isfinite(march_heat(c).rows[1][0]));
    c.T_init[1] = not_a_number;
    const auto rows = march_heat(c).rows;
    CHECK_FALSE(std::isfinite(rows[1][0]));
}

TEST_CASE("edges: zero throttle draws nothing but the electronics") {
    const Plant p = median_plant(six_cell_drive());
    const Operating o = operate(p, {.throttle = 0}, source_at(p, 1, 25, 25, 25));
    CHECK(o.ok);
    CHECK_THAT(o.i_motor, WithinAbs(0, 1e-9));
    // the gates are driven all the same
    CHECK_THAT(o.i_pack, WithinRel(supply_current(p, o.v_link) + o.losses.charge / o.v_link, 1e-6));
    CHECK(finite(o.losses));
    Setup s = six_cell_drive();
    s.esc.freewheel = Freewheel::active;
    const Plant q = median_plant(s);
    const Operating braked = operate(q, {.throttle = 0}, source_at(q, 1, 25, 25, 25));
    CHECK(braked.ok);
    CHECK_THAT(braked.omega, WithinAbs(0, 1e-6));
}

TEST_CASE("edges: a hold of no length, and one on an empty pack") {
    const Plant p = median_plant(six_cell_drive());
    const DemandMap map = map_demand(p, {.throttle = 0.8});
    const March none = march(p, for_ever(map), {31, 1, 25}, 0);
    CHECK(none.peak_board == 31);
    CHECK(none.seconds == 0);
    const March empty = march(p, for_ever(map), {31, 0.2, 25});
    CHECK(empty.seconds < 1e-3);
    CHECK(std::isfinite(empty.mean_board));
}

TEST_CASE("edges: a NaN in the plant is not an answer") {
    Plant p = median_plant(six_cell_drive());
    p.u.motor_inductance = not_a_number;
    CHECK_FALSE(operate(p, {.throttle = 0.5}, source_at(p, 1, 25, 25, 25)).ok);
    CHECK_FALSE(map_demand(p, {.throttle = 0.5}).ok);
}

TEST_CASE("edges: the smallest and the largest drive of the field table's ranges still fly") {
    Setup tiny;
    tiny.pack.cells = 1;
    tiny.pack.capacity_mAh = 50;
    tiny.esc.rating_A = 1;
    tiny.esc.pwm_Hz = 200000;
    tiny.load.full_throttle_A = 0.5;
    Setup huge;
    huge.pack.cells = 16;
    huge.pack.capacity_mAh = 100000;
    huge.esc.rating_A = 600;
    huge.esc.pwm_Hz = 1000;
    huge.load.full_throttle_A = 500;
    for (const Setup& s : {tiny, huge}) {
        const Plant p = median_plant(s);
        for (const double throttle : {0.05, 0.3, 0.6, 0.9, 1.0}) {
            const Operating o = operate(p, {.throttle = throttle}, source_at(p, 0.6, 25, 40, 40));
            CAPTURE(s.esc.rating_A, throttle);
            CHECK(o.ok);
            CHECK(finite(o.losses));
            const March m = hold(p, throttle);
            CHECK(m.seconds > 0);
            CHECK(std::isfinite(m.peak_board));
        }
    }
}

TEST_CASE("edges: any valid setup is answered with finite numbers at any throttle") {
    SetupMaker maker(99);
    int unsolved = 0;
    std::string first;
    constexpr int setups = 300;
    for (int n = 0; n < setups; ++n) {
        const std::string text = write_json(maker.make());
        const auto parsed = parse_setup(text);
        const Setup* s = std::get_if<Setup>(&parsed);
        REQUIRE(s != nullptr);
        const Plant p = median_plant(*s);
        const double charge = p.pack.reserve + (p.pack.start - p.pack.reserve) * fraction(n, 0.377);
        for (const double throttle : {fraction(n, 0.618), 1.0}) {
            const Operating o =
                operate(p, {.throttle = throttle}, source_at(p, charge, p.pack.start_C, 60, 50));
            if (!(o.ok && finite(o.cycle) && finite(o.losses))) {  // and no loss below zero
                ++unsolved;
                first = first.empty() ? text + " at throttle " + std::to_string(throttle) : first;
            }
        }
    }
    CAPTURE(first);
    CHECK(unsolved == 0);
}
