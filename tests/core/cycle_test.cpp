// The switching cycle against textbook limits: small ripple, capacitor rms, conduction formulas,
// discontinuous conduction, resonance by Fourier series; and its own balance over thousands of
// cases.
#include <algorithm>
#include <array>
#include <cmath>
#include <complex>

#include "bridge/circuit.hpp"
#include "bridge/cycle.hpp"
#include "bridge/interval.hpp"
#include "bridge/sinusoidal.hpp"
#include "near.hpp"
#include "physics/constants.hpp"
#include "random.hpp"

using namespace hotband;
using namespace hotband::test;

namespace {

// Textbook formulas neglect the droop of the current over each interval; the cases are chosen so
// that it is below this (relative).
constexpr double textbook = 2e-3;
// One exact solution against another: rounding (relative).
constexpr double exact = 1e-10;
// Balance of powers, as the contract promises (relative to the largest power).
constexpr double balance = 1e-9;

// A stiff source without leads to speak of, switches and motor without resistance to speak of: what
// the small-ripple formulas assume.
CycleCase nearly_ideal() {
    return {.mode = CycleMode::active,
            .Voc = 22.2,
            .R_src = 1e-6,
            .L_src = 1e-9,
            .C = 1,
            .R_esr = 1e-6,
            .R_on = 1e-6,
            .V_f0 = 0,
            .r_d = 1e-6,
            .R_m = 5e-3,
            .L_m = 40e-6,
            .E = 11.1,
            .D = 0.5,
            .f = 24000};
}

// A source that only gives direct current: the capacitor carries all of the ripple.
CycleCase behind_a_choke() {
    CycleCase k = nearly_ideal();
    k.L_src = 0.1;
    k.C = 0.1;
    k.R_src = 1e-4;
    return k;
}

// Both ways to the second moments, held to one another.
template <int N>
Eigen::Matrix<double, N, N> moments(const Interval<N>& iv, const Eigen::Matrix<double, N, 1>& x0,
                                    const Eigen::Matrix<double, N, 1>& b, double within = exact) {
    const Eigen::Matrix<double, N, N> S =
        second_moments<N>(iv, x0, iv.end(x0, b), iv.integral(x0, b), b);
    const Eigen::Matrix<double, N, N> doubled = doubled_moments<N>(iv, x0, b);
    for (int i = 0; i < N; ++i) {
        for (int j = 0; j < N; ++j) {
            // of the largest product that the element could be
            CHECK_THAT(S(i, j),
                       WithinAbs(doubled(i, j), within * std::sqrt(doubled(i, i) * doubled(j, j))));
        }
    }
    return S;
}

// Sets the back-EMF so that the mean motor current is `I` by the averaged bridge (active).
void drive(CycleCase& k, double I) {
    k.E = k.D * (k.Voc - k.R_src * k.D * I) - (k.R_m + 2 * k.R_on) * I;
}

// Any drive from a park flyer to a large helicopter, and well beyond.
CycleCase any_case(Random& r) {
    CycleCase k;
    k.mode = r.uniform(0, 1) < 0.5 ? CycleMode::active : CycleMode::diode;
    k.Voc = r.log_uniform(3, 70);
    k.R_src = r.log_uniform(5e-4, 0.3);
    k.L_src = r.log_uniform(2e-8, 5e-6);
    k.C = r.log_uniform(2e-5, 1e-2);
    k.R_esr = r.log_uniform(3e-4, 0.2);
    k.R_on = r.log_uniform(1e-4, 3e-2);
    k.V_f0 = r.uniform(0, 1);
    k.r_d = r.log_uniform(1e-5, 5e-2);
    k.R_m = r.log_uniform(2e-3, 1);
    k.L_m = r.log_uniform(1e-6, 1e-3);
    k.D = r.uniform(0.005, 0.995);
    k.E = k.Voc * k.D * r.uniform(0, 1.1);
    k.f = r.log_uniform(3e3, 1.2e5);
    return k;
}

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

}  // namespace

TEST_CASE("cycle: small ripple V D (1 - D) / (f L), 22.2 V, 40 uH, half duty (D)") {
    struct Row {
        double f, ripple_A;
    };
    const auto row = GENERATE(Row{8e3, 17.34}, Row{24e3, 5.781}, Row{48e3, 2.891});
    CycleCase k = nearly_ideal();
    k.f = row.f;
    drive(k, 40);
    const Cycle c = solve_cycle(k);
    CHECK_THAT(c.i_peak - c.i_valley, WithinRel(row.ripple_A, textbook));
    CHECK_THAT(c.i_m_avg, WithinRel(40, textbook));
}

