"""What is 1/2 V I t wrong about? Edges of a half-bridge simulated with ngspice for switches,
drivers and layouts drawn from the ranges of the prior's basis: their energy against voltage times
current times the edge, where the edge is known as a charge over a gate current (so the prior
estimates it), and where it is known as a scope's edge on the phase (so a pilot tells it).

Source: ngspice (circuit simulator), its VDMOS model; the switches' charges, resistances and
inductances are those of 30-60 V parts in 5 x 6 mm packages (data sheets, from memory).
"""
import os
import random
import subprocess
import tempfile
from concurrent.futures import ThreadPoolExecutor
from math import exp, log

import numpy as np

from _reference import Checks, program

CASES = 32
# What the prior's basis and the field's help say of the formula, and how far this many cases may be
# from it: the spread of 32 logarithms is itself uncertain by an eighth, their middle by 0.07.
CHARGE_SPREAD, SCOPE_SPREAD, SPREAD_APART = 0.39, 0.32, 0.10
SCOPE_FACTOR, FACTOR_APART = 1.4, 0.2
# Of the basis: charge of a switch (nC), driver (A), switches for a rating; even in the logarithm.
CHARGE_nC, DRIVER_A, SWITCHES = (8, 30), (0.1, 1), (1, 2.5)
Z_90 = 1.2816  # standard normal, 90 %
ON = 0.95  # share of the supply that the phase has while its switch is on, at least

OPTIONS = '.options reltol=1e-3 abstol=1e-5 vntol=1e-3 chgtol=1e-13 gmin=1e-10 method=gear maxord=2'


def even(chance, least, most):
    """Even in its logarithm."""
    return exp(chance.uniform(log(least), log(most)))


def draw(chance):
    """A switch and what surrounds it: SI units."""
    most = even(chance, 0.8e-9, 3e-9)
    switch = {'Vto': chance.uniform(1.8, 3.2), 'Kp': even(chance, 60, 250),
              'Rd': even(chance, 1e-3, 5e-3), 'Rs': 1e-6, 'Rg': even(chance, 0.5, 2.5),
              'Cgs': even(chance, 1.5e-9, 5e-9), 'Cgdmax': most,
              'Cgdmin': most * even(chance, 0.04, 0.15), 'a': chance.uniform(0.3, 1.0),
              'Cjo': even(chance, 1e-9, 4e-9), 'm': 0.5, 'Vj': 0.7, 'Is': 1e-10, 'N': 1.1,
              'Rb': 2e-3, 'Tt': 0}
    return {'switch': switch, 'V': even(chance, 11, 50), 'I': even(chance, 5, 40),
            'gate_A': even(chance, *DRIVER_A), 'drive_V': chance.choice([10, 12]),
            'off_share': even(chance, 0.25, 1), 'source_H': even(chance, 0.2e-9, 2e-9),
            'loop_H': even(chance, 5e-9, 25e-9)}


def simulate(lines, step, end, wanted):
    """Traces of `wanted` over time, the time first."""
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, 'case.cir')
        with open(path, 'w', encoding='ascii') as file:
            file.write('\n'.join(['an edge', *lines, OPTIONS, '.control',
                                  f'tran {step} {end} 0 {step}', f'wrdata trace.txt {wanted}',
                                  'quit', '.endc', '.end', '']))
        subprocess.run(['ngspice', '-b', path], capture_output=True, check=False, cwd=folder)
        columns = np.loadtxt(os.path.join(folder, 'trace.txt')).T
    return [columns[0], *columns[1::2]]


def model(switch):
    return '.model SWITCH VDMOS nchan ' + ' '.join(f'{k}={v}' for k, v in switch.items())


def first(holds):
    return int(np.argmax(holds))


def miller(switch, V, I):
    """Miller charge (C) and plateau (V), measured as a data sheet has it: a constant gate current
    into a switch that takes over an inductive load."""
    gate_A = 1e-3
    t, gate, drain = simulate(
        [model(switch), f'Vd rail 0 {V}', f'Il rail d {I}', 'Dc d rail CLAMP',
         '.model CLAMP D Is=1e-14 N=0.01 Rs=1e-6', 'M1 d g 0 SWITCH',
         f'Ig 0 g pulse(0 {gate_A} 1e-6 1e-9 1e-9 1 2)'], 5e-8, 4e-4, 'v(g) v(d)')
    begin, end = first(drain < 0.97 * V), first(drain < max(0.1 * V, 2 * switch['Rd'] * I))
    return (t[end] - t[begin]) * gate_A, gate[first(drain < 0.5 * V)]


