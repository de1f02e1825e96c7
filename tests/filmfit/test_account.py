"""The account of a sample with known truth: excess, amount, places, heights, what is explained."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from spectra.detection.capability import average_sample
from spectra.detection.identity import identify
from spectra.detection.settings import IdentitySettings
from spectra.filmfit.account import Account, account_for, expected_bands, measure_excess
from spectra.filmfit.posterior import linearise
from tests.filmcases import PAIR, at_rest, exact_target, film_model, learned, nearest, scene_of
from tests.films import edited, film_in_bands
from tests.scenes import GRID, film_of, mean_substrate, reflection_absorbance, spots
from tests.studyspeed import stack

MODEL = film_model()
SCENE = scene_of()
NONE = (0.0, 1.0)


def excess_of(rows: np.ndarray):
    coarse = learned().coarse
    assert coarse is not None
    sample = average_sample(stack(rows), coarse)
    return measure_excess(MODEL.ground, sample.reduced.mean(axis=0), sample.variance), sample


@cache
def account(nm: float, film: str = "", shift: float = 0.0, height: float = 1.0, seed: int = 5) -> Account:
    """Four spots with a film: another material's, or the protein's with its 1540 changed."""
    own = film_in_bands("protein")
    shifts, heights = np.zeros(own.positions.size), np.ones(own.positions.size)
    at = int(np.argmin(np.abs(own.positions - 1540.0)))
    shifts[at], heights[at] = shift, height
    eps = film_of(film) if film else edited(own, shifts, heights)
    excess, sample = excess_of(spots(SCENE, np.random.default_rng(seed), 4, nm, film=eps))
    return account_for(MODEL, sample.reduced.mean(axis=0), sample.variance, excess, NONE, 0.95)


def test_bare_samples_are_hardly_ever_more_than_bare() -> None:
    rng = np.random.default_rng(3)
    chances = [excess_of(spots(SCENE, rng, 4))[0].p_value for _ in range(25)]
    assert sum(p < 0.01 for p in chances) <= 2  # one in a hundred is stated
    assert np.median(chances) > 0.05


@pytest.mark.parametrize("film", ["", "polyether", "PMMA"])
def test_any_layer_is_more_than_bare(film: str) -> None:
    eps = film_of(film or "protein")
    found = excess_of(spots(SCENE, np.random.default_rng(4), 4, 40.0, film=eps))[0]
    assert found.p_value < 1e-6
    assert found.energy > 3.0 * found.degrees


def test_an_unchanged_film_is_explained_and_nothing_is_flagged() -> None:
    found = account(60.0)
    assert found.explained > 0.97
    assert found.chi_square < 2.0
    assert not any(band.moved or band.resized for band in found.bands)
    assert found.low < 60.0 < found.high
    assert found.low < found.mode < found.high


def test_another_material_is_not_named() -> None:
    # Bands that are none of the coating's are fitted beside it, so that much may be explained: identity asks
    # for the coating's own bands.
    settings = IdentitySettings()
    assert identify(account(60.0), settings).named
    assert not identify(account(60.0, "polyether"), settings).named


@pytest.mark.parametrize(("shift", "height"), [(9.0, 1.0), (-14.0, 1.0), (0.0, 0.45), (0.0, 0.0)])
def test_a_changed_band_is_measured_with_intervals_that_hold_the_truth(shift: float, height: float) -> None:
    found = account(80.0, "", shift, height)
    band = found.bands[nearest(MODEL, 1540.0)]
    assert abs(band.ratio - height) < 4.0 * band.ratio_error + 0.05
    if shift:
        assert abs(band.shift - shift) < 4.0 * band.shift_error
        assert band.moved
    else:
        assert band.resized
    others = [b for b in found.bands if b is not band and b.narrow and b.ratio_reach < 0.1]
    assert others
    assert not any(b.moved or b.resized for b in others)
    assert found.explained > 0.97
    assert found.low < 80.0 < found.high


def test_intervals_of_places_and_heights_hold_the_truth_as_often_as_said() -> None:
    # Student's t of 10 degrees, 95 %: 2.228 (any table). Unchanged films of three thicknesses.
    found = [account(nm, seed=seed) for seed in (6, 7) for nm in (20.0, 60.0, 140.0)]
    bands = [b for one in found for b in one.bands if b.narrow and b.ratio_reach < 0.2]
    assert len(bands) > 20
    places = sum(abs(b.shift) <= 2.228 * b.shift_error for b in bands)
    heights = sum(abs(b.ratio - 1.0) <= 2.228 * b.ratio_error for b in bands)
    assert places >= 0.88 * len(bands)
    assert heights >= 0.88 * len(bands)
    assert sum(one.low <= nm <= one.high for one, nm in zip(found, (20.0, 60.0, 140.0) * 2, strict=True)) >= 5


def test_what_could_be_judged_does_not_depend_on_what_became_of_it() -> None:
    plain, gone = account(80.0), account(80.0, "", 0.0, 0.0)
    at = nearest(MODEL, 1540.0)
    assert gone.bands[at].ratio_reach == pytest.approx(plain.bands[at].ratio_reach, rel=0.3)
    assert gone.bands[at].share == pytest.approx(plain.bands[at].share, rel=0.15)
    shares = [band.share for band in plain.bands]
    assert sum(shares) == pytest.approx(1.0)
    assert all(share == 0.0 for share, band in zip(shares, plain.bands, strict=True) if not band.narrow)


@pytest.mark.parametrize("place", [1650.0, 1540.0])
def test_bands_are_expected_where_an_exact_film_has_them(place: float) -> None:
    # tests.scenes' own optics: what a little more of the band adds to a film of 60 nm on the substrate.
    state = at_rest(MODEL, 60.0)
    places, heights = expected_bands(linearise(exact_target(MODEL, state), state))
    own, bed = film_in_bands("protein"), mean_substrate(SCENE)
    part = own.parts[int(np.argmin(np.abs(own.positions - place)))]
    ends = [reflection_absorbance(bed, own.eps + s * part, 60.0, SCENE.touch) for s in (0.02, -0.02)]
    alone = (ends[0] - ends[1]) / 0.04
    band = nearest(MODEL, place)
    assert places[band] == pytest.approx(GRID[int(np.argmax(alone))], abs=3.0)
    # The sample's contact is one of the unknowns; at the middle of its prior it is not the scene's.
    contact = alone.max() * (0.5 + 0.5 * 1.0 / SCENE.touch)
    assert heights[band] == pytest.approx(contact, rel=0.3)


def test_the_curve_is_the_difference_with_what_is_no_coating_taken_off() -> None:
    found = account(80.0)
    rest = found.difference - found.curve
    assert np.std(rest) < 0.1 * np.ptp(found.curve)
    points = MODEL.templates.points
    weakened = int(np.argmin(np.abs(points - 1750.0)))  # the substrate's C=O
    assert found.curve[weakened] < 0.0
    assert found.curve[weakened] < found.own[weakened]
    assert found.own.max() > 0.5 * found.curve.max()


def test_scatter_between_specimens_lengthens_the_interval_and_moves_nothing() -> None:
    excess, sample = excess_of(spots(SCENE, np.random.default_rng(5), 4, 60.0))
    given = (MODEL, sample.reduced.mean(axis=0), sample.variance, excess)
    narrow, wide = (account_for(*given, scatter, 0.95) for scatter in (NONE, (0.15**2, 2.0)))
    assert wide.high / wide.low > narrow.high / narrow.low
    assert wide.bands == narrow.bands
    assert wide.amount == pytest.approx(narrow.amount, rel=0.05)


def test_another_coating_beside_it_is_not_taken_for_a_change() -> None:
    # A second layer's spectrum may stand there at any height: the film model of the sample holds it free.
    both = spots(SCENE, np.random.default_rng(8), 4, 40.0)
    thin = reflection_absorbance(mean_substrate(SCENE), film_of("PMMA"), 10.0, SCENE.touch)
    other = thin - reflection_absorbance(mean_substrate(SCENE), contact=SCENE.touch)
    coarse = learned(PAIR).coarse
    assert coarse is not None
    beside = MODEL.ground.clear(coarse.reduction.apply(other)[None])
    excess, sample = excess_of(both + 2.0 * other)
    found = account_for(
        replace(MODEL, others=beside), sample.reduced.mean(axis=0), sample.variance, excess, NONE, 0.95
    )
    assert not any(band.moved or band.resized for band in found.bands if band.narrow)
    assert found.low < 40.0 < found.high
    assert found.explained > 0.95
