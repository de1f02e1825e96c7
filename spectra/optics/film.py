"""A thin film on a substrate: what its spectrum must look like if the chemistry is that of the neat material.

The sample is crystal | film | substrate (ATR) or air | film | substrate (transmission), computed exactly. The
coating's own part is the coated spectrum minus that of the same film with its absorption switched off
(index n_inf): it contains the bands of the coating and not those of the substrate, which an inert film dims
just as well.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from spectra.errors import SpectraError
from spectra.optics.atr import atr_absorbance, atr_growth
from spectra.optics.fresnel import ComplexArray, transmittance
from spectra.optics.geometry import Geometry
from spectra.optics.material import Material
from spectra.units import FloatArray

# A film this thin is linear to better than a thousandth.
THINNEST_NM = 0.01


@dataclass(frozen=True, eq=False)
class FilmSpectra:
    """Spectra of a film of growing thickness on one substrate.

    Attributes
    ----------
    thicknesses_nm : ndarray, shape (t,)
    coated : ndarray, shape (t, n)
        Absorbance of the coated sample.
    film : ndarray, shape (t, n)
        The coating's own part of it.
    """

    thicknesses_nm: FloatArray
    coated: FloatArray
    film: FloatArray


def film_spectra(
    wavenumbers: ArrayLike,
    film: ArrayLike,
    substrate: ArrayLike,
    thicknesses_nm: ArrayLike,
    geometry: Geometry,
    contact: float = 1.0,
    n_inf: float = 1.5,
) -> FilmSpectra:
    """Return the spectra of a film of several thicknesses on a substrate.

    Parameters
    ----------
    wavenumbers : array_like, shape (n,), cm-1
    film, substrate : array_like, complex, shape (n,) or a number
        n + ik.
    thicknesses_nm : array_like, shape (t,)
    geometry
        Complete, ATR or transmission.
    contact
        Fraction of the crystal touched.
    n_inf
        Index of the film with its absorption switched off.

    Examples
    --------
    >>> geometry = Geometry(index=2.4, angle_deg=45.0)
    >>> spectra = film_spectra([1700.0], 1.5 + 0.1j, 1.5 + 0.05j, [0.0, 100.0], geometry)
    >>> spectra.film.round(4).ravel(), spectra.coated.round(4).ravel()
    (array([-0.    ,  0.0358]), array([0.1159, 0.1338]))
    """
    nu = np.asarray(wavenumbers, dtype=np.float64)
    d = np.atleast_1d(np.asarray(thicknesses_nm, dtype=np.float64))
    coated = film_absorbance(nu, film, substrate, d[:, None], geometry, contact)
    inert = film_absorbance(nu, n_inf, substrate, d[:, None], geometry, contact)
    return FilmSpectra(d, coated, coated - inert)


def film_shape(
    wavenumbers: ArrayLike,
    film: ArrayLike,
    substrate: ArrayLike,
    geometry: Geometry,
    contact: float = 1.0,
    n_inf: float = 1.5,
) -> tuple[FloatArray, FloatArray]:
    """Return absorbance per nm of a film much thinner than the depth.

    Two parts: all of the change, and the coating's own. The first includes how the film dims the substrate,
    the second does not. Arguments as :func:`film_spectra`.

    Examples
    --------
    >>> geometry = Geometry(index=2.4, angle_deg=45.0)
    >>> growth, shape = film_shape([1700.0], 1.5 + 0.1j, 1.5, geometry)
    >>> float(shape[0].round(6)), float(growth[0].round(6))
    (0.000402, 0.000402)
    """
    nu = np.asarray(wavenumbers, dtype=np.float64)
    if geometry.technique == "ATR":
        growth = atr_growth(nu, [film, substrate], [0.0], geometry, contact)
        return growth, growth - atr_growth(nu, [n_inf, substrate], [0.0], geometry, contact)
    thin = film_spectra(nu, film, substrate, [0.0, THINNEST_NM], geometry, contact, n_inf)
    return (thin.coated[1] - thin.coated[0]) / THINNEST_NM, thin.film[1] / THINNEST_NM


def film_absorbance(
    wavenumbers: FloatArray,
    film: ArrayLike | None,
    substrate: ArrayLike,
    nm: ArrayLike,
    geometry: Geometry,
    contact: float = 1.0,
) -> FloatArray:
    """Return the absorbance of one film on a substrate, or of the bare substrate.

    Parameters
    ----------
    wavenumbers : ndarray, shape (n,), cm-1
    film : array_like, complex, or None
        n + ik of the film; None for the bare substrate.
    substrate : array_like, complex
    nm : array_like
        Thickness; shape (t, 1) gives t spectra.
    geometry
        Complete. In transmission absorbance is relative to the bare front surface of the substrate.
    contact
        Fraction of the crystal touched.

    Examples
    --------
    >>> geometry = Geometry(index=2.4, angle_deg=45.0)
    >>> nu = np.array([1700.0])
    >>> bare = film_absorbance(nu, None, 1.5 + 0.05j, 0.0, geometry)
    >>> bool(abs(film_absorbance(nu, 1.5, 1.5 + 0.05j, 0.0, geometry) - bare) < 1e-12)
    True
    """
    if geometry.technique == "ATR":
        layers, depths = ([substrate], []) if film is None else ([film, substrate], [nm])
        return atr_absorbance(wavenumbers, layers, depths, geometry, contact)
    if film is None:
        return np.zeros(np.shape(wavenumbers))
    bare = transmittance(wavenumbers, [1.0, substrate], [], 0.0, "s")
    return np.asarray(-np.log10(transmittance(wavenumbers, [1.0, film, substrate], [nm], 0.0, "s") / bare))


def on_grid(material: Material, wavenumbers: FloatArray) -> tuple[ComplexArray, ComplexArray]:
    """Return index and variants of a material at other points, straight lines between its own.

    Raises
    ------
    SpectraError
        If the material is not known over the whole range asked for.
    """
    grid = material.wavenumbers
    if grid.shape == wavenumbers.shape and np.allclose(grid, wavenumbers):
        return material.index, material.variants
    slack = 2.0 * float(grid[1] - grid[0])
    if wavenumbers[0] < grid[0] - slack or wavenumbers[-1] > grid[-1] + slack:
        raise SpectraError(
            f"the substrate is known from {grid[0]:g} to {grid[-1]:g} cm-1, the coating from "
            f"{wavenumbers[0]:g} to {wavenumbers[-1]:g}; bring both to a common range"
        )
    rows = np.concatenate([material.index[None], material.variants])
    moved = np.array(
        [np.interp(wavenumbers, grid, row.real) + 1j * np.interp(wavenumbers, grid, row.imag) for row in rows]
    )
    return moved[0], moved[1:]
