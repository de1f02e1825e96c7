"""The main job: from a study to verdicts, one stage after the other, every stage kept."""

from __future__ import annotations

import platform
from importlib.metadata import PackageNotFoundError, version

from spectra.optics.shape import Shape
from spectra.study.records import Study
from spectra.verification.belonging import find_apart
from spectra.verification.compared import compare, compare_materials
from spectra.verification.films import Measured
from spectra.verification.inputs import Progress
from spectra.verification.limit_trial import try_limits
from spectra.verification.materials import check_materials
from spectra.verification.model import StudyModel, learn_study
from spectra.verification.preparation import prepare
from spectra.verification.result import Verification
from spectra.verification.sample import judge_sample
from spectra.verification.without import judge_without

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
    prepared = prepare(study, progress)
    stages = prepared.stages
    model = learn_study(study, stages)
    samples = {}
    for done, (name, group) in enumerate(study.samples.items()):
        if progress is not None:
            progress("judging", done, len(study.samples))
        measured = Measured(group, stages.raw["coated", name], stages.levelled["coated", name])
        samples[name] = judge_sample(measured, study, model)
    samples, differences = compare(study, stages, samples)
    spikes = try_limits(study, stages, model, progress)
    materials = check_materials(study, stages)
    apart = find_apart(study, stages.raw, _shapes(study, model))
    if apart and progress is not None:
        progress("judging without what stands apart", 0, 1)
    apart = judge_without(study, stages, model, samples, apart)
    return Verification(
        study,
        prepared.inputs,
        prepared.faults,
        samples,
        stages,
        _versions(),
        spikes,
        materials,
        differences,
        apart,
        compare_materials(study, stages),
    )


def _shapes(study: Study, model: StudyModel) -> dict[str, Shape]:
    """Return the expected shape of every coating, by the substrate's technique where it was predicted."""
    usual = study.substrate.technique
    found = {name: prediction.shape for (name, _), prediction in model.predictions.items()}
    return found | {n: p.shape for (n, technique), p in model.predictions.items() if technique == usual}


def _versions() -> dict[str, str]:
    """Return the versions that produced the result."""
    found = {"python": platform.python_version()}
    for name in LIBRARIES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    return found
