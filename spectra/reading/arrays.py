"""Arrays by name: which of them is the abscissa, and which are spectra.

npz, MATLAB and HDF5 files hold arrays with names. The abscissa is the array whose name says so; every
array that has its length along one side is one spectrum or several. A lone rectangle is read like a table
of text.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from spectra.errors import AmbiguityError, FormatError
from spectra.reading.numbers import shorten
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
from spectra.units import FloatArray

MOST_SPECTRA = 20_000

_AXIS_NAME = re.compile(
    r"(?:.*[/_. ])?(?:x|xx|x_?(?:axis|values?|data)|axis|abscissa|wn|wvn|nu|freq(?:uency)?)", re.I
)


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
    if array.ndim == 3 and array.shape.count(points) == 1:  # a map: spot by spot
        spots = np.moveaxis(array, array.shape.index(points), -1)
        _require_modest_number(spots.shape[0] * spots.shape[1], where)
        return [(f"{name} {i + 1}, {j + 1}", spots[i, j]) for i, j in np.ndindex(*spots.shape[:2])]
    if array.ndim != 2 or points not in array.shape:
        return None
    if array.shape == (points, points):
        raise AmbiguityError(
            f"{where}: array {shorten(name)!r} is square: its rows or its columns may be the spectra; "
            "store one spectrum an array"
        )
    by_rows = array.shape[1] == points
    spectra = array if by_rows else array.T
    _require_modest_number(len(spectra), where)
    word = "row" if by_rows else "column"
    if len(spectra) == 1:
        return [(name, spectra[0])]
    return [(f"{name} {word} {i}", values) for i, values in enumerate(spectra, 1)]


def _require_modest_number(spectra: int, where: str) -> None:
    if spectra > MOST_SPECTRA:
        raise FormatError(
            f"{where}: {spectra} spectra in one array; at most {MOST_SPECTRA} are read, split it"
        )


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
