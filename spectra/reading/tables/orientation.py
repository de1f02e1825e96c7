"""Which way a table of numbers holds its spectra.

Three shapes are told apart, for text and spreadsheets alike:

- columns: the first is the abscissa, every other one spectrum;
- pairs: abscissa and ordinate of one spectrum, then of the next, side by side;
- rows: the first row holds the abscissae, every further row one spectrum.

The abscissa may stand in any column that says so, or that alone is steady. A column that only counts the
rows, columns of text, of standard deviations or of one value hold no spectrum; they are left out and named.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from spectra.errors import AmbiguityError, FormatError
from spectra.reading.numbers import shorten
from spectra.reading.tables.abscissa_column import (
    abscissa_first,
    ends_with_gap,
    is_plausible,
    require_infrared_heading,
    without_columns,
    without_index,
)
from spectra.reading.tables.stacking import split_stacked
from spectra.reading.tables.table import Table, is_axis
from spectra.reading.trace import FEWEST_POINTS, Trace
from spectra.reading.units.words import (
    beside_spectra,
    foreign_y,
    hinted_y_unit,
    named_x_unit,
    named_y_unit,
    stated_above,
)
from spectra.units import UNSTATED, FloatArray, StatedUnits

_AXIS_CELL = re.compile(r"[A-Za-z_~ ]{0,14}?(\d+(?:\.\d+)?)\s*(cm.*|1/cm|nm|[uµμ]m)?", re.ASCII | re.DOTALL)


def tables_traces(tables: Sequence[Table], where: str, stated: StatedUnits = UNSTATED) -> tuple[Trace, ...]:
    """Take the spectra out of tables that stand one under another; see :func:`table_traces`."""
    split = [piece for table in tables for piece in split_stacked(table)]
    traces = [trace for table in split for trace in table_traces(table, where, stated)]
    return tuple(traces)


def table_traces(table: Table, where: str, stated: StatedUnits = UNSTATED) -> tuple[Trace, ...]:
    """Take the spectra out of a table.

    Parameters
    ----------
    table : Table
    where
        File (and sheet), for messages.
    stated : StatedUnits
        What a person says about the file.

    Returns
    -------
    tuple of Trace
        In the order of the columns or rows.

    Raises
    ------
    FormatError
        If there is one column only, or no abscissa.
    AmbiguityError
        If the table can be read in two shapes.
    """
    table = abscissa_first(without_index(table))
    rows, columns = table.values.shape
    if columns < 2:
        raise FormatError(
            f"{where}: found one column of numbers; expected abscissa and ordinate, export both columns"
        )
    by_rows = _axis_in_names(table) or _axis_in_first_row(table)
    by_columns = rows >= FEWEST_POINTS and table.begins_with_axis and is_plausible(table.values[:, 0])
    if by_rows is not None and by_columns:
        raise AmbiguityError(
            f"{where}: the first row and the first column both rise or fall steadily: {columns - 1} "
            f"spectra of {rows} "
            f"points in columns, or {rows - 1} spectra of {columns - 1} points in rows; export one "
            "spectrum a file"
        )
    if by_rows is not None:
        return _row_traces(by_rows, where)
    require_infrared_heading(table, where, stated)
    if table.label_name is not None:
        table = replace(table, text_columns=(table.label_name, *table.text_columns))
    if _are_pairs(table):
        return _pair_traces(table)
    return _column_traces(table)


@dataclass(frozen=True, eq=False)
class _Rows:
    """Spectra in rows: the abscissae, the rows below them, and the words of the corner."""

    axis: FloatArray
    table: Table
    words: str


def _axis_in_names(table: Table) -> _Rows | None:
    """Abscissae written as column names, such as ``4000 cm-1`` or ``X4000``."""
    if len(table.names) < FEWEST_POINTS:
        return None
    found = [_AXIS_CELL.fullmatch(name.strip()) for name in table.names]
    start = next((i for i, match in enumerate(found) if match), len(found))
    if start > 3 or len(found) - start < FEWEST_POINTS:
        return None
    numbers = [float(match[1]) if match else np.nan for match in found[start:]]
    axis = np.array(numbers)
    if not np.all(np.isfinite(axis)) or not is_axis(axis) or not is_plausible(axis):
        return None
    rest = without_columns(table, list(range(start)), "") if start else table
    unit = next((match[2] or "" for match in found[start:] if match), "")
    return _Rows(axis, rest, f"x [{unit.strip()}]" if unit else " ".join(table.names[: start + 1]))


def _axis_in_first_row(table: Table) -> _Rows | None:
    """Abscissae as the first row of numbers."""
    rows, columns = table.values.shape
    if rows < 2 or columns < FEWEST_POINTS:
        return None
    start = 0 if np.isfinite(table.values[0, 0]) else 1
    corner_counts = start == 0 and not is_axis(table.values[0]) and is_axis(table.values[0, 1:])
    start += int(corner_counts)
    axis = table.values[0, start:]
    if not is_axis(axis) or not is_plausible(axis) or all(is_axis(row) for row in table.values[1:4, start:]):
        return None
    rest = replace(
        table,
        values=table.values[1:, start:],
        names=table.names[start:],
        labels=table.labels[1:],
        rows=tuple(table.rows[1:]),
    )
    return _Rows(axis, rest, " ".join((table.label(0), *table.names[:1])))


def _row_traces(found: _Rows, where: str) -> tuple[Trace, ...]:
    """One spectrum a row."""
    table, left_out = found.table, list[str]()
    traces = []
    for i, values in enumerate(table.values):
        place = f"{table.row_word} {table.rows[i]}"
        if not np.any(np.isfinite(values)):
            raise FormatError(f"{where}: {place}: holds no number; remove the row")
        title = table.label(i)
        if (why := beside_spectra(title)) is not None:
            left_out.append(f"{place} {shorten(title)!r} left out: {why}")
            continue
        traces.append(
            Trace(
                found.axis,
                values,
                x_unit=named_x_unit(found.words),
                y_unit=named_y_unit(title),
                x_above=stated_above(table.heading, "x"),
                y_above=stated_above(table.heading, "y"),
                part=_part(table, title or place),
                title=shorten(title, 200),
                header=_heading(table),
                assumed=_said(table),
                faults=table.faults,
                place=lambda j, place=place: f"{place}, value {j + 1}",  # type: ignore[misc]
            )
        )
    if not traces:
        raise FormatError(f"{where}: no row holds a spectrum: {left_out[0]}")
    return tuple(replace(trace, assumed=(*trace.assumed, *left_out)) for trace in traces)


def _are_pairs(table: Table) -> bool:
    """Whether every second column is an abscissa."""
    columns = table.values.shape[1]
    if columns < 4 or columns % 2:
        return False
    named = [named_x_unit(name) is not None for name in table.names[::2]]
    if all(named) and not any(named_x_unit(name) for name in table.names[1::2]):
        return True
    axes = [ends_with_gap(table.values[:, i]) for i in range(0, columns, 2)]
    if not all(is_axis(axis) for axis in axes):
        return False
    first = axes[0]
    near = [abs(axis[0] - first[0]) < 0.2 * abs(first[0]) for axis in axes]
    return all(near) and not all(is_axis(table.values[:, i]) for i in range(1, columns, 2))


def _pair_traces(table: Table) -> tuple[Trace, ...]:
    """Abscissa and ordinate of each spectrum side by side."""
    traces = []
    for number, i in enumerate(range(0, table.values.shape[1], 2), 1):
        x = ends_with_gap(table.values[:, i])
        name = table.names[i + 1] or table.names[i] or f"pair {number}"
        traces.append(_trace(table, x, table.values[: x.size, i + 1], i, i + 1, name))
    return tuple(traces)


def _column_traces(table: Table) -> tuple[Trace, ...]:
    """First column abscissa, the others one spectrum each; columns without a spectrum are named."""
    columns = table.values.shape[1]
    bare = {i: why for i in range(1, columns) if (why := _why_no_spectrum(table, i)) is not None}
    if len(bare) < columns - 1:
        for i, why in bare.items():
            name = table.names[i] or f"column {i + 1}"
            table = replace(table, assumed=(*table.assumed, f"column {shorten(name)!r} left out: {why}"))
        columns_left = [i for i in range(1, columns) if i not in bare]
    else:
        columns_left = list(range(1, columns))
    x = table.values[:, 0]
    return tuple(
        _trace(
            table, x, table.values[:, i], 0, i, table.names[i] or (f"column {i + 1}" if columns > 2 else "")
        )
        for i in columns_left
    )


def _why_no_spectrum(table: Table, column: int) -> str | None:
    """Say why a column holds no spectrum, or None."""
    finite = table.values[np.isfinite(table.values[:, column]), column]
    if finite.size == 0 or np.all(finite == finite[0]):
        return "empty or of one value throughout"
    return beside_spectra(table.names[column])


def _trace(table: Table, x: FloatArray, y: FloatArray, x_column: int, y_column: int, name: str) -> Trace:
    """Make one trace, its units taken from column names first and from the heading next."""
    several = table.values.shape[1] > 2
    rows = table.rows
    return Trace(
        x,
        y,
        x_unit=named_x_unit(table.names[x_column]),
        y_unit=named_y_unit(table.names[y_column]),
        x_above=stated_above(table.heading, "x"),
        y_above=stated_above(table.heading, "y"),
        y_hint=hinted_y_unit(table.names[y_column]),
        y_foreign=foreign_y(table.names[y_column]) or _optical_constant(table, y_column),
        part=_part(table, name) if several else table.part,
        title=shorten(name, 200) if several else "",
        header=_heading(table),
        assumed=_said(table),
        faults=table.faults,
        place=lambda i: f"{table.row_word} {rows[i]}",
    )


def _optical_constant(table: Table, column: int) -> str | None:
    """Name a lone column ``k``, or one of the pair ``n`` and ``k``: a letter among many names a sample."""
    names = [name.strip() for name in table.names]
    alone = names[1:] in (["k"], ["n", "k"], ["n"], ["\N{GREEK SMALL LETTER KAPPA}"])
    return "an optical constant" if alone and column > 0 else None


def _said(table: Table) -> tuple[str, ...]:
    """Say what was assumed and left out."""
    left_out = tuple(f"column {shorten(name)!r} left out: text" for name in table.text_columns)
    return tuple(said for said in table.assumed if said) + left_out


def _part(table: Table, name: str) -> str:
    """Sheet and column."""
    return shorten(f"{table.part}: {name}" if table.part else name, 120)


def _heading(table: Table) -> tuple[tuple[str, str], ...]:
    """Heading lines as header entries."""
    entries = tuple((f"{table.row_word} {i}", shorten(text, 500)) for i, text in enumerate(table.heading, 1))
    names = tuple(shorten(name, 100) for name in table.names[:20] if name)
    return (*entries, ("columns", ", ".join(names))) if names else entries
