"""How a film changes a spectrum: by thickness, how surely, and how it weakens the substrate."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
from scipy.interpolate import CubicSpline

from spectra.optics.depth import penetration_depth
from spectra.optics.expected import Expected
from spectra.optics.film import film_spectra, on_grid
from spectra.optics.geometry import Geometry, crystal_index
from spectra.optics.material import Material
from spectra.units import FloatArray

Curve = Callable[[float], FloatArray]

RESPONSE_NM = (0.3, 20000.0)  # below one monolayer to far beyond the depth of the light


def film_changes(
    grid: FloatArray, material: Material, bed: Material | None, geometry: Geometry, contact: float
) -> tuple[Curve, Curve]:
    """Return film thickness in nm to the change of absorbance on the grid: whole, and the film's own."""
    nu = material.wavenumbers
    below = on_grid(bed, nu)[0] if bed is not None else np.full(nu.shape, 1.5 + 0j)
    # The change per nm is smooth in the logarithm of the thickness: 48 exact spectra and a cubic between
    # them agree with the stack computed anew to 3e-5 of the change.
    knots = np.geomspace(*RESPONSE_NM, 48)

    @cache
    def table() -> CubicSpline[np.float64]:
        exact = film_spectra(
            nu, material.index, below, np.append(0.0, knots), geometry, contact, material.n_inf
        )
        both = np.stack([exact.coated[1:] - exact.coated[0], exact.film[1:]], axis=1) / knots[:, None, None]
        on_common = np.array([[np.interp(grid, nu, row) for row in pair] for pair in both])
        return CubicSpline(np.log(knots), on_common, axis=0)

    def at(nm: float, part: int) -> FloatArray:
        return np.asarray(nm * table()(np.log(np.clip(nm, *RESPONSE_NM)))[part])

    return (lambda nm: at(nm, 0)), (lambda nm: at(nm, 1))


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
