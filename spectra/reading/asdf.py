"""Ordinate tables of JCAMP-DX: plain, packed, squeezed, difference and repeat forms, in any mixture.

A table is decoded as a whole, not line by line. Every character has a class (blank, digit, sign,
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

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from spectra.errors import AmbiguityError, FormatError, PromiseError
from spectra.reading.numbers import MOST_POINTS
from spectra.reading.tokens import (
    DIF,
    DUP,
    MISSING,
    SQZ,
    ByteArray,
    IntArray,
    Tokens,
    exponent_readings,
    find_tokens,
    with_exponents,
)
from spectra.units import FloatArray


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
        return _expand(find_tokens(body, where, line), where, promised)
    except (FormatError, PromiseError) as error:
        return error


def _only_reading(
    outcomes: list[OrdinateTable | FormatError | PromiseError], where: str, line: int, promised: int | None
) -> OrdinateTable:
    """Return the one reading that succeeded, or that alone has the promised number of points."""
    tables = [outcome for outcome in outcomes if isinstance(outcome, OrdinateTable)]
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


def _expand(tokens: Tokens, where: str, promised: int | None) -> OrdinateTable:
    """Take the abscissae off, write repeats out, add differences up, compare and drop check ordinates."""
    first = np.ones(tokens.lines.size, dtype=bool)
    first[1:] = np.diff(tokens.lines) > 0
    _require_abscissae(tokens, first, where)
    kinds, values, lines = tokens.kinds[~first], tokens.values[~first], tokens.lines[~first]
    if np.any(kinds == DUP):
        source = _repeated(kinds, values, lines, where)
        kinds, values, lines = kinds[source], values[source], lines[source]
    ordinates = _summed(kinds, values, lines, where)
    heads = np.ones(lines.size, dtype=bool)
    heads[1:] = np.diff(lines) > 0
    starts = np.flatnonzero(heads)
    line_numbers = lines[starts]
    abscissae = tokens.values[first][np.searchsorted(tokens.lines[first], line_numbers)]
    checks = starts[1:][kinds[starts[1:] - 1] == DIF]
    unchecked = _compare_checks(ordinates, checks, lines, where, promised)
    if unchecked:
        checks = checks[:0]
    # a check ordinate stands at the point before it
    positions = starts - np.searchsorted(checks, starts, side="right")
    kept = np.delete(ordinates, checks) if checks.size else ordinates
    return OrdinateTable(kept, abscissae, positions, line_numbers, int(checks.size), unchecked)


def _require_abscissae(tokens: Tokens, first: NDArray[np.bool_], where: str) -> None:
    """Require that the first number of a line is written in plain form."""
    wrong = first & np.isin(tokens.kinds, (SQZ, DIF, DUP, MISSING))
    if np.any(wrong):
        at = int(tokens.lines[np.argmax(wrong)])
        raise FormatError(f"{where}: line {at}: the line does not begin with an abscissa; export again")


def _repeated(kinds: ByteArray, values: FloatArray, lines: IntArray, where: str) -> IntArray:
    """Index of the token behind every ordinate, repeats written out."""
    at = np.flatnonzero(kinds == DUP)
    previous = np.maximum(at - 1, 0)
    broken = (at == 0) | (values[at] < 1) | (values[at] % 1 != 0)
    broken |= (kinds[previous] == DUP) | (lines[previous] != lines[at])
    if np.any(broken):
        line = int(lines[at[np.argmax(broken)]])
        raise FormatError(f"{where}: line {line}: a repeat count has no ordinate before it; export again")
    if values[at].sum() + kinds.size > MOST_POINTS:
        raise FormatError(
            f"{where}: repeat counts ask for {values[at].sum():.3g} points; at most {MOST_POINTS} are read"
        )
    counts = np.where(kinds == DUP, 0, 1)
    counts[previous] = values[at].astype(np.int64)
    return np.repeat(np.arange(kinds.size), counts)


def _summed(kinds: ByteArray, values: FloatArray, lines: IntArray, where: str) -> FloatArray:
    """Add differences to the last ordinate that was given in full."""
    is_difference = kinds == DIF
    if not np.any(is_difference):
        return values
    line_starts = np.concatenate([[True], np.diff(lines) > 0])
    if np.any(is_difference & line_starts):
        line = int(lines[np.argmax(is_difference & line_starts)])
        raise FormatError(f"{where}: line {line}: begins with a difference; expected an ordinate in full")
    base = np.maximum.accumulate(np.where(is_difference, 0, np.arange(kinds.size)))
    sums = np.cumsum(np.where(is_difference, values, 0.0))
    return np.asarray(values[base] + (sums - sums[base]))


def _compare_checks(
    ordinates: FloatArray, at: IntArray, lines: IntArray, where: str, promised: int | None
) -> bool:
    """Compare the check ordinates at ``at``; True if the lines turn out to carry none."""
    scale = np.maximum(np.abs(ordinates[at]), 1.0)
    wrong = ~(np.abs(ordinates[at] - ordinates[at - 1]) <= 1e-9 * scale)
    wrong &= ~(np.isnan(ordinates[at]) & np.isnan(ordinates[at - 1]))
    if not np.any(wrong):
        return False
    if promised == ordinates.size and wrong.mean() > 0.5:
        return True
    first = at[np.argmax(wrong)]
    raise PromiseError(
        f"{where}: line {int(lines[first])}: the check ordinate is {ordinates[first]:.10g}, but line "
        f"{int(lines[first - 1])} ended at {ordinates[first - 1]:.10g}; a value was lost or "
        "altered, export again"
    )