TEST_CASE("cycle: ripple is greatest at half duty and falls off as D (1 - D)") {
    CycleCase k = nearly_ideal();
    const double D = GENERATE(0.1, 0.25, 0.75, 0.9);
    k.D = D;
    drive(k, 40);
    const Cycle c = solve_cycle(k);
    CHECK_THAT(c.i_peak - c.i_valley, WithinRel(22.2 * D * (1 - D) / (24e3 * 40e-6), textbook));
}

TEST_CASE("cycle: triangular current has rms^2 = I^2 + dI^2 / 12 (textbook)") {
    CycleCase k = nearly_ideal();
    k.f = 8000;
    drive(k, 20);
    const Cycle c = solve_cycle(k);
    CHECK_THAT(c.i_m_rms, WithinRel(std::sqrt(400 + 17.34375 * 17.34375 / 12), textbook));
}

TEST_CASE("cycle: capacitor rms I sqrt(D (1 - D)): 40 A, D 0.25 gives 17.3205 A (D)") {
    CycleCase k = behind_a_choke();
    k.L_m = 0.1;
    k.D = 0.25;
    drive(k, 40);
    const Cycle c = solve_cycle(k);
    CHECK_THAT(c.i_c_rms, WithinRel(17.3205, textbook));
    CHECK_THAT(c.i_src_avg, WithinRel(10, textbook));
}

TEST_CASE("cycle: capacitor rms with ripple: 100 A, D 0.5, 30 A ripple give 50.3736 A (D)") {
    CycleCase k = behind_a_choke();
    k.f = 8000;
    k.L_m = 22.2 * 0.25 / (8000 * 30.0);
    drive(k, 100);
    const Cycle c = solve_cycle(k);
    CHECK_THAT(c.i_peak - c.i_valley, WithinRel(30, textbook));
    CHECK_THAT(c.i_c_rms, WithinRel(50.3736, textbook));
}

TEST_CASE(
    "cycle: input capacitor of a 12 to 5 V, 3 A converter: 1.47902 A rms, 0.620567 A ripple"
    " (inputs ROHM 64AN035E, S2, outputs D)") {
    CycleCase k = behind_a_choke();
    k.Voc = 12;
    k.D = 5.0 / 12;
    k.f = 1e6;
    k.L_m = 4.7e-6;
    drive(k, 3);
    const Cycle c = solve_cycle(k);
    CHECK_THAT(c.i_peak - c.i_valley, WithinRel(0.620567, textbook));
    // 1.47902 A leaves the ripple out; with it sqrt(1.47902^2 + D dI^2 / 12)
    const double ripple2 = 5.0 / 12 * 0.620567 * 0.620567 / 12;
    CHECK_THAT(c.i_c_rms * c.i_c_rms - ripple2, WithinRel(1.47902 * 1.47902, textbook));
}

TEST_CASE("cycle: conduction of that converter, 100 and 70 mOhm: 376.337 and 368.810 mW (D)") {
    // The model has one R_on for both switches: each is checked with its own.
    CycleCase k = behind_a_choke();
    k.Voc = 12;
    k.D = 5.0 / 12;
    k.f = 1e6;
    k.L_m = 4.7e-6;
    k.R_on = 0.1;
    drive(k, 3);
    CHECK_THAT(solve_cycle(k).P_hs, WithinRel(0.376337, textbook));
    k.R_on = 0.07;
    drive(k, 3);
    CHECK_THAT(solve_cycle(k).P_fw, WithinRel(0.368810, textbook));
}

TEST_CASE("cycle: conduction with active freewheel is 2 R (I^2 + dI^2 / 12) at any duty (D)") {
    const double D = GENERATE(0.15, 0.5, 0.85);
    CycleCase k = nearly_ideal();
    k.D = D;
    k.R_on = 1.8e-3;
    drive(k, 40);
    const Cycle c = solve_cycle(k);
    const double ripple = 22.2 * D * (1 - D) / (24e3 * 40e-6);
    CHECK_THAT(c.P_hs + c.P_fw + c.P_ret,
               WithinRel(2 * 1.8e-3 * (1600 + ripple * ripple / 12), textbook));
}

