"""Chances and factors of the tests, exact intervals of shares, and averages that need no random numbers."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from spectra.units import FloatArray


def critical_factor(alpha: float, freedom: float) -> float:
    """Return how many standard errors a value must exceed to be called there: Student's t, one-sided.

    Examples
    --------
    >>> round(critical_factor(0.05, 9), 3)
    1.833
    """
    from scipy.special import stdtrit  # scipy.stats has the same function at a second of import time

    return float(stdtrit(freedom, 1 - alpha))


def shared_widening(confidence: float, looks: int) -> float:
    """Return by how much an interval widens where its error is shared between so many looks (Bonferroni).

    A ratio of two critical values hardly depends on their degrees of freedom: thirty stand for any.

    Examples
    --------
    >>> shared_widening(0.95, 1), round(shared_widening(0.95, 10), 2)
    (1.0, 1.48)
    """
    single, shared = (critical_factor((1 - confidence) / 2 / count, 30.0) for count in (1, looks))
    return shared / single


def detectable_factor(alpha: float, power: float, freedom: float) -> float:
    """Return how many standard errors a true value needs to be called there with probability ``power``.

    The non-centrality at which Student's t exceeds its critical value with that probability.

    Examples
    --------
    >>> round(detectable_factor(0.05, 0.95, 9), 3)
    3.575
    """
    from scipy.special import nctdtrinc

    return float(nctdtrinc(freedom, 1 - power, critical_factor(alpha, freedom)))


def exceedance(statistic: FloatArray, freedom: float) -> FloatArray:
    """Return the one-sided p value of Student's t.

    Examples
    --------
    >>> exceedance(np.array([1.833]), 9).round(3)
    array([0.05])
    """
    from scipy.special import stdtr

    return np.asarray(stdtr(freedom, -statistic))


def holm(p_values: FloatArray) -> FloatArray:
    """Adjust p values for looking at several bands (Holm, Scand. J. Statist. 6, 65, 1979).

    Examples
    --------
    >>> holm(np.array([0.04, 0.01, 0.03]))
    array([0.06, 0.03, 0.06])
    """
    if p_values.size == 0:
        return p_values
    order = np.argsort(p_values, kind="stable")
    factors = np.arange(p_values.size, 0, -1)
    adjusted = np.empty_like(p_values)
    adjusted[order] = np.minimum(np.maximum.accumulate(factors * p_values[order]), 1.0)
    return adjusted


def binomial_interval(found: int, of: int, level: float = 0.95) -> tuple[float, float]:
    """Return the exact interval of a share (Clopper & Pearson, Biometrika 26, 404, 1934).

    Examples
    --------
    >>> [round(end, 3) for end in binomial_interval(0, 59)]
    [0.0, 0.061]
    """
    from scipy.special import betaincinv

    tail = (1 - level) / 2
    low = 0.0 if found == 0 else float(betaincinv(found, of - found + 1, tail))
    high = 1.0 if found == of else float(betaincinv(found + 1, of - found, 1 - tail))
    return low, high


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
