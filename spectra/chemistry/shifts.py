"""Shifts: how far a band of the sample lies from where it is expected, with an interval.

The expected shape is moved along the axis until it fits the sample's window. The interval is the wider of
two: from how far the same estimate strays on bare units, and from the scatter between the sample's own
units. The reference's own position and what optics leave open are added in quadrature, in full.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectra.chemistry.band_tests import BandEvidence
from spectra.decision import DecisionSettings
from spectra.peaks.reference import Reference
from spectra.peaks.window_fit import Others, fit_rows
from spectra.replicates import unit_scatter
from spectra.statistics import critical_factor
from spectra.units import FloatArray


@dataclass(frozen=True)
class Shift:
    """How far a band of the sample lies from its expected position, cm-1."""

    value: float
    low: float
    high: float
    error: float


def measure_shift(
    evidence: BandEvidence,
    differences: FloatArray,
    reference: Reference,
    others: Others,
    grid: FloatArray,
    settings: DecisionSettings,
    resting: float = 0.0,
) -> Shift | None:
    """Measure the shift of one band by moving the expected shape until it fits.

    Parameters
    ----------
    evidence : BandEvidence
        Of a band with a window.
    differences : ndarray, shape (m, n)
        Sample units minus the mean bare spectrum.
    reference, others, grid, settings
        As in :func:`look_for_bands`.
    resting : float
        What the reference itself contributes to ``differences``: 0 for a coating, 1 for the substrate,
        whose mean has been subtracted.

    Returns
    -------
    Shift or None
        None where the steps do not settle within half a width of the band: no shift is defined.
    """
    window = evidence.window
    if window is None:
        return None
    shift = 0.0
    rows = differences + resting * reference.shape
    for _ in range(12):
        moved = np.interp(grid - shift, grid, reference.shape)
        found = fit_rows(rows, grid, moved, others, window).mean(axis=0)
        if not found[1] > 0:
            return None
        step = float(np.clip(found[2] / found[1], -0.15 * evidence.peak.width, 0.15 * evidence.peak.width))
        shift += step
        if abs(shift) > 0.6 * evidence.peak.width:
            return None
        if abs(step) < 1e-3:
            break
    else:
        return None
    units = fit_rows(rows, grid, np.interp(grid - shift, grid, reference.shape), others, window)
    return _interval(shift, units, evidence, resting, settings)


def _interval(
    shift: float, units: FloatArray, evidence: BandEvidence, resting: float, settings: DecisionSettings
) -> Shift:
    """Put the larger of the bare units' and the sample's own scatter around a shift."""
    k, m = evidence.bare.shape[0], units.shape[0]
    height = float(units[:, 1].mean())
    error = float(unit_scatter(evidence.bare)[2] * np.sqrt(1 / m + 1 / k)) / height
    freedom = k - 1
    own = shift + (units[:, 2] / units[:, 1]) * (units[:, 1] > 0)
    if m > 1:
        from_sample = float(np.std(own, ddof=1)) / np.sqrt(m)
        if _reach(settings, m - 1) * from_sample > _reach(settings, freedom) * error:
            error, freedom = from_sample, m - 1
    half = _reach(settings, freedom) * error
    # The reference's own position and what optics leave open are no sampling errors: added in full.
    rest = float(np.hypot(evidence.peak.position_error if not resting else 0.0, evidence.expected_error))
    half = float(np.hypot(half, 2.0 * rest))
    return Shift(shift, shift - half, shift + half, error)


def _reach(settings: DecisionSettings, freedom: int) -> float:
    """Return the two-sided factor of the interval."""
    return critical_factor((1 - settings.confidence) / 2, freedom)
