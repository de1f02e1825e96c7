"""A rectangle of numbers with the words around it, as text files and spreadsheets hold it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from spectra.reading.numbers import finite_values, shorten
from spectra.spectrum import Fault
from spectra.units import FloatArray


def is_axis(values: FloatArray) -> bool:
    """Steadily rising or falling; repeats are judged later, with their place."""
    finite = finite_values(values)
    if finite.size < 2 or finite.size < 0.9 * values.size:
        return False
    steps = np.diff(finite)
    return bool((steps.min() >= 0 or steps.max() <= 0) and finite[0] != finite[-1])


def row_left_out(place: str, shown: str) -> Fault:
    """Say which row was taken for a note."""
    return Fault(
        "row-left-out",
        "warning",
        place,
        f"{shorten(shown)!r} does not continue the abscissa: taken as a note and left out",
        "Mark it as a comment with '#' if it is one; correct it if it is a point.",
    )


@dataclass(frozen=True, eq=False)
class Table:
    """A rectangle of cells, as numbers, with the words around it.

    Attributes
    ----------
    values : ndarray, shape (m, k)
        NaN for empty cells and for text.
    names : tuple of str, length k
        Column names; empty where there are none.
    rows : range or tuple of int, length m
        Line or row of each in the file, from 1.
    labels : tuple of str, length m or 0
        Text at the start of each row, if there is any.
    heading : tuple of str
        Lines above the table, and below it.
    row_word
        ``"line"`` or ``"row"``.
    assumed : tuple of str
        What reading the cells had to assume.
    part
        Sheet name, for spreadsheets.
    text_columns : tuple of str
        Names of columns that hold text only.
    label_name
        Name of the column the labels come from, or None.
    faults : tuple of Fault
        What is doubtful about the rows.
    """

    values: FloatArray
    names: tuple[str, ...]
    rows: range | tuple[int, ...]
    labels: tuple[str, ...] = ()
    heading: tuple[str, ...] = ()
    row_word: str = "line"
    assumed: tuple[str, ...] = ()
    part: str = ""
    text_columns: tuple[str, ...] = ()
    label_name: str | None = None
    faults: tuple[Fault, ...] = ()

    @cached_property
    def begins_with_axis(self) -> bool:
        """Whether the first column rises or falls steadily."""
        return is_axis(self.values[:, 0])

    def label(self, row: int) -> str:
        """Return the text at the start of a row; empty if there is none."""
        return self.labels[row] if self.labels else ""
