"""Text to numbers in one pass, with the certainty that no number was lost.

Plain decimal numbers are read digit by digit over all numbers at once: the digits make a whole number,
which is exact up to 2^53, and one division by a power of ten rounds it as correctly as a parser would.
Anything else (exponents, more than 15 digits, ``nan``) goes to ``numpy.fromstring``. Neither says what is
wrong with a text: :func:`parse_numbers` then answers None, and the caller looks line by line for the place.
"""

from __future__ import annotations

import warnings

import numpy as np
from numpy.typing import NDArray

from spectra.units import FloatArray

# More points than any infrared spectrum holds; a header or a repeat count that claims more is refused
# before memory is asked for.
MOST_POINTS = 10_000_000

_PLAIN = b"0123456789.+- \n\t"

_PIECE = 1 << 18  # bytes read at once: the working arrays stay in the processor's cache

_MOST_DIGITS = 15  # a whole number of 15 digits is exact in double precision

_POWERS = 10.0 ** np.arange(_MOST_DIGITS + 1)


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
        piece = _by_digits(np.frombuffer(data, np.uint8, end - at, at))
        if piece is None:
            piece = _by_parser(data[at:end])
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


def _by_parser(data: bytes) -> FloatArray | None:
    """Read numbers of any form; None if there is anything else."""
    if data.isspace():
        return np.empty(0)
    with warnings.catch_warnings():
        # numpy below 2.3 warns where later versions raise ValueError
        warnings.simplefilter("error", DeprecationWarning)
        try:
            return np.fromstring(data, dtype=np.float64, sep=" ")
        except (ValueError, DeprecationWarning):
            return None


def _by_digits(characters: NDArray[np.uint8]) -> FloatArray | None:
    """Read plain decimal numbers all at once; None if one has another form or too many digits."""
    if characters.tobytes().translate(None, _PLAIN):
        return None
    filled = characters > 32
    edges = np.flatnonzero(np.diff(filled, prepend=False, append=False))
    starts, ends = edges[::2], edges[1::2]
    if starts.size == 0:
        return np.empty(0)
    first = characters[starts]
    signed = (first == 43) | (first == 45)  # + and -
    if np.count_nonzero((characters == 43) | (characters == 45)) != np.count_nonzero(signed):
        return None
    decimals = np.zeros(starts.size, dtype=np.intp)
    points = np.flatnonzero(characters == 46)
    if points.size:
        owner = np.searchsorted(starts, points, side="right") - 1
        if points.size > 1 and np.any(np.diff(owner) == 0):
            return None
        decimals[owner] = ends[owner] - points - 1
        characters = np.delete(characters, points)
        pointed = np.zeros(starts.size, dtype=np.intp)
        pointed[owner] = 1
        after = np.cumsum(pointed)  # points up to the end of each number
        starts, ends = starts - (after - pointed), ends - after
    length = ends - starts - signed
    if length.min() < 1 or length.max() > _MOST_DIGITS:
        return None
    values = np.zeros(starts.size)
    for place in range(int(length.max())):
        digit = np.take(characters, ends - 1 - place, mode="clip") - np.uint8(48)
        values += np.where(length > place, digit, 0) * _POWERS[place]
    if points.size:
        values /= _POWERS[decimals]
    return np.asarray(np.where(first == 45, -values, values))


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