TEST_CASE("cycle: 22.2 V, 40 A, half duty, 24 kHz, 1.8 mOhm x 1.4, 40 uH: 8.078 W conduction (D)") {
    CycleCase k = nearly_ideal();
    k.R_on = 1.8e-3 * 1.4;
    drive(k, 40);
    const Cycle c = solve_cycle(k);
    CHECK_THAT(c.P_hs + c.P_fw + c.P_ret, WithinRel(8.078, textbook));
}

TEST_CASE("cycle: with a diode R I^2 (1 + D) + V I (1 - D) (D)") {
    const double D = GENERATE(0.2, 0.5, 0.9);
    CycleCase k = nearly_ideal();
    k.mode = CycleMode::diode;
    k.L_m = 1e-2;
    k.R_on = 2e-3;
    k.V_f0 = 0.8;
    k.D = D;
    const double I = 40;
    k.E = D * (k.Voc - k.R_src * D * I) - (1 - D) * (k.V_f0 + k.r_d * I) -
          (k.R_m + k.R_on * (1 + D)) * I;
    const Cycle c = solve_cycle(k);
    CHECK_THAT(c.i_m_avg, WithinRel(I, textbook));
    CHECK_THAT(c.P_hs + c.P_ret + c.P_fw,
               WithinRel(2e-3 * I * I * (1 + D) + 0.8 * I * (1 - D), textbook));
}

TEST_CASE("cycle: the boundary of discontinuous conduction is I = dI / 2 (textbook)") {
    CycleCase k = nearly_ideal();
    k.mode = CycleMode::diode;
    k.f = 8000;
    const double half_ripple = 0.5 * 22.2 * 0.25 / (8000 * 40e-6);
    drive(k, half_ripple * 1.01);
    CHECK(solve_cycle(k).continuous);
    drive(k, half_ripple * 0.99);
    const Cycle below = solve_cycle(k);
    CHECK_FALSE(below.continuous);
    CHECK(below.conduction_fraction < 1);
}

TEST_CASE("cycle: discontinuous buck law, Erickson, Fundamentals of Power Electronics ch. 5 (M)") {
    // V_out / V_in = 2 / (1 + sqrt(1 + 4 K / D^2)), K = 2 L f / R; here R is E over the current
    const double D = GENERATE(0.1, 0.3, 0.6);
    const double K = GENERATE(0.02, 0.2);
    CycleCase k = nearly_ideal();
    k.mode = CycleMode::diode;
    k.D = D;
    k.R_m = 1e-6;
    const double M = 2 / (1 + std::sqrt(1 + 4 * K / (D * D)));
    k.E = M * k.Voc;
    const Cycle c = solve_cycle(k);
    REQUIRE_FALSE(c.continuous);
    CHECK_THAT(c.i_m_avg, WithinRel(k.E * K / (2 * k.L_m * k.f), textbook));
    // the current falls at E / L: it flows for D V / E of the period
    CHECK_THAT(c.conduction_fraction, WithinRel(D / M, textbook));
    CHECK(c.i_m_min == 0);
}

TEST_CASE(
    "cycle: leads and capacitor by Fourier series, through resonance at 9.4775 kHz (textbook)") {
    // 600 nH and 470 uF resonate at 9.4775 kHz with 35.73 mOhm (D). A motor current without ripple
    // is a square wave to the link: harmonic n has amplitude 2 I sin(pi n D) / (pi n), and the pack
    // takes the share Z_cap / (Z_cap + Z_leads) of it.
    const double f = GENERATE(3e3, 7.5e3, 9.4775e3, 11e3, 16e3, 32e3);
    const double D = GENERATE(0.3, 0.5, 0.8);
    CycleCase k = usual();
    k.mode = CycleMode::active;
    k.L_m = 10;
    k.R_m = 0.05;
    k.L_src = 600e-9;
    k.C = 470e-6;
    k.R_src = 0.01;
    k.R_esr = 0.01;
    k.D = D;
    k.f = f;
    drive(k, 50);
    const Cycle c = solve_cycle(k);
    const double I = c.i_m_avg;
    double source2 = D * I * D * I;
    double capacitor2 = 0;
    for (int n = 1; n <= 4000; ++n) {
        const std::complex<double> jw(0, 2 * pi * n * f);
        const std::complex<double> cap = k.R_esr + 1.0 / (jw * k.C);
        const std::complex<double> leads = k.R_src + jw * k.L_src;
        const double amplitude = 2 * I * std::sin(pi * n * D) / (pi * n);
        source2 += 0.5 * std::norm(amplitude * cap / (cap + leads));
        capacitor2 += 0.5 * std::norm(amplitude * leads / (cap + leads));
    }
    constexpr double truncated = 2e-4;  // harmonics beyond 4000 hold 1e-4 of the square (relative)
    CHECK_THAT(c.i_src_rms, WithinRel(std::sqrt(source2), truncated));
    CHECK_THAT(c.i_c_rms, WithinRel(std::sqrt(capacitor2), truncated));
    const double resonance = 1 / (2 * pi * std::sqrt(k.L_src * k.C));
    CHECK_THAT(resonance, WithinRel(9477.5, 1e-4));
    CHECK_THAT(std::sqrt(k.L_src / k.C), WithinRel(0.03573, 1e-4));
}

