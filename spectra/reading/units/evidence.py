"""What the values of a curve say about their unit, each way of reading tried on a robust copy of it.

A curve is read as absorbance, as a ratio of light and as that ratio in percent. Read rightly it looks like
an absorbance: bands point up, from a low and even base. Three figures say how far: the skewness of the
fine structure over 80 and over 300 cm-1, and how much farther the curve reaches above its median than
below. Single points, the ends and the gas regions do not count. The limits were set on the spectra of
``tests.unittrial``; what no detector measures is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from spectra.noise import estimate_noise, fine_structure
from spectra.units import FloatArray, Mask

# Where gases absorb, cm-1 (CO2; water vapour: HITRAN, doi:10.1016/j.jqsrt.2013.07.002). The narrow ones
# are bridged before the fine structure is taken, the wide ones left out of what is counted.
_BRIDGED = ((2280.0, 2390.0), (655.0, 680.0))

_BESIDE = tuple((low - 40.0, low, high, high + 40.0) for low, high in _BRIDGED)

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


class _Robust(NamedTuple):
    """A curve without spikes, ends and narrow gas bands, over rising wavenumbers, sorted once for all uses.

    ``free`` marks the points outside the gas regions, ``halves`` are the half-widths of the fine structure
    in points.
    """

    x: FloatArray
    y: FloatArray
    ordered: FloatArray
    free: Mask
    ordered_free: FloatArray
    halves: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class Evidence:
    """What the values of one curve say.

    Attributes
    ----------
    low, median, high
        1st, 50th and 99th percentile of the ordinates, as in the file, without spikes and ends.
    looks : dict of str to Look
        For every reading that the values allow.
    """

    low: float
    median: float
    high: float
    looks: dict[str, Look]
    _curve: _Robust

    @property
    def scores(self) -> dict[str, float]:
        """How well each reading fits: its look less what an odd base costs."""
        return {reading: look.upward - _cost(look) for reading, look in self.looks.items()}

    @cached_property
    def swings(self) -> bool:
        """Whether the curve swings about zero with no net area, as a derivative does."""
        return _swings(self._curve)

    @cached_property
    def hump(self) -> bool:
        """Whether both ends are dark and the middle is bright, as in a single beam."""
        return _is_hump(self._curve)


def weigh(wavenumbers: FloatArray, values: FloatArray) -> Evidence | None:
    """Weigh what the values of a curve say about their unit.

    Parameters
    ----------
    wavenumbers : ndarray, shape (n,), cm-1
        Steadily rising or falling.
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
    x, y = _without_spikes(wavenumbers, values)
    if y.size < _FEWEST:
        return None
    curve = _prepared(x, y)
    low, median, high = (_nth(curve.ordered, share) for share in (0.01, 0.5, 0.99))
    looks = {
        reading: _look(curve, full) for reading, full in READINGS.items() if _possible(reading, low, high)
    }
    return Evidence(low, median, high, looks, curve)


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


