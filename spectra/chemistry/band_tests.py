"""Band by band: the classical evidence that a coating is there.

Every band of the coating is looked for in its own window of the sample (see ``window_fit``), and compared
with what the same estimate gives on bare units, each against the mean of the others. Student's t with the
bare units' degrees of freedom says how sure a band is; Holm's rule pays for looking at several. A band is
*masked* where the substrate's own scatter makes its detectable amount useless; which bands are masked is
decided from bare and neat spectra alone. A band counts as detected only if the shape found in the window
agrees with the expected one, so that a foreign band nearby is not taken for it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from spectra.decision import DecisionSettings
from spectra.noise import estimate_noise
from spectra.peaks.finding import Peak
from spectra.peaks.reference import Reference
from spectra.peaks.window_fit import Others, Window, agreement, fit_rows, solver_noise, window_around
from spectra.replicates import Units, leave_one_out, unit_scatter
from spectra.spectrum import Stack
from spectra.statistics import detectable_factor, exceedance, holm
from spectra.units import FloatArray, Mask


@dataclass(frozen=True, eq=False)
class BandEvidence:
    """What one window says, in units of the reference band (1: as strong as in the reference).

    Attributes
    ----------
    peak, expected, expected_error
        The band looked for.
    height : float
        Of the expected band per unit amount, above the line between the ends of its window.
    window
        None where too little of it is usable; every number is then NaN and the band masked.
    bare, sample : ndarray, shape (k, 3) and (m, 3)
        Coefficients of ``window_fit.fit_rows`` for bare (leave one out) and sample units.
    amount, error : float
        Mean height over the sample's units and its standard error under the bare scatter.
    detectable : float
        Smallest height found with the stated power.
    statistic, p_value, p_adjusted : float
        Student's t, one-sided p and its value after Holm over unmasked bands.
    correlation : float
        Agreement of shapes in the window.
    masked, detected : bool
    """

    peak: Peak
    expected: float
    expected_error: float
    height: float
    window: Window | None
    bare: FloatArray
    sample: FloatArray
    amount: float
    error: float
    detectable: float
    statistic: float
    p_value: float
    p_adjusted: float
    correlation: float
    masked: bool
    detected: bool


def look_for_bands(
    sample: Units,
    bare: Units,
    reference: Reference,
    others: Others,
    stack: Stack,
    settings: DecisionSettings,
) -> tuple[BandEvidence, ...]:
    """Look for every band of a reference in a sample.

    Parameters
    ----------
    sample, bare : Units
        Levelled spectra; at least two bare units.
    reference : Reference
        Coating, or substrate when its own bands are followed.
    others : Others
        The other components: the substrate for a coating, the coatings for the substrate.
    stack : Stack
        Any stack of the study, for ``grid`` and ``usable``.
    settings : DecisionSettings

    Returns
    -------
    tuple of BandEvidence
        One a band, in the order of ``reference.peaks``.
    """
    differences = sample.rows - bare.rows.mean(axis=0)
    nothing = leave_one_out(bare)
    found = [
        _look_for_band(differences, nothing, reference, i, others, stack, settings)
        for i in range(len(reference.peaks))
    ]
    masked = _masked(np.array([item.detectable for item in found]), settings)
    masked |= np.array([item.window is None for item in found], dtype=bool)
    p_values = np.ones(len(found))
    p_values[~masked] = holm(np.array([item.p_value for item in found])[~masked])
    return tuple(
        replace(
            item,
            masked=bool(masked[i]),
            p_adjusted=float(p_values[i]),
            detected=bool(
                not masked[i] and p_values[i] <= settings.alpha and item.correlation >= settings.agreement
            ),
        )
        for i, item in enumerate(found)
    )


def _look_for_band(
    differences: FloatArray,
    nothing: FloatArray,
    reference: Reference,
    i: int,
    others: Others,
    stack: Stack,
    settings: DecisionSettings,
) -> BandEvidence:
    """Estimate one band on sample and bare units."""
    peak, expected = reference.peaks[i], reference.expected[i]
    window = window_around(stack.grid, stack.usable, expected, peak.width)
    if window is None:
        nan, none = float("nan"), np.full((0, 3), np.nan)
        return BandEvidence(
            peak, expected, reference.expected_errors[i], 0.0, None, none, none,
            nan, nan, np.inf, 0.0, 1.0, 1.0, 0.0, True, False,
        )  # fmt: skip
    grid, shape = stack.grid, reference.shape
    bare = fit_rows(nothing, grid, shape, others, window)
    sample = fit_rows(differences, grid, shape, others, window)
    freedom = bare.shape[0] - 1
    share = np.sqrt(1 / sample.shape[0] + 1 / bare.shape[0])
    # Two or three bare units may agree by chance; they cannot agree better than the noise lets them.
    floor = solver_noise(grid, shape, others, window) * _noise(nothing)
    error = float(max(unit_scatter(bare)[0], floor) * share)
    amount = float(sample[:, 0].mean())
    detectable = detectable_factor(settings.alpha, settings.power, freedom) * error
    statistic = amount / error
    p_value = float(exceedance(np.array([statistic]), freedom)[0])
    correlation = agreement(differences.mean(axis=0), shape, others, grid, window)
    return BandEvidence(
        peak, expected, reference.expected_errors[i], _height(grid, shape, window), window, bare, sample,
        amount, error, detectable, statistic, p_value, 1.0, correlation, False, False,
    )  # fmt: skip


def _height(grid: FloatArray, shape: FloatArray, window: Window) -> float:
    """Return the height of the expected band over the line between the ends of its window."""
    x, y = grid[window.points], shape[window.points]
    return float((y - np.interp(x, x[[0, -1]], y[[0, -1]])).max())


def _noise(nothing: FloatArray) -> float:
    """Return the noise of one unit from leave-one-out differences."""
    k = nothing.shape[0]
    return float(np.median([estimate_noise(row) for row in nothing]) * np.sqrt((k - 1) / k))


def _masked(detectable: FloatArray, settings: DecisionSettings) -> Mask:
    """Mark the bands whose detectable amount is useless."""
    if detectable.size == 0:
        return np.zeros(0, dtype=bool)
    useful = max(settings.mask_never, settings.mask_factor * float(detectable.min()))
    limit = min(settings.mask_amount, useful)
    return np.asarray(detectable > limit)
