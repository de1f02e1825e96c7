"""The outlook of a study: what could be seen, before a sample is measured (see ``detection.design``).

From bare and neat spectra alone: usable and masked bands, the detectable amount and thickness with the
crystal at hand and with others, the specimens needed for a wanted thickness, and whether the wanted position
margin can be decided.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np

from spectra.comparison.design import EvennessPlan, Measuring, plan_evenness
from spectra.comparison.forming import spot_error
from spectra.detection.design import Alternative, Plan, plan_measurement
from spectra.detection.presence import yardstick_for
from spectra.detection.settings import PlanSettings, PresenceSettings
from spectra.errors import SettingError, SpectraError
from spectra.groups import Instrument
from spectra.optics.atr import atr_absorbance
from spectra.optics.geometry import CRYSTALS, Geometry
from spectra.optics.material import Material, Unsolved
from spectra.optics.prediction import Prediction, Recorded, geometry_of, material_of, predict
from spectra.optics.shape import Shape
from spectra.peaks.reference import measure_reference
from spectra.study.records import Study
from spectra.study.settings import Settings
from spectra.units import FloatArray
from spectra.variation.model import Variation
from spectra.verification.belonging import find_apart
from spectra.verification.inputs import Progress
from spectra.verification.model import BARE, StudyModel, called, learn_study
from spectra.verification.preparation import Prepared, prepare
from spectra.verification.result import ApartFinding


@dataclass(frozen=True, eq=False)
class Outlook:
    """What can be expected of a measurement.

    Attributes
    ----------
    study : Study
    plans : mapping of coating name to Plan
    wanted_nm : float or None
        Thickness that was asked for.
    design : PlanSettings
    bare_units : int
        Bare specimens the plan rests on.
    evenness : mapping of str to EvennessPlan
        For a wanted variation, if one was asked for.
    apart : tuple of ApartFinding
        Bare and neat spectra that do not belong.
    alike : tuple of (coating, coating, correlation)
        Pairs that these spectra cannot tell apart.
    """

    study: Study
    plans: Mapping[str, Plan]
    wanted_nm: float | None
    design: PlanSettings
    bare_units: int
    evenness: Mapping[str, EvennessPlan] = field(default_factory=dict)
    apart: tuple[ApartFinding, ...] = ()
    alike: tuple[tuple[str, str, float], ...] = ()


def look_ahead(
    study: Study,
    wanted_nm: float | None = None,
    progress: Progress | None = None,
    wanted_variation: float | None = None,
) -> Outlook:
    """Say what a measurement of this coating on this substrate could find.

    Parameters
    ----------
    study : Study
        Its samples, if any, are not looked at.
    wanted_nm : float, optional
        Thickness that is to be found.
    progress : callable, optional
    wanted_variation : float, optional
        Coefficient of variation, from spot to spot, that is to be decided at the wanted thickness.

    Raises
    ------
    SpectraError
        With fewer than two bare spectra, or a wanted thickness where the geometry is unknown.
    SettingError
        For a wanted thickness or variation that is not positive, or a variation without a thickness.
    """
    bare_only = replace(study, samples={}, measured={}, watch=())
    prepared = prepare(bare_only, progress)
    model = learn_study(bare_only, prepared.stages)
    if model.variation is None:
        raise SpectraError(
            "found one bare spectrum; a plan needs two at least, better five: measure more bare spots"
        )
    technique = study.substrate.technique
    predictions = {name: model.predictions[name, technique] for name in study.coatings}
    wanted = _wanted_amount(predictions, wanted_nm)
    plans = {
        name: plan_measurement(
            model.variation,
            {name: prediction.shape},
            study.settings.decision,
            study.settings.presence,
            study.settings.plan,
            wanted.get(name),
            {name: _alternatives(name, bare_only, prepared, model)},
        )[name]
        for name, prediction in predictions.items()
    }
    shapes = {name: prediction.shape for name, prediction in predictions.items()}
    return Outlook(
        study,
        plans,
        wanted_nm,
        study.settings.plan,
        len(model.variation.units),
        _evenness(study.settings, wanted_variation, wanted, shapes, model.variation),
        find_apart(bare_only, prepared.stages.raw, shapes),
        _alike(shapes, model.variation, study.settings.presence),
    )


def _evenness(
    settings: Settings,
    wanted: float | None,
    amounts: Mapping[str, float],
    shapes: Mapping[str, Shape],
    variation: Variation,
) -> dict[str, EvennessPlan]:
    """Plan the decision on a wanted variation of every coating at its wanted thickness."""
    if wanted is None:
        return {}
    if not wanted > 0:
        raise SettingError(f"the wanted variation is {wanted:g}; expected a number above zero, as 0.2")
    if not amounts:
        raise SettingError("a variation is relative to an amount; state the thickness that is expected, too")
    plans = {}
    for name, shape in shapes.items():
        yardstick = yardstick_for({name: shape}, variation, settings.presence)
        spot = spot_error(0, variation, yardstick)
        share = 1.0 if spot.share is None else spot.share
        measuring = Measuring(spot.variance / amounts[name] ** 2, share, spot.degrees)
        at_hand = (settings.plan.specimens, settings.plan.spots)
        plans[name] = plan_evenness(
            wanted,
            measuring,
            at_hand,
            settings.comparison,
            settings.plan.most_specimens,
            settings.decision.confidence,
        )
    return plans


def _alike(
    shapes: Mapping[str, Shape], variation: Variation, settings: PresenceSettings
) -> tuple[tuple[str, str, float], ...]:
    """Return pairs of coatings that cannot be told apart here."""
    if len(shapes) < 2:
        return ()
    yardstick = yardstick_for(shapes, variation, settings)
    pairs = combinations(range(len(shapes)), 2)
    found = [
        (yardstick.names[a], yardstick.names[b], abs(float(yardstick.correlation[a, b]))) for a, b in pairs
    ]
    return tuple(pair for pair in found if pair[2] > settings.inseparable)


def look_while_measuring(study: Study, prepared: Prepared, more: int = 2) -> Outlook:
    """Say what the specimens measured so far can find, and what ``more`` of them would.

    The spectra are those of ``prepared``, so nothing is read twice; other crystals are not looked at.

    Parameters
    ----------
    study : Study
    prepared : Prepared
        Of this study.
    more
        Coated specimens that may still be measured.

    Returns
    -------
    Outlook
        Its plans hold the design at hand (at least one coated specimen is assumed); ``needed`` is the design
        with the further specimens.

    Raises
    ------
    SpectraError
        With fewer than two bare spectra.
    """
    bare_only = replace(study, samples={}, measured={}, watch=())
    model = learn_study(bare_only, prepared.stages)
    if model.variation is None:
        raise SpectraError("found one bare spectrum; a plan needs two at least, better five")
    technique, settings = study.substrate.technique, study.settings
    shapes = {name: model.predictions[name, technique].shape for name in study.coatings}
    now, then = (_design_at_hand(study, extra) for extra in (0, more))
    plans, later = (
        plan_measurement(model.variation, shapes, settings.decision, settings.presence, design)
        for design in (now, then)
    )
    joined = {name: replace(plan, needed=later[name].design) for name, plan in plans.items()}
    return Outlook(
        study,
        joined,
        None,
        now,
        len(model.variation.units),
        apart=find_apart(bare_only, prepared.stages.raw, shapes),
    )


def _design_at_hand(study: Study, more: int) -> PlanSettings:
    """Return the smallest sample's design, with ``more`` specimens."""
    samples = list(study.samples.values())
    specimens = min((len(sample.specimens) for sample in samples), default=0)
    spots = min((len(piece.files) for sample in samples for piece in sample.specimens), default=1)
    return replace(study.settings.plan, specimens=max(specimens, 1) + more, spots=max(spots, 1))


