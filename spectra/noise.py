"""Noise: how far neighbouring points scatter."""

from __future__ import annotations

import numpy as np

from spectra.units import FloatArray


def estimate_noise(absorbance: FloatArray) -> float:
    """Estimate the standard deviation of the point-to-point noise.

    The median absolute third difference, which bands wider than a few points hardly reach; scaled for
    white Gaussian noise, whose third differences have a variance of 20.

    Examples
    --------
    >>> import numpy as np
    >>> noise = np.random.default_rng(1).normal(scale=1e-3, size=4000)
    >>> bool(abs(estimate_noise(noise) / 1e-3 - 1) < 0.05)
    True
    """
    if absorbance.size < 8:
        return 0.0
    return float(np.median(np.abs(np.diff(absorbance, 3))) / (0.6745 * np.sqrt(20.0)))
