"""Noise: its size from neighbouring points, whatever bands lie below."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from spectra.noise import estimate_noise, fine_structure

POINTS = np.arange(2000.0)


@pytest.mark.parametrize("order", [1, 2, 3, 4, 6])
def test_white_noise_has_its_standard_deviation_at_every_order(order: int) -> None:
    # Differences of order k of white noise have the variance 2k over k; the median of |normal| is 0.6745.
    found = [estimate_noise(np.random.default_rng(i).normal(0.0, 3e-4, 4000), order) for i in range(5)]
    assert np.mean(found) == pytest.approx(3e-4, rel=0.05)


def test_bands_of_a_few_points_are_no_noise_at_the_third_order() -> None:
    rng = np.random.default_rng(1)
    noise = rng.normal(0.0, 1e-4, POINTS.size)
    bands = sum(0.5 * np.exp(-(((POINTS - c) / 12.0) ** 2)) for c in (300, 700, 1500))
    assert estimate_noise(noise + bands) == pytest.approx(estimate_noise(noise), rel=0.1)
    assert estimate_noise(noise + bands, 1) > estimate_noise(noise + bands, 3)


@given(st.floats(0.1, 10.0), st.floats(-1.0, 1.0), st.floats(-1e-3, 1e-3))
def test_it_scales_and_no_parabola_counts(scale: float, offset: float, slope: float) -> None:
    noise = np.random.default_rng(3).normal(0.0, 1e-3, 400)
    x = np.arange(400.0)
    moved = scale * noise + offset + slope * x + 1e-5 * (x - 200.0) ** 2
    assert estimate_noise(moved) == pytest.approx(scale * estimate_noise(noise), rel=1e-6)


def test_too_few_points_have_no_noise() -> None:
    assert estimate_noise(np.ones(7)) == 0.0
    assert estimate_noise(np.arange(8.0) ** 4) > 0.0


@given(st.integers(1, 20), st.integers(0, 2**31))
def test_fine_structure_is_what_a_running_mean_leaves(half: int, seed: int) -> None:
    values = np.random.default_rng(seed).normal(size=60)
    padded = np.concatenate([np.full(half, values[0]), values, np.full(half, values[-1])])
    slow = [values[i] - padded[i : i + 2 * half + 1].mean() for i in range(60)]
    assert fine_structure(values, half) == pytest.approx(slow, abs=1e-12)


def test_a_line_has_fine_structure_at_its_ends_only() -> None:
    found = fine_structure(np.arange(50.0), 3)
    assert found[4:-4] == pytest.approx(0.0, abs=1e-12)
    assert abs(found[0]) > 0.1
