"""Rows of cells sorted into tables, and the lines around them: headings, notes, tables one under another."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from spectra.errors import FormatError
from spectra.reading.numbers import shorten
from spectra.reading.tables.cell import Cell, is_missing, is_number, is_number_row
from spectra.reading.tables.delimiter import MOST_COLUMNS

FEWEST_ROWS = 10  # fewer are no table of their own

_FEW = 50  # rows that may be a list of peaks beside a spectrum


@dataclass(eq=False)
class Rows:
    """Rows of cells that make the table, and the lines around them.

    Attributes
    ----------
    cells
        Text, or numbers where the file holds numbers (spreadsheets).
    numbers
        Line or row of each in the file, from 1.
    heading, footing
        The lines before and after, and comments, cells joined by tabs.
    left_out
        Rows of numbers before and after that are notes.
    """

    cells: list[list[Cell]] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    heading: list[str] = field(default_factory=list)
    footing: list[tuple[int, str]] = field(default_factory=list)
    left_out: list[tuple[int, str]] = field(default_factory=list)

    @property
    def as_lines(self) -> list[tuple[int, str]]:
        """Its rows, with their places, as text."""
        lines = ("\t".join(str(cell) for cell in row) for row in self.cells)
        return list(zip(self.numbers, lines, strict=True))


def gather_rows(cells: list[list[Cell]], where: str, row_word: str) -> list[Rows]:
    """Find the tables among rows of cells; none if no row holds two numbers.

    Raises
    ------
    FormatError
        If words stand between rows of numbers.
    """
    stack = [Rows()]
    for number, row in enumerate(cells, 1):
        if any(cell != "" for cell in row):
            line = "\t".join(str(cell) for cell in row[:MOST_COLUMNS])
            sort_in(stack, number, line, list(row))
    stack = join_rows(stack, f"{where}: {row_word}")
    return stack if stack[0].cells else []


def sort_in(stack: list[Rows], number: int, line: str, cells: list[Cell]) -> None:
    """Add one row to the heading, the table or the footing of the last table, or begin another."""
    rows, numbers = stack[-1], sum(is_number(cell) for cell in cells)
    broken = bool(rows.cells) and numbers == 1 and len(cells) >= len(rows.cells[0])
    if broken and is_number(rows.cells[0][0]) and has_word(cells[0]):
        broken = False  # a note such as "scans;32"
    if is_number_row(cells) or broken:
        if rows.footing:
            rows = Rows()
            stack.append(rows)
        rows.cells.append(cells)
        rows.numbers.append(number)
    elif rows.cells:
        rows.footing.append((number, line))
    else:
        rows.heading.append(line)


def join_rows(stack: list[Rows], place: str) -> list[Rows]:
    """Join pieces whose heading is only repeated; a word between rows of one table is an error.

    Raises
    ------
    FormatError
        Naming the word.
    """
    joined = [stack[0]]
    for rows in stack[1:]:
        before = joined[-1]
        if _is_note(before, rows):
            rows.heading = [*before.heading, *(line for _, line in (*before.as_lines, *before.footing))]
            rows.left_out = before.left_out + before.as_lines
            joined[-1] = rows
            continue
        if _is_note(rows, before):
            before.left_out += rows.as_lines
            before.footing += rows.footing
            continue
        at, found = before.footing[0]
        if not _starts_again(before, rows):
            repeated = [line for _, line in before.footing] == before.heading[-len(before.footing) :]
            if not repeated:
                raise FormatError(
                    f"{place} {at}: {shorten(found)!r} stands between rows of numbers; remove it, or mark "
                    "it as a comment with '#'"
                )
            before.cells += rows.cells
            before.numbers += rows.numbers
            before.footing = rows.footing
        else:
            rows.heading = [line for _, line in before.footing]
            before.footing = []
            joined.append(rows)
    return joined


def _starts_again(before: Rows, rows: Rows) -> bool:
    """Whether rows begin another table: of another width, or not going on where the last ended."""
    if min(len(before.cells), len(rows.cells)) < FEWEST_ROWS:
        return False
    if len(before.cells[0]) != len(rows.cells[0]):
        return True
    first, last, begin = (_first_number(row) for row in (before.cells[0], before.cells[-1], rows.cells[0]))
    return abs(begin - last) > abs(begin - first) or (begin - last) * (last - first) < 0


def _is_note(few: Rows, many: Rows) -> bool:
    """Whether rows before or after a table are notes, or a list of peaks: few, and no part of its axis."""
    if not 0 < len(few.cells) < _FEW or len(many.cells) < max(2 * FEWEST_ROWS, 4 * len(few.cells)):
        return False
    ends = _first_number(many.cells[0]), _first_number(many.cells[-1])
    step = abs(ends[1] - ends[0]) / (len(many.cells) - 1)
    own = [_first_number(row) for row in few.cells]
    if len(own) > 1 and abs(own[-1] - own[0]) / (len(own) - 1) > 5.0 * step:
        return True
    reach = 3.0 * FEWEST_ROWS * step
    return len(own) < FEWEST_ROWS and not any(abs(x - end) <= reach for x in own for end in ends)


def _first_number(row: list[Cell]) -> float:
    """First number of a row, near enough to compare."""
    for cell in row:
        if isinstance(cell, float):
            return cell
        if is_number(cell):
            plain = re.sub(r"[^\d.,eE+-]", "", cell).replace(",", ".")
            whole, _, rest = plain.partition(".")
            return float(f"{whole or 0}.{re.sub(r'[^0-9]', '', rest) or 0}")
    return float("nan")


def has_word(cell: Cell) -> bool:
    """Whether a cell holds a word: then its line is a note, and no row cut off."""
    return isinstance(cell, str) and not is_missing(cell) and re.search(r"[^\W\d_]{2}", cell) is not None
