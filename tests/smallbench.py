"""A substrate of sixty points whose scatter is known exactly, and generalised least squares beside ours.

Fits take milliseconds here, so that every branch of the decision can be asked. The oracle is statsmodels'
``GLS`` on raw absorbance with the nuisances as plain regressors: no whitening, no projection.
"""

from __future__ import annotations

import numpy as np
import statsmodels.api as sm

from spectra.spectrum import Stack
from spectra.variation.binning import Reduction
from spectra.variation.covariance import START
from spectra.variation.model import Variation
from spectra.variation.settings import VariationSettings

POINTS = np.arange(1000.0, 1240.0, 4.0)
SUBSTRATE = 0.25 * np.exp(-(((POINTS - 1180.0) / 18.0) ** 2)) + 0.1 * np.exp(
    -(((POINTS - 1060.0) / 25.0) ** 2)
)
NOISE, SMOOTH, LENGTH = 4e-4, 2e-3, 15.0  # absorbance, absorbance, cm-1


def bump(centre: float, width: float = 8.0, height: float = 1.0, points: np.ndarray = POINTS) -> np.ndarray:
    """A Gaussian; width is where it has fallen to 1/e."""
    return height * np.exp(-(((points - centre) / width) ** 2))


COATING = bump(1030.0) + 0.7 * bump(1110.0, 10.0) + 0.5 * bump(1212.0, 7.0)


def covariance(points: np.ndarray = POINTS) -> np.ndarray:
    """Of one bare specimen: white noise and scatter that neighbours share."""
    apart = (points[:, None] - points) / LENGTH
    return NOISE**2 * np.eye(points.size) + SMOOTH**2 * np.exp(-(apart**2))


def known_nuisances(mean: np.ndarray, points: np.ndarray = POINTS) -> np.ndarray:
    """Offset, slope, and what contact does to a spectrum: A = -log10(1 - p (1 - R)) at p = 1."""
    return np.array([np.ones(points.size), (points - points.mean()) / 100.0, 10.0**mean - 1.0])


def draw(count: int, seed: int, film: np.ndarray | float = 0.0, points: np.ndarray = POINTS) -> np.ndarray:
    """Spectra of specimens: the substrate touched a little more or less, a film, known scatter."""
    rng = np.random.default_rng(seed)
    root = np.linalg.cholesky(covariance(points))
    substrate = np.interp(points, POINTS, SUBSTRATE)
    contact = 1.0 + 0.02 * rng.normal(size=(count, 1))
    return contact * substrate + film + rng.normal(size=(count, points.size)) @ root.T


def stack(rows: np.ndarray, specimens: tuple[str, ...] | None = None) -> Stack:
    names = tuple(f"s{i}" for i in range(len(rows)))
    return Stack(POINTS, rows, specimens or names, names)


def bare_set(
    count: int = 6,
    seed: int = 1,
    specimens: tuple[str, ...] | None = None,
    share: float | None = None,
    per_unit: float = 1.0,
    spots: np.ndarray | None = None,
    points: np.ndarray = POINTS,
) -> Variation:
    """What the model would have learned, had it found the true covariance; no directions of difference."""
    spots = draw(count, seed, points=points) if spots is None else spots
    factor = np.linalg.cholesky(covariance(points))
    inverse = np.linalg.inv(factor)
    means = [np.delete(spots, i, axis=0).mean(axis=0) for i in range(len(spots))] + [spots.mean(axis=0)]
    contacts = np.array([known_nuisances(mean, points)[2] for mean in means])
    return Variation(
        Reduction(points, ((0, points.size, 1),)),
        spots,
        specimens or tuple(f"b{i}" for i in range(len(spots))),
        {**dict.fromkeys(START, 0.0), "noise": 1.0, "drift": 5e-4, "narrow": 0.01},
        np.full(points.size, NOISE),
        factor,
        spots @ inverse.T,
        known_nuisances(means[-1], points)[:2] @ inverse.T,
        contacts @ inverse.T,
        share,
        per_unit,
        VariationSettings(directions=0),
    )


def gls(
    shapes: np.ndarray, spectrum: np.ndarray, bare: np.ndarray, points: np.ndarray = POINTS
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Amounts, their covariance for one specimen and the residual, by statsmodels.

    Parameters
    ----------
    shapes, spectrum
        Raw absorbance.
    bare
        Bare spots whose mean and contact are nuisances.
    """
    mean = bare.mean(axis=0)
    columns = np.vstack([shapes, mean, known_nuisances(mean, points)]).T
    fit = sm.GLS(spectrum, columns, sigma=covariance(points)).fit()
    count = len(shapes)
    return fit.params[:count], fit.normalized_cov_params[:count, :count], np.asarray(fit.resid)
