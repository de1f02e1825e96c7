"""One band in its window: heights, errors, masks and shifts against plain statistics of plain fits."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from spectra.chemistry.band_tests import look_for_bands
from spectra.chemistry.shifts import measure_shift
from spectra.decision import DecisionSettings
from spectra.peaks.finding import Peak
from spectra.peaks.reference import Reference
from spectra.peaks.window_fit import Others
from spectra.replicates import Units
from spectra.spectrum import Stack

GRID = np.arange(1000.0, 1400.0, 2.0)
DECISION = DecisionSettings()
NOISE = 2e-3


def gauss(centre: float, width: float = 16.0) -> np.ndarray:
    """Height one; width is the full width at half height."""
    return np.exp(-4.0 * np.log(2.0) * ((GRID - centre) / width) ** 2)


SHAPE = gauss(1100.0) + 0.6 * gauss(1250.0, 20.0)
FLAT = Others(np.zeros((GRID.size, 0)), np.zeros(0))


def peak(position: float, width: float = 16.0) -> Peak:
    return Peak(position, 0.1, 1.0, 0.01, width, 0.2, 1.0, 1.0, "")


REFERENCE = Reference(SHAPE, (peak(1100.0), peak(1250.0, 20.0)), (1100.0, 1250.0), (0.2, 0.2))


def units(count: int, seed: int, film: np.ndarray | float = 0.0, noise: float = NOISE) -> Units:
    rng = np.random.default_rng(seed)
    rows = film + noise * rng.normal(size=(count, GRID.size))
    return Units(rows, tuple(f"u{i}" for i in range(count)), True)


def stack(usable: np.ndarray | None = None) -> Stack:
    marks = np.ones(GRID.size, dtype=bool) if usable is None else usable
    return Stack(GRID, np.zeros((1, GRID.size)), ("a",), ("a",), marks)


def looked(sample: Units, bare: Units, settings: DecisionSettings = DECISION, others=FLAT, usable=None):
    return look_for_bands(sample, bare, REFERENCE, others, stack(usable), settings)


def plain_heights(rows: np.ndarray, centre: float, width: float) -> np.ndarray:
    """Height of the shape in a window of one width to both sides, a straight line beside it."""
    at = np.abs(GRID - centre) <= width
    design = np.column_stack([SHAPE[at], np.ones(at.sum()), GRID[at] - centre])
    return np.linalg.lstsq(design, rows[:, at].T, rcond=None)[0][0]


def test_amount_error_and_chance_are_those_of_a_two_sample_t_test() -> None:
    strays = 0.004 * np.random.default_rng(5).normal(size=(6, 1)) * SHAPE  # well above the noise
    bare, sample = units(6, 1, strays), units(4, 2, 0.01 * SHAPE)
    for found, centre, width in zip(looked(sample, bare), (1100.0, 1250.0), (16.0, 20.0), strict=True):
        of_bare = plain_heights(bare.rows, centre, width)
        of_sample = plain_heights(sample.rows, centre, width)
        # The scatter of bare units alone is the yardstick, for both means.
        error = np.std(of_bare, ddof=1) * np.sqrt(1 / 4 + 1 / 6)
        amount = of_sample.mean() - of_bare.mean()
        assert found.amount == pytest.approx(amount, rel=1e-6)
        assert found.error == pytest.approx(error, rel=1e-6)
        assert found.statistic == pytest.approx(amount / error, rel=1e-6)
        assert found.p_value == pytest.approx(stats.t.sf(amount / error, 5), rel=1e-6)
        critical = stats.t.isf(DECISION.alpha, 5)
        power = stats.nct.sf(critical, 5, found.detectable / error)
        assert power == pytest.approx(DECISION.power, abs=1e-3)


def test_bare_units_that_agree_by_chance_are_not_better_than_the_noise() -> None:
    noisy = units(2, 3)
    twins = Units(np.vstack([noisy.rows[0], noisy.rows[0] + 1e-3 * noisy.rows[1]]), ("a", "b"), True)
    # Their heights agree to a thousandth; the floor is the noise of their own difference.
    found = looked(units(3, 4), twins)[0]
    spread = np.std(plain_heights(twins.rows, 1100.0, 16.0), ddof=1)
    assert found.error >= spread * np.sqrt(1 / 3 + 1 / 2) * (1.0 - 1e-9)
    lone = looked(units(3, 4), Units(np.array([noisy.rows[0], noisy.rows[0][::-1]]), ("a", "b"), True))[0]
    # White noise of NOISE on every point, through least squares on the window, from two units.
    at = np.abs(GRID - 1100.0) <= 16.0
    design = np.column_stack([SHAPE[at], np.ones(at.sum()), GRID[at] - 1100.0])
    floor = NOISE * np.sqrt(np.linalg.inv(design.T @ design)[0, 0]) * np.sqrt(1 / 3 + 1 / 2)
    assert lone.error > 0.6 * floor


def test_height_is_that_of_the_band_over_its_window() -> None:
    first, second = looked(units(3, 5), units(5, 6))
    assert first.height == pytest.approx(1.0 - 1.0 / 16.0, abs=5e-3)  # the window ends a width away: 2^-4
    assert second.height == pytest.approx(0.6 * (1.0 - 1.0 / 16.0), abs=5e-3)


def test_holm_pays_for_the_bands_that_are_looked_at() -> None:
    first, second = looked(units(4, 2, 0.01 * SHAPE), units(6, 1))
    low, high = sorted((first.p_value, second.p_value))
    assert sorted((first.p_adjusted, second.p_adjusted)) == pytest.approx([2 * low, max(2 * low, high)])


def test_a_band_is_detected_where_it_is_strong_and_has_the_shape() -> None:
    bare = units(8, 1)
    right = looked(units(4, 2, 0.02 * SHAPE), bare)
    assert [band.detected for band in right] == [True, True]
    assert all(band.correlation > 0.9 for band in right)
    # A narrow foreign band beside the place raises the height and has another shape.
    foreign = looked(units(4, 2, 0.2 * gauss(1108.0, 6.0)), bare)[0]
    assert foreign.p_adjusted < DECISION.alpha
    assert foreign.correlation < DECISION.agreement
    assert not foreign.detected


def test_the_mask_follows_bare_scatter_alone() -> None:
    rng = np.random.default_rng(8)
    rows = units(8, 7).rows + 0.5 * rng.normal(size=(8, 1)) * gauss(1250.0, 20.0)
    bare = Units(rows, tuple("abcdefgh"), True)
    found = looked(units(4, 2, 0.02 * SHAPE), bare)
    assert [band.masked for band in found] == [False, True]
    assert (found[1].detected, found[1].p_adjusted) == (False, 1.0)
    # One band is looked at: nothing to pay for.
    assert found[0].p_adjusted == pytest.approx(found[0].p_value)
    # The same whatever lies on the sample.
    assert [band.masked for band in looked(units(4, 9, 3.0 * SHAPE), bare)] == [False, True]


def limits_of(**changes: float) -> list[bool]:
    """Which of two bands is masked; the second is about ten times the first in scatter."""
    rng = np.random.default_rng(8)
    rows = units(8, 7).rows + 0.02 * rng.normal(size=(8, 1)) * gauss(1250.0, 20.0)
    settings = DecisionSettings(**changes)
    found = look_for_bands(
        units(4, 2), Units(rows, tuple("abcdefgh"), True), REFERENCE, FLAT, stack(), settings
    )
    times = found[1].detectable / found[0].detectable
    assert 5.0 < times < 200.0
    return [band.masked for band in found]


def test_each_limit_of_the_mask_counts() -> None:
    assert limits_of(mask_factor=1000.0, mask_amount=100.0, mask_never=0.0) == [False, False]
    assert limits_of(mask_factor=2.0, mask_amount=100.0, mask_never=0.0) == [False, True]
    assert limits_of(mask_factor=2.0, mask_amount=100.0, mask_never=1.0) == [False, False]
    assert limits_of(mask_factor=1000.0, mask_amount=0.02, mask_never=1.0) == [False, True]
    assert limits_of(mask_factor=1000.0, mask_amount=0.0, mask_never=1.0) == [True, True]


def test_a_band_outside_what_is_usable_is_masked_and_told_apart_from_none() -> None:
    usable = np.abs(GRID - 1250.0) > 20.0
    first, second = looked(units(4, 2, 0.02 * SHAPE), units(6, 1), usable=usable)
    assert first.detected
    assert (second.window, second.masked, second.detected, second.height) == (None, True, False, 0.0)
    assert np.isnan(second.amount)
    assert np.isinf(second.detectable)
    assert (second.p_value, second.p_adjusted, second.correlation) == (1.0, 1.0, 0.0)
    assert (second.statistic, second.bare.size, second.sample.size) == (0.0, 0, 0)


# -- shifts -------------------------------------------------------------------------------------------


def moved_by(shift: float, resting: float = 0.0, seed: int = 2, noise: float = 1e-4, size: float = 0.05):
    bare = units(6, 1, noise=noise)
    film = size * (gauss(1100.0 + shift) + 0.6 * gauss(1250.0, 20.0))
    sample = units(4, seed, film - resting * SHAPE, noise)
    found = looked(sample, bare)[0]
    differences = sample.rows - bare.rows.mean(axis=0)
    return found, measure_shift(found, differences, REFERENCE, FLAT, GRID, DECISION, resting)


@pytest.mark.parametrize("shift", [-7.0, -2.0, 0.0, 0.5, 3.0, 7.0])
def test_a_shift_is_found_as_it_was_made(shift: float) -> None:
    _, found = moved_by(shift)
    assert found is not None
    assert found.value == pytest.approx(shift, abs=0.1)
    assert found.low < shift < found.high


def test_the_substrates_own_band_is_followed_though_its_mean_was_taken_off() -> None:
    _, found = moved_by(2.0, resting=1.0, size=1.0)
    assert found is not None
    assert found.value == pytest.approx(2.0, abs=0.05)


def test_a_shift_of_more_than_half_a_width_is_none() -> None:
    assert moved_by(14.0)[1] is None


def test_a_band_that_is_not_there_has_no_shift() -> None:
    assert moved_by(0.0, size=-0.05)[1] is None


def test_the_interval_of_a_shift_is_the_wider_of_two() -> None:
    found, shift = moved_by(1.0, noise=2e-3)
    assert shift is not None
    # From the bare units: q of each against the mean of the others, over the height in the sample.
    at = found.window.points
    slope = -np.gradient(SHAPE, GRID)[at]
    moved = np.interp(GRID - shift.value, GRID, SHAPE)
    design = np.column_stack([SHAPE[at], np.ones(at.size), GRID[at] - 1100.0, slope])
    bare = units(6, 1, noise=2e-3).rows[:, at].T
    q = np.linalg.lstsq(design, bare, rcond=None)[0][-1]
    own = np.column_stack(
        [moved[at], np.ones(at.size), GRID[at] - 1100.0, -np.gradient(moved, GRID)[at]]
    )  # fmt: skip
    film = 0.05 * (gauss(1101.0) + 0.6 * gauss(1250.0, 20.0))
    sample = units(4, 2, film, 2e-3).rows - units(6, 1, noise=2e-3).rows.mean(axis=0)
    fits = np.linalg.lstsq(own, sample[:, at].T, rcond=None)[0]
    from_bare = np.std(q, ddof=1) * np.sqrt(1 / 4 + 1 / 6) / fits[0].mean()
    from_sample = np.std(fits[-1] / fits[0], ddof=1) / np.sqrt(4)
    halves = stats.t.isf(0.025, 5) * from_bare, stats.t.isf(0.025, 3) * from_sample
    # What the neat band and the optics leave open is added in full: two standard errors.
    rest = 2.0 * np.hypot(0.1, 0.2)
    assert (shift.high - shift.low) / 2.0 == pytest.approx(np.hypot(max(halves), rest), rel=1e-4)
    assert (shift.high + shift.low) / 2.0 == pytest.approx(shift.value)


def test_one_unit_rests_on_the_bare_units() -> None:
    bare, film = units(6, 1, noise=1e-3), 0.05 * SHAPE
    sample = units(1, 2, film, 1e-3)
    found = looked(sample, bare)[0]
    shift = measure_shift(found, sample.rows - bare.rows.mean(axis=0), REFERENCE, FLAT, GRID, DECISION)
    assert shift is not None
    assert shift.high - shift.low > 4.0 * np.hypot(0.1, 0.2)
    assert shift.error > 0.0
