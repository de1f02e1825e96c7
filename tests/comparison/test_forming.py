"""Amounts by spot: their error from the bare spots, and contact taken out of them."""

from dataclasses import replace

import numpy as np
import pytest

from spectra.comparison.forming import level_contact, spot_error
from spectra.detection.capability import spot_amounts
from tests.scenes import spots
from tests.trials import scene_of, set_up, stack

SCENE = scene_of("protein on polylactide", noise=1e-4, scatter=0.01)


@pytest.fixture(scope="module")
def bench():
    return set_up(SCENE, np.random.default_rng(3), 6)


def amounts_of(bench, rows):
    return spot_amounts(stack(rows), bench.variation, bench.yardstick)


def test_spots_that_touch_more_are_not_taken_for_thicker(bench):
    """Films of 30 nm on every spot, contact scattered by 15 %, by the optics of the scene alone."""
    rows = spots(replace(SCENE, contact=0.15), np.random.default_rng(4), 12, 30.0)
    raw = amounts_of(bench, rows)
    levelled = level_contact(raw, stack(rows), bench.variation, bench.yardstick, 0.2)
    before, after = (float(np.std(v[:, 0], ddof=1) / np.mean(v[:, 0])) for v in (raw, levelled))
    assert before > 0.08
    assert after < 0.4 * before
    assert np.mean(levelled) == pytest.approx(np.mean(raw), rel=1e-9)


def test_a_film_that_is_really_uneven_stays_uneven(bench):
    rng = np.random.default_rng(5)
    rows = np.vstack([spots(replace(SCENE, contact=0.15), rng, 1, nm)[0] for nm in [20.0, 40.0] * 6])
    levelled = level_contact(amounts_of(bench, rows), stack(rows), bench.variation, bench.yardstick, 0.2)[
        :, 0
    ]
    assert levelled[::2].mean() / levelled[1::2].mean() == pytest.approx(0.5, abs=0.05)
    assert levelled[::2].max() < levelled[1::2].min()


def test_nothing_there_stays_nothing(bench):
    rows = spots(SCENE, np.random.default_rng(6), 5)
    raw = amounts_of(bench, rows)
    levelled = level_contact(raw, stack(rows), bench.variation, bench.yardstick, 0.2)
    assert np.all(np.abs(levelled) <= 1.5 * np.abs(raw).max())


def test_the_error_of_a_spot_is_that_of_a_bare_one(bench):
    error = spot_error(0, bench.variation, bench.yardstick)
    widening = bench.yardstick.widenings[0]
    assert error.variance == error.unit == pytest.approx((bench.yardstick.errors[0] * widening.factor) ** 2)
    assert (error.share, error.degrees) == (None, widening.degrees)
