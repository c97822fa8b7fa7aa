"""`hotband heat` against SciPy: the same three nodes, air and plate correlations written down again
from their sources and integrated with an implicit method.

Sources: US Standard Atmosphere 1976 (viscosity, conductivity); Churchill and Chu 1975 (vertical
plate, all Rayleigh numbers); Blasius plate 0.664 Re^1/2 Pr^1/3; CODATA 2018 (Stefan-Boltzmann, from
memory); scipy.integrate.solve_ivp (Radau).
"""
import numpy as np
from scipy.integrate import solve_ivp

from _reference import Checks, program

MARCH_K = 1e-4   # K, what heat.hpp promises for the whole march (the contract asks for 0.05 K)
STEADY_K = 0.01  # K, a march far beyond the slowest time constant against the root of the balance


def air(celsius, pressure):
    T = celsius + 273.15
    density = pressure / (287.05287 * T)
    viscosity = 1.458e-6 * T**1.5 / (T + 110.4)
    conductivity = 2.64638e-3 * T**1.5 / (T + 245.4 * 10**(-12 / T))
    return viscosity / density, viscosity * 1006 / conductivity, conductivity


def given_off(k, part, Ts):
    """W from the case to the air."""
    Ta = part['T_amb']
    film = 0.5 * (Ts + Ta)
    nu, Pr, conductivity = air(film, k['p'])
    rayleigh = 9.80665 / (film + 273.15) * abs(Ts - Ta) * k['H']**3 * Pr / nu**2
    natural = (0.825 + 0.387 * rayleigh**(1 / 6)
               / (1 + (0.492 / Pr)**(9 / 16))**(8 / 27))**2 * conductivity / k['H']
    forced = 0.664 * (part['v'] * k['L'] / nu)**0.5 * Pr**(1 / 3) * conductivity / k['L']
    radiated = k['eps'] * 5.670374419e-8 * ((Ts + 273.15)**4 - (Ta + 273.15)**4)
    return k['A'] * ((natural**3 + forced**3)**(1 / 3) * (Ts - Ta) + radiated)


def slope(k, part, T):
    Tj, Tb, Ts = T
    P = part['P0'] * (k['a'] + k['b'] * (1 + k['alpha'] * (Tj - 25)))
    return np.array([(P - k['Gjb'] * (Tj - Tb)) / k['Cj'],
                     (k['Gjb'] * (Tj - Tb) - k['Gbs'] * (Tb - Ts)) / k['Cb'],
                     (k['Gbs'] * (Tb - Ts) - given_off(k, part, Ts)) / k['Cs']])


def march(k):
    """Temperatures at the asked times, one integration for each part of the schedule."""
    rows = {}
    T, t = np.array(k['T_init'], float), 0.0
    for part in k['schedule']:
        inside = sorted({s for s in k['times'] if t <= s <= part['t_end']} | {part['t_end']})
        run = solve_ivp(lambda _, y, part=part: slope(k, part, y), (t, part['t_end']), T,
                        method='Radau', t_eval=inside, rtol=1e-9, atol=1e-8)
        for s, row in zip(inside, run.y.T):
            rows[s] = row
        T, t = run.y[:, -1], part['t_end']
    return [rows[s] for s in k['times']]


BASE = {'Cj': 1.4, 'Cb': 40.0, 'Cs': 60.0, 'Gjb': 3.0, 'Gbs': 4.0, 'A': 0.016, 'H': 0.06, 'L': 0.08,
        'p': 101325, 'eps': 0.85, 'a': 0.4, 'b': 0.6, 'alpha': 0.005,
        'schedule': [{'t_end': 300, 'P0': 25, 'v': 10, 'T_amb': 25}], 'T_init': [25, 25, 25],
        'times': [0, 1, 5, 20, 60, 150, 300]}


def part(t_end, P0, v, T_amb=25):
    return {'t_end': t_end, 'P0': P0, 'v': v, 'T_amb': T_amb}


