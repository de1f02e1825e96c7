"""A spectrum divided among oscillators.

The absorption of a material is fitted by Gauss-Lorentz bands (peaks first, then wherever most is left). The
measured spectrum is then divided among the bands in proportion to their fitted heights, so that together
they are the measured spectrum and nothing is left unassigned; each share gets the real part that belongs to
it by Kramers-Kronig. An oscillator without a maximum of its own that looks much like a neighbour is part of
that neighbour's band.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.optimize import least_squares
from scipy.special import wofz

from spectra.optics.fresnel import ComplexArray
from spectra.optics.kramers_kronig import dispersion
from spectra.optics.material import BoolArray
from spectra.peaks.segmentation import split_bands
from spectra.spectrum import Frozen
from spectra.units import FloatArray

GAUSS = float(np.sqrt(np.log(2.0)))
NARROWEST, WIDEST = 6.0, 600.0  # cm-1, full width of an oscillator
WANDER = 15.0  # cm-1 an oscillator may leave the maximum it started at
FEW_STEPS, STEPS = 12, 30  # of least squares while oscillators are added, and at the end
LEAST_LORENTZ = 0.15  # share of Lorentz a divided band has at least: far flanks stay with the strong bands


@dataclass(frozen=True, eq=False)
class Bands(Frozen):
    """The bands of one material.

    Attributes
    ----------
    positions, widths, heights : ndarray, shape (b,)
        Place and full width of the main oscillator, cm-1, and the band's height there; by rising position.
    parts : tuple of ndarray, each shape (m, 4)
        Oscillators of each band: position, width, Lorentz share, height.
    """

    positions: FloatArray
    widths: FloatArray
    heights: FloatArray
    parts: tuple[FloatArray, ...]

    def __len__(self) -> int:
        return len(self.parts)


def find_bands(
    grid: FloatArray,
    absorption: FloatArray,
    usable: BoolArray,
    most: int,
    weakest: float,
    merged: float = 1.0,
) -> Bands:
    """Fit a material's absorption by bands.

    Parameters
    ----------
    grid : ndarray, shape (n,), cm-1, increasing
    absorption : ndarray, shape (n,)
        Im eps, or absorbance.
    usable : ndarray of bool, shape (n,)
        Points that may be fitted.
    most : int
        Oscillators at most.
    weakest : float
        Height of the weakest, as a share of the greatest absorption.
    merged : float
        Likeness (cosine) above which an oscillator found in the remainder joins the band it resembles.

    Returns
    -------
    Bands
        Empty where nothing absorbs.

    Examples
    --------
    >>> grid = np.arange(900.0, 1900.0, 2.0)
    >>> two = sum(h / (1 + ((grid - p) / 10) ** 2) for p, h in ((1200.0, 1.0), (1650.0, 0.5)))
    >>> find_bands(grid, two, np.ones(grid.size, bool), 8, 0.02).positions.round()
    array([1200., 1650.])
    """
    x, y = grid[usable], absorption[usable]
    top = float(y.max()) if y.size else 0.0
    if top <= 0.0:
        return Bands(np.zeros(0), np.zeros(0), np.zeros(0), ())
    start = [
        (
            piece.position,
            max(0.5 * (piece.high - piece.low), 12.0),
            0.3,
            float(np.interp(piece.position, x, y)),
        )
        for piece in split_bands(x, y, weakest)
    ]
    start = sorted(start, key=lambda row: -row[3])[:most] or [(float(x[y.argmax()]), 20.0, 0.3, top)]
    found = _fit(x, y, np.array(start), FEW_STEPS)
    own = np.ones(len(found), dtype=bool)
    while len(found) < most:
        rest = np.convolve(y - _sum(x, found), np.ones(5) / 5, "same")
        at = int(np.argmax(rest))
        if rest[at] < weakest * top:
            break
        found = _fit(x, y, np.vstack([found, [x[at], 20.0, 0.3, rest[at]]]), FEW_STEPS)
        own = np.append(own, False)
    found = _fit(x, y, found, STEPS)
    kept = found[:, 3] > 0.67 * weakest * top
    return _grouped(found[kept], own[kept], merged)


def _fit(x: FloatArray, y: FloatArray, start: FloatArray, steps: int) -> FloatArray:
    """Least squares of all oscillators together, rows of (position, width, Lorentz share, height)."""
    top = float(y.max())
    count = len(start)
    low = np.column_stack([start[:, 0] - WANDER, np.full(count, NARROWEST), np.zeros(count), np.zeros(count)])
    high = np.column_stack(
        [start[:, 0] + WANDER, np.full(count, WIDEST), np.ones(count), np.full(count, 3.0 * top)]
    )

    def misfit(flat: FloatArray) -> FloatArray:
        return _sum(x, flat.reshape(-1, 4)) - y

    def slopes(flat: FloatArray) -> FloatArray:
        return _slopes(x, flat.reshape(-1, 4))

    got = least_squares(
        misfit,
        np.clip(start, low + 1e-9, high - 1e-9).ravel(),
        slopes,
        (low.ravel(), high.ravel()),
        x_scale=np.tile([5.0, 10.0, 0.3, top], count),
        max_nfev=steps,
    )
    return np.asarray(got.x.reshape(-1, 4))


def _profile(x: FloatArray, rows: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Distance in half widths, Gauss and Lorentz profile of every row, each shape (b, n)."""
    u = 2.0 * (x - rows[:, :1]) / rows[:, 1:2]
    return u, np.exp(-np.log(2.0) * u * u), 1.0 / (1.0 + u * u)


