"""`hotband cycle` against ngspice: each case is written as a netlist with ideal switches of the
same R_on and a piecewise-linear diode, started from a rough direct-current guess, and run until it
has settled by itself.

Source: ngspice (circuit simulator), transient analysis of the circuit of the contract.
"""
import os
import re
import subprocess
import tempfile
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from _reference import Checks, program, systems

# Currents (A) and losses (W), each relative to itself: what the contract promises.
CURRENT_REL = 2e-3
LOSS_REL = 2e-3
# The lowest and highest motor current (A) relative to the rms: a minimum may well be zero.
EXTREME_REL = 2e-3
# Link voltage (V) relative to the pack's: the simulator's edges round the corners of the ESR
# step.
VOLTAGE_REL = 1e-3
# Means of the last and the last but one batch of periods: the run has settled.
SETTLED_REL = 2e-4

STEPS = 600        # least number of time steps in a period
SHORT_STEPS = 40  # and in the shorter of on and off time
MEASURED = 4       # periods measured at the end, and again just before
EDGE = 5e-10       # s, rise and fall of the gate signal; switches act at its middle
LEAK = 1e-9        # S across an open switch or diode

BASE = {'mode': 'diode', 'Voc': 22.2, 'R_src': 0.015, 'L_src': 3e-7, 'C': 1e-3, 'R_esr': 8e-3,
        'R_on': 1e-3, 'V_f0': 0.6, 'r_d': 2e-3, 'R_m': 0.02, 'L_m': 2e-5, 'E': 10.0, 'D': 0.5,
        'f': 8000}

CASES = {
    'diode, half duty, 8 kHz': {},
    'diode, 24 kHz': {'f': 24000, 'D': 0.7, 'E': 14.2},
    'diode, 48 kHz, small motor': {'f': 48000, 'Voc': 11.1, 'R_m': 0.1, 'L_m': 4e-5, 'C': 2.2e-4,
                                   'R_esr': 0.03, 'R_on': 6e-3, 'r_d': 8e-3, 'E': 5.0, 'D': 0.6},
    'active, half duty, 8 kHz': {'mode': 'active', 'E': 10.4},
    'active, negative valley': {'mode': 'active', 'E': 10.9, 'L_m': 1.2e-5, 'R_m': 0.03},
    'active, braking': {'mode': 'active', 'E': 12.0, 'D': 0.5, 'f': 16000},
    'diode, discontinuous': {'E': 8.0, 'D': 0.3, 'L_m': 1e-5},
    'diode, deep in discontinuous': {'E': 5.0, 'D': 0.06, 'L_m': 1e-5, 'f': 12000},
    'diode, edge of discontinuous': {'E': 10.95, 'D': 0.5, 'L_m': 1.1e-5},
    # 600 nH and 470 uF ring at 9.48 kHz
    'diode, leads and capacitor in resonance': {'L_src': 6e-7, 'C': 4.7e-4, 'f': 9478,
                                                'R_src': 0.01, 'D': 0.5, 'L_m': 3e-5},
    'active, just below resonance': {'mode': 'active', 'L_src': 6e-7, 'C': 4.7e-4, 'f': 8000,
                                     'R_src': 0.01, 'D': 0.6, 'E': 12.8, 'L_m': 3e-5},
    'active, long leads, small capacitor': {'mode': 'active', 'L_src': 2e-6, 'C': 1e-4, 'f': 12000,
                                            'R_src': 0.03, 'R_esr': 0.02, 'D': 0.55, 'E': 11.5},
    'diode, duty near 0': {'D': 0.015, 'E': 0.6, 'f': 16000},
    'diode, duty near 1': {'D': 0.985, 'E': 20.0, 'f': 16000},
    'active, duty near 0': {'mode': 'active', 'D': 0.02, 'E': 0.1, 'f': 24000},
    'active, duty near 1': {'mode': 'active', 'D': 0.98, 'E': 20.0, 'f': 8000},
    'diode, twelve cells, 200 A class': {'Voc': 50.0, 'R_src': 0.02, 'C': 2e-3, 'R_esr': 4e-3,
                                         'R_on': 4e-4, 'r_d': 6e-4, 'R_m': 0.012, 'L_m': 1e-5,
                                         'E': 36.0, 'D': 0.8, 'f': 12000},
}


