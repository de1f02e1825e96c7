"""Is the coating there, how sure, and what would have been missed.

The coated spots are set against bare substrate plus coatings, in the metric of what bare spots do by
themselves (:mod:`spectra.variation.model`). All coatings of the sample are fitted together; the error comes
from the model, widened by how left-out bare spots came out (:mod:`spectra.detection.capability`); then every
band is asked alone (:mod:`spectra.detection.bands`), the residual is compared with the bare spots' own
(:mod:`spectra.detection.lack_of_fit`), and the rule is applied (:mod:`spectra.detection.rule`).

Specimens are the unit of replication: spots are averaged on their specimen first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from spectra.decision import DecisionSettings
from spectra.detection.bands import judge_bands, pattern_chance, rule_detectable
from spectra.detection.capability import Sample, Yardstick, amount_weights, average_sample, set_yardstick
from spectra.detection.lack_of_fit import find_misfits
from spectra.detection.least_squares import Widening, fit_shapes
from spectra.detection.rule import REMEDIES, Figures, judge
from spectra.detection.settings import PresenceSettings
from spectra.detection.thickness import FilmFit, fit_film, from_attenuation
from spectra.findings import CANNOT_TELL, PRESENT, Misfit, Presence, Reason
from spectra.optics.shape import Shape
from spectra.spectrum import Stack
from spectra.statistics import critical_factor, detectable_factor, exceedance, variance_ratio_exceedance
from spectra.units import FloatArray
from spectra.variation.model import Variation

FEWEST_BARE = 2

LINEAR_NM = 20.0  # thicker films are fitted by the full stack: they are no longer linear


def decide_presence(
    coated: Stack,
    variation: Variation | None,
    shapes: Mapping[str, Shape],
    decision: DecisionSettings,
    settings: PresenceSettings,
    yardstick: Yardstick | None = None,
) -> dict[str, Presence]:
    """Decide for every coating whether it is on the sample.

    Parameters
    ----------
    coated : Stack
        Spots of one sample, raw absorbance on the common grid of the bare set.
    variation : Variation or None
        None with fewer than two bare spots: every verdict is ``cannot tell``.
    shapes : mapping of str to Shape
        Expected shape of every coating of the sample.
    decision : DecisionSettings
        ``alpha`` and ``power``.
    settings : PresenceSettings
    yardstick : Yardstick, optional
        From :func:`set_yardstick` for the same shapes; formed here if not given.

    Returns
    -------
    dict of str to Presence
    """
    if variation is None:
        return {name: _too_few_bare(coated) for name in shapes}
    curves = {name: variation.reduction.apply(shape.curve) for name, shape in shapes.items()}
    yardstick = yardstick or set_yardstick(variation, curves, settings)
    sample = average_sample(coated, variation)
    found = {
        name: _judge(i, sample, variation, yardstick, shapes[name], None, decision, settings)
        for i, name in enumerate(shapes)
    }
    found = _with_films(found, sample, variation, yardstick, shapes, curves, decision, settings)
    return {name: _with_cautions(presence) for name, presence in found.items()}


def _with_cautions(presence: Presence) -> Presence:
    """Say where the sample is one piece only, and take back what would be said of another material."""
    if presence.specimens == 1:
        one = Reason("few-specimens", {"found": 1})
        presence = replace(presence, reasons=(*presence.reasons, one))
    return _without_doubtful_lengths(presence)


def _without_doubtful_lengths(presence: Presence) -> Presence:
    """Take a thickness away where the bands do not show the coating's pattern: it would be another's."""
    if not any(reason.code == "pattern-differs" for reason in presence.reasons):
        return presence
    return replace(presence, thickness_nm=None, thickness_low_nm=None, thickness_high_nm=None)


def _too_few_bare(coated: Stack) -> Presence:
    """Verdict without a yardstick."""
    cause = Reason("too-few-bare", {"needed": FEWEST_BARE})
    remedy = Reason(REMEDIES["too-few-bare"], {"cause": cause.code, **cause.values})
    pieces = len(set(coated.specimens))
    return Presence(
        CANNOT_TELL, (cause,), None, None, None, None, None, None, len(coated), pieces, remedies=(remedy,)
    )


def _judge(
    i: int,
    sample: Sample,
    variation: Variation,
    yardstick: Yardstick,
    shape: Shape,
    film: FilmFit | None,
    decision: DecisionSettings,
    settings: PresenceSettings,
) -> Presence:
    """Form the figures of coating ``i`` and apply the rule."""
    alpha, power = decision.alpha, decision.power
    widening, model = yardstick.widenings[i], yardstick.bands[i]
    fit = fit_shapes(yardstick.basis, yardstick.shapes, sample.mean)
    amount = float(fit.amounts[0, i])
    modelled = float(yardstick.errors[i] * np.sqrt(sample.variance))
    error = modelled * widening.factor
    bands = judge_bands(model, yardstick.basis, sample.mean, sample.variance, settings.bands.alpha, power)
    chance = pattern_chance(model, yardstick.basis, sample.mean, sample.variance, shape.tolerance)
    detectable = max(
        error * detectable_factor(alpha, power, widening.degrees),
        rule_detectable(
            model, yardstick.basis, widening, modelled, sample.variance, alpha, power, settings.bands
        ),
    )
    misfits = find_misfits(
        variation,
        fit.residuals[0],
        sample.variance,
        yardstick.left_out,
        yardstick.prior_degrees,
        settings.misfit,
    )
    chi_square = float(np.mean(fit.residuals[0] ** 2) / sample.variance)
    limit = critical_factor(alpha, widening.degrees)
    t = amount / error
    p_value = float(exceedance(np.array(t), widening.degrees))
    growth = _growth(misfits, chi_square)
    figures = Figures(
        amount, error * limit, detectable, t, limit, p_value,
        bands, settings.bands.needed, chance, settings.bands.pattern_alpha, misfits, growth,
        _separability(i, yardstick), settings.inseparable, len(variation), len(set(variation.specimens)),
    )  # fmt: skip
    judgement = judge(figures)
    low, high = _interval(i, amount, sample, variation, yardstick, growth if misfits else 1.0, settings)
    return replace(
        Presence(
            judgement.verdict, judgement.reasons, amount, low, high, figures.critical, detectable,
            figures.p_value, sample.spots, len(sample.reduced),
        ),
        remedies=judgement.remedies, evidence=t, degrees=widening.degrees, widening=widening.factor,
        chi_square=chi_square, pattern_p=chance, separability=figures.separability, band_evidence=bands,
        misfits=misfits, confidence=settings.interval,
        **_lengths(amount, low, high, figures, shape, film, sample, yardstick, widening, settings.interval),
    )  # fmt: skip


def _growth(misfits: tuple[Misfit, ...], chi_square: float) -> float:
    """Factor on the error if a misfit were scatter like any other: the worst stretch, or the whole."""
    worst = max((misfit.ratio for misfit in misfits), default=1.0)
    return float(np.sqrt(max(1.0, chi_square, worst / 4.0)))


def _separability(i: int, yardstick: Yardstick) -> dict[str, float]:
    """Return the size of the correlation with every other coating."""
    return {name: float(abs(yardstick.correlation[i, k])) for k, name in enumerate(yardstick.names) if k != i}


def _interval(
    i: int,
    amount: float,
    sample: Sample,
    variation: Variation,
    yardstick: Yardstick,
    growth: float,
    settings: PresenceSettings,
) -> tuple[float, float]:
    """Interval of the mean amount: the bare spots' scatter, or the specimens' own where it is larger.

    Where the sample does not fit, the misfit counts as scatter: it may hold part of the amount.
    """
    widening = yardstick.widenings[i]
    unit = (yardstick.errors[i] * widening.factor * growth) ** 2
    own, degrees = unit * sample.own, widening.degrees
    count = len(sample.reduced)
    if count > 1:
        scatter = float(np.var(sample.reduced @ amount_weights(variation, yardstick)[i], ddof=1)) / count
        ratio = scatter / own
        if float(variance_ratio_exceedance(ratio, count - 1, degrees)) < settings.uneven:
            own, degrees = scatter, float(count - 1)
    half = critical_factor((1.0 - settings.interval) / 2.0, degrees) * float(
        np.sqrt(own + unit * sample.bare)
    )
    return amount - half, amount + half


def _lengths(
    amount: float,
    low: float,
    high: float,
    figures: Figures,
    shape: Shape,
    film: FilmFit | None,
    sample: Sample,
    yardstick: Yardstick,
    widening: Widening,
    interval: float,
) -> dict[str, Any]:
    """Give the same in nm where the geometry is known."""
    scale = shape.nm_per_amount
    if scale is None:
        return {}
    nm, below, above = amount * scale, (amount - low) * scale, (high - amount) * scale
    reach = critical_factor((1.0 - interval) / 2.0, widening.degrees)
    if film is not None:
        nm = film.nm
        below = above = reach * film.error_nm
    # The film's contact counts as the bare spots' mean; a thin film's own contact is not fitted along.
    contact = yardstick.contact_scatter * np.sqrt(sample.bare + (0.0 if film else sample.own))
    unknown = reach * nm * float(np.hypot(contact, 0.0 if film else shape.contact_error))
    below, above = float(np.hypot(below, unknown)), float(np.hypot(above, unknown))
    return {
        "thickness_nm": nm, "thickness_low_nm": nm - below, "thickness_high_nm": nm + above,
        "critical_nm": figures.critical * scale, "detectable_nm": figures.detectable * scale,
    }  # fmt: skip


def _with_films(
    found: dict[str, Presence],
    sample: Sample,
    variation: Variation,
    yardstick: Yardstick,
    shapes: Mapping[str, Shape],
    curves: Mapping[str, FloatArray],
    decision: DecisionSettings,
    settings: PresenceSettings,
) -> dict[str, Presence]:
    """Judge again, with the shape at their thickness, the coatings that are too thick to be linear."""
    limit = {name: critical_factor(decision.alpha, found[name].degrees or 1.0) for name in shapes}
    films: dict[str, FilmFit] = {}
    secants = dict(curves)
    for i, (name, shape) in enumerate(shapes.items()):
        presence = found[name]
        if shape.response is None or not shape.nm_per_amount or (presence.evidence or 0.0) <= limit[name]:
            continue
        if (presence.thickness_nm or 0.0) < LINEAR_NM:
            continue
        others = np.delete(yardstick.shapes, i, axis=0)
        film = fit_film(
            variation, yardstick.basis, sample.mean, others, shape, sample.variance, yardstick.widenings[i]
        )
        films[name] = film
        secants[name] = film.curve / (film.nm / shape.nm_per_amount)
    if films:
        thick = set_yardstick(variation, secants, settings)
        found = {
            name: _judge(i, sample, variation, thick, shapes[name], films.get(name), decision, settings)
            for i, name in enumerate(shapes)
        }
        yardstick = thick
    return {
        name: _with_attenuation(presence, sample, variation, yardstick, shapes[name], settings)
        for name, presence in found.items()
    }


def _with_attenuation(
    presence: Presence,
    sample: Sample,
    variation: Variation,
    yardstick: Yardstick,
    shape: Shape,
    settings: PresenceSettings,
) -> Presence:
    """Add the thickness from the substrate's weakening; say so where the two disagree."""
    if shape.depths is None or shape.own is None or presence.verdict != PRESENT or not presence.thickness_nm:
        return presence
    widening = next(iter(yardstick.widenings))
    own = variation.reduction.apply(shape.own(max(presence.thickness_nm, 1.0)))[None, :]
    nm, low, high = from_attenuation(
        variation, yardstick.basis, sample.mean, variation.whiten(own), shape.depths, sample.variance,
        widening, 1.0 - settings.interval,
    )  # fmt: skip
    reasons = presence.reasons
    below, above = presence.thickness_low_nm, presence.thickness_high_nm
    if below is not None and above is not None and (low > above or high < below):
        values = {"thickness_nm": presence.thickness_nm, "attenuation_nm": nm, "low": low, "high": high}
        reasons = (*reasons, Reason("attenuation-disagrees", values))
    return replace(
        presence, reasons=reasons, attenuation_nm=nm, attenuation_low_nm=low, attenuation_high_nm=high
    )
