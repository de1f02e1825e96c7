"""Does a coating lie on the material as an even film, or is it mixed in: which of the two fits the spectrum.

A film's bands stand elsewhere than those of a blend, and its heights do not fall with the light's depth: over
a wide range the two differ by more than anything else that is free. Each is fitted with its one amount, bare
scatter, contact and the substrate's tolerances taken off, and what they leave is compared. Mixed stands for
anything that is not an even film: dissolved in the material, or islands thicker than the light's depth beside
bare material, whose spectrum is the neat one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize_scalar

from spectra.filmfit.account import INDEPENDENT, measure_excess
from spectra.filmfit.model import Ground
from spectra.findings import CANNOT_TELL
from spectra.units import FloatArray

FILM, MIXED = "film", "mixed"

LEAST_NM, MOST_NM = 0.3, 3000.0
LEAST_SHARE, MOST_SHARE = 1e-4, 1.0
TRIED = 25
# Squared residual a degree of freedom: beyond noise; and how much less it must then be. Of films whose bands
# moved, a blend left between 0.4 and 0.7 of what the unmoved film left.
POOR, CLEARLY = 2.0, 4.0

Change = Callable[[float], FloatArray]


@dataclass(frozen=True)
class LayoutFit:
    """Which of film and blend fits a coated sample.

    Attributes
    ----------
    stated
        ``film`` or ``mixed``, as the study says.
    fits
        ``film``, ``mixed`` or ``cannot tell``.
    film_misfit, mixed_misfit : float
        Squared residual a degree of freedom.
    evidence : float
        How much more the worse one leaves, in independent points' scatter: twice a log likelihood ratio.
    film_nm, share : float
        Thickness and share of the volume at the best fit of each.
    """

    stated: str
    fits: str
    film_misfit: float
    mixed_misfit: float
    evidence: float
    film_nm: float
    share: float

    @property
    def otherwise(self) -> bool:
        """Whether what the study does not say fits better."""
        return self.fits not in (self.stated, CANNOT_TELL)


def judge_layout(
    ground: Ground,
    sample: tuple[FloatArray, float],
    film: Change,
    mixed: Sequence[Change],
    stated: str,
    least: float,
) -> LayoutFit:
    """Say whether a film or a blend fits better.

    Parameters
    ----------
    ground : Ground
        The bare set.
    sample : (ndarray of shape (r,), float)
        Mean of the sample's specimens on the model's points, other coatings taken off; and its variance
        against the bare mean, in units of one unit's.
    film : callable
        Thickness in nm to the change of absorbance, shape (r,).
    mixed : sequence of callable
        Share to the change; the best of them counts.
    stated : str
    least : float
        Evidence from which one is said to fit.

    Returns
    -------
    LayoutFit
    """
    even = _best(ground, sample, film, (LEAST_NM, MOST_NM))
    blends = [_best(ground, sample, change, (LEAST_SHARE, MOST_SHARE)) for change in mixed]
    blend = min(blends, key=lambda found: found[1])
    degrees = even[2]
    misfits = even[1] / degrees, blend[1] / degrees
    independent = degrees * min(1.0, ground.step / INDEPENDENT)
    evidence = abs(misfits[0] - misfits[1]) * independent / max(1.0, min(misfits))
    better = FILM if misfits[0] < misfits[1] else MIXED
    # Where neither fits well (a changed coating), being a little nearer says nothing.
    clearly = min(misfits) < POOR or max(misfits) > CLEARLY * min(misfits)
    fits = better if evidence > least and clearly else CANNOT_TELL
    return LayoutFit(stated, fits, *misfits, evidence, even[0], blend[0])


def _best(
    ground: Ground, sample: tuple[FloatArray, float], change: Change, ends: tuple[float, float]
) -> tuple[float, float, float]:
    """Amount at which least is left, what is left there, and its degrees of freedom."""
    mean, variance = sample

    def left(log_amount: float) -> float:
        return measure_excess(ground, mean - change(float(np.exp(log_amount))), variance).energy

    grid = np.linspace(np.log(ends[0]), np.log(ends[1]), TRIED)
    values = [left(float(at)) for at in grid]
    i = int(np.argmin(values))
    bounds = (float(grid[max(i - 1, 0)]), float(grid[min(i + 1, TRIED - 1)]))
    found = minimize_scalar(left, bounds=bounds, method="bounded", options={"xatol": 1e-3})
    at, energy = (float(found.x), float(found.fun)) if found.fun < values[i] else (float(grid[i]), values[i])
    return float(np.exp(at)), energy, measure_excess(ground, mean, variance).degrees
