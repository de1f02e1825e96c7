"""The joint posterior against finite differences and plain least squares, every unknown of it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from spectra.filmfit.estimates import free_band, visible, widening
from spectra.filmfit.posterior import EVEN, FREE_PLACE, FREE_STRENGTH, Fit, linearise, polish, prior_of
from spectra.filmfit.state import State, unchanged
from tests.filmcases import at_rest, changed, exact_change, exact_target, film_model, nearest

MODEL = film_model()
U, B = len(MODEL.response.unknowns), len(MODEL.bands)


def somewhere(nm: float = 40.0) -> State:
    """A state off all centres, so that nothing is zero by luck."""
    state = at_rest(MODEL, nm)
    z = np.array([0.21, -0.32, 0.17, 0.24, -0.15, 0.13, 0.27, -0.18])[:U]
    state = replace(state, z=z)
    for band, (shift, height, wide) in {1: (1.5, 0.9, 0.05), B - 1: (-6.0, 1.2, 0.04)}.items():
        state = changed(state, band, shift=shift, height=height, widening=wide)
    return changed(state, B - 1, moved=True, resized=True)


@cache
def fitted() -> Fit:
    """Linearised a little off the truth, so that a residual is left."""
    return linearise(exact_target(MODEL, somewhere(44.0)), somewhere())


@pytest.mark.parametrize("unknown", range(1 + U + 3 * B))
def test_every_column_is_that_of_the_exact_response(unknown: int) -> None:
    fit, base = fitted(), somewhere()
    wide = unknown >= 1 + U + 2 * B
    size = 2e-3 if unknown <= U else 5e-3
    # A width stretches the axis: far from the band a small step is many points of the neat spectrum's noise.
    size = 2e-5 if wide else size
    step = np.zeros(fit.numbers)
    step[unknown] = size
    # Beyond the neat spectrum's range, which a narrower band would reach, a band is held: widths are tried
    # to the wide side only, by differences of second order all the same.
    places, weights = ((0, 1, 2), (-1.5, 2.0, -0.5)) if wide else ((-1, 1), (-0.5, 0.5))
    ends = [exact_change(MODEL, base.at(base.vector + place * step)) for place in places]
    slope = np.sum([w * end for w, end in zip(weights, ends, strict=True)], axis=0) / size
    numeric = MODEL.ground.clear(slope[None])[0] / fit.target.scale
    scale = max(float(np.linalg.norm(numeric)), 1e-3)
    # Slopes of band strengths with the optics are one-sided (STIR): a few per cent of a small part.
    allowed = 0.03 if 1 <= unknown <= U else 0.01
    assert np.linalg.norm(fit.rows[unknown] - numeric) < allowed * scale


def test_residual_and_contact_are_those_of_the_exact_response() -> None:
    fit = fitted()
    change = exact_change(MODEL, fit.state)
    np.testing.assert_allclose(fit.change, change, atol=1e-12)
    rest = MODEL.ground.clear((fit.target.difference - change)[None])[0] / fit.target.scale
    np.testing.assert_allclose(fit.rest, rest, atol=1e-8 * np.abs(rest).max())
    # A spot touched a little more: A = -log10(1 - p (1 - R)); the contact's row is proportional to dA/dp.
    spectrum, p = MODEL.ground.bare + change, 0.8
    lost = (1.0 - 10.0**-spectrum) / p
    touched = -np.log10(1.0 - (p + 1e-6) * lost) + np.log10(1.0 - (p - 1e-6) * lost)
    numeric = MODEL.ground.clear(touched[None])[0]
    cosine = numeric @ fit.rows[-1] / np.linalg.norm(numeric) / np.linalg.norm(fit.rows[-1])
    assert cosine == pytest.approx(1.0, abs=1e-6)


def plain_solution(rows: np.ndarray, rest: np.ndarray, away: np.ndarray, sd: np.ndarray) -> np.ndarray:
    """Least squares of data and priors stacked, by numpy's own solver: the slow and obvious version."""
    design = np.vstack([rows.T, np.diag(1.0 / sd)])
    return np.linalg.lstsq(design, np.concatenate([rest, -away / sd]), rcond=None)[0]


def test_what_is_left_is_that_of_a_plain_fit_of_the_linear_parts() -> None:
    fit = fitted()
    n = fit.numbers
    linear = fit.rows[n:]
    step = plain_solution(linear, fit.rest, np.zeros(len(linear)), fit.prior[1][n:])
    np.testing.assert_allclose(fit.left, fit.rest - step @ linear, atol=1e-6 * np.abs(fit.rest).max())


def test_the_total_is_the_sum_written_out() -> None:
    fit = fitted()
    n, (centre, sd) = fit.numbers, fit.prior
    linear = plain_solution(fit.rows[n:], fit.rest, np.zeros(len(fit.rows) - n), sd[n:])
    pull = ((fit.state.vector - centre[:n]) / sd[:n])[1:]  # the amount has no prior
    settings = MODEL.settings
    cost = (settings.place_cost + settings.strength_cost) * MODEL.ground.caution  # of the one band flagged
    expected = fit.left @ fit.left / 2.0 + ((linear / sd[n:]) ** 2).sum() + pull @ pull + cost
    assert fit.total(2.0) == pytest.approx(expected, rel=1e-9)


