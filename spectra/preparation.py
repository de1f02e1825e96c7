"""Preparation: everything that is learned before a sample is looked at.

From files to levelled spectra, then what bare spots do by themselves, what each coating must look like on
this substrate, and where unexplained bands would be sought. Bare and neat spectra suffice, so that a
measurement can be planned before there is a sample.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from reference_bands import BandTable, load
from spectra.baseline import subtract_baselines
from spectra.bumps import BumpBank, ResidueSettings, make_bumps
from spectra.footing import put_on_common_grid
from spectra.gathering import Progress, gather
from spectra.normalisation import choose_levelling, normalise
from spectra.prediction import Prediction, predict
from spectra.references import measure_reference
from spectra.result import InputRecord, Stages
from spectra.scene import Scene
from spectra.spectrum import Fault, Stack
from spectra.study import Group, Settings, Study
from spectra.variation import Variation, learn

BARE = ("bare", "substrate")


@dataclass(frozen=True, eq=False)
class Prepared:
    """Spectra on common footing, and how they were read.

    Attributes
    ----------
    inputs : tuple of InputRecord
    faults : tuple of Fault
        About the study and the set of spectra.
    stages : Stages
    """

    inputs: tuple[InputRecord, ...]
    faults: tuple[Fault, ...]
    stages: Stages


def prepare(study: Study, progress: Progress | None = None) -> Prepared:
    """Read a study's spectra and bring them onto common footing, baselines removed and levelled.

    Parameters
    ----------
    study : Study
    progress : callable, optional
        Called with a phase, how many are done, and of how many.

    Raises
    ------
    CoatproofError
        If a file cannot be read, or the spectra cannot be brought together.
    """
    placed, inputs, faults = gather(study, progress)
    stages, doubts = level(put_on_common_grid(placed, study.settings.footing), study.settings)
    return Prepared(inputs, (*faults, *doubts), stages)


def level(raw: Mapping[tuple[str, str], Stack], settings: Settings) -> tuple[Stages, tuple[Fault, ...]]:
    """Remove baselines and level bare and coated spots; neat spectra stay as measured.

    Parameters
    ----------
    raw : mapping of (role, group) to Stack
        On one grid.
    settings : Settings

    Returns
    -------
    Stages
    tuple of Fault
        What is doubtful about the levelling.
    """
    flat = {key: subtract_baselines(stack, settings.baseline) for key, stack in raw.items()}
    levelling = choose_levelling(flat[BARE], _of_role("neat", flat), settings.normalisation)
    levelled = {
        key: stack if key[0] in ("neat", "residue") else normalise(stack, levelling)
        for key, stack in flat.items()
    }
    return Stages(raw, flat, levelled), levelling.faults


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
