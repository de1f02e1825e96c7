"""Text to numbers in one pass, with the certainty that no number was lost.

Plain decimal numbers are read as whole numbers with their points taken out, which is exact up to 2^53, and
one division by a power of ten rounds them as correctly as a parser of decimals would, several times faster.
Anything else (exponents, more digits, ``nan``) goes to the parser. Neither says what is
wrong with a text: :func:`parse_numbers` then answers None, and the caller looks line by line for the place.
"""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
from numpy.typing import NDArray

from spectra.units import FloatArray, IndexArray

# More points than any infrared spectrum holds; a header or a repeat count that claims more is refused
# before memory is asked for.
MOST_POINTS = 10_000_000

_PLAIN = b"0123456789.+- \n\t"

_AS_BLANK = bytes.maketrans(b"e", b" ")

_PIECE = 1 << 18  # bytes read at once: the working arrays stay in the processor's cache

_EXACT = 2**53  # whole numbers below it are exact in double precision

_POWERS = np.array([float(f"1e{decimals}") for decimals in range(23)])  # exact up to 10^22


def parse_numbers(text: bytes | str, expected: int) -> FloatArray | None:
    r"""Read blank-separated numbers.

    Parameters
    ----------
    text
        Numbers with a decimal point, separated by blanks or line breaks; ``nan`` is a number.
    expected
        How many numbers the caller counted in the text.

    Returns
    -------
    ndarray, shape (expected,), or None
        None if the text holds anything else, or another number of numbers.

    Examples
    --------
    >>> parse_numbers("1 2.5\n-3e2", 3)
    array([   1. ,    2.5, -300. ])
    >>> parse_numbers("1 2.5.1", 2) is None
    True
    """
    data = text if isinstance(text, bytes) else text.encode("ascii", "replace")
    if expected == 0 or data.isspace() or not data:
        return np.empty(0) if expected == 0 and (data.isspace() or not data) else None
    values = np.empty(expected)
    filled, at = 0, 0
    while at < len(data):
        end = _piece_end(data, at)
        piece = _by_digits(data[at:end])
        if piece is None:
            piece = _by_parser(data[at:end], np.float64)
        if piece is None or filled + piece.size > expected:
            return None
        values[filled : filled + piece.size] = piece
        filled, at = filled + piece.size, end
    return values if filled == expected else None


def _piece_end(data: bytes, at: int) -> int:
    """End of a piece that cuts no number in two."""
    end = at + _PIECE
    while end < len(data) and data[end] not in b" \n\t":
        end += 1
    return min(end, len(data))


def _by_parser(data: bytes, kind: type[np.generic]) -> NDArray[Any] | None:
    """Read numbers of any form; None if there is anything else."""
    if data.isspace():
        return np.empty(0, kind)
    with warnings.catch_warnings():
        # numpy below 2.3 warns where later versions raise ValueError
        warnings.simplefilter("error", DeprecationWarning)
        try:
            return np.fromstring(data, dtype=kind, sep=" ")
        except (ValueError, DeprecationWarning):
            return None


def _by_digits(data: bytes) -> FloatArray | None:
    """Read decimal numbers, all or none with an exponent; None for any other form or too many digits."""
    if b"e" in data or b"E" in data:
        return _with_exponents(data.replace(b"E", b"e"))
    found = _whole_numbers(data)
    if found is None:
        return None
    whole, decimals = found
    return whole / _POWERS[decimals] if decimals.max(initial=0) < _POWERS.size else None


def _with_exponents(data: bytes) -> FloatArray | None:
    """Read numbers that all have an exponent, and all a point or none, as mantissa and exponent."""
    if data.translate(None, _PLAIN + b"e"):
        return None
    characters = np.frombuffer(data, np.uint8)
    letters, points = np.flatnonzero(characters == 101), np.flatnonzero(characters == 46)
    ends = number_ends(characters)
    if letters.size != ends.size or points.size not in (0, ends.size) or ends.size == 0:
        return None
    starts = np.append(0, ends[:-1])  # each number lies behind the end of the one before
    digits = (characters[letters - 1] >= 48) & (characters[ends - 1] >= 48)
    if not np.all(digits & (letters > starts) & (letters < ends - 1)):
        return None
    if points.size and not np.all((points >= starts) & (points < letters)):
        return None
    signs = np.flatnonzero((characters == 43) | (characters == 45))
    behind = characters[signs[signs > 0] - 1]
    if not np.all((behind <= 32) | (behind == 101)):
        return None  # the parser would split "1-2" in two
    whole = _by_parser(data.translate(_AS_BLANK, b"."), np.int64)
    if whole is None or whole.size != 2 * ends.size or not -_EXACT < whole.min() <= whole.max() < _EXACT:
        return None
    power = whole[1::2] - (letters - points - 1 if points.size else 0)
    if np.abs(power).max() >= _POWERS.size:
        return None
    values = whole[::2].astype(np.float64)
    negative = np.searchsorted(ends, signs[(characters[signs] == 45) & (characters[signs - 1] != 101)])
    values[negative] = np.copysign(values[negative], -1.0)  # a whole zero has no sign
    return np.asarray(values * _POWERS[np.maximum(power, 0)] / _POWERS[np.maximum(-power, 0)])


