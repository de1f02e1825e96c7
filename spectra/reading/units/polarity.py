"""Which way the bands of a curve point: up as in absorbance, down as in transmittance."""

from __future__ import annotations

import numpy as np

from spectra.noise import fine_structure
from spectra.units import FloatArray

# Skewness of the fine structure beyond which the direction is taken as certain. In 42 measured spectra of
# 12 kinds of sample it was +0.8 to +8.0 as absorbance, and -0.4 to -5.2 as transmittance.
CLEAR_LEAN = 0.3


def band_lean(values: FloatArray) -> float:
    """Skewness of the fine structure: positive where bands point up, negative where they point down.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Ordinates in the order of the axis; not-finite ones are left out.

    Returns
    -------
    float
        Zero for a curve without structure. The fine structure is what a running mean over a forty-fifth
        of the range leaves, 80 cm-1 of the mid infrared.

    Examples
    --------
    >>> band = np.exp(-(np.linspace(-20, 20, 500) ** 2))
    >>> band_lean(band) > CLEAR_LEAN, band_lean(1 - band) < -CLEAR_LEAN
    (True, True)
    """
    finite = values[np.isfinite(values)]
    if finite.size < 10:
        return 0.0
    fine = fine_structure(finite, max(2, finite.size // 90))
    scatter = float(np.sqrt(np.mean(fine**2)))
    if scatter <= 1e-12 * float(np.max(np.abs(finite))):
        return 0.0
    fine /= scatter
    return float(np.mean(fine * fine * fine))
