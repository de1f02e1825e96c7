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

from spectra.chemistry.band_tests import BandEvidence
from spectra.chemistry.shifts import Shift
from spectra.decision import DecisionSettings
from spectra.findings import (
    CANNOT_TELL,
    CHANGED,
    PRESENT,
    UNCHANGED,
    Assigned,
    BandFinding,
    Chemistry,
    Presence,
    Reason,
)
from spectra.replicates import unit_scatter
from spectra.statistics import critical_factor

BANDS_NEEDED = 2


def judge_position(shift: Shift | None, margin: float, optical: float = 0.0) -> str:
    """Compare the interval of a shift with the margin.

    ``optical`` is the part of the margin that stands for a shift optics may cause and that could not be
    computed: inside it nothing is shown to be unchanged, outside it a change is shown all the same.

    Examples
    --------
    >>> judge_position(Shift(0.4, -0.3, 1.1, 0.3), 4.0)
    'unchanged'
    >>> judge_position(Shift(8.0, 6.5, 9.5, 0.7), 4.0)
    'changed'
    >>> judge_position(Shift(3.0, 1.0, 5.0, 1.0), 4.0)
    'cannot tell'
    >>> judge_position(Shift(0.4, -0.3, 1.1, 0.3), 4.0 + 15.0, optical=15.0)
    'cannot tell'
    """
    if shift is None:
        return CANNOT_TELL
    if optical == 0.0 and -margin <= shift.low and shift.high <= margin:
        return UNCHANGED
    if shift.low > margin or shift.high < -margin:
        return CHANGED
    return CANNOT_TELL


@dataclass(frozen=True, eq=False)
class Judged:
    """One band with everything its row in the table needs.

    Attributes
    ----------
    evidence : BandEvidence
    shift : Shift or None
    assigned : Assigned
    resting : float
        1 for the substrate's own bands, whose heights are measured as changes from the bare mean; else 0.
    optical : float, cm-1
        How far optics may move the band where that could not be computed.
    """

    evidence: BandEvidence
    shift: Shift | None
    assigned: Assigned
    resting: float = 0.0
    optical: float = 0.0


def band_finding(judged: Judged, settings: DecisionSettings) -> BandFinding:
    """Put together the row of the band table."""
    evidence, resting = judged.evidence, judged.resting
    peak, there = evidence.peak, evidence.detected or bool(resting and evidence.window is not None)
    shift = judged.shift if there and not evidence.masked else None
    freedom = max(evidence.bare.shape[0] - 1, 1)
    # A band without a bound may lie anywhere its width allows: no shift of it can be judged.
    optical = judged.optical if np.isfinite(judged.optical) else 10.0 * peak.width
    margin = settings.margin + optical
    return BandFinding(
        neat_position=peak.position,
        neat_error=peak.position_error,
        expected_position=evidence.expected,
        expected_error=evidence.expected_error,
        found_position=None if shift is None else evidence.expected + shift.value,
        found_error=None if shift is None else shift.error,
        shift=None if shift is None else shift.value,
        shift_low=None if shift is None else shift.low,
        shift_high=None if shift is None else shift.high,
        margin=margin,
        neat_height=peak.height,
        found_height=(evidence.amount + resting) * evidence.height,
        critical_height=critical_factor(settings.alpha, freedom) * evidence.error * evidence.height,
        neat_width=peak.width,
        found_width=None,
        verdict=judge_position(shift, margin, optical),
        detected=there,
        masked=evidence.masked,
        evidence=evidence.statistic,
        p_value=evidence.p_value,
        p_adjusted=evidence.p_adjusted,
        assignment=judged.assigned.assignment,
        source=judged.assigned.source,
        checked=judged.assigned.checked,
        confidence=settings.confidence,
        optical_bound=judged.optical if judged.optical else None,
    )


