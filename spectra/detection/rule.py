"""The rule of presence: from the figures of one coating on one sample to a verdict with its reasons.

``present`` takes four things: the joint amount above its critical value; then enough bands found on their
own (the joint test guards the error rate, so the bands have one of their own); band amounts that agree with
the coating's pattern; and a bare set that represents the sample's substrate. The last may be missing when the
coating is unmistakable. ``not shown`` takes a bare set that represents the substrate and an amount below the
critical value. Everything else is ``cannot tell``, with a cause and a remedy for each.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from spectra.findings import CANNOT_TELL, NOT_SHOWN, PRESENT, BandSupport, Misfit, Reason


@dataclass(frozen=True)
class Figures:
    """What the rule looks at.

    Attributes
    ----------
    amount, critical, detectable : float
    t, critical_t : float
        Amount and critical amount in units of the widened error.
    p_value : float
    bands : tuple of BandSupport
    needed : int
        Bands that must be found on their own.
    pattern_p : float or None
    pattern_alpha : float
    misfits : tuple of Misfit
    misfit_growth : float
        Factor on the error if the misfit were scatter like any other.
    separability : mapping of str to float
    inseparable : float
        Correlation from which on two coatings cannot be told apart.
    bare, bare_specimens : int
        Spots and specimens of the bare set.
    """

    amount: float
    critical: float
    detectable: float
    t: float
    critical_t: float
    p_value: float
    bands: tuple[BandSupport, ...]
    needed: int
    pattern_p: float | None
    pattern_alpha: float
    misfits: tuple[Misfit, ...]
    misfit_growth: float
    separability: Mapping[str, float]
    inseparable: float
    bare: int
    bare_specimens: int


@dataclass(frozen=True)
class Judgement:
    """Verdict, its reasons in order of weight, and a remedy for every cause of a ``cannot tell``."""

    verdict: str
    reasons: tuple[Reason, ...]
    remedies: tuple[Reason, ...] = ()


FEW_BARE = 5  # spots below which the verdict says how weak the yardstick is

UNMISTAKABLE = 3.0  # times the critical value, after the misfit is counted as scatter


def judge(figures: Figures) -> Judgement:
    """Apply the rule.

    Parameters
    ----------
    figures : Figures

    Returns
    -------
    Judgement
    """
    causes = _causes(figures)
    notes = _notes(figures)
    if causes:
        return Judgement(CANNOT_TELL, (*causes, *notes), _remedies(causes))
    if figures.t > figures.critical_t:
        grounds = [_amount("amount-above-critical", figures), _bands("bands-found", figures)]
        if figures.pattern_p is not None:
            grounds.append(Reason("pattern-agrees", {"p_value": figures.pattern_p}))
        if figures.misfits:
            grounds.append(Reason("unmistakable", {"regions": _regions(figures.misfits)}))
        return Judgement(PRESENT, (*grounds, *notes))
    return Judgement(NOT_SHOWN, (_amount("amount-below-critical", figures), *notes))


def _causes(figures: Figures) -> tuple[Reason, ...]:
    """Causes of a ``cannot tell``; none leaves a plain verdict."""
    found = figures.t > figures.critical_t
    causes = []
    unmasked = [band for band in figures.bands if not band.masked]
    if len(unmasked) < figures.needed:
        code = "bands-masked" if figures.bands else "no-bands"
        values = {"masked": [b.position for b in figures.bands if b.masked], "unmasked": len(unmasked)}
        causes.append(Reason(code, {**values, "needed": figures.needed}))
    for name, correlation in figures.separability.items():
        if correlation > figures.inseparable:
            causes.append(Reason("inseparable", {"other": name, "correlation": correlation}))
    if figures.t < -figures.critical_t:
        causes.append(_amount("negative-amount", figures))
    doubts = _doubts(figures) if found and len(unmasked) >= figures.needed else []
    if figures.misfits and not (found and _unmistakable(figures)) and not _explained(figures, doubts):
        causes.append(Reason("bare-set-differs", {"regions": _regions(figures.misfits)}))
    return (*causes, *doubts)


def _explained(figures: Figures, doubts: Sequence[Reason]) -> bool:
    """Tell whether coating bands that disagree account for every misfit: the bare set is not to blame."""
    return any(doubt.code == "pattern-differs" for doubt in doubts) and all(
        any(band.low <= 0.5 * (misfit.low + misfit.high) <= band.high for band in figures.bands)
        for misfit in figures.misfits
    )


def _doubts(figures: Figures) -> list[Reason]:
    """Say what speaks against a joint amount above its critical value."""
    doubts = []
    supporting = [band for band in figures.bands if band.supports]
    if len(supporting) < figures.needed:
        doubts.append(_bands("rests-on-one-band" if supporting else "no-band-alone", figures))
    if figures.pattern_p is not None and figures.pattern_p < figures.pattern_alpha:
        doubts.append(
            Reason("pattern-differs", {"p_value": figures.pattern_p, "alpha": figures.pattern_alpha})
        )
    return doubts


def _unmistakable(figures: Figures) -> bool:
    """Far above critical even with the misfit counted as scatter, pattern right, most bands found."""
    unmasked = [band for band in figures.bands if not band.masked]
    supporting = [band for band in unmasked if band.supports]
    return (
        figures.t > UNMISTAKABLE * figures.critical_t * figures.misfit_growth
        and figures.pattern_p is not None
        and figures.pattern_p >= figures.pattern_alpha
        and 2 * len(supporting) > len(unmasked)
    )


def _notes(figures: Figures) -> tuple[Reason, ...]:
    """Cautions that hold whatever the verdict."""
    notes = []
    if figures.bare < FEW_BARE:
        notes.append(Reason("few-bare", {"found": figures.bare, "wanted": FEW_BARE}))
    if figures.bare_specimens == 1:
        notes.append(Reason("one-bare-specimen", {"spots": figures.bare}))
    return tuple(notes)


def _amount(code: str, figures: Figures) -> Reason:
    """Reason that rests on the joint amount."""
    names = ("amount", "critical", "detectable", "t", "p_value")
    return Reason(code, {name: getattr(figures, name) for name in names})


def _bands(code: str, figures: Figures) -> Reason:
    """Reason that rests on single bands."""
    return Reason(
        code,
        {
            "found": [band.position for band in figures.bands if band.supports],
            "looked_at": sum(not band.masked for band in figures.bands),
            "masked": sum(band.masked for band in figures.bands),
            "needed": figures.needed,
        },
    )


def _regions(misfits: Sequence[Misfit]) -> list[tuple[float, float]]:
    """Stretches of the worst misfits, worst first, three at most."""
    return [(misfit.low, misfit.high) for misfit in misfits[:3]]


def _remedies(causes: Sequence[Reason]) -> tuple[Reason, ...]:
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
}
