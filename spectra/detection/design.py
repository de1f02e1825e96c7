"""Before measuring: whether infrared can see this coating here, with which bands and how many spots.

All from bare and neat spectra, by the same model as the decision. A design is so many bare specimens and so
many coated ones with so many spots each; its detectable amount follows from the errors found on the bare
spots at hand. Another crystal is judged by scaling the substrate's spectrum to it, with the detector's noise
left as it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from spectra.decision import DecisionSettings
from spectra.detection.bands import BandModel, rule_detectable
from spectra.detection.capability import Yardstick, set_yardstick
from spectra.detection.least_squares import Widening, fit_shapes, specimen_variance
from spectra.detection.settings import PlanSettings, PresenceSettings
from spectra.optics.shape import Shape
from spectra.statistics import critical_factor, detectable_factor
from spectra.units import FloatArray
from spectra.variation.derived import rescale
from spectra.variation.model import Variation


@dataclass(frozen=True)
class Design:
    """So many bare and coated specimens, and what they find; ``detectable`` in units of the neat spectrum."""

    bare: int
    specimens: int
    spots: int
    detectable: float


@dataclass(frozen=True)
class PlannedBand:
    """One coating band on this substrate.

    Attributes
    ----------
    position, low, high
        cm-1.
    masked
        Useless beside the joint amount.
    detectable
        Amount found by this band alone, with the design at hand.
    margin_amount
        Amount from which on a position inside the margin can be shown to be unchanged.
    """

    position: float
    low: float
    high: float
    masked: bool
    detectable: float
    margin_amount: float


@dataclass(frozen=True)
class Plan:
    """What can be expected for one coating.

    Attributes
    ----------
    design : Design
        The one asked about, with the bare specimens at hand.
    bands : tuple of PlannedBand
        By falling wavenumber.
    needed : Design or None
        Fewest specimens that reach the wanted amount; None if not asked for or out of reach.
    nm_per_amount : float or None
        Turns every amount into a thickness.
    alternatives : mapping of str to float
        Detectable thickness in nm with the same design on other crystals.
    """

    design: Design
    bands: tuple[PlannedBand, ...]
    needed: Design | None
    nm_per_amount: float | None
    alternatives: Mapping[str, float]


@dataclass(frozen=True, eq=False)
class Alternative:
    """Another crystal: the shape of the coating on it, and the substrate's spectrum over the present one."""

    shape: Shape
    ratio: FloatArray


def plan_measurement(
    variation: Variation,
    shapes: Mapping[str, Shape],
    decision: DecisionSettings,
    presence: PresenceSettings,
    settings: PlanSettings,
    wanted: float | None = None,
    alternatives: Mapping[str, Mapping[str, Alternative]] | None = None,
) -> dict[str, Plan]:
    """Say for every coating what a design can find.

    Parameters
    ----------
    variation : Variation
        Learned from the bare spots at hand.
    shapes : mapping of str to Shape
    decision : DecisionSettings
        ``alpha``, ``power`` and the position ``margin`` in cm-1.
    presence : PresenceSettings
    settings : PlanSettings
    wanted : float, optional
        Amount that is to be found.
    alternatives : mapping of coating to mapping of crystal to Alternative, optional

    Returns
    -------
    dict of str to Plan
    """
    curves = {name: variation.reduction.apply(shape.curve) for name, shape in shapes.items()}
    yardstick = set_yardstick(variation, curves, presence)
    plans = {}
    for i, (name, shape) in enumerate(shapes.items()):
        design = _design(i, variation, yardstick, decision, presence, len(variation.units), settings)
        others = {
            crystal: _on_other_crystal(other, variation, decision, presence, settings)
            for crystal, other in (alternatives or {}).get(name, {}).items()
        }
        needed = (
            None if wanted is None else _fewest(i, variation, yardstick, decision, presence, settings, wanted)
        )
        bands = _bands(i, variation, yardstick, decision, presence, settings)
        plans[name] = Plan(design, bands, needed, shape.nm_per_amount, others)
    return plans


def _variance(variation: Variation, bare: int, settings: PlanSettings, specimens: int) -> float:
    """Variance of the sample's mean against the bare mean of a design, in units of one spot's."""
    return specimen_variance(settings.spots, variation) / specimens + 1.0 / bare


