"""The process that reads HDF5 and MATLAB files for ``apart``: bytes on standard input, arrays on the output.

The compiled parts of h5py and scipy can run in circles or crash on a damaged file, where nothing in the
same process could stop them. So they run in a process of their own, with limits on time and memory.
"""

from __future__ import annotations

import io
import json
import sys
import warnings
from collections.abc import Callable
from typing import Any

import numpy as np

from spectra.errors import FormatError
from spectra.reading.numbers import shorten
from spectra.reading.unpacking import MOST_UNPACKED
from spectra.units import FloatArray

_CPU_SECONDS = 3

_MOST_MEMORY = 1 << 30

_MOST_DATASETS = 2000

Arrays = tuple[dict[str, FloatArray], dict[str, str]]


def main(kind: str) -> int:
    """Read the file on standard input; status 1 and a message on standard error if it cannot be read."""
    _limit_resources()
    try:
        arrays, units = KINDS[kind](sys.stdin.buffer.read())
    except Exception as error:  # the libraries report damage in many ways; the parent words the message
        sys.stderr.write(str(error))
        return 1
    packed = io.BytesIO()
    np.savez(packed, *arrays.values())
    head = json.dumps({"names": list(arrays), "units": units}).encode()
    sys.stdout.buffer.write(len(head).to_bytes(8, "little") + head + packed.getvalue())
    return 0


def _limit_resources() -> None:
    """Limit time and memory where the system can."""
    try:
        import resource
    except ImportError:  # not on Windows; there the parent's clock is the only limit
        return
    resource.setrlimit(resource.RLIMIT_CPU, (_CPU_SECONDS, _CPU_SECONDS))
    resource.setrlimit(resource.RLIMIT_AS, (_MOST_MEMORY, _MOST_MEMORY))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def hdf5_arrays(data: bytes) -> Arrays:
    """Read every dataset of real numbers, and the unit each names in an attribute.

    Raises
    ------
    FormatError
        If a dataset refers to another file, or the numbers are too many.
    """
    import h5py

    arrays: dict[str, FloatArray] = {}
    units: dict[str, str] = {}
    room = MOST_UNPACKED

    def visit(name: str, item: Any) -> None:
        nonlocal room
        if not isinstance(item, h5py.Dataset) or item.dtype.kind not in "fiu" or item.shape is None:
            return
        if item.is_virtual or item.external:
            raise FormatError(f"dataset {shorten(name)!r} refers to another file; store the numbers here")
        room -= int(np.prod([int(n) for n in item.shape], dtype=object)) * 8
        if room < 0 or len(arrays) >= _MOST_DATASETS:
            raise FormatError(f"holds more than {MOST_UNPACKED / 1e6:.0f} MB of numbers; split the file")
        arrays[name] = _vector(np.asarray(item[()], dtype=np.float64))
        units[name] = _unit(item)

    with h5py.File(io.BytesIO(data), "r") as file:
        file.visititems(visit)
    return arrays, units


def _unit(item: Any) -> str:
    """Text of the attribute that names the unit, if there is one."""
    for key in ("units", "unit", "Units", "Unit"):
        value = item.attrs.get(key)
        if isinstance(value, bytes):
            return value.decode("utf-8", "replace")
        if isinstance(value, str):
            return value
    return ""


def matlab_arrays(data: bytes) -> Arrays:
    """Read every array of real numbers of a MATLAB file of version 5 to 7."""
    from scipy.io import loadmat

    with warnings.catch_warnings():
        warnings.simplefilter("error")  # of two arrays with one name the first would be lost
        found: dict[str, Any] = loadmat(io.BytesIO(data), squeeze_me=False)  # type: ignore[arg-type]
    arrays: dict[str, FloatArray] = {}
    for name, value in found.items():
        if not name.startswith("__"):
            _gather(name, value, arrays)
    return arrays, {}


def _gather(name: str, value: Any, arrays: dict[str, FloatArray], depth: int = 0) -> None:
    """Collect the numbers of a variable, of the fields of a structure and of the entries of a cell array."""
    if not isinstance(value, np.ndarray) or depth > 8 or len(arrays) >= _MOST_DATASETS:
        return
    if value.dtype.kind in "fiu":
        arrays[name] = _vector(np.asarray(value, dtype=np.float64))
        return
    if value.dtype.names is None and value.dtype.kind != "O":
        return
    for number, entry in enumerate(value.ravel()[:_MOST_DATASETS], 1):
        inner = name if value.size == 1 else f"{name}/{number}"
        if value.dtype.names is None:
            _gather(inner, entry, arrays, depth + 1)
        for field in value.dtype.names or ():
            _gather(f"{inner}/{field}", entry[field], arrays, depth + 1)


def _vector(array: FloatArray) -> FloatArray:
    """Make a vector of a single row or column."""
    return array.ravel() if array.ndim == 2 and 1 in array.shape else array


KINDS: dict[str, Callable[[bytes], Arrays]] = {"HDF5": hdf5_arrays, "MATLAB": matlab_arrays}

if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
