"""Local fits: how much of a band, and how far moved, inside one window of a spot.

In a window around a band the difference between a spot ``y`` and the mean bare spectrum ``R`` is described by

    y - R  =  a R + h T + q (-T') + b0 + b1 (nu - centre)

with ``T`` the expected shape of the coating and ``T'`` its slope: ``h`` is the band's height in units of the
expected band, ``q / h`` its shift in cm-1, ``a`` what the normalising left of the substrate, and the line the
drift of the baseline. For the substrate's own bands the roles of ``R`` and ``T`` are exchanged. The fit is
linear, so one matrix gives every spot's coefficients, and the same matrix applied to bare spots, each against
the mean of the others, tells what those coefficients do by themselves.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectra.units import FloatArray, IndexArray, Mask

# How far a substrate's scale may be off after normalising, and how much of another coating there may be, in
# units of its neat spectrum: weak priors that keep the fit defined where a component is flat.
SUBSTRATE_SPREAD = 0.1

COATING_SPREAD = 1.0

MINIMUM_POINTS = 9


@dataclass(frozen=True, eq=False)
class Others:
    """What else varies in a window.

    Attributes
    ----------
    columns : ndarray, shape (n, p)
        Spectra of the other components.
    spread : ndarray, shape (p,)
        How far their amounts may be from zero, one standard deviation.
    """

    columns: FloatArray
    spread: FloatArray


@dataclass(frozen=True, eq=False)
class Window:
    """The part of the grid a band is judged in.

    Attributes
    ----------
    points : ndarray of int
        Indices on the grid.
    centre : float, cm-1
    """

    points: IndexArray
    centre: float


def window_around(grid: FloatArray, usable: Mask, centre: float, width: float) -> Window | None:
    """Return the window of one band width to either side of ``centre``; None where too little is usable.

    Examples
    --------
    >>> import numpy as np
    >>> x = np.arange(1000.0, 1100.0, 2.0)
    >>> window_around(x, np.ones(x.size, bool), 1050.0, 20.0).points.size
    21
    """
    reach = max(width, 0.5 * MINIMUM_POINTS * float(grid[1] - grid[0]))
    inside = np.abs(grid - centre) <= reach
    points = np.flatnonzero(inside & usable)
    if points.size < MINIMUM_POINTS or points.size < 0.7 * np.count_nonzero(inside):
        return None
    return Window(points, centre)


def slope_of(grid: FloatArray, values: FloatArray) -> FloatArray:
    """Return the derivative of a spectrum after wavenumber, shape of ``values``."""
    return np.asarray(np.gradient(values, grid, axis=-1))


def fit_rows(
    differences: FloatArray, grid: FloatArray, shape: FloatArray, others: Others, window: Window
) -> FloatArray:
    """Fit the local model to every row.

    Parameters
    ----------
    differences : ndarray, shape (m, n)
        Spots minus the mean bare spectrum.
    grid : ndarray, shape (n,), cm-1
    shape : ndarray, shape (n,)
        The band looked for.
    others : Others
        The substrate and other coatings; the coatings when the substrate is judged.
    window : Window

    Returns
    -------
    ndarray, shape (m, 3)
        Height ``h`` without the slope term, height and ``q`` with it, in units of ``shape``.
    """
    rows = differences[:, window.points].T
    plain, moved = _designs(grid, shape, others, window)
    height = (solver(plain, others.spread) @ rows)[0]
    both = (solver(moved, others.spread) @ rows)[[0, -1]]
    return np.column_stack([height, both[0], both[1]])


def _designs(
    grid: FloatArray, shape: FloatArray, others: Others, window: Window
) -> tuple[FloatArray, FloatArray]:
    """Return the design matrices without and with the slope of the shape."""
    at = window.points
    x = grid[at] - window.centre
    plain = np.column_stack([shape[at], others.columns[at], np.ones(at.size), x / np.abs(x).max()])
    return plain, np.column_stack([plain, -slope_of(grid, shape)[at]])


def solver(design: FloatArray, spread: FloatArray) -> FloatArray:
    """Return the matrix that takes data to coefficients by least squares.

    The columns after the first, the other components, are held near zero by their spread, so that a flat
    stretch of one cannot trade against the straight line. The prior weighs as much as data whose noise is a
    thousandth of the band: far below what data of any use say themselves.

    Returns
    -------
    ndarray, shape (p, n)
    """
    weight = 1e-3 * np.abs(design[:, 0]).max()
    prior = np.zeros((spread.size, design.shape[1]))
    prior[np.arange(spread.size), 1 + np.arange(spread.size)] = weight / spread
    return np.asarray(np.linalg.pinv(np.vstack([design, prior]), rcond=1e-9)[:, : design.shape[0]])


def solver_noise(grid: FloatArray, shape: FloatArray, others: Others, window: Window) -> float:
    """Return the standard deviation of the height per unit of white noise on every point."""
    plain, _ = _designs(grid, shape, others, window)
    return float(np.linalg.norm(solver(plain, others.spread)[0]))


def agreement(
    difference: FloatArray, shape: FloatArray, others: Others, grid: FloatArray, window: Window
) -> float:
    """Return the correlation of what is left of a spot with the expected band inside the window.

    The substrate's scale and the straight line are taken out of both first. 1: the expected band; 0: nothing
    like it; the value does not depend on the amount.
    """
    plain, _ = _designs(grid, shape, others, window)
    nuisance = plain[:, 1:]
    band, found = plain[:, 0], difference[window.points]
    for_nuisance = np.linalg.pinv(nuisance, rcond=1e-6)
    band = band - nuisance @ (for_nuisance @ band)
    found = found - nuisance @ (for_nuisance @ found)
    size = float(np.sqrt((band @ band) * (found @ found)))
    return float(band @ found) / size if size > 0 else 0.0
