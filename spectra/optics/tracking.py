"""Following band positions from one curve to the next.

A position is where the slope of a curve, smoothed by a local parabola (Savitzky, Golay, Anal. Chem. 36, 1627,
1964, doi:10.1021/ac60214a047), crosses zero downward. Along a path of curves that change little from one to
the next (a film growing thicker), each band is the crossing nearest to where it was before. A band that
merges with a neighbour has no crossing of its own any more: it is lost, and NaN from there on.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from spectra.units import FloatArray

# Farthest that a band may move between neighbouring curves of a path, cm-1, or this share of its width.
REACH, REACH_SHARE = 5.0, 0.35

# Half-width of the local parabola, as a share of the band's full width at half height.
PARABOLA_SHARE = 0.18

# ... and at most this, cm-1: widths of overlapping bands are overestimated.
PARABOLA_LIMIT = 15.0

# Farthest that a band may move along the whole path, cm-1.
ROAM = 60.0


def follow(grid: FloatArray, path: FloatArray, starts: ArrayLike, widths: ArrayLike) -> FloatArray:
    """Return where bands are on every curve of a path.

    Parameters
    ----------
    grid : ndarray, shape (n,), cm-1
        Even.
    path : ndarray, shape (..., m, n)
        Curves in order along the second last axis; leading axes are paths of their own.
    starts : array_like, shape (b,) or (..., b), cm-1
        Where the bands are on the first curve, about; NaN for a band already lost.
    widths : array_like, shape (b,), cm-1
        Full widths at half height, about.

    Returns
    -------
    ndarray, shape (..., m, b), cm-1

    Examples
    --------
    >>> grid = np.arange(1600.0, 1801.0, 1.0)
    >>> path = np.array([np.exp(-(((grid - at) / 12.0) ** 2)) for at in (1700.0, 1704.0, 1708.5)])
    >>> follow(grid, path, [1699.0], [20.0]).ravel().round(2)
    array([1700. , 1704. , 1708.5])
    """
    starts = np.broadcast_to(np.asarray(starts, dtype=np.float64), (*path.shape[:-2], np.shape(starts)[-1]))
    bands = [
        _follow_one(grid, path, starts[..., band], float(width))
        for band, width in enumerate(np.asarray(widths))
    ]
    return np.stack(bands, axis=-1) if bands else np.zeros((*path.shape[:-1], 0))


def position_noise(
    grid: FloatArray, curve: FloatArray, noise: FloatArray, positions: FloatArray, widths: FloatArray
) -> FloatArray:
    """Return the standard deviation that noise gives to positions: that of the slope over the curvature.

    Parameters
    ----------
    curve, noise : ndarray, shape (n,)
        The curve, and its noise from point to point.

    Returns
    -------
    ndarray, shape (b,), cm-1; NaN for a position that is NaN

    Examples
    --------
    >>> grid = np.arange(1600.0, 1801.0, 1.0)
    >>> curve = np.exp(-(((grid - 1700.0) / 12.0) ** 2))
    >>> position_noise(grid, curve, 0.01 + 0.0 * grid, np.array([1700.0]), np.array([20.0])).round(2)
    array([0.1])
    """
    step = float(grid[1] - grid[0])
    found = np.full(positions.shape, np.nan)
    for band, (at, width) in enumerate(zip(positions, widths, strict=True)):
        half = half_window(width, step)
        centre = round((at - grid[0]) / step) if np.isfinite(at) else -1
        if half + 1 <= centre < grid.size - half - 1:
            weights = slope_weights(half, step)
            ahead, behind = (curve[i - half : i + half + 1] @ weights for i in (centre + 1, centre - 1))
            bend = abs(ahead - behind) / (2.0 * step)
            found[band] = noise[centre] * np.sqrt(weights @ weights) / max(bend, 1e-300)
    return found


def half_window(width: float, step: float) -> int:
    """Return how many neighbours on either side the local parabola takes."""
    return max(1, round(min(PARABOLA_SHARE * width, PARABOLA_LIMIT) / step))


def slope_weights(half: int, step: float) -> FloatArray:
    """Return the weights of 2 half + 1 neighbours whose sum is the slope of their parabola."""
    at = np.arange(-half, half + 1, dtype=np.float64)
    return np.asarray(at / (step * np.sum(at**2)))


def _follow_one(grid: FloatArray, path: FloatArray, starts: FloatArray, width: float) -> FloatArray:
    """Follow one band; shape (..., m)."""
    step = float(grid[1] - grid[0])
    half = half_window(width, step)
    known = starts[np.isfinite(starts)]
    if known.size == 0:
        return np.full(path.shape[:-1], np.nan)
    first = max(int((known.min() - ROAM - grid[0]) / step) - half, 0)
    last = min(int((known.max() + ROAM - grid[0]) / step) + half + 2, grid.size)
    if last - first < 2 * half + 2:
        return np.full(path.shape[:-1], np.nan)
    windows = np.lib.stride_tricks.sliding_window_view(path[..., first:last], 2 * half + 1, axis=-1)
    slopes = windows @ slope_weights(half, step)
    crossings = _crossings(grid[first + half : last - half], slopes)
    reach = max(REACH, REACH_SHARE * width)
    at, found = starts, []
    for curve in np.moveaxis(crossings, -2, 0):
        at = _nearest(curve, at, reach)
        found.append(at)
    return np.stack(found, axis=-1)


def _crossings(grid: FloatArray, slopes: FloatArray) -> FloatArray:
    """Where the slope passes downward through zero, else infinity; one place fewer than points."""
    before, after = slopes[..., :-1], slopes[..., 1:]
    down = (before > 0.0) & (after <= 0.0)
    share = before / np.where(down, before - after, 1.0)
    return np.asarray(np.where(down, grid[:-1] + share * (grid[1] - grid[0]), np.inf))


def _nearest(crossings: FloatArray, at: FloatArray, reach: float) -> FloatArray:
    """Crossing nearest to ``at``; NaN if none is within reach."""
    away = np.abs(crossings - at[..., None])
    away = np.where(np.isfinite(away), away, np.inf)
    best = np.argmin(away, axis=-1)[..., None]
    near = np.take_along_axis(away, best, axis=-1)[..., 0] <= reach
    return np.asarray(np.where(near, np.take_along_axis(crossings, best, axis=-1)[..., 0], np.nan))
