"""Plans of evenness: their chance against studies drawn and judged one by one."""

import numpy as np
import pytest

from spectra.comparison.amounts import Amounts
from spectra.comparison.design import Measuring, chance_of_deciding, plan_evenness
from spectra.comparison.settings import ComparisonSettings
from spectra.comparison.spread import judge_evenness
from spectra.statistics import binomial_interval

SETTINGS = ComparisonSettings()


@pytest.mark.parametrize("design", [(6, 3), (12, 1), (9, 2)])
def test_the_chance_is_that_of_judged_studies(design):
    """Drawn by numpy, judged by the verdict itself."""
    specimens, spots = design
    rng, wanted, true, own = np.random.default_rng(3), 0.4, 0.2, 0.02
    decided, repeats = 0, 60
    for _ in range(repeats):
        values = 1.0 + np.sqrt(true**2 / 2 + own**2) * rng.normal(size=(specimens, 1))
        values = values + np.sqrt(true**2 / 2) * rng.normal(size=(specimens, spots))
        names = tuple(f"s{i}" for i in range(specimens) for _ in range(spots))
        data = Amounts(values.ravel(), names, own**2 * rng.chisquare(10) / 10, degrees=10.0)
        high = judge_evenness(data, SETTINGS).variation_high
        decided += high is not None and high <= wanted
    low, high = binomial_interval(decided, repeats, 0.999)
    found = chance_of_deciding(wanted, true, Measuring(own**2, 1.0, 10.0), design, 0.95)
    assert low - 0.03 <= found <= high + 0.03


def test_more_specimens_decide_more_often_and_one_never():
    measuring = Measuring(1e-4, 1.0, 10.0)
    chances = [chance_of_deciding(0.4, 0.2, measuring, (k, 2), 0.95) for k in (1, 2, 5, 10, 20)]
    assert chances[0] == 0.0
    assert chances == sorted(chances)
    assert chances[-1] > 0.95


def test_a_plan_names_the_fewest_specimens_that_reach_the_power():
    plan = plan_evenness(0.4, Measuring(1e-4, 1.0, 10.0), (3, 3), SETTINGS)
    assert plan.assumed == 0.2
    for design in plan.enough:
        assert design.power >= SETTINGS.evenness_power
        fewer = (design.specimens - 1, design.spots)
        assert chance_of_deciding(0.4, 0.2, Measuring(1e-4, 1.0, 10.0), fewer, 0.95) < SETTINGS.evenness_power
    assert plan.fewest.specimens * plan.fewest.spots == min(d.specimens * d.spots for d in plan.enough)


def test_what_measuring_hides_is_out_of_reach():
    plan = plan_evenness(0.1, Measuring(0.25, 1.0, 5.0), (3, 3), SETTINGS)
    assert (plan.enough, plan.fewest) == ((), None)
