"""HDF5 files, with the optional package h5py: named datasets of numbers, read like named arrays."""

from __future__ import annotations

import importlib.util

from spectra.errors import FormatError
from spectra.reading.arrays import array_traces
from spectra.reading.sandbox import read_apart
from spectra.reading.source import Source
from spectra.reading.trace import Trace

HDF5_START = b"\x89HDF\r\n\x1a\n"


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
    if importlib.util.find_spec("h5py") is None:
        raise FormatError(
            f"{source.path}: HDF5 needs the package h5py; install coatproof[hdf5], or export the "
            "spectra as text"
        )
    arrays, units = read_apart(source, "HDF5")
    return array_traces(arrays, units, source.path)
