"""Rows of the band table for a coating whose bands were not followed: where they must appear, and no more."""

from __future__ import annotations

from collections.abc import Callable

from spectra.decision import DecisionSettings
from spectra.findings import CANNOT_TELL, HIDDEN, NOT_JUDGED, Assigned, BandFinding, BandSupport, Presence
from spectra.optics.prediction import Prediction
from spectra.peaks.finding import Peak


def expected_rows(
    prediction: Prediction, presence: Presence, decision: DecisionSettings, assign: Callable[[Peak], Assigned]
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
