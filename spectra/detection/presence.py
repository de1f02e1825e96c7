"""Is the coating there, how sure, and what would have been missed.

The coated spots are set against bare substrate plus coatings, in the metric of what bare spots do by
themselves (:mod:`spectra.variation.model`). All coatings of the sample are fitted together; the error comes
from the model, widened by how left-out bare spots came out (:mod:`spectra.detection.capability`); then every
band is asked alone (:mod:`spectra.detection.bands`), the residual is compared with the bare spots' own
(:mod:`spectra.detection.lack_of_fit`), and the rule is applied (:mod:`spectra.detection.rule`).

The shape looked for is that of a thin unchanged film; where the film fit (:mod:`spectra.filmfit`) recognised
the coating, it is the film as fitted: at its thickness, with its bands where they stand.

Specimens are the unit of replication: spots are averaged on their specimen first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from spectra.decision import DecisionSettings
from spectra.detection.bands import judge_bands, pattern_chance, rule_detectable
from spectra.detection.capability import Sample, Yardstick, amount_weights, average_sample, set_yardstick
from spectra.detection.lack_of_fit import find_misfits
from spectra.detection.least_squares import fit_shapes
from spectra.detection.rule import REMEDIES, judge, misfit_growth
from spectra.detection.settings import PresenceSettings
from spectra.findings import CANNOT_TELL, PRESENT, Presence, Reason
from spectra.optics.shape import Shape
from spectra.spectrum import Stack
from spectra.statistics import critical_factor, detectable_factor, exceedance, variance_ratio_exceedance
from spectra.variation.model import Variation

FEWEST_BARE = 2


@dataclass(frozen=True)
class Rules:
    """The error rates and the settings a verdict of presence is formed with."""

    decision: DecisionSettings
    presence: PresenceSettings


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
    if yardstick is None:
        yardstick = yardstick_for(shapes, variation, settings)
    sample = average_sample(coated, variation)
    rules = Rules(decision, settings)
    return {
        name: _with_cautions(_judge(i, sample, variation, yardstick, shapes[name], rules))
        for i, name in enumerate(shapes)
    }


def yardstick_for(shapes: Mapping[str, Shape], variation: Variation, settings: PresenceSettings) -> Yardstick:
    """Find how well each shape can be seen on this substrate."""
    curves = {name: variation.reduction.apply(shape.curve) for name, shape in shapes.items()}
    return set_yardstick(variation, curves, settings)


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
    i: int, sample: Sample, variation: Variation, yardstick: Yardstick, shape: Shape, rules: Rules
) -> Presence:
    """Form the figures of coating ``i`` and apply the rule."""
    figures = _measure(i, sample, variation, yardstick, shape, rules)
    judgement = judge(
        figures, rules.decision, rules.presence, (len(variation), len(set(variation.specimens)))
    )
    figures = replace(
        figures, verdict=judgement.verdict, reasons=judgement.reasons, remedies=judgement.remedies
    )
    low, high = _interval(i, figures, sample, variation, yardstick, rules.presence)
    if figures.verdict == PRESENT and low <= 0.0 and figures.amount:
        # What is there is not nothing: the interval is taken on the logarithm.
        factor = float(np.exp((high - figures.amount) / figures.amount))
        low, high = figures.amount / factor, figures.amount * factor
    return _with_lengths(
        replace(figures, amount_low=low, amount_high=high),
        shape,
        sample,
        yardstick,
        yardstick.widenings[i].degrees,
    )


def _measure(
    i: int, sample: Sample, variation: Variation, yardstick: Yardstick, shape: Shape, rules: Rules
) -> Presence:
    """Form the figures of coating ``i``; the verdict is still open."""
    decision, settings = rules.decision, rules.presence
    alpha, power = decision.alpha, decision.power
    widening, model = yardstick.widenings[i], yardstick.bands[i]
    fit = fit_shapes(yardstick.basis, yardstick.shapes, sample.mean)
    amount = float(fit.amounts[0, i])
    modelled = float(yardstick.errors[i] * np.sqrt(sample.variance))
    error = modelled * widening.factor
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
    return Presence(
        CANNOT_TELL, (), amount, None, None,
        error * critical_factor(alpha, widening.degrees), detectable,
        float(exceedance(np.array(amount / error), widening.degrees)), sample.spots, len(sample.reduced),
        evidence=amount / error, degrees=widening.degrees, widening=widening.factor,
        chi_square=float(np.mean(fit.residuals[0] ** 2) / sample.variance),
        pattern_p=pattern_chance(model, yardstick.basis, sample.mean, sample.variance, shape.tolerance),
        separability=_separability(i, yardstick),
        band_evidence=judge_bands(
            model, yardstick.basis, sample.mean, sample.variance, settings.bands.alpha, power
        ),
        misfits=misfits, confidence=settings.interval,
    )  # fmt: skip


def _separability(i: int, yardstick: Yardstick) -> dict[str, float]:
    """Return the size of the correlation with every other coating."""
    return {name: float(abs(yardstick.correlation[i, k])) for k, name in enumerate(yardstick.names) if k != i}


def _interval(
    i: int,
    figures: Presence,
    sample: Sample,
    variation: Variation,
    yardstick: Yardstick,
    settings: PresenceSettings,
) -> tuple[float, float]:
    """Interval of the mean amount: the bare spots' scatter, or the specimens' own where it is larger.

    Where the sample does not fit, the misfit counts as scatter: it may hold part of the amount.
    """
    widening = yardstick.widenings[i]
    growth = misfit_growth(figures) if figures.misfits else 1.0
    unit = (yardstick.errors[i] * widening.factor * growth) ** 2
    own, degrees = unit * sample.own, widening.degrees
    count, amount = len(sample.reduced), figures.amount or 0.0
    if count > 1:
        scatter = float(np.var(sample.reduced @ amount_weights(variation, yardstick)[i], ddof=1)) / count
        ratio = scatter / own
        if float(variance_ratio_exceedance(ratio, count - 1, degrees)) < settings.uneven:
            own, degrees = scatter, float(count - 1)
    half = critical_factor((1.0 - settings.interval) / 2.0, degrees) * float(
        np.sqrt(own + unit * sample.bare)
    )
    return amount - half, amount + half


def _with_lengths(
    figures: Presence, shape: Shape, sample: Sample, yardstick: Yardstick, degrees: float
) -> Presence:
    """Give the same in nm where the geometry is known; a length is never negative.

    Where nothing is left of the low end, the high end alone is given: "below".
    """
    scale = shape.nm_per_amount
    if scale is None or figures.amount is None or figures.amount_low is None or figures.amount_high is None:
        return figures
    nm = figures.amount * scale
    reach = critical_factor((1.0 - (figures.confidence or 0.95)) / 2.0, degrees)
    # The contact of a thin film is not fitted along: the bare spots' scatter of it counts.
    contact = yardstick.contact_scatter * np.sqrt(sample.bare + sample.own)
    unknown = abs(nm) * float(np.hypot(reach * contact, EVEN_END * shape.contact_error))
    below = float(np.hypot((figures.amount - figures.amount_low) * scale, unknown))
    above = float(np.hypot((figures.amount_high - figures.amount) * scale, unknown))
    critical, detectable = (
        (figures.critical_amount or 0.0) * scale,
        (figures.detectable_amount or 0.0) * scale,
    )
    least = critical * 1e-3
    known = nm - below > 0.0
    if not known and figures.verdict == PRESENT:
        below, known = nm - nm * nm / (nm + above), True
    return replace(
        figures,
        thickness_nm=nm if known else None,
        thickness_low_nm=nm - below if known else None,
        thickness_high_nm=max(nm + above, least),
        critical_nm=critical,
        detectable_nm=detectable,
    )


# End of the middle 95 % of an even prior, in its standard deviations.
EVEN_END = 0.95 * float(np.sqrt(3.0))
