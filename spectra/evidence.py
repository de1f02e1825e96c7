"""Chances of the tests that ``replicates`` does not hold, and averages that need no random numbers."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from spectra.units import FloatArray


def chi_square_exceedance(value: float, degrees: float) -> float:
    """Chance that chi-square exceeds ``value``."""
    return float(special.chdtrc(degrees, value))


def variance_ratio_exceedance(ratio: ArrayLike, upper: float, lower: float) -> FloatArray:
    """Chance that an F ratio with ``upper`` and ``lower`` degrees of freedom exceeds ``ratio``."""
    return np.asarray(special.fdtrc(upper, lower, np.asarray(ratio, dtype=np.float64)))


def even_normals(count: int, dimensions: int) -> FloatArray:
    """Evenly spread standard normal points: a fixed set for averages that must not depend on a seed.

    The additive recurrence of the generalised golden ratio (Kronecker sequence) through the normal
    quantile function.

    Parameters
    ----------
    count, dimensions : int

    Returns
    -------
    ndarray, shape (count, dimensions)
    """
    ratio = 1.5
    for _ in range(50):
        ratio = (1.0 + ratio) ** (1.0 / (dimensions + 1))
    steps = ratio ** -np.arange(1.0, dimensions + 1.0)
    uniform = (0.5 + np.outer(np.arange(1, count + 1), steps)) % 1.0
    return np.asarray(special.ndtri(np.clip(uniform, 1e-9, 1 - 1e-9)))


def even_scales(normals: ArrayLike, degrees: float) -> FloatArray:
    """Turn standard normal points into estimated over true standard deviation at so many degrees."""
    upper = special.ndtr(-np.asarray(normals, dtype=np.float64))
    return np.asarray(np.sqrt(special.chdtri(degrees, np.clip(upper, 1e-12, 1.0 - 1e-12)) / degrees))
