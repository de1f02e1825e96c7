"""The main job: from a study to verdicts, one stage after the other, every stage kept."""

from __future__ import annotations

import platform
from collections.abc import Mapping
from importlib.metadata import PackageNotFoundError, version

from reference_bands import load
from spectra.baseline import subtract_baselines
from spectra.findings import Stages, Verification
from spectra.footing import put_on_common_grid
from spectra.gathering import Progress, gather
from spectra.judging import Scene, judge_sample
from spectra.normalisation import choose_levelling, normalise
from spectra.references import measure_reference
from spectra.spectrum import Stack
from spectra.study import Study

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
    scene = Scene(
        study,
        levelled[BARE],
        measure_reference(levelled[BARE], "bare spectra", settings.peaks),
        {
            name: measure_reference(s, f"neat {name}", settings.peaks)
            for name, s in _of_role("neat", levelled).items()
        },
        {
            name: measure_reference(s, f"residue {name}", settings.peaks)
            for name, s in _of_role("residue", levelled).items()
        },
        load(*study.band_tables),
    )
    samples = {}
    for done, (name, group) in enumerate(study.samples.items()):
        if progress is not None:
            progress("judging", done, len(study.samples))
        samples[name] = judge_sample(group, levelled["coated", name], scene)
    return Verification(
        study, inputs, (*faults, *levelling.faults), samples, Stages(raw, flat, levelled), _versions()
    )


def _of_role(role: str, stacks: Mapping[tuple[str, str], Stack]) -> dict[str, Stack]:
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
