"""Arrays as numpy writes them; sizes are compared with the file before memory is asked for."""

from __future__ import annotations

import io
import warnings

import numpy as np

from spectra.errors import FormatError
from spectra.reading.arrays import array_traces
from spectra.reading.numbers import shorten
from spectra.reading.source import Source
from spectra.reading.trace import Trace
from spectra.reading.unpacking import unpack
from spectra.units import FloatArray


def read_numpy_archive(source: Source) -> tuple[Trace, ...]:
    """Read the spectra of an npz archive; see :func:`array_traces`."""
    arrays = {}
    for name, data in unpack(source).items():
        array = _npy(data, f"{source.path} [{shorten(name)}]")
        if array is not None:
            arrays[name.removesuffix(".npy")] = array
    return array_traces(arrays, {}, source.path)


def read_numpy_array(source: Source) -> tuple[Trace, ...]:
    """Read the spectra of a single npy array, which is read like a table."""
    array = _npy(source.data, source.path)
    return array_traces({} if array is None else {"array": array}, {}, source.path)


def _npy(data: bytes, where: str) -> FloatArray | None:
    """Read one array; None if it holds no real numbers."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # numpy tells of headers written by Python 2
            return _checked_npy(data, where)
    except FormatError:
        raise
    except Exception as error:  # a damaged header fails in many ways, each with its own exception
        raise FormatError(f"{where}: is no numpy array ({shorten(str(error))}); save it again") from None


def _checked_npy(data: bytes, where: str) -> FloatArray | None:
    """Compare the size that the header claims with what is there, then read."""
    stream = io.BytesIO(data)
    version = np.lib.format.read_magic(stream)
    short_header = version == (1, 0)
    read = np.lib.format.read_array_header_1_0 if short_header else np.lib.format.read_array_header_2_0
    shape, _, dtype = read(stream, max_header_size=10_000)
    if dtype.kind not in "fiu":
        return None
    claimed = dtype.itemsize
    for length in shape:
        claimed *= int(length)
    if claimed != len(data) - stream.tell():
        raise FormatError(
            f"{where}: the array claims {claimed:.3g} bytes, the file holds {len(data)}; save again"
        )
    array = np.lib.format.read_array(io.BytesIO(data), allow_pickle=False, max_header_size=10_000)
    return np.asarray(array, dtype=np.float64)
