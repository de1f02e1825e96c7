"""HDF5 files, with the optional package h5py: named datasets of numbers, read like named arrays.

The library reads in a process of its own (``hdf5child``), which is ended if it takes too long.
"""

from __future__ import annotations

import importlib.util
import io
import json
import os
import subprocess
import sys

import numpy as np

from spectra.errors import FormatError
from spectra.reading.arrays import array_traces
from spectra.reading.numbers import shorten
from spectra.reading.source import Source
from spectra.reading.trace import Trace

HDF5_START = b"\x89HDF\r\n\x1a\n"
_WALL_SECONDS = 30  # a busy machine may need seconds to start the process; its own limit is processor time


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
    answer = _read_apart(source)
    size = int.from_bytes(answer[:8], "little")
    head = json.loads(answer[8 : 8 + size])
    with np.load(io.BytesIO(answer[8 + size :])) as packed:
        arrays = {name: packed[f"arr_{i}"] for i, name in enumerate(head["names"])}
    return array_traces(arrays, head["units"], source.path)


def _read_apart(source: Source) -> bytes:
    """Have the file read by another process."""
    command = [sys.executable, "-P", "-m", "spectra.reading.hdf5child"]
    environment = {
        **os.environ,
        "PYTHONPATH": os.pathsep.join(filter(None, sys.path)),
        "OMP_NUM_THREADS": "1",
    }
    damaged = f"{source.path}: cannot be read as HDF5 ({{}}); save it again"
    try:
        done = subprocess.run(
            command,
            input=source.data,
            capture_output=True,
            env=environment,
            timeout=_WALL_SECONDS,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise FormatError(damaged.format("reading it does not come to an end")) from None
    except OSError as error:
        raise FormatError(f"{source.path}: no process could be started to read it ({error})") from None
    if done.returncode < 0:
        raise FormatError(damaged.format("the HDF5 library failed on it"))
    if done.returncode:
        said = done.stderr.decode("utf-8", "replace").strip().splitlines() or ["no reason given"]
        raise FormatError(damaged.format(shorten(said[-1], 150)))
    return done.stdout
