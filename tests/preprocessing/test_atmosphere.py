"""Gases and moisture where handbooks have them, and as wide as the instrument makes them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as limits
from hypothesis import strategies as st

from spectra.preprocessing.atmosphere import carbon_dioxide, liquid_water, vapour_lines, water_vapour


def test_the_strongest_vapour_lines_are_those_of_the_bending_band() -> None:
    # Herzberg, Infrared and Raman Spectra (1945): nu2 of H2O at 1595 cm-1, no Q branch (from memory).
    positions, strengths = vapour_lines()
    assert np.all(np.diff(positions) >= 0)
    strongest = positions[np.argsort(strengths)[-40:]]
    # The rest are stretching lines above 3700.
    assert np.all(((strongest > 1400) & (strongest < 1900)) | (strongest > 3600))
    grid = np.arange(1300.0, 1950.0, 1.0)
    curve = water_vapour(grid, 4.0)
    centre = np.average(grid, weights=curve)
    assert centre == pytest.approx(1595.0, abs=40.0)
    assert curve[np.abs(grid - 1595.0) < 4.0].max() < 0.4  # the gap between the branches


def test_no_vapour_line_where_the_air_is_clear() -> None:
    # 2500 to 2800 cm-1 is the usual window for judging noise (common practice, no source).
    assert water_vapour(np.arange(2500.0, 2700.0, 2.0), 4.0).max() in (0.0, 1.0)
    whole = np.arange(400.0, 4000.0, 2.0)
    quiet = (whole > 2400.0) & (whole < 2750.0)
    assert water_vapour(whole, 4.0)[quiet].max() < 0.02


@given(st.floats(1.0, 16.0))
@limits(max_examples=15)
def test_a_line_is_as_wide_as_the_instrument(resolution: float) -> None:
    # The line of strongest isolation: its width at half height is the resolution.
    grid = np.arange(2000.0, 2700.0, 0.25)
    curve = carbon_dioxide(grid, resolution)
    assert curve.max() == 1.0
    area_fine = np.trapezoid(curve, grid)
    assert area_fine > 0
    spread = np.sqrt(np.average((grid - 2349.1) ** 2, weights=curve))
    # Two independent spreads add in quadrature: that of the branches and that of the instrument.
    branches = np.sqrt(spread**2 - (resolution / 2.3548) ** 2)
    assert branches == pytest.approx(18.3, abs=1.0)


def test_carbon_dioxide_has_two_branches_and_a_bending_spike() -> None:
    # R and P maxima of the stretching band near 2361 and 2338 cm-1, the bending Q branch at 667 (handbooks,
    # from memory).
    grid = np.arange(2250.0, 2450.0, 0.5)
    curve = carbon_dioxide(grid, 8.0)
    upper, lower = grid > 2349.0, grid < 2349.0
    assert grid[upper][np.argmax(curve[upper])] == pytest.approx(2361.0, abs=3.0)
    assert grid[lower][np.argmax(curve[lower])] == pytest.approx(2337.0, abs=4.0)
    assert curve[np.abs(grid - 2349.1) < 0.5].max() < 0.8
    bending = np.arange(600.0, 740.0, 0.5)
    assert bending[np.argmax(carbon_dioxide(bending, 4.0))] == pytest.approx(667.4, abs=0.5)
    both = np.arange(600.0, 2500.0, 1.0)
    heights = carbon_dioxide(both, 4.0)
    assert heights[both < 800].max() < heights[both > 2000].max() == 1.0


def test_liquid_water_absorbs_where_the_tables_of_its_constants_have_it() -> None:
    # Bertie & Lan, Appl. Spectrosc. 50, 1047 (1996): k highest near 3390, bending 1640 to 1645 (from memory).
    # Below 900 cm-1 the libration is higher still, k 0.43 near 580.
    grid = np.arange(1000.0, 4000.0, 2.0)
    curve = liquid_water(grid)
    assert grid[np.argmax(curve)] == pytest.approx(3390.0, abs=15.0)
    bending = (grid > 1500.0) & (grid < 1800.0)
    assert grid[bending][np.argmax(curve[bending])] == pytest.approx(1643.0, abs=6.0)
    assert 0.3 < curve[bending].max() < 0.6  # k 0.13 against 0.28
    assert (curve >= 0.0).all()


def test_outside_the_tables_there_is_nothing() -> None:
    far = np.arange(5000.0, 6000.0, 4.0)
    for curve in (liquid_water(far), carbon_dioxide(far, 4.0)):
        assert not curve.any()
    assert not carbon_dioxide(np.arange(1000.0, 1500.0, 2.0), 4.0).any()


def test_shapes_do_not_depend_on_the_grid_they_are_drawn_on() -> None:
    fine, coarse = np.arange(2200.0, 2500.0, 0.5), np.arange(2200.0, 2500.0, 2.0)
    for curve in (carbon_dioxide, water_vapour):
        one, other = curve(fine, 8.0), curve(coarse, 8.0)
        if one.any():
            assert other / other.max() == pytest.approx(one[::4] / one[::4].max(), abs=1e-6)
