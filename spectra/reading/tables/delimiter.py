"""What separates the cells of a text file, found from lines of its second half, where the numbers are."""

from __future__ import annotations

import re

from spectra.errors import FormatError
from spectra.reading.tables.cell import NUMBER, is_missing, is_number, is_number_row
from spectra.reading.tables.lines import BLANKS, is_comment, split_line, text_of

MOST_COLUMNS = 50_000

_DELIMITERS = ("\t", ";", "|")

_SAMPLE = 25


def find_delimiter(data: bytes, where: str) -> str:
    r"""Find what separates the cells: a tab, semicolon, bar, comma, or blanks.

    Raises
    ------
    FormatError
        If no line holds two numbers.
    AmbiguityError
        If commas may separate cells or decimals.

    Examples
    --------
    >>> find_delimiter(b"4000;0,1\n3999;0,2\n", "a.csv")
    ';'
    """
    lines: list[str] = []
    for part in (0.5, 0.75, 0.95, 0.0):
        lines = _sample(data, part)
        for delimiter in _DELIMITERS:
            if _fits(lines, delimiter, where):
                return BLANKS if delimiter == "\t" and _tabs_are_blanks(data) else delimiter
        if _fits(lines, ",", where) and not _decimal_commas(lines):
            return ","
        if _fits(lines, BLANKS, where):
            return BLANKS
    numbers = sum(NUMBER.fullmatch(line.strip().strip(",;")) is not None for line in lines)
    if numbers > len(lines) / 2:
        raise FormatError(
            f"{where}: found one column of numbers; expected abscissa and ordinate, export both columns"
        )
    raise FormatError(
        f"{where}: found no table of numbers; expected lines of abscissa and ordinate, export the spectrum "
        "as JCAMP-DX or CSV"
    )


def holds_numbers(data: bytes) -> bool:
    r"""Whether a line of some text holds numbers and nothing else.

    Examples
    --------
    >>> holds_numbers(b"film 7\n4000;0,1\n"), holds_numbers(b"42\n"), holds_numbers(b"1. read it\n")
    (True, True, False)
    """
    for line in _filled_lines(text_of(data)):
        for delimiter in (*_DELIMITERS, ",", BLANKS):
            cells = split_line(line.strip(), delimiter)[:200]
            rest = cells[len(cells) > 2 :]  # a name may stand before the numbers of a row
            if any(map(is_number, rest)) and all(is_number(cell) or is_missing(cell) for cell in rest):
                return True
    return False


def _tabs_are_blanks(data: bytes) -> bool:
    """Whether tabs and blanks are mixed, so that either separates cells: then all lines split alike."""
    middle = len(data) // 2
    lines = _filled_lines(_whole_lines(data[middle : middle + 3000]))
    if all("\t" in line for line in lines):
        return False
    rows = [line.split() for line in lines]
    return len({len(row) for row in rows}) == 1 and all(is_number_row(row) for row in rows)


def _sample(data: bytes, part: float) -> list[str]:
    """Lines from one part of the file on; the numbers are rarely at its start."""
    if len(data) >= 2000:
        begin = int(part * len(data))
        lines = _filled_lines(_whole_lines(data[begin : begin + 1500]))
        if len(lines) >= 3:
            return lines[:: max(1, len(lines) // _SAMPLE)][:_SAMPLE]
    lines = _filled_lines(text_of(data))
    lines = lines[int(part * len(lines)) :]
    if len(data) >= 2000:  # long lines
        lines = lines[:: max(1, len(lines) // _SAMPLE)]
    return lines[:_SAMPLE]


def _whole_lines(piece: bytes) -> str:
    """Decode the lines of a piece that are whole."""
    return text_of(piece[piece.find(b"\n") + 1 : piece.rfind(b"\n") + 1])


def _filled_lines(text: str) -> list[str]:
    """Lines that are neither blank nor comments."""
    return [line for line in text.split("\n") if line.strip() and not is_comment(line)]


def _fits(lines: list[str], delimiter: str, where: str) -> bool:
    """Whether most lines hold at least two numbers when split so."""
    good = 0
    for line in lines:
        if delimiter != BLANKS and delimiter not in line:
            continue
        if line.count(delimiter) > MOST_COLUMNS:
            raise FormatError(
                f"{where}: a line has more than {MOST_COLUMNS} cells; expected one spectrum a "
                "column, split the file"
            )
        cells = split_line(line, delimiter)
        good += is_number_row(cells[:200])
    return bool(lines) and good >= 0.6 * len(lines)


def _decimal_commas(lines: list[str]) -> bool:
    """Whether blanks separate the cells, each with a comma inside."""
    split = [line.split() for line in lines]
    return all(len(cells) >= 2 for cells in split) and all(
        re.fullmatch(r"[+-]?\d*(?:,\d+)?(?:[eE][+-]?\d+)?", cell) for cells in split for cell in cells
    )
