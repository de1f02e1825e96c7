"""Names of columns, in the lines above a table."""

from __future__ import annotations

import re
from collections.abc import Sequence

from spectra.errors import FormatError
from spectra.reading.numbers import shorten
from spectra.reading.tables.cell import is_number
from spectra.reading.tables.lines import BLANKS, split_line
from spectra.reading.units.words import foreign_x, foreign_y, hinted_y_unit, named_x_unit, named_y_unit

_LETTERS = re.compile(r"[^\W\d_]{2}|[a-df-zA-DF-Z]")

_MOST_NOTES = 5  # lines of numbers above a table that may be notes


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


def require_no_rows_above(heading: Sequence[str], columns: int, delimiter: str, where: str) -> None:
    """Refuse a table below lines that look like rows of it, but for the way in which numbers are written.

    Raises
    ------
    FormatError
        Showing one of them.
    """
    alike = [
        line
        for line in heading
        if len(cells := split_line(line, delimiter)) == columns
        and all(cell[-1:].isdigit() and not _LETTERS.search(cell) for cell in cells)
    ]
    if len(alike) > _MOST_NOTES:
        raise FormatError(
            f"{where}: {len(alike)} lines above the table look like rows of it, such as "
            f"{shorten(alike[-1])!r}; write their numbers as in the others, or mark them as comments with '#'"
        )


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
