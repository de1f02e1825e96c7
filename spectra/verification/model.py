"""What is learned once a study: the same for all its samples.

The bare set's variation, the film each coating must look like, the joint model of every coating with its
bands free to move, how well each can be seen, and the bank of bumps for what is left behind.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from reference_bands import BandTable, load
from spectra.detection.capability import Yardstick
from spectra.detection.presence import yardstick_for
from spectra.filmfit.model import FilmModel, Ground, lay_ground, model_neat, model_stack
from spectra.filmfit.settings import FilmFitSettings
from spectra.groups import Group
from spectra.optics.crossing import cross_unknowns
from spectra.optics.material import Material, Unsolved
from spectra.optics.prediction import Prediction, Recorded, geometry_of, material_of, predict
from spectra.optics.refractive_indices import inversion_settings
from spectra.optics.shape import Shape
from spectra.peaks.reference import Reference, measure_reference
from spectra.residues.filter_bank import BumpBank, make_bumps
from spectra.spectrum import Stack
from spectra.study.records import Study
from spectra.variation.derived import coarsen
from spectra.variation.model import Variation, learn
from spectra.verification.result import Stages

BARE = ("bare", "substrate")


@dataclass(frozen=True, eq=False)
class StudyModel:
    """Everything that is the same for all samples.

    Attributes
    ----------
    bare : Stack
        Levelled; for the substrate's own bands.
    substrate : Reference
        Those bands.
    variation : Variation or None
        None with fewer than two bare spots.
    coarse : Variation or None
        The same on coarser points, for the film fit and the search for what is left.
    predictions : mapping of (coating, technique) to Prediction
    grounds : mapping of technique to Ground
        The bare set as the film fit sees it, on coarser points.
    films : mapping of (coating, technique) to FilmModel
        Without those that cannot be compared.
    yardsticks : mapping of (technique, coatings) to Yardstick
    bank : BumpBank or None
    residues : mapping of name to Shape
        Measured residues, like with like.
    table : BandTable
    """

    bare: Stack
    substrate: Reference
    variation: Variation | None
    coarse: Variation | None
    predictions: Mapping[tuple[str, str], Prediction]
    grounds: Mapping[str, Ground]
    films: Mapping[tuple[str, str], FilmModel]
    yardsticks: Mapping[tuple[str, tuple[str, ...]], Yardstick]
    bank: BumpBank | None
    residues: Mapping[str, Shape]
    table: BandTable


def learn_study(study: Study, stages: Stages) -> StudyModel:
    """Learn everything that is the same for all samples.

    Parameters
    ----------
    study : Study
    stages : Stages
        From :func:`spectra.verification.preparation.prepare`.
    """
    settings, table = study.settings, load(*study.band_tables)
    predictions = _predictions(study, stages, table)
    residues = {
        name: Shape(
            measure_reference(stack, f"residue {name}", settings.peaks).shape,
            tolerance=settings.prediction.tolerance_neat,
        )
        for name, stack in of_role("residue", stages.flat).items()
    }
    raw = stages.raw[BARE]
    variation = learn(raw, settings.variation) if len(raw) > 1 else None
    coarse = None if variation is None else coarsen(variation, settings.filmfit.grid)
    grounds, films = _film_models(study, stages, coarse, predictions, table)
    return StudyModel(
        stages.levelled[BARE],
        measure_reference(stages.levelled[BARE], "bare spectra", settings.peaks),
        variation,
        coarse,
        predictions,
        grounds,
        films,
        _yardsticks(study, variation, predictions),
        _bank(coarse, predictions.values(), study),
        residues,
        table,
    )


def _predictions(study: Study, stages: Stages, table: BandTable) -> dict[tuple[str, str], Prediction]:
    """Predict every coating in the geometry of the samples it is on, by coating and technique."""
    settings, instrument = study.settings, study.instrument
    bare = Recorded(stages.flat[BARE], called(study.substrate, table), instrument)
    neat = {
        name: Recorded(stack, called(study.coatings[name], table), instrument)
        for name, stack in of_role("neat", stages.flat).items()
    }
    references = {
        name: measure_reference(one.stack, f"neat {name}", settings.peaks) for name, one in neat.items()
    }
    return {
        (name, sample.technique): predict(
            neat[name],
            references[name],
            bare,
            geometry_of(sample, instrument),
            settings.prediction,
            settings.inversion,
        )
        for name, sample in _one_of_each(study)
    }


def called(group: Group, table: BandTable) -> Group:
    """Return the group with its material under the name the tables use."""
    return replace(group, material=table.named(group.material or group.name))


def _film_models(
    study: Study,
    stages: Stages,
    variation: Variation | None,
    predictions: Mapping[tuple[str, str], Prediction],
    table: BandTable,
) -> tuple[dict[str, Ground], dict[tuple[str, str], FilmModel]]:
    """Make the joint model of every coating, from spectra as measured: a fitted baseline eats broad bands."""
    if variation is None:
        return {}, {}
    settings = study.settings
    group = called(study.substrate, table)
    lowest = settings.prediction.bare_contact_low
    solved = material_of(stages.raw[BARE], group, study.instrument, lowest, settings.inversion)
    bed = None if isinstance(solved, Unsolved) else solved
    grounds: dict[str, Ground] = {}
    films: dict[tuple[str, str], FilmModel] = {}
    for (name, technique), prediction in predictions.items():
        geometry = geometry_of(replace(study.substrate, technique=technique), study.instrument)
        if technique not in grounds:
            grounds[technique] = lay_ground(variation, bed, geometry, settings.filmfit)
        if not prediction.comparable:
            continue
        coating = None
        if prediction.optics is not None:
            coating = _constants(name, study, stages, table)
        if coating is not None:
            films[name, technique] = model_stack(grounds[technique], coating, bed, geometry, settings.filmfit)
        else:
            films[name, technique] = _like_with_like(
                grounds[technique], prediction, technique, settings.filmfit
            )
    return grounds, films


def _constants(name: str, study: Study, stages: Stages, table: BandTable) -> Material | None:
    """Optical constants of a coating from its raw neat spectrum; None where they cannot be found."""
    settings, group = study.settings, called(study.coatings[name], table)
    lowest = settings.prediction.neat_contact_low
    found = material_of(stages.raw["neat", name], group, study.instrument, lowest, settings.inversion)
    if isinstance(found, Unsolved):
        return None
    known = inversion_settings(group.material, settings.inversion)
    return cross_unknowns(found, known, lowest if group.contact is None else group.contact)


def _like_with_like(
    ground: Ground, prediction: Prediction, technique: str, settings: FilmFitSettings
) -> FilmModel:
    """Model a coating by its neat spectrum as it is."""
    places = np.array([peak.position for peak in prediction.reference.peaks])
    bounds = np.array(
        [
            min(b, 10.0 * p.width)
            for b, p in zip(prediction.optical_bounds, prediction.reference.peaks, strict=True)
        ]
    )
    order = np.argsort(places)
    neat = ground.variation.reduction.apply(prediction.shape.curve)
    by_depth = technique in ("ATR", "other") and prediction.note is not None
    return model_neat(ground, neat, (places[order], bounds[order]), by_depth, settings)


def _yardsticks(
    study: Study, variation: Variation | None, predictions: Mapping[tuple[str, str], Prediction]
) -> dict[tuple[str, tuple[str, ...]], Yardstick]:
    """How well the coatings of every sample can be seen; samples alike share one."""
    if variation is None:
        return {}
    wanted = {
        (sample.technique, tuple(sample.coatings)) for sample in study.samples.values() if sample.coatings
    }
    return {
        (technique, names): yardstick_for(
            {name: predictions[name, technique].shape for name in names}, variation, study.settings.presence
        )
        for technique, names in sorted(wanted)
    }


def _bank(variation: Variation | None, predictions: Iterable[Prediction], study: Study) -> BumpBank | None:
    """Prepare the search for what is left behind; None with too few bare spots."""
    if variation is None:
        return None
    curves = [variation.reduction.apply(prediction.shape.curve) for prediction in predictions]
    return make_bumps(variation, curves, study.settings.residues)


def _one_of_each(study: Study) -> list[tuple[str, Group]]:
    """Return every coating with one sample of each technique it is expected on.

    Without samples the substrate stands for one: they will be measured alike.
    """
    pairs: dict[tuple[str, str], tuple[str, Group]] = {}
    unmeasured = replace(study.substrate, coatings=tuple(study.coatings))
    for sample in study.samples.values() or [unmeasured]:
        for name in sample.coatings:
            pairs.setdefault((name, sample.technique), (name, sample))
    return list(pairs.values())


def of_role(role: str, stacks: Mapping[tuple[str, str], Stack]) -> dict[str, Stack]:
    """Return the stacks of one role by group."""
    return {name: stack for (where, name), stack in stacks.items() if where == role}
