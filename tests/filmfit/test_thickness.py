"""The interval of the amount: against a posterior drawn by brute force, and what must widen it."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy.stats import norm, t

from spectra.filmfit.estimates import widening
from spectra.filmfit.posterior import Fit, polish
from spectra.filmfit.thickness import PROPOSAL, amount_quantiles
from tests.filmcases import at_rest, exact_target, film_model

MODEL = film_model()
NONE = (0.0, 1.0)


@cache
def fitted(nm: float) -> Fit:
    truth = at_rest(MODEL, nm)
    return polish(exact_target(MODEL, truth), truth)


def brute_force(fit: Fit, level: float, draws: int = 400_000) -> np.ndarray:
    """Quantiles of the linearised posterior with even priors on the optics, their hard ends included.

    Every other unknown is integrated out exactly (Gaussian); the optics are drawn evenly from their priors
    and weighted with the likelihood; given them the logarithm of the amount is drawn.
    """
    centre, sd = fit.prior
    u = fit.state.z.size
    first = np.arange(1 + u)
    room = MODEL.response.room
    loose = sd.copy()
    loose[1 : 1 + u] = PROPOSAL * room
    covariance = np.linalg.inv(fit.normal + np.diag(loose**-2.0))
    noise = float(widening(fit, covariance[:1])[0]) ** 2
    sd = sd.copy()
    sd[first] = 1e6  # flat: their prior is the box the draws come from
    precision = fit.normal / noise + np.diag(sd**-2.0)
    slope = fit.products / noise - (fit.values - centre) / sd**2
    rest = np.arange(1 + u, len(precision))
    solved = np.linalg.solve(precision[np.ix_(rest, rest)], np.column_stack([precision[np.ix_(rest, first)],
                                                                            slope[rest]]))  # fmt: skip
    inner = precision[np.ix_(first, first)] - precision[np.ix_(first, rest)] @ solved[:, :-1]
    along = slope[first] - precision[np.ix_(first, rest)] @ solved[:, -1]
    rng = np.random.default_rng(1)
    step = rng.uniform(-room, room, size=(draws, u)) - fit.state.z
    mean = (along[0] - step @ inner[0, 1:]) / inner[0, 0]
    log_weight = step @ along[1:] - 0.5 * np.einsum("ij,jk,ik->i", step, inner[1:, 1:], step)
    log_weight += 0.5 * inner[0, 0] * mean**2  # the amount integrated out
    weight = np.exp(log_weight - log_weight.max())
    assert weight.sum() ** 2 / (weight**2).sum() > 150  # enough draws carry the weight
    degrees = MODEL.ground.degrees
    stretch = t.isf(0.5 * (1 - level), degrees) / norm.isf(0.5 * (1 - level))
    drawn = fit.values[0] + mean + stretch * rng.normal(size=draws) / np.sqrt(inner[0, 0])
    order = np.argsort(drawn)
    chance = np.cumsum(weight[order]) / weight.sum()
    return np.exp(np.interp([0.5 * (1 - level), 0.5, 0.5 * (1 + level)], chance, drawn[order]))


@pytest.mark.parametrize(("nm", "level"), [(8.0, 0.95), (30.0, 0.95), (30.0, 0.8)])
def test_the_interval_is_that_of_a_posterior_drawn_by_brute_force(nm: float, level: float) -> None:
    found = np.array(amount_quantiles(fitted(nm), NONE, level, 1.0))
    expected = brute_force(fitted(nm), level)
    np.testing.assert_allclose(np.log(found), np.log(expected), atol=0.12 * np.log(expected[2] / expected[0]))


@pytest.mark.parametrize("nm", [0.3, 3.0, 30.0, 300.0])
def test_a_thickness_is_never_negative_and_lies_in_its_interval(nm: float) -> None:
    low, middle, high = amount_quantiles(fitted(nm), NONE, 0.95, 1.2)
    assert 0.0 < low < middle < high
    assert low < nm < high


def test_less_certainty_and_more_scatter_mean_a_longer_interval() -> None:
    fit = fitted(60.0)

    def length(scatter: tuple[float, float], level: float, wider: float) -> float:
        low, _, high = amount_quantiles(fit, scatter, level, wider)
        return float(np.log(high / low))

    plain = length(NONE, 0.95, 1.0)
    assert length(NONE, 0.99, 1.0) > plain > length(NONE, 0.8, 1.0)
    assert length(NONE, 0.95, 1.5) > plain
    # Scatter alone: twice Student's t of 2 degrees (4.303, any table) times its standard error.
    wide = length((0.3**2, 2.0), 0.95, 1.0)
    assert wide == pytest.approx(np.hypot(2 * 4.303 * 0.3, plain), rel=0.05)
