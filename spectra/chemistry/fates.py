"""Did the coating's chemistry survive? From what became of every band to the verdict.

*Changed* needs one band that surely left its margin or its height; all tests of all bands share the error
(Holm, Scand. J. Statist. 6, 65, 1979). *Unchanged* is an equivalence (two one-sided tests; Schuirmann, J.
Pharmacokinet. Biopharm. 15, 657, 1987, doi:10.1007/BF01068419): every band that this amount lets judge lies
inside margin and ratio with its whole interval, those bands hold at least half of the coating's expected
strength, and the strongest narrow one is among them. Anything between is *cannot tell*, with the share that
could be judged. What can be judged is known before what became of the bands is looked at.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from spectra.chemistry.settings import FateSettings
from spectra.decision import DecisionSettings
from spectra.filmfit.account import Account, BandFate
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
    Chemistry,
    Reason,
)
from spectra.peaks.finding import Peak
from spectra.peaks.reference import Reference
from spectra.statistics import critical_factor, exceedance, holm
from spectra.units import FloatArray

ADRIFT = 4.0  # standard errors
BROAD_SHARE = 0.03  # of a broad band's width, by which its place is uncertain beside its neighbours

Assign = Callable[[Peak], Assigned]


@dataclass(frozen=True)
class Fated:
    """One band with its margin and what is said of it.

    Attributes
    ----------
    band : BandFate
    margin, optical : float, cm-1
        Window that counts as unchanged, and the part of it that stands for optics that were not computed.
    reasons : tuple of (p value, Reason)
        Ways in which the band surely changed.
    judged, inside : bool
        Whether this amount lets the band be judged; whether it lies inside margin and ratio wholly.
    """

    band: BandFate
    margin: float
    optical: float
    reasons: tuple[tuple[float, Reason], ...]
    judged: bool
    inside: bool

    @property
    def waiting(self) -> bool:
        """Flagged as changed, or judged and not inside, without a proof of change."""
        flagged = self.band.narrow and (self.band.moved or self.band.resized)
        return not self.reasons and (flagged or self.adrift or (self.judged and not self.inside))

    @property
    def adrift(self) -> bool:
        """Too broad to be judged, and far from its place all the same."""
        away = abs(self.band.shift) - ADRIFT * self.band.shift_error
        return not self.band.narrow and away > self.margin + BROAD_SHARE * self.band.width


def follow_bands(
    account: Account, bounds: Sequence[float], decision: DecisionSettings, settings: FateSettings
) -> tuple[Fated, ...]:
    """Say of every band of a coating whether it surely changed, surely stayed, or neither.

    Parameters
    ----------
    account : Account
    bounds : sequence of float, cm-1
        How far optics that could not be computed may move each band; 0 where they were.
    decision : DecisionSettings
        ``margin``, ``ratio_margin``, ``confidence``.
    settings : FateSettings
    """
    tests = [
        (i, size, reason)
        for i, (band, bound) in enumerate(zip(account.bands, bounds, strict=True))
        if band.narrow
        for size, reason in _changes(band, decision.margin + bound, decision, settings, account)
    ]
    level = 0.5 * (1.0 - decision.confidence)
    sure: dict[int, list[tuple[float, Reason]]] = {}
    for (i, size, reason), p in zip(tests, _adjusted(tests, account), strict=True):
        if p <= level:
            sure.setdefault(i, []).append((-_evidence_of(account.bands[i], size, reason), reason))
    t = critical_factor(level, account.degrees)
    return tuple(
        _fated(band, bound, tuple(sorted(sure.get(i, []), key=lambda pair: pair[0])), t, decision, settings)
        for i, (band, bound) in enumerate(zip(account.bands, bounds, strict=True))
    )


def _adjusted(tests: Sequence[tuple[int, float, Reason]], account: Account) -> FloatArray:
    """P values after Holm: flagged changes share the error among themselves, the others with all.

    A flag has paid for the places and bands it was sought among before; it is not asked to pay twice.
    """
    p_values = exceedance(np.array([size for _, size, _ in tests]), account.degrees)
    flagged = np.array([_is_flagged(account.bands[i], reason) for i, _, reason in tests], dtype=bool)
    adjusted = holm(p_values)
    adjusted[flagged] = holm(p_values[flagged])
    return adjusted


def _evidence_of(band: BandFate, size: float, reason: Reason) -> float:
    """Return how telling a sure change is, for the order of the reasons."""
    return size * band.shift_error / band.place_error if reason.code == "shifted" else size


def _is_flagged(band: BandFate, reason: Reason) -> bool:
    """Tell whether the film fit had flagged a change before it was tested."""
    return band.moved if reason.code == "shifted" else band.resized


def _changes(
    band: BandFate, margin: float, decision: DecisionSettings, settings: FateSettings, account: Account
) -> list[tuple[float, Reason]]:
    """Return the tests that a band may fail, each as Student's t beyond its limit."""
    t = critical_factor(0.5 * (1.0 - decision.confidence), account.degrees)
    # Where the computed film misses the spectrum by far, heights of bands cannot be told from wrong optics.
    heights = account.chi_square < settings.misfit
    found = []
    there = band.ratio > settings.least_ratio and band.ratio > settings.found * band.ratio_error
    if there and band.ratio_reach < settings.seen:
        low, high = band.shift - t * band.shift_error, band.shift + t * band.shift_error
        values = {"position": band.expected, "shift": band.shift, "low": low, "high": high, "margin": margin}
        found.append(((abs(band.shift) - margin) / band.shift_error, Reason("shifted", values)))
    if band.ratio_reach < decision.ratio_margin and heights:
        away = abs(band.ratio - 1.0)
        # A sharply known height counts as changed if it surely is not one and its estimate left the margin;
        # a height known less well must lie beyond the margin surely.
        sharp = band.resized and away > decision.ratio_margin and band.ratio_reach < settings.sharp
        size = (away if sharp else away - decision.ratio_margin) / band.ratio_error
        low, high = band.ratio - t * band.ratio_error, band.ratio + t * band.ratio_error
        code = "lost-band" if band.ratio < 1.0 else "grown-band"
        values = {"position": band.expected, "ratio": band.ratio, "low": low, "high": high}
        found.append((size, Reason(code, values)))
    return found


