"""Values from SciPy for scipy_values_test.cpp, as numbers on standard output.

sobol COUNT DIMENSIONS   the plain Sobol sequence, point by point
normal                   pairs of p and its standard normal quantile
curves                   for each of 60 curves: knots n, x.., y.., askings m, and m pairs (x, y)
quantiles                for each of 40 samples: n, values.., q, numpy's linear quantile
"""
import sys

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.special import ndtri
from scipy.stats import qmc


def show(*values):
    print(*(repr(float(v)) for v in values))


def curves(rng):
    for n in range(60):
        knots = int(rng.integers(2, 15))
        x = np.cumsum(np.exp(rng.uniform(-3, 2, knots)))
        if n % 3 == 0:
            y = np.cumsum(rng.uniform(0, 1, knots))  # rising
        elif n % 3 == 1:
            y = rng.normal(0, 3, knots)  # up and down
        else:
            y = np.round(rng.uniform(0, 3, knots))  # level stretches
        asked = rng.uniform(x[0], x[-1], 40)
        values = PchipInterpolator(x, y)(asked)
        show(knots, *x, *y, len(asked), *np.column_stack([asked, values]).ravel())


def main():
    rng = np.random.default_rng(5)
    what = sys.argv[1]
    if what == 'sobol':
        count, dimensions = int(sys.argv[2]), int(sys.argv[3])
        show(*qmc.Sobol(dimensions, scramble=False).random(count).ravel())
    elif what == 'normal':
        p = np.concatenate([np.logspace(-11, np.log10(0.5), 400), rng.uniform(0, 1, 400),
                            1 - np.logspace(-11, -2, 100)])
        show(*np.column_stack([p, ndtri(p)]).ravel())
    elif what == 'curves':
        curves(rng)
    elif what == 'quantiles':
        for _ in range(40):
            values = rng.normal(0, 1, int(rng.integers(1, 30)))
            q = rng.uniform(0, 1)
            show(len(values), *values, q, np.quantile(values, q))


if __name__ == '__main__':
    main()
