"""Film thickness beyond the linear range, and a second thickness from the weakened substrate.

A film of d nm changes the spectrum by ``response(d)``: its own bands, which saturate, and the substrate's,
which weaken. The thickness is the d whose response leaves the least whitened residual. The sample's
contact acts on film and substrate together and is fitted along; the substrate's bands decide it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from spectra.detection.least_squares import Widening, fit_shapes
from spectra.optics.shape import Shape
from spectra.spectrum import Frozen
from spectra.statistics import critical_factor
from spectra.units import FloatArray
from spectra.variation.model import Variation, contact_response, count_directions
from spectra.variation.subspace import orthonormal, project_out

THINNEST, THICKEST = 0.3, 20000.0  # nm searched: below one monolayer to far beyond the depth of the light

GOLDEN = 0.5 * (np.sqrt(5.0) - 1.0)


@dataclass(frozen=True, eq=False)
class FilmFit(Frozen):
    """Thickness of a film by the full stack.

    Attributes
    ----------
    nm, error_nm : float
        Best thickness and its widened standard error, contact included.
    curve : ndarray, shape (r,)
        Response at that thickness, absorbance, at the sample's own contact.
    """

    nm: float
    error_nm: float
    curve: FloatArray


def fit_film(
    variation: Variation,
    basis: FloatArray,
    spectrum: FloatArray,
    others: FloatArray,
    shape: Shape,
    variance: float,
    widening: Widening,
) -> FilmFit:
    """Find the thickness whose full response fits best.

    Parameters
    ----------
    variation : Variation
    basis : ndarray, shape (p, r)
        Nuisances, whitened.
    spectrum : ndarray, shape (1, r)
        Mean of the sample, whitened.
    others : ndarray, shape (o, r)
        Shapes of the other coatings, whitened.
    shape : Shape
        With a ``response``.
    variance : float
        Of the sample's mean against the bare mean, in units of one spot's.
    widening : Widening

    Returns
    -------
    FilmFit
    """
    response = shape.response
    if response is None:
        raise TypeError("fit_film needs a shape with a response")  # a fault of the caller, not of the data
    bare = variation.spots.mean(axis=0)
    held = np.vstack([variation.fixed, basis[len(basis) - count_directions(variation) :], others])

    def coated(nm: float) -> FloatArray:
        return np.asarray(bare + variation.reduction.apply(np.asarray(response(nm))))

    def left(nm: float) -> tuple[FloatArray, FloatArray]:
        """Residual of the sample and the basis projected out of it, at one thickness."""
        film = coated(nm)
        white = variation.whiten(np.vstack([film, contact_response(film)]))
        full = orthonormal(np.vstack([held, white[1:]]))
        return project_out(full, spectrum - white[:1])[0], full

    nm = float(np.exp(_minimise(lambda log_nm: float(np.sum(left(float(np.exp(log_nm)))[0] ** 2)))))
    _, full = left(nm)
    film = coated(nm)
    slope = project_out(full, variation.whiten((coated(1.02 * nm) - film)[None, :]))[0] / (0.02 * nm)
    noise = widening.factor * np.sqrt(variance / max(float(slope @ slope), 1e-300))
    white = variation.whiten(np.vstack([film, contact_response(film)]))
    contact = float(fit_shapes(orthonormal(held), white[1:], spectrum - white[:1]).amounts[0, 0])
    curve = film - bare + contact * (contact_response(film) - contact_response(bare))
    return FilmFit(nm, float(np.hypot(noise, shape.contact_error * nm)), curve)


def _minimise(misfit: Callable[[float], float]) -> float:
    """Logarithm of the best thickness: a coarse sweep, then a golden section about its minimum."""
    sweep = np.log(np.geomspace(THINNEST, THICKEST, 34))
    best = int(np.argmin([misfit(value) for value in sweep]))
    low, high = sweep[max(0, best - 1)], sweep[min(best + 1, sweep.size - 1)]
    left, right = high - GOLDEN * (high - low), low + GOLDEN * (high - low)
    at_left, at_right = misfit(left), misfit(right)
    while high - low > 0.002:
        if at_left < at_right:
            high, right, at_right = right, left, at_left
            left = high - GOLDEN * (high - low)
            at_left = misfit(left)
        else:
            low, left, at_left = left, right, at_right
            right = low + GOLDEN * (high - low)
            at_right = misfit(right)
    return float(0.5 * (low + high))


def from_attenuation(
    variation: Variation,
    basis: FloatArray,
    spectrum: FloatArray,
    curves: FloatArray,
    depths: FloatArray,
    variance: float,
    widening: Widening,
    alpha: float,
) -> tuple[float, float, float]:
    """Thickness from how the substrate's spectrum weakens towards high wavenumbers.

    The film's own bands are fitted freely beside it, so that this value does not use them, and so is the
    contact: only the uneven weakening along the axis counts, A / A0 = exp(-depths d).

    Parameters
    ----------
    variation : Variation
    basis : ndarray, shape (p, r)
    spectrum : ndarray, shape (1, r)
    curves : ndarray, shape (j, r)
        Shapes of all coatings, whitened.
    depths : ndarray, shape (n,)
        Relative weakening per nm, on the common grid.
    variance : float
    widening : Widening
    alpha : float
        Two-sided, of the interval.

    Returns
    -------
    nm, low, high : float
        May be negative: the interval says what it is worth.
    """
    mean = variation.spots.mean(axis=0)
    decay = variation.reduction.apply(depths)
    nm, error = 0.0, 0.0
    for _ in range(8):
        reach = nm if abs(nm) > 1e-3 else 1e-3
        weaker = variation.whiten((mean * np.expm1(-decay * reach) / reach)[None, :])
        fit = fit_shapes(basis, np.vstack([weaker, curves]), spectrum)
        nm = float(np.clip(fit.amounts[0, 0], -0.2 / decay.max(), 5.0 / decay.max()))
        error = float(np.sqrt(fit.covariance[0, 0] * variance)) * widening.factor
    half = critical_factor(alpha / 2.0, widening.degrees) * error
    return nm, nm - half, nm + half
