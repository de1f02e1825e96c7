"""The model of bare spots: its likelihood, its terms, what it projects out, and its limits."""

import copy

import numpy as np
import pytest
import statsmodels.api as sm

from spectra.detection.least_squares import fit_shapes, leave_out, specimen_variance, widen
from spectra.errors import SettingError, SpectraError
from spectra.peaks.segmentation import split_bands
from spectra.preprocessing.atmosphere import carbon_dioxide, water_vapour
from spectra.spectrum import Stack
from spectra.variation.binning import reduce_grid
from spectra.variation.covariance import (
    components,
    describe_substrate,
    noise_levels,
    restricted_likelihood,
    total,
)
from spectra.variation.derived import rescale
from spectra.variation.model import learn, nuisance_basis
from spectra.variation.settings import VariationSettings
from spectra.variation.subspace import contrasts_of, orthonormal, project_out
from tests.scenes import GRID, PAIRS, USABLE, Scene, spots
from tests.trials import stack

# Three specimens of five spots; variance components by analysis of variance, which restricted maximum
# likelihood equals for balanced data (Searle, Casella and McCulloch, Variance Components, 1992, section 4.4).
NESTED = np.array(
    [
        [1.02, 1.05, 0.99, 1.04, 1.00],
        [1.21, 1.18, 1.25, 1.20, 1.16],
        [0.93, 0.90, 0.97, 0.95, 0.95],
    ]
)
WITHIN, BETWEEN = 0.0289, 0.1325


@pytest.fixture(scope="module")
def variation():
    return learn(
        stack(spots(Scene(*PAIRS["protein on polylactide"]), np.random.default_rng(3), 5)),
        VariationSettings(),
    )


def nested_terms(labels):
    same = (labels[:, None] == labels).astype(float)
    return [same, np.eye(labels.size)]


def climb(contrasts, nuisances, terms, logs):
    for _ in range(60):
        _, gradient, information = restricted_likelihood(logs, contrasts, nuisances, terms)
        logs = logs + np.clip(np.linalg.solve(information, gradient), -1, 1)
    return np.sqrt(np.exp(logs))


def test_restricted_likelihood_finds_the_components_of_a_worked_example():
    labels = np.repeat([0, 1, 2], 5)
    sizes = climb(NESTED.reshape(1, -1), np.ones((1, 15)), nested_terms(labels), np.log([1e-2, 1e-3]))
    assert sizes == pytest.approx([BETWEEN, WITHIN], abs=1e-4)


def test_restricted_likelihood_agrees_with_statsmodels_on_unbalanced_data():
    labels = np.array([0, 0, 0, 0, 1, 1, 2, 2, 2, 3])
    values = np.random.default_rng(0).normal(size=10) * 0.3 + np.array([0.0, 1.0, -0.5, 0.4])[labels]
    sizes = climb(values[None, :], np.ones((1, 10)), nested_terms(labels), np.log([0.3, 0.1]))
    fitted = sm.MixedLM(values, np.ones((10, 1)), groups=labels).fit(reml=True, method="powell")
    assert sizes[0] ** 2 == pytest.approx(float(fitted.cov_re[0, 0]), rel=2e-3)
    assert sizes[1] ** 2 == pytest.approx(float(fitted.scale), rel=2e-3)


def test_gradient_is_that_of_the_likelihood():
    rng = np.random.default_rng(1)
    points = np.arange(1000.0, 1080.0, 4.0)
    substrate = describe_substrate(
        points, 0.1 + 0.2 * np.exp(-(((points - 1040) / 9) ** 2)), np.full(20, 1e-3)
    )
    lengths = {"narrow": 15.0, "wide": 80.0, "position": 20.0, "drift": 250.0}
    terms = list(components(substrate, lengths).values())
    logs = rng.normal(-4, 1, len(terms))
    contrasts, nuisances = rng.normal(0, 1e-2, (2, 20)), np.vstack([np.ones(20), points / 1000])
    _, gradient, _ = restricted_likelihood(logs, contrasts, nuisances, terms)
    for k in range(len(terms)):
        step = np.zeros(len(terms))
        step[k] = 1e-3
        up, down = (restricted_likelihood(logs + s * step, contrasts, nuisances, terms)[0] for s in (1, -1))
        assert gradient[k] == pytest.approx((up - down) / 2e-3, rel=1e-3, abs=1e-3)


