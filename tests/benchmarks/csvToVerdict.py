"""The job of csvToVerdict.ts as it is usually written with pandas and SciPy: read each recording, find the steps of the command, fit a
first-order response to each, take friction and inertia from a regression on current, speed and acceleration, check speed against
position, and judge each trial by rules. No tricks for speed and no waste: vectorised throughout, one pass over each file."""
import json
import os
import sys

import numpy as np
import pandas as pd
from scipy.optimize import curve_fit
from scipy.signal import savgol_filter


def step(t, gain, tau, start):
    return start + gain * (1 - np.exp(-t / tau))


def judge(path, facts):
    table = pd.read_csv(path, usecols=list(range(7)))
    time = table["time [s]"].to_numpy()
    command = table["i_cmd [A]"].to_numpy()
    current = table["i_meas [A]"].to_numpy()
    speed = table["speed [rev/min]"].to_numpy() * 2 * np.pi / 60
    position = table["position [counts]"].to_numpy() * 2 * np.pi / (4 * facts["encoder"]["lines"])
    reference = table["speed_cmd [rev/min]"].to_numpy() * 2 * np.pi / 60
    period = np.median(np.diff(time))
    is_speed = np.isfinite(reference)
    changed = np.flatnonzero(np.diff(np.where(is_speed, reference, np.nan_to_num(command))) != 0) + 1
    edges = np.concatenate([[0], changed, [len(time)]])
    # A loop's command moves all the time: steps are taken where the reference, or a held command, jumps and stays.
    edges = np.array([e for k, e in enumerate(edges) if k == 0 or e - edges[k - 1] > 0.2 / period or e == len(time)])
    fits = []
    verdicts = []
    for a, b in zip(edges[:-1], edges[1:]):
        if b - a < 100:
            continue
        t = time[a:b] - time[a]
        w = speed[a:b]
        level = np.nanmean(reference[a:b]) if is_speed[a:b].any() else np.nanmean(command[a:b])
        if not np.isfinite(level) or abs(level) < 1e-9:
            continue
        try:
            values, covariance = curve_fit(step, t, w, p0=[w[-1] - w[0], max(t[-1] / 5, 1e-3), w[0]], maxfev=2000)
            fits.append((values, np.sqrt(np.diag(covariance))))
        except RuntimeError:
            fits.append(None)
        end = np.mean(w[-len(w) // 5:])
        travel = abs(position[b - 1] - position[a])
        if travel < np.pi / 2 and abs(end) < 1:
            verdicts.append("blocked")
        elif is_speed[a:b].any():
            error = abs(end - level)
            verdicts.append("tracking" if error < 0.1 * abs(level) else "runaway")
        else:
            verdicts.append("tracking" if end * level > 0 else "against")
    # Friction and inertia over the torque constant by regression, where the shaft turned.
    smooth = savgol_filter(position, 51, 2, deriv=1, delta=period)
    acceleration = savgol_filter(position, 51, 2, deriv=2, delta=period)
    moving = np.abs(smooth) > 5
    constants = None
    if moving.sum() > 1000:
        design = np.column_stack([acceleration[moving], smooth[moving], np.sign(smooth[moving])])
        constants, *_ = np.linalg.lstsq(design, current[moving], rcond=None)
    # Logged speed against the derivative of position.
    ratio = float(np.dot(smooth, speed) / max(np.dot(smooth, smooth), 1e-12))
    return {"path": path, "verdicts": verdicts, "fits": len(fits), "constants": constants, "ratio": ratio}


count = 0
for folder in sys.argv[1:]:
    with open(os.path.join(folder, "datapackage.json"), encoding="utf-8") as text:
        package = json.load(text)
    for resource in package["resources"]:
        judge(os.path.join(folder, resource["path"]), package["shaftwise"])
        count += 1
print(count, "recordings")