TEST_CASE("cycle: step response of leads and capacitor overshoots by 40.0 and 12.0 % (D)") {
    // 600 nH and 470 uF with 20 and 40 mOhm: exp(-pi z / sqrt(1 - z^2)), z = R / 2 sqrt(C / L)
    struct Row {
        double R, overshoot;
    };
    const auto row = GENERATE(Row{0.020, 0.400}, Row{0.040, 0.120});
    Eigen::Matrix2d A;  // current, capacitor voltage; a volt applied
    A << -row.R / 600e-9, -1 / 600e-9, 1 / 470e-6, 0;
    const double w0 = 1 / std::sqrt(600e-9 * 470e-6);
    const double z = 0.5 * row.R * std::sqrt(470e-6 / 600e-9);
    const auto half_swing = make_interval<2>(A, pi / (w0 * std::sqrt(1 - z * z)));
    const Eigen::Vector2d end = half_swing.end({0, 0}, {1 / 600e-9, 0});
    CHECK_THAT(end(1) - 1, WithinAbs(row.overshoot, 5e-4));  // last digit, dimensionless
}

TEST_CASE("cycle: moments of a first-order decay (textbook)") {
    const double tau = 3e-4;
    const double T = GENERATE(1e-6, 1e-4, 5e-3);
    using Scalar = Eigen::Matrix<double, 1, 1>;
    const auto iv = make_interval<1>(Scalar(-1 / tau), T);
    const Scalar x0(7.0);
    const Scalar none(0.0);
    CHECK_THAT(iv.phi(0, 0), WithinRel(std::exp(-T / tau), exact));
    CHECK_THAT(iv.integral(x0, none)(0), WithinRel(-7 * tau * std::expm1(-T / tau), exact));
    CHECK_THAT(moments<1>(iv, x0, none)(0, 0),
               WithinRel(-49 * tau / 2 * std::expm1(-2 * T / tau), exact));
    // driven from rest: x = b tau (1 - exp(-t / tau))
    const Scalar b(2.0);
    const double e = std::exp(-T / tau);
    CHECK_THAT(iv.end(none, b)(0), WithinRel(-2 * tau * std::expm1(-T / tau), exact));
    constexpr double cancelled = 1e-6;  // these closed forms lose digits for short intervals
    CHECK_THAT(iv.integral(none, b)(0), WithinRel(2 * tau * (T - tau * (1 - e)), cancelled));
    if (T > tau) {
        CHECK_THAT(
            moments<1>(iv, none, b)(0, 0),
            WithinRel(4 * tau * tau * (T - 2 * tau * (1 - e) + tau / 2 * (1 - e * e)), cancelled));
    }
}

TEST_CASE("cycle: moments of an undamped swing (textbook)") {
    const double w = 2 * pi * 5000;
    Eigen::Matrix2d A;
    A << 0, w, -w, 0;
    const double T = 0.37e-3;
    const auto iv = make_interval<2>(A, T);
    const Eigen::Vector2d x0(0, 2);
    const Eigen::Vector2d none(0, 0);
    const Eigen::Matrix2d S = moments<2>(iv, x0, none);
    CHECK_THAT(iv.phi(0, 1) * 2, WithinAbs(2 * std::sin(w * T), 1e-11));
    CHECK_THAT(iv.integral(x0, none)(0), WithinRel(2 / w * (1 - std::cos(w * T)), exact));
    CHECK_THAT(S(0, 0), WithinRel(4 * (T / 2 - std::sin(2 * w * T) / (4 * w)), exact));
    CHECK_THAT(S(0, 1), WithinRel(4 * std::sin(w * T) * std::sin(w * T) / (2 * w), exact));
}

