"""Scatter between specimens and between the spots on them, taken apart, with intervals.

One-way random effects: a spot is mean + specimen + spot. The estimates are by restricted maximum likelihood
(Patterson & Thompson, Biometrika 58, 545, 1971). Intervals are generalised ones (Weerahandi, J. Am. Stat.
Assoc. 88, 899, 1993, doi:10.1080/01621459.1993.10476355): each mean square over a chi-square variate of its
degrees of freedom is a pivot, and any function of the variances inherits its interval from them. With
different numbers of spots the mean square between specimens is that of the unweighted means (Thomas &
Hultquist, Ann. Stat. 6, 582, 1978).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.optimize import minimize_scalar
from scipy.special import chdtri, ndtr

from spectra.comparison.amounts import Amounts
from spectra.replicates import group_rows
from spectra.spectrum import Frozen, read_only
from spectra.statistics import even_normals
from spectra.units import FloatArray

POINTS = 8192  # evenly spread points behind every interval; ends are stable to about half a per cent


@dataclass(frozen=True)
class Components:
    """Mean squares of a nested design and the variances behind them.

    Attributes
    ----------
    mean : float
        Of the specimens' means.
    between, within : float or None
        Variance between specimens and between spots of one, by restricted maximum likelihood; None where the
        design cannot tell: one spot on each specimen, or one specimen.
    between_square, within_square : float
        Mean squares: of the unweighted means times ``spots``; of the spots about their specimen. NaN
        without degrees of freedom.
    specimens : int
    spots : float
        On a specimen: the harmonic mean.
    degrees_within : int
        Spots less specimens.
    """

    mean: float
    between: float | None
    within: float | None
    between_square: float
    within_square: float
    specimens: int
    spots: float
    degrees_within: int

    @property
    def total(self) -> float:
        """Variance of one spot of the sample as it was measured; NaN for one spot."""
        if self.specimens == 1:
            return self.within_square
        if self.degrees_within == 0:
            return self.between_square
        return (self.between or 0.0) + (self.within or 0.0)


@dataclass(frozen=True, eq=False)
class Pivots(Frozen):
    """Evenly spread values that the true mean and variances could have, given the data.

    Attributes
    ----------
    mean, between, within, total : ndarray, shape (POINTS,)
        ``between`` and ``within`` are NaN where the design cannot tell; ``between`` may be negative, and is
        cut at zero only where an interval is formed. ``total`` is the variance of one spot.
    known : ndarray, shape (POINTS,)
        True over estimated variance of the bare spots, on which measuring errors rest.
    scale : ndarray, shape (POINTS,)
        Standard normal: for an error common to all amounts, as that of the optics.
    """

    mean: FloatArray
    between: FloatArray
    within: FloatArray
    total: FloatArray
    known: FloatArray
    scale: FloatArray


def split_scatter(amounts: Amounts) -> Components:
    """Take the scatter of spots apart into that between specimens and that between spots on them.

    Parameters
    ----------
    amounts : Amounts

    Returns
    -------
    Components

    Examples
    --------
    >>> found = split_scatter(Amounts(np.array([1.0, 3.0, 5.0, 7.0]), ("a", "a", "b", "b")))
    >>> round(found.between, 6), round(found.within, 6)
    (7.0, 2.0)
    """
    counts, means = amounts.spots, amounts.means
    pieces, spots = counts.size, float(1.0 / np.mean(1.0 / counts))
    free = len(amounts) - pieces
    rest = _about_means(amounts)
    between_square = spots * float(np.var(means, ddof=1)) if pieces > 1 else float("nan")
    within_square = float(rest @ rest) / free if free else float("nan")
    between, within = _restricted(counts, means, float(rest @ rest)) if free and pieces > 1 else (None, None)
    if pieces == 1 and free:
        within = within_square
    return Components(
        amounts.mean, between, within, between_square, within_square, pieces, spots, free
    )  # fmt: skip


def _about_means(amounts: Amounts) -> FloatArray:
    """Return spots minus the mean of their specimen."""
    rest = np.array(amounts.values)
    for rows in group_rows(amounts.specimens):
        rest[list(rows)] -= rest[list(rows)].mean()
    return rest


def _restricted(counts: FloatArray, means: FloatArray, squares: float) -> tuple[float, float]:
    """Return the variances between and within that maximise the restricted likelihood.

    The variance within is profiled out; what is searched is the ratio of the two, on a bounded scale.
    """
    total = float(counts.sum())
    if squares == 0.0:
        return float(np.var(means, ddof=1)), 0.0

    def solve(share: float) -> tuple[float, float]:
        """Twice the negative log likelihood and the variance within, at ratio = share / (1 - share)."""
        scale = 1.0 / counts + share / (1.0 - share)
        weights = 1.0 / scale
        centre = float(weights @ means / weights.sum())
        within = (squares + float(weights @ (means - centre) ** 2)) / (total - 1.0)
        size = (total - 1.0) * np.log(within) + float(np.log(scale).sum()) + float(np.log(weights.sum()))
        return size, within

    # Two starts: the likelihood may fall from zero and rise again.
    best = minimize_scalar(
        lambda share: solve(share)[0], bounds=(0.0, 1.0 - 1e-12), method="bounded", options={"xatol": 1e-12}
    )
    share = float(best.x) if float(best.fun) < solve(0.0)[0] else 0.0
    within = solve(share)[1]
    return within * share / (1.0 - share), within


def spread_pivots(found: Components, bare_variance: float = 0.0, bare_degrees: float = np.inf) -> Pivots:
    """Spread out what mean and variances could be, given the data.

    Parameters
    ----------
    found : Components
        With two spots at least.
    bare_variance : float
        Variance of what is common to all spots: the bare mean.
    bare_degrees : float

    Returns
    -------
    Pivots
    """
    normals = _normals()
    within = found.within_square / relative_squares(normals[:, 0], found.degrees_within)
    squares = found.between_square / relative_squares(normals[:, 1], found.specimens - 1)
    between = (squares - within) / found.spots
    if found.specimens == 1:
        # One piece: its own mean, about which the spots scatter.
        total, variance = within, within / (found.degrees_within + 1)
    elif found.degrees_within == 0:
        total, variance = squares, squares / found.specimens
    else:
        total, variance = np.maximum(between, 0.0) + within, squares / (found.specimens * found.spots)
    known = 1.0 / relative_squares(normals[:, 3], bare_degrees)
    mean = found.mean + normals[:, 2] * np.sqrt(variance) + normals[:, 4] * np.sqrt(known * bare_variance)
    return Pivots(mean, between, within, total, known, normals[:, 5])


@cache
def _normals() -> FloatArray:
    """Evenly spread standard normal points, shape (POINTS, 6): one column a pivot."""
    return read_only(even_normals(POINTS, 6))


def relative_squares(normals: FloatArray, degrees: float) -> FloatArray:
    """Turn even normals into chi-square over its degrees of freedom; NaN without any, one if known.

    Parameters
    ----------
    normals : ndarray, shape (p,)
    degrees : float
    """
    if not np.isfinite(degrees):
        return np.ones_like(normals)
    if degrees < 1:
        return np.full_like(normals, np.nan)
    return np.asarray(chdtri(degrees, np.clip(ndtr(-normals), 1e-12, 1.0 - 1e-12)) / degrees)


def ends(values: FloatArray, level: float) -> tuple[float, float]:
    """Return the interval at ``level`` of evenly spread values; ends below zero are zero.

    Examples
    --------
    >>> ends(np.linspace(-1.0, 3.0, 401), 0.5)
    (0.0, 2.0)
    """
    low, high = np.quantile(values, [(1.0 - level) / 2.0, (1.0 + level) / 2.0])
    return max(0.0, float(low)), max(0.0, float(high))
