"""Arrays by name: which of them is the abscissa, and which are spectra.

npz, MATLAB and HDF5 files hold arrays with names. The abscissa is the array whose name says so; every
array that has its length along one side is one spectrum or several. A lone rectangle is read like a table
of text. Sizes are compared with the file before memory is asked for.
"""

from __future__ import annotations

import io
import re
import warnings
import zlib
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from spectra.errors import AmbiguityError, FormatError
from spectra.reading.numbers import shorten
from spectra.reading.sandbox import read_apart
from spectra.reading.source import Source
from spectra.reading.tables.orientation import table_traces
from spectra.reading.tables.table import Table, is_axis
from spectra.reading.trace import FEWEST_POINTS, Trace
from spectra.reading.units.words import (
    beside_spectra,
    foreign_label,
    foreign_x,
    foreign_y,
    hinted_y_unit,
    named_x_unit,
    named_y_unit,
)
from spectra.reading.unpacking import MOST_UNPACKED, unpack
from spectra.units import FloatArray

MOST_SPECTRA = 20_000

_AXIS_NAME = re.compile(
    r"(?:.*[/_. ])?(?:x|xx|x_?(?:axis|values?|data)|axis|abscissa|wn|wvn|nu|freq(?:uency)?)", re.I
)


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


def read_matlab(source: Source) -> tuple[Trace, ...]:
    """Read the spectra of a MATLAB file of version 5 to 7; see :func:`array_traces`.

    Raises
    ------
    FormatError
        If it is damaged or unpacks to too much. Version 7.3 is HDF5 and read as such.
    """
    _require_modest_matlab(source)
    arrays, units = read_apart(source, "MATLAB")
    return array_traces(arrays, units, source.path)


def _require_modest_matlab(source: Source) -> None:
    """Compare every length in the file with what is there; unpack against a limit."""
    room = MOST_UNPACKED
    order = "big" if source.data[126:128] == b"MI" else "little"
    at, size = 128, len(source.data)
    while at + 8 <= size:
        kind = int.from_bytes(source.data[at : at + 4], order)  # type: ignore[arg-type]
        length = int.from_bytes(source.data[at + 4 : at + 8], order)  # type: ignore[arg-type]
        if length > size - at - 8:
            raise FormatError(
                f"{source.path}: is cut off: {length} bytes promised at byte {at}; save it again"
            )
        body = source.data[at + 8 : at + 8 + length]
        if kind == 15:
            body = _inflate(body, room, source)
            kind = int.from_bytes(body[:4], order)  # type: ignore[arg-type]
            inner = int.from_bytes(body[4:8], order)  # type: ignore[arg-type]
            if inner > len(body) - 8:
                raise FormatError(f"{source.path}: is cut off inside an array; save it again")
            body = body[8:]
        room -= len(body)
        if room < 0:
            raise FormatError(f"{source.path}: unpacks to more than {MOST_UNPACKED / 1e6:.0f} MB; split it")
        if kind == 14:
            _require_true_lengths(body, order, source, 0)
        at += 8 + length


def _inflate(data: bytes, room: int, source: Source) -> bytes:
    """Unpack one compressed element, at most ``room`` bytes of it."""
    try:
        unpacked = zlib.decompressobj().decompress(data, room + 1)
    except zlib.error as error:
        raise FormatError(f"{source.path}: is damaged ({error}); save it again") from None
    if len(unpacked) > room:
        raise FormatError(f"{source.path}: unpacks to more than {MOST_UNPACKED / 1e6:.0f} MB; split it")
    return unpacked


def _require_true_lengths(body: bytes, order: str, source: Source, depth: int) -> None:
    """Every element inside an array must end inside it."""
    at = 0
    while at + 8 <= len(body):
        kind = int.from_bytes(body[at : at + 4], order)  # type: ignore[arg-type]
        if kind >> 16:  # a small element: length in the upper half, data in the same eight bytes
            at += 8
            continue
        length = int.from_bytes(body[at + 4 : at + 8], order)  # type: ignore[arg-type]
        if length > len(body) - at - 8 or depth > 20:
            raise FormatError(
                f"{source.path}: is damaged: an element is longer than its array; save it again"
            )
        if kind == 14:
            _require_true_lengths(body[at + 8 : at + 8 + length], order, source, depth + 1)
        at += 8 + length + (-length) % 8