TEST_CASE("cycle: moments by balance are those by doubling, however slow a decay is") {
    // Drives as they are, and far beyond any.
    const bool beyond = GENERATE(false, true);
    const double within = beyond ? balance : exact;
    Random r{11};
    const auto any = [&](double low, double high) {
        return beyond ? r.log_uniform(low / 50, 5 * high) : r.log_uniform(low, high);
    };
    for (int i = 0; i < 400; ++i) {
        // Motor, leads and capacitor while the switch is on, in square roots of energy.
        const double L_m = std::sqrt(any(5e-6, 5e-4));
        const double L_s = std::sqrt(any(1e-8, 1e-6));
        const double C = std::sqrt(any(1e-4, 3e-3));
        const double R_m = any(5e-3, 0.5);
        const double R_s = any(2e-3, 0.2);
        const double esr = any(1e-3, 0.03);
        Eigen::Matrix3d A;
        A << -(R_m + esr) / (L_m * L_m), esr / (L_m * L_s), 1 / (L_m * C), esr / (L_m * L_s),
            -(R_s + esr) / (L_s * L_s), -1 / (L_s * C), -1 / (L_m * C), 1 / (L_s * C), 0;
        const double T = any(5e-6, 1.2e-4);
        const Eigen::Vector3d x0(L_m * 50 * r.unit(), L_s * 50 * r.unit(), C * (r.unit() - 0.5));
        INFO(i << ": " << T << " s, " << R_m << ", " << R_s << ", " << esr << " Ohm");
        moments<3>(make_interval<3>(A, T), x0, {10 * r.unit() / L_m, 0, 0}, within);
        const Eigen::Matrix2d pack = A.bottomRightCorner<2, 2>();
        moments<2>(make_interval<2>(pack, T), x0.tail<2>(), {0, 0}, within);
        const Eigen::Matrix<double, 1, 1> coast(A(0, 0));
        moments<1>(make_interval<1>(coast, T), x0.head<1>(),
                   Eigen::Matrix<double, 1, 1>(-10 * r.unit() / L_m), within);
    }
}

TEST_CASE("cycle: full duty is plain direct current (Ohm's law)") {
    CycleCase k = usual();
    k.mode = GENERATE(CycleMode::diode, CycleMode::active);
    k.D = 1;
    k.E = 20;
    const double I = 2.2 / (0.015 + 0.02 + 2e-3);
    const Cycle c = solve_cycle(k, true);
    CHECK_THAT(c.i_m_avg, WithinRel(I, exact));
    CHECK_THAT(c.i_src_rms, WithinRel(I, exact));
    CHECK(c.i_c_rms == 0);
    CHECK(c.P_fw == 0);
    CHECK_THAT(c.P_hs + c.P_ret, WithinRel(2e-3 * I * I, exact));
    CHECK_THAT(c.v_link_min, WithinRel(22.2 - 0.015 * I, exact));
    CHECK(c.i_m_min == c.i_m_max);
}

TEST_CASE("cycle: six-step drive approaches plain conduction as D -> 1") {
    CycleCase k = usual();
    k.E = 20;
    k.mode = GENERATE(CycleMode::diode, CycleMode::active);
    CycleCase full = k;
    full.D = 1;
    const Cycle dc = solve_cycle(full);
    double last = 1e9;
    for (const double off : {1e-2, 1e-3, 1e-4, 1e-6, 1e-9}) {
        k.D = 1 - off;
        const Cycle c = solve_cycle(k);
        // The gap of the current is proportional to what is switched off: (V + V_f) off / R.
        const double gap = std::abs(c.i_m_avg - dc.i_m_avg);
        CHECK(gap < 1.2 * 23 * off / 0.037 + 1e-9);
        CHECK(gap <= last);
        last = gap;
        // 2 R I dI of conduction and V_f I off of freewheel: 148 + 43 W for each unit of off time
        CHECK_THAT(c.P_hs + c.P_ret + c.P_fw, WithinAbs(dc.P_hs + dc.P_ret, 200 * off + 1e-9));
    }
}

TEST_CASE("cycle: zero duty: a diode blocks, active switches brake with -E / R") {
    CycleCase k = usual();
    k.D = 0;
    const Cycle off = solve_cycle(k, true);
    CHECK(off.ok);
    CHECK(off.i_m_rms == 0);
    CHECK(off.conduction_fraction == 0);
    k.mode = CycleMode::active;
    const Cycle brake = solve_cycle(k, true);
    CHECK(brake.ok);
    CHECK_THAT(brake.i_m_avg, WithinRel(-10 / 0.022, exact));
    CHECK(brake.i_src_avg == 0);
    CHECK(brake.energy_residual_rel <= balance);
}