def test_noise_is_found_beside_a_band_that_moves():
    rng = np.random.default_rng(2)
    points = np.arange(800.0, 1800.0, 2.0)
    level = np.where(points < 1300, 2e-4, 6e-4)
    band = [
        np.exp(-(((points - 1100 - 0.3 * rng.normal()) / 9) ** 2)) * (1 + 0.05 * rng.normal())
        for _ in range(6)
    ]
    found = noise_levels(points, np.array(band) * 0.3 + level * rng.normal(size=(6, 500)), 75.0)
    assert found[points < 1200].mean() == pytest.approx(2e-4, rel=0.15)
    assert found[points > 1400].mean() == pytest.approx(6e-4, rel=0.15)


def test_contrasts_are_orthonormal_and_free_of_the_mean():
    rows = contrasts_of(np.eye(5))
    assert rows @ rows.T == pytest.approx(np.eye(4), abs=1e-12)
    assert rows.sum(axis=1) == pytest.approx(np.zeros(4), abs=1e-12)


def test_covariance_is_positive_and_holds_every_term(variation):
    substrate = describe_substrate(variation.reduction.points, variation.spots.mean(axis=0), variation.noise)
    terms = components(substrate, {"narrow": 15.0, "wide": 80.0, "position": 20.0, "drift": 250.0})
    assert set(terms) == set(variation.sizes)
    assert np.allclose(
        variation.factor @ variation.factor.T, total(terms, variation.sizes), rtol=0, atol=1e-12
    )


@pytest.mark.parametrize(
    "pattern", ["offset", "slope", "vapour", "carbon dioxide", "contact", "the substrate"]
)
def test_nuisances_do_not_touch_the_amount(variation, pattern):
    grid = GRID
    mean = variation.spots.mean(axis=0)
    reduce = variation.reduction.apply
    added = {
        "offset": np.full(mean.size, 0.01),
        "slope": 1e-5 * (variation.reduction.points - 1000),
        "vapour": 0.01 * reduce(water_vapour(grid, 4.0)),
        "carbon dioxide": 0.01 * reduce(carbon_dioxide(grid, 4.0)),
        "contact": 0.05 * (10.0**mean - 1.0),
        "the substrate": 0.2 * mean,
    }[pattern]
    shape = variation.whiten(reduce(np.exp(-(((grid - 1650) / 25) ** 2)))[None, :])
    basis = nuisance_basis(variation)
    rows = variation.whiten(np.vstack([mean, mean + added]))
    amounts = fit_shapes(basis, shape, rows).amounts[:, 0]
    assert amounts[1] == pytest.approx(amounts[0], abs=1e-9)


def on_points(model, curve):
    """A curve of the common grid on the model's points, whitened, shape (1, r)."""
    return model.whiten(model.reduction.apply(curve[None, :]))


def test_amount_reaches_the_matched_filter_limit_on_plain_noise():
    # Standard error of a Gaussian's height, 20 cm-1 wide, white noise 1e-4, 1 cm-1 grid: 2.577e-5 (Neyman
    # and Pearson's matched filter, sigma / sqrt(0.7527 F / step)). Offset, slope and the rest cost a little.
    grid = np.arange(800.0, 1900.0)
    rows = 1e-4 * np.random.default_rng(5).normal(size=(8, grid.size))
    names = tuple("abcdefgh")
    flat = learn(Stack(grid, rows, names, names), VariationSettings())
    shape = on_points(flat, np.exp(-4 * np.log(2) * ((grid - 1300) / 20) ** 2))
    error = np.sqrt(fit_shapes(nuisance_basis(flat), shape, shape).covariance[0, 0])
    assert 0.95 * 2.577e-5 < error < 1.3 * 2.577e-5


def test_left_out_spots_scatter_as_the_model_says(variation):
    shape = on_points(variation, np.exp(-(((GRID - 1650) / 25) ** 2)))
    left = leave_out(variation, shape)
    assert left.z.shape == (5, 1)
    assert 0.3 < np.sqrt(np.mean(left.z**2)) < 2.0
    assert 0.7 < left.squares.mean() < 1.6


def test_widening_sits_between_the_model_and_the_spots():
    assert widen(np.zeros(5), 8.0).factor < 1.0
    assert widen(np.full(5, 3.0), 8.0).factor == pytest.approx(np.sqrt((8 + 45) / 13))
    assert widen(np.ones(5), 8.0) == widen(-np.ones(5), 8.0)


def test_directions_of_difference_are_two_fewer_than_spots(variation):
    few = nuisance_basis(variation, [0, 1])
    all_spots = nuisance_basis(variation)
    assert len(all_spots) == len(few) + 3
    assert all_spots @ all_spots.T == pytest.approx(np.eye(len(all_spots)), abs=1e-9)


def test_a_second_component_is_set_apart_from_band_scatter():
    scene = Scene("protein", ("polylactide", "polycaprolactone"), scatter=0.03, composition=0.15)
    found = learn(stack(spots(scene, np.random.default_rng(4), 8)), VariationSettings())
    # Fifteen per cent of composition must not be read as fifteen per cent of scatter in every band.
    assert np.hypot(found.sizes["narrow"], found.sizes["bands"]) < 0.06


