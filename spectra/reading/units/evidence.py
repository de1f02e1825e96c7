"""What the values of a curve say about their unit, each way of reading tried on a robust copy of it.

A curve is read as absorbance, as a ratio of light and as that ratio in percent. Read rightly it looks like
an absorbance: bands point up, from a low and even base. Three figures say how far: the skewness of the
fine structure over 80 and over 300 cm-1, and how much farther the curve reaches above its median than
below. Single points, the ends and the gas regions do not count. The limits were set on the spectra of
``tests.unittrial``; what no detector measures is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from spectra.noise import estimate_noise, fine_structure
from spectra.units import FloatArray

# Where gases absorb, cm-1 (CO2; water vapour: HITRAN, doi:10.1016/j.jqsrt.2013.07.002). The narrow ones
# are bridged before the fine structure is taken, the wide ones left out of what is counted.
_BRIDGED = ((2280.0, 2390.0), (655.0, 680.0))

_LEFT_OUT = ((1380.0, 1880.0), (3560.0, 3930.0), *_BRIDGED)

# Each way of reading, with the value that stands for full light; absorbance has none.
READINGS = {"absorbance": None, "transmittance": 1.0, "percent transmittance": 100.0}

# Highest value (99th percentile) that can be: an absorbance above 6 has not been measured, a ratio above
# 1.3 means a sample brighter than its background. Lowest: a ratio below zero is noise.
_HIGHEST = {"absorbance": 6.0, "transmittance": 1.3, "percent transmittance": 130.0}

_LOWEST_RATIO = -0.02

_LEAST_PERCENT = 1.3  # a whole spectrum below this transmits nothing

_FEWEST = 8

_MOST_POINTS = 20_000  # more are thinned out: the evidence does not gain by them


class Look(NamedTuple):
    """How a curve looks as absorbance: bands up (positive) or down, its base, and its median."""

    upward: float
    base: float
    median: float


@dataclass(frozen=True)
class Evidence:
    """What the values of one curve say.

    Attributes
    ----------
    low, median, high
        1st, 50th and 99th percentile of the ordinates, as in the file, without spikes and ends.
    looks : dict of str to Look
        For every reading that the values allow.
    swings
        True if the curve swings about zero with no net area, as a derivative does.
    hump
        True if both ends are dark and the middle is bright, as in a single beam.
    """

    low: float
    median: float
    high: float
    looks: dict[str, Look]
    swings: bool
    hump: bool

    @property
    def scores(self) -> dict[str, float]:
        """How well each reading fits: its look less what an odd base costs."""
        return {reading: look.upward - _cost(look) for reading, look in self.looks.items()}


def weigh(wavenumbers: FloatArray, values: FloatArray) -> Evidence | None:
    """Weigh what the values of a curve say about their unit.

    Parameters
    ----------
    wavenumbers : ndarray, shape (n,), cm-1
        Any order.
    values : ndarray, shape (n,)
        Ordinates as in the file; NaN is left out.

    Returns
    -------
    Evidence or None
        None if too few points are left to say anything.

    Examples
    --------
    >>> x = np.arange(400.0, 4000.0, 4.0)
    >>> film = 0.02 + 0.5 * np.exp(-(((x - 1100) / 30) ** 2))
    >>> evidence = weigh(x, 10**-film)
    >>> max(evidence.scores, key=evidence.scores.get)
    'transmittance'
    """
    x, y = _robust(wavenumbers, values)
    if y.size < _FEWEST:
        return None
    low, median, high = _quantiles(y, 0.01, 0.5, 0.99)
    looks = {}
    for reading, full in READINGS.items():
        if _possible(reading, low, high):
            curve = y if full is None else -np.log10(np.clip(y / full, 1e-4, None))
            looks[reading] = _look(x, curve)
    return Evidence(low, median, high, looks, _swings(y), _is_hump(x, y))


def _possible(reading: str, low: float, high: float) -> bool:
    """Whether values can be of a unit at all."""
    full = READINGS[reading]
    if high > _HIGHEST[reading]:
        return False
    if full is None:
        return True
    return low > _LOWEST_RATIO * full and (full == 1.0 or high > _LEAST_PERCENT)


def _cost(look: Look) -> float:
    """Price of an unusual level: a sample is seldom dark over half its range, never brighter than light."""
    too_dark = 2.0 * max(0.0, look.base - 0.5) + 0.8 * max(0.0, look.median - 0.8)
    return too_dark + 10.0 * max(0.0, -0.12 - look.base)


def _robust(wavenumbers: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Rising axis; spikes, ends and narrow gas bands taken off."""
    finite = np.isfinite(values)
    x, y = (wavenumbers, values) if finite.all() else (wavenumbers[finite], values[finite])
    if x.size > 1 and x[0] > x[-1]:
        x, y = x[::-1], y[::-1]
    y = _median_of_five(y)
    every = max(1, x.size // _MOST_POINTS)
    ends = max(3, x.size // 50) if x.size > 50 else 0
    x, y = x[ends : x.size - ends : every], y[ends : x.size - ends : every].copy()
    for low, high in _BRIDGED:
        inside = (x > low) & (x < high)
        beside = (x > low - 40) & (x < high + 40) & ~inside
        if np.any(inside) and np.count_nonzero(beside) >= 4:
            y[inside] = np.polyval(np.polyfit(x[beside] - low, y[beside], 1), x[inside] - low)
    return x, y


def _median_of_five(y: FloatArray) -> FloatArray:
    """Return the running median over five points, by comparisons of whole arrays."""
    if y.size < 5:
        return y
    padded = np.concatenate([y[:1], y[:1], y, y[-1:], y[-1:]])
    a, b, c, d, e = (padded[i : i + y.size] for i in range(5))
    below = np.maximum(np.minimum(a, b), np.minimum(c, d))
    above = np.minimum(np.maximum(a, b), np.maximum(c, d))
    return np.asarray(np.maximum(np.minimum(below, above), np.minimum(np.maximum(below, above), e)))


def _look(x: FloatArray, curve: FloatArray) -> Look:
    """Say how far bands point up, between -1 and 1, and where the base lies."""
    free = np.ones(x.size, dtype=bool)
    for low, high in _LEFT_OUT:
        free &= (x < low) | (x > high)
    if np.count_nonzero(free) < 0.3 * x.size:
        free[:] = True
    step = float(np.median(np.diff(x)))
    figures = []
    for width in (80, 300):
        half = max(1, round(width / step / 2))
        inner = slice(half, -half) if 4 * half < x.size else slice(None)  # the ends lack neighbours
        figures.append(_skewness(fine_structure(curve, half)[inner][free[inner]], curve))
    low, median, high = _quantiles(curve[free], 0.02, 0.5, 0.98)
    spread = high - low
    figures.append(1.5 * float((high + low - 2 * median) / spread) if spread > 0 else 0.0)
    base, middle = _quantiles(curve, 0.02, 0.5)
    return Look(float(np.mean(np.tanh(figures))), base, middle)


def _skewness(fine: FloatArray, curve: FloatArray) -> float:
    """Skewness of what is more than rounding of the curve."""
    scatter = float(np.sqrt(np.dot(fine, fine) / fine.size)) if fine.size else 0.0
    if scatter <= 1e-9 * max(float(curve.max()), -float(curve.min())):
        return 0.0
    return float(np.mean(fine * fine * fine)) / scatter**3


def _swings(y: FloatArray) -> bool:
    """Whether what lies above zero and below it cancel, stretch by stretch, as in a derivative."""
    total = float(np.abs(y).sum())
    if total == 0.0 or not np.min(y) < 0.0 < np.max(y):
        return False
    running = np.cumsum(y)
    balance = min(float(y[y > 0].sum()), -float(y[y < 0].sum())) / total
    smooth = estimate_noise(y) < 0.3 * float(np.std(y))  # noise about zero is no derivative
    return smooth and balance > 0.35 and float(np.max(running) - np.min(running)) < 0.35 * total


def _is_hump(x: FloatArray, y: FloatArray) -> bool:
    """Whether the bright outline of a curve is dark at both ends: source and detector, not a sample."""
    if x[-1] < 3200 or x[0] > 900:
        return False
    dark, bright = _quantiles(y, 0.02, 0.98)
    if max(y[:3].max(), y[-3:].max()) >= 0.6 * bright:
        return False  # the usual case, at once
    pieces = np.split(y, np.searchsorted(x, np.arange(x[0] + 100.0, x[-1], 100.0)))
    outline = np.array([_quantiles(piece, 0.9)[0] for piece in pieces if piece.size > 1])
    top, at = float(outline.max()), int(np.argmax(outline))
    ends = min(outline[0], outline[1]), min(outline[-1], outline[-2])
    inside = 3 <= at < outline.size - 6 and dark > -0.05 * bright
    if not inside or ends[0] >= 0.5 * top or ends[1] >= 0.45 * top:
        return False
    rises = float(np.mean(np.diff(outline[: at + 1]) > 0)), float(np.mean(np.diff(outline[at:]) < 0))
    return float(np.mean(outline > 0.3 * top)) > 0.35 and min(rises) > 0.6


def _quantiles(values: FloatArray, *shares: float) -> tuple[float, ...]:
    """Return quantiles by one sort; the nearest value is near enough, and a tenth of the time."""
    ordered = np.sort(values)
    return tuple(float(ordered[round(share * (ordered.size - 1))]) for share in shares)