TEST_CASE("cycle: a motor spun faster than the duty asks for brakes only through active switches") {
    CycleCase k = usual();
    k.E = 14;
    CHECK(solve_cycle(k).i_m_avg >= 0);
    k.mode = CycleMode::active;
    const Cycle c = solve_cycle(k);
    CHECK(c.i_m_avg < 0);
    CHECK(c.i_src_avg < 0);  // charges the pack
    CHECK(c.energy_residual_rel <= balance);
}

TEST_CASE("cycle: 20,000 cases, fixed seed: solved, finite, within bounds") {
    Random r{20240101};
    int discontinuous = 0;
    int negative = 0;
    int wrong = 0;
    for (int i = 0; i < 20000; ++i) {
        const CycleCase k = any_case(r);
        const bool extrema = i % 20 == 0;
        const Cycle c = solve_cycle(k, extrema);
        const bool holds = c.ok && c.i_m_rms >= std::abs(c.i_m_avg) * (1 - 1e-12) &&
                           c.i_src_rms >= std::abs(c.i_src_avg) * (1 - 1e-12) &&
                           (k.mode == CycleMode::active || c.i_valley >= 0) &&
                           c.i_m_min <= c.i_m_max && c.v_link_min <= c.v_link_max &&
                           (!extrema || between(c.v_link_min, c.v_link_avg, c.v_link_max));
        wrong += holds ? 0 : 1;
        discontinuous += c.continuous ? 0 : 1;
        negative += c.i_valley < 0 ? 1 : 0;
    }
    CHECK(wrong == 0);
    CHECK(discontinuous > 2000);
    CHECK(negative > 2000);
}

TEST_CASE("cycle: the current over back-EMF is a straight line for as long as it flows") {
    Random r{20261126};
    int on_line = 0;
    int below = 0;
    int wrong = 0;
    for (int i = 0; i < 4000; ++i) {
        const CycleCase k = any_case(r);
        const Circuit circuit(k);
        const std::optional<CurrentLine> line = circuit.current_line(k.Voc);
        const Cycle c = circuit.solve(k.Voc, k.E, false);
        REQUIRE(line);
        const double size = std::abs(line->at_rest) + std::abs(line->slope * k.E);
        const double off = std::abs(line->at(k.E) - c.i_m_avg) / size;
        // through diodes the line ends where the valley is at zero
        wrong += line->holds(k.E) == c.continuous ? 0 : 1;
        wrong += c.continuous && off > exact ? 1 : 0;
        wrong += !c.continuous && line->at(k.E) > c.i_m_avg + exact * size ? 1 : 0;
        on_line += c.continuous ? 1 : 0;
        below += c.continuous ? 0 : 1;
    }
    CHECK(wrong == 0);
    CHECK(on_line > 1000);
    CHECK(below > 300);
}

TEST_CASE("cycle: the line of a switch that stays on is Ohm's law, a blocking diode has none") {
    CycleCase k = usual();
    k.D = 1;
    const double R = k.R_src + k.R_m + 2 * k.R_on;
    for (const CycleMode mode : {CycleMode::diode, CycleMode::active}) {
        k.mode = mode;
        const std::optional<CurrentLine> line = Circuit(k).current_line(25);
        REQUIRE(line);
        CHECK_THAT(line->at(10), WithinRel(15 / R, exact));
        CHECK(line->holds(1e9));
    }
    k.D = 0;
    CHECK_THAT(Circuit(k).current_line(25)->at(10), WithinRel(-10 / (k.R_m + 2 * k.R_on), exact));
    k.mode = CycleMode::diode;
    CHECK_FALSE(Circuit(k).current_line(25));
}

TEST_CASE("cycle: energy closes to 1e-9 in 20,000 cases, fixed seed") {
    Random r{20240102};
    double worst = 0;
    int open = 0;
    CycleCase k_worst;
    for (int i = 0; i < 20000; ++i) {
        const CycleCase k = any_case(r);
        const double residual = solve_cycle(k).energy_residual_rel;
        open += residual <= balance ? 0 : 1;
        if (!(residual <= worst)) {
            worst = residual;
            k_worst = k;
        }
    }
    const CycleCase& k = k_worst;
    CAPTURE(open, worst, k.Voc, k.R_src, k.L_src, k.C, k.R_esr, k.R_m, k.L_m, k.E, k.D, k.f);
    CHECK(open == 0);
}

