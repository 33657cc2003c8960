#!/usr/bin/env python3
"""Makes reference.json: poles, margins and step responses of 200 random loops by SciPy and NumPy.

    python3 tests/published/control/make_reference.py            writes reference.json beside this file
    python3 tests/published/control/make_reference.py --check    compares with the stored file, exit status 1 when they differ

Debian packages: python3-scipy (which brings python3-numpy). The loops are of the speed-loop kind, drawn with a fixed
seed: PI controller, plant K/(Js+B), first-order current loop and speed filter, some with a delay, some with a position
gain around them. Nothing here shares code with the library: poles are NumPy's companion-matrix eigenvalues, crossings are
brackets on a dense grid refined by SciPy's Brent method, step responses SciPy's.
"""
import json
import os
import sys

import numpy as np
from scipy import optimize, signal

here = os.path.dirname(os.path.abspath(__file__))
path = os.path.join(here, "reference.json")
rng = np.random.RandomState(20260601)


def log_uniform(low, high):
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def pade(delay, order):
    """Diagonal Pade approximation, coefficients by the factorial formula."""
    from math import factorial as f
    num, den = [], []
    for k in range(order + 1):
        c = f(2 * order - k) * f(order) / (f(2 * order) * f(k) * f(order - k)) * delay ** k
        den.append(c)
        num.append(c * (-1) ** k)
    return num[::-1], den[::-1]


def crossings(fun, grid):
    values = fun(grid)
    found = []
    for k in np.nonzero(np.sign(values[:-1]) * np.sign(values[1:]) < 0)[0]:
        found.append(optimize.brentq(fun, grid[k], grid[k + 1], xtol=1e-13 * grid[k], rtol=1e-14))
    return found


loops = []
while len(loops) < 200:
    inertia = log_uniform(1e-6, 1e-2)
    torque = log_uniform(0.01, 1)
    lag = log_uniform(5e-5, 5e-3)
    viscous = float(rng.choice([0.0, 1.0])) * inertia * log_uniform(0.01, 5)
    current = 1 / (lag * rng.uniform(0.2, 0.8))
    speed_filter = 1 / (lag * rng.uniform(0.2, 0.8)) if rng.uniform() < 0.5 else None
    delay = lag * rng.uniform(0.1, 1) if rng.uniform() < 0.6 else 0.0
    crossover = rng.uniform(0.05, 0.6) / lag
    kp = crossover * inertia / torque
    ki = kp * crossover * rng.uniform(0.02, 0.4)
    position = crossover * rng.uniform(0.05, 0.3) if rng.uniform() < 0.25 else None

    num = np.array([kp, ki]) * torque
    den = np.polymul([inertia, viscous], [1, 0])
    den = np.polymul(den, [1 / current, 1])
    if position is not None:
        # i = (kp + ki/s)*(position*(reference - angle) - speed filtered), angle = speed/s
        f = [1 / speed_filter, 1] if speed_filter else [1]
        # feedback path (kp s + ki)/s * (1/f + position/s) = (kp s + ki)(s + position f)/(s^2 f)
        num = np.polymul(num, np.polyadd([1, 0], np.polymul([position], f)))
        den = np.polymul(np.polymul(den, [1, 0]), f)
    elif speed_filter:
        den = np.polymul(den, [1 / speed_filter, 1])

    def response(w):
        s = 1j * w
        return np.polyval(num, s) / np.polyval(den, s) * np.exp(-s * delay)

    order = 4
    if delay > 0:
        pn, pd = pade(delay, order)
    else:
        pn, pd = [1.0], [1.0]
    characteristic = np.polyadd(np.polymul(num, pn), np.polymul(den, pd))
    poles = np.roots(characteristic)
    if poles.real.max() >= -1e-3 / lag * 0.01:
        continue
    grid = np.logspace(np.log10(1e-4 / lag), np.log10(40 / lag), 12000)
    unit = crossings(lambda w: np.log(abs(response(w))), grid)
    real = [w for w in crossings(lambda w: response(w).imag, grid) if response(w).real < 0]
    below = [w for w in real if abs(response(w)) < 1]
    above = [w for w in real if abs(response(w)) > 1]
    phases = [(np.angle(response(w)) % (2 * np.pi)) - np.pi for w in unit]
    whole = response(grid)
    s_peak_at = grid[np.argmax(1 / abs(1 + whole))]
    s_peak = -optimize.minimize_scalar(lambda x: -1 / abs(1 + response(np.exp(x))),
                                       bounds=(np.log(s_peak_at) - 0.01, np.log(s_peak_at) + 0.01),
                                       method="bounded", options={"xatol": 1e-9}).fun
    t_peak_at = grid[np.argmax(abs(whole / (1 + whole)))]
    t_peak = -optimize.minimize_scalar(lambda x: -abs(response(np.exp(x)) / (1 + response(np.exp(x)))),
                                       bounds=(np.log(t_peak_at) - 0.01, np.log(t_peak_at) + 0.01),
                                       method="bounded", options={"xatol": 1e-9}).fun
    # Step response of the unit negative feedback loop, delay by Pade.
    closed = (np.polymul(num, pn), characteristic)
    span = 8 / crossover
    times = np.linspace(0, span, 21)
    # Time in units of the lag, so that the state matrix is well scaled.
    scaled = [np.array(p) * (1 / lag) ** np.arange(len(p) - 1, -1, -1) for p in closed]
    a, b, c, d = signal.tf2ss(scaled[0] / scaled[1][0], scaled[1] / scaled[1][0])
    _, step = signal.step((a, b, c, d), T=times / lag)

    loops.append({
        "inertia": inertia, "torqueConstant": torque, "viscousFriction": viscous, "kp": kp, "ki": ki,
        "currentBandwidth": current, "speedFilter": speed_filter, "computationDelay": delay, "positionGain": position,
        "numerator": [float(x) for x in num], "denominator": [float(x) for x in den], "padeOrder": order,
        "poles": sorted([[float(p.real), float(p.imag)] for p in poles], key=lambda p: (-p[0], -p[1])),
        "gainMargin": float(min(1 / abs(response(w)) for w in below)) if below else None,
        "gainReduction": float(max(1 / abs(response(w)) for w in above)) if above else 0.0,
        "phaseMargin": float(min(phases, key=abs)),
        "delayMargin": float(min((p % (2 * np.pi)) / w for p, w in zip(phases, unit))),
        "sensitivityPeak": float(s_peak), "complementaryPeak": float(t_peak),
        "span": span, "step": [float(x) for x in step],
    })

document = {
    "about": "200 random speed loops; made by make_reference.py beside this file",
    "numpy": np.__version__, "scipy": __import__("scipy").__version__, "loops": loops,
}
if "--check" in sys.argv:
    stored = json.load(open(path))

    def differ(a, b, where):
        if isinstance(a, dict):
            return [x for k in a for x in differ(a[k], b[k], f"{where}.{k}")]
        if isinstance(a, list):
            if len(a) != len(b):
                return [where]
            return [x for k, (p, q) in enumerate(zip(a, b)) for x in differ(p, q, f"{where}[{k}]")]
        if isinstance(a, float) and isinstance(b, float):
            return [] if abs(a - b) <= 1e-6 * max(abs(a), abs(b)) + 1e-9 else [f"{where}: {a} stored, {b} now"]
        return [] if a == b else [f"{where}: {a} stored, {b} now"]

    wrong = differ(stored["loops"], loops, "loops")
    print("\n".join(wrong[:20]) or "the stored values are the same")
    sys.exit(1 if wrong else 0)
with open(path, "w") as out:
    json.dump(document, out, indent=1)
    out.write("\n")
