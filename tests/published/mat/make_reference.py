"""Remakes the small MAT-files of this folder with SciPy (BSD licence), the reference writer: python3 make_reference.py"""
import os
import numpy as np
from scipy.io import savemat

here = os.path.dirname(os.path.abspath(__file__))
values = {
    "table": np.array([[0.0, 1.5, -2.25], [0.001, 1e-300, 1e300]]),
    "counts": np.array([[-32768, 32767, 0]], dtype=np.int16),
    "wide": np.array([[2**31, 4294967295]], dtype=np.uint32),
    "single": np.array([[0.1]], dtype=np.float32),
    "special": np.array([[np.nan, np.inf, -np.inf, -0.0]]),
    "label": "Rolle 7, größer",
    "run": {"rate": 1000.0, "unit": "rad/s", "lines": np.array([[1024]], dtype=np.int32)},
    "mixed": np.array([np.array([[1.0, 2.0]]), "U-V-W"], dtype=object),
    "cube": np.arange(8.0).reshape(2, 2, 2),
    "empty": np.zeros((0, 3)),
}
savemat(os.path.join(here, "plain.mat"), values)
savemat(os.path.join(here, "compressed.mat"), values, do_compression=True)
