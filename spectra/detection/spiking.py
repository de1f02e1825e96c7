"""Spike recovery: the stated limits tried out on the user's own bare spots.

Some bare specimens are held back, the rest is learned from, and the expected coating is added to those held
back at known multiples of the amount the method says it can find. The whole decision runs on them. What is
found, and how much, is the honest proof that the limits hold on this substrate and this instrument.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from spectra.decision import DecisionSettings
from spectra.detection.capability import set_yardstick
from spectra.detection.presence import decide_presence
from spectra.detection.settings import PresenceSettings, SpikeSettings
from spectra.errors import SpectraError
from spectra.findings import PRESENT, Presence, SpikeLevel, SpikeRecovery
from spectra.optics.shape import Shape
from spectra.replicates import group_rows
from spectra.spectrum import Stack
from spectra.units import FloatArray
from spectra.variation.model import Variation, learn
from spectra.variation.settings import VariationSettings

FEWEST_UNITS = 4  # one or more held back and three to learn from


def recover_spikes(
    bare: Stack,
    shapes: Mapping[str, Shape],
    decision: DecisionSettings,
    variation: VariationSettings,
    presence: PresenceSettings,
    settings: SpikeSettings,
    rng: np.random.Generator,
) -> dict[str, SpikeRecovery]:
    """Add each coating to held-out bare spots and decide.

    Parameters
    ----------
    bare : Stack
        Raw absorbance on the common grid; four specimens at least (four spots, where there is one specimen).
    shapes : mapping of str to Shape
    decision, variation, presence
        As for the decision itself.
    settings : SpikeSettings
    rng : numpy.random.Generator
        Chooses which specimens are held back.

    Returns
    -------
    dict of str to SpikeRecovery
        Coatings that have no finite detectable amount on this substrate are left out.

    Raises
    ------
    SpectraError
        With fewer than four bare specimens.
    """
    units = group_rows(bare.specimens)
    units = units if len(units) > 1 else tuple((i,) for i in range(len(bare)))
    held = min(settings.held_back, len(units) - FEWEST_UNITS + 1)
    if held < 1:
        raise SpectraError(
            f"found {len(units)} bare specimens; spike recovery needs {FEWEST_UNITS}: measure more bare spots"
        )
    trials: dict[str, list[tuple[float, float, Presence]]] = {name: [] for name in shapes}
    for chosen in _choices(len(units), held, settings.splits, rng):
        back = [row for unit in chosen for row in units[unit]]
        rest = [row for row in range(len(bare)) if row not in back]
        learned = learn(bare.take(rest), variation)
        for name, shape in shapes.items():
            trials[name] += _try(bare.take(back), learned, name, shape, decision, presence, settings)
    return {
        name: _summary(found, settings, held, len(units) - held) for name, found in trials.items() if found
    }


def _choices(units: int, held: int, splits: int, rng: np.random.Generator) -> list[list[int]]:
    """Which specimens are held back in each split: a shuffled round, so that each has its turn."""
    order: list[int] = []
    while len(order) < splits * held:
        order += [int(i) for i in rng.permutation(units)]
    return [order[i * held : (i + 1) * held] for i in range(splits)]


def _try(
    sample: Stack,
    learned: Variation,
    name: str,
    shape: Shape,
    decision: DecisionSettings,
    presence: PresenceSettings,
    settings: SpikeSettings,
) -> list[tuple[float, float, Presence]]:
    """Decide on one held-back sample at every spike: (multiple, amount, what was found)."""
    yardstick = set_yardstick(learned, {name: learned.reduction.apply(shape.curve)}, presence)

    def decide(amount: float) -> Presence:
        spiked = sample.with_absorbance(sample.absorbance + _film(shape, amount))
        return decide_presence(spiked, learned, {name: shape}, decision, presence, yardstick)[name]

    limit = decide(0.0).detectable_amount
    if limit is None or not np.isfinite(limit):
        return []
    return [(multiple, multiple * limit, decide(multiple * limit)) for multiple in settings.multiples]


def _film(shape: Shape, amount: float) -> FloatArray:
    """Change of absorbance by an amount: by the full stack where it is known."""
    if shape.response is None or shape.nm_per_amount is None or amount == 0.0:
        return amount * shape.curve
    return np.asarray(shape.response(amount * shape.nm_per_amount))


def _summary(
    found: list[tuple[float, float, Presence]], settings: SpikeSettings, held: int, learned_from: int
) -> SpikeRecovery:
    """Count the trials level by level."""
    levels = []
    for multiple in sorted(settings.multiples):
        here = [(amount, result) for level, amount, result in found if level == multiple]
        ratios = [(result.amount or 0.0) / amount for amount, result in here if amount > 0.0]
        covered = sum(
            (result.amount_low or 0.0) <= amount <= (result.amount_high or 0.0) for amount, result in here
        )
        levels.append(
            SpikeLevel(
                multiple, sum(result.verdict == PRESENT for _, result in here), len(here),
                float(np.mean(ratios)) if ratios else None,
                float(np.std(ratios, ddof=1)) if len(ratios) > 1 else None, covered,
            )
        )  # fmt: skip
    limits = [result.detectable_amount or 0.0 for _, _, result in found]
    return SpikeRecovery(tuple(levels), min(limits), max(limits), held, learned_from)
