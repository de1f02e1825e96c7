"""Stretches that do not fit: found where they were planted, at the stated error rate, by an F test."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from spectra.detection.lack_of_fit import find_misfits
from spectra.detection.least_squares import LeftOut
from spectra.detection.settings import MisfitSettings
from tests.smallbench import POINTS, SUBSTRATE, bare_set

VARIATION = bare_set()
EVERY = MisfitSettings(alpha=0.2, stretch=40.0)


def white(seed: int, count: int = 1, points: int = POINTS.size) -> np.ndarray:
    return np.random.default_rng(seed).normal(size=(count, points))


def misfits(residual, variance=1.0, squares=None, prior=4.0, settings=EVERY, variation=VARIATION):
    squares = white(2, 6, residual.size) ** 2 if squares is None else squares
    return find_misfits(variation, residual, variance, LeftOut(np.zeros((6, 1)), squares), prior, settings)


def test_a_stretch_that_does_not_fit_is_named_with_its_height() -> None:
    residual = white(1)[0]
    residual[20:30] += 6.0  # 1080 to 1116 cm-1
    first = misfits(residual)[0]
    assert (first.low, first.high) == (1080.0, 1116.0)
    back = VARIATION.factor @ residual
    inside = (first.low <= POINTS) & (first.high >= POINTS)
    assert first.height in back[inside]
    assert abs(first.height) == pytest.approx(np.abs(back[inside]).max())


def test_chance_is_that_of_an_f_ratio_of_mean_squares() -> None:
    residual, squares = white(3)[0], white(4, 6) ** 2
    residual[:10] *= 8.0
    settings = MisfitSettings(alpha=0.2, stretch=40.0, dilution=3.0)
    found = misfits(residual, 1.5, squares, 2.0, settings)[0]
    sample = np.mean(residual[:10] ** 2) / 1.5
    bare = (2.0 * 1.0 + squares[:, :10].mean(axis=1).sum()) / (2.0 + 6.0)
    assert found.ratio == pytest.approx(sample / bare)
    assert found.p_value == pytest.approx(stats.f.sf(sample / bare, 10.0 / 3.0, 8.0))


def test_few_points_that_count_as_one_have_two_degrees_at_least() -> None:
    residual, squares = white(3)[0], white(4, 6) ** 2
    residual[:10] *= 8.0
    found = misfits(residual, 1.0, squares, 2.0, MisfitSettings(alpha=0.2, stretch=40.0, dilution=40.0))
    assert found[0].p_value == pytest.approx(stats.f.sf(found[0].ratio, 2.0, 8.0))


def test_worst_comes_first_and_what_bare_specimens_show_too_is_none() -> None:
    residual = white(5)[0]
    residual[:10] += 5.0
    residual[40:50] += 9.0
    assert [found.low for found in misfits(residual)[:2]] == [1160.0, 1000.0]
    squares = white(6, 6) ** 2
    squares[:, 40:50] += 81.0  # bare specimens do the same there
    assert [found.low for found in misfits(residual, squares=squares)] == [1000.0]


def test_hardly_anything_is_found_where_all_is_noise() -> None:
    # The stated chance is for the whole spectrum. Prior degrees 4 and six left-out specimens.
    settings = MisfitSettings(alpha=0.05, dilution=1.0)
    hits = sum(
        bool(misfits(white(seed)[0], squares=white(9000 + seed, 6) ** 2, settings=settings))
        for seed in range(400)
    )
    # 20 would be allowed; a bare specimen's mean square of ten points counts as one degree of freedom only.
    assert hits <= 20


@given(st.floats(15.0, 200.0))
def test_stretches_cover_every_point_once_and_none_crosses_a_gap(width: float) -> None:
    points = np.concatenate([np.arange(1000.0, 1100.0, 4.0), np.arange(1300.0, 1500.0, 4.0)])
    variation = bare_set(points=points)
    every = misfits(np.full(points.size, 100.0), variation=variation, settings=MisfitSettings(stretch=width))
    covered = np.zeros(points.size, dtype=int)
    for found in every:
        inside = (points >= found.low) & (points <= found.high)
        covered += inside
        assert not found.low < 1200.0 < found.high
        assert found.high - found.low <= 1.5 * width
        assert found.high - found.low >= min(0.4 * width, 90.0) - 8.0
    assert covered.tolist() == [1] * points.size


def test_height_is_told_in_absorbance() -> None:
    # A planted band of 0.01: whitened and back again it is what it was.
    planted = 0.01 * np.exp(-(((POINTS - 1100.0) / 8.0) ** 2))
    residual = np.linalg.solve(VARIATION.factor, planted)
    highest = max(misfits(residual, squares=np.ones((6, 60))), key=lambda found: found.height)
    assert highest.height == pytest.approx(0.01, rel=1e-6)
    assert highest.low <= 1100.0 <= highest.high
    assert SUBSTRATE.max() > 0.2  # and it stands on a substrate that is far higher
