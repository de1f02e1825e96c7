"""The rule of presence: from the figures of one coating on one sample to a verdict with its reasons.

``present`` takes four things: the joint amount above its critical value; then enough bands found on their
own (the joint test guards the error rate, so the bands have one of their own); band amounts that agree with
the coating's pattern; and a bare set that represents the sample's substrate. The last may be missing when the
coating is unmistakable. ``not shown`` takes a bare set that represents the substrate and an amount below the
critical value. Everything else is ``cannot tell``, with a cause and a remedy for each.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from spectra.decision import DecisionSettings
from spectra.detection.settings import PresenceSettings
from spectra.findings import CANNOT_TELL, NOT_SHOWN, PRESENT, Misfit, Presence, Reason
from spectra.statistics import critical_factor


@dataclass(frozen=True)
class Judgement:
    """Verdict, its reasons in order of weight, and a remedy for every cause of a ``cannot tell``."""

    verdict: str
    reasons: tuple[Reason, ...]
    remedies: tuple[Reason, ...] = ()


def judge(
    figures: Presence, decision: DecisionSettings, settings: PresenceSettings, bare: tuple[int, int]
) -> Judgement:
    """Apply the rule.

    Parameters
    ----------
    figures : Presence
        With its verdict still open.
    decision : DecisionSettings
    settings : PresenceSettings
    bare : (int, int)
        Units and specimens of the bare set.

    Returns
    -------
    Judgement
    """
    notes = _notes(bare, settings)
    found = _t(figures) > _limit(figures, decision)
    causes = _causes(figures, decision, settings)
    if causes:
        return Judgement(CANNOT_TELL, (*causes, *notes), remedies_of(causes))
    if found:
        grounds = [_amount("amount-above-critical", figures), _bands("bands-found", figures, settings)]
        if figures.pattern_p is not None:
            grounds.append(Reason("pattern-agrees", {"p_value": figures.pattern_p}))
        if figures.misfits:
            grounds.append(Reason("unmistakable", {"regions": _regions(figures.misfits)}))
        return Judgement(PRESENT, (*grounds, *notes))
    return Judgement(NOT_SHOWN, (_amount("amount-below-critical", figures), *notes))


def _t(figures: Presence) -> float:
    return figures.evidence or 0.0


def _limit(figures: Presence, decision: DecisionSettings) -> float:
    """Critical amount in units of its error."""
    return critical_factor(decision.alpha, figures.degrees or 1.0)


def misfit_growth(figures: Presence) -> float:
    """Factor on the error if a misfit were scatter like any other: the worst stretch, or the whole."""
    worst = max((misfit.ratio for misfit in figures.misfits), default=1.0)
    return float(np.sqrt(max(1.0, figures.chi_square or 1.0, worst / 4.0)))


def _causes(figures: Presence, decision: DecisionSettings, settings: PresenceSettings) -> tuple[Reason, ...]:
    """Causes of a ``cannot tell``; none leaves a plain verdict."""
    limit, needed = _limit(figures, decision), settings.bands.needed
    found = _t(figures) > limit
    causes = []
    unmasked = [band for band in figures.band_evidence if not band.masked]
    if len(unmasked) < needed:
        code = "bands-masked" if figures.band_evidence else "no-bands"
        masked = [b.position for b in figures.band_evidence if b.masked]
        causes.append(Reason(code, {"masked": masked, "unmasked": len(unmasked), "needed": needed}))
    for name, correlation in figures.separability.items():
        if correlation > settings.inseparable:
            causes.append(Reason("inseparable", {"other": name, "correlation": correlation}))
    if _t(figures) < -limit:
        causes.append(_amount("negative-amount", figures))
    doubts = _doubts(figures, settings) if found and len(unmasked) >= needed else []
    unmistakable = found and _unmistakable(figures, limit, settings)
    if figures.misfits and not unmistakable and not _explained(figures, doubts):
        causes.append(Reason("bare-set-differs", {"regions": _regions(figures.misfits)}))
    if not found and not causes and (figures.detectable_amount or 0.0) > settings.worth:
        causes.append(_amount("not-sensitive", figures))
    return (*causes, *doubts)


def _explained(figures: Presence, doubts: Sequence[Reason]) -> bool:
    """Tell whether coating bands that disagree account for every misfit: the bare set is not to blame."""
    return any(doubt.code == "pattern-differs" for doubt in doubts) and all(
        any(band.low <= 0.5 * (misfit.low + misfit.high) <= band.high for band in figures.band_evidence)
        for misfit in figures.misfits
    )


def _doubts(figures: Presence, settings: PresenceSettings) -> list[Reason]:
    """Say what speaks against a joint amount above its critical value."""
    doubts = []
    supporting = [band for band in figures.band_evidence if band.supports]
    if len(supporting) < settings.bands.needed:
        code = "rests-on-one-band" if supporting else "no-band-alone"
        doubts.append(_bands(code, figures, settings))
    alpha = settings.bands.pattern_alpha
    if figures.pattern_p is not None and figures.pattern_p < alpha:
        doubts.append(Reason("pattern-differs", {"p_value": figures.pattern_p, "alpha": alpha}))
    return doubts


def _unmistakable(figures: Presence, limit: float, settings: PresenceSettings) -> bool:
    """Far above critical even with the misfit counted as scatter, pattern right, most bands found."""
    unmasked = [band for band in figures.band_evidence if not band.masked]
    supporting = [band for band in unmasked if band.supports]
    return (
        _t(figures) > settings.unmistakable * limit * misfit_growth(figures)
        and figures.pattern_p is not None
        and figures.pattern_p >= settings.bands.pattern_alpha
        and 2 * len(supporting) > len(unmasked)
    )


def _notes(bare: tuple[int, int], settings: PresenceSettings) -> tuple[Reason, ...]:
    """Cautions that hold whatever the verdict."""
    units, specimens = bare
    notes = []
    if units < settings.few_bare:
        notes.append(Reason("few-bare", {"found": units, "wanted": settings.few_bare}))
    if specimens == 1:
        notes.append(Reason("one-bare-specimen", {"spots": units}))
    return tuple(notes)


def _amount(code: str, figures: Presence) -> Reason:
    """Reason that rests on the joint amount."""
    values = {
        "amount": figures.amount,
        "critical": figures.critical_amount,
        "detectable": figures.detectable_amount,
        "t": figures.evidence,
        "p_value": figures.p_value,
    }
    return Reason(code, values)


def _bands(code: str, figures: Presence, settings: PresenceSettings) -> Reason:
    """Reason that rests on single bands."""
    return Reason(
        code,
        {
            "found": [band.position for band in figures.band_evidence if band.supports],
            "looked_at": sum(not band.masked for band in figures.band_evidence),
            "masked": sum(band.masked for band in figures.band_evidence),
            "needed": settings.bands.needed,
        },
    )


def _regions(misfits: Sequence[Misfit]) -> list[tuple[float, float]]:
    """Stretches of the worst misfits, worst first, three at most."""
    return [(misfit.low, misfit.high) for misfit in misfits[:3]]


def remedies_of(causes: Sequence[Reason]) -> tuple[Reason, ...]:
    """One remedy for each cause, with the values its sentence needs."""
    remedies: dict[str, Reason] = {}
    for cause in causes:
        code = REMEDIES[cause.code]
        remedies.setdefault(code, Reason(code, {"cause": cause.code, **cause.values}))
    return tuple(remedies.values())


# Cause of a "cannot tell" to the code of its remedy.
REMEDIES = {
    "too-few-bare": "measure-bare-spots",
    "no-bands": "measure-neat-again",
    "bands-masked": "other-crystal-or-region",
    "inseparable": "leave-one-coating-out",
    "negative-amount": "measure-bare-alike",
    "bare-set-differs": "measure-bare-alike",
    "rests-on-one-band": "measure-more-spots",
    "no-band-alone": "measure-more-spots",
    "pattern-differs": "look-at-residual",
    "not-sensitive": "measure-more-spots",
    "layer-differs": "look-at-residual",
}