TEST_CASE("cycle: twice the volts give twice the amperes and four times the watts") {
    Random r{77};
    for (int i = 0; i < 200; ++i) {
        CycleCase k = any_case(r);
        const Cycle one = solve_cycle(k);
        k.Voc *= 2;
        k.E *= 2;
        k.V_f0 *= 2;
        const Cycle two = solve_cycle(k);
        CHECK_THAT(two.i_m_rms, WithinRel(2 * one.i_m_rms, exact));
        CHECK_THAT(two.i_c_rms, WithinRel(2 * one.i_c_rms, exact));
        CHECK_THAT(two.P_fw, WithinRel(4 * one.P_fw, exact));
        CHECK_THAT(two.conduction_fraction, WithinRel(one.conduction_fraction, exact));
    }
}

TEST_CASE("cycle: a circuit ten times as fast at ten times the frequency is the same circuit") {
    Random r{78};
    for (int i = 0; i < 200; ++i) {
        CycleCase k = any_case(r);
        const Cycle slow = solve_cycle(k);
        k.f *= 10;
        k.L_m /= 10;
        k.L_src /= 10;
        k.C /= 10;
        const Cycle fast = solve_cycle(k);
        CHECK_THAT(fast.i_m_avg, WithinAbs(slow.i_m_avg, exact * slow.i_m_rms));
        CHECK_THAT(fast.i_src_rms, WithinRel(slow.i_src_rms, 1e-9));
        CHECK_THAT(fast.v_link_min, WithinRel(slow.v_link_min, exact));
    }
}

TEST_CASE(
    "cycle: a diode without drop is the active bridge as long as the current stays positive") {
    CycleCase k = usual();
    k.V_f0 = 0;
    k.r_d = k.R_on;
    const Cycle diode = solve_cycle(k, true);
    k.mode = CycleMode::active;
    const Cycle active = solve_cycle(k, true);
    CHECK(diode.i_m_avg == active.i_m_avg);
    CHECK(diode.P_fw == active.P_fw);
    CHECK(diode.v_link_max == active.v_link_max);
}

TEST_CASE("sinusoidal: capacitor current against the modulator itself, angle by angle") {
    // Three legs with centred duties 1/2 + M/2 sin: within a PWM period each leg adds its phase
    // current while it is high, so the link current's mean square over the period follows from the
    // overlap of the three duties. Kolar and Round 2006 is the closed form the model uses.
    const double M = GENERATE(0.3, 0.6, 0.9);
    const double I_dc = 40;
    const double phase_peak = std::sqrt(2.0) * std::sqrt(2.0 / 3) * I_dc;
    double mean = 0;
    double square = 0;
    constexpr int turns = 3600;
    for (int n = 0; n < turns; ++n) {
        const double angle = 2 * pi * (n + 0.5) / turns;
        std::array<std::array<double, 2>, 3> leg{};  // duty, current
        for (int p = 0; p < 3; ++p) {
            const double s = std::sin(angle - 2 * pi * p / 3);
            leg[static_cast<size_t>(p)] = {0.5 + 0.5 * M * s, phase_peak * s};
        }
        std::sort(leg.begin(), leg.end());
        // all high, then the two longest, then the longest alone
        const double two = leg[1][1] + leg[2][1];
        mean += (leg[1][0] - leg[0][0]) * two + (leg[2][0] - leg[1][0]) * leg[2][1];
        square +=
            (leg[1][0] - leg[0][0]) * two * two + (leg[2][0] - leg[1][0]) * leg[2][1] * leg[2][1];
    }
    mean /= turns;
    square /= turns;
    CycleCase k = usual();
    k.L_src = 1;  // leads so long that the capacitors carry all the ripple
    k.D = M * std::sqrt(3.0) / 2;
    k.E = k.D * k.Voc - (k.R_m + 2 * k.R_on + k.D * k.D * k.R_src) * I_dc;
    const Cycle c = solve_sinusoidal(k);
    CHECK_THAT(c.i_m_avg, WithinRel(I_dc, exact));
    CHECK_THAT(c.i_src_avg, WithinRel(mean, 1e-6));
    CHECK_THAT(c.i_c_rms, WithinRel(std::sqrt(square - mean * mean), 1e-4));
}

