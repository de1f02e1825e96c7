"""Tables read cell by cell: empty cells, quotes, text columns, thousands marks, mixed decimal marks.

Slower than one pass over plain numbers, and able to say which line or cell is wrong.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np

from spectra.errors import AmbiguityError, FormatError
from spectra.reading.numbers import shorten
from spectra.reading.tables.cell import NUMBER, Cell, is_missing, is_number
from spectra.reading.tables.decimal_mark import comma_message, decimal_evidence, require_no_other_mark
from spectra.reading.tables.delimiter import MOST_COLUMNS
from spectra.reading.tables.heading import require_no_broken_row, require_no_rows_above, take_names
from spectra.reading.tables.lines import is_comment, split_line
from spectra.reading.tables.rows import FEWEST_ROWS, Rows, has_word, join_rows, sort_in
from spectra.reading.tables.table import Table, row_left_out
from spectra.units import FloatArray

# Cells take about 17 times the room of the text they stand in.
_LONGEST_TEXT = 40_000_000

_COMMA_LAST, _POINT_LAST = re.compile(r"\d\.\d{3},\d"), re.compile(r"\d,\d{3}\.\d")

_LIST_END = re.compile(r"[\[({]\s*[+-]?\d[\d.,eE+-]*$|^[+-]?\d[\d.,eE+-]*\s*[\])}]")

_MARKS = str.maketrans("", "", "'\u2019\u00a0\u202f\u2009 ")


def parse_cells(text: str, delimiter: str, where: str, mark: str | None = None) -> tuple[Table, ...]:
    """Read text tables cell by cell.

    Raises
    ------
    FormatError
        Naming the line: cells are missing, text stands among the numbers.
    AmbiguityError
        If the decimal mark cannot be told.
    """
    if len(text) > _LONGEST_TEXT:
        raise FormatError(
            f"{where}: {len(text) / 1e6:.0f} MB with quotes, words or mixed decimal marks; at most "
            f"{_LONGEST_TEXT / 1e6:.0f} MB are read so, export plain numbers"
        )
    stack = [Rows()]
    for number, raw in enumerate(text.split("\n"), 1):
        line = raw.strip("\ufeff\r\f\x1a") if delimiter == "\t" else raw.strip("\ufeff \r\f\x1a")
        if line.strip() and is_comment(line) and not (line[0] == ";" == delimiter and stack[-1].cells):
            stack[-1].heading.append(line)
        elif line.strip():
            sort_in(stack, number, line, list(split_line(line, delimiter)))
    stack = join_rows(stack, f"{where}: line")
    if not stack[0].cells:
        raise FormatError(f"{where}: found no table of numbers; export the spectrum as JCAMP-DX or CSV")
    return tables_of(stack, where, delimiter=delimiter, mark=mark)


def tables_of(
    stack: list[Rows], where: str, *, delimiter: str = "\t", row_word: str = "line", mark: str | None = None
) -> tuple[Table, ...]:
    """Turn tables that stand one under another into numbers; each is named by the line above it."""
    tables = []
    for number, rows in enumerate(stack, 1):
        table = table_from_rows(rows, where, delimiter=delimiter, row_word=row_word, mark=mark)
        if len(stack) > 1:
            title = table.heading[-1] if table.heading else ""
            table = replace(table, part=shorten(title.strip("#%;!*/ \t"), 60) or f"table {number}")
        tables.append(table)
    return tuple(tables)


def _require_whole(rows: Rows, row_word: str, where: str) -> None:
    """Require that a line of numbers after the table is a note, and no row cut off.

    Raises
    ------
    FormatError
        Naming the line.
    """
    for number, line in rows.footing:
        cells = line.split("\t") if "\t" in line else re.split(r"[;,|\s]+", line)
        if any(is_number(cell) for cell in cells) and not any(has_word(cell) for cell in cells):
            raise FormatError(
                f"{where}: {row_word} {number}: {shorten(line)!r} has too few numbers; was the file cut off? "
                "Export again"
            )


def table_from_rows(
    rows: Rows, where: str, *, delimiter: str = "\t", row_word: str = "line", mark: str | None = None
) -> Table:
    """Turn rows of cells into numbers, column by column.

    Raises
    ------
    FormatError, AmbiguityError
        See :func:`parse_cells`.
    """
    _require_whole(rows, row_word, where)
    _give_names_back(rows)
    _take_notes_off(rows)
    width = _require_even_width(rows, delimiter, row_word, where)
    if sum(is_number(cell) for cell in rows.cells[0]) >= FEWEST_ROWS:  # abscissae in the first row
        rows.cells[0] = _without_corner(rows.cells)
    columns = [[row[i] for row in rows.cells] for i in range(width)]
    textual = [_is_textual(column) for column in columns]
    empty = [all(cell == "" for cell in column) for column in columns]
    require_no_rows_above(rows.heading, width, delimiter, where)
    names, heading = take_names(rows.heading, width, delimiter)
    _require_no_list(columns, textual, rows.numbers, f"{where}: {row_word}")
    if all(words or nothing for words, nothing in zip(textual, empty, strict=True)):
        raise FormatError(f"{where}: found no column of numbers; export the spectrum as JCAMP-DX or CSV")
    evidence = _file_evidence(columns)
    if mark is not None:
        require_no_other_mark(evidence, mark, where)
        evidence = (mark == ",", mark == ".")
    values = [
        _column_values(
            column,
            rows.numbers,
            f"{where}: {row_word} {{}}, column {i + 1}",
            mark or _decimal_mark(_words(column), evidence, where),
        )
        for i, column in enumerate(columns)
        if not textual[i] and not empty[i]
    ]
    if len(rows.cells) > 1:
        require_no_broken_row(names, float(values[0][0]), float(values[0][1]), where)
    keep = [i for i in range(width) if not textual[i] and not empty[i]]
    label_column = next((i for i in range(min(2, width)) if textual[i]), None)
    return Table(
        np.column_stack(values),
        tuple(names[i] for i in keep),
        tuple(rows.numbers),
        () if label_column is None else tuple(str(cell) for cell in columns[label_column]),
        (*heading, *(line for _, line in rows.footing)),
        row_word,
        assumed=("decimal commas",) if evidence == (True, False) else (),
        label_name=None if label_column is None else names[label_column] or f"column {label_column + 1}",
        text_columns=tuple(
            names[i] or f"column {i + 1}" for i in range(width) if textual[i] and i != label_column
        ),
        faults=tuple(row_left_out(f"{row_word} {number}", line) for number, line in rows.left_out),
    )


def _require_no_list(columns: list[list[Cell]], textual: list[bool], numbers: list[int], place: str) -> None:
    """Refuse a column of words that are numbers with a bracket of a list: they would be lost.

    Raises
    ------
    FormatError
        Naming the cell.
    """
    for column, words in zip(columns, textual, strict=True):
        for cell, number in zip(column, numbers, strict=True):
            if words and isinstance(cell, str) and _LIST_END.search(cell):
                raise FormatError(
                    f"{place} {number}: {shorten(cell)!r} is a number and something else; take the brackets "
                    "away, or export one row a point"
                )


def _give_names_back(rows: Rows) -> None:
    """Take a first row such as ``cm-1, 1, 2, 3`` for what it is: names that are numbers."""
    if len(rows.cells) > 1 and not is_number(rows.cells[0][0]) and is_number(rows.cells[1][0]):
        if is_missing(rows.cells[0][0]):
            return
        rows.heading.append("\t".join(_as_text(cell) for cell in rows.cells.pop(0)))
        rows.numbers.pop(0)


def _take_notes_off(rows: Rows) -> None:
    """Take rows of numbers above the table for what they are, if they have another width: notes."""
    widths = [len(row) for row in rows.cells]
    usual = int(np.median(widths))
    while (
        len(rows.cells) > FEWEST_ROWS
        and len(_filled(rows.cells[0])) != usual
        and len(rows.cells[1:])
        and (len(rows.cells[0]) != usual)
    ):
        rows.heading.append("\t".join(_as_text(cell) for cell in rows.cells.pop(0)))
        rows.numbers.pop(0)


def _without_corner(cells: list[list[Cell]]) -> list[Cell]:
    """Return the first row without the words that head columns of numbers before its abscissae."""
    below = cells[1] if len(cells) > 1 else []
    first = cells[0]
    return [
        "" if has_word(cell) and i < len(below) and is_number(below[i]) else cell
        for i, cell in enumerate(first)
    ]


def _filled(row: list[Cell]) -> list[Cell]:
    """Return a row without the empty cells at its end."""
    end = len(row)
    while end and row[end - 1] == "":
        end -= 1
    return row[:end]


def _as_text(cell: Cell) -> str:
    """Write a number without needless decimals."""
    return f"{cell:.15g}" if isinstance(cell, float) else cell


def _require_even_width(rows: Rows, delimiter: str, row_word: str, where: str) -> int:
    """Give every row as many cells, empty ones at the end taken off; a short row is an error."""
    while all(len(row) > 1 and row[-1] == "" for row in rows.cells):
        for row in rows.cells:
            row.pop()
    width = int(np.median([len(row) for row in rows.cells]))
    if width > MOST_COLUMNS:
        raise FormatError(f"{where}: a row has more than {MOST_COLUMNS} cells; split the file")
    for row, number in zip(rows.cells, rows.numbers, strict=True):
        while len(row) > width and row[-1] == "":
            row.pop()
        if len(row) != width:
            hint = " (is the comma a decimal mark too?)" if delimiter == "," else ""
            raise FormatError(
                f"{where}: {row_word} {number}: found {len(row)} cells; expected {width} as in most{hint}, "
                "correct the file or export again"
            )
    return width


def _is_textual(column: list[Cell]) -> bool:
    """Whether a column holds words: no number but perhaps in its first cell."""
    rest = column[1:] or column
    return not any(is_number(cell) for cell in rest) and any(not is_missing(cell) for cell in column)


def _words(column: list[Cell]) -> str:
    """Join the cells that are text, one a line."""
    return "\n".join(cell for cell in column if isinstance(cell, str))


def _file_evidence(columns: list[list[Cell]]) -> tuple[bool, bool]:
    """Whether comma and point separate decimals somewhere in the table."""
    joined = "\n".join(_words(column) for column in columns)
    return decimal_evidence(joined, ","), decimal_evidence(joined, ".")


def _column_values(column: list[Cell], numbers: list[int], place: str, mark: str) -> FloatArray:
    """Read one column of numbers with one decimal mark."""
    values = np.empty(len(column))
    for i, cell in enumerate(column):
        values[i] = cell if isinstance(cell, float) else _value(cell, mark, place.format(numbers[i]))
    return values


def _decimal_mark(joined: str, evidence: tuple[bool, bool], where: str) -> str:
    """Tell the character that separates decimals in a column."""
    if "," not in joined:
        thousands = evidence == (True, False) and not decimal_evidence(joined, ".")
        return "," if thousands else "."
    comma, point = decimal_evidence(joined, ","), decimal_evidence(joined, ".")
    if _COMMA_LAST.search(joined):
        comma, point = True, False
    elif _POINT_LAST.search(joined):
        comma, point = False, True
    if not comma and not point:
        comma, point = evidence
    if comma == point:
        raise AmbiguityError(comma_message(joined, where))
    return "," if comma else "."


def _value(cell: str, mark: str, place: str) -> float:
    """One cell as a number; NaN where it says that there is none."""
    if is_missing(cell):
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
