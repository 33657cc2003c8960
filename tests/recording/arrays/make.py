# Small MAT-files written by a reference library (SciPy 1.17.1, scipy.io.savemat): `python3 tests/recording/arrays/make.py`
import numpy as np
import scipy.io as sio

here = __file__.rsplit("/", 1)[0]
t = np.arange(60) * 0.01
r = np.random.default_rng(4)
c = np.repeat([0, 1.5, 0], 20)
i = c + r.normal(0, 0.02, 60)
w = np.cumsum(c) * 0.3 + r.normal(0, 0.05, 60)
names = np.array(["t [s]", "iq_ref [A]", "iq [A]", "vel [rad/s]"], dtype=object)
cells = np.empty((2,), dtype=object)
cells[0] = np.column_stack([t, c, i, w])
cells[1] = np.column_stack([t, c, i, -w])
for name, content in {
    "matrix-and-names": {"data": np.column_stack([t, c, i, w]), "names": names},
    "two-rates": {"fast": {"t": t, "iq_ref": c, "iq": i}, "slow": {"t": t[::4], "vel": w[::4]}},
    "runs-in-cells": {"runs": cells},
}.items():
    sio.savemat(f"{here}/{name}.mat", content, do_compression=True)
