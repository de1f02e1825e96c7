"""Spectra as text: any common delimiter, decimal point or comma, header lines, comments.

The delimiter is found from lines of the second half of the file, where the numbers are. A table that is
plain from its first line of numbers to the last is read in one pass; any other is read cell by cell, so
that a message can name the line. What a comma means is decided by evidence in the numbers themselves
(``0,5`` and ``1234,5`` cannot be thousands); without evidence both readings are shown and none is taken.
"""

from __future__ import annotations

import re

import numpy as np

from spectra.errors import AmbiguityError, FormatError
from spectra.reading.numbers import MOST_POINTS, parse_numbers
from spectra.reading.source import Source, two_byte_order
from spectra.reading.tables.cells import parse_cells
from spectra.reading.tables.dialect import (
    BLANKS,
    COMMENT_STARTS,
    comma_message,
    decimal_evidence,
    find_delimiter,
    is_comment,
    is_number_row,
    require_no_broken_row,
    require_no_decimal_commas,
    require_no_other_mark,
    split_line,
    take_names,
)
from spectra.reading.tables.orientation import tables_traces
from spectra.reading.tables.table import Table
from spectra.reading.trace import Trace

_TWO_MARKS_COMMA, _TWO_MARKS_POINT = re.compile(r"\d\.\d{3},\d"), re.compile(r"\d,\d{3}\.\d")


def read_delimited(source: Source) -> tuple[Trace, ...]:
    """Read every spectrum of a delimited text file.

    Parameters
    ----------
    source : Source

    Returns
    -------
    tuple of Trace

    Raises
    ------
    FormatError
        If the file is not text, or holds no table of numbers.
    AmbiguityError
        If the numbers can be read in two ways.
    """
    return tables_traces(read_tables(source), source.path, source.stated)


def read_tables(source: Source) -> tuple[Table, ...]:
    """Read the tables of numbers of a text file, and the words around them.

    Raises
    ------
    FormatError, AmbiguityError
        See :func:`read_delimited`.
    """
    text = decoded(source.data)
    delimiter = find_delimiter(text, source.path)
    start, start_line = _table_start(text, delimiter)
    mark = source.stated.decimal
    table = _in_one_pass(text, start, start_line, delimiter, source.path, mark)
    if table is not None:
        return (table,)
    return parse_cells(text, delimiter, source.path, mark)


def decoded(data: bytes) -> str:
    r"""Decode text: by its byte-order mark, else UTF-8, else Latin-1; lines end in ``\n``."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        text = data.decode("utf-16", errors="replace")
    elif wide := two_byte_order(data):
        text = data.decode(wide, errors="replace")
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = data.decode("latin-1")
    if "\N{MINUS SIGN}" in text:
        text = text.replace("\N{MINUS SIGN}", "-")
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return text.rstrip("\x1a\x00 \t\n") if text.endswith(("\x1a", "\x00")) else text


def _table_start(text: str, delimiter: str) -> tuple[int, int]:
    """Position and line number of the first line that begins with two numbers."""
    position, line = 0, 1
    while position < len(text):
        end = text.find("\n", position)
        end = len(text) if end < 0 else end
        content = text[position : min(end, position + 5000)].strip(" \r")
        if content.strip() and not is_comment(content):
            cells = split_line(content, delimiter)
            if is_number_row(cells[:2]):
                break
        position, line = end + 1, line + 1
    return min(position, len(text)), line


def _in_one_pass(
    text: str, start: int, start_line: int, delimiter: str, where: str, mark: str | None
) -> Table | None:
    """Read a plain rectangle of numbers that reaches to the end of the file, or answer None."""
    block = text[start:].rstrip(" \n")
    if '"' in block or "\n\n" in block or not block.isascii() or delimiter in COMMENT_STARTS:
        return None
    block = _with_gaps_filled(block, delimiter)
    columns = _columns(block, delimiter, where)
    if columns is None or columns < 2:
        return None
    marked = _with_points(block, delimiter, where, mark)
    if marked is None:
        return None
    plain, decimal_commas = marked
    if delimiter != BLANKS:
        plain = plain.replace(delimiter, " ")
    rows = block.count("\n") + 1
    values = parse_numbers(plain, rows * columns)
    if values is None:
        return None
    heading = [line.strip() for line in text[:start].split("\n")]
    names, heading = take_names(heading, columns, delimiter)
    if rows > 1:
        require_no_broken_row(names, float(values[0]), float(values[columns]), where)
    if delimiter == "," and mark is None:
        require_no_decimal_commas(block, columns, names, where)
    return Table(
        values.reshape(rows, columns),
        names,
        ("",) * rows,
        range(start_line, start_line + rows),
        tuple(heading),
        assumed=("decimal commas",) if decimal_commas else (),
    )


def _columns(block: str, delimiter: str, where: str) -> int | None:
    """Count the cells if every line has as many, else None."""
    characters = np.frombuffer(block.encode("ascii"), np.uint8)
    breaks = np.flatnonzero(characters == 10)
    if delimiter == BLANKS:
        blank = (characters == 32) | (characters == 9) | (characters == 10)
        begins = ~blank
        begins[1:] &= blank[:-1]
    else:
        begins = characters == ord(delimiter)
    if np.count_nonzero(begins) > MOST_POINTS:
        raise FormatError(f"{where}: more than {MOST_POINTS} numbers in one table; split the file")
    cells = np.flatnonzero(begins)
    edges = np.concatenate([[0], np.searchsorted(cells, breaks), [cells.size]])
    counts = np.diff(edges)
    if counts.size == 0 or counts.min() != counts.max():
        return None
    count = int(counts[0])
    if delimiter == BLANKS:
        return count
    return count + 1


def _with_gaps_filled(block: str, delimiter: str) -> str:
    """Write ``nan`` into empty cells, and take off a delimiter that ends every line."""
    if delimiter == BLANKS:
        return block
    mark = re.escape(delimiter)
    if " " not in block:  # the quick way to the same answers
        ends, gaps = block.count(f"{delimiter}\n") + block.endswith(delimiter), delimiter * 2 in block
    else:
        ends = len(re.findall(rf"{mark} *(?:\n|$)", block))
        gaps = re.search(rf"{mark} *{mark}", block) is not None
    if ends == block.count("\n") + 1:
        block = re.sub(rf"{mark} *(?=\n|$)", "", block)
    elif not ends and not gaps:
        return block
    return re.sub(rf"(?<={mark}) *(?={mark}|\n|$)", "nan", block)


def _with_points(block: str, delimiter: str, where: str, mark: str | None) -> tuple[str, bool] | None:
    """Return the block with decimal points and without thousands marks, and whether commas were decimal.

    None where the columns must be judged one by one.
    """
    if delimiter == "," or "," not in block:
        return block, False
    comma, point = _decimal_marks(block)
    if mark is not None:
        require_no_other_mark(block, mark, where)
        comma, point = mark == ",", mark == "."
    if comma and point:
        return None
    if comma:
        return block.replace(".", "").replace(",", "."), True
    if point:
        return block.replace(",", ""), False
    raise AmbiguityError(comma_message(block, where))


def _decimal_marks(block: str) -> tuple[bool, bool]:
    """Whether comma and point are shown to separate decimals; of two marks in one number the last does."""
    if "." not in block:
        return decimal_evidence(block, ","), False
    if _TWO_MARKS_COMMA.search(block):
        return True, False
    if _TWO_MARKS_POINT.search(block):
        return False, True
    return decimal_evidence(block, ","), decimal_evidence(block, ".")
