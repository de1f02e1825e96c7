"""Preparation: everything that is learned before a sample is looked at.

From files to levelled spectra, then what bare spots do by themselves, what each coating must look like on
this substrate, and where unexplained bands would be sought. Bare and neat spectra suffice, so that a
measurement can be planned before there is a sample.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from spectra.preprocessing.baseline import subtract_baselines
from spectra.preprocessing.common_grid import put_on_common_grid
from spectra.preprocessing.normalisation import choose_levelling, normalise, normalise_coated, scales
from spectra.spectrum import Fault, Stack
from spectra.study.records import Study
from spectra.study.settings import Settings
from spectra.verification.inputs import Progress, gather
from spectra.verification.model import BARE, of_role
from spectra.verification.result import InputRecord, Stages


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
    levelling = choose_levelling(flat[BARE], of_role("neat", flat), settings.normalisation)
    levelled = {key: stack for key, stack in flat.items() if key[0] in ("neat", "residue")}
    levelled[BARE] = normalise(flat[BARE], levelling)
    factors, faults = scales(flat[BARE], levelling), levelling.faults
    for key in [key for key in flat if key not in levelled]:
        levelled[key], doubts = normalise_coated(flat[key], levelling, factors)
        faults += doubts
    return Stages(raw, flat, {key: levelled[key] for key in flat}), faults
