"""`hotband cycle` against SciPy on the same circuit: matrix exponentials with Gauss-Legendre
quadrature over many cases, and plain step-by-step integration (DOP853) over a few.

Source: the circuit equations themselves; scipy.linalg.expm and scipy.integrate.solve_ivp.
"""
import numpy as np
from scipy.integrate import solve_ivp

from _reference import Checks, program, steady_state, systems

# Two exact solutions of one linear circuit differ by rounding and the conditioning of the fixed
# point, in relation to the largest current, voltage or power of the case.
EXACT_REL = 1e-8
# Step-by-step integration at rtol 1e-10, gathered over a period.
MARCHED_REL = 1e-6
CONDUCTION = 1e-8  # share of the period
# The reference finds extremes on a grid of 400 steps an interval, so misses a rounded top by up to
# (pi / 400)^2 / 8 of a swing for each oscillation squared.
EXTREME_REL = 1e-3

CURRENTS = ['i_m_avg', 'i_m_rms', 'i_src_avg', 'i_src_rms', 'i_c_rms']
POWERS = ['P_hs', 'P_fw', 'P_ret', 'P_esr', 'P_R_src', 'P_R_m', 'P_emf', 'P_pack']


def random_case(rng):
    """A drive somewhere between a park flyer and a large helicopter (seeded generator)."""
    def spread(low, high):
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    Voc = spread(7, 52)
    D = float(rng.uniform(0.03, 0.98))
    return {
        'mode': 'active' if rng.random() < 0.5 else 'diode', 'Voc': Voc,
        'R_src': spread(2e-3, 0.1), 'L_src': spread(5e-8, 2e-6), 'C': spread(5e-5, 3e-3),
        'R_esr': spread(1e-3, 8e-2), 'R_on': spread(3e-4, 1.5e-2), 'V_f0': spread(0.2, 0.9),
        'r_d': spread(2e-4, 2e-2), 'R_m': spread(5e-3, 0.3), 'L_m': spread(3e-6, 3e-4),
        'E': float(D * Voc * rng.uniform(0.5, 1.02)), 'D': D, 'f': spread(6e3, 6e4),
    }


def compare(checks, name, got, want, rel):
    size = max(abs(want[c]) for c in CURRENTS)
    for key in CURRENTS:
        checks.near(f'{name} {key}', got[key], want[key], rel * size)
    size = max(abs(want[p]) for p in POWERS)
    for key in POWERS:
        checks.near(f'{name} {key}', got[key], want[key], rel * size)
    checks.near(f'{name} v_link_avg', got['v_link_avg'], want['v_link_avg'],
                rel * abs(want['v_link_avg']))


def exact_cases(checks):
    rng = np.random.default_rng(20240611)
    cases = [random_case(rng) for _ in range(300)]
    seen = {'CCM': 0, 'DCM': 0, 'negative': 0}
    for n, (case, got) in enumerate(zip(cases, program('cycle', cases))):
        want = steady_state(case)
        name = f'case {n} {case["mode"]} {want["conduction"]}'
        seen[want['conduction']] += 1
        seen['negative'] += want['edges'][0][0] < 0
        checks.that(got['conduction'] == want['conduction'], f'{name}: said {got["conduction"]}')
        checks.near(f'{name} conduction_fraction', got['conduction_fraction'],
                    want['conduction_fraction'], CONDUCTION)
        compare(checks, name, got, want, EXACT_REL)
        for quantity in ('i_m', 'v_link'):
            swing = want[f'{quantity}_max'] - want[f'{quantity}_min']
            for end in ('min', 'max'):
                key = f'{quantity}_{end}'
                checks.near(f'{name} {key}', got[key], want[key], EXTREME_REL * swing)
        checks.that(got['energy_residual_rel'] <= 1e-9, f'{name}: energy residual')
    checks.that(min(seen.values()) >= 20, f'the cases cover every mode of conduction: {seen}')


def marched_cases(checks):
    """One period from SciPy's own periodic state, integrated step by step with the means inside."""
    rng = np.random.default_rng(7)
    cases = [c for c in (random_case(rng) for _ in range(40)) if c['L_src'] > 2e-7][:8]
    for n, (case, got) in enumerate(zip(cases, program('cycle', cases))):
        want = steady_state(case)
        on, free, rest = systems(case)
        x = want['edges'][0]
        t_on, T = case['D'] / case['f'], 1 / case['f']
        total = np.zeros(5)  # integrals of i_m, i_m^2, i_s, i_s^2, i_c^2
        legs = [(on, t_on, True), (free, T * want['conduction_fraction'] - t_on, False)]
        legs.append((rest, T - legs[0][1] - legs[1][1], False))
        for (A, b), span, is_on in legs:
            if span < 1e-9 * T:
                continue

            def slope(_, y, A=A, b=b, is_on=is_on):
                i_c = y[1] - y[0] if is_on else y[1]
                return np.concatenate([A @ y[:3] + b, [y[0], y[0]**2, y[1], y[1]**2, i_c**2]])

            y = solve_ivp(slope, (0, span), np.concatenate([x, total]), method='DOP853',
                          rtol=1e-10, atol=1e-12).y[:, -1]
            x, total = y[:3], y[3:]
        size = max(abs(want[c]) for c in CURRENTS)
        for key, value in zip(CURRENTS, [total[0] / T, (total[1] / T)**0.5, total[2] / T,
                                         (total[3] / T)**0.5, (total[4] / T)**0.5]):
            checks.near(f'marched {n} {key}', got[key], value, MARCHED_REL * size)
        drift = np.abs(x - want['edges'][0]) / (1 + np.abs(x))
        checks.that(np.max(drift) < 1e-6, f'marched {n} is not periodic: {drift}')


def main():
    checks = Checks()
    exact_cases(checks)
    marched_cases(checks)
    checks.finish()


if __name__ == '__main__':
    main()
