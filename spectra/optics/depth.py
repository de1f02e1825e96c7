"""Depths of attenuated total reflection, in closed form for weakly absorbing samples.

Symbols: n1 index of the crystal, n2 of the sample, n3 of what lies behind a film, theta angle of incidence,
w vacuum wavelength; n21 = n2/n1 and so on. All depths are in um.

Harrick, du Pre, Appl. Opt. 5, 1739 (1966), doi:10.1364/AO.5.001739. The formulas were typed from memory
and are checked in the tests against the exact Fresnel calculation.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from spectra.errors import SettingError
from spectra.units import FloatArray


def penetration_depth(wavenumbers: ArrayLike, n1: ArrayLike, angle_deg: float, n2: float) -> FloatArray:
    """Return the depth at which the field has fallen to 1/e.

    dp = w / (2 pi sqrt(n1^2 sin^2 theta - n2^2)). The intensity falls twice as fast; 95 % of the signal
    of a bulk sample comes from the first 1.5 dp. On diamond at 45 degrees dp changes by 15-20 % when n2
    or theta are uncertain by 0.05 or 2 degrees.

    Parameters
    ----------
    wavenumbers : array_like, shape (n,), cm-1
    n1 : float or array_like, shape (n,)

    Returns
    -------
    ndarray, shape (n,), um

    Raises
    ------
    SettingError
        Below the critical angle.

    Examples
    --------
    >>> penetration_depth([1000.0], 2.4, 45.0, 1.5).round(4)
    array([2.0052])
    """
    wavelength = 1.0e4 / np.asarray(wavenumbers, dtype=np.float64)
    return np.asarray(wavelength / (2.0 * np.pi * _decay(n1, angle_deg, n2)))


def effective_thickness(
    wavenumbers: ArrayLike, n1: ArrayLike, angle_deg: float, n2: float, s_share: float = 0.5
) -> FloatArray:
    """Return the thickness of the transmission film that would absorb as much as the bulk sample.

    de,s = (w/n1) n21 cos(theta) / (pi (1 - n21^2) sqrt(sin^2(theta) - n21^2)) and
    de,p = de,s (2 sin^2(theta) - n21^2) / ((1 + n21^2) sin^2(theta) - n21^2), mixed by ``s_share``
    (1 gives s, 0 gives p). Holds for k well below 0.1.

    Parameters
    ----------
    wavenumbers : array_like, shape (n,), cm-1
    n1 : float or array_like, shape (n,)

    Returns
    -------
    ndarray, shape (n,), um

    Examples
    --------
    >>> effective_thickness([1000.0], 2.4, 45.0, 1.5).round(3)
    array([4.363])
    """
    n1 = np.asarray(n1, dtype=np.float64)
    wavelength = 1.0e4 / np.asarray(wavenumbers, dtype=np.float64)
    ratio2 = (n2 / n1) ** 2
    sine2 = np.sin(np.radians(angle_deg)) ** 2
    cosine = np.cos(np.radians(angle_deg))
    decay = _decay(n1, angle_deg, n2) / n1
    s = wavelength * n2 / n1**2 * cosine / (np.pi * (1.0 - ratio2) * decay)
    p = s * (2.0 * sine2 - ratio2) / ((1.0 + ratio2) * sine2 - ratio2)
    return np.asarray(s_share * s + (1.0 - s_share) * p)


def _decay(n1: ArrayLike, angle_deg: float, n2: float) -> FloatArray:
    """sqrt(n1^2 sin^2 theta - n2^2), refused below the critical angle."""
    squared = (np.asarray(n1, dtype=np.float64) * np.sin(np.radians(angle_deg))) ** 2 - n2**2
    if not np.all(squared > 0):
        raise SettingError(
            f"{angle_deg:g} degrees is below the critical angle for a sample of index {n2:g}: "
            "no total reflection; check the angle and the crystal"
        )
    return np.asarray(np.sqrt(squared))