def test_spots_nest_in_specimens():
    scene = Scene(*PAIRS["protein on polylactide"], scatter=0.0, noise=1e-3)
    rng = np.random.default_rng(6)
    pieces = spots(Scene(*PAIRS["protein on polylactide"], scatter=0.08, noise=0.0), rng, 4)
    rows = np.repeat(pieces, 3, axis=0) + 1e-5 * rng.normal(size=(12, GRID.size))
    names = tuple(f"{i}" for i in range(12))
    nested = Stack(GRID, rows, tuple(np.repeat(list("abcd"), 3)), names, USABLE)
    found = learn(nested, VariationSettings())
    assert found.share is not None
    assert found.share > 0.3
    assert len(found) == 4
    assert specimen_variance(3, found) == 1.0
    assert specimen_variance(1, found) > 1.0
    assert learn(stack(spots(scene, rng, 4)), VariationSettings()).share is None
    assert len(found.units) == 4


def test_two_spots_are_enough_and_one_is_not():
    rows = spots(Scene(*PAIRS["lignin on polyolefin"]), np.random.default_rng(7), 2)
    assert len(learn(stack(rows), VariationSettings())) == 2
    with pytest.raises(SpectraError, match="found 1 bare spectrum"):
        learn(stack(rows[:1]), VariationSettings())


def test_too_few_points_are_refused():
    grid = np.arange(1000.0, 1040.0, 2.0)
    with pytest.raises(SpectraError, match="found 20 usable points between 1000 and 1038"):
        reduce_grid(Stack(grid, np.zeros((2, 20)), ("a", "b"), ("a", "b")), 2.0)


def test_settings_have_ranges():
    with pytest.raises(SettingError, match="'narrow' of VariationSettings is 1000"):
        VariationSettings(narrow=1000.0)


def test_fine_data_are_averaged_and_gaps_kept():
    grid = np.arange(1000.0, 1200.0, 0.5)
    usable = (grid < 1080.0) | (grid >= 1100.0)
    found = reduce_grid(Stack(grid, np.zeros((1, 400)), ("a",), ("a",), usable), 2.0)
    assert np.diff(found.points).max() > 20.0
    assert found.points[0] == pytest.approx(1000.75)
    assert found.apply(np.sin(grid)[None, :])[0, 0] == pytest.approx(np.sin(grid[:4]).mean())


def test_rescaling_keeps_relative_scatter(variation):
    half = rescale(variation, np.full(variation.reduction.points.size, 0.5))
    same = rescale(variation, np.ones(variation.reduction.points.size))
    assert np.allclose(same.factor, variation.factor, rtol=0, atol=1e-12)
    assert np.diag(half.factor @ half.factor.T).sum() < np.diag(same.factor @ same.factor.T).sum()


def test_learning_is_repeatable_and_read_only(variation):
    rows = spots(Scene(*PAIRS["protein on polylactide"]), np.random.default_rng(3), 5)
    again = learn(stack(rows), VariationSettings())
    assert np.array_equal(again.factor, variation.factor)
    with pytest.raises(ValueError, match="read-only"):
        copy.deepcopy(variation).factor[0, 0] = 1.0


def test_projection_removes_the_basis():
    rng = np.random.default_rng(8)
    basis = orthonormal(rng.normal(size=(3, 10)))
    assert project_out(basis, rng.normal(size=(2, 10))) @ basis.T == pytest.approx(
        np.zeros((2, 3)), abs=1e-12
    )
    assert len(orthonormal(np.vstack([basis, basis[:1]]))) == 3


def test_bands_of_a_shape_add_up_to_it_above_the_valleys():
    points = np.arange(1000.0, 1400.0, 2.0)
    curve = 0.2 + np.exp(-(((points - 1100) / 12) ** 2)) + 0.5 * np.exp(-(((points - 1300) / 20) ** 2))
    pieces = split_bands(points, curve, 0.05)
    assert [piece.position for piece in pieces] == [1100.0, 1300.0]
    assert sum(piece.curve for piece in pieces) == pytest.approx(curve - 0.2, abs=0.02)


def test_no_band_reaches_across_a_gap():
    points = np.concatenate([np.arange(1000.0, 1100.0, 2.0), np.arange(1200.0, 1300.0, 2.0)])
    curve = np.exp(-(((points - 1080) / 15) ** 2)) + np.exp(-(((points - 1220) / 15) ** 2))
    assert all(piece.high < 1100 or piece.low >= 1200 for piece in split_bands(points, curve, 0.05))
