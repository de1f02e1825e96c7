"""Noise: how far neighbouring points scatter."""

from __future__ import annotations

from math import comb

import numpy as np

from spectra.units import FloatArray


def estimate_noise(absorbance: FloatArray, order: int = 3) -> float:
    """Estimate the standard deviation of the point-to-point noise.

    The median absolute third difference, which bands wider than a few points hardly reach; scaled for
    white Gaussian noise, whose differences of order k have a variance of 2k over k (20 for the third).

    Parameters
    ----------
    absorbance : ndarray, shape (n,)
        Finite, evenly spaced.
    order
        Order of the differences; a higher one is reached less by narrow bands, and scatters more.

    Examples
    --------
    >>> import numpy as np
    >>> noise = np.random.default_rng(1).normal(scale=1e-3, size=4000)
    >>> bool(abs(estimate_noise(noise) / 1e-3 - 1) < 0.05)
    True
    """
    if absorbance.size < order + 5:
        return 0.0
    differences = np.abs(np.diff(absorbance, order))
    return float(np.median(differences) / (0.6745 * np.sqrt(comb(2 * order, order))))


def fine_structure(values: FloatArray, half_width: int) -> FloatArray:
    """Return what a running mean over ``2 half_width + 1`` points leaves."""
    width = 2 * half_width + 1
    before, after = np.full(half_width + 1, values[0]), np.full(half_width, values[-1])
    sums = np.cumsum(np.concatenate([before, values, after]))
    return np.asarray(values - (sums[width:] - sums[:-width]) / width)