def _sum(x: FloatArray, rows: FloatArray) -> FloatArray:
    """Sum of all oscillators."""
    _, gauss, lorentz = _profile(x, rows)
    return np.asarray((rows[:, 3:] * ((1.0 - rows[:, 2:3]) * gauss + rows[:, 2:3] * lorentz)).sum(axis=0))


def _slopes(x: FloatArray, rows: FloatArray) -> FloatArray:
    """Jacobian of the sum, shape (n, 4 b)."""
    u, gauss, lorentz = _profile(x, rows)
    width, share, height = rows[:, 1:2], rows[:, 2:3], rows[:, 3:]
    du = height * ((1.0 - share) * gauss * (-2.0 * np.log(2.0) * u) - 2.0 * share * u * lorentz**2)
    columns = [
        du * (-2.0 / width),
        du * (-u / width),
        height * (lorentz - gauss),
        (1 - share) * gauss + share * lorentz,
    ]
    return np.stack(columns, axis=1).reshape(-1, x.size).T


def _grouped(rows: FloatArray, own: BoolArray, merged: float) -> Bands:
    """Join oscillators without a maximum of their own to the band they resemble most."""
    mains = [i for i in range(len(rows)) if own[i]]
    members: dict[int, list[int]] = {i: [i] for i in mains}
    for i in range(len(rows)):
        if own[i]:
            continue
        alike = [_likeness(rows[i], rows[m]) for m in mains]
        if mains and max(alike) > merged:
            members[mains[int(np.argmax(alike))]].append(i)
        else:
            members[i] = [i]
    order = sorted(members, key=lambda m: rows[m, 0])
    main = rows[order] if order else np.zeros((0, 4))
    parts = tuple(rows[members[m]] for m in order)
    heights = [float(_sum(row[:1], part)[0]) for row, part in zip(main, parts, strict=True)]
    return Bands(main[:, 0], main[:, 1], np.array(heights), parts)


def _likeness(one: FloatArray, other: FloatArray) -> float:
    """Cosine of two Gaussian bands of these places and widths."""
    squares = one[1] ** 2 + other[1] ** 2
    factor = np.sqrt(2.0 * one[1] * other[1] / squares)
    return float(factor * np.exp(-2.0 * np.log(2.0) * 2.0 * (one[0] - other[0]) ** 2 / squares))


