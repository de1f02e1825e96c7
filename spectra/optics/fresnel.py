"""Exact reflection and transmission of plane layers (Fresnel), for any number of layers.

Symbols: light comes through medium 0 (the crystal, or air), passes layers 1 to m of thickness d, and ends in
a half-space. N = n + ik is the complex index of a medium (time factor exp(-i w t), so k > 0 absorbs), nu the
wavenumber, q = n0 sin(theta) the tangential index, shared by all media. In each medium the normal index is
u = sqrt(N^2 - q^2) with Im u >= 0. Amplitudes of one boundary between media a and b:

    s: r = (u_a - u_b) / (u_a + u_b)
    p: r = (N_b^2 u_a - N_a^2 u_b) / (N_b^2 u_a + N_a^2 u_b)

and of a stack, from the deepest boundary upward with E = exp(4 pi i nu u d) of the layer between
(Rouard's recursion; stable, because no exponential grows):

    G = (r + G' E) / (1 + r G' E)

Born, Wolf, Principles of Optics, sections 1.5 and 1.6. Everything broadcasts: give indices as shape (n,) over
wavenumber and thicknesses as shape (t, 1) to get (t, n). Reflections are amplitudes R = |G|^2; an ATR
spectrum is :func:`spectra.optics.atr.atr_absorbance`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from spectra.errors import SettingError
from spectra.units import FloatArray

ComplexArray = NDArray[np.complex128]

NM_IN_CM = 1.0e-7

_TURN = np.exp(0.25j * np.pi)


@dataclass(frozen=True, eq=False)
class Amplitudes:
    """Amplitudes of a stack.

    Attributes
    ----------
    r
        Reflected amplitude.
    slope
        dr/dd per nm of the layer asked for; zero if none was.
    """

    r: ComplexArray
    slope: ComplexArray


def normal_index(index: ArrayLike, tangential: ArrayLike) -> ComplexArray:
    """Return u = sqrt(N^2 - q^2) with Im u >= 0.

    The cut lies along the negative imaginary axis, so the value stays smooth where noise makes k a little
    negative, for evanescent and for propagating waves alike.

    Examples
    --------
    >>> normal_index([1.5], 1.7).round(6) + 0.0
    array([0.+0.8j])
    """
    squared = np.asarray(index, dtype=np.complex128) ** 2 - np.asarray(tangential) ** 2
    return np.asarray(np.sqrt(-1j * squared) * _TURN)


def amplitudes(
    wavenumbers: ArrayLike,
    indices: Sequence[ArrayLike],
    thicknesses_nm: Sequence[ArrayLike],
    tangential: ArrayLike,
    polarisation: str,
    layer: int | None = None,
) -> Amplitudes:
    """Return the reflected amplitude of a stack.

    Parameters
    ----------
    wavenumbers : array_like, shape (n,), cm-1
    indices : sequence of m + 2 array_like, complex
        Of the first medium, the m layers, the last medium; each broadcasts against shape (n,).
    thicknesses_nm : sequence of m array_like, nm
    tangential : array_like
        q = n0 sin(theta).
    polarisation : {"s", "p"}
    layer
        Number of the layer, from 0, whose slope is wanted; None for no slope.

    Raises
    ------
    SettingError
        For another polarisation, or if the numbers of indices and thicknesses do not fit.

    Examples
    --------
    >>> bare = amplitudes([1000.0], [1.0, 1.5], [], 0.0, "s")  # air on glass, normal incidence
    >>> (abs(bare.r) ** 2).round(4)
    array([0.04])
    """
    normal, weight = _media(wavenumbers, indices, thicknesses_nm, tangential, polarisation)
    r = _reflected(weight[-2], weight[-1])
    slope: ComplexArray = np.zeros(1, dtype=np.complex128)
    for number in reversed(range(len(thicknesses_nm))):
        rate = _rate(wavenumbers, normal[number + 1])
        phase = np.exp(rate * np.asarray(thicknesses_nm[number], dtype=np.float64))
        below = r * phase
        top = _reflected(weight[number], weight[number + 1])
        base = 1.0 / (1.0 + top * below)
        if layer is not None and number <= layer:
            change = rate * below if number == layer else slope * phase
            slope = change * (1.0 - top * top) * base * base
        r = (top + below) * base
    return Amplitudes(r, slope)


def transmittance(
    wavenumbers: ArrayLike,
    indices: Sequence[ArrayLike],
    thicknesses_nm: Sequence[ArrayLike],
    tangential: ArrayLike,
    polarisation: str,
) -> FloatArray:
    """Return the share of the power that enters the last medium of a stack.

    T = Re(w_last) / Re(w_0) |t|^2 with w = u for s and u / N^2 for p, and by the same recursion as in
    :func:`amplitudes` t = product of t_boundary exp(2 pi i nu u d) / (1 + r G' E). Arguments as there.

    Examples
    --------
    >>> transmittance([1000.0], [1.0, 1.5], [], 0.0, "s").round(4)
    array([0.96])
    """
    normal, weight = _media(wavenumbers, indices, thicknesses_nm, tangential, polarisation)
    r, t = _reflected(weight[-2], weight[-1]), _transmitted(weight[-2], weight[-1])
    for number in reversed(range(len(thicknesses_nm))):
        rate = _rate(wavenumbers, normal[number + 1])
        half = np.exp(0.5 * rate * np.asarray(thicknesses_nm[number], dtype=np.float64))
        below = r * half * half
        top = _reflected(weight[number], weight[number + 1])
        base = 1.0 / (1.0 + top * below)
        t = _transmitted(weight[number], weight[number + 1]) * half * t * base
        r = (top + below) * base
    return np.asarray(np.real(weight[-1]) / np.real(weight[0]) * np.abs(t) ** 2)


def _media(
    wavenumbers: ArrayLike,
    indices: Sequence[ArrayLike],
    thicknesses_nm: Sequence[ArrayLike],
    tangential: ArrayLike,
    polarisation: str,
) -> tuple[list[ComplexArray], list[ComplexArray]]:
    """Find normal index and admittance of every medium, one value each wavenumber."""
    if len(indices) != len(thicknesses_nm) + 2:
        raise SettingError(
            f"{len(indices)} indices for {len(thicknesses_nm)} layers; expected two more than layers"
        )
    media = [np.asarray(index, dtype=np.complex128) for index in indices]
    spread = np.asarray(tangential) + np.zeros(np.shape(wavenumbers))
    normal = [normal_index(index, spread) for index in media]
    return normal, [_admittance(index, u, polarisation) for index, u in zip(media, normal, strict=True)]


def _rate(wavenumbers: ArrayLike, normal: ComplexArray) -> ComplexArray:
    """Give 4 pi i nu u per nm: the growth of ln E with thickness."""
    return np.asarray(4j * np.pi * NM_IN_CM * np.asarray(wavenumbers, dtype=np.float64) * normal)


def _admittance(index: ComplexArray, normal: ComplexArray, polarisation: str) -> ComplexArray:
    """Give u for s, u / N^2 for p: both boundaries then read (a - b) / (a + b)."""
    if polarisation == "s":
        return normal
    if polarisation == "p":
        return np.asarray(normal / index**2)
    raise SettingError(f"unknown polarisation {polarisation!r}; expected s or p")


def _reflected(first: ComplexArray, second: ComplexArray) -> ComplexArray:
    """Give the reflected amplitude of one boundary."""
    return np.asarray((first - second) / (first + second))


def _transmitted(first: ComplexArray, second: ComplexArray) -> ComplexArray:
    """Give the transmitted amplitude of one boundary (s: electric, p: magnetic field)."""
    return np.asarray(2.0 * first / (first + second))
