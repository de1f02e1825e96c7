"""The index that belongs to an absorption index on any grid, by the exact integral of straight lines.

An oracle for the transform of ``spectra.optics.kramers_kronig``: on an uneven grid k is taken as piecewise
linear, for which the Kramers-Kronig integral is exact in closed form. On an even grid the transform is used.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from spectra.optics.kramers_kronig import TAPER, dispersion, is_even

FloatArray = NDArray[np.float64]


def kramers_kronig(
    wavenumbers: ArrayLike,
    absorption: ArrayLike,
    n_inf: float | None = None,
    anchor: tuple[float, float] | None = None,
    taper: float = TAPER,
) -> FloatArray:
    """Return the refractive index that belongs to an absorption index, on any grid.

    Parameters
    ----------
    wavenumbers : array_like, shape (n,), cm-1
        Increasing; need not be even.
    absorption : array_like, shape (n,)
        k.
    n_inf
        Index well above all vibrations.
    anchor
        Instead: a wavenumber inside the range (cm-1) and the known index there.

    Returns
    -------
    ndarray, shape (n,)

    Examples
    --------
    >>> grid = np.geomspace(400.0, 4000.0, 2000)
    >>> band = 0.1 / (1.0 + ((grid - 1700.0) / 10.0) ** 2)
    >>> index = kramers_kronig(grid, band, n_inf=1.5)
    >>> float(index.max().round(3)), float(index.min().round(3))
    (1.55, 1.451)
    """
    grid, k = np.asarray(wavenumbers, dtype=np.float64), np.asarray(absorption, dtype=np.float64)
    rise = dispersion(grid, taper)(k) if is_even(grid) else _rise_uneven(grid, k, taper)
    level = n_inf if anchor is None else anchor[1] - float(np.interp(anchor[0], grid, rise))
    return np.asarray(rise + float(level or 0.0))


def _rise_uneven(grid: FloatArray, k: FloatArray, taper: float) -> FloatArray:
    """Sum (1/pi) c_j [f(x_j - nu) + f(x_j + nu)] point by point, c_j the change of slope of k at x_j."""
    nodes = np.concatenate([[0.0], grid, [grid[-1] + max(taper, float(grid[-1] - grid[-2]))]])
    slopes = np.diff(np.concatenate([[0.0], k, [0.0]])) / np.diff(nodes)
    bends = np.diff(np.concatenate([[0.0], slopes, [0.0]]))
    rows = max(1, 2_000_000 // nodes.size)
    blocks = (grid[start : start + rows, None] for start in range(0, grid.size, rows))
    parts = [(_ulogu(nodes - nu) + _ulogu(nodes + nu)) @ bends for nu in blocks]
    return np.asarray(np.concatenate(parts) / np.pi)


def _ulogu(u: FloatArray) -> FloatArray:
    """f(u) = u ln|u|, zero at u = 0."""
    size = np.abs(u)
    return np.asarray(u * np.log(np.where(size > 0.0, size, 1.0)))