def _fated(
    band: BandFate,
    bound: float,
    reasons: tuple[tuple[float, Reason], ...],
    t: float,
    decision: DecisionSettings,
    settings: FateSettings,
) -> Fated:
    """Put one band together."""
    margin = decision.margin + bound
    reach, height = t * band.shift_reach, t * band.ratio_reach
    half = t * band.ratio_error
    near = abs(band.ratio - 1.0) < decision.ratio_margin
    level = (
        band.ratio - half < 1.0 + decision.ratio_margin and band.ratio + half > 1.0 - decision.ratio_margin
    )
    inside = abs(band.shift) + t * band.shift_error <= decision.margin and near and level
    # A band that could just be judged counts where it proved to be at its place; elsewhere it says nothing.
    could = reach <= 0.5 * decision.margin or (inside and reach <= decision.margin)
    judged = band.narrow and could and height <= settings.judged_ratio
    return Fated(band, margin, bound, reasons, judged, inside)


def judged_share(fates: Sequence[Fated]) -> float:
    """Share of the coating's expected band strength that could be judged, 0 to 1."""
    return float(sum(fate.band.share for fate in fates if fate.judged))


def judge_fates(
    fates: Sequence[Fated],
    named: bool,
    note: Reason | None,
    beside: Sequence[float],
    decision: DecisionSettings,
    settings: FateSettings,
) -> Chemistry:
    """Decide whether a coating's chemistry survived.

    Parameters
    ----------
    fates : sequence of Fated
    named : bool
        Whether what is there is this coating at all.
    note : Reason or None
        Why optics were not computed.
    beside : sequence of float, cm-1
        Bands of the coating beside which something is left over.
    decision : DecisionSettings
    settings : FateSettings
    """
    sure = sorted((pair for fate in fates for pair in fate.reasons), key=lambda pair: pair[0])
    if not named:
        return Chemistry(CANNOT_TELL, (Reason("presence-open"),))
    if sure:
        return Chemistry(CHANGED, tuple(reason for _, reason in sure))
    causes = _open(fates, note, beside, settings)
    if causes:
        return Chemistry(CANNOT_TELL, causes)
    judged = [fate.band.expected for fate in fates if fate.judged]
    reasons = [Reason("all-equivalent", {"bands": judged, "margin": decision.margin})]
    rest = [fate.band.expected for fate in fates if fate.band.narrow and not fate.judged]
    if rest:
        share = judged_share(fates)
        reasons.append(Reason("not-judged", {"bands": len(rest), "positions": rest, "share": share}))
    return Chemistry(UNCHANGED, tuple(reasons))


def _open(
    fates: Sequence[Fated], note: Reason | None, beside: Sequence[float], settings: FateSettings
) -> tuple[Reason, ...]:
    """Causes that leave the chemistry open; none where it is unchanged."""
    bounds = [fate.optical for fate in fates if fate.optical > 0.0]
    if bounds and note is not None:
        return (Reason(note.code, {**note.values, "bound": max(bounds)}),)
    causes = [_waiting(fate) for fate in fates if fate.waiting]
    if beside:
        causes.append(Reason("left-over-beside-band", {"positions": list(beside)}))
    narrow = [fate for fate in fates if fate.band.narrow]
    share = judged_share(fates)
    strongest = max(narrow, key=lambda fate: fate.band.strength, default=None)
    rest = [fate.band.expected for fate in narrow if not fate.judged]
    if strongest is None or share < settings.least_share:
        causes.append(Reason("too-little-judged", {"share": share, "positions": rest}))
    elif not strongest.judged:
        causes.append(Reason("strongest-not-judged", {"share": share, "position": strongest.band.expected}))
    return tuple(causes)


def _waiting(fate: Fated) -> Reason:
    """Say of a band that it is neither surely at its place nor surely changed."""
    band = fate.band
    values = {"position": band.expected, "shift": band.shift, "ratio": band.ratio, "margin": fate.margin}
    return Reason("band-open", values)


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