def _widening(now: Widening, variation: Variation, presence: PresenceSettings, bare: int) -> Widening:
    """Keep the factor, with the degrees of freedom of another number of bare specimens."""
    if bare == len(variation.units):
        return now
    return Widening(now.factor, presence.trust * (bare - 1) + bare)


def _design(
    i: int,
    variation: Variation,
    yardstick: Yardstick,
    decision: DecisionSettings,
    presence: PresenceSettings,
    bare: int,
    settings: PlanSettings,
    specimens: int | None = None,
) -> Design:
    """Find the detectable amount of one design."""
    count = specimens or settings.specimens
    variance = _variance(variation, bare, settings, count)
    widening = _widening(yardstick.widenings[i], variation, presence, bare)
    error = float(yardstick.errors[i] * np.sqrt(variance))
    joint = error * widening.factor * detectable_factor(decision.alpha, decision.power, widening.degrees)
    rule = rule_detectable(
        yardstick.bands[i], yardstick.basis, widening, error, variance, decision.alpha, decision.power,
        presence.bands,
    )  # fmt: skip
    return Design(bare, count, settings.spots, max(joint, rule))


def _fewest(
    i: int,
    variation: Variation,
    yardstick: Yardstick,
    decision: DecisionSettings,
    presence: PresenceSettings,
    settings: PlanSettings,
    wanted: float,
) -> Design | None:
    """Fewest specimens in all that reach the wanted amount, bare and coated together."""
    have = len(variation.units)
    for total in range(have + 1, settings.most_bare + settings.most_specimens + 1):
        reached = [
            design
            for bare in range(have, min(settings.most_bare, total - 1) + 1)
            if total - bare <= settings.most_specimens
            for design in [_design(i, variation, yardstick, decision, presence, bare, settings, total - bare)]
            if design.detectable <= wanted
        ]
        if reached:
            return min(reached, key=lambda design: design.detectable)
    return None


def _bands(
    i: int,
    variation: Variation,
    yardstick: Yardstick,
    decision: DecisionSettings,
    presence: PresenceSettings,
    settings: PlanSettings,
) -> tuple[PlannedBand, ...]:
    """Find what each band of the coating can show with the design at hand."""
    model = yardstick.bands[i]
    size = np.sqrt(_variance(variation, len(variation.units), settings, settings.specimens))
    amounts = _margin_amounts(model, variation, yardstick, decision, float(size))
    alpha = presence.bands.alpha
    bands = [
        PlannedBand(
            piece.position, piece.low, piece.high, masked,
            float(error * size * w.factor) * detectable_factor(alpha, decision.power, w.degrees),
            amount,
        )
        for piece, masked, error, w, amount in zip(
            model.pieces, model.masked, model.errors, model.widenings, amounts, strict=True
        )
    ]  # fmt: skip
    return tuple(sorted(bands, key=lambda band: -band.position))


def _margin_amounts(
    model: BandModel, variation: Variation, yardstick: Yardstick, decision: DecisionSettings, size: float
) -> list[float]:
    """Amount at which each band's position is known well enough for the margin.

    A band that moves by d changes the spectrum by -d times its slope, so its position at unit amount has the
    error of that slope's height. Two one-sided tests with the wanted power need the margin to be the sum of
    both t factors times the error.
    """
    points = variation.reduction.points
    amounts = []
    for k, (piece, widening) in enumerate(zip(model.pieces, model.widenings, strict=True)):
        moved = variation.whiten(np.gradient(piece.curve, points)[None, :])
        fit = fit_shapes(yardstick.basis, np.vstack([moved, model.shapes]), moved)
        error = float(np.sqrt(fit.covariance[0, 0])) * widening.factor * size
        reach = critical_factor(decision.alpha, widening.degrees)
        reach += critical_factor((1.0 - decision.power) / 2.0, widening.degrees)
        amounts.append(reach * error / decision.margin if model.errors[k] > 0.0 else float("inf"))
    return amounts


def _on_other_crystal(
    other: Alternative,
    variation: Variation,
    decision: DecisionSettings,
    presence: PresenceSettings,
    settings: PlanSettings,
) -> float:
    """Find the detectable thickness on another crystal, nm."""
    moved = rescale(variation, variation.reduction.apply(other.ratio))
    curve = variation.reduction.apply(other.shape.curve)
    yardstick = set_yardstick(moved, {"coating": curve}, presence)
    design = _design(0, moved, yardstick, decision, presence, len(moved.units), settings)
    return design.detectable * (other.shape.nm_per_amount or float("nan"))
