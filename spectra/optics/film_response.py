"""How a film changes a spectrum: by thickness, and how surely."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from spectra.optics.expected import Expected
from spectra.optics.film import film_spectra, on_grid
from spectra.optics.fresnel import ComplexArray
from spectra.optics.geometry import Geometry
from spectra.optics.material import Material
from spectra.spectrum import Frozen
from spectra.units import FloatArray

if TYPE_CHECKING:
    from scipy.interpolate import CubicSpline

RESPONSE_NM = (0.3, 20000.0)  # below one monolayer to far beyond the depth of the light


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
        """Rows over the logarithm of the thickness, shape (n,)."""
        from scipy.interpolate import CubicSpline

        knots = np.geomspace(*RESPONSE_NM, 48)
        thicknesses = np.append(0.0, knots)
        exact = film_spectra(
            self.wavenumbers, self.film, self.substrate, thicknesses, self.geometry, self.contact, self.n_inf
        )
        changes = (exact.coated[1:] - exact.coated[0]) / knots[:, None]
        on_common = np.array([np.interp(self.grid, self.wavenumbers, row) for row in changes])
        return CubicSpline(np.log(knots), on_common, axis=0)


@dataclass(frozen=True)
class FilmResponse:
    """Film thickness in nm to the change of absorbance, coated minus bare, shape (n,)."""

    table: FilmTable

    def __call__(self, nm: float) -> FloatArray:
        """Return the change of absorbance at a thickness; linear beyond the ends of the table."""
        return np.asarray(nm * self.table.per_nm(np.log(np.clip(nm, *RESPONSE_NM))))


def film_change(
    grid: FloatArray, material: Material, bed: Material | None, geometry: Geometry, contact: float
) -> FilmResponse:
    """Return film thickness in nm to the change of absorbance on the grid."""
    nu = material.wavenumbers
    below = on_grid(bed, nu)[0] if bed is not None else np.full(nu.shape, 1.5 + 0j)
    return FilmResponse(FilmTable(grid, nu, material.index, below, material.n_inf, geometry, contact))


def strength_error(optics: Expected, bed: Material | None) -> float:
    """Return the relative error of the signal per nm that contact and index leave, one standard deviation.

    The neat spectrum's part comes with the optics; the sample's own contact, an even prior, is added.
    """
    low, high = bed.contact if bed is not None else (1.0, 1.0)
    return float(np.hypot(optics.strength_error, 2.0 * (high - low) / (high + low) / np.sqrt(12.0)))
