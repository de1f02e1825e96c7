"""How much there is, with an honest interval: the posterior of the amount over the optical unknowns."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from spectra.filmfit.estimates import widening
from spectra.filmfit.posterior import Fit
from spectra.statistics import critical_factor, even_normals
from spectra.units import FloatArray

SCENARIOS = 2048
PROPOSAL = 0.7  # standard deviation of the proposal's prior: a little wider than the even one


def amount_quantiles(
    fit: Fit, scatter: tuple[float, float], level: float, wider: float
) -> tuple[float, float, float]:
    """Low end, middle and high end of the amount, in the response's unit.

    Scenarios of the optical unknowns are drawn, evenly spread, from the linearised posterior and weighted
    back to their even priors, whose hard ends stay hard; given a scenario the logarithm of the amount is
    Student's t. Scatter between specimens beyond the model's is added in quadrature.

    Parameters
    ----------
    fit : Fit
    scatter : (float, float)
        Variance of the mean log amount from specimens' own scatter, and its degrees of freedom; zero variance
        where it is not larger than the model's.
    level : float
        Of the interval, 0 to 1.
    wider : float
        Factor on the model's errors, from left-out bare units.
    """
    (centre, sd), u = fit.prior, fit.state.z.size
    loose = sd.copy()
    room = fit.target.model.response.room
    loose[1 : 1 + u] = PROPOSAL * room
    noise = fit.growth
    covariance: FloatArray = np.asarray(np.linalg.inv(fit.normal / noise + np.diag(loose**-2.0)))
    noise *= (float(widening(fit, covariance[:1])[0]) * wider) ** 2
    covariance = np.asarray(np.linalg.inv(fit.normal / noise + np.diag(loose**-2.0)))
    mode = fit.values + covariance @ (fit.products / noise - (fit.values - centre) / loose**2)
    variance, means, weights = float(covariance[0, 0]), mode[:1], np.ones(1)
    if u:
        means, weights, variance = _scenarios(mode, covariance, room)
    degrees = fit.target.model.ground.degrees
    stretch = critical_factor(0.5 * (1 - level), degrees) / critical_factor(0.5 * (1 - level), 1e9)
    spread = float(np.sqrt(max(variance, 1e-12))) * stretch
    own, freedom = scatter
    if own > 0.0:
        half = critical_factor(0.5 * (1 - level), freedom) / critical_factor(0.5 * (1 - level), 1e9)
        spread = float(np.hypot(spread, np.sqrt(own) * half))
    grid = np.linspace(means.min() - 5 * spread, means.max() + 5 * spread, 800)
    chance = weights @ ndtr((grid[None] - means[:, None]) / spread)
    low, middle, high = np.interp([0.5 * (1 - level), 0.5, 0.5 * (1 + level)], chance, grid)
    return float(np.exp(low)), float(np.exp(middle)), float(np.exp(high))


def _scenarios(
    mode: FloatArray, covariance: FloatArray, room: FloatArray
) -> tuple[FloatArray, FloatArray, float]:
    """Mean log amount and weight of every scenario of the optical unknowns, and the variance given one."""
    u = room.size
    optics = slice(1, 1 + u)
    inner = covariance[optics, optics]
    root = np.linalg.cholesky(inner + 1e-12 * np.eye(u))
    z = mode[optics] + even_normals(SCENARIOS, u) @ root.T
    places = z / room
    inside = (np.abs(places) <= 1.0).all(axis=1)
    weights = np.where(inside, np.exp(0.5 * (places**2).sum(axis=1) / PROPOSAL**2), 0.0)
    if not inside.any():
        weights = np.exp(-4.0 * np.maximum(np.abs(places) - 1.0, 0.0).sum(axis=1))
    along = np.linalg.solve(inner, covariance[optics, 0])
    means = mode[0] + (z - mode[optics]) @ along
    return means, weights / weights.sum(), float(covariance[0, 0] - covariance[0, optics] @ along)
