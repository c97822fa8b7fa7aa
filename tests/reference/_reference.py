"""What the reference scripts share: the program under test, counted checks, and one PWM period of
the bridge's circuit solved with SciPy.

The circuit (contract, `hotband cycle`): pack Voc behind R_src, L_src; link capacitor C behind
R_esr; high-side switch R_on; freewheel path a second R_on (active) or a diode V_f0 + r_d i; return
switch R_on; motor R_m, L_m, E. States: i_m motor, i_s pack, v_c capacitor.
"""
import json
import os
import subprocess
import sys

import numpy as np
from scipy.linalg import expm
from scipy.optimize import brentq


def program(command, cases):
    """The program's answers to an array of cases."""
    run = subprocess.run([os.environ['HOTBAND_PROGRAM'], command, '-'], input=json.dumps(cases),
                         capture_output=True, text=True, check=False)
    if run.returncode != 0:
        sys.exit(f'hotband {command} failed: {run.stderr}')
    return json.loads(run.stdout)


class Checks:
    """Counts comparisons; one line for each that fails."""

    def __init__(self):
        self.passed = 0
        self.failed = 0

    def that(self, holds, text):
        if holds:
            self.passed += 1
        else:
            self.failed += 1
            print('FAILED', text)

    def near(self, name, got, want, tolerance):
        """|got - want| <= tolerance, in the unit of the quantity; a NaN fails."""
        self.that(abs(got - want) <= tolerance,
                  f'{name}: {got:.9g}, reference {want:.9g}, apart by {got - want:.3g}, '
                  f'tolerance {tolerance:.3g}')

    def finish(self):
        print(f'{self.passed} passed, {self.failed} failed')
        sys.exit(1 if self.failed else 0)


def systems(k):
    """(A, b) with the high-side switch on, freewheeling, and with the motor's current at rest."""
    esr, Lm, Ls, C = k['R_esr'], k['L_m'], k['L_src'], k['C']
    on = (np.array([[-(k['R_m'] + 2 * k['R_on'] + esr) / Lm, esr / Lm, 1 / Lm],
                    [esr / Ls, -(k['R_src'] + esr) / Ls, -1 / Ls],
                    [-1 / C, 1 / C, 0]]),
          np.array([-k['E'] / Lm, k['Voc'] / Ls, 0]))
    V_f, R_f = (0, k['R_on']) if k['mode'] == 'active' else (k['V_f0'], k['r_d'])
    pack = [[0, -(k['R_src'] + esr) / Ls, -1 / Ls], [0, 1 / C, 0]]
    free = (np.array([[-(k['R_m'] + k['R_on'] + R_f) / Lm, 0, 0]] + pack),
            np.array([-(k['E'] + V_f) / Lm, k['Voc'] / Ls, 0]))
    rest = (np.array([[0, 0, 0]] + pack), np.array([0, k['Voc'] / Ls, 0]))
    return on, free, rest


def flow(system, t):
    """(Phi, g) of x(t) = Phi x(0) + g."""
    A, b = system
    M = np.zeros((4, 4))
    M[:3, :3] = A * t
    M[:3, 3] = b * t
    Z = expm(M)
    return Z[:3, :3], Z[:3, 3]


GRID = 400  # steps an interval is walked in for its extremes
NODES, WEIGHTS = np.polynomial.legendre.leggauss(10)


def samples(system, x0, T):
    """States and weights that integrate any smooth function of the state over the interval."""
    A, _ = system
    panels = max(1, int(np.ceil(np.max(np.abs(np.linalg.eigvals(A))) * T)))
    h = T / panels
    hop = flow(system, h)
    inside = [flow(system, 0.5 * h * (1 + n)) for n in NODES]
    xs, ws = [], []
    x = x0
    for _ in range(panels):
        for (Phi, g), w in zip(inside, WEIGHTS):
            xs.append(Phi @ x + g)
            ws.append(0.5 * h * w)
        x = hop[0] @ x + hop[1]
    return np.array(xs), np.array(ws)