TEST_CASE("sinusoidal: the ripple is a coil's, and never more than its resistance lets through") {
    CycleCase k = usual();
    k.D = 0.6;
    const double R = k.R_m + 2 * k.R_on;
    const double d = 2 / pi * k.D;
    const auto swing_of = [](const Cycle& c) { return c.i_m_max - c.i_m_min; };
    const auto ripple_of = [](const Cycle& c) {
        return std::sqrt(c.i_m_rms * c.i_m_rms - c.i_m_avg * c.i_m_avg);
    };
    k.L_m = 1e-3;  // V d (1 - d) / (f L), triangular (textbook)
    Cycle c = solve_sinusoidal(k);
    CHECK_THAT(swing_of(c), WithinRel(c.v_link_avg * d * (1 - d) / (k.f * k.L_m), 1e-4));
    CHECK_THAT(ripple_of(c), WithinRel(swing_of(c) / std::sqrt(12.0), 1e-4));
    k.L_m = 1e-9;  // no coil at all: V / R while it is on, nothing while it is off (D)
    c = solve_sinusoidal(k);
    CHECK_THAT(swing_of(c), WithinRel(c.v_link_avg / R, 1e-4));
    CHECK_THAT(ripple_of(c), WithinRel(c.v_link_avg / R * std::sqrt(d * (1 - d)), 1e-2));
    // between the two, against the current summed up in short steps until it repeats
    k.L_m = R / (k.f * 2);
    c = solve_sinusoidal(k);
    constexpr int steps = 20000;
    const double dt = 1 / (k.f * steps);
    double i = 0;
    double sum = 0;
    double squares = 0;
    for (int turn = 0; turn < 20; ++turn) {
        sum = squares = 0;
        for (int n = 0; n < steps; ++n) {
            const double V = n < d * steps ? c.v_link_avg : 0;
            const double next = i + dt * (V - R * i) / k.L_m;
            const double middle = 0.5 * (i + next);
            sum += middle / steps;
            squares += middle * middle / steps;
            i = next;
        }
    }
    CHECK_THAT(ripple_of(c), WithinRel(std::sqrt(squares - sum * sum), 1e-3));
}

TEST_CASE("sinusoidal: leads and capacitors share the ripple, and all that is lost is drawn") {
    CycleCase k = usual();
    k.D = 0.6;
    // Without resistances the capacitors carry 1 / |1 - 1 / (w2 L C)| of it at twice the PWM
    // frequency (D).
    k.R_esr = k.R_src = 0;
    k.L_src = 1;
    const double all = solve_sinusoidal(k).i_c_rms;
    k.L_src = 400e-9;
    const double w = 2 * pi * 2 * k.f;
    const double resonance = 1 / (w * w * k.L_src * k.C);
    const Cycle c = solve_sinusoidal(k);
    CHECK_THAT(c.i_c_rms, WithinRel(all / std::abs(1 - resonance), 1e-3));
    // Whatever the capacitors, leads and ripple: pack and what is drawn on top give all that is
    // lost and turned.
    for (const double C : {0.5e-6, 50e-6, 1000e-6}) {
        for (const double R_esr : {0.005, 0.5, 20.0}) {
            CycleCase small = usual();
            small.D = 0.6;
            small.C = C;
            small.R_esr = R_esr;
            const Cycle s = solve_sinusoidal(small);
            const double spent =
                s.P_emf + s.P_R_m + s.P_hs + s.P_ret + s.P_fw + s.P_esr + s.P_R_src;
            CHECK_THAT(s.P_pack + s.P_on_top, WithinRel(spent, 1e-9));
            // No capacitor is hotter than the whole ripple through its share of the loop's
            // resistance and the leads' impedance make it.
            small.L_src = 1;
            const double whole = solve_sinusoidal(small).i_c_rms;
            small.L_src = usual().L_src;
            const double Z_src = std::hypot(small.R_src, 2 * pi * 2 * small.f * small.L_src);
            CHECK(s.P_esr <= whole * whole * Z_src * Z_src / (small.R_src + R_esr) * 1.01);
        }
    }
}

TEST_CASE(
    "sinusoidal: three legs at phase rms lose 2 R I^2, mean of a rectified sine is 2 / pi (D)") {
    CycleCase k = usual();
    k.L_m = 1;
    const Cycle c = solve_sinusoidal(k);
    const double phase_rms = std::sqrt(2.0 / 3) * c.i_m_avg;
    CHECK_THAT(c.P_hs + c.P_ret, WithinRel(3 * k.R_on * phase_rms * phase_rms, 1e-6));
    CHECK_THAT(sine_mean_per_dc, WithinRel(2 / pi * std::sqrt(2.0) * std::sqrt(2.0 / 3), 1e-12));
    CHECK(c.energy_residual_rel <= balance);
}
