"""The classical verdict on presence: at least two bands, each above what bare spots show.

The rule, fixed beforehand: *present* needs two unmasked bands detected on their own after Holm's
adjustment, and no more bands missing than found among those that the estimated amount should have shown.
One band alone, a pattern that disagrees, too few bare spectra or masked bands end in *cannot tell*.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from spectra.chemistry.band_tests import BandEvidence
from spectra.decision import DecisionSettings
from spectra.findings import CANNOT_TELL, NOT_SHOWN, PRESENT, Presence, Reason
from spectra.replicates import Units, unit_scatter
from spectra.statistics import critical_factor, detectable_factor, exceedance
from spectra.units import FloatArray

BANDS_NEEDED = 2

BARE_NEEDED = 2


def joint_amount(
    evidence: Sequence[BandEvidence],
) -> tuple[FloatArray, FloatArray] | None:
    """Combine the unmasked bands into one amount a unit.

    Bands are weighted with the inverse variance of their bare scatter.

    Returns
    -------
    tuple of ndarray, or None
        Amounts of the bare units (leave one out, shape (k,)) and of the sample units (shape (m,)); None
        where every band is masked.
    """
    bands = [item for item in evidence if not item.masked]
    if not bands:
        return None
    weights = np.array([1 / item.error**2 for item in bands])
    weights /= weights.sum()
    bare = np.array([item.bare[:, 0] for item in bands])
    sample = np.array([item.sample[:, 0] for item in bands])
    return np.asarray(weights @ bare), np.asarray(weights @ sample)


def presence_unknown(reason: Reason, sample: Units, spots: int) -> Presence:
    """Return the verdict for data that allow none."""
    return Presence(CANNOT_TELL, (reason,), None, None, None, None, None, None, spots, len(sample))


def presence_by_bands(
    evidence: Sequence[BandEvidence], sample: Units, bare: Units, spots: int, settings: DecisionSettings
) -> Presence:
    """Decide on presence from the evidence of single bands.

    Parameters
    ----------
    evidence : sequence of BandEvidence
    sample, bare : Units
        At least two bare units.
    spots : int
        Number of coated spots behind ``sample``.
    settings : DecisionSettings

    Returns
    -------
    Presence
        Amounts in units of the neat spectrum.
    """
    amounts = joint_amount(evidence)
    if amounts is None:
        positions = tuple(item.expected for item in evidence)
        return presence_unknown(Reason("all-masked", {"bands": positions}), sample, spots)
    nothing, found = amounts
    amount, freedom = float(found.mean()), len(bare) - 1
    floor = 1.0 / np.sqrt(sum(1 / item.error**2 for item in evidence if not item.masked))
    error = max(float(unit_scatter(nothing)) * np.sqrt(1 / len(sample) + 1 / len(bare)), 0.3 * float(floor))
    critical = critical_factor(settings.alpha, freedom) * error
    half = _half_interval(found, error, freedom, settings)
    verdict, reasons = _judge(evidence, amount, critical)
    if not (sample.are_specimens and bare.are_specimens):
        reasons = (*reasons, Reason("few-specimens", {"found": 1}))
    return Presence(
        verdict,
        reasons,
        amount,
        amount - half,
        amount + half,
        critical,
        detectable_factor(settings.alpha, settings.power, freedom) * error,
        float(exceedance(np.array([amount / error]), freedom)[0]),
        spots,
        len(sample),
        confidence=settings.confidence,
    )


def _half_interval(found: FloatArray, error: float, freedom: int, settings: DecisionSettings) -> float:
    """Return the half-width of the amount's interval: bare scatter or the sample's own, the wider."""
    tail = (1 - settings.confidence) / 2
    half = critical_factor(tail, freedom) * error
    if found.size > 1:
        own = float(np.std(found, ddof=1)) / np.sqrt(found.size)
        half = max(half, critical_factor(tail, found.size - 1) * own)
    return half


def _judge(
    evidence: Sequence[BandEvidence], amount: float, critical: float
) -> tuple[str, tuple[Reason, ...]]:
    """Apply the rule of the module's head."""
    unmasked = [item for item in evidence if not item.masked]
    detected = [item for item in unmasked if item.detected]
    missing = [item for item in unmasked if not item.detected and amount > 1.5 * item.detectable]
    positions = tuple(item.expected for item in detected)
    if len(detected) >= BANDS_NEEDED and len(missing) <= len(detected):
        return PRESENT, (
            Reason(
                "bands-detected",
                {"detected": len(detected), "unmasked": len(unmasked), "positions": positions},
            ),
        )
    if len(detected) >= BANDS_NEEDED:
        lost = tuple(item.expected for item in missing)
        return CANNOT_TELL, (Reason("pattern-disagrees", {"positions": positions, "missing": lost}),)
    if len(detected) == 1:
        return CANNOT_TELL, (Reason("one-band", {"position": positions[0]}),)
    if amount < -critical:
        return CANNOT_TELL, (Reason("negative-amount", {"amount": amount, "critical": critical}),)
    best = min(item.detectable for item in unmasked)
    return NOT_SHOWN, (Reason("no-band-detected", {"unmasked": len(unmasked), "detectable": best}),)
