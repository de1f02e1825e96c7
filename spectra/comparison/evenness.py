"""How much and how evenly: amounts specimen by specimen, spot by spot."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from spectra.chemistry.band_tests import BandEvidence
from spectra.decision import DecisionSettings
from spectra.findings import SpecimenAmount
from spectra.peaks.window_fit import Others, fit_rows
from spectra.spectrum import Stack
from spectra.statistics import critical_factor
from spectra.units import FloatArray


def amounts_by_specimen(
    coated: Stack,
    bare_mean: FloatArray,
    evidence: Sequence[BandEvidence],
    shape: FloatArray,
    others: Others,
    settings: DecisionSettings,
) -> tuple[SpecimenAmount, ...]:
    """Return the amount on every specimen with its interval.

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
        In units of the neat spectrum, with an interval from the scatter between spots, pooled over the
        specimens; no interval where every specimen has one spot. Empty where every band is masked.
    """
    bands = [item for item in evidence if not item.masked and item.window is not None]
    if not bands:
        return ()
    weights = np.array([1 / item.error**2 for item in bands])
    rows = coated.absorbance - bare_mean
    heights = [fit_rows(rows, coated.grid, shape, others, item.window)[:, 0] for item in bands if item.window]
    spots = (weights / weights.sum()) @ np.array(heights)
    return _by_specimen(spots, coated.specimens, settings)


def _by_specimen(
    spots: FloatArray, specimens: Sequence[str], settings: DecisionSettings
) -> tuple[SpecimenAmount, ...]:
    """Average the spots of each specimen; the scatter between spots is pooled over all specimens."""
    names = np.array(specimens)
    groups = {name: spots[names == name] for name in dict.fromkeys(specimens)}
    freedom = sum(group.size - 1 for group in groups.values())
    if freedom == 0:
        return tuple(_specimen(name, group, None) for name, group in groups.items())
    squares = sum(float(((group - group.mean()) ** 2).sum()) for group in groups.values())
    half = critical_factor((1 - settings.confidence) / 2, freedom) * np.sqrt(squares / freedom)
    return tuple(_specimen(name, group, float(half / np.sqrt(group.size))) for name, group in groups.items())


def _specimen(name: str, spots: FloatArray, half: float | None) -> SpecimenAmount:
    """Describe one specimen."""
    amount = float(spots.mean())
    low, high = (None, None) if half is None else (amount - half, amount + half)
    return SpecimenAmount(name, amount, low, high, tuple(float(s) for s in spots))
