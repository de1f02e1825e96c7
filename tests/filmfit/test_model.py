"""What does not depend on the sample: the bare set as it is seen, the bands, and what is tolerated."""

from __future__ import annotations

import pickle

import numpy as np
import pytest

from spectra.filmfit.bank import bank
from spectra.filmfit.model import _band_tolerance, nearby, soften
from spectra.filmfit.posterior import linearise
from spectra.optics.geometry import Geometry
from tests.filmcases import BARE_SPOTS, at_rest, exact_change, exact_target, film_model, learned, nearest
from tests.films import film_in_bands

MODEL = film_model()
GROUND = MODEL.ground


def test_whitening_undoes_the_covariance() -> None:
    # Curves with the learned covariance become independent ones of variance one.
    rng = np.random.default_rng(1)
    factor = GROUND.variation.factor
    draws = rng.normal(size=(3, len(factor)))
    np.testing.assert_allclose(GROUND.whiten(draws @ factor.T), draws, atol=1e-6)


def test_nothing_of_what_is_held_is_left() -> None:
    held = GROUND.held
    np.testing.assert_allclose(held @ held.T, np.eye(len(held)), atol=1e-9)
    points = GROUND.variation.reduction.points
    drift = np.vstack([np.ones(points.size), points / 1000.0])
    size = np.linalg.norm(GROUND.whiten(drift), axis=1)
    assert (np.linalg.norm(GROUND.clear(drift), axis=1) < 1e-6 * size).all()
    film = MODEL.response.change(20.0, np.zeros(len(MODEL.response.unknowns)), np.zeros(points.size, complex))
    assert np.linalg.norm(GROUND.clear(film[None])) > 0.1 * np.linalg.norm(GROUND.whiten(film[None]))


def test_every_bare_spot_is_left_out_once() -> None:
    assert len(GROUND.left_out) == BARE_SPOTS
    assert GROUND.inflation >= 1.0
    assert GROUND.degrees == 2.0 * (BARE_SPOTS - 1)
    assert np.linalg.norm(GROUND.mean_direction) == pytest.approx(1.0)


def test_without_constants_a_substrate_band_is_tolerated_as_it_stands() -> None:
    # All bands a little stronger together are the bare spectrum, a little stronger.
    points = GROUND.variation.reduction.points
    rows = _band_tolerance(points, GROUND.bare, None, Geometry(), MODEL.settings)
    assert len(rows) > 5
    together, expected = rows.sum(axis=0) / MODEL.settings.substrate, np.maximum(GROUND.bare, 0.0)
    cosine = together @ expected / np.linalg.norm(together) / np.linalg.norm(expected)
    assert cosine > 0.97
    assert together.max() == pytest.approx(expected.max(), rel=0.15)


def test_what_is_tolerated_is_clear_of_what_is_held() -> None:
    rows = GROUND.tolerated
    assert len(rows) > 5
    np.testing.assert_allclose(rows @ GROUND.held.T, 0.0, atol=1e-6 * np.abs(rows).max())


def test_the_coatings_bands_are_those_it_was_made_of() -> None:
    # Positions, widths and heights (Im eps) of tests.scenes' protein, as recovered from noisy neat spectra.
    truth = film_in_bands("protein")
    strong = [i for i in range(truth.positions.size) if truth.heights[i] > 0.2 * truth.heights.max()]
    for i in strong:
        band = nearest(MODEL, truth.positions[i])
        assert MODEL.bands.positions[band] == pytest.approx(truth.positions[i], abs=3.0)
        assert MODEL.bands.widths[band] == pytest.approx(truth.widths[i], rel=0.25)
    broad = nearest(MODEL, 3290.0)
    assert not MODEL.judged[broad]
    assert MODEL.judged[nearest(MODEL, 1540.0)]


def test_the_bands_at_rest_are_the_whole_of_the_film() -> None:
    total = sum(MODEL.templates.at(b, 0.0, 0.0) for b in range(len(MODEL.bands)))
    whole = MODEL.response.function(np.zeros(len(MODEL.response.unknowns)))
    absorbing = np.maximum(whole.imag, 0.0)
    np.testing.assert_allclose(total.imag, absorbing, atol=0.01 * absorbing.max())


