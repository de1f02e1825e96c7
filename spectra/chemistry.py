"""Did the chemistry survive? Positions and relative heights of the bands that are there.

*Unchanged* is an equivalence: the whole interval of every judged shift must lie inside the margin (two
one-sided tests; Schuirmann, J. Pharmacokinet. Biopharm. 15, 657, 1987, doi:10.1007/BF01068419; over several
bands the intersection-union principle needs no adjustment). *Changed* needs one interval wholly outside,
at the level that Holm's first step leaves a single band. Anything between is *cannot tell*. A
band is judged only where the data can decide: its interval must be able to fit into the margin at all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from spectra.bandtest import BandEvidence, DecisionSettings, Shift
from spectra.findings import CANNOT_TELL, CHANGED, UNCHANGED, BandFinding, Chemistry, Reason
from spectra.replicates import critical_factor, unit_scatter

BANDS_NEEDED = 2


@dataclass(frozen=True)
class Assigned:
    """What the reference tables say of a band; empty where nothing fits."""

    assignment: str = ""
    source: str = ""
    checked: str = ""


def judge_position(shift: Shift | None, margin: float) -> str:
    """Compare the interval of a shift with the margin.

    Examples
    --------
    >>> judge_position(Shift(0.4, -0.3, 1.1, 0.3), 4.0)
    'unchanged'
    >>> judge_position(Shift(8.0, 6.5, 9.5, 0.7), 4.0)
    'changed'
    >>> judge_position(Shift(3.0, 1.0, 5.0, 1.0), 4.0)
    'cannot tell'
    """
    if shift is None:
        return CANNOT_TELL
    if -margin <= shift.low and shift.high <= margin:
        return UNCHANGED
    if shift.low > margin or shift.high < -margin:
        return CHANGED
    return CANNOT_TELL


def band_finding(
    evidence: BandEvidence,
    shift: Shift | None,
    assigned: Assigned,
    settings: DecisionSettings,
    resting: float = 0.0,
) -> BandFinding:
    """Put together the row of the band table.

    ``resting`` is 1 for the substrate's own bands, whose heights are measured as changes from the bare mean.
    """
    peak, there = evidence.peak, evidence.detected or bool(resting and evidence.window is not None)
    kept = shift if there and not evidence.masked else None
    share = evidence.amount + resting
    freedom = max(evidence.bare.shape[0] - 1, 1)
    critical = critical_factor(settings.alpha, freedom) * evidence.error * peak.height
    return BandFinding(
        neat_position=peak.position,
        neat_error=peak.position_error,
        expected_position=evidence.expected,
        expected_error=evidence.expected_error,
        found_position=None if kept is None else evidence.expected + kept.value,
        found_error=None if kept is None else kept.error,
        shift=None if kept is None else kept.value,
        shift_low=None if kept is None else kept.low,
        shift_high=None if kept is None else kept.high,
        margin=settings.margin,
        neat_height=peak.height,
        found_height=share * peak.height,
        critical_height=critical,
        neat_width=peak.width,
        found_width=None,
        verdict=judge_position(kept, settings.margin),
        detected=there,
        masked=evidence.masked,
        evidence=evidence.statistic,
        p_value=evidence.p_value,
        p_adjusted=evidence.p_adjusted,
        assignment=assigned.assignment,
        source=assigned.source,
        checked=assigned.checked,
        confidence=settings.confidence,
    )


def judge_chemistry(
    bands: Sequence[BandFinding],
    settings: DecisionSettings,
    ratios: Sequence[Reason] = (),
) -> Chemistry:
    """Decide whether a component's chemistry survived.

    Parameters
    ----------
    bands : sequence of BandFinding
        Of one component.
    settings : DecisionSettings
    ratios : sequence of Reason
        Bands whose height against the others changed, from :func:`changed_ratios`.
    """
    found = [b for b in bands if b.detected and not b.masked]
    if not found:
        return Chemistry(CANNOT_TELL, (Reason("no_detected_band"),))
    moved = [b for b in found if b.verdict == CHANGED]
    if moved or ratios:
        return Chemistry(CHANGED, (*(_shifted(b) for b in moved), *ratios))
    sure = [b for b in found if b.verdict == UNCHANGED]
    open_ = [b for b in found if b.verdict == CANNOT_TELL]
    decidable = [b for b in open_ if b.shift is not None and _half(b) <= b.margin]
    if decidable:
        return Chemistry(CANNOT_TELL, tuple(_too_wide(b) for b in decidable))
    if len(sure) < min(BANDS_NEEDED, len(bands)):
        return Chemistry(CANNOT_TELL, tuple(_too_wide(b) for b in open_) or (Reason("no_detected_band"),))
    reasons = [Reason("all_equivalent", {"bands": len(sure), "margin": settings.margin})]
    if open_:
        positions = tuple(b.expected_position for b in open_)
        reasons.append(Reason("not_judged", {"bands": len(open_), "positions": positions}))
    return Chemistry(UNCHANGED, tuple(reasons))


def _half(b: BandFinding) -> float:
    """Return the half-width of a shift's interval."""
    return (
        (b.shift_high - b.shift_low) / 2 if b.shift_high is not None and b.shift_low is not None else np.inf
    )


