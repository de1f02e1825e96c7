"""Does the bare set represent the sample's substrate? Residuals against those of left-out bare spots."""

from __future__ import annotations

import numpy as np

from spectra.detection.least_squares import LeftOut
from spectra.detection.settings import MisfitSettings
from spectra.findings import Misfit
from spectra.statistics import variance_ratio_exceedance
from spectra.stretches import number_stretches
from spectra.units import FloatArray
from spectra.variation.model import Variation


def find_misfits(
    variation: Variation,
    residual: FloatArray,
    variance: float,
    left_out: LeftOut,
    prior_degrees: float,
    settings: MisfitSettings,
) -> tuple[Misfit, ...]:
    """Stretches where the sample's residual is larger than the bare spots' own, worst first.

    Parameters
    ----------
    variation : Variation
    residual : ndarray, shape (r,)
        Whitened residual of the sample's mean.
    variance : float
        Its modelled variance per point.
    left_out : LeftOut
        The same residuals for left-out bare specimens.
    prior_degrees : float
        Weight of the model's own variance, see ``least_squares.widen``.
    settings : MisfitSettings

    Returns
    -------
    tuple of Misfit
        Empty when the sample is like bare substrate plus coatings.
    """
    points = variation.reduction.points
    labels = number_stretches(points, settings.stretch)
    count = int(labels.max()) + 1
    number = np.bincount(labels)
    sample = np.bincount(labels, residual**2 / variance) / number
    bare = np.array([np.bincount(labels, row) / number for row in left_out.squares])
    degrees = prior_degrees + len(bare)
    ratio = sample / ((prior_degrees + bare.sum(axis=0)) / degrees)
    upper = np.maximum(2.0, number / settings.dilution)
    p_values = np.array([float(variance_ratio_exceedance(ratio[i], upper[i], degrees)) for i in range(count)])
    found = [i for i in np.argsort(p_values, kind="stable") if p_values[i] * count < settings.alpha]
    back = variation.factor @ residual
    return tuple(_misfit(points, labels == i, ratio[i], p_values[i], back) for i in found)


def _misfit(points: FloatArray, inside: np.ndarray, ratio: float, p_value: float, back: FloatArray) -> Misfit:
    """Describe one stretch."""
    stretch = np.flatnonzero(inside)
    worst = stretch[int(np.argmax(np.abs(back[stretch])))]
    return Misfit(
        float(points[stretch[0]]),
        float(points[stretch[-1]]),
        float(ratio),
        float(p_value),
        float(back[worst]),
    )
