"""What became of each band: the search against plain refits, and fates of exact samples."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from spectra.filmfit.bank import Others, bank, new_bands
from spectra.filmfit.posterior import Fit, linearise
from spectra.filmfit.search import find_fates
from tests.filmcases import at_rest, changed, exact_change, exact_target, film_model, nearest

MODEL = film_model()
AMIDE = nearest(MODEL, 1540.0)


def somewhere() -> Fit:
    """A fit that is not at its mode and has a band flagged."""
    truth = changed(at_rest(MODEL, 40.0), AMIDE, shift=7.0, height=0.8)
    here = changed(at_rest(MODEL, 37.0), AMIDE, shift=3.0, moved=True)
    return linearise(exact_target(MODEL, truth), here)


def least(fit: Fit, sample: np.ndarray, kept: np.ndarray) -> float:
    """Least -2 log posterior over some unknowns: numpy's least squares of data and priors stacked."""
    centre, sd = fit.prior
    design = np.vstack([fit.rows[kept].T, np.diag(1.0 / sd[kept])])
    data = np.concatenate([sample, -(fit.values - centre)[kept] / sd[kept]])
    step = np.linalg.lstsq(design, data, rcond=None)[0]
    rest = data - design @ step
    return float(rest @ rest)


@pytest.mark.parametrize("height", [0.4, 1.0, 1.7])
def test_a_template_gains_what_a_plain_refit_of_everything_else_gains(height: float) -> None:
    fit = somewhere()
    others = Others(fit, AMIDE)
    rows = bank(MODEL, 2)[AMIDE][[3, 40, 60]] / fit.target.scale
    products, squares = others.ask(rows)
    kept = np.delete(np.arange(len(fit.rows)), fit.row_of(AMIDE))
    without = fit.rest + fit.state.height[AMIDE] * fit.rows[fit.row_of(AMIDE)[1]]
    nothing = least(fit, without, kept)
    for row, product, square in zip(rows, products, squares, strict=True):
        gain = nothing - least(fit, without - height * row, kept)
        assert 2.0 * height * product - height**2 * square == pytest.approx(gain, rel=1e-6, abs=1e-3)


def test_what_a_band_gains_as_it_stands_is_what_two_plain_refits_say() -> None:
    fit = somewhere()
    kept = np.delete(np.arange(len(fit.rows)), fit.row_of(AMIDE))
    without = fit.rest + fit.state.height[AMIDE] * fit.rows[fit.row_of(AMIDE)[1]]
    expected = least(fit, without, kept) - least(fit, fit.rest, np.arange(len(fit.rows)))
    assert Others(fit, AMIDE).gain_now() == pytest.approx(expected, rel=1e-6)


def test_the_bank_holds_what_a_band_at_every_shift_adds() -> None:
    # At a knot of the thickness, by the exact stack: a thousandth of the band added at its new place.
    knot, shifts = 2, MODEL.shifts
    assert shifts[0] == -MODEL.settings.reach
    nothing = np.zeros(len(MODEL.response.unknowns))
    rows = bank(MODEL, knot)[AMIDE].reshape(3, shifts.size, -1)
    for j in (0, shifts.size // 2, shifts.size - 5):
        extra = 1e-3 * MODEL.templates.at(AMIDE, float(shifts[j]), 0.0)
        ends = [MODEL.response.change(MODEL.response.knots[knot], nothing, s * extra) for s in (1.0, -1.0)]
        exact = MODEL.ground.clear(((ends[0] - ends[1]) / 2e-3)[None])[0]
        assert np.linalg.norm(rows[1, j] - exact) < 5e-3 * np.linalg.norm(exact)
    assert bank(MODEL, knot) is bank(MODEL, knot)  # made once


def test_the_bank_does_not_depend_on_what_was_fitted_before() -> None:
    one, other = (replace(MODEL, banks={}) for _ in range(2))
    again = one.rebased(np.full(len(MODEL.response.unknowns), 0.8))
    assert not np.allclose(
        again.templates.at(AMIDE, 0.0, 0.0), MODEL.templates.at(AMIDE, 0.0, 0.0), rtol=1e-3
    )
    np.testing.assert_array_equal(bank(again, 2), bank(other, 2))
    assert bank(one, 2) is bank(again, 2)


def test_new_bands_stand_where_none_of_the_coatings_does() -> None:
    points, rows = MODEL.templates.points, new_bands(MODEL)
    assert len(rows) > 20
    back = rows @ MODEL.ground.variation.factor.T  # undoes the whitening; what is held is missing
    tops = points[np.argmax(np.abs(back), axis=1)]
    own = MODEL.bands.positions[MODEL.judged]
    distance = np.abs(tops[:, None] - own).min(axis=1)
    assert np.median(distance) > 0.5 * np.median(MODEL.bands.widths[MODEL.judged])


FATES = {
    "nothing": {},
    "moved up": {"shift": 8.0},
    "moved far down": {"shift": -22.0},
    "lost": {"height": 0.0},
    "halved": {"height": 0.5},
    "moved and halved": {"shift": -12.0, "height": 0.5},
}


@pytest.mark.parametrize("fate", FATES)
def test_the_fate_of_one_band_is_found_and_no_others(fate: str) -> None:
    values = FATES[fate]
    truth = changed(at_rest(MODEL, 60.0), AMIDE, **values)
    fit = find_fates(exact_target(MODEL, truth))
    state = fit.state
    flagged = set(np.flatnonzero(state.moved | state.resized).tolist())
    assert flagged == ({AMIDE} if values else set())
    if "height" in values:
        assert state.height[AMIDE] == pytest.approx(values["height"], abs=0.05)
        assert state.resized[AMIDE]
    if "shift" in values:
        assert state.shift[AMIDE] == pytest.approx(values["shift"], abs=0.5)
        assert state.moved[AMIDE]
    assert np.exp(state.log_amount) == pytest.approx(60.0, rel=0.03)
    assert fit.chi_square < 0.1
    assert fit.target.new == ()


@pytest.mark.parametrize("by", [12.0, -22.0])
def test_a_film_all_of_whose_bands_moved_is_followed(by: float) -> None:
    rest = at_rest(MODEL, 60.0)
    truth = replace(rest, shift=np.where(MODEL.judged, by, 0.0))
    state = find_fates(exact_target(MODEL, truth)).state
    strong = MODEL.judged & (MODEL.bands.heights > 0.2 * MODEL.bands.heights.max())
    assert strong.sum() >= 2
    np.testing.assert_allclose(state.shift[strong], by, atol=1.0)
    assert state.moved[strong].all()
    assert np.exp(state.log_amount) == pytest.approx(60.0, rel=0.05)


def test_a_band_that_is_none_of_the_coatings_is_fitted_beside_it() -> None:
    points = MODEL.templates.points
    bump = 0.004 * np.exp(-4.0 * np.log(2.0) * ((points - 1320.0) / 40.0) ** 2)
    target = exact_target(MODEL, at_rest(MODEL, 60.0))
    row = MODEL.ground.clear(bump[None])[0] / target.scale
    fit = find_fates(replace(target, difference=target.difference + bump, cleared=target.cleared + row))
    assert len(fit.target.new) >= 1
    assert not (fit.state.moved | fit.state.resized).any()
    assert np.exp(fit.state.log_amount) == pytest.approx(60.0, rel=0.03)


def test_nothing_on_the_surface_is_hardly_any_film() -> None:
    target = exact_target(MODEL, at_rest(MODEL, 0.06))
    fit = find_fates(target)
    assert np.exp(fit.state.log_amount) < 1.0
    assert np.abs(exact_change(MODEL, fit.state)).max() < 2e-3
