"""How a text file writes its table: delimiter, comments, decimal mark, thousands mark, column names.

What a comma means is decided by evidence in the numbers themselves: ``0,5`` and ``1234,5`` cannot be
thousands. Without evidence both readings are shown and none is taken.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence

from spectra.errors import AmbiguityError, FormatError
from spectra.reading.numbers import shorten
from spectra.reading.units.words import foreign_x, foreign_y, hinted_y_unit, named_x_unit, named_y_unit

MOST_COLUMNS = 50_000

BLANKS = " "

NUMBER = re.compile(r"[+-]?(?:\d[\d.,'\u2019\u00a0\u202f\u2009]*|[.,]\d+)(?:[eEdD][+-]?\d{1,3})?", re.ASCII)

COMMENT_STARTS = ("#", "%", "//", "$$", "!", "*")

# What programs write where there is no number; compared in lower case.
MISSING = {"", "-", "--", "---", "?", "*", "inf", "-inf", "+inf"}

MISSING |= {
    "n.d.",
    "n.d",
    "nd",
    "n.a.",
    "n.a",
    "n/d",
    "k.a.",
    "s/d",
    "<na>",
    ".",
    "..",
    "missing",
    "n.v.",
    "none.",
}

# Errors of spreadsheets in several languages, and of old run-time libraries.
MISSING |= {
    "#nv",
    "#n/v",
    "#nd",
    "#n/d",
    "#zahl!",
    "#wert!",
    "#bezug!",
    "#name?",
    "#ref!",
    "#null!",
    "#nombre!",
}

MISSING |= {"#valeur!", "#valor!", "#¡valor!", "#num!", "#¡num!", "#¡div/0!", "#div/0", "#calc!", "#leeg!"}

MISSING |= {
    "1.#inf",
    "-1.#inf",
    "1.#ind",
    "-1.#ind",
    "-1.#qnan",
    "1.#inf00",
    "-1.#ind00",
    "infinity",
    "-infinity",
}

MISSING |= {"nan", "-nan", "na", "n/a", "none", "null", "#n/a", "#num!", "#value!", "#div/0!", "1.#qnan"}

_DELIMITERS = ("\t", ";", "|")

_SAMPLE = 25

Cell = str | float  # text, or a number where the file holds numbers (spreadsheets)

_QUOTED = re.compile(r'"((?:[^"]|"")*)"|([^\s"]+)')


def is_comment(line: str) -> bool:
    """Whether a line is set apart as a comment."""
    return line.startswith(COMMENT_STARTS) or (line.startswith(";") and not NUMBER.match(line[1:].lstrip()))


def is_number(cell: Cell) -> bool:
    """Whether a cell is or reads as one number, whatever its decimal mark."""
    return isinstance(cell, float) or NUMBER.fullmatch(cell) is not None


def is_missing(cell: Cell) -> bool:
    """Whether a cell says that there is no value."""
    return isinstance(cell, str) and cell.lower() in MISSING


def is_number_row(cells: Sequence[Cell]) -> bool:
    """Whether a row belongs to the table of numbers: two numbers, or one where all else is missing.

    Examples
    --------
    >>> is_number_row(["4000", "0.1"]), is_number_row(["4000", "NaN"]), is_number_row(["scans", "32"])
    (True, True, False)
    """
    numbers = sum(is_number(cell) for cell in cells)
    return numbers >= 2 or (
        numbers == 1 and len(cells) >= 2 and all(is_number(cell) or is_missing(cell) for cell in cells)
    )


def find_delimiter(text: str, where: str) -> str:
    r"""Find what separates the cells: a tab, semicolon, bar, comma, or blanks.

    Raises
    ------
    FormatError
        If no line holds two numbers.
    AmbiguityError
        If commas may separate cells or decimals.

    Examples
    --------
    >>> find_delimiter("4000;0,1\n3999;0,2\n", "a.csv")
    ';'
    """
    lines: list[str] = []
    for part in (0.5, 0.75, 0.95, 0.0):
        lines = _sample(text, part)
        for delimiter in _DELIMITERS:
            if _fits(lines, delimiter, where):
                return BLANKS if delimiter == "\t" and _tabs_are_blanks(text) else delimiter
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


def _tabs_are_blanks(text: str) -> bool:
    """Whether tabs and blanks are mixed, so that either separates cells: then all lines split alike."""
    middle = len(text) // 2
    lines = _filled_lines(text[middle : middle + 3000])[1:-1]
    rows = [line.split() for line in lines]
    alike = len({len(row) for row in rows}) == 1 and all(is_number_row(row) for row in rows)
    return alike and any("\t" not in line for line in lines)


def _sample(text: str, part: float) -> list[str]:
    """Lines from one part of the file on; the numbers are rarely at its start."""
    if len(text) < 2000:
        lines = _filled_lines(text)
        return lines[int(part * len(lines)) :][:_SAMPLE]
    begin = text.find("\n", int(part * len(text))) + 1
    lines = _filled_lines(text[begin : begin + 1500])[:-1]
    if len(lines) < 3:  # long lines: take whole ones
        lines = _filled_lines(text)
        lines = lines[int(part * len(lines)) :]
    return lines[:: max(1, len(lines) // _SAMPLE)][:_SAMPLE]


def _filled_lines(text: str) -> list[str]:
    """Lines that are neither blank nor comments."""
    return [line for line in text.split("\n") if line.strip() and not is_comment(line)]


def split_line(line: str, delimiter: str) -> list[str]:
    """Split one line at its delimiter; quotes are respected."""
    if '"' not in line:
        return line.split() if delimiter == BLANKS else [cell.strip() for cell in line.split(delimiter)]
    if delimiter == BLANKS:
        return [quoted or plain for quoted, plain in _QUOTED.findall(line)]
    try:
        rows = list(csv.reader([line.strip()], delimiter=delimiter, skipinitialspace=True))
    except csv.Error:
        return [cell.strip().strip('"') for cell in line.split(delimiter)]
    return [cell.strip() for cell in rows[0]] if rows else []


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


def decimal_evidence(block: str, mark: str) -> bool:
    """Whether a mark separates decimals somewhere, since it cannot separate thousands there.

    Examples
    --------
    >>> decimal_evidence("4000,5", ","), decimal_evidence("0,500", ","), decimal_evidence("4,000", ",")
    (True, True, False)
    """
    mark = re.escape(mark)
    pattern = rf"(?<!\d)0\d*{mark}\d|\d{{4}}{mark}\d|{mark}\d{{1,2}}(?!\d)|{mark}\d{{4}}|(?<!\d){mark}\d"
    return re.search(pattern, block, re.ASCII) is not None


def require_no_other_mark(block: str, mark: str, where: str) -> None:
    """Require that the numbers allow the decimal mark that a person states.

    Raises
    ------
    AmbiguityError
        If the other mark separates decimals somewhere, and the stated one nowhere.
    """
    other = "." if mark == "," else ","
    if other in block and decimal_evidence(block, other) and not decimal_evidence(block, mark):
        raise AmbiguityError(
            f"{where}: the decimal mark is stated as {mark!r}, but {other!r} separates decimals in the "
            f"numbers; state decimal = {other!r}"
        )


def comma_message(block: str, where: str) -> str:
    """Show both readings of the first number with a comma."""
    found = re.search(r"\d{1,3}(?:,\d{3})+", block)
    shown = found[0] if found else "1,000"
    return (
        f"{where}: {shown!r} is {shown.replace(',', '')} if the comma marks thousands, and "
        f"{shown.replace(',', '.', 1)} if it marks decimals; state it: "
        'decimal = "," under [files] of the study, or --decimal on the command line'
    )


def require_no_broken_row(names: Sequence[str], first: float, second: float, where: str) -> None:
    """Refuse column names that are a row of the table with a word in it.

    Raises
    ------
    FormatError
        If the first name is a number that continues the abscissa upwards.

    Examples
    --------
    >>> require_no_broken_row(("cm-1", "absorbance"), 4000.0, 3998.0, "a.csv")
    """
    if not names or not is_number(names[0]):
        return
    try:
        number = float(names[0].replace(",", "."))
    except ValueError:
        return
    if abs(number - first) <= 3.0 * abs(second - first):
        raise FormatError(
            f"{where}: the row {shorten(' '.join(names))!r} above the table looks like a part of it; correct "
            "the word among its numbers, or remove the row"
        )


def require_no_decimal_commas(block: str, columns: int, names: tuple[str, ...], where: str) -> None:
    """Commas between whole numbers only may be decimal commas; the header must tell.

    Raises
    ------
    AmbiguityError
        If it does not.
    """
    if "." in block or columns % 2 or any(names):
        return
    first = block.split("\n", 1)[0].split(",")
    if columns == 2 and not re.search(r",0\d", block):
        return
    pairs = [f"{first[i]}.{first[i + 1]}" for i in range(0, columns, 2)]
    raise AmbiguityError(
        f"{where}: {shorten(block.split(chr(10), 1)[0])!r} is {', '.join(first[:6])} if commas "
        "separate cells, and "
        f"{', '.join(pairs[:3])} if they mark decimals; export with semicolons or with decimal points"
    )


def take_names(heading: list[str], columns: int, delimiter: str) -> tuple[tuple[str, ...], list[str]]:
    """Split column names off the heading: its last line, if it has as many cells.

    Examples
    --------
    >>> take_names(["made 2024", "# cm-1;A"], 2, ";")
    (('cm-1', 'A'), ['made 2024'])
    """
    heading = [line for line in heading if line]
    names = _names_in(heading[-1], columns, delimiter) if heading else None
    if names is None:
        return ("",) * columns, heading
    heading = heading[:-1]
    while heading and (above := _names_in(heading[-1], columns, delimiter)) is not None:
        if not _belongs_above(above, names):
            break
        names = tuple(" ".join(filter(None, pair)) for pair in zip(above, names, strict=True))
        heading = heading[:-1]
    return names, heading


def _names_in(line: str, columns: int, delimiter: str) -> tuple[str, ...] | None:
    """Split one line into column names; a line with another delimiter than the table must name the axis."""
    for other in (delimiter, "\t", ";", ",", BLANKS):
        for text in (line, line.lstrip("#%;!*/ ")):
            cells = split_line(text, other)
            if cells and cells[-1] == "" and len(cells) == columns + 1:
                cells = cells[:-1]
            if len(cells) != columns:
                continue
            names = (cells[0].lstrip("#%;!*/ "), *cells[1:])
            if (other == delimiter != BLANKS) or _names_axes(names):
                return names
    return None


_AXIS_LABEL = re.compile(
    r"[\W_]*(?:|x|wn|wvn|nu|[νṽ]|wave|freq(?:uency)?|abscissa|#|n|i|index|no\.?)[\W_]*", re.IGNORECASE
)


def _names_axes(names: Sequence[str]) -> bool:
    """Whether words name the axes, and are no title of as many words: ``cm-1 absorbance``, ``x y``."""
    first, *others = names
    if _AXIS_LABEL.fullmatch(first) is not None:
        return True
    second = r"y|[a-z]\w*\d+|\d+|int\w*"
    return (named_x_unit(first) is not None or foreign_x(first) is not None) and all(
        named_y_unit(name)
        or hinted_y_unit(name)
        or foreign_y(name)
        or re.fullmatch(second, name, re.IGNORECASE)
        for name in others
    )


def _belongs_above(above: Sequence[str], names: Sequence[str]) -> bool:
    """Whether a line over the column names is a second line of names: another tongue, or names over units."""
    if named_x_unit(above[0]) is not None:
        return True
    return _only_units(names) and (not above[0] or _AXIS_LABEL.fullmatch(above[0]) is not None)


def _only_units(names: Sequence[str]) -> bool:
    """Whether every cell of a line is a unit, so that the names stand above it."""
    return all(
        not name
        or named_x_unit(name) is not None
        or named_y_unit(name) is not None
        or hinted_y_unit(name) is not None
        or re.fullmatch(r"[\[(]?\s*(?:%|a\.?\s?u\.?|-|1)\s*[\])]?", name) is not None
        for name in names
    ) and any(names)
