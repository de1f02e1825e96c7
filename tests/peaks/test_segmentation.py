"""The bands of a shape: their places, that they add up, and what rounding must not do to them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import find_peaks

from spectra.peaks.segmentation import split_bands

POINTS = np.arange(1000.0, 1400.0, 4.0)


def drawn(*bands: tuple[float, float, float]) -> np.ndarray:
    return np.sum([h * np.exp(-(((POINTS - c) / w) ** 2)) for c, w, h in bands], axis=0)


def test_bands_stand_where_they_were_drawn_and_add_up_to_the_curve() -> None:
    curve = drawn((1081.0, 14.0, 1.0), (1203.0, 20.0, 0.4), (1299.0, 14.0, 0.7))
    pieces = split_bands(POINTS, curve, 0.05)
    assert [piece.position for piece in pieces] == [1080.0, 1204.0, 1300.0]
    assert np.sum([piece.curve for piece in pieces], axis=0) == pytest.approx(curve, abs=2e-3)
    for piece in pieces:
        outside = (piece.low > POINTS) | (piece.high < POINTS)
        assert not piece.curve[outside].any()
        assert piece.curve.min() >= 0.0
    # Neighbours share a valley.
    assert [piece.high for piece in pieces[:-1]] == [piece.low for piece in pieces[1:]]


@given(
    st.lists(st.integers(0, 99), min_size=1, max_size=5, unique=True),
    st.floats(0.02, 0.5),
    st.integers(0, 2**31),
)
def test_every_band_rises_by_the_prominence_above_both_valleys(
    centres: list[int], prominence: float, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    curve = drawn(*((1000.0 + 4.0 * c, rng.uniform(8, 40), rng.uniform(0.1, 1.0)) for c in centres))
    least = prominence * np.ptp(curve)
    for piece in split_bands(POINTS, curve, prominence):
        top = curve[piece.position == POINTS][0]
        inside = (piece.low <= POINTS) & (piece.high >= POINTS)
        left, right = curve[piece.low == POINTS][0], curve[piece.high == POINTS][0]
        assert top - max(left, right) >= least * (1.0 - 1e-9) or min(piece.low, 1396 - piece.high) <= 1000.0
        assert top == curve[inside].max()


@given(st.integers(0, 2**31), st.floats(0.01, 100.0), st.floats(-5.0, 5.0))
def test_a_scale_and_an_offset_change_no_band(seed: int, scale: float, offset: float) -> None:
    rng = np.random.default_rng(seed)
    curve = drawn(*((rng.uniform(1020, 1380), rng.uniform(10, 30), rng.uniform(0.2, 1)) for _ in range(3)))
    one = split_bands(POINTS, curve, 0.05)
    other = split_bands(POINTS, scale * curve + offset, 0.05)
    assert [p.position for p in one] == [p.position for p in other]
    for a, b in zip(one, other, strict=True):
        # The feet may move where the offset swallows their last digits.
        assert b.curve == pytest.approx(scale * a.curve, abs=1e-2 * scale)


def test_the_axis_turned_round_gives_the_same_bands() -> None:
    curve = drawn((1081.0, 14.0, 1.0), (1203.0, 20.0, 0.4), (1299.0, 14.0, 0.7))
    there = [piece.position for piece in split_bands(POINTS, curve, 0.05)]
    back = [2396.0 - piece.position for piece in split_bands(POINTS, curve[::-1].copy(), 0.05)]
    assert sorted(back) == there


@pytest.mark.parametrize("centre", [1100.0, 1102.0])  # on a point, and midway: two equal highest points
def test_two_equal_highest_points_are_one_band(centre: float) -> None:
    curve = drawn((centre, 14.0, 1.0))
    assert split_bands(POINTS, curve, 0.05)[0].position == pytest.approx(centre, abs=2.0)


@pytest.mark.parametrize("decimals", [1, 2, 3])
def test_rounded_values_keep_their_bands(decimals: int) -> None:
    # Instruments write three decimals: tops, valleys and feet are then flat. Bands by scipy's find_peaks,
    # which takes the middle of a flat top.
    curve = drawn((1081.0, 22.0, 1.0), (1203.0, 26.0, 0.45), (1299.0, 18.0, 0.7)).round(decimals)
    tops, _ = find_peaks(curve, prominence=0.3)
    found = [piece.position for piece in split_bands(POINTS, curve, 0.2)]
    assert found == POINTS[tops].tolist()
    assert len(found) == 3


def test_a_clipped_band_stays_one_band() -> None:
    curve = np.minimum(drawn((1200.0, 40.0, 1.0)), 0.6)
    (piece,) = split_bands(POINTS, curve, 0.05)
    assert piece.position == pytest.approx(1200.0, abs=4.0)
    assert piece.curve == pytest.approx(curve, abs=1e-3)


def test_no_band_reaches_across_a_gap() -> None:
    points = np.concatenate([np.arange(1000.0, 1100.0, 4.0), np.arange(1200.0, 1300.0, 4.0)])
    curve = np.exp(-(((points - 1096.0) / 40.0) ** 2)) + np.exp(-(((points - 1240.0) / 15.0) ** 2))
    for piece in split_bands(points, curve, 0.05):
        assert not piece.low < 1150.0 < piece.high


def test_a_flat_or_a_falling_curve_has_no_band() -> None:
    assert split_bands(POINTS, np.zeros(POINTS.size), 0.05) == ()
    assert split_bands(POINTS, np.linspace(1.0, 0.0, POINTS.size), 0.05) == ()
