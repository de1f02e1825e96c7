"""Attenuated-total-reflection spectra of layered samples, as a spectrometer records them.

The beam is a mix of angles and of s and p light, meets the sample several times, and touches it over a
fraction phi of the area only (the rest reflects totally). With R the reflectance of one touch

    A = -log10( sum of weights (1 - phi (1 - R))^reflections )

where the sum runs over rays and polarisations. Exact identity at 45 degrees and a bulk sample: Rp = Rs^2.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import ArrayLike

from spectra.optics.fresnel import ComplexArray, amplitudes, normal_index
from spectra.optics.geometry import Geometry, crystal_index, rays
from spectra.units import FloatArray

LN10 = float(np.log(10.0))


def atr_absorbance(
    wavenumbers: ArrayLike,
    indices: Sequence[ArrayLike],
    thicknesses_nm: Sequence[ArrayLike],
    geometry: Geometry,
    contact: ArrayLike = 1.0,
) -> FloatArray:
    """Return the ATR spectrum of a layered sample.

    Parameters
    ----------
    wavenumbers : array_like, shape (n,), cm-1
    indices : sequence of array_like, complex
        n + ik of the layers and, last, of the medium behind them; the crystal is not among them.
    thicknesses_nm : sequence of array_like, nm
        Of the layers: one fewer than ``indices``. Shape (t, 1) gives t spectra at once.
    geometry
        Complete, technique ATR.
    contact : array_like
        Fraction of the crystal touched, 0 to 1.

    Returns
    -------
    ndarray, shape (n,) or broadcast, decadic absorbance

    Examples
    --------
    >>> geometry = Geometry(index=2.4, angle_deg=45.0)
    >>> atr_absorbance([1700.0], [1.5 + 0.1j], [], geometry).round(4)
    array([0.2211])
    """
    kept, _ = _recorded(wavenumbers, indices, thicknesses_nm, geometry, contact, layer=None)
    return np.asarray(-np.log10(kept))


def atr_growth(
    wavenumbers: ArrayLike,
    indices: Sequence[ArrayLike],
    thicknesses_nm: Sequence[ArrayLike],
    geometry: Geometry,
    contact: ArrayLike = 1.0,
    layer: int = 0,
) -> FloatArray:
    """Return how the ATR spectrum grows with the thickness of one layer: dA/dd, absorbance per nm.

    Closed form, at the thicknesses given (zero included). Arguments as :func:`atr_absorbance`.

    Examples
    --------
    >>> geometry = Geometry(index=2.4, angle_deg=45.0)
    >>> atr_growth([1730.0], [1.5 + 0.3j, 1.5], [0.0], geometry).round(5)
    array([0.00118])
    """
    kept, change = _recorded(wavenumbers, indices, thicknesses_nm, geometry, contact, layer)
    return np.asarray(-change / (LN10 * kept))


def _recorded(
    wavenumbers: ArrayLike,
    indices: Sequence[ArrayLike],
    thicknesses_nm: Sequence[ArrayLike],
    geometry: Geometry,
    contact: ArrayLike,
    layer: int | None,
) -> tuple[FloatArray, FloatArray]:
    """Share of the light recorded, and its slope per nm of ``layer``."""
    phi, times = np.asarray(contact, dtype=np.float64), geometry.reflections
    kept, change = np.zeros(1), np.zeros(1)
    for polarisation, crystal, tangential, weight in beams(geometry, wavenumbers):
        one = amplitudes(
            wavenumbers, (crystal, *indices), thicknesses_nm, tangential, polarisation, layer=layer
        )
        touch = 1.0 - phi * (1.0 - _squared(one.r))
        kept = kept + weight * touch**times
        if layer is not None:
            slope = 2.0 * np.real(np.conj(one.r) * one.slope)
            change = change + weight * times * touch ** (times - 1) * phi * slope
    return kept, change


def beams(geometry: Geometry, wavenumbers: ArrayLike) -> Iterator[tuple[str, FloatArray, FloatArray, float]]:
    """Yield polarisation, crystal index, tangential index and weight of every part of the beam."""
    crystal = crystal_index(geometry, wavenumbers)
    for angle, share in rays(geometry):
        for polarisation, part in (("s", geometry.s_share), ("p", 1.0 - geometry.s_share)):
            if part > 0.0:
                yield polarisation, crystal, crystal * np.sin(angle), share * part


def bulk_response(
    wavenumbers: ArrayLike, index: ComplexArray, geometry: Geometry, contact: float
) -> tuple[FloatArray, ComplexArray]:
    """Return absorbance of a bulk sample, and the complex number D whose parts are its slopes.

    dA/dn = Re D and dA/dk = -Im D, because the reflected amplitude is an analytic function of N.

    Examples
    --------
    >>> geometry = Geometry(index=2.4, angle_deg=45.0)
    >>> absorbance, slopes = bulk_response([1700.0], np.array([1.5 + 0.001j]), geometry, 1.0)
    >>> (absorbance / 0.001).round(2), (-slopes.imag).round(2)  # about linear in k while k is small
    (array([2.38]), array([2.38]))
    """
    times = geometry.reflections
    kept: FloatArray = np.zeros(np.shape(wavenumbers))
    slope: ComplexArray = np.zeros(np.shape(wavenumbers), dtype=np.complex128)
    for polarisation, crystal, tangential, weight in beams(geometry, wavenumbers):
        amplitude, rate = _bulk_amplitude(crystal, index, tangential, polarisation)
        touch = 1.0 - contact * (1.0 - _squared(amplitude))
        kept = kept + weight * touch**times
        slope += weight * times * touch ** (times - 1) * contact * 2.0 * np.conj(amplitude) * rate
    return -np.log10(kept), -slope / (LN10 * kept)


def _bulk_amplitude(
    crystal: FloatArray, index: ComplexArray, tangential: FloatArray, polarisation: str
) -> tuple[ComplexArray, ComplexArray]:
    """Amplitude r of crystal | sample and dr/dN."""
    inner, outer = normal_index(index, tangential), np.sqrt(crystal**2 - tangential**2)
    if polarisation == "s":
        a, b, rate = outer, inner, index / inner
    else:
        a, b = outer / crystal**2, inner / index**2
        rate = 1.0 / (index * inner) - 2.0 * inner / index**3
    return (a - b) / (a + b), -2.0 * a * rate / (a + b) ** 2


def _squared(amplitude: ComplexArray) -> FloatArray:
    """|r|^2."""
    return np.asarray(amplitude.real**2 + amplitude.imag**2)