def number_ends(characters: NDArray[np.uint8]) -> IndexArray:
    """Return the position behind each number of a text in single bytes."""
    filled = characters > 32
    ends = np.flatnonzero(filled[:-1] > filled[1:]) + 1
    return np.append(ends, filled.size) if filled[-1] else ends


def _whole_numbers(data: bytes) -> tuple[FloatArray, IndexArray] | None:
    """Read decimal numbers without their points, exactly, and count the digits behind each point."""
    if data.translate(None, _PLAIN):
        return None
    whole = _by_parser(data.translate(None, b"."), np.int64)
    if whole is None or (whole.size and not -_EXACT < whole.min() <= whole.max() < _EXACT):
        return None
    characters = np.frombuffer(data, np.uint8)
    ends = number_ends(characters)
    if ends.size != whole.size or not _end_in_digits(characters, ends):
        return None
    values = whole.astype(np.float64)
    if b"-" in data or b"+" in data:
        # the parser splits "1-2" in two: every sign must begin a number
        signs = np.flatnonzero((characters == 43) | (characters == 45))
        if np.any(characters[signs[signs > 0] - 1] > 32):
            return None
        negative = np.searchsorted(ends, signs[characters[signs] == 45])
        values[negative] = np.copysign(values[negative], -1.0)  # a whole zero has no sign
    decimals = _decimals(np.flatnonzero(characters == 46), ends)
    return None if decimals is None else (values, decimals)


def _end_in_digits(characters: NDArray[np.uint8], ends: IndexArray) -> bool:
    """Whether every number ends in a digit, or in a point after one."""
    last = characters[ends - 1]
    if last.size and last.min() >= 48:
        return True
    pointed = ends[last == 46]
    return bool(np.all((last >= 48) | (last == 46)) and np.all(characters[np.maximum(pointed - 2, 0)] >= 48))


def _decimals(points: IndexArray, ends: IndexArray) -> IndexArray | None:
    """Count the digits after the point of each number; None if one has two points."""
    if points.size == ends.size and np.all(points < ends) and np.all(points[1:] >= ends[:-1]):
        return ends - points - 1  # one in each: the usual case, at once
    owner = np.searchsorted(ends, points)
    if owner.size > 1 and np.any(owner[1:] == owner[:-1]):
        return None
    decimals = np.zeros(ends.size, dtype=np.intp)
    decimals[owner] = ends[owner] - points - 1
    return decimals


def finite_values(values: FloatArray) -> FloatArray:
    """Return the values that are numbers; where all are, the array itself, since a copy costs memory.

    Examples
    --------
    >>> finite_values(np.array([1.0, np.nan, 2.0]))
    array([1., 2.])
    """
    finite = np.isfinite(values)
    return values if finite.all() else values[finite]


def printed_step(text: str) -> float:
    """Return one unit of the last printed digit of a number.

    Examples
    --------
    >>> printed_step("3999.79"), printed_step("1.5E+03"), printed_step("4000.")
    (0.01, 100.0, 1.0)
    """
    mantissa, _, exponent = text.strip().lower().replace(",", ".").partition("e")
    decimals = len(mantissa.partition(".")[2])
    power = int(exponent) if exponent.lstrip("+-").isdecimal() and len(exponent) < 7 else 0
    return float(f"1e{power - decimals}")


def shorten(text: str, most: int = 60) -> str:
    """Cut untrusted text to a length that fits a message.

    Examples
    --------
    >>> shorten("abcdef", 5)
    'ab...'
    """
    return text if len(text) <= most else text[: most - 3] + "..."
