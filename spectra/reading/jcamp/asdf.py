"""Ordinate tables of JCAMP-DX: plain, packed, squeezed, difference and repeat forms, in any mixture.

A table is decoded in blocks of many lines, not line by line. Every character has a class (blank, digit, sign,
squeezed, difference, repeat, missing); a token starts at every character that is not part of the number
before it. The classes of the token starts say what each number means:

========== ===================== ==========================================
form       first character       meaning
========== ===================== ==========================================
AFFN, PAC  digit or sign         the ordinate
SQZ        ``@ A-I a-i``         the ordinate; the character is sign and leading digit
DIF        ``% J-R j-r``         difference to the ordinate before
DUP        ``S-Z s``             how often the token before stands, itself included
missing    ``?``                 no ordinate
========== ===================== ==========================================

The first number of a line is its abscissa. Where a line ended in a difference, the next line begins with
a check ordinate, which repeats the last ordinate and is not a point.

The format is that of McDonald and Wilks, Appl. Spectrosc. 42 (1988) 151, doi:10.1366/0003702884428734,
table VII.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from spectra.errors import AmbiguityError, FormatError, PromiseError
from spectra.reading.jcamp.rows import Rows, expand_rows, join_rows
from spectra.reading.jcamp.tokens import (
    DIF,
    DUP,
    NEWLINE,
    SQZ,
    IntArray,
    exponent_readings,
    find_tokens,
    with_exponents,
)
from spectra.reading.numbers import MOST_POINTS
from spectra.units import FloatArray

_BLOCK = 1 << 17  # bytes of a table decoded at once, to the end of a line


@dataclass(frozen=True, eq=False)
class OrdinateTable:
    """A decoded table, in raw units: the factors of the header are not applied.

    Attributes
    ----------
    ordinates : ndarray, shape (n,)
        NaN where the file has ``?``.
    abscissae : ndarray, shape (m,)
        First number of each line that holds ordinates.
    starts : ndarray of int, shape (m,)
        Index of the ordinate that each abscissa belongs to; for a line that begins with a check ordinate
        that is the last one of the line before.
    lines : ndarray of int, shape (m,)
        Number of each of these lines in the file.
    checked : int
        How many check ordinates were compared.
    unchecked : bool
        True where difference lines carry no check ordinates at all, as the number of points shows.
    """

    ordinates: FloatArray
    abscissae: FloatArray
    starts: IntArray
    lines: IntArray
    checked: int = 0
    unchecked: bool = False


def decode_table(body: bytes, where: str, line: int, promised: int | None = None) -> OrdinateTable:
    r"""Decode an ``(X++(Y..Y))`` table.

    Parameters
    ----------
    body
        The lines of the table, line breaks as ``\n``, comments removed.
    where
        File (and block), for messages.
    line
        Number of the first line of ``body`` in the file.
    promised
        Number of points in the header. It decides where the table alone can be read in two ways.

    Returns
    -------
    OrdinateTable

    Raises
    ------
    FormatError
        For a foreign character, a number that is none, a repeat or difference without a predecessor, or
        more points than a spectrum can have.
    PromiseError
        If a check ordinate differs from the ordinate it repeats, or the points are not as many as promised.

    Examples
    --------
    >>> table = decode_table(b"599.860@VKT%TLk\n601.0E", "a.jdx", 1)
    >>> table.ordinates
    array([0., 0., 0., 0., 2., 4., 4., 4., 7., 5.])
    """
    readings = exponent_readings(body, where, line)
    outcomes = [_outcome(reading, where, line, promised) for reading in readings]
    return _only_reading(outcomes, where, line, promised)


def decode_pairs(body: bytes, where: str, line: int) -> tuple[FloatArray, FloatArray, IntArray]:
    r"""Decode an ``(XY..XY)`` table: abscissa and ordinate in turn, in plain or packed form.

    Returns
    -------
    abscissae, ordinates : ndarray, shape (n,)
        In raw units.
    lines : ndarray of int, shape (n,)
        Line of each pair in the file.

    Raises
    ------
    FormatError
        For anything but pairs of numbers.

    Examples
    --------
    >>> x, y, lines = decode_pairs(b"400,0.1; 401,0.2\n402,?", "a.jdx", 7)
    >>> x, y, lines.tolist()
    (array([400., 401., 402.]), array([0.1, 0.2, nan]), [7, 7, 8])
    """
    body = body.translate(bytes.maketrans(b",;", b"  "))
    tokens = find_tokens(with_exponents(body), where, line)
    if np.any((tokens.kinds == DIF) | (tokens.kinds == DUP) | (tokens.kinds == SQZ)):
        at = int(tokens.lines[np.argmax(np.isin(tokens.kinds, (SQZ, DIF, DUP)))])
        raise FormatError(f"{where}: line {at}: compressed digits in a table of pairs; export it as XYDATA")
    if tokens.values.size % 2:
        raise FormatError(
            f"{where}: line {int(tokens.lines[-1])}: {tokens.values.size} numbers do not make pairs; "
            "an abscissa or an ordinate is missing"
        )
    return tokens.values[::2], tokens.values[1::2], tokens.lines[::2]


def _outcome(
    body: bytes, where: str, line: int, promised: int | None
) -> OrdinateTable | FormatError | PromiseError:
    """Decode one reading of the table, or say what is wrong with it."""
    try:
        return _checked_table(_table_rows(body, where, line), where, promised)
    except (FormatError, PromiseError) as error:
        return error


def _only_reading(
    outcomes: list[OrdinateTable | FormatError | PromiseError], where: str, line: int, promised: int | None
) -> OrdinateTable:
    """Return the one reading that succeeded, or that alone has the promised number of points.

    A reading without a point is none: ``400E00`` is the number 400 alone, or one point after 400.
    """
    tables = [outcome for outcome in outcomes if isinstance(outcome, OrdinateTable)]
    tables = [table for table in tables if table.ordinates.size] or tables
    if len(tables) > 1 and promised is not None:
        tables = [table for table in tables if table.ordinates.size == promised] or tables[:1]
    if len(tables) > 1:
        raise AmbiguityError(
            f"{where}: line {line}: the letter E is either an exponent ({tables[1].ordinates.size} "
            "points) or a "
            f"squeezed digit ({tables[0].ordinates.size} points); state NPOINTS or export without exponents"
        )
    for outcome in outcomes:
        if not isinstance(outcome, OrdinateTable) and not tables:
            raise outcome
    return tables[0]


def _table_rows(body: bytes, where: str, line: int) -> Rows:
    """Decode all lines, a block at a time: the working arrays of a long table would fill the memory."""
    if len(body) > _BLOCK:
        try:
            return join_rows(_row_blocks(body, where, line))
        except FormatError:
            pass  # which of several faults is named must not depend on where blocks end
    return expand_rows(find_tokens(body, where, line), where)


def _row_blocks(body: bytes, where: str, line: int) -> Iterator[Rows]:
    """Decode the lines of a long table block by block; the running sum of differences goes on."""
    total: float | None = None
    at, points = 0, 0.0
    while at < len(body):
        end = body.find(NEWLINE, at + _BLOCK) + 1 or len(body)
        tokens = find_tokens(body[at:end], where, line)
        points += tokens.kinds.size + tokens.values[tokens.kinds == DUP].sum()
        if points > MOST_POINTS:
            raise FormatError(f"{where}: more than {MOST_POINTS} points in one table; split the file")
        rows = expand_rows(tokens, where, total)
        yield rows
        line, at, total = line + body.count(NEWLINE, at, end), end, rows.total


def _checked_table(rows: Rows, where: str, promised: int | None) -> OrdinateTable:
    """Compare and drop the check ordinates."""
    checked_rows = np.flatnonzero(rows.differences[:-1]) + 1
    unchecked = _compare_checks(rows, checked_rows, where, promised)
    checks = rows.starts[checked_rows[:0] if unchecked else checked_rows]
    # a check ordinate stands at the point before it
    positions = rows.starts - np.searchsorted(checks, rows.starts, side="right")
    kept = np.delete(rows.ordinates, checks) if checks.size else rows.ordinates
    return OrdinateTable(kept, rows.abscissae, positions, rows.lines, int(checks.size), unchecked)


def _compare_checks(rows: Rows, checked_rows: IntArray, where: str, promised: int | None) -> bool:
    """Compare the check ordinates that begin these rows; True if the lines turn out to carry none."""
    at = rows.starts[checked_rows]
    found, before = rows.ordinates[at], rows.ordinates[at - 1]
    wrong = ~(np.abs(found - before) <= 1e-9 * np.maximum(np.abs(found), 1.0))
    wrong &= ~(np.isnan(found) & np.isnan(before))
    if not np.any(wrong):
        return False
    if promised == rows.ordinates.size and wrong.mean() > 0.5:
        return True
    first = int(np.argmax(wrong))
    row = int(checked_rows[first])
    raise PromiseError(
        f"{where}: line {int(rows.lines[row])}: the check ordinate is {found[first]:.10g}, but line "
        f"{int(rows.lines[row - 1])} ended at {before[first]:.10g}; a value was lost or "
        "altered, export again"
    )
