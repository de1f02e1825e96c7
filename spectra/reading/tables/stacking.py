"""Rows that do not continue their table: notes in numbers before and after it, and tables one under another.

A line such as ``4,32`` (resolution, scans) is a row of two numbers like any other; only the abscissa tells
that it is none. What is taken off is said as a warning. An abscissa that starts again begins another table.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from spectra.reading.tables.table import Table, is_axis, row_left_out
from spectra.reading.trace import FEWEST_POINTS
from spectra.spectrum import Fault
from spectra.units import FloatArray

_MOST_NOTES = 5  # rows of numbers at either end that may be notes

_FAR = 100.0  # steps away from the rest of the table, a row is a note and no point of it


def split_stacked(table: Table) -> tuple[Table, ...]:
    """Split tables that stand one under another, and take notes in numbers off each.

    Parameters
    ----------
    table : Table
        Its first column may be the abscissa.

    Returns
    -------
    tuple of Table
        One, as it was, if nothing starts again.
    """
    table = _without_notes(table)
    x = table.values[:, 0]
    if x.size < 2 * FEWEST_POINTS or table.begins_with_axis or not np.all(np.isfinite(x)):
        return (table,)
    edges = [0, *_restarts(x), x.size]
    pieces = [slice(a, b) for a, b in pairwise(edges)]
    whole = all(b.stop - b.start >= FEWEST_POINTS and is_axis(x[b]) and _steady(x[b]) for b in pieces)
    if len(pieces) < 2 or not whole:
        return (table,)
    return tuple(
        replace(
            table,
            values=table.values[piece],
            labels=table.labels[piece],
            rows=table.rows[piece],
            part=", ".join(filter(None, (table.part, f"table {number}"))),
        )
        for number, piece in enumerate(pieces, 1)
    )


def _steady(x: FloatArray) -> bool:
    """Whether no step is a leap: one point out of order would else pass for the end of a table."""
    steps = np.abs(np.diff(x))
    return bool(steps.max() <= _FAR * float(np.median(steps)))


def _restarts(x: FloatArray) -> list[int]:
    """Points at which an abscissa jumps back over half its range."""
    steps = np.diff(x)
    direction = np.sign(np.median(steps)) or 1.0
    back = direction * steps < -0.5 * float(np.ptp(x))
    return [int(i) + 1 for i in np.flatnonzero(back)]


def _without_notes(table: Table) -> Table:
    """Take off rows at the ends whose abscissa does not belong to the rest."""
    x = table.values[:, 0]
    if x.size < 2 * FEWEST_POINTS or not np.all(np.isfinite(x)):
        return table
    steps = np.diff(x)
    typical = float(np.sort(steps)[steps.size // 2])
    if typical == 0.0:
        return table
    first, last = 0, x.size
    while first < _MOST_NOTES and _is_apart(steps[first], typical):
        first += 1
    while last > x.size - _MOST_NOTES and _is_apart(steps[last - 2], typical):
        last -= 1
    inner = slice(first, last)
    if (first, last) == (0, x.size) or not is_axis(x[inner]):
        return table
    faults = tuple(_left_out(table, i) for i in (*range(first), *range(last, x.size)))
    return replace(
        table,
        values=table.values[inner],
        labels=table.labels[inner],
        rows=table.rows[inner],
        faults=(*table.faults, *faults),
    )


def _is_apart(step: float, typical: float) -> bool:
    """Whether a step turns back, or is far larger than all others."""
    return step / typical <= 0.0 or step / typical > _FAR


def _left_out(table: Table, row: int) -> Fault:
    """Say which row was taken off."""
    shown = ", ".join(f"{value:g}" for value in table.values[row][:6])
    return row_left_out(f"{table.row_word} {table.rows[row]}", shown)