def steady_state(k):
    """The periodic steady state: means, mean squares and powers by Gauss-Legendre quadrature."""
    on, free, rest = systems(k)
    t_on, t_off = k['D'] / k['f'], (1 - k['D']) / k['f']
    P1, g1 = flow(on, t_on)
    P2, g2 = flow(free, t_off)
    x0 = np.linalg.solve(np.eye(3) - P2 @ P1, P2 @ g1 + g2)
    parts = [(free, t_off)]
    continuous = True
    if k['mode'] == 'diode' and x0[0] < 0:
        continuous = False
        # the current starts at zero, whatever the pack loop does; that loop is periodic by itself
        Pr, gr = flow(rest, t_off)
        inner = slice(1, 3)
        x0 = np.zeros(3)
        x0[inner] = np.linalg.solve(np.eye(2) - Pr[inner, inner] @ P1[inner, inner],
                                    Pr[inner, inner] @ g1[inner] + gr[inner])
        x1 = P1 @ x0 + g1

        def current(t):
            Phi, g = flow(free, t)
            return (Phi @ x1 + g)[0]

        t_zero = brentq(current, 0, t_off, xtol=1e-18, rtol=1e-14)
        parts = [(free, t_zero), (rest, t_off - t_zero)]
    mean = {}
    least = {'i_m': np.inf, 'v_link': np.inf}
    most = {'i_m': -np.inf, 'v_link': -np.inf}

    def walk(system, x, T, is_on):
        """Extremes on a fine grid, both ends included."""
        Phi, g = flow(system, T / GRID)
        for n in range(GRID + 1):
            i_c = x[1] - x[0] if is_on else x[1]
            for name, value in (('i_m', x[0]), ('v_link', x[2] + k['R_esr'] * i_c)):
                least[name] = min(least[name], value)
                most[name] = max(most[name], value)
            x = Phi @ x + g

    def add(name, values, weights):
        mean[name] = mean.get(name, 0.0) + k['f'] * float(np.dot(values, weights))

    V_f, R_f = (0, k['R_on']) if k['mode'] == 'active' else (k['V_f0'], k['r_d'])
    x = x0
    edges = [x0]
    for place, (system, T) in enumerate([(on, t_on)] + parts):
        xs, ws = samples(system, x, T)
        walk(system, x, T, place == 0)
        i_m, i_s, v_c = xs.T
        i_c = i_s - i_m if place == 0 else i_s
        add('i_m', i_m, ws)
        add('i_m2', i_m**2, ws)
        add('i_s', i_s, ws)
        add('i_s2', i_s**2, ws)
        add('i_c2', i_c**2, ws)
        add('v_link', v_c + k['R_esr'] * i_c, ws)
        add('P_hs' if place == 0 else 'P_fw',
            k['R_on'] * i_m**2 if place == 0 else V_f * i_m + R_f * i_m**2, ws)
        Phi, g = flow(system, T)
        x = Phi @ x + g
        edges.append(x)
    conduction = 1.0 if continuous else k['D'] + parts[0][1] * k['f']
    return {
        'conduction': 'CCM' if continuous else 'DCM', 'conduction_fraction': conduction,
        'i_m_avg': mean['i_m'], 'i_m_rms': mean['i_m2']**0.5,
        'i_src_avg': mean['i_s'], 'i_src_rms': mean['i_s2']**0.5, 'i_c_rms': mean['i_c2']**0.5,
        'v_link_avg': mean['v_link'], 'P_hs': mean['P_hs'], 'P_fw': mean['P_fw'],
        'P_ret': k['R_on'] * mean['i_m2'], 'P_esr': k['R_esr'] * mean['i_c2'],
        'P_R_src': k['R_src'] * mean['i_s2'], 'P_R_m': k['R_m'] * mean['i_m2'],
        'P_emf': k['E'] * mean['i_m'], 'P_pack': k['Voc'] * mean['i_s'], 'edges': edges,
        'i_m_min': least['i_m'], 'i_m_max': most['i_m'],
        'v_link_min': least['v_link'], 'v_link_max': most['v_link'],
    }