def netlist(k, periods):
    T = 1 / k['f']
    V_f = 0 if k['mode'] == 'active' else k['V_f0']
    i_m = (k['D'] * k['Voc'] - k['E'] - (1 - k['D']) * V_f) / (k['R_m'] + 2 * k['R_on'])
    if k['mode'] == 'diode':
        i_m = max(i_m, 0)
    i_s = k['D'] * i_m
    v_c = k['Voc'] - k['R_src'] * i_s
    if k['mode'] == 'active':
        freewheel = f'v(0,sw)*(v(g)>0.5 ? {LEAK} : {1 / k["R_on"]})'
    else:
        freewheel = (f'(v(0,sw)>{k["V_f0"]} ? (v(0,sw)-{k["V_f0"]})*{1 / k["r_d"]} : 0)'
                     f'+v(0,sw)*{LEAK}')
    end = periods * T
    step = min(T / STEPS, k['D'] * T / SHORT_STEPS, (1 - k['D']) * T / SHORT_STEPS)
    early, late = (periods - 2 * MEASURED) * T, (periods - MEASURED) * T
    lines = [
        'one PWM period of a bridge',
        f'Voc oc 0 {k["Voc"]}',
        f'Rsrc oc lead {k["R_src"]}',
        f'Lsrc lead link {k["L_src"]} ic={i_s}',
        'Vic link cap 0',
        f'Resr cap c1 {k["R_esr"]}',
        f'C1 c1 0 {k["C"]} ic={v_c}',
        f'Vg g 0 pulse(0 1 0 {EDGE} {EDGE} {k["D"] * T - EDGE} {T})',
        'Vhs link hs 0',
        f'Bhs hs sw i = v(hs,sw)*(v(g)>0.5 ? {1 / k["R_on"]} : {LEAK})',
        f'Bfw 0 sw i = {freewheel}',
        f'Lm sw m1 {k["L_m"]} ic={i_m}',
        f'Rm m1 m2 {k["R_m"]}',
        f'Ve m2 ret {k["E"]}',
        f'Rret ret 0 {k["R_on"]}',
        f'Bphs phs 0 v = {k["R_on"]}*i(Vhs)*i(Vhs)',
        # freewheel current = motor current less the high-side switch's
        'Bpfw pfw 0 v = v(0,sw)*(i(Lm)-i(Vhs))',
        '.options reltol=1e-5 abstol=1e-6 vntol=1e-6 method=gear maxord=2',
        f'.tran {step} {end} {early} {step} uic',
    ]
    for name, what in {'i_m_avg': 'avg i(Lm)', 'i_m_rms': 'rms i(Lm)', 'i_m_min': 'min i(Lm)',
                       'i_m_max': 'max i(Lm)', 'i_src_avg': 'avg i(Lsrc)',
                       'i_src_rms': 'rms i(Lsrc)', 'i_c_rms': 'rms i(Vic)',
                       'v_link_avg': 'avg v(link)', 'v_link_min': 'min v(link)',
                       'v_link_max': 'max v(link)', 'P_hs': 'avg v(phs)',
                       'P_fw': 'avg v(pfw)'}.items():
        lines.append(f'.meas tran {name.lower()} {what} from={late} to={end}')
    lines.append(f'.meas tran before_m rms i(Lm) from={early} to={late}')
    lines.append(f'.meas tran before_s rms i(Lsrc) from={early} to={late}')
    return '\n'.join(lines + ['.end', ''])


def settling_periods(k):
    """Eight of the slowest time constant: a start that is 20 % off is then 7e-5 off."""
    slowest = max(-1 / np.linalg.eigvals(A).real.max() for A, _ in systems(k)[:2])
    return int(np.ceil(8 * slowest * k['f'])) + 2 * MEASURED


def simulate(k):
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, 'case.cir')
        with open(path, 'w', encoding='ascii') as file:
            file.write(netlist(k, settling_periods(k)))
        run = subprocess.run(['ngspice', '-b', path], capture_output=True, text=True, check=False,
                             cwd=folder)
    found = re.findall(r'^(\w+)\s*=\s*([-+.\deE]+)', run.stdout, re.MULTILINE)
    return {name: float(value) for name, value in found}


def compare(checks, name, k, got, spice):
    if 'before_s' not in spice:
        checks.that(False, f'{name}: ngspice gave no answer')
        return
    for quantity in ('i_m', 'i_src'):
        before = spice[f'before_{quantity[2]}']
        checks.near(f'{name}: settled {quantity}', spice[f'{quantity}_rms'], before,
                    SETTLED_REL * before)
    for key in ('i_m_avg', 'i_m_rms', 'i_src_avg', 'i_src_rms', 'i_c_rms'):
        checks.near(f'{name}: {key}', got[key], spice[key], CURRENT_REL * abs(spice[key]))
    for key in ('i_m_min', 'i_m_max'):
        checks.near(f'{name}: {key}', got[key], spice[key], EXTREME_REL * spice['i_m_rms'])
    for key in ('v_link_avg', 'v_link_min', 'v_link_max'):
        checks.near(f'{name}: {key}', got[key], spice[key], VOLTAGE_REL * k['Voc'])
    want = {
        'P_hs': spice['p_hs'], 'P_fw': spice['p_fw'], 'P_ret': k['R_on'] * spice['i_m_rms']**2,
        'P_esr': k['R_esr'] * spice['i_c_rms']**2, 'P_R_src': k['R_src'] * spice['i_src_rms']**2,
        'P_R_m': k['R_m'] * spice['i_m_rms']**2, 'P_emf': k['E'] * spice['i_m_avg'],
        'P_pack': k['Voc'] * spice['i_src_avg'],
    }
    for key, value in want.items():
        checks.near(f'{name}: {key}', got[key], value, LOSS_REL * abs(value))


def main():
    checks = Checks()
    cases = {name: {**BASE, **change} for name, change in CASES.items()}
    answers = program('cycle', list(cases.values()))
    with ThreadPoolExecutor(2) as pool:
        simulated = list(pool.map(simulate, cases.values()))
    for (name, k), got, spice in zip(cases.items(), answers, simulated):
        compare(checks, name, k, got, spice)
    by_name = dict(zip(cases, answers))
    checks.that(by_name['active, negative valley']['i_m_min'] < -5, 'the valley is negative')
    checks.that(by_name['diode, discontinuous']['conduction'] == 'DCM', 'the current stops')
    checks.finish()


if __name__ == '__main__':
    main()
