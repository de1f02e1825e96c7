"""A spectrum divided among oscillators: the fit, the division, Kramers-Kronig, and bands that move."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from scipy.optimize import approx_fprime, least_squares

from spectra.filmfit.oscillators import (
    Bands,
    _fit,
    _slopes,
    _sum,
    divide,
    find_bands,
    make_templates,
    oscillator,
)
from spectra.optics.kramers_kronig import dispersion
from tests import scenes

GRID = scenes.GRID
ALL = np.ones(GRID.size, dtype=bool)
MIDDLE = (GRID > 600.0) & (GRID < 3600.0)
# Position, full width, Lorentz share, height: invented, three alone and two that overlap.
TRUE = np.array(
    [
        [1080.0, 60.0, 0.4, 0.10],
        [1240.0, 50.0, 0.2, 0.20],
        [1540.0, 48.0, 0.5, 0.60],
        [1648.0, 50.0, 0.3, 0.90],
        [2960.0, 40.0, 0.0, 0.15],
    ]
)


def drawn(rows: np.ndarray, grid: np.ndarray = GRID) -> np.ndarray:
    """Sum of Gauss-Lorentz bands, written out band by band and point by point."""
    total = np.zeros(grid.size)
    for position, width, share, height in rows:
        for i, nu in enumerate(grid):
            u = 2.0 * (nu - position) / width
            total[i] += height * ((1 - share) * 2.0 ** -(u * u) + share / (1 + u * u))
    return total


def test_the_sum_is_the_one_written_out() -> None:
    np.testing.assert_allclose(_sum(GRID, TRUE), drawn(TRUE), rtol=1e-12, atol=1e-15)


@pytest.mark.parametrize("nu", [1085.0, 1248.0, 1500.0, 1634.0, 1700.0, 2950.0])
def test_slopes_are_those_of_finite_differences(nu: float) -> None:
    x = np.array([nu])
    numeric = approx_fprime(TRUE.ravel(), lambda flat: float(_sum(x, flat.reshape(-1, 4))[0]), 1e-6)
    np.testing.assert_allclose(_slopes(x, TRUE)[0], numeric, atol=2e-6)


def test_bands_are_found_with_their_places_widths_and_heights() -> None:
    bands = find_bands(GRID, drawn(TRUE), ALL, 20, 0.01)
    assert len(bands) == 5
    np.testing.assert_allclose(bands.positions, TRUE[:, 0], atol=0.1)
    np.testing.assert_allclose(bands.widths, TRUE[:, 1], rtol=0.02)
    np.testing.assert_allclose(bands.heights, TRUE[:, 3], rtol=0.02)


def test_the_fit_is_as_good_as_a_slow_one_without_its_slopes() -> None:
    # scipy's least squares with numerical derivatives on the model written out, from the same start
    rng = np.random.default_rng(1)
    near = np.arange(1400.0, 1800.0, 4.0)
    two = TRUE[2:4]
    noisy = drawn(two, near) + 0.003 * rng.normal(size=near.size)
    start = two + np.array([[4.0, -6.0, -0.2, 0.05], [-3.0, 5.0, 0.1, -0.05]])
    slow = least_squares(
        lambda flat: drawn(flat.reshape(-1, 4), near) - noisy,
        start.ravel(),
        x_scale=np.tile([5.0, 10.0, 0.3, 0.9], 2),
    )
    fast = _fit(near, noisy, start, 30)
    np.testing.assert_allclose(fast, slow.x.reshape(-1, 4), rtol=2e-3, atol=2e-3)


def test_no_more_oscillators_than_allowed_and_none_where_nothing_absorbs() -> None:
    assert len(find_bands(GRID, drawn(TRUE), ALL, 3, 0.01)) == 3
    none = find_bands(GRID, np.zeros(GRID.size), ALL, 20, 0.01)
    assert (len(none), none.positions.size) == (0, 0)
    assert len(find_bands(GRID, drawn(TRUE), np.zeros(GRID.size, bool), 20, 0.01)) == 0


def test_points_that_may_not_be_used_are_not_looked_at() -> None:
    spoilt = drawn(TRUE)
    spoilt[(GRID > 2300) & (GRID < 2400)] = 5.0
    bands = find_bands(GRID, spoilt, ~((GRID > 2290) & (GRID < 2410)), 20, 0.01)
    np.testing.assert_allclose(bands.positions, TRUE[:, 0], atol=0.2)


def test_a_shoulder_joins_the_band_it_resembles_and_a_band_apart_does_not() -> None:
    shoulder = np.array([[1650.0, 50.0, 0.2, 1.0], [1675.0, 30.0, 0.2, 0.25]])
    apart = np.array([[1650.0, 50.0, 0.2, 1.0], [1760.0, 40.0, 0.2, 0.25]])
    joined = find_bands(GRID, drawn(shoulder), ALL, 4, 0.02, merged=0.5)
    assert len(joined) == 1
    assert len(joined.parts[0]) >= 2
    assert len(find_bands(GRID, drawn(apart), ALL, 4, 0.02, merged=0.5)) == 2


@pytest.mark.parametrize("share", [0.0, 0.4, 1.0])
def test_an_oscillators_real_part_is_its_kramers_kronig_partner(share: float) -> None:
    # Maclaurin's rule (Ohta and Ishida, Appl. Spectrosc. 42, 952, 1988), which shares no code with ours.
    band = oscillator(GRID, np.array([[1650.0, 50.0, share, 0.9]]))
    assert band.imag.max() == pytest.approx(0.9, rel=1e-3)
    partner = scenes.kramers_kronig(band.imag[None])[0]
    np.testing.assert_allclose(partner[MIDDLE], band.real[MIDDLE], atol=0.01 * 0.9)


def test_a_purely_lorentzian_oscillator_has_the_textbook_form() -> None:
    # Im 1 / (1 - i u), u = 2 (nu - nu0) / width, less its mirror image: any textbook of optics.
    u, mirror = (2.0 * (GRID - at) / 40.0 for at in (1000.0, -1000.0))
    expected = 1j * 0.5 * (1.0 / (1.0 - 1j * u) - 1.0 / (1.0 - 1j * mirror))
    found = oscillator(GRID, np.array([[1000.0, 40.0, 1.0, 0.5]]))
    np.testing.assert_allclose(found, expected, atol=1e-12)


def constants(material: str) -> np.ndarray:
    """Im eps of a material: an oscillator one, or published constants."""
    return np.maximum(scenes.film_of(material).imag, 0.0)


@pytest.mark.parametrize("material", ["protein", "polyether", "PMMA", "PC", "PDMS"])
def test_a_measured_spectrum_is_divided_without_a_rest(material: str) -> None:
    imag = constants(material)
    bands = find_bands(GRID, imag, ALL, 22, 0.012, 0.5)
    shares = divide(GRID, imag, bands, complex_parts=True)
    total = shares.sum(axis=0)
    np.testing.assert_allclose(total.imag, imag, atol=1e-12)
    assert (shares.imag >= 0.0).all()
    # Kramers-Kronig is linear: the real parts add up to that of the whole, by Maclaurin's rule.
    np.testing.assert_allclose(
        total.real[MIDDLE], scenes.kramers_kronig(imag[None])[0][MIDDLE], atol=0.02 * imag.max()
    )


@pytest.mark.parametrize(("material", "place"), [("PMMA", 1730.0), ("PC", 1775.0), ("PDMS", 1260.0)])
def test_published_constants_have_their_best_known_band(material: str, place: float) -> None:
    # C=O of an acrylate and of a carbonate, CH3 deformation of a silicone: group frequencies, from memory.
    imag = constants(material)
    bands = find_bands(GRID, imag, ALL, 22, 0.012, 0.5)
    at = int(np.argmin(np.abs(bands.positions - place)))
    assert bands.positions[at] == pytest.approx(place, abs=10.0)
    assert bands.heights[at] > 0.3 * imag.max()


def test_absorbance_is_divided_as_it_stands() -> None:
    curve = drawn(TRUE)
    bands = find_bands(GRID, curve, ALL, 20, 0.01)
    shares = divide(GRID, curve, bands, complex_parts=False)
    assert not shares.imag.any()
    np.testing.assert_allclose(shares.real.sum(axis=0), curve, atol=1e-12)


def templates_of(row: np.ndarray, points: np.ndarray):
    share = oscillator(GRID, row[None])
    return make_templates(GRID, share[None], np.array([row[0]]), points)


@pytest.mark.parametrize("shift", [-22.0, -3.3, 0.0, 12.0])
def test_a_moved_template_is_the_oscillator_at_its_new_place(shift: float) -> None:
    points = GRID[MIDDLE][::2]
    there = TRUE[3] + np.array([shift, 0.0, 0.0, 0.0])
    found = templates_of(TRUE[3], points).at(0, shift, 0.0)
    # The part from negative wavenumbers stays behind, hence not exact.
    np.testing.assert_allclose(found, oscillator(points, there[None]), atol=0.003)


def test_a_widened_template_is_the_wider_oscillator_at_the_same_height() -> None:
    points = GRID[MIDDLE][::2]
    wider = TRUE[3] * np.array([1.0, 1.25, 1.0, 1.0])
    found = templates_of(TRUE[3], points).at(0, 0.0, np.log(1.25))
    np.testing.assert_allclose(found, oscillator(points, wider[None]), atol=0.02)
    assert found.imag.max() == pytest.approx(0.9, rel=1e-2)


def test_slopes_of_a_template_are_those_of_finite_differences() -> None:
    points = GRID[MIDDLE][::2]
    one = templates_of(TRUE[3], points)
    at, by_shift, by_width = one.with_slopes(0, 5.0, 0.1)
    np.testing.assert_array_equal(at, one.at(0, 5.0, 0.1))
    for slope, ends in (
        (by_shift, (one.at(0, 5.01, 0.1), one.at(0, 4.99, 0.1))),
        (by_width, (one.at(0, 5.0, 0.11), one.at(0, 5.0, 0.09))),
    ):
        numeric = (ends[0] - ends[1]) / 0.02
        np.testing.assert_allclose(slope, numeric, atol=5e-4 * np.abs(numeric).max() + 1e-6)


def test_bands_and_templates_can_be_sent_to_another_process() -> None:
    bands: Bands = pickle.loads(pickle.dumps(find_bands(GRID, drawn(TRUE), ALL, 20, 0.01)))
    np.testing.assert_allclose(bands.positions, TRUE[:, 0], atol=0.1)
    one = templates_of(TRUE[3], GRID[::4])
    np.testing.assert_array_equal(pickle.loads(pickle.dumps(one)).at(0, 3.0, 0.1), one.at(0, 3.0, 0.1))


def test_the_division_of_a_grid_uses_the_same_transform_as_the_optics() -> None:
    imag = constants("protein")
    bands = find_bands(GRID, imag, ALL, 22, 0.012, 0.5)
    total = divide(GRID, imag, bands, complex_parts=True).sum(axis=0)
    np.testing.assert_allclose(total.real, dispersion(GRID)(imag), atol=1e-10)
