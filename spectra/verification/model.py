"""A study's scene and one sample in it: what the judging functions hand to one another."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from reference_bands import BandTable, load
from spectra.findings import Presence
from spectra.groups import Group
from spectra.optics.prediction import Prediction, predict
from spectra.peaks.reference import Reference, measure_reference
from spectra.peaks.window_fit import COATING_SPREAD, SUBSTRATE_SPREAD, Others
from spectra.replicates import Units, units_of
from spectra.residues.filter_bank import BumpBank, make_bumps
from spectra.residues.settings import ResidueSettings
from spectra.spectrum import Stack
from spectra.study.records import Study
from spectra.units import FloatArray
from spectra.variation.model import Variation, learn
from spectra.verification.result import Stages

BARE = ("bare", "substrate")


def learn_scene(study: Study, stages: Stages) -> Scene:
    """Learn everything that is the same for all samples.

    Parameters
    ----------
    study : Study
    stages : Stages
        From :func:`prepare`.
    """
    raw, flat, bare = stages.raw, stages.flat, stages.levelled[BARE]
    settings, table = study.settings, load(*study.band_tables)
    neat = {
        name: measure_reference(stack, f"neat {name}", settings.peaks)
        for name, stack in _of_role("neat", flat).items()
    }
    residues = {
        name: measure_reference(stack, f"residue {name}", settings.peaks)
        for name, stack in _of_role("residue", flat).items()
    }
    predictions = {
        (name, sample.technique): predict(
            flat["neat", name],
            called(study.coatings[name], table),
            neat[name],
            flat[BARE],
            called(study.substrate, table),
            sample,
            study.instrument,
            settings.prediction,
            settings.inversion,
        )
        for name, sample in _one_of_each(study)
    }
    variation = learn(raw[BARE], settings.variation) if len(raw[BARE]) > 1 else None
    return Scene(
        study,
        bare,
        variation,
        _bumps(variation, predictions.values(), settings.residues),
        measure_reference(bare, "bare spectra", settings.peaks),
        predictions,
        residues,
        table,
    )


def called(group: Group, table: BandTable) -> Group:
    """Return the group with its material under the name the tables use."""
    return replace(group, material=table.named(group.material or group.name))


def _bumps(
    variation: Variation | None, predictions: Iterable[Prediction], settings: ResidueSettings
) -> BumpBank | None:
    """Prepare the search for what is left behind; None with too few bare spots."""
    if variation is None:
        return None
    curves = [variation.reduction.apply(prediction.shape.curve) for prediction in predictions]
    return make_bumps(variation, curves, settings)


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


def _of_role(role: str, stacks: Mapping[tuple[str, str], Stack]) -> dict[str, Stack]:
    """Return the stacks of one role by group."""
    return {name: stack for (this, name), stack in stacks.items() if this == role}


@dataclass(frozen=True, eq=False)
class Scene:
    """Everything that is the same for all samples of a study.

    Attributes
    ----------
    study : Study
    bare : Stack
        Levelled bare spots.
    variation : Variation or None
        What bare spots do by themselves; None with fewer than two of them.
    bumps : BumpBank or None
        For the search of what is left behind.
    substrate : Reference
    predictions : mapping of (coating, technique of the sample) to Prediction
    residues : mapping of str to Reference
    table : BandTable
    """

    study: Study
    bare: Stack
    variation: Variation | None
    bumps: BumpBank | None
    substrate: Reference
    predictions: Mapping[tuple[str, str], Prediction]
    residues: Mapping[str, Reference]
    table: BandTable

    @property
    def units(self) -> Units:
        """Bare units of replication."""
        return units_of(self.bare)


@dataclass(frozen=True, eq=False)
class Coated:
    """One sample on the way to its verdicts.

    Attributes
    ----------
    group : Group
    raw, levelled : Stack
    predictions : mapping of coating to Prediction
    presence : mapping of coating to Presence
    references : mapping of coating to Reference
        At the thickness found.
    changes : mapping of coating to ndarray, shape (n,)
        Change of the raw spectrum per unit amount at the thickness found.
    """

    group: Group
    raw: Stack
    levelled: Stack
    predictions: Mapping[str, Prediction]
    presence: Mapping[str, Presence]
    references: Mapping[str, Reference]
    changes: Mapping[str, FloatArray]

    @property
    def units(self) -> Units:
        """Levelled units of replication."""
        return units_of(self.levelled)


def others_of(scene: Scene, references: Sequence[Reference], substrate: bool = True) -> Others:
    """Return what else varies: the substrate if asked for, and coatings."""
    columns = [scene.substrate.shape] * substrate + [reference.shape for reference in references]
    spread = [SUBSTRATE_SPREAD] * substrate + [COATING_SPREAD] * len(references)
    return Others(np.reshape(np.array(columns).T, (scene.bare.grid.size, len(columns))), np.array(spread))


def around(name: str, coated: Coated, scene: Scene) -> Others:
    """Return what else varies around one coating."""
    return others_of(scene, [ref for other, ref in coated.references.items() if other != name])
