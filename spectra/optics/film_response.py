"""How a film changes a spectrum: by thickness, how surely, and how it weakens the substrate."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from spectra.optics.depth import penetration_depth
from spectra.optics.expected import Expected
from spectra.optics.film import film_spectra, on_grid
from spectra.optics.fresnel import ComplexArray
from spectra.optics.geometry import Geometry, crystal_index
from spectra.optics.material import Material
from spectra.spectrum import Frozen
from spectra.units import FloatArray

if TYPE_CHECKING:
    from scipy.interpolate import CubicSpline

RESPONSE_NM = (0.3, 20000.0)  # below one monolayer to far beyond the depth of the light

WHOLE, OWN = 0, 1


@dataclass(frozen=True, eq=False)
class FilmTable(Frozen):
    """Change of absorbance per nm of film over the logarithm of the thickness.

    The change per nm is smooth in that logarithm: 48 exact spectra and a cubic between them agree with the
    stack computed anew to 3e-5 of the change. They are computed when first asked for.

    Attributes
    ----------
    grid : ndarray, shape (n,), cm-1
        Of the curves given back.
    wavenumbers : ndarray, shape (m,), cm-1
        Of the optical constants.
    film, substrate : ndarray, shape (m,), complex
        n + ik.
    n_inf
        Index of the film with its absorption switched off.
    geometry
    contact
        Fraction of the crystal touched.
    """

    grid: FloatArray
    wavenumbers: FloatArray
    film: ComplexArray
    substrate: ComplexArray
    n_inf: float
    geometry: Geometry
    contact: float

    @cached_property
    def per_nm(self) -> CubicSpline[np.float64]:
        """Rows ``WHOLE`` and ``OWN`` over the logarithm of the thickness, shape (2, n)."""
        from scipy.interpolate import CubicSpline

        knots = np.geomspace(*RESPONSE_NM, 48)
        thicknesses = np.append(0.0, knots)
        exact = film_spectra(
            self.wavenumbers, self.film, self.substrate, thicknesses, self.geometry, self.contact, self.n_inf
        )
        both = np.stack([exact.coated[1:] - exact.coated[0], exact.film[1:]], axis=1) / knots[:, None, None]
        on_common = np.array([[np.interp(self.grid, self.wavenumbers, row) for row in pair] for pair in both])
        return CubicSpline(np.log(knots), on_common, axis=0)


@dataclass(frozen=True)
class FilmResponse:
    """Film thickness in nm to the change of absorbance, shape (n,).

    Attributes
    ----------
    table
    part
        ``WHOLE``: coated minus bare. ``OWN``: without the substrate's weakening.
    """

    table: FilmTable
    part: int

    def __call__(self, nm: float) -> FloatArray:
        """Return the change of absorbance at a thickness; linear beyond the ends of the table."""
        return np.asarray(nm * self.table.per_nm(np.log(np.clip(nm, *RESPONSE_NM)))[self.part])


def film_changes(
    grid: FloatArray, material: Material, bed: Material | None, geometry: Geometry, contact: float
) -> tuple[FilmResponse, FilmResponse]:
    """Return film thickness in nm to the change of absorbance on the grid: whole, and the film's own."""
    nu = material.wavenumbers
    below = on_grid(bed, nu)[0] if bed is not None else np.full(nu.shape, 1.5 + 0j)
    table = FilmTable(grid, nu, material.index, below, material.n_inf, geometry, contact)
    return FilmResponse(table, WHOLE), FilmResponse(table, OWN)


def strength_error(optics: Expected, bed: Material | None) -> float:
    """Return the relative error of the signal per nm that contact and index leave, one standard deviation.

    The neat spectrum's part comes with the optics; the sample's own contact, an even prior, is added.
    """
    low, high = bed.contact if bed is not None else (1.0, 1.0)
    return float(np.hypot(optics.strength_error, 2.0 * (high - low) / (high + low) / np.sqrt(12.0)))


def weakening(grid: FloatArray, geometry: Geometry, film_index: float) -> FloatArray | None:
    """Return how much of the substrate's spectrum a nm of film takes away, relative; None outside ATR.

    The light decays with the film's own depth: A / A0 = exp(-2 d / depth).
    """
    if geometry.technique != "ATR" or geometry.angle_deg is None:
        return None
    depth_um = penetration_depth(grid, crystal_index(geometry, grid), geometry.angle_deg, film_index)
    return np.asarray(2.0 / (1e3 * depth_um))
