"""HDF5 files, with the optional package h5py: named datasets of numbers, read like named arrays."""

from __future__ import annotations

import io
from typing import Any

import numpy as np

from spectra.errors import FormatError
from spectra.reading.archive import MOST_UNPACKED
from spectra.reading.arrays import array_traces
from spectra.reading.numbers import shorten
from spectra.reading.source import Source
from spectra.reading.trace import Trace
from spectra.units import FloatArray

HDF5_START = b"\x89HDF\r\n\x1a\n"
_MOST_DATASETS = 2000


def is_hdf5(data: bytes) -> bool:
    """Whether a file is HDF5; MATLAB 7.3 puts 512 bytes of its own before it."""
    return data.startswith(HDF5_START) or data[512:520] == HDF5_START


def read_hdf5(source: Source) -> tuple[Trace, ...]:
    """Read the spectra of an HDF5 file; see ``arrays.array_traces``.

    Raises
    ------
    FormatError
        If h5py is not installed, or the file is damaged, refers to other files or is too large.
    """
    try:
        import h5py
    except ImportError:
        raise FormatError(
            f"{source.path}: HDF5 needs the package h5py; install coatproof[hdf5], or export the "
            "spectra as text"
        ) from None
    arrays: dict[str, FloatArray] = {}
    units: dict[str, str] = {}
    room = MOST_UNPACKED

    def visit(name: str, item: Any) -> None:
        nonlocal room
        if not isinstance(item, h5py.Dataset) or item.dtype.kind not in "fiu" or item.shape is None:
            return
        if item.is_virtual or item.external:
            raise FormatError(
                f"{source.path} [{shorten(name)}]: refers to another file; store the numbers here"
            )
        room -= int(np.prod([int(n) for n in item.shape], dtype=object)) * 8
        if room < 0 or len(arrays) >= _MOST_DATASETS:
            raise FormatError(
                f"{source.path}: holds more than {MOST_UNPACKED / 1e6:.0f} MB of numbers; split the file"
            )
        arrays[name] = _squeezed(np.asarray(item[()], dtype=np.float64))
        units[name] = _unit(item)

    try:
        with h5py.File(io.BytesIO(source.data), "r") as file:
            file.visititems(visit)
    except FormatError:
        raise
    except Exception as error:  # the library reports damage in many ways
        raise FormatError(
            f"{source.path}: cannot be read as HDF5 ({shorten(str(error))}); save it again"
        ) from None
    return array_traces(arrays, units, source.path)


def _unit(item: Any) -> str:
    """Text of the attribute that names the unit, if there is one."""
    for key in ("units", "unit", "Units", "Unit"):
        value = item.attrs.get(key)
        if isinstance(value, bytes):
            return value.decode("utf-8", "replace")
        if isinstance(value, str):
            return value
    return ""


def _squeezed(array: FloatArray) -> FloatArray:
    """Make a vector of a single row or column."""
    return array.ravel() if array.ndim == 2 and 1 in array.shape else array
