"""Before measuring: how many specimens and spots decide whether a coating is as even as wanted.

A design decides if the interval's upper end lies below the wanted variation with the stated power, for a
coating that varies by a stated share of it, half of its variance between specimens and half between spots.
What bare spots scatter by is added and taken off again as in the verdict itself; even draws stand for chance.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np

from spectra.comparison.components import relative_squares
from spectra.comparison.settings import ComparisonSettings
from spectra.spectrum import read_only
from spectra.statistics import even_normals
from spectra.units import FloatArray

STUDIES, POINTS = 200, 1500  # drawn studies, and points of each interval
SPOTS = (1, 2, 3, 5, 10)


@dataclass(frozen=True)
class Measuring:
    """What bare spots scatter by, over the amount that is expected.

    Attributes
    ----------
    variance : float
        Of one spot, relative to the amount squared.
    share : float
        Part of it that all spots of a specimen have in common.
    degrees : float
    """

    variance: float
    share: float
    degrees: float


@dataclass(frozen=True)
class EvennessDesign:
    """So many specimens with so many spots each; ``power`` is the chance that they decide."""

    specimens: int
    spots: int
    power: float


@dataclass(frozen=True)
class EvennessPlan:
    """Designs that decide a wanted variation.

    Attributes
    ----------
    wanted : float
        Coefficient of variation from spot to spot.
    assumed : float
        Variation that the coating is taken to have.
    at_hand : EvennessDesign
        The design asked about.
    enough : tuple of EvennessDesign
        Fewest specimens for each number of spots that reaches the power; empty if none does.
    """

    wanted: float
    assumed: float
    at_hand: EvennessDesign
    enough: tuple[EvennessDesign, ...]

    @property
    def fewest(self) -> EvennessDesign | None:
        """The design with the fewest spots in all."""
        return min(self.enough, key=lambda d: (d.specimens * d.spots, d.specimens), default=None)


def plan_evenness(
    wanted: float,
    measuring: Measuring,
    at_hand: tuple[int, int],
    settings: ComparisonSettings,
    most: int = 30,
    level: float = 0.95,
) -> EvennessPlan:
    """Find the designs that decide whether a coating varies by no more than wanted.

    Parameters
    ----------
    wanted : float
        Coefficient of variation.
    measuring : Measuring
    at_hand : (specimens, spots)
    settings : ComparisonSettings
        ``evenness_true`` and ``evenness_power``.
    most : int
        Specimens anybody would measure.
    level : float
        Of the interval.

    Returns
    -------
    EvennessPlan
    """
    true = settings.evenness_true * wanted

    def tried(specimens: int, spots: int) -> EvennessDesign:
        power = chance_of_deciding(wanted, true, measuring, (specimens, spots), level)
        return EvennessDesign(specimens, spots, power)

    found = [_fewest(tried, spots, settings.evenness_power, most) for spots in SPOTS]
    return EvennessPlan(wanted, true, tried(*at_hand), tuple(d for d in found if d is not None))


def _fewest(
    tried: Callable[[int, int], EvennessDesign], spots: int, power: float, most: int
) -> EvennessDesign | None:
    """Return the fewest specimens that reach the power, by halving: more specimens never decide less."""
    low, high = 1, most
    best = tried(most, spots)
    if best.power < power:
        return None
    while high - low > 1:
        middle = (low + high) // 2
        design = tried(middle, spots)
        if design.power >= power:
            high, best = middle, design
        else:
            low = middle
    return best


def chance_of_deciding(
    wanted: float, true: float, measuring: Measuring, design: tuple[int, int], level: float
) -> float:
    """Return the chance that the interval's upper end lies below ``wanted``.

    Parameters
    ----------
    wanted, true : float
        Coefficients of variation: the limit, and that of the coating.
    measuring : Measuring
    design : (specimens, spots)
    level : float
    """
    specimens, spots = design
    data, points = _draws()
    inside = true**2 / 2.0 + (1.0 - measuring.share) * measuring.variance
    between = true**2 / 2.0 + measuring.share * measuring.variance
    if specimens < 2:
        return 0.0
    squares = (spots * between + inside) * relative_squares(data[:, 0], specimens - 1)
    within = inside * relative_squares(data[:, 1], specimens * (spots - 1))
    square_points = squares[:, None] / relative_squares(points[:, 0], specimens - 1)
    total = square_points
    if spots > 1:
        within_points = within[:, None] / relative_squares(points[:, 1], specimens * (spots - 1))
        total = np.maximum((square_points - within_points) / spots, 0.0) + within_points
    known = measuring.variance * relative_squares(data[:, 2], measuring.degrees)[:, None]
    own = np.maximum(total - known / relative_squares(points[:, 2], measuring.degrees), 0.0)
    mean = np.maximum(1.0 + points[:, 3] * np.sqrt(square_points / (specimens * spots)), 1e-9)
    upper = np.quantile(np.sqrt(own) / mean, (1.0 + level) / 2.0, axis=1)
    return float(np.mean(upper <= wanted))


@cache
def _draws() -> tuple[FloatArray, FloatArray]:
    """Evenly spread draws of studies, shape (STUDIES, 3), and of points, shape (POINTS, 4)."""
    return read_only(even_normals(STUDIES, 3)), read_only(even_normals(POINTS, 4))