def edges(case, on_ohm, off_ohm):
    """Energy (J) of one turn-on and one turn-off beyond what is lost between them, and the two
    edges (s) of the phase's voltage, from 10 to 90 % and stretched to the whole."""
    switch, V, I = case['switch'], case['V'], case['I']
    gate_s = (switch['Cgs'] + switch['Cgdmax']) * (max(on_ohm, off_ohm) + switch['Rg'])
    T = 30 * gate_s + 5e-7
    step = min(1e-9, gate_s / 40)
    t, phase, supply, drive = simulate(
        [model(switch), f'Vin in 0 {V}', f'L1 in d {case["loop_H"]}', 'R1 in d 5',
         'M1 d g s SWITCH', f'L2 s sw {case["source_H"]}', 'R2 s sw 50',
         f'Bg drive g I=v(drive,g)>0 ? v(drive,g)/{on_ohm} : v(drive,g)/{off_ohm}',
         f'Vg drive sw pulse(0 {case["drive_V"]} {T / 2} 1e-9 1e-9 {T} 1)',
         'M2 sw g2 0 SWITCH', 'R3 g2 0 1', f'Il sw 0 {I}'],
        step, 2 * T, 'v(sw) i(vin) v(drive,sw)')
    lost = -V * supply - I * phase
    at = [first(t > share * T) for share in (0.45, 1.45)]
    on, off = first(phase > V / 2), at[1] + first(phase[at[1]:] < V / 2)
    between = lost[at[0]] * (t[on] + t[-1] - t[off]) + lost[at[1]] * (t[off] - t[on])

    def crossing(start, sign):
        low, high = sorted((start + first(sign * (phase[start:] - share * V) > 0)
                            for share in (0.1, 0.9)))
        return (t[high] - t[low]) / 0.8

    settled = phase[at[1]] > ON * V and phase[-1] < 0 and drive[at[1]] > 0
    return (float(np.trapz(lost, t) - between), crossing(at[0], 1), crossing(at[1], -1), settled)


def output_energy(switch, V):
    """What charging and discharging the output capacitance takes (J): a loss term of its own."""
    v = np.linspace(0, V, 400)
    return V * float(np.trapz(switch['Cjo'] / np.sqrt(1 + v / switch['Vj']), v))


def ratios(case):
    """Energy over V I t, t from the charge and from the phase's edges; None for a switch whose
    charge is out of the basis's range, or whose driver would need no resistor."""
    switch = case['switch']
    charge, plateau = miller(switch, 20 if case['V'] < 25 else 40, 20)
    on_ohm = (case['drive_V'] - plateau) / case['gate_A'] - switch['Rg']
    if not CHARGE_nC[0] <= 1e9 * charge <= CHARGE_nC[1] or on_ohm <= 0:
        return None
    energy, rise, fall, settled = edges(case, on_ohm, on_ohm * case['off_share'])
    overlap = energy - output_energy(switch, case['V'])
    volt_amps = case['V'] * case['I']
    return (overlap / (volt_amps * charge / case['gate_A']),
            overlap / (volt_amps * (rise + fall) / 2), settled)


SETUP = {'hotband': 1, 'pack': {'cells': 6, 'capacity_mAh': 5000}, 'motor': {'kv_rpm_per_V': 400},
         'load': {'full_throttle_A': 45},
         'flight': {'parts': [{'throttle_pct': 70, 'seconds': 60}]}}


def believed(**told):
    """The 80 % range (ns) that the program believes of an edge, told or not."""
    answer = program('advise', {**SETUP, 'esc': {'rating_A': 60, 'pwm_Hz': 16000, **told}})
    edge = next(a for a in answer['assumptions'] if a['key'] == 'esc.transition_ns')
    return edge['low'], edge['high']


def main():
    checks = Checks()
    chance = random.Random(11)
    found = []
    with ThreadPoolExecutor(2) as pool:
        while len(found) < CASES:
            found += [r for r in pool.map(ratios, [draw(chance) for _ in range(16)]) if r]
    found = np.array(found[:CASES])
    checks.that(found[:, 2].all(), 'every edge ends within its half of the simulated time')
    by_charge, by_scope = np.log(found[:, 0]), np.log(found[:, 1])
    checks.near('spread of 1/2 V I t, t from a charge', by_charge.std(), CHARGE_SPREAD,
                SPREAD_APART)
    checks.near("spread of 1/2 V I t, t from a scope's edge", by_scope.std(), SCOPE_SPREAD,
                SPREAD_APART)
    checks.near("overlap over a scope's edge", exp(np.median(by_scope)), SCOPE_FACTOR, FACTOR_APART)

    low, high = believed()
    ranges = [log(most / least) / 12**0.5 for least, most in (CHARGE_nC, DRIVER_A, SWITCHES)]
    spread = np.hypot.reduce([CHARGE_SPREAD, *ranges])
    checks.near('spread of an edge that nobody told', log(high / low) / 2 / Z_90, spread, 0.01)
    low, high = believed(transition_ns=100)
    held = np.mean([low < 100 / SCOPE_FACTOR * r < high for r in found[:, 1]])
    checks.that(0.7 <= held <= 0.95, f'{held:.2f} of the energies lie in the band of a told edge')
    print(f'charge: {exp(np.median(by_charge)):.2f}, spread {by_charge.std():.2f}; scope: '
          f'{exp(np.median(by_scope)):.2f}, spread {by_scope.std():.2f}')
    checks.finish()


if __name__ == '__main__':
    main()
