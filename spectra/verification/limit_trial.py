"""The stated limits tried out on the study's own bare spots."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from spectra.detection.spiking import FEWEST_UNITS, recover_spikes
from spectra.findings import SpikeRecovery
from spectra.replicates import group_rows
from spectra.study.records import Study
from spectra.verification.inputs import Progress
from spectra.verification.model import StudyModel
from spectra.verification.result import Stages


def try_limits(
    study: Study, stages: Stages, model: StudyModel, progress: Progress | None = None
) -> Mapping[str, SpikeRecovery]:
    """Add every coating to held-back bare specimens and decide; nothing with too few of them.

    Parameters
    ----------
    study : Study
    stages : Stages
    model : StudyModel
    progress : callable, optional

    Returns
    -------
    mapping of coating name to SpikeRecovery
        Empty where fewer than four bare units are left to hold some back from, or ``splits`` is 0.
    """
    settings, bare = study.settings, stages.raw["bare", "substrate"]
    units = len(group_rows(bare.specimens))
    enough = (units if units > 1 else len(bare)) >= FEWEST_UNITS
    if not enough or settings.spikes.splits == 0 or not model.predictions:
        return {}
    if progress is not None:
        progress("trying the limits", 0, 1)
    shapes = {name: prediction.shape for (name, _), prediction in model.predictions.items()}
    coarse = replace(
        settings.variation,
        step=max(settings.variation.step, settings.spikes.step),
        points=min(settings.variation.points, settings.spikes.points),
    )
    return recover_spikes(
        bare,
        shapes,
        settings.decision,
        coarse,
        settings.presence,
        settings.spikes,
        np.random.default_rng(settings.spikes.seed),
    )
