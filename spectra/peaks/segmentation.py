"""The bands that an expected spectrum consists of, cut at the valleys between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectra.spectrum import Frozen, read_only
from spectra.stretches import unbroken
from spectra.units import FloatArray


@dataclass(frozen=True, eq=False)
class Piece(Frozen):
    """One band of a shape: the part above the straight line between the valleys beside it.

    Attributes
    ----------
    position, low, high
        Maximum and ends, cm-1.
    curve : ndarray, shape (r,)
        Zero outside the band.
    """

    position: float
    low: float
    high: float
    curve: FloatArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "curve", read_only(self.curve))


def split_bands(points: FloatArray, curve: FloatArray, prominence: float) -> tuple[Piece, ...]:
    """Split a shape into its bands.

    Parameters
    ----------
    points : ndarray, shape (r,), cm-1, increasing
        May have gaps; no band reaches across one.
    curve : ndarray, shape (r,)
    prominence : float
        Smallest height above the higher valley, as a share of the shape's range.

    Returns
    -------
    tuple of Piece
        By rising wavenumber. What they leave of the curve is its background.

    Examples
    --------
    >>> points = np.arange(0.0, 100.0)
    >>> curve = np.exp(-((points - 30) / 5) ** 2) + 0.5 * np.exp(-((points - 60) / 5) ** 2)
    >>> [piece.position for piece in split_bands(points, curve, 0.1)]
    [30.0, 60.0]
    """
    least = prominence * float(np.ptp(curve))
    pieces: list[Piece] = []
    for start, stop in unbroken(points):
        valleys, peaks = _turning_points(curve[start:stop], least)
        for left, peak, right in zip(valleys[:-1], peaks, valleys[1:], strict=True):
            pieces.append(_piece(points, curve, start + left, start + peak, start + right))
    return tuple(pieces)


def _piece(points: FloatArray, curve: FloatArray, left: int, peak: int, right: int) -> Piece:
    """Part of the curve above the line between its ends."""
    inside = slice(left, right + 1)
    line = np.interp(points[inside], points[[left, right]], curve[[left, right]])
    band = np.zeros_like(curve)
    band[inside] = np.maximum(curve[inside] - line, 0.0)
    return Piece(float(points[peak]), float(points[left]), float(points[right]), band)


def _turning_points(values: FloatArray, least: float) -> tuple[list[int], list[int]]:
    """Valleys and peaks of a curve, every peak rising by ``least`` above both its valleys."""
    turns = [0, *_turns(values), values.size - 1]
    while len(turns) > 2:
        rises = np.abs(np.diff(values[turns]))
        smallest = int(np.argmin(rises))
        if rises[smallest] >= least:
            break
        # An end can only lose its neighbour; an inner pair of turns goes together.
        if smallest == 0:
            del turns[1]
        elif smallest == len(turns) - 2:
            del turns[-2]
        else:
            del turns[smallest : smallest + 2]
    return _alternate(values, turns)


def _turns(values: FloatArray) -> list[int]:
    """Where a curve turns; of points of one height in a row, as rounded values have them, the middle one."""
    signs = np.sign(np.diff(values))
    moving = np.flatnonzero(signs)
    before, after = moving[:-1], moving[1:]
    turning = signs[before] != signs[after]
    return [int(i) for i in (before[turning] + 1 + after[turning]) // 2]


def _alternate(values: FloatArray, turns: list[int]) -> tuple[list[int], list[int]]:
    """Sort turning points into valleys and the peaks between them; the ends count as valleys."""
    valleys, peaks = [turns[0]], []
    for left, here, right in zip(turns[:-2], turns[1:-1], turns[2:], strict=True):
        if values[here] > values[left] and values[here] > values[right]:
            peaks.append(here)
        elif values[here] <= values[left] and values[here] <= values[right] and peaks:
            valleys.append(here)
        elif not peaks:
            valleys[0] = here
    if len(valleys) == len(peaks):
        valleys.append(turns[-1])
    return valleys, peaks