CASES = {
    'hold in moving air': {},
    'hold in still air': {'schedule': [part(300, 18, 0)]},
    'starts hot, cools': {'schedule': [part(900, 0, 0)], 'T_init': [95, 90, 80],
                          'times': [1, 30, 120, 400, 900]},
    'cools below air that is warm': {'schedule': [part(400, 0, 3, 40)], 'T_init': [10, 10, 10],
                                     'times': [10, 100, 400]},
    'throttle in bursts': {'schedule': [part(20, 60, 15), part(60, 12, 8), part(80, 60, 15),
                                        part(140, 12, 8)],
                           'times': [20, 20.5, 21, 60, 61, 80, 80.1, 140]},
    'air stops': {'schedule': [part(100, 30, 12), part(101, 30, 0), part(400, 0, 0)],
                  'times': [100, 101, 110, 200, 400]},
    'small and quick': {'Cj': 0.09, 'Cb': 2.8, 'Cs': 3.4, 'Gjb': 0.17, 'Gbs': 0.25, 'A': 0.0012,
                        'H': 0.015, 'L': 0.025, 'schedule': [part(200, 4, 6)],
                        'times': [0.1, 0.5, 2, 10, 50, 200]},
    'nearly massless junction': {'Cj': 0.002, 'times': [0.001, 0.01, 1, 30, 300]},
    'junction bound to the board': {'Gjb': 1e7, 'T_init': [60, 20, 25],
                                    'times': [1e-7, 1, 30, 300]},
    'board bound to the case': {'Gbs': 1e7, 'T_init': [60, 40, 20], 'times': [0.01, 1, 30, 300]},
    'mountain': {'p': 70000, 'schedule': [part(300, 25, 10, 5)]},
    'desert': {'schedule': [part(500, 25, 4, 45)], 'T_init': [60, 60, 60],
               'times': [1, 10, 100, 500]},
    'loss rises steeply': {'a': 0, 'b': 1, 'alpha': 0.012, 'schedule': [part(600, 22, 2)],
                           'times': [10, 100, 300, 600]},
    'constant loss': {'a': 1, 'b': 0, 'alpha': 0},
    'mirror-bright surface': {'eps': 0.0, 'schedule': [part(300, 15, 0)]},
    'fast air': {'schedule': [part(300, 60, 35)]},
}


def random_case(rng):
    scale = np.exp(rng.uniform(np.log(8), np.log(220)))  # A, the class of ESC
    parts, t = [], 0.0
    for _ in range(int(rng.integers(1, 6))):
        t += float(rng.uniform(2, 120))
        parts.append(part(t, float(scale * rng.uniform(0, 0.35)), float(rng.uniform(0, 25)),
                          float(rng.uniform(-10, 45))))
    return {'Cj': 0.009 * scale, 'Cb': 0.27 * scale, 'Cs': 0.33 * scale,
            'Gjb': scale / float(rng.uniform(20, 90)), 'Gbs': scale / float(rng.uniform(20, 80)),
            'A': 1.2e-4 * scale, 'H': float(rng.uniform(0.01, 0.08)),
            'L': float(rng.uniform(0.02, 0.12)), 'p': float(rng.uniform(70e3, 103e3)),
            'eps': float(rng.uniform(0.1, 0.95)), 'a': 0.3, 'b': 0.7, 'alpha': 0.005,
            'schedule': parts, 'T_init': [float(rng.uniform(0, 60))] * 3,
            'times': sorted(float(s) for s in rng.uniform(0, t, 6))}


def main():
    checks = Checks()
    cases = {name: {**BASE, **change} for name, change in CASES.items()}
    rng = np.random.default_rng(2024)
    cases.update({f'drawn case {n}': random_case(rng) for n in range(25)})
    for (name, k), got in zip(cases.items(), program('heat', list(cases.values()))):
        checks.that(len(got['T']) == len(k['times']), f'{name}: one row for each time')
        for s, row, want in zip(k['times'], got['T'], march(k)):
            for node, value, reference in zip(('junction', 'board', 'case'), row, want):
                checks.near(f'{name}: {node} at {s:g} s', value, reference, MARCH_K)

    # Held for three hours: every node against the balance P = heat given off, found by bisection.
    long_hold = {**BASE, 'schedule': [part(10800, 25, 10)], 'times': [10800]}
    Tj, Tb, Ts = program('heat', [long_hold])[0]['T'][0]
    low, high = 25.0, 200.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        off = given_off(long_hold, long_hold['schedule'][0], middle)
        junction = middle + off / BASE['Gbs'] + off / BASE['Gjb']
        heat = 25 * (BASE['a'] + BASE['b'] * (1 + BASE['alpha'] * (junction - 25)))
        low, high = (middle, high) if heat > off else (low, middle)
    checks.near('steady case', Ts, low, STEADY_K)
    checks.near('steady board', Tb, low + off / BASE['Gbs'], STEADY_K)
    checks.near('steady junction', Tj, low + off / BASE['Gbs'] + off / BASE['Gjb'], STEADY_K)
    checks.finish()


if __name__ == '__main__':
    main()
