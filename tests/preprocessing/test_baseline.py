"""Baselines against a plain writing of the published method, and what they must not do to bands."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as limits
from hypothesis import strategies as st

from spectra.preprocessing.baseline import bridge, fit_baselines, penalty_weight, subtract_baselines
from spectra.preprocessing.settings import BaselineSettings
from spectra.spectrum import Stack

GRID = np.arange(800.0, 2000.0, 4.0)
BANDS = sum(h * np.exp(-(((GRID - c) / w) ** 2)) for c, w, h in ((1730, 12, 0.8), (1180, 25, 0.4)))


def stack(*rows: np.ndarray, usable: np.ndarray | None = None) -> Stack:
    names = tuple(f"s{i}" for i in range(len(rows)))
    marks = np.ones(GRID.size, bool) if usable is None else usable
    return Stack(GRID, np.array(rows), names, names, marks)


def noisy(row: np.ndarray, seed: int = 1) -> np.ndarray:
    return row + 1e-4 * np.random.default_rng(seed).normal(size=row.size)


def plain_arpls(y: np.ndarray, weight: float) -> np.ndarray:
    """Baek, Park, Ahn & Choo, Analyst 140, 250 (2015), doi:10.1039/c4an01061b: their algorithm, dense."""
    size = y.size
    differences = np.diff(np.eye(size), 2, axis=0)
    smoother = weight * differences.T @ differences
    w = np.ones(size)
    for _ in range(100):
        z = np.linalg.solve(np.diag(w) + smoother, w * y)
        d = y - z
        below = d[d < 0]
        exponent = 2.0 * (d - (2.0 * below.std() - below.mean())) / below.std()
        new = 1.0 / (1.0 + np.exp(np.clip(exponent, -500, 500)))
        if np.linalg.norm(w - new) / np.linalg.norm(w) < 1e-3:
            break
        w = new
    return z


@pytest.mark.parametrize("period", [300.0, 1000.0])
def test_the_baseline_is_that_of_the_published_method(period: float) -> None:
    row = noisy(BANDS + 0.05 + 0.1 * np.sin(GRID / 400.0))
    found = fit_baselines(stack(row), BaselineSettings(period=period))[0]
    slow = plain_arpls(row, penalty_weight(period, 4.0))
    assert np.abs(found - slow).max() < 2e-3


@given(st.floats(-0.5, 0.5), st.floats(-2e-4, 2e-4), st.floats(0.3, 3.0))
@limits(max_examples=10)
def test_offset_slope_and_scale_pass_through(offset: float, slope: float, scale: float) -> None:
    row = noisy(BANDS)
    plain = subtract_baselines(stack(row), BaselineSettings()).absorbance[0]
    line = offset + slope * (GRID - 1400.0)
    moved = subtract_baselines(stack(scale * row + line), BaselineSettings()).absorbance[0]
    assert moved == pytest.approx(scale * plain, abs=2e-3 * scale)


def test_every_spot_has_a_baseline_of_its_own_whatever_its_neighbours() -> None:
    rows = [noisy(BANDS + drift, seed) for seed, drift in enumerate((0.0, 0.3, 1e-4 * (GRID - 800.0)))]
    together = fit_baselines(stack(*rows), BaselineSettings())
    for row, found in zip(rows, together, strict=True):
        assert found == pytest.approx(fit_baselines(stack(row), BaselineSettings())[0], abs=1e-12)


def test_a_longer_period_keeps_broad_bands() -> None:
    broad = 0.3 * np.exp(-(((GRID - 1400.0) / 180.0) ** 2))
    row = noisy(BANDS + broad)
    heights = [
        subtract_baselines(stack(row), BaselineSettings(period=p)).absorbance[0][GRID == 1400.0][0]
        for p in (60.0, 150.0, 3000.0)
    ]
    assert heights == sorted(heights)
    assert heights[0] < 0.01 < 0.29 < heights[2]


def test_without_a_method_nothing_is_taken_off() -> None:
    row = noisy(BANDS + 0.4)
    assert not fit_baselines(stack(row), BaselineSettings(method="none")).any()
    assert subtract_baselines(stack(row), BaselineSettings(method="none")).absorbance[0] == pytest.approx(row)


def test_what_is_left_out_is_bridged_by_a_line_and_changes_nothing_elsewhere() -> None:
    usable = (GRID < 1000.0) | (GRID > 1060.0)
    row = noisy(BANDS)
    spoiled = np.where(usable, row, 7.0)
    bridged = bridge(stack(spoiled, usable=usable))[0]
    assert bridged[usable] == pytest.approx(row[usable])
    ends = GRID[usable][[np.sum(GRID < 1000.0) - 1, np.sum(GRID < 1000.0)]]
    inside = ~usable
    line = np.interp(GRID[inside], ends, [row[e == GRID][0] for e in ends])
    assert bridged[inside] == pytest.approx(line)
    flat = subtract_baselines(stack(spoiled, usable=usable), BaselineSettings()).absorbance[0]
    plain = subtract_baselines(stack(row), BaselineSettings()).absorbance[0]
    assert flat[usable] == pytest.approx(plain[usable], abs=2e-3)
    assert bridge(stack(row))[0] == pytest.approx(row)


def test_a_weight_means_the_period_at_which_half_is_kept() -> None:
    # Whittaker smoother, second differences: gain 1 / (1 + weight (2 sin(pi step / period))^4), Eilers 2003.
    for period, step in ((112.0, 1.0), (1000.0, 4.0), (500.0, 2.0)):
        gain = 1.0 / (1.0 + penalty_weight(period, step) * (2.0 * np.sin(np.pi * step / period)) ** 4)
        assert gain == pytest.approx(0.5, abs=1e-3)