def array_traces(arrays: Mapping[str, FloatArray], units: Mapping[str, str], where: str) -> tuple[Trace, ...]:
    """Find abscissa and spectra among named arrays.

    Parameters
    ----------
    arrays : mapping of str to ndarray
        Real numbers, any shape.
    units : mapping of str to str
        Unit that the file gives for an array, by its name.
    where
        File, for messages.

    Returns
    -------
    tuple of Trace
        Arrays in file order; ``part`` is the array's name, and the row or column in it.

    Raises
    ------
    FormatError
        If there is no abscissa, or nothing of its length.
    AmbiguityError
        If several arrays may be the abscissa, or a square array may hold spectra either way.
    """
    vectors = {
        name: array for name, array in arrays.items() if array.ndim == 1 and array.size >= FEWEST_POINTS
    }
    axes = _axis_names(vectors, units, where)
    if not axes:
        return _lone_table(arrays, where)
    for name in axes:
        if (foreign := foreign_x(_last(name).replace("_", " "))) is not None and foreign != "an index":
            raise FormatError(
                f"{where}: the name {shorten(name)!r} calls the abscissa {foreign}; expected wavenumbers in "
                "cm-1 or wavelengths in um or nm"
            )
    traces, left_out = [], []
    for name, array in arrays.items():
        axis_name = _axis_of(name, axes)
        if name in axes:
            continue
        if axis_name is None:
            left_out.append(f"array {shorten(name)!r} left out: no abscissa lies beside it")
            continue
        axis = vectors[axis_name]
        if (why := beside_spectra(_last(name))) is not None:
            left_out.append(f"array {shorten(name)!r} left out: {why}")
            continue
        spectra = _spectra(name, array, axis.size, where)
        if spectra is None:
            left_out.append(
                f"array {shorten(name)!r} left out: its shape {array.shape} does not fit the abscissa"
            )
            continue
        for part, values in spectra:
            label, last = units.get(name, ""), _last(name)
            trace = Trace(
                axis,
                values,
                x_unit=named_x_unit(units.get(axis_name, "")) or named_x_unit(_last(axis_name)),
                y_unit=named_y_unit(label) or named_y_unit(last),
                part=part,
                title=shorten(part, 200),
                assumed=(f"array {shorten(axis_name)!r} taken as the abscissa",),
                y_hint=hinted_y_unit(label) or hinted_y_unit(last),
                y_foreign=foreign_label(label) or foreign_y(last),
            )
            traces.append(trace)
    if not traces:
        raise FormatError(
            f"{where}: no array fits the abscissa {shorten(axes[0])!r} of {vectors[axes[0]].size} points; "
            "store each spectrum with as many values"
        )
    return tuple(replace(trace, assumed=(*trace.assumed, *left_out)) for trace in traces)


def _states_axis(name: str, units: Mapping[str, str]) -> bool:
    return named_x_unit(units.get(name, "")) is not None or named_x_unit(_last(name)) is not None


def _last(name: str) -> str:
    """Return the last step of the way to an array."""
    return re.split(r"[/.]", name)[-1]


def _above(name: str) -> str:
    """Return the way to the group that holds an array."""
    return name.rpartition("/")[0]


def _axis_of(name: str, axes: list[str]) -> str | None:
    """Return the abscissa of an array: the one in its own group, else in the nearest group around it."""
    around = [axis for axis in axes if f"{name}/".startswith(f"{_above(axis)}/") or not _above(axis)]
    if not around and len(axes) == 1:
        return axes[0]
    return max(around, key=lambda axis: len(_above(axis)), default=None)


def _axis_names(vectors: Mapping[str, FloatArray], units: Mapping[str, str], where: str) -> list[str]:
    """Names of the abscissae, one a group: by name or unit, else the only vector that is steady."""
    steady = [name for name, array in vectors.items() if is_axis(array)]
    named = [name for name in steady if _states_axis(name, units)]
    named = named or [name for name in steady if _AXIS_NAME.fullmatch(name)]
    candidates = named or steady
    if len({_above(name) for name in candidates}) < len(candidates):
        raise AmbiguityError(
            f"{where}: any of the arrays {', '.join(map(shorten, candidates[:6]))} may be the abscissa; "
            "name one of them 'wavenumbers'"
        )
    return candidates


def _spectra(name: str, array: FloatArray, points: int, where: str) -> list[tuple[str, FloatArray]] | None:
    """Spectra of one array as (part, ordinates); None if it does not fit the abscissa."""
    if array.ndim == 1:
        return [(name, array)] if array.size == points else None
    if array.ndim != 2 or points not in array.shape:
        return None
    if array.shape == (points, points):
        raise AmbiguityError(
            f"{where}: array {shorten(name)!r} is square: its rows or its columns may be the spectra; "
            "store one spectrum an array"
        )
    by_rows = array.shape[1] == points
    spectra = array if by_rows else array.T
    if len(spectra) > MOST_SPECTRA:
        raise FormatError(
            f"{where}: {len(spectra)} spectra in one array; at most {MOST_SPECTRA} are read, split it"
        )
    word = "row" if by_rows else "column"
    if len(spectra) == 1:
        return [(name, spectra[0])]
    return [(f"{name} {word} {i}", values) for i, values in enumerate(spectra, 1)]


def _lone_table(arrays: Mapping[str, FloatArray], where: str) -> tuple[Trace, ...]:
    """Read one rectangle of numbers like a table of text."""
    rectangles = {name: array for name, array in arrays.items() if array.ndim == 2 and min(array.shape) >= 2}
    if len(rectangles) != 1:
        raise FormatError(
            f"{where}: found no abscissa among the arrays "
            f"{', '.join(map(shorten, list(arrays)[:8])) or '(none)'}; "
            "store one array named 'wavenumbers' and the spectra beside it"
        )
    ((name, array),) = rectangles.items()
    if array.shape[0] < array.shape[1] and is_axis(array[0]) and array.shape[0] < FEWEST_POINTS:
        array = array.T
    rows, columns = array.shape
    table = Table(array, ("",) * columns, range(1, rows + 1), row_word="row", heading=(name,))
    return table_traces(table, where)
