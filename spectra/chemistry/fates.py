"""Did the coating's chemistry survive? From what became of every band to the verdict.

*Changed* needs one band that surely left its margin or its height; all tests of all bands share the error
(Holm, Scand. J. Statist. 6, 65, 1979). *Unchanged* is an equivalence (two one-sided tests; Schuirmann, J.
Pharmacokinet. Biopharm. 15, 657, 1987, doi:10.1007/BF01068419): every band that this amount lets judge lies
inside margin and ratio with its whole interval, those bands hold at least half of the coating's expected
strength, and the strongest narrow one is among them. Anything between is *cannot tell*, with the share that
could be judged. What can be judged is known before what became of the bands is looked at.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from spectra.chemistry.settings import FateSettings
from spectra.decision import DecisionSettings
from spectra.filmfit.account import Account, BandFate
from spectra.findings import (
    CANNOT_TELL,
    CHANGED,
    UNCHANGED,
    Chemistry,
    Reason,
)
from spectra.statistics import critical_factor, exceedance, holm
from spectra.units import FloatArray


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
    adrift : bool
        Too broad to be judged, and the whole interval of its shift outside the margin all the same.
    """

    band: BandFate
    margin: float
    optical: float
    reasons: tuple[tuple[float, Reason], ...]
    judged: bool
    inside: bool
    adrift: bool

    @property
    def waiting(self) -> bool:
        """Flagged as changed, or judged and not inside, without a proof of change."""
        flagged = self.band.narrow and (self.band.moved or self.band.resized)
        return not self.reasons and (flagged or self.adrift or (self.judged and not self.inside))


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
    unknown = runs_away(account, settings)
    tests = [
        (i, size, reason)
        for i, (band, bound) in enumerate(zip(account.bands, bounds, strict=True))
        if band.narrow and not unknown
        for size, reason in _changes(band, decision.margin + bound, decision, settings, account)
    ]
    level = 0.5 * (1.0 - decision.confidence)
    sure: dict[int, list[tuple[float, Reason]]] = {}
    for (i, size, reason), p in zip(tests, _adjusted(tests, account), strict=True):
        if p <= level:
            sure.setdefault(i, []).append((-_evidence_of(account.bands[i], size, reason), reason))
    if _only_grown(sure):
        sure = {}
    t = critical_factor(level, account.degrees)
    return tuple(
        _fated(band, bound, tuple(sorted(sure.get(i, []), key=lambda pair: pair[0])), t, decision, settings)
        for i, (band, bound) in enumerate(zip(account.bands, bounds, strict=True))
    )


def _only_grown(sure: Mapping[int, Sequence[tuple[float, Reason]]]) -> bool:
    """Tell whether nothing moved or was lost: what only adds to a band may be another substance's."""
    return all(reason.code == "grown-band" for reasons in sure.values() for _, reason in reasons)


def runs_away(account: Account, settings: FateSettings) -> bool:
    """Tell whether the neat spectrum is too strong for its constants to judge bands by."""
    return account.at_limit or account.strongest > settings.strongest


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
        # Growth counts against all that absorbs there: the less of it the band's own, beside a broad one that
        # is not judged, the more a small misfit of the whole makes it grow. It can lose no more than itself.
        own = band.own if band.ratio > 1.0 else 1.0
        away, error = own * abs(band.ratio - 1.0), own * band.ratio_error
        # A sharply known height counts as changed if it surely is not one and its estimate left the margin;
        # a height known less well must lie beyond the margin surely.
        sharp = band.resized and away > decision.ratio_margin and band.ratio_reach < settings.sharp
        size = (away if sharp else away - decision.ratio_margin) / error
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
    adrift = not band.narrow and abs(band.shift) - t * band.shift_error > margin
    return Fated(band, margin, bound, reasons, judged, inside, adrift)


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
    # Beyond doubt is beyond doubt: from there on the coating's stronger band is named first.
    ranked = [
        ((max(less, -settings.certain), -fate.band.strength), reason)
        for fate in fates
        for less, reason in fate.reasons
    ]
    sure = sorted(ranked, key=lambda pair: pair[0])
    if not named:
        return Chemistry(CANNOT_TELL, (Reason("presence-open"),))
    if sure:
        return Chemistry(CHANGED, tuple(reason for _, reason in sure))
    causes = _open(fates, note, beside, decision, settings)
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
    fates: Sequence[Fated],
    note: Reason | None,
    beside: Sequence[float],
    decision: DecisionSettings,
    settings: FateSettings,
) -> tuple[Reason, ...]:
    """Causes that leave the chemistry open; none where it is unchanged."""
    bounds = [fate.optical for fate in fates if fate.optical > 0.0]
    if bounds and note is not None:
        return (Reason(note.code, {**note.values, "bound": max(bounds)}),)
    causes = [_waiting(fate, decision.ratio_margin) for fate in fates if fate.waiting]
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


def _waiting(fate: Fated, ratio_margin: float) -> Reason:
    """Say of a band that it is neither surely at its place nor surely changed."""
    band = fate.band
    values = {"position": band.expected, "shift": band.shift, "ratio": band.ratio, "margin": fate.margin}
    return Reason("band-open", {**values, "ratio_margin": ratio_margin})
