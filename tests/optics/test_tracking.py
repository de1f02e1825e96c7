import numpy as np
import pytest

from spectra.optics.tracking import follow, position_noise
from spectra.optics.uncertainty import WIDENING, Effects, sample_effects

GRID = np.arange(1500.0, 1900.0, 2.0)


def gaussian(at, width=20.0, height=1.0):
    return height * np.exp(-4.0 * np.log(2.0) * ((GRID - at) / width) ** 2)


def test_positions_between_points_are_found():
    for at in (1700.0, 1700.7, 1701.3):
        assert follow(GRID, gaussian(at)[None], [1699.0], [20.0])[0, 0] == pytest.approx(at, abs=0.02)


def test_two_bands_that_pass_close_are_not_swapped():
    path = np.array([gaussian(1650.0 + 2.0 * i) + gaussian(1720.0 + 1.0 * i, height=0.7) for i in range(15)])
    places = follow(GRID, path, [1650.0, 1720.0], [20.0, 20.0])
    assert places[-1] == pytest.approx([1678.0, 1734.0], abs=0.1)


def test_a_band_that_merges_is_lost_from_there_on():
    path = np.array(
        [gaussian(1700.0) + gaussian(at, height=0.4) for at in (1735.0, 1730.0, 1725.0, 1712.0, 1735.0)]
    )
    weaker = follow(GRID, path, [1735.0], [20.0])[:, 0]
    assert np.isfinite(weaker[:2]).all()
    assert np.isnan(weaker[-2:]).all()


def test_starts_may_differ_from_path_to_path():
    paths = np.array([[gaussian(1620.0)], [gaussian(1780.0)]])
    places = follow(GRID, paths, np.array([[1621.0], [1779.0]]), [20.0])
    assert places.ravel() == pytest.approx([1620.0, 1780.0], abs=0.02)


def test_a_band_beyond_the_range_is_lost():
    assert np.isnan(follow(GRID, gaussian(1700.0)[None], [2500.0], [20.0])).all()
    assert np.isnan(follow(GRID, gaussian(1700.0)[None], [np.nan], [20.0])).all()


def test_no_bands_are_no_positions():
    assert follow(GRID, gaussian(1700.0)[None], [], []).shape == (1, 0)


def test_scatter_of_positions_is_as_stated():
    # Monte Carlo against the formula.
    rng = np.random.default_rng(1)
    curves = gaussian(1700.0) + 0.01 * rng.standard_normal((4000, GRID.size))
    places = follow(GRID, curves[:, None, :], [1700.0], [20.0])[:, 0, 0]
    stated = position_noise(
        GRID, gaussian(1700.0), np.full(GRID.size, 0.01), np.array([1700.0]), np.array([20.0])
    )
    assert places.std() == pytest.approx(stated[0], rel=0.05)


def test_scenarios_have_the_moments_of_their_priors():
    # An even prior of half-width 3 has standard deviation sqrt(3); a normal one adds in squares.
    effect = Effects((-1.0, 1.0), np.array([[[-3.0]], [[3.0]]]))
    cases = sample_effects(np.array([[1700.0]]), {"one": effect}, np.array([1.0])) - 1700.0
    assert cases.std() / WIDENING == pytest.approx(2.0, rel=0.01)
    assert abs(cases.mean()) < 0.05


def test_a_bent_effect_is_followed():
    moves = (-1.0, -0.5, 0.5, 1.0)
    effect = Effects(moves, np.array([[[move**2]] for move in moves]))
    assert effect.at(np.array([-1.0, -0.75, 0.0, 1.0])).ravel() == pytest.approx([1.0, 0.625, 0.0, 1.0])


def test_a_case_without_answer_is_bridged_by_the_line_from_the_middle():
    effect = Effects((-1.0, -0.5, 1.0), np.array([[[np.nan]], [[-2.0]], [[3.0]]]))
    assert effect.at(np.array([-1.0, -0.5, 1.0])).ravel() == pytest.approx([-4.0, -2.0, 3.0])
