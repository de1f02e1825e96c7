"""Tables read cell by cell: empty cells, quotes, text columns, thousands marks, mixed decimal marks.

Slower than one pass over plain numbers, and able to say which line or cell is wrong.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from spectra.errors import AmbiguityError, FormatError
from spectra.reading.dialect import (
    BLANKS,
    MOST_COLUMNS,
    NUMBER,
    comma_message,
    decimal_evidence,
    is_comment,
    split_line,
    take_names,
)
from spectra.reading.numbers import shorten
from spectra.reading.shapes import Table
from spectra.units import FloatArray

MISSING = frozenset(
    (
        "",
        "-",
        "--",
        "---",
        "?",
        "*",
        "nan",
        "-nan",
        "na",
        "n/a",
        "#n/a",
        "none",
        "null",
        "inf",
        "-inf",
        "+inf",
    )
    + ("#num!", "#value!", "#div/0!", "1.#qnan", "-1.#ind")
)
_MARKS = str.maketrans("", "", "'\u00a0\u202f\u2009 ")


@dataclass(eq=False)
class _Rows:
    """Rows of cells found so far, and the lines around them."""

    cells: list[list[str]] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    heading: list[str] = field(default_factory=list)
    footing: list[tuple[int, str]] = field(default_factory=list)


def parse_cells(text: str, delimiter: str, where: str) -> Table:
    """Read a text table cell by cell.

    Raises
    ------
    FormatError
        Naming the line: cells are missing, text stands among the numbers.
    AmbiguityError
        If the decimal mark cannot be told.
    """
    rows = _gather(text, delimiter, where)
    return table_from_rows(
        rows.cells,
        rows.lines,
        where,
        delimiter=delimiter,
        heading=rows.heading,
        footing=tuple(line for _, line in rows.footing),
    )


def _gather(text: str, delimiter: str, where: str) -> _Rows:
    """Sort the lines into heading, table and footing."""
    rows = _Rows()
    for number, raw in enumerate(text.split("\n"), 1):
        line = raw.strip("\ufeff \r\f\x1a") if delimiter != "\t" else raw.strip("\ufeff\r\f\x1a")
        if not line.strip():
            continue
        if is_comment(line) and not (line[0] == ";" == delimiter and rows.cells):
            rows.heading.append(line)
            continue
        cells = split_line(line, delimiter)
        numbers = sum(is_number(cell) for cell in cells)
        if numbers >= 2 or (rows.cells and numbers == 1 and len(cells) >= len(rows.cells[0])):
            if rows.footing:
                at, found = rows.footing[0]
                raise FormatError(
                    f"{where}: line {at}: {shorten(found)!r} stands between lines of numbers; remove it, or mark it "
                    "as a comment with '#'"
                )
            rows.cells.append(cells)
            rows.lines.append(number)
        elif rows.cells:
            _require_footing(cells, number, line, where)
            rows.footing.append((number, line))
        else:
            rows.heading.append(line)
    if not rows.cells:
        raise FormatError(f"{where}: found no table of numbers; export the spectrum as JCAMP-DX or CSV")
    return rows


def _require_footing(cells: list[str], number: int, line: str, where: str) -> None:
    """After the numbers only words may follow; a number that stands alone is a broken line."""
    if any(is_number(cell) for cell in cells):
        raise FormatError(
            f"{where}: line {number}: {shorten(line)!r} has too few numbers; was the file cut off? Export again"
        )


def is_number(cell: str) -> bool:
    """Whether a cell reads as one number, whatever its decimal mark."""
    return NUMBER.fullmatch(cell) is not None


def table_from_rows(
    cells: list[list[str]],
    lines: Sequence[int],
    where: str,
    *,
    delimiter: str = "\t",
    heading: Sequence[str] = (),
    footing: tuple[str, ...] = (),
) -> Table:
    """Turn rows of text cells into numbers, column by column.

    Raises
    ------
    FormatError, AmbiguityError
        See :func:`parse_cells`.
    """
    width = _require_even_width(cells, lines, delimiter, where)
    columns = [[row[i] for row in cells] for i in range(width)]
    textual = [_is_textual(column) for column in columns]
    names, rest = take_names(list(heading), width, delimiter)
    comma, point = _file_evidence(columns)
    values, assumed = [], dict.fromkeys(("decimal commas",) if comma and not point else ())
    for i, column in enumerate(columns):
        if not textual[i]:
            values.append(_column_values(column, lines, i, (comma, point), where))
    if not values:
        raise FormatError(f"{where}: found no column of numbers; export the spectrum as JCAMP-DX or CSV")
    keep = [i for i in range(width) if not textual[i]]
    label_column = next((i for i in range(min(2, width)) if textual[i]), None)
    labels = tuple(columns[label_column]) if label_column is not None else ("",) * len(cells)
    dropped = [i for i in range(width) if textual[i] and i != label_column]
    return Table(
        np.column_stack(values),
        tuple(names[i] for i in keep),
        labels,
        tuple(lines),
        (*rest, *footing),
        assumed=tuple(assumed),
        text_columns=tuple(names[i] or f"column {i + 1}" for i in dropped),
    )


def _require_even_width(cells: list[list[str]], lines: Sequence[int], delimiter: str, where: str) -> int:
    """Give every row as many cells, empty ones at the end taken off; a short row is an error."""
    if all(row and row[-1] == "" for row in cells):
        for row in cells:
            row.pop()
    widths = [len(row) for row in cells]
    width = int(np.median(widths)) if len(set(widths)) > 1 else widths[0]
    if width > MOST_COLUMNS:
        raise FormatError(f"{where}: a row has more than {MOST_COLUMNS} cells; split the file")
    for row, line in zip(cells, lines, strict=True):
        while len(row) > width and row[-1] == "":
            row.pop()
        if len(row) != width:
            hint = " (is the comma a decimal mark too?)" if delimiter == "," else ""
            raise FormatError(
                f"{where}: line {line}: found {len(row)} cells; expected {width} as in most lines{hint}, correct the line"
            )
    if delimiter == BLANKS and width == 1:
        raise FormatError(f"{where}: found one column of numbers; expected abscissa and ordinate")
    return width


def _is_textual(column: list[str]) -> bool:
    """Whether a column holds words: no number but perhaps in its first cell."""
    rest = column[1:] or column
    return not any(is_number(cell) for cell in rest) and any(cell.lower() not in MISSING for cell in column)


def _file_evidence(columns: list[list[str]]) -> tuple[bool, bool]:
    """Whether comma and point separate decimals somewhere in the table."""
    joined = "\n".join("\n".join(column) for column in columns)
    return decimal_evidence(joined, ","), decimal_evidence(joined, ".")


def _column_values(
    column: list[str], lines: Sequence[int], index: int, evidence: tuple[bool, bool], where: str
) -> FloatArray:
    """Read one column, its decimal mark decided by its own cells first."""
    marks = _decimal_mark("\n".join(column), evidence, where)
    values = np.empty(len(column))
    for i, cell in enumerate(column):
        values[i] = _value(cell, marks, f"{where}: line {lines[i]}, column {index + 1}")
    return values


def _decimal_mark(joined: str, evidence: tuple[bool, bool], where: str) -> str:
    """The character that separates decimals in a column."""
    if "," not in joined:
        thousands = evidence[0] and not evidence[1] and not decimal_evidence(joined, ".")
        return "," if thousands else "."
    comma, point = decimal_evidence(joined, ","), decimal_evidence(joined, ".")
    if re.search(r"\.\d{3},\d", joined):
        comma, point = True, False
    elif re.search(r",\d{3}\.\d", joined):
        comma, point = False, True
    if not comma and not point:
        comma, point = evidence
    if comma == point:
        raise AmbiguityError(comma_message(joined, where))
    return "," if comma else "."


def _value(cell: str, mark: str, place: str) -> float:
    """One cell as a number; NaN where it says that there is none."""
    if cell.lower() in MISSING:
        return float("nan")
    plain = cell.translate(_MARKS)
    other = "." if mark == "," else ","
    plain = plain.replace(other, "").replace(mark, ".").replace("d", "e").replace("D", "e")
    try:
        return float(plain) if NUMBER.fullmatch(cell) else _no_number(cell, place)
    except ValueError:
        return _no_number(cell, place)


def _no_number(cell: str, place: str) -> float:
    raise FormatError(f"{place}: {shorten(cell)!r} is not a number; correct the cell or leave it empty")
