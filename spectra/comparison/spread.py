"""How evenly a coating lies: its own variation, freed of what bare spots do by themselves.

The scatter of spots holds the coating's and that of substrate and measurement; the latter is known from
the bare spots and is taken off. What is left, over the mean, is the coefficient of variation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectra.comparison.amounts import Amounts
from spectra.comparison.components import Components, Pivots, ends, split_scatter, spread_pivots
from spectra.comparison.populations import Populations, count_populations
from spectra.comparison.settings import ComparisonSettings
from spectra.findings import CANNOT_TELL, NOT_SHOWN, Reason
from spectra.spectrum import Frozen
from spectra.statistics import critical_factor
from spectra.units import FloatArray

UNEVEN = "uneven"


@dataclass(frozen=True)
class Evenness:
    """How evenly the coating lies; variations are standard deviations over the mean.

    Attributes
    ----------
    verdict
        ``uneven``: the coating varies by more than bare spots do; ``not shown``: it may be even, and varies
        by ``variation_high`` at most; ``cannot tell``.
    reasons : tuple of Reason
    variation, variation_low, variation_high
        Of the coating from spot to spot, over all specimens; None where the design cannot tell.
    between_specimens, within_specimens
        As measured, substrate's and instrument's scatter included; None where the design cannot tell.
    between_low, between_high, within_low, within_high
        Their intervals.
    populations : int or None
        1, 2, or None with too few spots to tell.
    parts : Populations
        What that rests on.
    largest_to_least, largest_to_least_low, largest_to_least_high
        Amount of the richest spot over that of the poorest; None unless the poorest is above zero.
    confidence
        Level of the intervals.
    spots, specimens : int
    """

    verdict: str
    reasons: tuple[Reason, ...]
    variation: float | None
    variation_low: float | None
    variation_high: float | None
    between_specimens: float | None
    between_low: float | None
    between_high: float | None
    within_specimens: float | None
    within_low: float | None
    within_high: float | None
    populations: int | None
    parts: Populations
    largest_to_least: float | None
    largest_to_least_low: float | None
    largest_to_least_high: float | None
    confidence: float
    spots: int
    specimens: int


@dataclass(frozen=True, eq=False)
class CoatingVariation(Frozen):
    """Evenly spread values that the coating's variation could have, and its estimate."""

    value: float
    points: FloatArray


def judge_evenness(amounts: Amounts, settings: ComparisonSettings, level: float = 0.95) -> Evenness:
    """Say how evenly the coating lies.

    Parameters
    ----------
    amounts : Amounts
        Of one sample.
    settings : ComparisonSettings
    level : float
        Of every interval.

    Returns
    -------
    Evenness
        Verdict ``cannot tell`` with a reason for one spot, or where the mean is not above zero.
    """
    if len(amounts) < 2:
        return _unjudged(amounts, Reason("evenness-one-spot"), settings, level)
    found = split_scatter(amounts)
    pivots = spread_pivots(found, amounts.bare_variance, amounts.degrees)
    if np.quantile(pivots.mean, (1.0 - level) / 2.0) <= 0.0:
        why = Reason("evenness-no-mean", {"amount": found.mean})
        return _unjudged(amounts, why, settings, level)
    coating, parts = coating_variation(amounts, found, pivots), count_populations(amounts, settings)
    low, high = ends(coating.points, level)
    between, within = _relative(pivots.between, pivots, level), _relative(pivots.within, pivots, level)
    ratio = _largest_to_least(amounts, level)
    return Evenness(
        UNEVEN if low > 0.0 else NOT_SHOWN,
        _reasons(amounts, low, high),
        coating.value, low, high,
        _over_mean(found.between, found.mean), *between,
        _over_mean(found.within, found.mean), *within,
        parts.count, parts, *ratio,
        level, len(amounts), found.specimens,
    )  # fmt: skip


def coating_variation(amounts: Amounts, found: Components, pivots: Pivots) -> CoatingVariation:
    """Take substrate's and instrument's scatter off that of the spots, and put the rest over the mean."""
    own = _scatter_of_measuring(amounts, found)
    value = float(np.sqrt(max(0.0, found.total - own)) / found.mean)
    mean = np.maximum(pivots.mean, 1e-300)
    return CoatingVariation(value, np.sqrt(np.maximum(pivots.total - own * pivots.known, 0.0)) / mean)


def _scatter_of_measuring(amounts: Amounts, found: Components) -> float:
    """Return the scatter that bare spots show too; on one specimen, without what its spots have in common."""
    if found.specimens > 1 or amounts.specimen_share is None:
        return amounts.spot_variance
    return amounts.spot_variance * (1.0 - amounts.specimen_share)


def _relative(variances: FloatArray, pivots: Pivots, level: float) -> tuple[float | None, float | None]:
    """Interval of a standard deviation over the mean; None where the design cannot tell."""
    if np.isnan(variances).any():
        return None, None
    return ends(np.sqrt(np.maximum(variances, 0.0)) / np.maximum(pivots.mean, 1e-300), level)


def _over_mean(variance: float | None, mean: float) -> float | None:
    return None if variance is None else float(np.sqrt(variance) / mean)


def _largest_to_least(amounts: Amounts, level: float) -> tuple[float | None, float | None, float | None]:
    """Richest spot over poorest, with the interval of a ratio of two measured spots (Fieller).

    The interval holds the error of measuring these two spots; that they were picked is not part of it.
    """
    high, low = float(amounts.values.max()), float(amounts.values.min())
    reach = critical_factor((1.0 - level) / 2.0, amounts.degrees) ** 2 * amounts.spot_variance
    if low <= 0.0 or reach >= low**2:
        return (high / low if low > 0.0 else None), None, None
    # (high - r low)^2 = reach (1 + r^2)
    a, b, c = low**2 - reach, high * low, high**2 - reach
    root = float(np.sqrt(max(0.0, b**2 - a * c)))
    return high / low, max(1.0, (b - root) / a), (b + root) / a


def _reasons(amounts: Amounts, low: float, high: float) -> tuple[Reason, ...]:
    """Say what the verdict rests on, and what the design leaves open."""
    size = {"low": low, "high": high}
    reasons = [Reason("evenness-varies" if low > 0.0 else "evenness-not-shown", size)]
    if len(amounts.pieces) == 1:
        reasons.append(Reason("evenness-one-specimen"))
    elif amounts.spots.max() == 1:
        reasons.append(Reason("evenness-one-spot-each"))
    return tuple(reasons)


def _unjudged(amounts: Amounts, why: Reason, settings: ComparisonSettings, level: float) -> Evenness:
    """Evenness that these data cannot tell."""
    nothing, parts = (None,) * 9, count_populations(amounts, settings)
    counts = len(amounts), len(amounts.pieces)
    return Evenness(CANNOT_TELL, (why,), *nothing, parts.count, parts, None, None, None, level, *counts)
