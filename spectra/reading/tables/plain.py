"""A plain rectangle of numbers that reaches to the end of its file, read in one pass.

The bytes are read piece by piece and never held a second time. Each piece must have the form of the first
line: what is left of it without the characters of numbers is a row of delimiters, over and over. Anything
else is left to the reader of single cells.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from spectra.errors import AmbiguityError, FormatError
from spectra.reading.numbers import MOST_POINTS, number_ends, parse_numbers, shorten
from spectra.reading.tables.cell import is_number_row
from spectra.reading.tables.decimal_mark import (
    comma_message,
    decimal_evidence,
    require_no_other_mark,
)
from spectra.reading.tables.heading import require_no_broken_row, require_no_rows_above, take_names
from spectra.reading.tables.lines import BLANKS, is_comment, split_line, text_of
from spectra.reading.tables.table import Table
from spectra.units import FloatArray

_PIECE = 1 << 18  # bytes read at once: the working arrays stay in the processor's cache

_OF_NUMBERS = b"0123456789.+-eE"

_TWO_MARKS_COMMA, _TWO_MARKS_POINT = re.compile(r"\d\.\d{3},\d"), re.compile(r"\d,\d{3}\.\d")


@dataclass(frozen=True)
class _Body:
    """Where the numbers stand in a file, and how.

    Attributes
    ----------
    start, end
        First byte, and the one after the last.
    delimiter
        One byte.
    closed
        Whether every line ends in a delimiter.
    columns, rows
    """

    data: bytes
    start: int
    end: int
    delimiter: bytes
    closed: bool
    columns: int
    rows: int

    @property
    def pieces(self) -> Iterator[bytes]:
        """The lines in order, many at a time, each piece without its last line break."""
        at = self.start
        while at < self.end:
            stop = self.data.find(b"\n", at + _PIECE, self.end)
            stop = self.end if stop < 0 else stop
            piece = self.data[at:stop]
            yield piece.replace(b"\r\n", b"\n").removesuffix(b"\r") if b"\r" in piece else piece
            at = stop + 1

    def shows(self, evidence: Callable[[str], bool]) -> bool:
        """Whether a piece shows something."""
        return any(evidence(piece.decode("latin-1")) for piece in self.pieces)


def read_plain(data: bytes, delimiter: str, where: str, mark: str | None = None) -> Table | None:
    r"""Read a plain table, or answer None.

    Parameters
    ----------
    data
        Text, see :func:`~spectra.reading.tables.lines.one_byte_text`.
    delimiter
        What separates its cells.
    where
        File, for messages.
    mark
        Decimal mark that a person states.

    Returns
    -------
    Table or None
        None for anything but numbers and empty cells, for lines of another number of cells, for blank lines.

    Raises
    ------
    FormatError, AmbiguityError
        See :func:`~spectra.reading.tables.delimited.read_delimited`.

    Examples
    --------
    >>> table = read_plain(b"cm-1;A\n4000;0,1\n3999;\n", ";", "a.csv")
    >>> table.names, table.values.tolist(), table.assumed
    (('cm-1', 'A'), [[4000.0, 0.1], [3999.0, nan]], ('decimal commas',))
    """
    start, line = _table_start(data, delimiter)
    body = _body(data, start, delimiter)
    if body is None:
        return None
    marks = _marks(body, where, mark)
    values = None if marks is None else _values(body, *marks, where)
    if values is None:
        return None
    heading = [text.strip() for text in text_of(data[:start]).split("\n")]
    require_no_rows_above(heading, body.columns, delimiter, where)
    names, heading = take_names(heading, body.columns, delimiter)
    if body.rows > 1:
        require_no_broken_row(names, float(values[0, 0]), float(values[1, 0]), where)
    if delimiter == "," and mark is None:
        _require_no_decimal_commas(body, names, where)
    return Table(
        values,
        names,
        range(line, line + body.rows),
        heading=tuple(heading),
        assumed=("decimal commas",) if marks == (",", ".") else (),
    )


def _table_start(data: bytes, delimiter: str) -> tuple[int, int]:
    """Position and line number of the first line that begins with two numbers."""
    position, line = 0, 1
    while position < len(data):
        end = data.find(b"\n", position)
        end = len(data) if end < 0 else end
        content = text_of(data[position : min(end, position + 5000)]).strip(" \r\n\ufeff")
        if content.strip() and not is_comment(content):
            cells = split_line(content, delimiter)
            if is_number_row(cells[:2]):
                break
        position, line = end + 1, line + 1
    return min(position, len(data)), line


def _body(data: bytes, start: int, delimiter: str) -> _Body | None:
    """Take the form of a table from its first line; None if it has one column only."""
    tail = data[max(start, len(data) - _PIECE) :]
    end = len(data) - len(tail) + len(tail.rstrip(b" \r\n\x1a\x00"))
    stop = data.find(b"\n", start, end)
    first = data[start : end if stop < 0 else stop].strip(b" \r")
    byte = delimiter.encode()
    if delimiter == BLANKS:
        closed, columns = False, len(first.split())
    else:
        closed = first.endswith(byte)
        columns = first.count(byte) + (not closed)
    if columns < 2:
        return None
    return _Body(data, start, end, byte, closed, columns, data.count(b"\n", start, end) + 1)


def _marks(body: _Body, where: str, mark: str | None) -> tuple[str, str] | None:
    """Tell the decimal mark and the thousands mark; None where the columns must be judged one by one."""
    if body.delimiter == b"," or body.data.find(b",", body.start, body.end) < 0:
        return ".", ""
    comma, point = _decimal_marks(body)
    if mark is not None:
        require_no_other_mark((comma, point), mark, where)
        comma, point = mark == ",", mark == "."
    if comma and point:
        return None
    if not comma and not point:
        example = next(piece for piece in body.pieces if b"," in piece)
        raise AmbiguityError(comma_message(text_of(example), where))
    return (",", ".") if comma else (".", ",")


def _decimal_marks(body: _Body) -> tuple[bool, bool]:
    """Whether comma and point are shown to separate decimals; of two marks in one number the last does."""
    if body.data.find(b".", body.start, body.end) < 0:
        return body.shows(lambda text: decimal_evidence(text, ",")), False
    if body.shows(lambda text: _TWO_MARKS_COMMA.search(text) is not None):
        return True, False
    if body.shows(lambda text: _TWO_MARKS_POINT.search(text) is not None):
        return False, True
    comma = body.shows(lambda text: decimal_evidence(text, ","))
    return comma, body.shows(lambda text: decimal_evidence(text, "."))


def _values(body: _Body, decimal: str, thousands: str, where: str) -> FloatArray | None:
    """Read all numbers; None if a piece has another form than the first line."""
    if body.rows * body.columns > body.end - body.start + 1:
        return None  # not so many cells in all lines
    if body.rows * body.columns > MOST_POINTS:
        raise FormatError(f"{where}: more than {MOST_POINTS} numbers in one table; split the file")
    spelled = bytes.maketrans(body.delimiter + decimal.encode(), b" .")
    values = np.empty((body.rows, body.columns))
    filled = 0
    for piece in body.pieces:
        rows = piece.count(b"\n") + 1
        even = _evened(piece, rows, body)
        if even is None:
            return None
        numbers = parse_numbers(even.translate(spelled, thousands.encode()), rows * body.columns)
        if numbers is None:
            return None
        values[filled : filled + rows] = numbers.reshape(rows, body.columns)
        filled += rows
    return values


def _evened(piece: bytes, rows: int, body: _Body) -> bytes | None:
    """Return lines with one delimiter between two cells and a word in every cell, or None."""
    delimiter, of_numbers = body.delimiter, _OF_NUMBERS + (b"" if body.delimiter == b"," else b",")
    if delimiter == b" ":
        plain = not piece.translate(None, of_numbers + b" \t\n")
        return piece if plain and _fills_lines(piece, rows, body.columns) else None
    if b" " in piece or (delimiter != b"\t" and b"\t" in piece):
        blanks = b" \t".replace(delimiter, b"")
        if re.search(rb"[%b][%b]+[%b]" % (re.escape(of_numbers), blanks, re.escape(of_numbers)), piece):
            return None
        piece = piece.translate(None, blanks)
    row = delimiter * (body.columns - 1 + body.closed) + b"\n"
    if piece.translate(None, of_numbers) != (row * rows)[:-1]:
        return None
    if body.closed:
        if piece.count(delimiter + b"\n") + piece.endswith(delimiter) != rows:
            return None
        piece = piece.replace(delimiter + b"\n", b"\n").removesuffix(delimiter)
    if delimiter * 2 in piece or delimiter + b"\n" in piece or piece.endswith(delimiter):
        mark = re.escape(delimiter)
        piece = re.sub(rb"(?<=" + mark + rb")(?=" + mark + rb"|\n|$)", b"nan", piece)
    return piece


def _fills_lines(piece: bytes, rows: int, columns: int) -> bool:
    """Whether every line holds so many words, whatever blanks stand between them."""
    characters = np.frombuffer(piece, np.uint8)
    ends = number_ends(characters)
    if ends.size != rows * columns:
        return False
    words, breaks = ends.reshape(rows, columns), np.flatnonzero(characters == 10)
    return bool(np.all(breaks >= words[:-1, -1]) and np.all(breaks < words[1:, 0]))


def _require_no_decimal_commas(body: _Body, names: tuple[str, ...], where: str) -> None:
    """Commas between whole numbers only may be decimal commas; the header must tell.

    Raises
    ------
    AmbiguityError
        If it does not.
    """
    if any(names) or body.columns % 2 or body.data.find(b".", body.start, body.end) >= 0:
        return
    if body.columns == 2 and not body.shows(lambda text: re.search(r",0\d", text) is not None):
        return
    line = text_of(next(body.pieces).partition(b"\n")[0])
    first = line.split(",")
    pairs = [f"{first[i]}.{first[i + 1]}" for i in range(0, body.columns, 2)]
    raise AmbiguityError(
        f"{where}: {shorten(line)!r} is {', '.join(first[:6])} if commas separate cells, and "
        f"{', '.join(pairs[:3])} if they mark decimals; export with semicolons or with decimal points"
    )
