"""How bare spots scatter about their mean: the terms of the covariance, and how large each is.

One spot is the mean times a contact factor, plus known nuisances, plus a Gaussian process of variance

- ``narrow`` and ``wide``: every stretch of the substrate's spectrum varies in height by itself, over 15 and
  over 80 cm-1 (composition, crystallinity, orientation); ``bands``: every band of it as a whole;
- ``position``: every stretch varies in position; ``scale``: the whole axis stretches;
- ``moisture``: water in the sample, whose bands need not vary together; ``drift``: a smooth baseline;
- ``noise``: the detector's, region by region; ``blurred``: the part of it that neighbouring points share.

The sizes are found by restricted maximum likelihood: from contrasts between the spots, so that the mean
costs nothing, with the nuisances projected out (Patterson and Thompson, Biometrika 58, 545 (1971),
doi:10.1093/biomet/58.3.545). The search is a damped Newton method on the logarithms with the average of
observed and expected information (Gilmour, Thompson and Cullis, Biometrics 51, 1440 (1995),
doi:10.2307/2533274). Gradients are exact.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_solve, cholesky

from spectra.peaks.segmentation import split_bands
from spectra.preprocessing.atmosphere import liquid_water
from spectra.spectrum import Frozen
from spectra.units import FloatArray

# Where the search starts, and the centre of a weak prior: standard deviations as shares of the spectrum's
# height (narrow, wide, bands), absorbance (moisture, drift), cm-1 (position), parts per thousand (scale),
# shares of the noise found from high frequencies (noise, blurred).
START = {
    "narrow": 0.02,
    "wide": 0.02,
    "bands": 0.02,
    "moisture": 0.0001,
    "position": 0.1,
    "scale": 0.1,
    "drift": 0.001,
    "noise": 1.0,
    "blurred": 0.4,
}

PRIOR_WIDTH = 3.0  # of each log variance: a factor 4.5 in size is one standard deviation

SMALLEST_BAND = 0.01  # share of the spectrum's range that makes a band of the substrate

JITTER = 1e-14  # absorbance squared: far below any detector, keeps the factorisation safe

BLUR = 5.0  # cm-1: neighbouring points of apodised or zero-filled data share noise over about this


def smooth_kernel(points: FloatArray, length: float) -> FloatArray:
    """Squared-exponential correlation of ``points`` over ``length`` cm-1, shape (r, r)."""
    distance = (points[:, None] - points[None, :]) / length
    return np.asarray(np.exp(-0.5 * distance**2))


def noise_levels(points: FloatArray, spots: FloatArray, window: float) -> FloatArray:
    """Detector noise along the axis, from what changes fastest between replicate spots.

    Third differences of the deviations from the mean pass noise and stop bands; the median of their
    squares in each window ignores the few points where a sharp band does move.

    Parameters
    ----------
    points : ndarray, shape (r,), cm-1, increasing
    spots : ndarray, shape (k, r), absorbance, two or more
    window : float
        Distance of the stretches the level is found in, cm-1.

    Returns
    -------
    ndarray, shape (r,), absorbance
        Standard deviation of one point, interpolated between the stretches.
    """
    count = len(spots)
    third = np.diff(spots - spots.mean(axis=0), 3, axis=1) * np.sqrt(count / (count - 1) / 20.0)
    centres = 0.5 * (points[3:] + points[:-3])
    step = float(np.median(np.diff(points)))
    whole = np.flatnonzero(points[3:] - points[:-3] < 3.5 * step)  # not across a gap
    knots = np.arange(points[0], points[-1] + window, window)
    near = max(30, int(window / step))
    levels = [_median_level(third[:, whole[np.argsort(np.abs(centres[whole] - k))[:near]]]) for k in knots]
    return np.asarray(np.exp(np.interp(points, knots, np.log(levels))))


def _median_level(values: FloatArray) -> float:
    """Take the standard deviation from the median square (0.4549 for a normal variable), kept above zero."""
    return max(float(np.sqrt(np.median(values**2) / 0.4549)), 1e-7)


@dataclass(frozen=True, eq=False)
class Substrate(Frozen):
    """What the terms are made of.

    Attributes
    ----------
    points : ndarray, shape (r,), cm-1
    mean : ndarray, shape (r,), absorbance
        Of the bare spots.
    slope : ndarray, shape (r,), absorbance per cm-1
        Derivative of the mean.
    bands : ndarray, shape (b, r), absorbance
        Bands of the mean, each by itself.
    moisture : ndarray, shape (r,)
        Liquid water, greatest value one.
    noise : ndarray, shape (r,), absorbance
        Of the detector.
    """

    points: FloatArray
    mean: FloatArray
    slope: FloatArray
    bands: FloatArray
    moisture: FloatArray
    noise: FloatArray

    def take(self, chosen: NDArray[np.intp]) -> Substrate:
        """Return the same on fewer points."""
        return Substrate(*(getattr(self, item.name)[..., chosen] for item in fields(self)))


def describe_substrate(points: FloatArray, mean: FloatArray, noise: FloatArray) -> Substrate:
    """Form what the terms are made of from the mean bare spectrum and the noise, shape (r,) each."""
    bands = np.array([piece.curve for piece in split_bands(points, mean, SMALLEST_BAND)])
    slope = np.gradient(mean, points)
    return Substrate(points, mean, slope, bands.reshape(-1, points.size), liquid_water(points), noise)


def components(substrate: Substrate, lengths: Mapping[str, float]) -> dict[str, FloatArray]:
    """Return the terms of the covariance at unit size, each of shape (r, r).

    Parameters
    ----------
    substrate : Substrate
    lengths : mapping of str to float
        Correlation length in cm-1 of ``narrow``, ``wide``, ``position`` and ``drift``.
    """
    points, height = substrate.points, np.abs(substrate.mean)
    stretch = points * substrate.slope / 1000.0
    wide = smooth_kernel(points, lengths["wide"])
    return {
        "narrow": _modulated(height, smooth_kernel(points, lengths["narrow"])),
        "wide": _modulated(height, wide),
        "bands": substrate.bands.T @ substrate.bands,
        "moisture": _modulated(substrate.moisture, wide),
        "position": _modulated(substrate.slope, smooth_kernel(points, lengths["position"])),
        "scale": np.outer(stretch, stretch),
        "drift": smooth_kernel(points, lengths["drift"]),
        "noise": np.diag(substrate.noise**2),
        "blurred": _modulated(substrate.noise, smooth_kernel(points, BLUR)),
    }


def _modulated(size: FloatArray, kernel: FloatArray) -> FloatArray:
    """Kernel of a process whose standard deviation is ``size``."""
    return size[:, None] * kernel * size[None, :]


def total(terms: Mapping[str, FloatArray], sizes: Mapping[str, float]) -> FloatArray:
    """Sum the terms at their sizes (standard deviations), shape (r, r)."""
    covariance = sum((sizes[name] ** 2 * term for name, term in terms.items()), np.zeros(()))
    covariance = np.asarray(covariance)
    covariance[np.diag_indices_from(covariance)] += JITTER
    return covariance


def fit_sizes(
    contrasts: FloatArray,
    nuisances: FloatArray,
    terms: Mapping[str, FloatArray],
    begin: Mapping[str, float] = START,
    rounds: int = 25,
) -> dict[str, float]:
    """Find the size of every term by restricted maximum likelihood.

    Parameters
    ----------
    contrasts : ndarray, shape (q, r)
        Orthonormal contrasts between the spots.
    nuisances : ndarray, shape (p, r)
        Shapes of free height in every spot.
    terms : mapping of str to ndarray, shape (r, r)
        From :func:`components`.
    begin : mapping of str to float
        Sizes to start from.
    rounds : int
        Most steps of the search; six to nine are usual.

    Returns
    -------
    dict of str to float
        Standard deviation of each term, in the units of :data:`START`.
    """
    names = list(terms)
    start = np.array([2.0 * np.log(START[name]) for name in names])
    logs = np.array([2.0 * np.log(begin[name]) for name in names])
    matrices = [terms[name] for name in names]
    value, gradient, information = restricted_likelihood(logs, contrasts, nuisances, matrices)
    for _ in range(rounds):
        value, gradient, information = _with_prior(logs - start, value, gradient, information)
        step = np.linalg.solve(information + 1e-3 * np.diag(np.diag(information)), gradient)
        step *= min(1.0, 2.0 / float(np.abs(step).max()))
        before = value
        for _ in range(8):
            value, gradient, information = restricted_likelihood(logs + step, contrasts, nuisances, matrices)
            if value - _penalty(logs + step - start) >= before:
                break
            step = step / 2.0
        logs = logs + step
        if value - _penalty(logs - start) - before < 0.03:
            break
    return {name: float(np.exp(log / 2.0)) for name, log in zip(names, logs, strict=True)}


def _penalty(offset: FloatArray) -> float:
    """Negative log density of the weak prior, up to a constant."""
    return float(0.5 * np.sum(offset**2) / PRIOR_WIDTH**2)


def _with_prior(
    offset: FloatArray, value: float, gradient: FloatArray, information: FloatArray
) -> tuple[float, FloatArray, FloatArray]:
    """Add the prior to value, gradient and information."""
    weight = 1.0 / PRIOR_WIDTH**2
    return value - _penalty(offset), gradient - offset * weight, information + weight * np.eye(offset.size)


def restricted_likelihood(
    logs: FloatArray, contrasts: FloatArray, nuisances: FloatArray, terms: Sequence[FloatArray]
) -> tuple[float, FloatArray, FloatArray]:
    """Restricted log likelihood of log variances, with its gradient and average information.

    Parameters
    ----------
    logs : ndarray, shape (t,)
        Logarithm of the variance of each term.
    contrasts : ndarray, shape (q, r)
    nuisances : ndarray, shape (p, r)
    terms : sequence of ndarray, shape (r, r)

    Returns
    -------
    value : float
        Up to a constant.
    gradient : ndarray, shape (t,)
    information : ndarray, shape (t, t)
    """
    variances = np.exp(logs)
    covariance = np.asarray(sum(v * term for v, term in zip(variances, terms, strict=True)))
    covariance[np.diag_indices_from(covariance)] += JITTER
    factor = cholesky(covariance, lower=True, check_finite=False)
    inverse = cho_solve((factor, True), np.eye(len(covariance)), check_finite=False)
    solved = inverse @ nuisances.T
    inner = cholesky(nuisances @ solved, lower=True, check_finite=False)
    projector = inverse - solved @ cho_solve((inner, True), solved.T)
    residual = projector @ contrasts.T
    count = len(contrasts)
    log_determinants = np.log(np.diag(factor)).sum() + np.log(np.diag(inner)).sum()
    value = -count * log_determinants - 0.5 * np.sum(contrasts.T * residual)
    carried = [v * (term @ residual) for v, term in zip(variances, terms, strict=True)]
    traces = np.array([v * np.sum(projector * term) for v, term in zip(variances, terms, strict=True)])
    gradient = 0.5 * (np.array([np.sum(residual * w) for w in carried]) - count * traces)
    weighted = [projector @ w for w in carried]
    information = 0.5 * np.array([[np.sum(w * p) for p in weighted] for w in carried])
    return float(value), gradient, information
