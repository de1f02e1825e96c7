"""Text to numbers in one pass, with the certainty that no number was lost.

``numpy.fromstring`` reads a long run of blank-separated numbers quickly, but says nothing useful when it
fails. :func:`parse_numbers` therefore answers None when the text is not what was expected, and the caller
looks line by line for the place.
"""

from __future__ import annotations

import warnings

import numpy as np

from spectra.units import FloatArray

# More points than any infrared spectrum holds; a header or a repeat count that claims more is refused
# before memory is asked for.
MOST_POINTS = 10_000_000


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
    if expected == 0 or not text.strip():
        return np.empty(0) if expected == 0 and not text.strip() else None
    with warnings.catch_warnings():
        # numpy below 2.3 warns where later versions raise ValueError
        warnings.simplefilter("error", DeprecationWarning)
        try:
            values = np.fromstring(text, dtype=np.float64, sep=" ")
        except (ValueError, DeprecationWarning):
            return None
    return values if values.size == expected else None


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
