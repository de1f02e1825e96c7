"""Chemistry before against after a treatment: which bands changed between the two, which residues went.

Every band is compared with itself: its shift in each sample is taken against the place it must have in a film
of that sample's own thickness, so that a film that only became thinner has not changed. What both have in
common (bare mean, optics) is not taken off their errors: intervals are rather too wide. *Unchanged* is an
equivalence over the bands that could have decided, which must hold half of the band strength; *changed* needs
an interval wholly outside a margin at a level shared between the bands (Bonferroni), as in
:mod:`spectra.chemistry.verdict`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from spectra.chemistry.verdict import BANDS_NEEDED
from spectra.decision import DecisionSettings
from spectra.findings import CANNOT_TELL, CHANGED, NOT_SHOWN, PRESENT, UNCHANGED, BandFinding, Reason, Residue
from spectra.statistics import shared_widening

HALF = 0.5  # share of the band strength that bands shown to be the same must hold
SAME_BAND = 0.5  # cm-1 between the reference's places: both samples have one reference
GONE, STILL, NEW, NEITHER = "gone", "still there", "new", "neither before nor after"

Interval = tuple[float, float, float]  # value, half-width, half-width at the level shared between bands


@dataclass(frozen=True)
class BandTreated:
    """One band before and after.

    Attributes
    ----------
    assignment : str
    expected_before, expected_after : float, cm-1
        Where it must be in each sample if nothing changed.
    shift, shift_low, shift_high : float or None, cm-1
        After minus before, each against its own expected place.
    ratio, ratio_low, ratio_high : float or None
        Height after over before, each against the one expected of its amount.
    verdict
        ``unchanged``, ``changed`` or ``cannot tell``.
    """

    assignment: str
    expected_before: float
    expected_after: float
    shift: float | None
    shift_low: float | None
    shift_high: float | None
    ratio: float | None
    ratio_low: float | None
    ratio_high: float | None
    verdict: str


@dataclass(frozen=True)
class Treated:
    """What a treatment did to the bands of one material.

    Attributes
    ----------
    verdict
        ``unchanged``, ``changed`` or ``cannot tell``.
    reasons : tuple of Reason
    bands : tuple of BandTreated
        Those found in the reference of both, by falling wavenumber.
    """

    verdict: str
    reasons: tuple[Reason, ...]
    bands: tuple[BandTreated, ...]


@dataclass(frozen=True)
class TreatmentFinding:
    """Chemistry of one sample against the sample it was before a treatment.

    Attributes
    ----------
    before : str
        Name of that sample.
    coatings : mapping of str to Treated
    substrate : Treated
    residues : mapping of str to str
        ``gone``, ``still there``, ``new``, ``neither before nor after`` or ``cannot tell``.
    """

    before: str
    coatings: Mapping[str, Treated]
    substrate: Treated
    residues: Mapping[str, str] = field(default_factory=dict)


def compare_bands(
    before: Sequence[BandFinding], after: Sequence[BandFinding], settings: DecisionSettings
) -> Treated:
    """Compare the bands of one material before and after.

    Parameters
    ----------
    before, after : sequence of BandFinding
        Of one reference.
    settings : DecisionSettings
        ``margin``, ``ratio_margin`` and ``confidence``.

    Returns
    -------
    Treated
    """
    pairs = [
        (one, other)
        for one in before
        for other in after
        if abs(one.neat_position - other.neat_position) < SAME_BAND
    ]
    wider = shared_widening(settings.confidence, max(1, len(pairs)))
    bands = tuple(_band(one, other, settings, wider) for one, other in pairs)
    return _judge(bands, [one.neat_height * one.neat_width for one, _ in pairs], settings)


def _band(one: BandFinding, other: BandFinding, settings: DecisionSettings, wider: float) -> BandTreated:
    """Compare one band."""
    shift, ratio = _shift(one, other, wider), _ratio(one, other, wider)
    asked = [
        _against(item, margin)
        for item, margin in ((shift, settings.margin), (_less_one(ratio), settings.ratio_margin))
        if item is not None
    ]
    open_ = shift is None or CANNOT_TELL in asked
    verdict = CHANGED if CHANGED in asked else CANNOT_TELL if open_ else UNCHANGED
    return BandTreated(
        one.assignment or other.assignment,
        one.expected_position,
        other.expected_position,
        *_ends(shift),
        *_ends(ratio),
        verdict,
    )


def _shift(one: BandFinding, other: BandFinding, wider: float) -> Interval | None:
    """Shift after minus before; None where a band was not found or is hidden."""
    if one.shift is None or other.shift is None or one.masked or other.masked:
        return None
    half = float(np.hypot(_half(one.shift_low, one.shift_high), _half(other.shift_low, other.shift_high)))
    return other.shift - one.shift, half, wider * half


def _ratio(one: BandFinding, other: BandFinding, wider: float) -> Interval | None:
    """Height after over before; None where it was not measured or nothing was there before."""
    known = None not in (one.ratio_low, one.ratio_high, other.ratio_low, other.ratio_high)
    if one.ratio is None or other.ratio is None or not known or not one.detected:
        return None
    if one.masked or other.masked or one.ratio <= 0.0:
        return None
    value = other.ratio / one.ratio
    half = float(
        np.hypot(_half(other.ratio_low, other.ratio_high), value * _half(one.ratio_low, one.ratio_high))
    )
    half /= one.ratio
    return value, half, wider * half


def _half(low: float | None, high: float | None) -> float:
    return float("inf") if low is None or high is None else (high - low) / 2.0


def _less_one(ratio: Interval | None) -> Interval | None:
    return None if ratio is None else (ratio[0] - 1.0, *ratio[1:])


def _against(item: Interval, margin: float) -> str:
    """Compare an interval about zero with a margin."""
    value, half, shared = item
    if abs(value) + half <= margin:
        return UNCHANGED
    return CHANGED if abs(value) - shared > margin else CANNOT_TELL


def _ends(item: Interval | None) -> tuple[float | None, float | None, float | None]:
    return (None, None, None) if item is None else (item[0], item[0] - item[1], item[0] + item[1])


def _judge(bands: tuple[BandTreated, ...], strengths: Sequence[float], settings: DecisionSettings) -> Treated:
    """Say what all bands together mean; unchanged needs the same bands to hold half of the strength."""
    places: dict[str, tuple[float, ...]] = {
        verdict: tuple(band.expected_after for band in bands if band.verdict == verdict)
        for verdict in (CHANGED, UNCHANGED, CANNOT_TELL)
    }
    if places[CHANGED]:
        return Treated(CHANGED, (Reason("treatment-changed", {"positions": places[CHANGED]}),), bands)
    same = [s for band, s in zip(bands, strengths, strict=True) if band.verdict == UNCHANGED]
    open_ = tuple(
        band.expected_after for band in bands if band.verdict == CANNOT_TELL and _decidable(band, settings)
    )
    if open_:
        return Treated(CANNOT_TELL, (Reason("treatment-open", {"positions": open_}),), bands)
    held = sum(same) / sum(strengths) if strengths else 0.0
    if len(same) < BANDS_NEEDED or held < HALF:
        few = Reason("treatment-too-few", {"found": len(same), "needed": BANDS_NEEDED, "share": held})
        return Treated(CANNOT_TELL, (few,), bands)
    rest = {
        "positions": places[UNCHANGED],
        "open": places[CANNOT_TELL],
        "share": held,
        "heights": any(band.ratio is not None for band in bands),
    }
    return Treated(UNCHANGED, (Reason("treatment-unchanged", rest),), bands)


def _decidable(band: BandTreated, settings: DecisionSettings) -> bool:
    """Tell whether the intervals are narrow enough to have shown the band to be the same."""
    halves = (_half(band.shift_low, band.shift_high), _half(band.ratio_low, band.ratio_high))
    margins = (settings.margin, settings.ratio_margin)
    known = [(half, margin) for half, margin in zip(halves, margins, strict=True) if np.isfinite(half)]
    return bool(known) and all(half <= margin / 2.0 for half, margin in known)


def compare_residue(before: Residue, after: Residue) -> str:
    """Say whether a residue went: only where both samples could be judged."""
    if CANNOT_TELL in (before.verdict, after.verdict):
        return CANNOT_TELL
    words = {
        (PRESENT, NOT_SHOWN): GONE,
        (PRESENT, PRESENT): STILL,
        (NOT_SHOWN, PRESENT): NEW,
        (NOT_SHOWN, NOT_SHOWN): NEITHER,
    }
    return words.get((before.verdict, after.verdict), CANNOT_TELL)
