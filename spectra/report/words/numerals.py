"""How numbers are written: the rounding half of ``report.view``.

A number is rounded by its uncertainty, two significant digits of it (JCGM 100:2008, 7.2.6). A number
without an uncertainty is given to three significant digits. Units and intervals are part of the text, so
that no caller can leave them out. Everything is ASCII here ("cm-1", "+/-"); a page sets the signs.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

MISSING = "not determined"


def places(uncertainty: float) -> int:
    """Return how many decimals show two significant digits of ``uncertainty``; negative for tens and up.

    Examples
    --------
    >>> places(0.00079), places(10.47), places(0.0996), places(340.0)
    (5, 0, 2, -1)
    """
    digits = 1 - math.floor(math.log10(uncertainty))
    carried = math.floor(math.log10(round(uncertainty, digits)))  # 0.0996 becomes 0.10
    return 1 - carried


def fixed(value: float, decimals: int) -> str:
    """Write ``value`` with ``decimals`` decimals, never as minus zero.

    Examples
    --------
    >>> fixed(-0.004, 2), fixed(1647.0, -1)
    ('0.00', '1650')
    """
    return f"{round(value, decimals) + 0.0:.{max(decimals, 0)}f}"


def plain(value: float | None, digits: int = 3) -> str:
    """Write a number that has no uncertainty of its own, to ``digits`` significant digits.

    Examples
    --------
    >>> plain(0.0123456), plain(0.00457, 2), plain(None), plain(float("nan")), plain(1234.5)
    ('0.0123', '0.0046', 'not determined', 'not determined', '1230')
    >>> plain(-9.65e-5, 2)
    '-9.7e-5'
    """
    if value is None or not math.isfinite(value):
        return MISSING
    if value == 0:
        return "0"
    decimals = digits - 1 - math.floor(math.log10(abs(value)))
    if not -4 <= decimals <= digits + 2:
        mantissa, exponent = f"{value:.{digits - 1}e}".split("e")
        return f"{mantissa}e{int(exponent)}"
    return fixed(value, decimals)


def exact(value: float) -> str:
    """Write a number that somebody chose, such as a setting, as it was chosen.

    Examples
    --------
    >>> exact(0.01), exact(4.0), exact(1e-6)
    ('0.01', '4', '1e-06')
    """
    return f"{value:.12g}"


def limit(value: float | None) -> str:
    """Write a decision or detection limit: two significant digits, per cent of the neat spectrum.

    Examples
    --------
    >>> limit(0.00457), limit(None)
    ('0.46 %', 'not determined')
    """
    return MISSING if value is None or not math.isfinite(value) else f"{plain(100.0 * value, 2)} %"


def share(value: float | None, low: float | None, high: float | None) -> str:
    """Write an amount with its interval, per cent of the neat spectrum.

    Examples
    --------
    >>> share(0.02104, 0.0152, 0.0268), share(0.02, None, None), share(None, None, None)
    ('2.10 % (1.52 to 2.68 %)', '2.00 % (interval not determined)', 'not determined')
    """
    scaled = [None if each is None else 100.0 * each for each in (value, low, high)]
    return with_interval(scaled[0], scaled[1], scaled[2], "%")


def length(value: float | None, low: float | None, high: float | None) -> str:
    """Write a thickness in nm with its interval; one that is not told from zero by its upper end only.

    Examples
    --------
    >>> length(104.0, 53.8, 153.0), length(-0.048, -0.136, 0.039), length(None, None, 0.1)
    ('104 nm (54 to 153 nm)', 'below 0.039 nm', 'below 0.10 nm')
    """
    bounded = low is None or low <= 0.0 or value is None or value <= 0.0
    if high is not None and math.isfinite(high) and bounded:
        return f"below {plain(high, 2)} nm" if high > 0.0 else "none"
    return with_interval(value, low, high, "nm")


def with_error(value: float, error: float) -> str:
    """Write a number with its standard error.

    Examples
    --------
    >>> with_error(100.02147, 0.00079), with_error(1.25, 0.0)
    ('100.02147 +/- 0.00079', '1.25')
    """
    if not math.isfinite(error) or error <= 0:
        return plain(value)
    decimals = places(error)
    return f"{fixed(value, decimals)} +/- {fixed(error, decimals)}"


def position(value: float | None, error: float | None) -> str:
    """Write a measured position in cm-1 with its standard error, to a hundredth at most.

    Examples
    --------
    >>> position(1655.404, 0.312), position(1655.404, 0.0004), position(1655.404, None)
    ('1655.40 +/- 0.31', '1655.40 +/- 0.01', '1655.4')
    """
    if value is None or not math.isfinite(value):
        return MISSING
    if error is None or not math.isfinite(error) or error <= 0:
        return fixed(value, 1)
    decimals = min(places(error), 2)
    return f"{fixed(value, decimals)} +/- {fixed(max(error, 10.0**-decimals), decimals)}"


def with_interval(value: float | None, low: float | None, high: float | None, unit: str = "") -> str:
    """Write a value with its interval, rounded by the interval's half-width.

    Examples
    --------
    >>> with_interval(0.02104, 0.0152, 0.0268)
    '0.0210 (0.0152 to 0.0268)'
    >>> with_interval(16.5, 1.0, 221.0, "%"), with_interval(1234.0, 900.0, 1520.0, "nm")
    ('16 % (0 to 220 %)', '1230 nm (900 to 1520 nm)')
    >>> with_interval(0.4, None, None, "cm-1")
    '0.400 cm-1 (interval not determined)'
    """
    if value is None or not math.isfinite(value):
        return MISSING
    unit = f" {unit}" if unit else ""
    if low is None or high is None or not math.isfinite(high - low) or not high > low:
        return f"{plain(value)}{unit} (interval {MISSING})"
    decimals = places((high - low) / 2)
    # A value far smaller than its interval keeps two digits of its own: 16, not 20, of 0 to 220.
    own = max(decimals, 1 - math.floor(math.log10(abs(value)))) if decimals < 0 and value else decimals
    return f"{fixed(value, own)}{unit} ({fixed(low, decimals)} to {fixed(high, decimals)}{unit})"


def wavenumber(value: float) -> str:
    """Name a band by its wavenumber, to the nearest whole one; measured ones use :func:`position`.

    Examples
    --------
    >>> wavenumber(1647.1)
    '1647 cm-1'
    """
    return f"{fixed(value, 0)} cm-1"


def wavenumbers(values: Sequence[float]) -> str:
    """List bands by wavenumber, in the order given.

    Examples
    --------
    >>> wavenumbers([1655.2, 1540.0, 1240.3])
    '1655, 1540 and 1240 cm-1'
    """
    return f"{listed([fixed(value, 0) for value in values])} cm-1"


def span(low: float, high: float) -> str:
    """Write a stretch of the axis.

    Examples
    --------
    >>> span(1500.0, 1600.4)
    '1500 to 1600 cm-1'
    """
    return f"{fixed(low, 0)} to {fixed(high, 0)} cm-1"


def probability(value: float | None) -> str:
    """Write a p value: two significant digits, and no false precision below 0.0001.

    Examples
    --------
    >>> probability(0.01234), probability(3e-9), probability(None)
    ('0.012', 'below 0.0001', 'not determined')
    """
    if value is None or not math.isfinite(value):
        return MISSING
    return "below 0.0001" if value < 1e-4 else fixed(value, places(value))


def percent(fraction: float) -> str:
    """Write a share as a percentage.

    Examples
    --------
    >>> percent(0.95), percent(0.999)
    ('95 %', '99.9 %')
    """
    return f"{100 * fraction:.4g} %"


def counted(number: int, noun: str, plural: str = "") -> str:
    """Write a count with its noun.

    Examples
    --------
    >>> counted(1, "band"), counted(3, "band"), counted(0, "spectrum", "spectra")
    ('1 band', '3 bands', '0 spectra')
    """
    return f"{number} {noun if number == 1 else plural or noun + 's'}"


def listed(words: Sequence[str], none: str = "none") -> str:
    """Join words as a sentence does.

    Examples
    --------
    >>> listed(["a"]), listed(["a", "b", "c"]), listed([])
    ('a', 'a, b and c', 'none')
    """
    if len(words) < 2:
        return words[0] if words else none
    return f"{', '.join(words[:-1])} and {words[-1]}"


# A number that stands alone in a sentence; those of names, units and formulas do not.
_NUMBER = re.compile(r"(?<![\w.,-])[+-]?\d+(?:\.\d+)?(?:e[+-]?\d+)?(?![\w.]|-\d)")


def wording(text: str) -> str:
    """Return a sentence without its numbers: what sentences of one kind have in common.

    Examples
    --------
    >>> wording("water vapour with -0.0026 A at 1653 cm-1")
    'water vapour with # A at # cm-1'
    """
    return _NUMBER.sub("#", text)


def merged(texts: Sequence[str]) -> str:
    """Return sentences of one wording as one, with the range of each number that differs.

    Examples
    --------
    >>> merged(["vapour with -0.0026 A at 1653 cm-1", "vapour with +0.0031 A at 1653 cm-1"])
    'vapour with -0.0026 to +0.0031 A at 1653 cm-1'
    """
    columns = iter(list(zip(*(_NUMBER.findall(text) for text in texts), strict=True)))

    def ranged(_: re.Match[str]) -> str:
        low, *_rest, high = sorted({float(found): found for found in next(columns)}.items()) * 2
        return low[1] if low[0] == high[0] else f"{low[1]} to {high[1]}"

    return _NUMBER.sub(ranged, texts[0])


def rounded_cell(value: float, head: str) -> float:
    """Round a number of a table file by the unit in its column's head.

    Wavenumbers keep two decimals, which is below what any spectrum decides; other numbers three significant
    digits, p values two.

    Examples
    --------
    >>> rounded_cell(1655.40412, "shift / cm-1"), rounded_cell(0.0191234, "height / absorbance")
    (1655.4, 0.0191)
    >>> rounded_cell(3.14e-6, "p_value"), rounded_cell(173.64, "thickness / nm")
    (3.1e-06, 174.0)
    """
    if not math.isfinite(value) or value == 0:
        return value
    if head.endswith("cm-1"):
        return round(value, 2) + 0.0
    digits = 2 if head.startswith("p_") else 3
    return round(value, digits - 1 - math.floor(math.log10(abs(value)))) + 0.0
