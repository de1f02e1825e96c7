"""The main job: from a study to verdicts, one stage after the other, every stage kept."""

from __future__ import annotations

import platform
from importlib.metadata import PackageNotFoundError, version

from spectra.study.records import Study
from spectra.verification.films import Measured
from spectra.verification.inputs import Progress
from spectra.verification.limit_trial import try_limits
from spectra.verification.model import learn_study
from spectra.verification.preparation import prepare
from spectra.verification.result import Verification
from spectra.verification.sample import judge_sample

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
    spikes = try_limits(study, stages, model, progress)
    return Verification(study, prepared.inputs, prepared.faults, samples, stages, _versions(), spikes)


def _versions() -> dict[str, str]:
    """Return the versions that produced the result."""
    found = {"python": platform.python_version()}
    for name in LIBRARIES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    return found
