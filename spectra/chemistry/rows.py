"""Rows of the band table: what became of each band, or where it must appear if it was not followed."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from spectra.chemistry.fates import Fated
from spectra.decision import DecisionSettings
from spectra.filmfit.account import Account
from spectra.findings import (
    AT_ITS_PLACE,
    CANNOT_TELL,
    CHANGED,
    HIDDEN,
    LOST,
    MOVED,
    NOT_JUDGED,
    STRONGER,
    UNCHANGED,
    WEAKER,
    Assigned,
    BandFinding,
    BandSupport,
    Presence,
)
from spectra.optics.prediction import Prediction
from spectra.peaks.finding import Peak
from spectra.peaks.reference import Reference
from spectra.statistics import critical_factor, exceedance, holm

Assign = Callable[[Peak], Assigned]


def expected_rows(
    prediction: Prediction, presence: Presence, decision: DecisionSettings, assign: Assign
) -> tuple[BandFinding, ...]:
    """Make a row for each band of the neat spectrum, by falling wavenumber.

    What a band shows is what the joint fit of presence says of it; a band that is not among the strongest
    ones there was not asked.

    Parameters
    ----------
    prediction : Prediction
    presence : Presence
    decision : DecisionSettings
    assign : callable
        Names a band.
    """
    reference, rows = prediction.reference, []
    places = zip(reference.peaks, reference.expected, reference.expected_errors, strict=True)
    for (peak, place, error), bound in zip(places, prediction.optical_bounds, strict=True):
        support = _support(place, presence)
        named = assign(peak)
        amount = support.amount if support else 0.0
        rows.append(
            BandFinding(
                peak.position, peak.position_error, place, error, None, None, None, None, None,
                decision.margin + bound, peak.height, amount * peak.height,
                (support.critical_amount if support else 0.0) * peak.height, peak.width, None, CANNOT_TELL,
                bool(support and support.supports), bool(support and support.masked),
                support.t if support else 0.0, support.p_value if support else 1.0,
                support.p_adjusted if support else 1.0, named.assignment, named.source, named.checked,
                decision.confidence, bound or None, HIDDEN if support and support.masked else NOT_JUDGED,
            )
        )  # fmt: skip
    return tuple(sorted(rows, key=lambda row: -row.expected_position))


def _support(place: float, presence: Presence) -> BandSupport | None:
    """Band of the joint fit at a place."""
    near = [band for band in presence.band_evidence if band.low <= place <= band.high]
    return min(near, key=lambda band: abs(band.position - place), default=None)


def band_rows(
    fates: Sequence[Fated], account: Account, reference: Reference, decision: DecisionSettings, assign: Assign
) -> tuple[BandFinding, ...]:
    """Make the rows of the band table, by falling wavenumber.

    Parameters
    ----------
    fates : sequence of Fated
    account : Account
    reference : Reference
        Bands of the neat spectrum, with the positions they have in a film.
    decision : DecisionSettings
    assign : callable
        Names a band.
    """
    peaks = _paired(fates, reference)
    narrow = [i for i, fate in enumerate(fates) if fate.band.narrow or peaks[i] is not None]
    p_values = [float(exceedance(np.array(_evidence(fates[i])), account.degrees)) for i in narrow]
    adjusted = holm(np.array(p_values))
    rows = [
        _row(fates[i], peaks[i], (p, float(q)), account.degrees, decision, assign)
        for i, p, q in zip(narrow, p_values, adjusted, strict=True)
    ]
    return tuple(sorted(rows, key=lambda row: -row.expected_position))


def _evidence(fate: Fated) -> float:
    """Student's t of a band's height."""
    return fate.band.ratio / fate.band.ratio_error


def _paired(fates: Sequence[Fated], reference: Reference) -> list[Peak | None]:
    """Measured band of the neat spectrum that belongs to each band, nearest pairs first."""
    pairs = sorted(
        (abs(place - fate.band.expected), i, j)
        for i, fate in enumerate(fates)
        for j, place in enumerate(reference.expected)
        if abs(place - fate.band.expected) <= max(12.0, 0.5 * fate.band.width)
    )
    found: dict[int, int] = {}
    for _, i, j in pairs:
        if i not in found and j not in found.values():
            found[i] = j
    return [reference.peaks[found[i]] if i in found else None for i in range(len(fates))]


def _row(
    fate: Fated,
    peak: Peak | None,
    chances: tuple[float, float],
    degrees: float,
    decision: DecisionSettings,
    assign: Assign,
) -> BandFinding:
    """Make one row; without a maximum of its own in the neat spectrum a band stands at its resonance."""
    band, t = fate.band, critical_factor(0.5 * (1.0 - decision.confidence), degrees)
    fate_name, verdict = _fate(fate), _verdict(fate)
    masked = fate_name == HIDDEN
    there = band.ratio / band.ratio_error > critical_factor(decision.alpha, degrees)
    placed = there and not masked and band.ratio > 0.2
    assigned = assign(peak) if peak is not None else Assigned()
    half = t * band.ratio_error
    return BandFinding(
        neat_position=band.position if peak is None else peak.position,
        neat_error=0.5 if peak is None else peak.position_error,
        expected_position=band.expected,
        expected_error=min(band.shift_reach, band.width),
        found_position=band.expected + band.shift if placed else None,
        found_error=band.shift_error if placed else None,
        shift=band.shift if placed else None,
        shift_low=band.shift - t * band.shift_error if placed else None,
        shift_high=band.shift + t * band.shift_error if placed else None,
        margin=fate.margin,
        neat_height=band.height if peak is None else peak.height,
        found_height=band.ratio * band.height,
        critical_height=critical_factor(decision.alpha, degrees) * band.ratio_error * band.height,
        neat_width=band.width if peak is None else peak.width,
        found_width=None,
        verdict=verdict,
        detected=there,
        masked=masked,
        evidence=_evidence(fate),
        p_value=chances[0],
        p_adjusted=chances[1],
        assignment=assigned.assignment,
        source=assigned.source,
        checked=assigned.checked,
        confidence=decision.confidence,
        optical_bound=fate.optical or None,
        fate=fate_name,
        ratio=band.ratio,
        ratio_low=band.ratio - half,
        ratio_high=band.ratio + half,
    )


GONE = 0.2  # relative height below which a weaker band is called lost
VISIBLE = 0.2  # error of a relative height from which a band's loss would not show


def _fate(fate: Fated) -> str:
    """Say what became of a band, in one word; the surest change counts."""
    band = fate.band
    if fate.reasons:
        code = fate.reasons[0][1].code
        if code == "shifted":
            return MOVED
        if code == "grown-band":
            return STRONGER
        return LOST if band.ratio < GONE else WEAKER
    if fate.judged and fate.inside and not fate.waiting:
        return AT_ITS_PLACE
    return HIDDEN if band.ratio_reach >= VISIBLE else NOT_JUDGED


def _verdict(fate: Fated) -> str:
    """Whether a band is unchanged or changed."""
    if fate.reasons:
        return CHANGED
    return UNCHANGED if _fate(fate) == AT_ITS_PLACE and not fate.optical else CANNOT_TELL
