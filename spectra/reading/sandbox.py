"""Reading in a process of its own, for libraries that a damaged file can hang or crash."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys

import numpy as np

from spectra.errors import FormatError
from spectra.reading.numbers import shorten
from spectra.reading.source import Source
from spectra.units import FloatArray

_WALL_SECONDS = 30  # a busy machine may need seconds to start the process; its own limit is processor time


def read_apart(source: Source, kind: str) -> tuple[dict[str, FloatArray], dict[str, str]]:
    """Have the arrays of a file read by another process.

    Parameters
    ----------
    source : Source
    kind
        ``"HDF5"`` or ``"MATLAB"``.

    Returns
    -------
    arrays : dict of str to ndarray
    units : dict of str to str
        What the file says about them.

    Raises
    ------
    FormatError
        If the file cannot be read, or reading it does not come to an end.
    """
    command = [sys.executable, "-P", "-m", "spectra.reading.sandbox_worker", kind]
    environment = {
        **os.environ,
        "PYTHONPATH": os.pathsep.join(filter(None, sys.path)),
        "OMP_NUM_THREADS": "1",
    }
    damaged = f"{source.path}: cannot be read as {kind} ({{}}); save it again"
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
        raise FormatError(damaged.format(f"the {kind} library failed on it"))
    if done.returncode:
        said = done.stderr.decode("utf-8", "replace").strip().splitlines() or ["no reason given"]
        raise FormatError(damaged.format(shorten(said[-1], 150)))
    return _unpacked(done.stdout)


def _unpacked(answer: bytes) -> tuple[dict[str, FloatArray], dict[str, str]]:
    """Take the answer of the other process apart."""
    size = int.from_bytes(answer[:8], "little")
    head = json.loads(answer[8 : 8 + size])
    with np.load(io.BytesIO(answer[8 + size :])) as packed:
        return {name: packed[f"arr_{i}"] for i, name in enumerate(head["names"])}, head["units"]
