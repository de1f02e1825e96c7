"""How many standard errors an interval needs so that several hold at once.

All pairs with one scatter: the studentised range (Tukey; Kramer, Biometrics 12, 307, 1956). All pairs, each
with its own scatter: the studentised maximum modulus at the degrees of freedom of the pair (procedure T3:
Dunnett, J. Am. Stat. Assoc. 75, 796, 1980). Against one: the multivariate t of many-to-one comparisons
(Dunnett, J. Am. Stat. Assoc. 50, 1096, 1955, doi:10.1080/01621459.1955.10501294), with the estimated
correlations and the pair's degrees of freedom where scatters differ (Hasler & Hothorn, Int. J. Biostat. 4(1),
2008).
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq
from scipy.special import chdtri, ndtr

from spectra.units import FloatArray

NODES = 96


@cache
def range_factor(groups: int, degrees: float, level: float) -> float:
    """Return the factor for all pairs of ``groups`` with one scatter.

    Examples
    --------
    >>> round(range_factor(3, 10, 0.95) * 2**0.5, 2)
    3.88
    """
    from scipy.stats import studentized_range  # a second of import time, and only here

    return float(studentized_range.ppf(level, groups, degrees)) / float(np.sqrt(2.0))


def modulus_factor(comparisons: int, degrees: float, level: float) -> float:
    """Return the factor for so many comparisons taken as independent.

    Examples
    --------
    >>> round(modulus_factor(1, 10, 0.95), 3)
    2.228
    """
    return many_to_one_factor(np.zeros(comparisons), degrees, level)


def many_to_one_factor(loadings: ArrayLike, degrees: float, level: float) -> float:
    """Return the factor for comparisons with one common group.

    Parameters
    ----------
    loadings : array_like, shape (c,)
        The correlation of two comparisons is the product of theirs: the square root of the common group's
        share of the comparison's variance.
    degrees, level : float

    Examples
    --------
    >>> round(many_to_one_factor([0.5**0.5] * 2, 10, 0.95), 2)
    2.57
    """
    load = np.asarray(loadings, dtype=np.float64)[:, None, None]
    shared, rest = _normal_nodes(bool(np.any(load))), _scale_nodes(degrees)
    spread = np.sqrt(1.0 - load**2)

    def miss(factor: float) -> float:
        reach = factor * rest[0][None, :, None]
        centre = load * shared[0][None, None, :]
        inside = ndtr((reach - centre) / spread) - ndtr((-reach - centre) / spread)
        return float(rest[1] @ np.prod(inside, axis=0) @ shared[1]) - level

    return float(brentq(miss, 1e-3, 1e4, xtol=1e-9))


def _normal_nodes(needed: bool) -> tuple[FloatArray, FloatArray]:
    """Nodes and weights of an average over a standard normal; one node where nothing depends on it."""
    if not needed:
        return np.zeros(1), np.ones(1)
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    density = np.exp(-0.5 * (8.0 * nodes) ** 2)
    return 8.0 * nodes, weights * density / float(weights @ density)


def _scale_nodes(degrees: float) -> tuple[FloatArray, FloatArray]:
    """Nodes and weights of an average over estimated / true standard deviation.

    The fourth power gathers the nodes at small scales, where large factors are decided.
    """
    if not np.isfinite(degrees):
        return np.ones(1), np.ones(1)
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    u = (nodes + 1.0) / 2.0
    return np.sqrt(chdtri(degrees, 1.0 - u**4) / degrees), weights * 2.0 * u**3
