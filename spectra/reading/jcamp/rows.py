"""Lines of a JCAMP-DX ordinate table: abscissae taken off, repeats written out, differences added up."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from spectra.errors import FormatError
from spectra.reading.jcamp.tokens import DIF, DUP, MISSING, SQZ, ByteArray, IntArray, Tokens
from spectra.reading.numbers import MOST_POINTS
from spectra.units import FloatArray


@dataclass(frozen=True, eq=False)
class Rows:
    """Consecutive lines of a table that hold ordinates.

    Attributes
    ----------
    ordinates : ndarray, shape (n,)
        Check ordinates included; NaN where the file has ``?``.
    abscissae : ndarray, shape (m,)
        First number of each line.
    starts : ndarray of int, shape (m,)
        Index of the first ordinate of each line.
    lines : ndarray of int, shape (m,)
        Number of each line in the file.
    differences : ndarray of bool, shape (m,)
        Whether the line ends in a difference, so that the next begins with a check ordinate.
    total
        Sum of all differences so far, for the rows that follow; None if there was none.
    """

    ordinates: FloatArray
    abscissae: FloatArray
    starts: IntArray
    lines: IntArray
    differences: NDArray[np.bool_]
    total: float | None


def expand_rows(tokens: Tokens, where: str, total: float | None = None) -> Rows:
    r"""Decode whole lines.

    Parameters
    ----------
    tokens : Tokens
        All numbers of these lines.
    where
        File (and block), for messages.
    total
        Sum of the differences in the lines before, None if there are none. Differences are added up
        through the whole table, so that it gives the same numbers however it is cut into rows.

    Returns
    -------
    Rows

    Raises
    ------
    FormatError
        For a line without abscissa, a repeat or difference without a predecessor, or too many points.

    Examples
    --------
    >>> from spectra.reading.jcamp.tokens import find_tokens
    >>> rows = expand_rows(find_tokens(b"400A0J\n402A1", "a.jdx", 1), "a.jdx")
    >>> rows.ordinates, rows.starts.tolist(), rows.differences.tolist()
    (array([10., 11., 11.]), [0, 2], [True, False])
    """
    first = np.ones(tokens.lines.size, dtype=bool)
    first[1:] = np.diff(tokens.lines) > 0
    _require_abscissae(tokens, first, where)
    kinds, values, lines = tokens.kinds[~first], tokens.values[~first], tokens.lines[~first]
    if np.any(kinds == DUP):
        source = _repeated(kinds, values, lines, where)
        kinds, values, lines = kinds[source], values[source], lines[source]
    ordinates, total = _summed(kinds, values, lines, where, total)
    heads = np.ones(lines.size, dtype=bool)
    heads[1:] = np.diff(lines) > 0
    starts = np.flatnonzero(heads)
    numbers = lines[starts]
    abscissae = tokens.values[first][np.searchsorted(tokens.lines[first], numbers)]
    last = np.append(starts[1:], kinds.size)[: starts.size] - 1
    return Rows(ordinates, abscissae, starts, numbers, kinds[last] == DIF, total)


def join_rows(blocks: Iterable[Rows]) -> Rows:
    """Put consecutive rows together.

    Examples
    --------
    >>> from spectra.reading.jcamp.tokens import find_tokens
    >>> one, two = (expand_rows(find_tokens(text, "a.jdx", 1), "a.jdx") for text in (b"400 1 2", b"402 3"))
    >>> join_rows([one, two]).ordinates
    array([1., 2., 3.])
    """
    parts = list(blocks)
    offsets = np.cumsum([0, *(part.ordinates.size for part in parts[:-1])])
    ordinates = np.concatenate([part.ordinates for part in parts])
    if parts[-1].total is not None:
        ordinates += 0.0  # as in rows with differences: a sum that is zero has no minus sign
    return Rows(
        ordinates,
        np.concatenate([part.abscissae for part in parts]),
        np.concatenate([part.starts + offset for part, offset in zip(parts, offsets, strict=True)]),
        np.concatenate([part.lines for part in parts]),
        np.concatenate([part.differences for part in parts]),
        parts[-1].total,
    )


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


def _summed(
    kinds: ByteArray, values: FloatArray, lines: IntArray, where: str, total: float | None
) -> tuple[FloatArray, float | None]:
    """Add differences to the last ordinate that was given in full; return the running sum too."""
    is_difference = kinds == DIF
    if total is None and not np.any(is_difference):
        return values, None
    line_starts = np.concatenate([[True], np.diff(lines) > 0])
    if np.any(is_difference & line_starts):
        line = int(lines[np.argmax(is_difference & line_starts)])
        raise FormatError(f"{where}: line {line}: begins with a difference; expected an ordinate in full")
    base = np.maximum.accumulate(np.where(is_difference, 0, np.arange(kinds.size)))
    steps = np.where(is_difference, values, 0.0)
    steps[:1] = total or 0.0
    sums = np.cumsum(steps)
    return np.asarray(values[base] + (sums - sums[base])), float(sums[-1]) if sums.size else total
