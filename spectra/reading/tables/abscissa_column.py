"""Which column of a table is the abscissa, and what is no infrared axis at all."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from spectra.errors import FormatError
from spectra.reading.numbers import shorten
from spectra.reading.tables.table import Table, is_axis
from spectra.reading.trace import FEWEST_POINTS
from spectra.reading.units.abscissa import abscissa_line
from spectra.reading.units.words import foreign_x, named_x_unit
from spectra.units import FloatArray, StatedUnits


def is_plausible(values: FloatArray) -> bool:
    """Tell an infrared axis from a count of samples: wavenumbers and nm exceed 200, um have decimals."""
    finite = values[np.isfinite(values)]
    return bool(np.max(np.abs(finite)) > 200 or np.any(finite % 1 != 0))


def without_index(table: Table) -> Table:
    """Leave out a first column that only counts the rows."""
    rows, columns = table.values.shape
    if columns < 3 or rows < FEWEST_POINTS or named_x_unit(table.names[0]) is not None:
        return table
    counting = np.arange(rows)
    first = table.values[:, 0]
    counts = any(np.array_equal(one, counting + start) for one in (first, first[::-1]) for start in (0, 1))
    if not counts or not is_axis(table.values[:, 1]):
        return table
    name = table.names[0] or "first column"
    return without_columns(table, [0], f"column {shorten(name)!r} left out: it counts the rows")


def without_columns(table: Table, columns: list[int], said: str) -> Table:
    """Return the table without some columns, and say so."""
    keep = [i for i in range(table.values.shape[1]) if i not in columns]
    return replace(
        table,
        values=table.values[:, keep],
        names=tuple(table.names[i] for i in keep),
        assumed=(*table.assumed, said),
    )


def abscissa_first(table: Table) -> Table:
    """Bring the column of the abscissa to the front: the one that says so, else the only steady one."""
    columns = table.values.shape[1]
    named = [i for i in range(columns) if named_x_unit(table.names[i]) is not None]
    if named:
        at = named[0] if is_axis(ends_with_gap(table.values[:, named[0]])) else 0
    elif table.begins_with_axis:
        at = 0
    else:
        steady = [
            i for i in range(columns) if _spans_infrared(table.values[:, i]) and is_axis(table.values[:, i])
        ]
        at = steady[0] if len(steady) == 1 else 0
    if at == 0:
        return table
    before = [i for i in range(at) if foreign_x(table.names[i]) or _is_counter(table.values[:, i])]
    for i in before:
        name = table.names[i] or f"column {i + 1}"
        table = replace(table, assumed=(*table.assumed, f"column {shorten(name)!r} left out: no spectrum"))
    order = [at, *(i for i in range(columns) if i != at and i not in before)]
    name = table.names[at] or f"column {at + 1}"
    return replace(
        table,
        values=table.values[:, order],
        names=tuple(table.names[i] for i in order),
        assumed=(*table.assumed, f"column {shorten(name)!r} taken as the abscissa"),
    )


def _is_counter(values: FloatArray) -> bool:
    """Whether a column rises by the same step throughout, as times and numbers do."""
    steps = np.diff(values)
    return bool(
        steps.size and np.all(np.isfinite(steps)) and steps[0] != 0 and np.ptp(steps) < 1e-6 * abs(steps[0])
    )


def _spans_infrared(values: FloatArray) -> bool:
    """Whether a column may be wavenumbers of the mid infrared."""
    finite = values[np.isfinite(values)]
    return bool(finite.size and finite.max() > 700 and finite.min() >= 150)


def require_infrared_heading(table: Table, where: str, stated: StatedUnits) -> None:
    """Refuse an abscissa whose heading names something else, unless a person states its unit.

    Raises
    ------
    FormatError
        Naming what the heading says.
    """
    name = table.names[0] if table.names else ""
    foreign = foreign_x(name)
    if foreign is None or foreign == "an index" or stated.abscissa is not None:
        return
    raise FormatError(
        f"{where}: the heading {shorten(name)!r} calls the abscissa {foreign}; expected wavenumbers in "
        f"cm-1 or wavelengths in um or nm. If it is one of them, {abscissa_line('cm-1')}"
    )


def ends_with_gap(values: FloatArray) -> FloatArray:
    """Take off the empty cells that a shorter column ends in."""
    finite = np.flatnonzero(np.isfinite(values))
    return values[: finite[-1] + 1] if finite.size else values[:0]
