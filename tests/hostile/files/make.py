"""Makes the HDF5 files beside this script, which point to values in other files: `python3 make.py` (h5py 3.7)."""

import os

import h5py
import numpy as np

os.chdir(os.path.dirname(os.path.abspath(__file__)))
time = np.arange(500) / 1000.0


def begun(name, **how):
    file = h5py.File(name, "w", **how)
    file["time"] = time
    file["time"].attrs["unit"] = "s"
    return file


def external(name, target):
    """External storage: the bytes of any file as numbers."""
    with begun(name, libver="earliest") as file:
        properties = h5py.h5p.create(h5py.h5p.DATASET_CREATE)
        properties.set_external(target, 0, 500)
        space = h5py.h5s.create_simple((500,))
        h5py.h5d.create(file.id, b"speed", h5py.h5t.NATIVE_INT8, space, properties)


def virtual(name, source, raw):
    with begun(name, libver="latest") as file:
        if raw:
            file["raw/values"] = np.sin(time)
        layout = h5py.VirtualLayout(shape=(500,), dtype="f8")
        layout[:] = h5py.VirtualSource(source, "raw/values", shape=(500,))
        file.create_virtual_dataset("speed", layout)


external("external-storage.h5", b"/etc/passwd")
external("external-device.h5", b"/dev/stdin")
virtual("virtual-elsewhere.h5", "/tmp/other.h5", False)
virtual("virtual-own.h5", ".", True)