def judge_chemistry(
    bands: Sequence[BandFinding],
    settings: DecisionSettings,
    ratios: Sequence[Reason] = (),
    note: Reason | None = None,
    presence: Presence | None = None,
) -> Chemistry:
    """Decide whether a component's chemistry survived.

    Parameters
    ----------
    bands : sequence of BandFinding
        Of one component.
    settings : DecisionSettings
    ratios : sequence of Reason
        Bands whose height against the others changed, from :func:`changed_ratios`.
    note : Reason, optional
        Why positions could not be predicted.
    presence : Presence, optional
        Of the coating. Nothing is said of the chemistry of a coating whose amount is not above its critical
        value; where presence is open for another reason, a change is reported with that caution.
    """
    if presence is not None and presence.verdict != PRESENT and not _above_critical(presence):
        return Chemistry(CANNOT_TELL, (Reason("coating-not-shown"),))
    cautions = (Reason("presence-open"),) if presence is not None and presence.verdict != PRESENT else ()
    found = [b for b in bands if b.detected and not b.masked]
    if not found:
        return Chemistry(CANNOT_TELL, (Reason("no-detected-band"), *cautions))
    moved = [b for b in found if b.verdict == CHANGED]
    if moved or ratios:
        return Chemistry(CHANGED, (*(_shifted(b) for b in moved), *ratios, *cautions))
    if cautions:
        return Chemistry(CANNOT_TELL, cautions)
    sure = [b for b in found if b.verdict == UNCHANGED]
    open_ = [b for b in found if b.verdict == CANNOT_TELL]
    decidable = [b for b in open_ if b.shift is not None and _half(b) <= b.margin]
    if decidable:
        why = (_not_computed(decidable, note),) if note else tuple(_too_wide(b) for b in decidable)
        return Chemistry(CANNOT_TELL, why)
    if len(sure) < min(BANDS_NEEDED, len(bands)):
        return Chemistry(CANNOT_TELL, tuple(_too_wide(b) for b in open_) or (Reason("no-detected-band"),))
    reasons = [Reason("all-equivalent", {"bands": len(sure), "margin": settings.margin})]
    if open_:
        positions = tuple(b.expected_position for b in open_)
        reasons.append(Reason("not-judged", {"bands": len(open_), "positions": positions}))
    return Chemistry(UNCHANGED, tuple(reasons))


def _above_critical(presence: Presence) -> bool:
    """Tell whether there is more of a coating than bare spots show, whatever else is doubtful."""
    amount, critical = presence.amount, presence.critical_amount
    return amount is not None and critical is not None and amount > critical


def _not_computed(bands: Sequence[BandFinding], note: Reason) -> Reason:
    """Say why no position was predicted, and how far optics may move the bands."""
    bounds = [b.optical_bound for b in bands if b.optical_bound is not None]
    return Reason(note.code, {**note.values, "bound": max(bounds) if bounds else None})


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
        "interval-too-wide",
        {"position": b.expected_position, "low": b.shift_low, "high": b.shift_high, "margin": b.margin},
    )


def changed_ratios(
    evidence: Sequence[BandEvidence], settings: DecisionSettings, tolerance: float | None
) -> tuple[Reason, ...]:
    """Find bands whose height, against the other bands of the coating, differs from the reference.

    For each unmasked band the ratio to the median of the others is taken unit by unit. A band counts as
    changed if the whole interval of its ratio lies outside ``1 ± ratio_margin``, at the confidence that
    remains after sharing the error between the bands.

    Parameters
    ----------
    evidence : sequence of BandEvidence
    settings : DecisionSettings
    tolerance : float or None
        Relative amount by which a band may differ from the expected shape though nothing is wrong, one
        standard deviation. None where relative heights cannot be expected to hold: between a bulk and a
        film whose geometry is unknown, depth alone changes them.

    Returns
    -------
    tuple of Reason
        ``lost-band`` (ratio below) or ``grown-band`` (above).
    """
    bands = [item for item in evidence if not item.masked]
    strong = [item for item in bands if item.detected or item.statistic > 3]
    if tolerance is None or len(strong) < 3:
        return ()
    reasons = []
    centre = float(np.median([item.amount for item in strong]))
    for item in bands:
        if centre < 2 * item.detectable:
            continue
        ratio = item.amount / centre
        half = float(np.hypot(_ratio_half(item, strong, centre, settings, len(bands)), 2.0 * tolerance))
        if ratio + half < 1 - settings.ratio_margin:
            reasons.append(_ratio_reason("lost-band", item, ratio, half))
        elif ratio - half > 1 + settings.ratio_margin:
            reasons.append(_ratio_reason("grown-band", item, ratio, half))
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
