"""The outlook of a study: what could be seen, before a sample is measured (see ``detection.design``).

From bare and neat spectra alone: usable and masked bands, the detectable amount and thickness with the
crystal at hand and with others, the specimens needed for a wanted thickness, and whether the wanted position
margin can be decided.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from spectra.detection.design import Alternative, Plan, plan_measurement
from spectra.detection.settings import PlanSettings
from spectra.errors import SettingError, SpectraError
from spectra.groups import Instrument
from spectra.optics.atr import atr_absorbance
from spectra.optics.geometry import CRYSTALS, Geometry
from spectra.optics.material import Material, Unsolved
from spectra.optics.prediction import Prediction, geometry_of, material_of, predict
from spectra.peaks.reference import measure_reference
from spectra.study.records import Study
from spectra.units import FloatArray
from spectra.verification.inputs import Progress
from spectra.verification.model import BARE, StudyModel, called, learn_study
from spectra.verification.preparation import Prepared, prepare


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
    """

    study: Study
    plans: Mapping[str, Plan]
    wanted_nm: float | None
    design: PlanSettings
    bare_units: int


def look_ahead(study: Study, wanted_nm: float | None = None, progress: Progress | None = None) -> Outlook:
    """Say what a measurement of this coating on this substrate could find.

    Parameters
    ----------
    study : Study
        Its samples, if any, are not looked at.
    wanted_nm : float, optional
        Thickness that is to be found.
    progress : callable, optional

    Raises
    ------
    SpectraError
        With fewer than two bare spectra, or a wanted thickness where the geometry is unknown.
    SettingError
        For a wanted thickness that is not positive.
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
    return Outlook(study, plans, wanted_nm, study.settings.plan, len(model.variation.units))


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
    neat, bare = flat["neat", name], flat[BARE]
    substrate = called(study.substrate, model.table)
    prediction = predict(
        neat,
        called(study.coatings[name], model.table),
        measure_reference(neat, f"neat {name}", settings.peaks),
        bare,
        substrate,
        study.substrate,
        study.instrument,
        settings.prediction,
        settings.inversion,
        there,
    )
    lowest = settings.prediction.bare_contact_low
    material = material_of(bare, substrate, study.instrument, lowest, settings.inversion)
    if prediction.optics is None or isinstance(material, Unsolved):
        return None
    here = geometry_of(study.substrate, study.instrument)
    return Alternative(
        prediction.shape, _ratio(material, here, geometry_of(study.substrate, there), bare.grid)
    )


def _ratio(material: Material, here: Geometry, there: Geometry, grid: FloatArray) -> FloatArray:
    """Return the substrate's spectrum on another crystal over that on the present one."""
    nu = material.wavenumbers
    present, other = (atr_absorbance(nu, [material.index], [], geometry) for geometry in (here, there))
    # Between bands both are nearly nothing: there the ratio of the whole spectra stands in.
    floor = 0.01 * float(present.max())
    overall = float(other @ present / (present @ present))
    return np.asarray(np.interp(grid, nu, (other + floor * overall) / (present + floor)))