def _wanted_amount(predictions: Mapping[str, Prediction], wanted_nm: float | None) -> dict[str, float]:
    """Turn a wanted thickness into an amount of each coating."""
    if wanted_nm is None:
        return {}
    if not wanted_nm > 0:
        raise SettingError(f"the wanted thickness is {wanted_nm:g} nm; expected a number above zero")
    amounts = {}
    for name, prediction in predictions.items():
        if prediction.nm_per_amount is None:
            raise SpectraError(
                f"{name}: a thickness in nm needs crystal and angle_deg under [instrument]; state them, or "
                "leave the wanted thickness out"
            )
        amounts[name] = wanted_nm / prediction.nm_per_amount
    return amounts


def _alternatives(name: str, study: Study, prepared: Prepared, model: StudyModel) -> dict[str, Alternative]:
    """Predict the coating and the substrate on every other crystal of the table."""
    here = study.instrument
    if study.substrate.technique != "ATR" or here.crystal is None or here.angle_deg is None:
        return {}
    found = {}
    for crystal in CRYSTALS:
        if crystal == here.crystal:
            continue
        other = _alternative(name, replace(here, crystal=crystal), study, prepared, model)
        if other is not None:
            found[crystal] = other
    return found


def _alternative(
    name: str, there: Instrument, study: Study, prepared: Prepared, model: StudyModel
) -> Alternative | None:
    """Predict coating and substrate on one other crystal; None where the light is not totally reflected."""
    flat, settings = prepared.stages.flat, study.settings
    neat = Recorded(flat["neat", name], called(study.coatings[name], model.table), study.instrument)
    bare = Recorded(flat[BARE], called(study.substrate, model.table), study.instrument)
    moved = geometry_of(study.substrate, there)
    reference = measure_reference(neat.stack, f"neat {name}", settings.peaks)
    prediction = predict(neat, reference, bare, moved, settings.prediction, settings.inversion)
    lowest = settings.prediction.bare_contact_low
    material = material_of(bare.stack, bare.group, bare.instrument, lowest, settings.inversion)
    if prediction.optics is None or isinstance(material, Unsolved):
        return None
    return Alternative(prediction.shape, _ratio(material, bare.geometry, moved, bare.stack.grid))


def _ratio(material: Material, here: Geometry, there: Geometry, grid: FloatArray) -> FloatArray:
    """Return the substrate's spectrum on another crystal over that on the present one."""
    nu = material.wavenumbers
    present, other = (atr_absorbance(nu, [material.index], [], geometry) for geometry in (here, there))
    # Between bands both are nearly nothing: there the ratio of the whole spectra stands in.
    floor = 0.01 * float(present.max())
    overall = float(other @ present / (present @ present))
    return np.asarray(np.interp(grid, nu, (other + floor * overall) / (present + floor)))
