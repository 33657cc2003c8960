"""Fits step responses with SciPy's curve_fit; called by fitSpeed.ts.

Arguments: data file (float64, one response after another), first|second, numeric|analytic, samples per response, answer file.
The answer holds the processor seconds per fit, then the time constant (or natural frequency) of every fit.
Start values are what a careful user would take from the data: the mean of the last tenth, the first sample, the time to 63 %,
or for the second order the peak's time and height.
"""

import sys
import time

import numpy as np
from scipy.optimize import curve_fit

path, kind, derivative, samples, answer = sys.argv[1:6]
samples = int(samples)
data = np.fromfile(path).reshape(-1, samples)
t = np.arange(samples) * 0.001


def first(t, y0, a, T):
    return y0 + a * (1 - np.exp(-t / T))


def first_jac(t, y0, a, T):
    e = np.exp(-t / T)
    return np.column_stack((np.ones_like(t), 1 - e, -a * t / T**2 * e))


def second(t, y0, a, zeta, omega):
    root = np.sqrt(max(1 - zeta * zeta, 1e-12))
    wd = omega * root
    return y0 + a * (1 - np.exp(-zeta * omega * t) * (np.cos(wd * t) + zeta / root * np.sin(wd * t)))


def second_jac(t, y0, a, zeta, omega):
    root = np.sqrt(max(1 - zeta * zeta, 1e-12))
    wd = omega * root
    e = np.exp(-zeta * omega * t)
    c = np.cos(wd * t)
    s = np.sin(wd * t)
    g = 1 - e * (c + zeta / root * s)
    d_omega = t * e * s / root
    # d/dzeta by the product rule
    wd_z = -omega * zeta / root
    ratio_z = 1 / root**3
    d_zeta = omega * t * e * (c + zeta / root * s) - e * (-s * wd_z * t + ratio_z * s + zeta / root * c * wd_z * t)
    return np.column_stack((np.ones_like(t), g, a * d_zeta, a * d_omega))


def start_first(y):
    y0 = y[:5].mean()
    end = y[-samples // 10 :].mean()
    n = (y - y0) / (end - y0)
    return [y0, end - y0, max(t[np.argmax(n > 0.632)], 0.005)]


def start_second(y):
    y0 = y[:5].mean()
    end = y[-samples // 10 :].mean()
    n = (y - y0) / (end - y0)
    peak = int(np.argmax(n))
    over = min(max(n[peak] - 1, 0.02), 0.9)
    log = np.log(over)
    zeta = -log / np.sqrt(np.pi**2 + log**2)
    omega = np.pi / max(t[peak], 0.005) / np.sqrt(1 - zeta * zeta)
    return [y0, end - y0, zeta, omega]


model, jac, start, index = (first, first_jac, start_first, 2) if kind == "first" else (second, second_jac, start_second, 3)
options = {"jac": jac} if derivative == "analytic" else {}
out = np.full(len(data) + 1, np.nan)
# The derivative must be that of the model.
p = np.array([1.0, 2.0, 0.3] if kind == "first" else [1.0, 2.0, 0.4, 20.0])
for j in range(len(p)):
    h = np.zeros_like(p)
    h[j] = 1e-6
    numeric = (model(t, *(p + h)) - model(t, *(p - h))) / 2e-6
    assert np.allclose(numeric, jac(t, *p)[:, j], atol=1e-5), j

begin = time.process_time()
for k, y in enumerate(data):
    try:
        popt, pcov = curve_fit(model, t, y, p0=start(y), **options)
        out[k + 1] = popt[index]
    except RuntimeError:
        pass
out[0] = (time.process_time() - begin) / len(data)
out.tofile(answer)
