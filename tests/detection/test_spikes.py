"""Spikes on held-out bare specimens, and what the rule's reasons say, on a small known substrate."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from spectra.decision import DecisionSettings
from spectra.detection.rule import judge
from spectra.detection.settings import BandSettings, PresenceSettings, SpikeSettings
from spectra.detection.spiking import recover_spikes
from spectra.errors import SpectraError
from spectra.findings import CANNOT_TELL, PRESENT, BandSupport, Misfit, Presence
from spectra.optics.shape import Shape
from spectra.variation.settings import VariationSettings
from tests.smallbench import COATING, draw, stack

EASY = PresenceSettings(bands=BandSettings(needed=1, alpha=0.2))
MULTIPLES = (0.0, 1.0, 4.0)


def recovered(units: int = 6, shape: Shape | None = None, **changes: Any):
    settings = SpikeSettings(**{"multiples": MULTIPLES, "splits": 3} | changes)
    rows = draw(units, 21)
    shapes = {"film": Shape(COATING) if shape is None else shape}
    rng = np.random.default_rng(1)
    varying = VariationSettings(step=4.0, directions=0)
    return recover_spikes(stack(rows), shapes, DecisionSettings(), varying, EASY, settings, rng)["film"]


def test_every_level_is_tried_once_a_split_and_far_above_the_limit_all_are_found() -> None:
    found = recovered()
    assert [level.multiple for level in found.levels] == list(MULTIPLES)
    assert [level.of for level in found.levels] == [3, 3, 3]
    assert found.levels[0].found <= 1
    assert found.levels[2].found == 3
    # An amount added is an amount found: linear, but for what the held-out specimen does by itself.
    assert found.levels[2].recovery == pytest.approx(1.0, abs=0.5)
    assert found.levels[0].recovery is None
    assert 0.0 < found.detectable_low <= found.detectable_high


@pytest.mark.parametrize(("units", "wanted", "held"), [(4, 1, 1), (5, 3, 2), (6, 3, 3), (9, 3, 3), (4, 5, 1)])
def test_three_specimens_at_least_are_learned_from(units: int, wanted: int, held: int) -> None:
    found = recovered(units, held_back=wanted, splits=1, multiples=(0.0,))
    assert (found.held_back, found.learned_from) == (held, units - held)


def test_three_bare_specimens_are_too_few() -> None:
    with pytest.raises(SpectraError, match="found 3 bare specimens; spike recovery needs 4"):
        recovered(3)


def test_a_film_is_added_by_its_response_only_where_lengths_are_known() -> None:
    doubled = Shape(COATING, nm_per_amount=500.0, response=lambda nm: 2.0 * nm / 500.0 * COATING)
    plain, twice = recovered(), recovered(shape=doubled)
    assert twice.levels[2].recovery == pytest.approx(2.0 * plain.levels[2].recovery, abs=0.25)
    unknown = replace(doubled, nm_per_amount=None)
    assert recovered(shape=unknown).levels[2].recovery == pytest.approx(plain.levels[2].recovery)
    linear = Shape(COATING, nm_per_amount=500.0)
    assert recovered(shape=linear).levels[2].recovery == pytest.approx(plain.levels[2].recovery)


# -- what a reason says -------------------------------------------------------------------------------


def support(position: float, masked: bool = False, supports: bool = True) -> BandSupport:
    return BandSupport(
        position, position - 20, position + 20, 0.1, 0.01, 0.03, 0.05, 9.0, 1e-6, 2e-6, masked, supports
    )  # fmt: skip


def ruled(*bands: BandSupport, **changes: Any):
    figures = Presence(
        CANNOT_TELL, (), 0.1, 0.08, 0.12, 0.03, 0.05, 1e-8, 3, 3, evidence=30.0, degrees=12.0,
        chi_square=1.0, pattern_p=0.5, band_evidence=bands, **changes,
    )  # fmt: skip
    return judge(figures, DecisionSettings(), PresenceSettings(), (6, 6))


def test_bands_are_counted_as_looked_at_masked_and_found() -> None:
    others = support(1300.0, supports=False), support(1200.0, True, False)
    said = ruled(support(1500.0), support(1400.0), *others)
    assert said.verdict == PRESENT
    values = said.reasons[1].values
    assert values == {"found": [1500.0, 1400.0], "looked_at": 3, "masked": 1, "needed": 2}


def misfit(ratio: float = 9.0) -> Misfit:
    return Misfit(1700.0, 1740.0, ratio, 1e-6, 0.01)


FOUND = (support(1500.0), support(1400.0), support(1300.0))


def test_a_coating_stands_despite_a_misfit_only_if_everything_speaks_for_it() -> None:
    assert ruled(*FOUND, misfits=(misfit(),)).verdict == PRESENT
    # Half of the bands, no pattern, a doubtful one, or too little beyond the misfit: any one is enough.
    half = (support(1500.0), support(1400.0), *(support(p, supports=False) for p in (1300.0, 1200.0)))
    assert ruled(*half, misfits=(misfit(),)).verdict == CANNOT_TELL
    assert ruled(*FOUND, support(1200.0, supports=False), misfits=(misfit(),)).verdict == PRESENT
    # 30 errors against three times the critical 2.68, as often as the misfit makes scatter larger.
    assert ruled(*FOUND, misfits=(misfit(4.0 * 3.6**2),)).verdict == PRESENT
    assert ruled(*FOUND, misfits=(misfit(4.0 * 3.9**2),)).verdict == CANNOT_TELL


@pytest.mark.parametrize("pattern", [None, 0.009])
def test_without_a_right_pattern_a_misfit_is_not_outweighed(pattern: float | None) -> None:
    figures = Presence(
        CANNOT_TELL, (), 0.1, 0.08, 0.12, 0.03, 0.05, 1e-8, 3, 3, evidence=30.0, degrees=12.0,
        chi_square=1.0, pattern_p=pattern, band_evidence=FOUND, misfits=(misfit(),),
    )  # fmt: skip
    assert judge(figures, DecisionSettings(), PresenceSettings(), (6, 6)).verdict == CANNOT_TELL
