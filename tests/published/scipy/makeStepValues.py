"""Reference values from SciPy (a general-purpose library) for the fits and step responses.

Run: python3 tests/published/scipy/makeStepValues.py > tests/published/scipy/stepValues.json
Made with SciPy 1.17.1, NumPy's RandomState(20) for the noise; numbers are rounded to 9 significant digits.
"""

import json
import sys

import numpy as np
from scipy import signal
from scipy.optimize import curve_fit, least_squares
from scipy.stats import t as student


def shown(x):
    if isinstance(x, dict):
        return {k: shown(v) for k, v in x.items()}
    if isinstance(x, (list, tuple, np.ndarray)):
        return [shown(v) for v in x]
    if isinstance(x, (float, np.floating)):
        # -0.0 and tiny rounding residues would differ between machines.
        return 0.0 if abs(x) < 1e-12 else float(f"{x:.9g}")
    return x


out = {}

# Step responses of transfer functions, by scipy.signal.step on a fixed grid.
systems = {
    "first order, T = 0.2": ([1], [0.2, 1]),
    "second order, zeta = 0.3, omega = 20": ([400], [1, 12, 400]),
    "second order, critical, omega = 10": ([100], [1, 20, 100]),
    "second order, T = 0.2 and 0.05": ([1], [0.01, 0.25, 1]),
}
grid = np.linspace(0, 1.5, 301)
out["responses"] = {name: {"numerator": num, "denominator": den, "values": signal.step((num, den), T=grid)[1]} for name, (num, den) in systems.items()}
out["grid"] = {"from": 0, "to": 1.5, "count": 301}


# Ordinary fits with standard errors, by curve_fit on noisy data.
def first(t, y0, a, T):
    return y0 + a * (1 - np.exp(-t / T))


def second(t, y0, a, zeta, omega):
    root = np.sqrt(1 - zeta * zeta)
    return y0 + a * (1 - np.exp(-zeta * omega * t) * (np.cos(root * omega * t) + zeta / root * np.sin(root * omega * t)))


random = np.random.RandomState(20)
t = np.linspace(0, 1, 201)
out["fits"] = {}
for name, f, truth in [("first", first, (3, 10, 0.15)), ("second", second, (-1, 8, 0.4, 25))]:
    y = np.round(f(t, *truth) + 0.2 * random.standard_normal(len(t)), 6)
    popt, pcov = curve_fit(f, t, y, p0=truth, xtol=1e-13, ftol=1e-13, gtol=1e-13)
    out["fits"][name] = {"values": y, "parameters": popt, "errors": np.sqrt(np.diag(pcov))}

# Robust fits, by least_squares with f_scale 0.3, on data with outliers.
y = np.round(first(t, 3, 10, 0.15) + 0.2 * random.standard_normal(len(t)), 6)
y[::17] = np.round(y[::17] + 4, 6)
out["robust"] = {"values": y, "scale": 0.3}
for loss in ("soft_l1", "huber", "cauchy"):
    found = least_squares(lambda p: first(t, *p) - y, (3, 10, 0.15), loss=loss, f_scale=0.3, xtol=1e-14, ftol=1e-14, gtol=1e-14)
    out["robust"][loss] = found.x

# Bounded fit, by least_squares.
found = least_squares(lambda p: first(t, *p) - y, (3, 9, 0.1), bounds=([2.9, 0, 0.01], [3.1, 10, 5]), xtol=1e-14, ftol=1e-14, gtol=1e-14)
out["bounded"] = found.x

# Quantiles of Student's t.
out["studentT"] = [[level, nu, student.ppf(0.5 + level / 2, nu)] for level in (0.5, 0.9, 0.95, 0.99) for nu in (1, 2.5, 10, 28, 1000)]

json.dump(shown(out), sys.stdout, indent=1)
sys.stdout.write("\n")
