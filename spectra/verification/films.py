"""The films of one sample: every coating fitted, recognised or not, and what presence follows from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from spectra.detection.capability import Sample, Yardstick, average_sample
from spectra.detection.film import fitted_shape, recognised, specimen_scatter
from spectra.detection.identity import Identity, foreign, identify, judge_layer
from spectra.detection.presence import decide_presence, yardstick_for
from spectra.filmfit.account import Account, Excess, account_for, measure_excess
from spectra.findings import Layer, Presence
from spectra.groups import Group
from spectra.optics.blend import lost_part
from spectra.optics.prediction import Prediction, at_thickness
from spectra.optics.shape import Shape
from spectra.peaks.reference import Reference
from spectra.spectrum import Stack
from spectra.study.settings import Settings
from spectra.units import FloatArray
from spectra.variation.model import Variation, nuisance_basis
from spectra.variation.subspace import project_out
from spectra.verification.model import StudyModel


@dataclass(frozen=True, eq=False)
class Measured:
    """One sample's spectra.

    Attributes
    ----------
    group : Group
        As the study describes it.
    raw, levelled : Stack
        Its spots as measured, and after baseline and normalising.
    """

    group: Group
    raw: Stack
    levelled: Stack


@dataclass(frozen=True, eq=False)
class Films:
    """What the joint model says of one sample.

    Attributes
    ----------
    measured : Measured
    sample : Sample
        Spots averaged on their specimens, on the points of the film fit.
    variation : Variation
        On the points presence is decided on.
    coarse : Variation
        On the points of the film fit.
    layer : Layer
    accounts : mapping of coating to Account
        Where something is there to be fitted.
    identities : mapping of coating to Identity
    presence : mapping of coating to Presence
    shapes : mapping of coating to Shape
        As fitted where the coating was recognised, else of the unchanged thin film.
    yardstick : Yardstick
        For these shapes: amounts of sample, specimen and spot come from it.
    references : mapping of coating to Reference
        Bands of the neat spectrum with their places at the thickness found.
    """

    measured: Measured
    sample: Sample
    variation: Variation
    coarse: Variation
    layer: Layer
    accounts: Mapping[str, Account]
    identities: Mapping[str, Identity]
    presence: Mapping[str, Presence]
    shapes: Mapping[str, Shape]
    yardstick: Yardstick
    references: Mapping[str, Reference]

    @property
    def named(self) -> tuple[str, ...]:
        """Coatings that were recognised."""
        return tuple(name for name, identity in self.identities.items() if identity.named)

    def curve_of(self, name: str, grid: FloatArray) -> FloatArray:
        """Return what a coating contributes to the difference of coated and bare, shape (n,), absorbance."""
        if name in self.named:
            return np.asarray(np.interp(grid, self.points, self.accounts[name].curve))
        return np.asarray((self.presence[name].amount or 0.0) * self.shapes[name].curve)

    def amount_of(self, name: str) -> float:
        """Amount of a coating, neat = 1; zero where nothing is known."""
        return max(self.presence[name].amount or 0.0, 0.0)

    @property
    def points(self) -> FloatArray:
        """Points of the model, cm-1."""
        return self.coarse.reduction.points

    def difference(self, grid: FloatArray) -> FloatArray:
        """Mean coated minus mean bare, contact, baseline and gases taken off as fitted, shape (n,)."""
        if self.named:
            curves = [self.accounts[name].curve for name in self.named[1:]]
            total = self.accounts[self.named[0]].difference + np.sum(curves, axis=0)
            return np.asarray(np.interp(grid, self.points, total))
        rest = project_out(nuisance_basis(self.coarse), self.sample.mean)[0]
        return np.asarray(np.interp(grid, self.points, self.coarse.factor @ rest))


def fit_films(
    measured: Measured, settings: Settings, model: StudyModel, beside: FloatArray | None = None
) -> Films:
    """Fit every coating of a sample and decide on layer and presence.

    Parameters
    ----------
    measured : Measured
    settings : Settings
    model : StudyModel
        With a variation.
    beside : ndarray, shape (m, r), optional
        Bands on the model's points that may stand there at any height: those of suspected residues.
    """
    variation, coarse, group = model.variation, model.coarse, measured.group
    if variation is None or coarse is None:
        raise TypeError("fit_films needs a variation")  # a fault of the caller, not of the data
    predictions = {name: model.predictions[name, group.technique] for name in group.coatings}
    shapes = {name: prediction.shape for name, prediction in predictions.items()}
    yardstick = model.yardsticks[group.technique, tuple(group.coatings)]
    rules = (settings.decision, settings.presence)
    plain = decide_presence(measured.raw, variation, shapes, *rules, yardstick)
    sample = average_sample(measured.raw, coarse)
    excess = measure_excess(model.grounds[group.technique], sample.reduced.mean(axis=0), sample.variance)
    rows = np.zeros((0, coarse.reduction.points.size)) if beside is None else beside
    accounts = _accounts(plain, sample, (excess, yardstick), settings, (measured, model), rows)
    identities = {name: identify(account, settings.presence.identity) for name, account in accounts.items()}
    fitted = {
        name: fitted_shape(shape, accounts[name], coarse, measured.raw.grid)
        if name in identities and identities[name].named
        else shape
        for name, shape in shapes.items()
    }
    presence = dict(plain)
    if any(identity.named for identity in identities.values()):
        yardstick = yardstick_for(fitted, variation, settings.presence)
        presence = decide_presence(measured.raw, variation, fitted, *rules, yardstick)
    plainly = excess.p_value < settings.presence.identity.layer_alpha
    for name, identity in identities.items():
        if identity.named:
            presence[name] = recognised(presence[name], accounts[name], identity, shapes[name], *rules)
        elif plainly:
            presence[name] = foreign(plain[name], accounts[name], settings.presence.identity)
    layer = judge_layer(excess, presence, settings.presence.identity)
    references = {name: _reference(presence[name], predictions[name]) for name in group.coatings}
    return Films(
        measured,
        sample,
        variation,
        coarse,
        layer,
        accounts,
        identities,
        presence,
        fitted,
        yardstick,
        references,
    )


def _accounts(
    plain: Mapping[str, Presence],
    sample: Sample,
    known: tuple[Excess, Yardstick],
    settings: Settings,
    where: tuple[Measured, StudyModel],
    beside: FloatArray,
) -> dict[str, Account]:
    """Fit the coatings for which there is something to be fitted."""
    (excess, yardstick), (measured, model) = known, where
    group = measured.group
    variation, coarse = model.variation, model.coarse
    found: dict[str, Account] = {}
    if variation is None or coarse is None:
        return found
    fine = average_sample(measured.raw, variation)
    for i, name in enumerate(group.coatings):
        film = model.films.get((name, group.technique))
        figures = plain[name]
        there = (figures.amount or 0.0) > (figures.critical_amount or 0.0)
        if film is None or not (there or excess.p_value < settings.presence.identity.layer_alpha):
            continue
        curves = [
            coarse.reduction.apply(model.predictions[other, group.technique].shape.curve)
            for other in group.coatings
            if other != name
        ]
        blended = model.predictions[name, group.technique].blended
        if blended is not None:
            curves.append(coarse.reduction.apply(lost_part(blended)))
        others = film.ground.clear(np.vstack([beside, *(curve[None] for curve in curves)]))
        scatter = specimen_scatter(i, fine, variation, yardstick, settings.presence.uneven)
        found[name] = account_for(
            replace(film, others=others),
            sample.reduced.mean(axis=0),
            sample.variance,
            excess,
            scatter,
            settings.presence.interval,
        )
    return found


def _reference(presence: Presence, prediction: Prediction) -> Reference:
    """Return the bands' places at the thickness found, if one was."""
    nm, low, high = presence.thickness_nm, presence.thickness_low_nm, presence.thickness_high_nm
    if nm is None or low is None or high is None:
        return prediction.reference
    return at_thickness(prediction, nm, max(low, 0.3 * nm), high)
