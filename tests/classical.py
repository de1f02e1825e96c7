"""The classical chain on trial spectra: baseline, normalising, bands one by one; for comparison only."""

from __future__ import annotations

import numpy as np

from spectra.chemistry.band_tests import look_for_bands
from spectra.decision import DecisionSettings
from spectra.findings import PRESENT
from spectra.peaks.reference import measure_reference
from spectra.peaks.settings import PeakSettings
from spectra.peaks.window_fit import SUBSTRATE_SPREAD, Others
from spectra.preprocessing.baseline import subtract_baselines
from spectra.preprocessing.normalisation import choose_levelling, normalise
from spectra.preprocessing.settings import BaselineSettings, NormalisationSettings
from spectra.replicates import units_of
from spectra.spectrum import Stack
from tests.bandrule import presence_by_bands
from tests.scenes import neat_spots as neat_spots


def called_present(bare: Stack, neat: Stack, coated: Stack) -> bool:
    """Whether the classical chain calls the coating present."""
    flat = [subtract_baselines(stack, BaselineSettings()) for stack in (bare, neat, coated)]
    levelling = choose_levelling(flat[0], {"coating": flat[1]}, NormalisationSettings())
    nothing, sample = (normalise(stack, levelling) for stack in (flat[0], flat[2]))
    reference = measure_reference(flat[1], "neat", PeakSettings())
    others = Others(nothing.mean[:, None], np.array([SUBSTRATE_SPREAD]))
    units, bare_units = units_of(sample), units_of(nothing)
    evidence = look_for_bands(units, bare_units, reference, others, nothing, DecisionSettings())
    return presence_by_bands(evidence, units, bare_units, len(coated), DecisionSettings()).verdict == PRESENT
