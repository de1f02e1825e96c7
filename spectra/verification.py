"""The main job: from a study to verdicts, one stage after the other, every stage kept."""

from __future__ import annotations

import platform
from collections.abc import Iterable, Mapping
from dataclasses import replace
from importlib.metadata import PackageNotFoundError, version

from reference_bands import BandTable, load
from spectra.baseline import subtract_baselines
from spectra.bumps import BumpBank, ResidueSettings, make_bumps
from spectra.findings import Stages, Verification
from spectra.footing import put_on_common_grid
from spectra.gathering import Progress, gather
from spectra.judging import Scene, judge_sample
from spectra.normalisation import choose_levelling, normalise
from spectra.prediction import Prediction, predict
from spectra.references import measure_reference
from spectra.spectrum import Stack
from spectra.study import Group, Study
from spectra.variation import Variation, learn

Stacks = Mapping[tuple[str, str], Stack]

BARE = ("bare", "substrate")
LIBRARIES = ("coatproof", "numpy", "scipy", "pybaselines", "matplotlib", "jcamp")


def verify(study: Study, progress: Progress | None = None) -> Verification:
    """Read a study's spectra and judge every sample.

    Parameters
    ----------
    study : Study
        From :func:`spectra.load_study`.
    progress : callable, optional
        Called with a phase, how many are done, and of how many.

    Returns
    -------
    Verification

    Raises
    ------
    CoatproofError
        If a file cannot be read, or the spectra cannot be brought together.
    """
    settings = study.settings
    placed, inputs, faults = gather(study, progress)
    raw = put_on_common_grid(placed, settings.footing)
    flat = {key: subtract_baselines(stack, settings.baseline) for key, stack in raw.items()}
    levelling = choose_levelling(flat[BARE], _of_role("neat", flat), settings.normalisation)
    levelled = {
        key: stack if key[0] in ("neat", "residue") else normalise(stack, levelling)
        for key, stack in flat.items()
    }
    scene = _scene(study, raw, flat, levelled)
    samples = {}
    for done, (name, group) in enumerate(study.samples.items()):
        if progress is not None:
            progress("judging", done, len(study.samples))
        samples[name] = judge_sample(group, raw["coated", name], levelled["coated", name], scene)
    return Verification(
        study, inputs, (*faults, *levelling.faults), samples, Stages(raw, flat, levelled), _versions()
    )


def _scene(study: Study, raw: Stacks, flat: Stacks, levelled: Stacks) -> Scene:
    """Learn everything that is the same for all samples."""
    settings, bare, table = study.settings, levelled[BARE], load(*study.band_tables)
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
            _called(study.coatings[name], table),
            neat[name],
            flat[BARE],
            _called(study.substrate, table),
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


def _called(group: Group, table: BandTable) -> Group:
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
    """Return every coating with one sample of each technique it is expected on."""
    pairs: dict[tuple[str, str], tuple[str, Group]] = {}
    for sample in study.samples.values():
        for name in sample.coatings:
            pairs.setdefault((name, sample.technique), (name, sample))
    return list(pairs.values())


def _of_role(role: str, stacks: Stacks) -> dict[str, Stack]:
    """Return the stacks of one role by group."""
    return {name: stack for (this, name), stack in stacks.items() if this == role}


def _versions() -> dict[str, str]:
    """Return the versions that produced the result."""
    found = {"python": platform.python_version()}
    for name in LIBRARIES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    return found
