"""The bank of bumps and the search through it, against a fit of every bump by statsmodels."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from spectra.detection.capability import average_sample
from spectra.residues.filter_bank import joined, make_bumps, start
from spectra.residues.search import search_residual, sought_beside
from spectra.residues.settings import ResidueSettings
from spectra.variation.model import nuisance_basis
from tests.smallbench import COATING, POINTS, bare_set, draw, gls, stack

VARIATION = bare_set()
PLAIN = ResidueSettings(
    widths=(16.0, 40.0), shape_tolerance=0.0, place_tolerance=0.0, width_tolerance=0.0,
    substrate_tolerance=0.0, smallest=0.0,
)  # fmt: skip


@pytest.fixture(scope="module")
def bank():
    return make_bumps(VARIATION, [COATING], PLAIN)


def drawn(position: float, width: float, height: float = 1.0, points: np.ndarray = POINTS) -> np.ndarray:
    """A Gaussian of full width at half height."""
    return height * np.exp(-4.0 * np.log(2.0) * ((points - position) / width) ** 2)


def test_bumps_of_every_width_lie_a_third_of_it_apart_inside_the_range(bank) -> None:
    for width in (16.0, 40.0):
        places = bank.positions[bank.widths == width]
        assert np.diff(places) == pytest.approx(width / 3.0)
        assert places[0] == pytest.approx(POINTS[0] + width / 2.0, abs=width / 2.0)
        assert POINTS[-1] - width < places[-1] < POINTS[-1]
    assert set(bank.widths) == {16.0, 40.0}
    for i in (0, 7, -1):
        curve = drawn(bank.positions[i], bank.widths[i])
        assert bank.whitened[i] == pytest.approx(np.linalg.solve(VARIATION.factor, curve), rel=1e-8)


def test_no_bump_reaches_over_a_gap() -> None:
    points = np.concatenate([np.arange(1000.0, 1120.0, 4.0), np.arange(1200.0, 1320.0, 4.0)])
    made = make_bumps(bare_set(points=points), [], PLAIN)
    for position, width in zip(made.positions, made.widths, strict=True):
        inside = drawn(position, width, points=np.arange(900.0, 1420.0, 4.0)).sum()
        assert drawn(position, width, points=points).sum() > 0.88 * inside
    assert not np.any((made.positions > 1120.0) & (made.positions < 1200.0))


def test_heights_and_errors_are_those_of_a_fit_of_every_bump(bank) -> None:
    spectrum = draw(1, 4, drawn(1072.0, 16.0, 0.01))[0]
    basis = nuisance_basis(VARIATION)
    pursuit = start(bank.whitened, basis, VARIATION.whiten(spectrum[None, :])[0])
    heights, norms = pursuit.ask()
    for i in range(0, len(heights), 5):
        curve = drawn(bank.positions[i], bank.widths[i])
        amounts, covariance, _ = gls(curve[None, :], spectrum, VARIATION.spots)
        assert heights[i] == pytest.approx(amounts[0], rel=1e-5, abs=1e-9)
        assert 1.0 / norms[i] == pytest.approx(np.sqrt(covariance[0, 0]), rel=1e-5)


def test_what_is_taken_out_is_fitted_along(bank) -> None:
    spectrum = draw(1, 4, drawn(1072.0, 16.0, 0.01))[0]
    pursuit = start(bank.whitened, nuisance_basis(VARIATION), VARIATION.whiten(spectrum[None, :])[0])
    out = np.array([9, 10])
    pursuit.take_out(out)
    heights, norms = pursuit.ask()
    taken = [drawn(bank.positions[k], bank.widths[k]) for k in out]
    for i in (0, 4, 15, 20, 30):
        curve = drawn(bank.positions[i], bank.widths[i])
        amounts, covariance, _ = gls(np.array([curve, *taken]), spectrum, VARIATION.spots)
        assert heights[i] == pytest.approx(amounts[0], rel=1e-4, abs=1e-9)
        assert 1.0 / norms[i] == pytest.approx(np.sqrt(covariance[0, 0]), rel=1e-4)
    # Nothing is left to be known of what was taken out; taking it out twice changes nothing.
    assert heights[out] == pytest.approx(0.0)
    rest = pursuit.rest.copy()
    pursuit.take_out(out)
    assert pursuit.rest == pytest.approx(rest, abs=1e-9)


def test_a_bump_that_is_nearly_explained_says_nothing(bank) -> None:
    nearly = bank.whitened[[9]] + 0.05 * bank.whitened[[20]]
    pursuit = start(bank.whitened, joined(nuisance_basis(VARIATION), nearly), VARIATION.whitened[0])
    heights, norms = pursuit.ask()
    assert heights[9] == 0.0
    assert norms[9] < 1e-100
    assert np.count_nonzero(heights == 0.0) < 6


def slow_scatter(width: float) -> tuple[np.ndarray, np.ndarray]:
    """Evidence of every bump of a width on left-out bare specimens, one fit each."""
    bank = make_bumps(VARIATION, [COATING], PLAIN)
    places = bank.positions[bank.widths == width]
    z = np.zeros((6, places.size))
    for k, spot in enumerate(VARIATION.spots):
        others = np.delete(VARIATION.spots, k, axis=0)
        for i, place in enumerate(places):
            amounts, covariance, _ = gls(np.array([drawn(place, width), COATING]), spot, others)
            z[k, i] = amounts[0] / np.sqrt(1.2 * covariance[0, 0])
    return places, z


def test_left_out_specimens_widen_the_errors_and_set_the_threshold(bank) -> None:
    highest = []
    for width in (16.0, 40.0):
        _, z = slow_scatter(width)
        mean = (z**2).mean(axis=0)
        padded = np.concatenate([[mean[0]] * 3, mean, [mean[-1]] * 3])
        pooled = np.array([max(padded[i : i + 7].mean(), mean[i]) for i in range(mean.size)])
        prior = PLAIN.trust * 5
        scatter = np.sqrt(np.maximum((prior + 6 * pooled) / (prior + 6), 1.0))
        assert bank.scatter[bank.widths == width] == pytest.approx(scatter, rel=1e-3)
        highest.append(np.abs(z / scatter).max())
    assert bank.degrees == PLAIN.trust * 5 + 6
    span = POINTS.size * 4.0
    tail = PLAIN.alpha / (2.0 * (span / 16.0 + span / 40.0))
    assert bank.threshold == pytest.approx(max(stats.t.isf(tail, bank.degrees), *highest), rel=1e-3)


def found_on(film: np.ndarray | float, bank, settings=PLAIN, amount: float = 0.0, most: int = 40, seed=5):
    """Search a sample of three specimens; without a seed they scatter by nothing."""
    film = film + amount * COATING
    rows = VARIATION.spots.mean(axis=0) + np.tile(film, (3, 1)) if seed is None else draw(3, seed, film)
    sample = average_sample(stack(rows), VARIATION)
    sought = sought_beside(sample.mean, sample.variance, VARIATION, [(amount, COATING)], settings)
    return search_residual(sought, bank, most)


def highest(search, position: float, reach: float) -> float:
    """Highest evidence around a place, of what was found and of what is left."""
    near = np.abs(search.bank.positions - position) < reach
    found = [abs(bump.evidence) for bump in search.found if abs(bump.position - position) < reach]
    return max([*found, float(np.abs(search.evidence[near]).max())])


def test_planted_bands_are_found_with_their_heights_the_most_evident_first(bank) -> None:
    film = drawn(1076.0, 16.0, 0.05) - drawn(1160.0, 16.0, 0.03)
    found = found_on(film, bank).found
    assert [bump.position for bump in found[:2]] == pytest.approx([1076.0, 1160.0], abs=4.0)
    assert [bump.height for bump in found[:2]] == pytest.approx([0.05, -0.03], rel=0.15)
    assert abs(found[0].evidence) > abs(found[1].evidence) > bank.threshold
    for bump in found:
        assert bump.evidence == pytest.approx(bump.height / bump.error)


def test_nothing_is_found_on_bare_specimens_and_no_more_than_asked(bank) -> None:
    assert sum(bool(found_on(0.0, bank, seed=seed).found) for seed in range(40, 60)) <= 1
    film = drawn(1076.0, 16.0, 0.05) + drawn(1160.0, 16.0, 0.03)
    assert len(found_on(film, bank, most=1).found) == 1


def test_errors_are_those_of_the_mean_against_the_bare_mean(bank) -> None:
    search = found_on(0.0, bank)
    basis = joined(nuisance_basis(VARIATION), VARIATION.whiten(COATING[None, :]))
    _, norms = start(bank.whitened, basis, VARIATION.whitened[0]).ask()
    # Three specimens of one spot, six bare ones.
    assert search.errors == pytest.approx(np.sqrt(1 / 3 + 1 / 6) * bank.scatter / norms, rel=1e-9)
    assert search.evidence == pytest.approx(search.heights / search.errors)


def test_the_coatings_own_amount_is_no_finding(bank) -> None:
    assert found_on(0.0, bank, amount=2.0).found == ()


def test_small_bumps_beside_a_strong_coating_are_its_misfit(bank) -> None:
    film = drawn(1076.0, 16.0, 0.03)
    lenient = ResidueSettings(**{**vars(PLAIN), "smallest": 0.02})
    assert found_on(film, bank, lenient, amount=1.0).found[0].height == pytest.approx(0.03, rel=0.2)
    assert found_on(film, bank, lenient, amount=4.0).found == ()
    assert found_on(film, bank, lenient, amount=4.0).smallest == pytest.approx(
        0.02 * 4.0 * np.ptp(COATING), rel=1e-9
    )


@pytest.mark.parametrize(
    ("name", "change"),
    [
        ("shape_tolerance", 0.10 * drawn(1110.0, 16.65)),  # a band a tenth of the coating stronger
        ("place_tolerance", np.gradient(0.7 * drawn(1110.0, 16.65), POINTS)),  # moved by 1 cm-1
        ("width_tolerance", 0.05 * (POINTS - 1110.0) * np.gradient(0.7 * drawn(1110.0, 16.65), POINTS)),
    ],
)
def test_what_a_coatings_band_may_differ_by_is_not_left_over(name: str, change, bank) -> None:
    tolerant = ResidueSettings(**{**vars(PLAIN), name: vars(ResidueSettings())[name]})
    strict, calm = (found_on(change, bank, how, amount=1.0, seed=None) for how in (PLAIN, tolerant))
    assert highest(calm, 1110.0, 16.0) < 0.7 * highest(strict, 1110.0, 16.0)
    assert len(calm.found) <= len(strict.found)
    # Elsewhere a foreign band is found all the same.
    assert found_on(drawn(1165.0, 16.0, 0.05), bank, tolerant, amount=1.0).found[0].position == pytest.approx(
        1165.0, abs=4.0
    )


def test_what_the_substrates_bands_may_differ_by_is_not_left_over(bank) -> None:
    band = 0.004 * np.exp(-(((POINTS - 1060.0) / 25.0) ** 2))
    tolerant = ResidueSettings(**{**vars(PLAIN), "substrate_tolerance": 0.05})
    strict, calm = (found_on(4.0 * band, bank, how, seed=None) for how in (PLAIN, tolerant))
    assert highest(calm, 1060.0, 20.0) < 0.7 * highest(strict, 1060.0, 20.0)
