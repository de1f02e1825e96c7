"""Recipes side by side: differences of their amounts with intervals that hold together.

The specimen is the unit: each recipe's mean and scatter are those of its specimens' means. The error of the
bare mean is common to all and cancels.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from spectra.comparison.amounts import Amounts
from spectra.comparison.multiplicity import many_to_one_factor, modulus_factor, range_factor
from spectra.comparison.settings import ComparisonSettings
from spectra.findings import Reason
from spectra.units import FloatArray


@dataclass(frozen=True)
class Difference:
    """Two recipes compared.

    Attributes
    ----------
    samples : tuple of two str
    difference : float
        First minus second, neat = 1.
    low, high : float or None
        Interval that holds together with those of the other pairs; None where scatter is not known.
    nm_per_amount : float or None
        Thickness of a unit of amount; None where the two have no scale in common.
    degrees : float or None
    confidence : float
        For all pairs together.
    method
        ``tukey``, ``t3``, ``dunnett``, ``dunnett_own`` or ``paired``.
    reasons : tuple of Reason
    """

    samples: tuple[str, str]
    difference: float
    low: float | None
    high: float | None
    nm_per_amount: float | None
    degrees: float | None
    confidence: float
    method: str
    reasons: tuple[Reason, ...] = ()


@dataclass(frozen=True)
class _Recipe:
    """Mean of one recipe, variance of that mean and its degrees of freedom."""

    mean: float
    variance: float
    degrees: float
    nm: float | None


def compare_recipes(
    recipes: Mapping[str, Amounts],
    settings: ComparisonSettings,
    against: str | None = None,
    level: float = 0.95,
) -> tuple[Difference, ...]:
    """Compare every pair of recipes, or every one with one of them.

    Parameters
    ----------
    recipes : mapping of str to Amounts
    settings : ComparisonSettings
    against : str, optional
        Recipe that the others are compared with; all pairs if not given.
    level : float
        Chance that all intervals hold together.

    Returns
    -------
    tuple of Difference
    """
    known = _recipes(recipes, settings)
    names = list(recipes)
    pairs = (
        [(name, against) for name in names if name != against] if against else list(combinations(names, 2))
    )
    able = [pair for pair in pairs if all(known[name].degrees > 0 for name in pair)]
    factors = dict(zip(able, _factors(able, known, settings, against, level), strict=True))
    return tuple(_difference(pair, known, factors.get(pair), settings, against, level) for pair in pairs)


def _recipes(recipes: Mapping[str, Amounts], settings: ComparisonSettings) -> dict[str, _Recipe]:
    """Mean and scatter of every recipe, by its own specimens or pooled over all."""
    means = {name: amounts.means for name, amounts in recipes.items()}
    degrees = {name: float(values.size - 1) for name, values in means.items()}
    variances = {name: _variance(values) for name, values in means.items()}
    if settings.scatter == "pooled":
        total = sum(degrees.values())
        pooled = sum(degrees[n] * variances[n] for n in means) / total if total else 0.0
        degrees, variances = dict.fromkeys(means, total), dict.fromkeys(means, pooled)
    return {
        name: _Recipe(
            float(values.mean()), variances[name] / values.size, degrees[name], recipes[name].nm_per_amount
        )
        for name, values in means.items()
    }


def _variance(values: FloatArray) -> float:
    return float(np.var(values, ddof=1)) if values.size > 1 else 0.0


def _pair_degrees(one: _Recipe, other: _Recipe, settings: ComparisonSettings) -> float:
    """Degrees of freedom of a difference (Welch, Biometrika 34, 28, 1947), or those of the pool."""
    if settings.scatter == "pooled":
        return one.degrees
    total = one.variance + other.variance
    if total == 0.0:
        return min(one.degrees, other.degrees)
    return total**2 / (one.variance**2 / one.degrees + other.variance**2 / other.degrees)


def _factors(
    pairs: list[tuple[str, str]],
    known: Mapping[str, _Recipe],
    settings: ComparisonSettings,
    against: str | None,
    level: float,
) -> Iterator[float]:
    """Yield the number of standard errors of every pair's interval."""
    recipes = len({name for pair in pairs for name in pair})
    loadings = [np.sqrt(_common_share(known[a], known[b])) for a, b in pairs] if against else []
    for one, other in pairs:
        degrees = _pair_degrees(known[one], known[other], settings)
        if against:
            yield many_to_one_factor(loadings, degrees, level)
        elif settings.scatter == "pooled":
            yield range_factor(recipes, degrees, level)
        else:
            yield modulus_factor(len(pairs), degrees, level)


def _common_share(one: _Recipe, common: _Recipe) -> float:
    """Share of a difference's variance that the common recipe brings."""
    total = one.variance + common.variance
    return common.variance / total if total else 0.5


def _difference(
    pair: tuple[str, str],
    known: Mapping[str, _Recipe],
    factor: float | None,
    settings: ComparisonSettings,
    against: str | None,
    level: float,
) -> Difference:
    """Form one comparison."""
    one, other = (known[name] for name in pair)
    value = one.mean - other.mean
    pooled = settings.scatter == "pooled"
    method = ("dunnett" if pooled else "dunnett_own") if against else ("tukey" if pooled else "t3")
    if factor is None:
        alone = [name for name in pair if known[name].degrees < 1]
        why = Reason("comparison-one-specimen", {"samples": tuple(alone)})
        return Difference(
            pair, value, None, None, _scale(one.nm, other.nm, settings), None, level, method, (why,)
        )
    half = factor * float(np.sqrt(one.variance + other.variance))
    degrees = _pair_degrees(one, other, settings)
    return Difference(
        pair, value, value - half, value + half, _scale(one.nm, other.nm, settings), degrees, level, method
    )


def _scale(one: float | None, other: float | None, settings: ComparisonSettings) -> float | None:
    """Thickness of a unit of amount: the mean of both, or none where they differ by more than a little."""
    if one is None or other is None:
        return None
    mean = (one + other) / 2.0
    return mean if abs(one - other) <= settings.same_scale * mean else None


def compare_sides(
    front: Amounts,
    back: Amounts,
    names: tuple[str, str],
    level: float = 0.95,
    settings: ComparisonSettings | None = None,
) -> Difference | None:
    """Compare two sides of the same pieces, specimen by specimen (paired Student's t).

    Parameters
    ----------
    front, back : Amounts
    names : tuple of two str
        Of the two samples.
    level : float
    settings : ComparisonSettings, optional

    Returns
    -------
    Difference or None
        None if fewer than two specimens bear the same name on both sides.
    """
    shared = [piece for piece in front.pieces if piece in back.pieces]
    if len(shared) < 2:
        return None
    gaps = front.of(shared) - back.of(shared)
    free = float(gaps.size - 1)
    half = modulus_factor(1, free, level) * float(np.std(gaps, ddof=1) / np.sqrt(gaps.size))
    value = float(gaps.mean())
    scale = _scale(front.nm_per_amount, back.nm_per_amount, settings or ComparisonSettings())
    return Difference(names, value, value - half, value + half, scale, free, level, "paired")
