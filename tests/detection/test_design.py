"""Planning: what a design finds, what it takes, and what another crystal would do."""

from dataclasses import replace

import numpy as np
import pytest

from spectra.detection.design import Alternative, plan_measurement
from spectra.detection.settings import PlanSettings
from spectra.errors import SettingError
from spectra.optics.shape import Shape
from tests.scenes import GRID, spots
from tests.trials import DECISION, PRESENCE, scene_of, set_up

SCENE = scene_of("protein on polylactide")


@pytest.fixture(scope="module")
def bench():
    return set_up(SCENE, np.random.default_rng(31), 6)


def plan(bench, settings=None, **more):
    shapes = {"protein": bench.shape}
    return plan_measurement(bench.variation, shapes, DECISION, PRESENCE, settings or PlanSettings(), **more)[
        "protein"
    ]


def test_the_plan_states_what_the_decision_states(bench):
    planned = plan(bench)
    measured = bench.decide(spots(SCENE, np.random.default_rng(32), 3))
    assert planned.design.detectable == pytest.approx(measured.detectable_amount, rel=1e-9)
    assert planned.nm_per_amount == 1.0


def test_what_is_planned_is_found(bench):
    limit = plan(bench).design.detectable
    rng = np.random.default_rng(33)
    found = [bench.decide(spots(SCENE, rng, 3, 1.3 * limit)).verdict == "present" for _ in range(8)]
    assert sum(found) >= 7


def test_more_specimens_find_less_until_the_bare_set_limits(bench):
    limits = [plan(bench, PlanSettings(specimens=count)).design.detectable for count in (1, 3, 10, 100)]
    assert limits == sorted(limits, reverse=True)
    # With many coated specimens the six bare ones remain: no error below sqrt((1/6) / (1 + 1/6)) of one's.
    assert limits[3] / limits[0] == pytest.approx(np.sqrt((1 / 100 + 1 / 6) / (1 + 1 / 6)), rel=1e-6)


def test_the_wanted_amount_is_reached_by_the_design_named(bench):
    wanted = 0.7 * plan(bench).design.detectable
    needed = plan(bench, wanted=wanted).needed
    assert needed is not None
    assert needed.detectable <= wanted
    assert needed.bare >= 6
    fewer = PlanSettings(specimens=max(1, needed.specimens - 1))
    if needed.bare == 6:
        assert plan(bench, fewer).design.detectable > wanted


def test_out_of_reach_is_said(bench):
    assert plan(bench, PlanSettings(most_specimens=5, most_bare=7), wanted=1e-4).needed is None


def test_bands_are_listed_by_falling_wavenumber_with_their_use(bench):
    bands = plan(bench).bands
    assert [band.position for band in bands] == sorted((band.position for band in bands), reverse=True)
    assert sum(not band.masked for band in bands) >= 2
    best = min(bands, key=lambda band: band.detectable)
    assert not best.masked
    assert best.detectable >= 0.5 * plan(bench).design.detectable


def test_a_wider_margin_takes_less_coating(bench):
    narrow, wide = (
        plan_measurement(
            bench.variation, {"c": bench.shape}, replace(DECISION, margin=margin), PRESENCE, PlanSettings()
        )["c"].bands
        for margin in (2.0, 8.0)
    )
    for one, other in zip(narrow, wide, strict=True):
        assert one.margin_amount == pytest.approx(4 * other.margin_amount)


def test_margin_amount_follows_the_bound_of_position():
    # White noise only: a Gaussian's position has the error 0.69223 sqrt(F step) noise / height (Cramer and
    # Rao; checked by numerical Fisher information). Planned amount = (sum of t) error / margin.
    from spectra.spectrum import Stack
    from spectra.statistics import critical_factor
    from spectra.variation.model import learn
    from spectra.variation.settings import VariationSettings

    grid = np.arange(800.0, 1900.0)
    names = tuple("abcdefgh")
    rows = 1e-4 * np.random.default_rng(5).normal(size=(8, grid.size))
    flat = learn(Stack(grid, rows, names, names), VariationSettings())
    curve = np.exp(-4 * np.log(2) * ((grid - 1300) / 20) ** 2) + np.exp(
        -4 * np.log(2) * ((grid - 1600) / 20) ** 2
    )
    found = plan_measurement(flat, {"c": Shape(curve)}, DECISION, PRESENCE, PlanSettings(specimens=1))["c"]
    degrees = 7 * PRESENCE.trust + 8
    reach = critical_factor(0.01, degrees) + critical_factor(0.025, degrees)
    bound = 0.69223 * np.sqrt(20.0) * 1e-4 * np.sqrt(1 + 1 / 8) * reach / DECISION.margin
    for band in found.bands:
        assert 0.7 * bound < band.margin_amount < 1.6 * bound


def test_a_crystal_that_weakens_everything_finds_less(bench):
    same = Alternative(bench.shape, np.ones(GRID.size))
    weak = Alternative(Shape(0.3 * bench.shape.curve, 1.0), np.full(GRID.size, 0.3))
    planned = plan(bench, alternatives={"protein": {"same": same, "weaker": weak}})
    assert planned.alternatives["same"] == pytest.approx(planned.design.detectable, rel=1e-6)
    # Scatter falls with the signal, the detector's noise does not: between one and 1 / 0.3.
    assert 1.0 < planned.alternatives["weaker"] / planned.design.detectable < 1 / 0.3


def test_settings_have_ranges():
    with pytest.raises(SettingError, match="'specimens' of PlanSettings is 0"):
        PlanSettings(specimens=0)
