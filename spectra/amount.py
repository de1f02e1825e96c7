"""How much and how evenly: amounts specimen by specimen, spot by spot."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from spectra.bandfit import Others, fit_rows
from spectra.bandtest import BandEvidence, DecisionSettings
from spectra.findings import SpecimenAmount
from spectra.replicates import critical_factor
from spectra.spectrum import Stack
from spectra.units import FloatArray


def amounts_by_specimen(
    coated: Stack,
    bare_mean: FloatArray,
    evidence: Sequence[BandEvidence],
    shape: FloatArray,
    others: Others,
    settings: DecisionSettings,
) -> tuple[SpecimenAmount, ...]:
    """Return the amount on every specimen with an interval from its own spots.

    Parameters
    ----------
    coated : Stack
        Levelled.
    bare_mean, shape : ndarray, shape (n,)
    evidence : sequence of BandEvidence
    others : Others
    settings : DecisionSettings

    Returns
    -------
    tuple of SpecimenAmount
        In units of the neat spectrum; no interval where a specimen has one spot. Empty where every band is
        masked.
    """
    bands = [item for item in evidence if not item.masked and item.window is not None]
    if not bands:
        return ()
    weights = np.array([1 / item.error**2 for item in bands])
    rows = coated.absorbance - bare_mean
    heights = [fit_rows(rows, coated.grid, shape, others, item.window)[:, 0] for item in bands if item.window]
    spots = (weights / weights.sum()) @ np.array(heights)
    names = np.array(coated.specimens)
    return tuple(_specimen(name, spots[names == name], settings) for name in dict.fromkeys(coated.specimens))


def _specimen(name: str, spots: FloatArray, settings: DecisionSettings) -> SpecimenAmount:
    """Average the spots of one specimen."""
    amount, low, high = float(spots.mean()), None, None
    if spots.size > 1:
        reach = critical_factor((1 - settings.confidence) / 2, spots.size - 1)
        half = reach * float(np.std(spots, ddof=1)) / np.sqrt(spots.size)
        low, high = amount - half, amount + half
    return SpecimenAmount(name, amount, low, high, tuple(float(s) for s in spots))