def test_priors_are_spikes_and_slabs() -> None:
    settings, state = MODEL.settings, somewhere()
    centre, sd = prior_of(fitted().target, state)
    places, heights, widths = (1 + U + k * B for k in range(3))
    narrow = next(b for b in range(B - 1) if MODEL.judged[b])
    assert sd[places + narrow] == pytest.approx(settings.place)
    assert sd[heights + narrow] == settings.strength
    assert sd[widths + narrow] == settings.width
    assert sd[places + B - 1] == FREE_PLACE
    assert sd[heights + B - 1] == settings.loose_strength
    assert sd[widths + B - 1] == settings.loose_width
    assert centre[heights : heights + B] == pytest.approx(np.ones(B))
    # An even density from -r to r has the variance r squared over three: any textbook.
    np.testing.assert_allclose(sd[1 : 1 + U], MODEL.response.room / np.sqrt(3.0))
    assert pytest.approx(1.0 / np.sqrt(3.0)) == EVEN


@pytest.mark.parametrize("band", [1, B - 1])
def test_a_free_band_is_what_a_plain_fit_without_its_prior_gives(band: int) -> None:
    fit = fitted()
    centre, sd = fit.prior
    own, sd = fit.row_of(band), sd.copy()
    sd[own] = FREE_PLACE, FREE_STRENGTH, MODEL.settings.loose_width
    expected = fit.values + plain_solution(fit.rows, fit.rest, fit.values - centre, sd)
    found, covariance = free_band(fit, band, 1.0)
    np.testing.assert_allclose(found, expected[own], rtol=1e-4, atol=1e-4)
    # The modelled covariance is the inverse of the stacked normal matrix; left-out spots only widen it.
    plain = np.linalg.inv(fit.rows @ fit.rows.T + np.diag(sd**-2.0))[np.ix_(own, own)]
    ratio = np.sqrt(np.diag(covariance) / np.diag(plain))
    assert (ratio > 1.0 - 1e-9).all()
    assert (ratio < 5.0).all()
    _, four = free_band(fit, band, 4.0)
    np.testing.assert_allclose(four, 4.0 * covariance, rtol=1e-9)


def test_errors_are_never_narrower_than_modelled() -> None:
    fit, rng = fitted(), np.random.default_rng(1)
    factors = widening(fit, rng.normal(size=(30, len(fit.rows))))
    assert factors.shape == (30,)
    assert (factors >= 1.0).all()


@pytest.mark.parametrize("nm", [15.0, 60.0, 200.0])
def test_the_mode_of_an_exact_sample_is_its_truth(nm: float) -> None:
    truth = at_rest(MODEL, nm)
    fit = polish(exact_target(MODEL, truth), at_rest(MODEL, 1.4 * nm), rounds=10, enough=1e-8)
    assert np.exp(fit.state.log_amount) == pytest.approx(nm, rel=0.01)
    assert fit.chi_square < 1e-3
    np.testing.assert_allclose(fit.state.shift, 0.0, atol=0.1)
    np.testing.assert_allclose(fit.state.height, 1.0, atol=0.01)
    centre, sd = fit.prior
    slope = fit.products - (fit.values - centre) / sd**2
    step = np.linalg.solve(fit.normal + np.diag(sd**-2.0), slope)
    assert step @ slope < 1e-4  # nothing is to be gained any more


def test_a_flagged_band_is_followed_to_its_place() -> None:
    band = nearest(MODEL, 1540.0)
    truth = changed(at_rest(MODEL, 60.0), band, shift=9.0, height=0.7)
    start = changed(at_rest(MODEL, 60.0), band, moved=True, resized=True)
    fit = polish(exact_target(MODEL, truth), start, rounds=10, enough=1e-8)
    found, _ = free_band(fit, band)
    assert found[:2] == pytest.approx([9.0, 0.7], abs=0.05)


def test_a_band_under_the_substrates_is_not_visible_and_a_strong_free_one_is() -> None:
    # The protein's weak 1080 lies under the polylactide's strong 1083; its 1540 lies free (tests.scenes).
    truth = at_rest(MODEL, 20.0)
    seen = visible(linearise(exact_target(MODEL, truth), truth))
    assert seen[nearest(MODEL, 1540.0)]
    assert seen[nearest(MODEL, 1650.0)]
    assert not seen[nearest(MODEL, 1080.0)]


def test_what_is_visible_does_not_depend_on_what_became_of_the_bands() -> None:
    truth = at_rest(MODEL, 20.0)
    band = nearest(MODEL, 1540.0)
    lost = changed(truth, band, height=0.0, resized=True, shift=12.0)
    target = exact_target(MODEL, lost)
    np.testing.assert_array_equal(visible(linearise(target, lost)), visible(linearise(target, truth)))
    back = unchanged(lost)
    assert (back.shift[band], back.height[band], back.resized[band]) == (0.0, 1.0, False)


def test_a_step_never_leaves_the_priors_ends() -> None:
    target = exact_target(MODEL, at_rest(MODEL, 60.0))
    far = replace(at_rest(MODEL, 4000.0), z=np.full(U, 0.9))
    state = polish(target, far, rounds=6).state
    assert (np.abs(state.z) <= MODEL.response.room + 1e-12).all()
    assert (state.height >= 0.0).all()
    assert (np.abs(state.shift) <= MODEL.settings.reach).all()
    least, most = MODEL.response.bounds
    assert least <= np.exp(state.log_amount) <= most
