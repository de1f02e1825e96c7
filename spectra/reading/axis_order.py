"""An abscissa in steady order; one that was rounded until its values repeat is rebuilt where that is certain.

The points of an interferometer are evenly spaced. Where rounded values repeat, every straight line that
stays within the rounding of all points is a possible axis; if all of them agree to a fraction of a step,
the axis is settled, else the file must be exported with more digits.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from spectra.errors import FormatError
from spectra.spectrum import Fault
from spectra.units import FloatArray

# The ends of the possible axes may differ by this share of a step; common practice, no source.
_SETTLED = 0.5

_SIGNIFICANT = (3, 4, 5)  # digits that programs round to, besides a fixed number of decimals

Place = Callable[[int], str]


def in_order(
    x: FloatArray, place: Place, where: str
) -> tuple[FloatArray, tuple[str, ...], tuple[Fault, ...]]:
    """Return a strictly monotone abscissa, what was mended, and what is doubtful.

    Raises
    ------
    FormatError
        If it turns, or gives one value twice that no even axis explains.
    """
    before, after = x[:-1], x[1:]
    backward = after < before if x[-1] >= x[0] else after > before
    if np.any(backward):
        at = int(np.argmax(backward)) + 1
        raise FormatError(
            f"{where}: {place(at)}: the abscissa turns from {x[at - 1]:.10g} to {x[at]:.10g}; "
            "expected steadily rising or falling values, sort the file"
        )
    repeated = after == before
    if not np.any(repeated):
        return x, (), ()
    return _rebuilt(x, repeated, place, where)


def _rebuilt(
    x: FloatArray, repeated: np.ndarray, place: Place, where: str
) -> tuple[FloatArray, tuple[str, ...], tuple[Fault, ...]]:
    """Rebuild an even axis from its rounded values."""
    at, count = int(np.argmax(repeated)) + 1, int(repeated.sum())
    for rounding, said in _roundings(x):
        if not np.max(np.abs(np.linspace(x[0], x[-1], x.size) - x)) <= 1.5 * float(np.max(rounding)):
            continue
        ends = _possible_ends(x, rounding)
        if ends is None:
            continue
        (low_first, high_first), (low_last, high_last) = ends
        first, last = (low_first + high_first) / 2, (low_last + high_last) / 2
        step = abs(last - first) / (x.size - 1)
        if step >= 0.999 * float(np.max(rounding)):
            continue  # so far apart, no two points round to one value
        if max(high_first - low_first, high_last - low_last) > _SETTLED * max(
            step, float(np.min(rounding)) / 2
        ):
            raise FormatError(
                f"{where}: {place(at)}: {count} abscissae repeat: the axis was rounded to {said}, and "
                "several even axes fit; export more digits of the abscissa"
            )
        fault = Fault(
            "axis-rounded",
            "warning",
            place(at),
            f"{count} abscissae repeat: the axis was rounded to {said}, the points are {step:.4g} apart",
            "Export with more decimals on the abscissa.",
        )
        repair = f"even axis rebuilt from abscissae rounded to {said}"
        return np.linspace(first, last, x.size), (repair,), (fault,)
    raise FormatError(
        f"{where}: {place(at)}: the abscissa {x[at]:.10g} is given twice; expected one ordinate for each"
    )


def _roundings(x: FloatArray) -> list[tuple[FloatArray, str]]:
    """Ways in which the values may have been rounded: the step of each value, and its name."""
    decimals = _decimal_step(x)
    ways = [(np.full(x.shape, decimals), f"{decimals:g}")]
    magnitude = np.floor(np.log10(np.maximum(np.abs(x), 1e-300)))
    for digits in _SIGNIFICANT:
        step = 10.0 ** (magnitude - digits + 1)
        if np.allclose(x / step, np.round(x / step), rtol=0, atol=1e-6) and np.any(step > decimals):
            ways.append((step, f"{digits} digits"))
    return ways


def _decimal_step(x: FloatArray) -> float:
    """Tell the unit of the last decimal that any value uses, at most the seventh."""
    for decimals in range(-2, 8):
        if np.allclose(x, np.round(x, decimals), rtol=0, atol=1e-9 * max(1.0, float(np.abs(x).max()))):
            return float(10.0**-decimals)
    return 1e-7


def _possible_ends(
    x: FloatArray, rounding: FloatArray
) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """Return the range of the first and last value of all straight lines within the rounding, or None."""
    from scipy.optimize import linprog

    share = np.linspace(0.0, 1.0, x.size)
    rows = np.column_stack([1.0 - share, share])
    slack = rounding / 2 * (1 + 1e-6) + 1e-9
    upper, bounds = np.concatenate([x + slack, -(x - slack)]), [(None, None)] * 2
    ends = []
    for which in range(2):
        span = []
        for sign in (1.0, -1.0):
            goal = np.zeros(2)
            goal[which] = sign
            found = linprog(goal, A_ub=np.vstack([rows, -rows]), b_ub=upper, bounds=bounds, method="highs")
            if not found.success or found.x is None:
                return None
            span.append(float(found.x[which]))
        ends.append((min(span), max(span)))
    return ends[0], ends[1]