def _shifted(b: BandFinding) -> Reason:
    """Say that a band lies outside the margin."""
    return Reason(
        "shifted",
        {
            "position": b.expected_position,
            "shift": b.shift,
            "low": b.shift_low,
            "high": b.shift_high,
            "margin": b.margin,
        },
    )


def _too_wide(b: BandFinding) -> Reason:
    """Say that an interval is neither inside nor outside the margin."""
    return Reason(
        "interval_too_wide",
        {"position": b.expected_position, "low": b.shift_low, "high": b.shift_high, "margin": b.margin},
    )


def changed_ratios(evidence: Sequence[BandEvidence], settings: DecisionSettings) -> tuple[Reason, ...]:
    """Find bands whose height, against the other bands of the coating, differs from the reference.

    For each unmasked band the ratio to the median of the others is taken unit by unit. A band counts as
    changed if the whole interval of its ratio lies outside ``1 ± ratio_margin``, at the confidence that
    remains after sharing the error between the bands.

    Returns
    -------
    tuple of Reason
        ``lost_band`` (ratio below) or ``grown_band`` (above).
    """
    bands = [item for item in evidence if not item.masked]
    strong = [item for item in bands if item.detected or item.statistic > 3]
    if len(strong) < 3:
        return ()
    reasons = []
    centre = float(np.median([item.amount for item in strong]))
    for item in bands:
        if centre < 2 * item.detectable:
            continue
        ratio = item.amount / centre
        half = _ratio_half(item, strong, centre, settings, len(bands))
        if ratio + half < 1 - settings.ratio_margin:
            reasons.append(_ratio_reason("lost_band", item, ratio, half))
        elif ratio - half > 1 + settings.ratio_margin:
            reasons.append(_ratio_reason("grown_band", item, ratio, half))
    return tuple(reasons)


def _ratio_half(
    item: BandEvidence, strong: Sequence[BandEvidence], centre: float, settings: DecisionSettings, looks: int
) -> float:
    """Return the half-width of a ratio's interval, from bare scatter and from the sample's own."""
    tail = (1 - settings.confidence) / 2 / looks
    k, m = item.bare.shape[0], item.sample.shape[0]
    half = critical_factor(tail, k - 1) * float(unit_scatter(item.bare)[0]) * np.sqrt(1 / m + 1 / k) / centre
    if m > 1:
        middle = np.median([other.sample[:, 0] for other in strong], axis=0)
        own = item.sample[:, 0] / np.where(middle > 0, middle, np.nan)
        if np.isfinite(own).all():
            half = max(half, critical_factor(tail, m - 1) * float(np.std(own, ddof=1)) / np.sqrt(m))
    return float(half)


def _ratio_reason(code: str, item: BandEvidence, ratio: float, half: float) -> Reason:
    """Say how far a band's height is from what the others ask for."""
    return Reason(
        code, {"position": item.expected, "ratio": ratio, "low": ratio - half, "high": ratio + half}
    )
