"""Film thickness beyond the linear range, and a second thickness from the weakened substrate.

A film of d nm changes the spectrum by ``response(d)``: its own bands, which saturate, and the substrate's,
which weaken. The thickness is the d whose response leaves the least whitened residual; every spot's contact
scales film and substrate alike and is fitted along.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from spectra.jointfit import Widening, fit_shapes
from spectra.replicates import critical_factor
from spectra.shapes import Shape
from spectra.spectrum import Frozen
from spectra.units import FloatArray
from spectra.variation import Variation, orthonormal, project_out

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
        Response at that thickness, absorbance, scaled to the sample's contact.
    contact : float
        Contact of the sample relative to the bare mean.
    """

    nm: float
    error_nm: float
    curve: FloatArray
    contact: float


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
    full = np.vstack([basis, orthonormal(project_out(basis, others))]) if len(others) else basis
    target = project_out(full, spectrum)[0]
    contact = 1.0

    def film(nm: float) -> FloatArray:
        return variation.reduction.apply(np.asarray(response(nm)))

    def misfit(log_nm: float) -> float:
        change = project_out(full, variation.whiten(contact * film(float(np.exp(log_nm)))[None, :]))[0]
        return float(np.sum((target - change) ** 2))

    nm = THINNEST
    for _ in range(2):
        nm = float(np.exp(_minimise(misfit)))
        contact = _relative_contact(variation, spectrum, variation.whiten(film(nm)[None, :]), others)
    curve = contact * film(nm)
    grown = variation.whiten((contact * film(1.02 * nm) - curve)[None, :])
    slope = project_out(full, grown)[0] / (0.02 * nm)
    noise = widening.factor * np.sqrt(variance / max(float(slope @ slope), 1e-300))
    return FilmFit(nm, float(np.hypot(noise, shape.contact_error * nm)), curve, contact)


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


def _relative_contact(
    variation: Variation, spectrum: FloatArray, film: FloatArray, others: FloatArray
) -> float:
    """Contact of the sample over that of the bare mean: the height of substrate and film together."""
    whole = variation.whitened.mean(axis=0, keepdims=True) + film
    basis = orthonormal(variation.fixed)
    return float(fit_shapes(basis, np.vstack([whole, others]), spectrum).amounts[0, 0])


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