def test_bands_are_divided_anew_where_the_optics_stand() -> None:
    zero = np.zeros(len(MODEL.response.unknowns))
    same = MODEL.rebased(zero)
    np.testing.assert_allclose(same.templates.at(0, 3.0, 0.0), MODEL.templates.at(0, 3.0, 0.0), atol=1e-9)
    contact = MODEL.response.unknowns.index("coating contact")
    moved = zero.copy()
    moved[contact] = -0.5
    other = MODEL.rebased(moved)
    assert other.base[contact] == -0.5
    total = sum(other.templates.at(b, 0.0, 0.0) for b in range(len(MODEL.bands)))
    np.testing.assert_allclose(
        total.imag, np.maximum(MODEL.response.function(moved).imag, 0.0), atol=0.01 * total.imag.max()
    )
    neat = film_model(geometry=False)
    assert neat.rebased(np.zeros(len(neat.response.unknowns))) is neat


def test_points_near_a_used_one_are_fitted_and_those_in_a_gap_are_not() -> None:
    points = np.array([1000.0, 1002.0, 1004.0, 1100.0, 1102.0])
    grid = np.array([999.0, 1003.0, 1006.9, 1050.0, 1099.0, 1101.0, 1110.0])
    assert nearby(grid, points).tolist() == [True, True, True, False, True, True, False]


def test_without_a_geometry_the_neat_spectrum_is_scaled_and_places_stay_open() -> None:
    model = film_model(geometry=False)
    assert model.source is None
    assert model.response.unknowns == ("depth",)
    assert (model.place_error > 0.0).any()
    assert (MODEL.place_error == 0.0).all()


def test_a_model_goes_to_another_process_and_gives_the_same_there() -> None:
    bank(MODEL, 1)
    there = pickle.loads(pickle.dumps(MODEL))
    truth = at_rest(MODEL, 30.0)
    ours, theirs = (linearise(exact_target(model, truth), truth) for model in (MODEL, there))
    np.testing.assert_array_equal(ours.rows, theirs.rows)
    np.testing.assert_array_equal(there.banks[1], MODEL.banks[1])


def test_the_study_learns_one_ground_for_all_coatings_of_a_technique() -> None:
    model = learned()
    assert set(model.grounds) == {"ATR"}
    assert model.films["film", "ATR"].ground is model.grounds["ATR"]


def test_a_share_of_the_films_own_signal_adds_to_the_covariance_point_by_point() -> None:
    # Slow obvious version: the covariance written out, and what is held taken out by least squares.
    ground, scale, share = MODEL.ground, 0.6, 0.05
    signal = np.abs(exact_change(MODEL, at_rest(MODEL, 80.0)))
    soft = soften(ground, signal, scale, share)
    factor = ground.variation.factor
    held = ground.held @ factor.T  # in absorbance
    covariance = scale**2 * factor @ factor.T + np.diag((share * signal) ** 2)
    inverse = np.linalg.inv(covariance)
    rng = np.random.default_rng(3)
    rows = rng.normal(size=(2, signal.size)) * 1e-3
    inner = held @ inverse @ held.T
    along = np.linalg.solve(inner, held @ inverse @ rows.T)
    expected = rows @ inverse @ rows.T - (rows @ inverse @ held.T) @ along
    cleared = soft.clear(rows) / scale
    np.testing.assert_allclose(cleared @ cleared.T, expected, rtol=1e-6)
    # What is clear in the old metric is carried over to the same, and back.
    np.testing.assert_allclose(soft.carried(ground.clear(rows)), soft.clear(rows), atol=1e-8)
    there = ground.clear(rows)
    np.testing.assert_allclose(soft.hardened(soft.softened(there)), there, atol=1e-10)


def test_without_a_share_nothing_is_softened() -> None:
    rows = np.random.default_rng(4).normal(size=(2, MODEL.ground.bare.size)) * 1e-3
    soft = soften(MODEL.ground, np.ones(rows.shape[1]), 0.6, 0.0)
    np.testing.assert_allclose(soft.clear(rows), MODEL.ground.clear(rows), atol=1e-10)
