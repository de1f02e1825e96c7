"""What is looked for: the expected shape of a coating, and the bands it consists of."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from spectra.errors import SpectraError
from spectra.spectrum import Frozen, read_only
from spectra.units import FloatArray


@dataclass(frozen=True, eq=False)
class Shape(Frozen):
    """Expected spectrum of a coating on this substrate, coated minus bare.

    Attributes
    ----------
    curve : ndarray, shape (n,), absorbance per unit amount
        On the common grid: of a thin film where optics are known, else the neat spectrum.
    nm_per_amount : float or None
        Thickness of one unit of amount; None where the geometry is unknown.
    response : callable or None
        Film thickness in nm to the change of absorbance, shape (n,), by the full stack: for films too
        thick to be linear.
    contact_error : float
        Relative standard error of the signal per nm because the contact of sample and crystal is not
        known exactly.
    tolerance : float
        Relative amount by which a single band may differ from the shape though nothing is wrong: small for
        a film computed by optics, large for a neat spectrum taken as it is.
    own : callable or None
        Film thickness in nm to the coating's own part of that change: without the substrate's weakening.
    depths : ndarray, shape (n,), or None
        Relative weakening of the substrate's spectrum per nm of coating, for the second thickness.
    """

    curve: FloatArray
    nm_per_amount: float | None = None
    response: Callable[[float], FloatArray] | None = None
    contact_error: float = 0.0
    tolerance: float = 0.2
    own: Callable[[float], FloatArray] | None = None
    depths: FloatArray | None = None

    def __post_init__(self) -> None:
        curve = read_only(self.curve)
        if curve.ndim != 1 or not np.any(np.isfinite(curve)):
            raise SpectraError(f"a coating's shape has {curve.shape} values; expected one row of numbers")
        object.__setattr__(self, "curve", curve)
        if self.depths is not None:
            object.__setattr__(self, "depths", read_only(self.depths))


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
    step = float(np.median(np.diff(points)))
    edges = np.flatnonzero(np.diff(points) > 2.5 * step) + 1
    pieces: list[Piece] = []
    for run in np.split(np.arange(points.size), edges):
        valleys, peaks = _turning_points(curve[run], least)
        for left, peak, right in zip(valleys[:-1], peaks, valleys[1:], strict=True):
            pieces.append(_piece(points, curve, run[0] + left, run[0] + peak, run[0] + right))
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
    inner = np.flatnonzero(np.diff(np.sign(np.diff(values))) != 0) + 1
    turns = [0, *(int(i) for i in inner), values.size - 1]
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