def oscillator(grid: FloatArray, rows: FloatArray) -> ComplexArray:
    """Sum of complex Gauss-Lorentz oscillators of given height in Im eps; eps(-nu) is the conjugate.

    Parameters
    ----------
    grid : ndarray, shape (n,), cm-1
    rows : ndarray, shape (m, 4)
        Position, full width, Lorentz share, height.
    """
    total = np.zeros(grid.size, dtype=np.complex128)
    for position, width, share, height in rows:
        total += 1j * height * (_one(grid, position, width, share) - _one(grid, -position, width, share))
    return total


def _one(grid: FloatArray, position: float, width: float, share: float) -> ComplexArray:
    """Real part the profile, imaginary part what Kramers-Kronig makes of it."""
    u = 2.0 * (grid - position) / width
    return np.asarray((1.0 - share) * wofz(GAUSS * u) + share * (1.0 + 1j * u) / (1.0 + u * u))


def divide(grid: FloatArray, absorption: FloatArray, bands: Bands, complex_parts: bool) -> ComplexArray:
    """Divide a measured absorption among its bands, shape (b, n).

    Parameters
    ----------
    grid : ndarray, shape (n,), cm-1
    absorption : ndarray, shape (n,)
    bands : Bands
    complex_parts : bool
        True for Im eps: each share gets its own real part by Kramers-Kronig. False for absorbance.
    """
    weights = np.array([_sum(grid, _with_flanks(rows)) for rows in bands.parts])
    shares = weights / np.maximum(weights.sum(axis=0), 1e-300) * absorption
    if not complex_parts:
        return np.asarray(shares.astype(np.complex128))
    return np.asarray(dispersion(grid)(shares) + 1j * shares)


def _with_flanks(rows: FloatArray) -> FloatArray:
    """Give every oscillator some Lorentz flank, so that what lies far from all bands is shared out."""
    wide = rows.copy()
    wide[:, 2] = np.maximum(wide[:, 2], LEAST_LORENTZ)
    return wide


@dataclass(frozen=True, eq=False)
class Templates(Frozen):
    """Bands that can be moved and widened, on the model's points.

    Attributes
    ----------
    points : ndarray, shape (r,), cm-1
    centres : ndarray, shape (b,), cm-1
        Places the bands are stretched about.
    curves : tuple of CubicSpline, length b
        Each band over wavenumber, complex.
    low, high : float
        Range of the curves, cm-1.
    """

    points: FloatArray
    centres: FloatArray
    curves: tuple[CubicSpline[np.complex128], ...]
    low: float
    high: float

    @cached_property
    def still(self) -> ComplexArray:
        """Every band at its place, shape (b, r)."""
        rows = [self.at(band, 0.0, 0.0) for band in range(len(self.curves))]
        return np.reshape(np.array(rows, dtype=np.complex128), (len(rows), self.points.size))

    def at(self, band: int, shift: float, widening: float, slope: int = 0) -> ComplexArray:
        """Return a band moved by ``shift`` cm-1 and wider by exp(``widening``), or its slope."""
        centre = self.centres[band]
        x = (self.points - centre - shift) * np.exp(-widening) + centre
        return np.asarray(self.curves[band](np.clip(x, self.low, self.high), slope))

    def with_slopes(self, band: int, shift: float, widening: float) -> tuple[ComplexArray, ...]:
        """Return a moved band, and how it changes with a cm-1 of shift and with the log of its width."""
        there, rate = self.at(band, shift, widening), self.at(band, shift, widening, 1)
        inner = (self.points - self.centres[band] - shift) * np.exp(-widening)
        return there, -rate * np.exp(-widening), -rate * inner


def make_templates(
    grid: FloatArray, shares: ComplexArray, centres: FloatArray, points: FloatArray
) -> Templates:
    """Prepare divided bands, shape (b, n), for moving on the model's points."""
    curves = tuple(CubicSpline(grid, share) for share in shares)
    return Templates(points, centres, curves, float(grid[0]), float(grid[-1]))
