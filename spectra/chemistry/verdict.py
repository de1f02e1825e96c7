"""Did the substrate's chemistry survive? Positions of its own bands, coated against bare.

*Unchanged* is an equivalence: the whole interval of every judged shift must lie inside the margin (two
one-sided tests; Schuirmann, J. Pharmacokinet. Biopharm. 15, 657, 1987, doi:10.1007/BF01068419; over several
bands the intersection-union principle needs no adjustment). *Changed* needs one interval wholly outside, at
the level that remains after sharing the error between the bands (Bonferroni). Anything between is *cannot
tell*. A band is judged only where the data can decide: its interval must fit into half the margin, or lie
outside.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from spectra.chemistry.band_tests import BandEvidence
from spectra.chemistry.shifts import Shift
from spectra.decision import DecisionSettings
from spectra.findings import (
    AT_ITS_PLACE,
    CANNOT_TELL,
    CHANGED,
    HIDDEN,
    MOVED,
    NOT_JUDGED,
    UNCHANGED,
    Assigned,
    BandFinding,
    Chemistry,
    Reason,
)
from spectra.statistics import critical_factor, shared_widening

BANDS_NEEDED = 2
FATES = {UNCHANGED: AT_ITS_PLACE, CHANGED: MOVED, CANNOT_TELL: NOT_JUDGED}


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
    verdict = judge_position(shift, margin, optical)
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
        verdict=verdict,
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
        fate=HIDDEN if evidence.masked else FATES[verdict],
    )


def judge_bands_at_rest(bands: Sequence[BandFinding], settings: DecisionSettings) -> Chemistry:
    """Decide whether the substrate's chemistry survived.

    Parameters
    ----------
    bands : sequence of BandFinding
        The substrate's own.
    settings : DecisionSettings
    """
    found = [b for b in bands if b.detected and not b.masked]
    if not found:
        return Chemistry(CANNOT_TELL, (Reason("no-detected-band"),))
    moved = [b for b in found if b.verdict == CHANGED and _surely(b, len(found))]
    if moved:
        return Chemistry(CHANGED, tuple(_shifted(b) for b in moved))
    sure = [b for b in found if b.verdict == UNCHANGED]
    open_ = [b for b in found if b.verdict == CANNOT_TELL or (b.verdict == CHANGED and b not in moved)]
    decidable = [b for b in open_ if b.shift is not None and (_half(b) <= b.margin / 2 or _not_zero(b))]
    if decidable:
        return Chemistry(CANNOT_TELL, tuple(_too_wide(b) for b in decidable))
    if len(sure) < min(BANDS_NEEDED, len(bands)):
        return Chemistry(CANNOT_TELL, tuple(_too_wide(b) for b in open_) or (Reason("no-detected-band"),))
    positions = [b.expected_position for b in sure]
    reasons = [Reason("all-equivalent", {"bands": positions, "margin": settings.margin})]
    if open_:
        rest = tuple(b.expected_position for b in open_)
        reasons.append(Reason("not-judged", {"bands": len(open_), "positions": rest}))
    return Chemistry(UNCHANGED, tuple(reasons))


def _surely(b: BandFinding, looks: int) -> bool:
    """Tell whether a band lies outside its margin with the error shared between the bands looked at."""
    if b.shift is None or b.confidence is None:
        return False
    return abs(b.shift) - _half(b) * shared_widening(b.confidence, looks) > b.margin


def _not_zero(b: BandFinding) -> bool:
    """Tell whether the interval of a shift excludes zero."""
    return b.shift is not None and abs(b.shift) > _half(b)


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