def _without_spikes(wavenumbers: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Rising axis; spikes and ends taken off, and a long curve thinned out."""
    finite = np.isfinite(values)
    x, y = (wavenumbers, values) if finite.all() else (wavenumbers[finite], values[finite])
    if x.size > 1 and x[0] > x[-1]:
        x, y = x[::-1], y[::-1]
    if y.size < 5:
        return x, y
    every = max(1, x.size // _MOST_POINTS)
    ends = max(3, x.size // 50) if x.size > 50 else 0
    if not ends:
        y = np.concatenate([y[:1], y[:1], y, y[-1:], y[-1:]])
    last = x.size - ends
    first = ends - 2 if ends else 0
    five = [y[first + i : first + i + last - ends : every] for i in range(5)]
    return x[ends:last:every], _middle_of(*five)


def _middle_of(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray, e: FloatArray) -> FloatArray:
    """Return the median of five values at every point, by comparisons of whole arrays."""
    below = np.maximum(np.minimum(a, b), np.minimum(c, d))
    above = np.minimum(np.maximum(a, b), np.maximum(c, d))
    return np.asarray(np.maximum(np.minimum(below, above), np.minimum(np.maximum(below, above), e)))


def _prepared(x: FloatArray, y: FloatArray) -> _Robust:
    """Bridge the narrow gas bands of a curve, in place, and sort its values."""
    free = np.ones(x.size, dtype=bool)
    for start, stop in np.searchsorted(x, _LEFT_OUT):
        free[start:stop] = False
    if np.count_nonzero(free) < 0.3 * x.size:
        free[:] = True
    for before, start, stop, after in np.searchsorted(x, _BESIDE):
        if start < stop and start - before + after - stop >= 4:
            _bridge(x, y, slice(before, start), slice(start, stop), slice(stop, after))
    step = float(np.sort(np.diff(x))[x.size // 2 - 1])
    halves = tuple(max(1, round(width / step / 2)) for width in (80, 300))
    return _Robust(x, y, np.sort(y), free, np.sort(y[free]), halves)


def _bridge(x: FloatArray, y: FloatArray, before: slice, inside: slice, after: slice) -> None:
    """Put the straight line through the points beside a range in place of it."""
    along, values = np.concatenate([x[before], x[after]]), np.concatenate([y[before], y[after]])
    middle, level = along.mean(), values.mean()
    away = along - middle
    slope = np.dot(away, values) / np.dot(away, away)
    y[inside] = level + slope * (x[inside] - middle)


def _look(curve: _Robust, full: float | None) -> Look:
    """Say how far bands point up, between -1 and 1, and where the base lies."""

    def read(values: FloatArray) -> FloatArray:
        return values if full is None else -np.log10(np.maximum(values / full, 1e-4))

    def quantile(ordered: FloatArray, share: float) -> float:
        # absorbance falls as the ratio rises
        return float(read(ordered[_position(ordered, share if full is None else 1.0 - share)]))

    as_read = read(curve.y)
    largest = max(quantile(curve.ordered, 1.0), -quantile(curve.ordered, 0.0))
    figures = [_skewness(fine, largest) for fine in _fine_structures(as_read, curve)]
    low, median, high = (quantile(curve.ordered_free, share) for share in (0.02, 0.5, 0.98))
    spread = high - low
    figures.append(1.5 * (high + low - 2 * median) / spread if spread > 0 else 0.0)
    upward = sum(math.tanh(figure) for figure in figures) / len(figures)
    return Look(upward, quantile(curve.ordered, 0.02), quantile(curve.ordered, 0.5))


def _fine_structures(values: FloatArray, curve: _Robust) -> Iterator[FloatArray]:
    """Take a running mean of each width off, and hand back what is left outside the gas regions."""
    sums = np.cumsum(np.append(0.0, values))
    for half in curve.halves:
        if 4 * half < values.size:  # the ends lack neighbours
            inner, width = slice(half, values.size - half), 2 * half + 1
            yield (values[inner] - (sums[width:] - sums[:-width]) / width)[curve.free[inner]]
        else:
            yield fine_structure(values, half)[curve.free]


def _skewness(fine: FloatArray, largest: float) -> float:
    """Skewness of what is more than rounding of a curve."""
    scatter = math.sqrt(np.dot(fine, fine) / fine.size) if fine.size else 0.0
    if scatter <= 1e-9 * largest:
        return 0.0
    return float(np.dot(fine * fine, fine)) / fine.size / scatter**3


def _swings(curve: _Robust) -> bool:
    """Whether what lies above zero and below it cancel, stretch by stretch, as in a derivative."""
    y = curve.y
    if not curve.ordered[0] < 0.0 < curve.ordered[-1]:
        return False
    total, net = float(np.abs(y).sum()), float(y.sum())
    if (total - abs(net)) / 2.0 <= 0.35 * total:
        return False
    running = np.cumsum(y)
    if float(np.max(running) - np.min(running)) >= 0.35 * total:
        return False
    return estimate_noise(y) < 0.3 * float(np.std(y))  # noise about zero is no derivative


def _is_hump(curve: _Robust) -> bool:
    """Whether the bright outline of a curve is dark at both ends: source and detector, not a sample."""
    x, y = curve.x, curve.y
    if x[-1] < 3200 or x[0] > 900:
        return False
    dark, bright = _nth(curve.ordered, 0.02), _nth(curve.ordered, 0.98)
    if max(y[:3].max(), y[-3:].max()) >= 0.6 * bright:
        return False
    pieces = np.split(y, np.searchsorted(x, np.arange(x[0] + 100.0, x[-1], 100.0)))
    outline = np.array([_nth(np.sort(piece), 0.9) for piece in pieces if piece.size > 1])
    top, at = float(outline.max()), int(np.argmax(outline))
    ends = min(outline[0], outline[1]), min(outline[-1], outline[-2])
    inside = 3 <= at < outline.size - 6 and dark > -0.05 * bright
    if not inside or ends[0] >= 0.5 * top or ends[1] >= 0.45 * top:
        return False
    rises = float(np.mean(np.diff(outline[: at + 1]) > 0)), float(np.mean(np.diff(outline[at:]) < 0))
    return float(np.mean(outline > 0.3 * top)) > 0.35 and min(rises) > 0.6


def _position(ordered: FloatArray, share: float) -> int:
    """Index of a quantile; the nearest value is near enough, and a tenth of the time."""
    return round(share * (ordered.size - 1))


def _nth(ordered: FloatArray, share: float) -> float:
    """Return a quantile of sorted values."""
    return float(ordered[_position(ordered, share)])
