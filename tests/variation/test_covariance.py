"""The terms of the covariance and their sizes, against drawn spectra and plain matrix algebra."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from spectra.errors import SpectraError
from spectra.spectrum import Stack
from spectra.variation.binning import Reduction, reduce_grid, spread_pairs
from spectra.variation.covariance import (
    BLUR,
    START,
    components,
    describe_substrate,
    fit_sizes,
    noise_levels,
    smooth_kernel,
    total,
)
from spectra.variation.derived import coarsen, rescale
from spectra.variation.model import learn, nuisance_basis
from spectra.variation.settings import VariationSettings
from spectra.variation.subspace import contrasts_of, fit_in_steps, orthonormal
from tests.smallbench import NOISE, POINTS, SUBSTRATE, bare_set, bump, covariance, draw

LENGTHS = {"narrow": 15.0, "wide": 80.0, "position": 20.0, "drift": 250.0}
QUIET = np.full(POINTS.size, NOISE)
TERMS = components(describe_substrate(POINTS, SUBSTRATE, QUIET), LENGTHS)


def drawn(sizes: dict[str, float], count: int, seed: int) -> np.ndarray:
    """Spectra whose scatter has exactly these terms."""
    rng = np.random.default_rng(seed)
    root = np.linalg.cholesky(total(TERMS, {**dict.fromkeys(TERMS, 0.0), **sizes}) + 1e-12 * np.eye(60))
    return SUBSTRATE + rng.normal(size=(count, 60)) @ root.T


# -- terms --------------------------------------------------------------------------------------------


def test_every_term_is_a_covariance_and_at_its_size_the_variance_it_says() -> None:
    for name, term in TERMS.items():
        assert term == pytest.approx(term.T), name
        assert np.linalg.eigvalsh(term).min() > -1e-9 * np.abs(term).max(), name
    assert set(TERMS) == set(START)
    slope = np.gradient(SUBSTRATE, POINTS)
    variances = {name: np.diag(term) for name, term in TERMS.items()}
    assert variances["narrow"] == pytest.approx(SUBSTRATE**2)
    assert variances["wide"] == pytest.approx(SUBSTRATE**2)
    assert variances["position"] == pytest.approx(slope**2)
    assert variances["scale"] == pytest.approx((POINTS * slope / 1000.0) ** 2)
    assert variances["drift"] == pytest.approx(1.0)
    assert variances["noise"] == pytest.approx(NOISE**2)
    assert variances["blurred"] == pytest.approx(NOISE**2)
    assert TERMS["noise"][3, 4] == 0.0
    assert TERMS["blurred"][3, 4] == pytest.approx(NOISE**2 * np.exp(-0.5 * (4.0 / BLUR) ** 2))


def test_neighbours_share_what_their_length_says() -> None:
    kernel = smooth_kernel(POINTS, 20.0)
    for apart in (0, 1, 5, 12):
        assert kernel[10, 10 + apart] == pytest.approx(np.exp(-0.5 * (4.0 * apart / 20.0) ** 2))


def test_a_shift_of_the_axis_is_a_change_along_the_slope() -> None:
    # A stretch of one part in a thousand moves a band at 1060 by 1.06 cm-1.
    def substrate(at: np.ndarray) -> np.ndarray:
        return bump(1180.0, 18.0, 0.25, at) + bump(1060.0, 25.0, 0.1, at)

    moved = substrate(POINTS / 1.001) - substrate(POINTS)
    direction = -np.sqrt(np.diag(TERMS["scale"])) * np.sign(np.gradient(SUBSTRATE, POINTS))
    assert moved == pytest.approx(direction, abs=0.12 * np.abs(moved).max())


def test_the_total_is_the_sum_of_squares() -> None:
    sizes = {name: 0.1 * (k + 1) for k, name in enumerate(TERMS)}
    slow = sum(sizes[name] ** 2 * TERMS[name] for name in TERMS)
    assert total(TERMS, sizes) == pytest.approx(slow, abs=1e-12)


# -- noise and sizes ----------------------------------------------------------------------------------


def test_noise_is_found_where_it_changes_along_the_axis() -> None:
    points = np.arange(1000.0, 3000.0, 2.0)
    true = np.where(points < 2000.0, 1e-4, 4e-4)
    rows = 0.2 + np.random.default_rng(1).normal(size=(6, points.size)) * true
    found = noise_levels(points, rows, 75.0)
    assert found[points < 1850.0] == pytest.approx(1e-4, rel=0.25)
    assert found[points > 2150.0] == pytest.approx(4e-4, rel=0.25)


@pytest.mark.parametrize("count", [2, 4, 12])
def test_noise_does_not_depend_on_how_many_spots_there_are(count: int) -> None:
    points = np.arange(1000.0, 3000.0, 2.0)
    found = [
        np.mean(noise_levels(points, np.random.default_rng(k).normal(0, 2e-4, (count, 1000)), 75.0))
        for k in range(6)
    ]
    assert np.mean(found) == pytest.approx(2e-4, rel=0.04)


def test_noise_is_not_taken_across_a_gap() -> None:
    points = np.concatenate([np.arange(1000.0, 1400.0, 2.0), np.arange(1800.0, 2200.0, 2.0)])
    rows = np.random.default_rng(2).normal(0, 1e-4, (4, 400)) + np.where(points > 1600.0, 0.5, 0.0)
    rows += np.random.default_rng(3).normal(size=(4, 1)) * np.where(points > 1600.0, 0.1, 0.0)
    assert noise_levels(points, rows, 75.0) == pytest.approx(1e-4, rel=0.4)


@pytest.mark.parametrize("name", ["narrow", "wide", "position", "drift"])
def test_the_term_that_was_drawn_is_the_one_that_is_found(name: str) -> None:
    size = {"narrow": 0.08, "wide": 0.08, "position": 1.0, "drift": 0.01}[name]
    found = []
    for seed in range(4):
        spots = drawn({name: size, "noise": 1.0}, 10, seed)
        found.append(fit_sizes(contrasts_of(spots), np.ones((1, 60)), TERMS))
    middle = np.exp(np.mean([np.log(f[name]) for f in found]))
    assert middle == pytest.approx(size, rel=0.5)
    assert np.mean([f["noise"] for f in found]) == pytest.approx(1.0, rel=0.25)


def test_a_direction_that_stands_out_is_no_scatter_of_every_band() -> None:
    rng = np.random.default_rng(5)
    second = bump(1120.0, 20.0, 0.05)  # a component that comes and goes
    spots = drawn({"noise": 1.0, "narrow": 0.004}, 8, 6) + rng.normal(size=(8, 1)) * second
    nuisances = np.vstack([np.ones(60), SUBSTRATE])
    apart = fit_in_steps(contrasts_of(spots), nuisances, TERMS)
    together = fit_sizes(contrasts_of(spots), nuisances, TERMS)
    scatter = [np.sqrt(total(TERMS, sizes)[30, 30]) for sizes in (apart, together)]
    assert scatter[0] < 0.5 * scatter[1]


# -- points -------------------------------------------------------------------------------------------


def stack(grid: np.ndarray, usable: np.ndarray | None = None, rows: int = 3) -> Stack:
    names = tuple(f"s{i}" for i in range(rows))
    values = 0.2 + np.random.default_rng(1).normal(0, 1e-3, (rows, grid.size))
    marks = np.ones(grid.size, bool) if usable is None else usable
    return Stack(grid, values, names, names, marks)


@given(st.floats(0.5, 16.0), st.integers(0, 2**31))
def test_points_are_means_of_whole_blocks_of_usable_neighbours(step: float, seed: int) -> None:
    grid = np.arange(1000.0, 1600.0, 1.0)
    rng = np.random.default_rng(seed)
    usable = np.ones(grid.size, bool)
    start = int(rng.integers(100, 500))
    usable[start : start + 30] = False
    reduction = reduce_grid(stack(grid, usable), step)
    size = max(1, int(step + 0.05))
    curve = rng.normal(size=grid.size)
    reduced, place = reduction.apply(curve), 0
    for first, stop, block in reduction.runs:
        assert (block, (stop - first) % block) == (size, 0)
        assert usable[first:stop].all()
        for at in range(first, stop, block):
            assert reduced[place] == pytest.approx(curve[at : at + block].mean())
            assert reduction.points[place] == pytest.approx(grid[at : at + block].mean())
            place += 1
    assert place == reduction.points.size
    assert np.count_nonzero(usable) - place * size < 2 * size


def test_any_number_of_curves_is_reduced_at_once() -> None:
    grid = np.arange(1000.0, 1200.0, 1.0)
    reduction = reduce_grid(stack(grid), 4.0)
    rows = np.random.default_rng(2).normal(size=(2, 3, grid.size))
    whole = reduction.apply(rows)
    assert whole.shape == (2, 3, reduction.points.size)
    assert whole[1, 2] == pytest.approx(reduction.apply(rows[1, 2]))


def test_too_few_points_are_counted_in_the_refusal() -> None:
    grid = np.arange(1000.0, 1056.0, 2.0)
    with pytest.raises(SpectraError, match=r"found 28 usable points between 1000 and 1054 cm-1; expected 30"):
        reduce_grid(stack(grid), 2.0)


@given(st.integers(1, 3000), st.integers(100, 400))
def test_pairs_of_neighbours_are_spread_over_the_axis(count: int, wanted: int) -> None:
    chosen = spread_pairs(count, wanted)
    assert len(set(chosen)) == chosen.size
    assert chosen.min() == 0
    assert chosen.max() < count
    if count <= wanted:
        assert chosen.tolist() == list(range(count))
    else:
        assert chosen.size <= 1.2 * wanted + 4
        assert np.diff(chosen).min() == 1
        assert np.ptp(chosen) > 0.9 * count - 10


# -- models that follow from another --------------------------------------------------------------------


def test_a_coarser_model_is_the_same_scatter_averaged() -> None:
    variation = bare_set(8)
    coarse = coarsen(variation, 8.0)
    average = np.kron(np.eye(30), [[0.5, 0.5]])
    assert coarse.reduction.points == pytest.approx(average @ POINTS)
    assert coarse.factor @ coarse.factor.T == pytest.approx(average @ covariance() @ average.T, rel=1e-9)
    assert coarse.spots == pytest.approx(variation.spots @ average.T)
    assert coarse.noise == pytest.approx(NOISE / np.sqrt(2.0))
    assert coarse.whitened == pytest.approx(np.linalg.solve(coarse.factor, coarse.spots.T).T)
    assert (coarse.specimens, coarse.share, coarse.per_unit) == (variation.specimens, None, 1.0)


def test_a_model_that_is_coarse_enough_is_left_alone() -> None:
    variation = bare_set()
    assert coarsen(variation, 4.0) is variation
    assert coarsen(variation, 7.0) is variation


def test_coarse_blocks_never_span_a_gap() -> None:
    points = np.concatenate([np.arange(1000.0, 1100.0, 4.0), np.arange(1200.0, 1320.0, 4.0)])
    variation = bare_set(points=points)
    object.__setattr__(variation, "reduction", Reduction(points, ((0, 25, 1), (50, 80, 1))))
    coarse = coarsen(variation, 12.0)
    assert not np.any((coarse.reduction.points > 1100.0) & (coarse.reduction.points < 1200.0))
    assert coarse.reduction.points.size == 25 // 3 + 30 // 3
    curve = np.random.default_rng(1).normal(size=90)
    by_hand = [curve[a : a + 3].mean() for a in (*range(0, 24, 3), *range(50, 80, 3))]
    assert coarse.reduction.apply(curve) == pytest.approx(by_hand)


def test_another_crystal_keeps_relative_scatter_and_the_detectors_noise() -> None:
    variation = learn(
        Stack(np.arange(1000.0, 1240.0, 2.0), _fine(7), tuple("abcdefg"), tuple("abcdefg")),
        VariationSettings(step=4.0),
    )
    weaker = rescale(variation, np.full(variation.reduction.points.size, 0.25))
    assert weaker.noise == pytest.approx(variation.noise)
    assert weaker.spots == pytest.approx(0.25 * variation.spots)
    assert weaker.sizes == variation.sizes
    strong, weak = (np.diag(v.factor @ v.factor.T) for v in (variation, weaker))
    top = int(np.argmax(variation.spots.mean(axis=0)))
    own = variation.noise[top] ** 2
    # On top of the strongest band scatter goes with the height, noise and drift stay.
    assert weak[top] < strong[top]
    assert weak[top] > own * 0.2


def _fine(count: int) -> np.ndarray:
    grid = np.arange(1000.0, 1240.0, 2.0)
    rng = np.random.default_rng(4)
    mean = np.interp(grid, POINTS, SUBSTRATE)
    return mean * (1.0 + 0.05 * rng.normal(size=(count, 1))) + 3e-4 * rng.normal(size=(count, grid.size))


def test_a_direction_learned_is_a_direction_projected_out() -> None:
    rng = np.random.default_rng(11)
    second = bump(1120.0, 20.0, 0.05)
    spots = draw(8, 3) + rng.normal(size=(8, 1)) * second
    plain = bare_set(spots=spots)
    object.__setattr__(plain, "settings", VariationSettings(directions=2))
    basis = nuisance_basis(plain)
    white = plain.whiten(second[None, :])[0]
    left = white - basis.T @ (basis @ white)
    assert np.linalg.norm(left) < 0.2 * np.linalg.norm(white)
    assert basis @ basis.T == pytest.approx(np.eye(len(basis)), abs=1e-8)


@given(st.integers(2, 6), st.integers(0, 2**31))
def test_contrasts_keep_the_scatter_and_lose_the_mean(count: int, seed: int) -> None:
    rows = np.random.default_rng(seed).normal(size=(count, 9))
    contrasts = contrasts_of(rows)
    assert contrasts.shape == (count - 1, 9)
    deviations = rows - rows.mean(axis=0)
    assert contrasts.T @ contrasts == pytest.approx(deviations.T @ deviations, abs=1e-9)
    assert contrasts_of(rows + 5.0) == pytest.approx(contrasts, abs=1e-9)


def test_a_basis_leaves_out_what_adds_nothing() -> None:
    rows = np.array([[1.0, 0.0, 0.0], [2.0, 0.0, 0.0], [1.0, 1e-9, 0.0], [0.0, 0.0, 3.0]])
    basis = orthonormal(rows)
    assert basis.shape == (2, 3)
    assert np.abs(basis @ np.array([0.0, 1.0, 0.0])).max() < 1e-6
    assert stats.chi2.sf(0.0, 1) == 1.0
