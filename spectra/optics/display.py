"""Two corrections for display, each with what it undoes and what it leaves.

The simple one scales by the depth of penetration; the full one is the absorption index from the inversion.
Neither is used for a verdict: verdicts compare with the expected spectrum instead, which needs no correction
of what was measured.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from spectra.errors import SettingError
from spectra.optics.depth import effective_thickness
from spectra.optics.geometry import Geometry, crystal_index
from spectra.optics.material import Material
from spectra.spectrum import Frozen
from spectra.units import FloatArray


@dataclass(frozen=True, eq=False)
class Corrected(Frozen):
    """A spectrum corrected for display.

    Attributes
    ----------
    wavenumbers, values : ndarray, shape (n,)
    quantity
        What ``values`` are.
    undone, left
        What the correction undoes and what it leaves as measured, in words for a legend.
    """

    wavenumbers: FloatArray
    values: FloatArray
    quantity: str
    undone: tuple[str, ...]
    left: tuple[str, ...]


def scale_depth(
    wavenumbers: ArrayLike,
    absorbance: ArrayLike,
    geometry: Geometry,
    n2: float = 1.5,
    reference: float = 1000.0,
) -> Corrected:
    """Scale an ATR spectrum to constant effective thickness.

    Parameters
    ----------
    wavenumbers, absorbance : array_like, shape (n,)
    n2
        Index of the sample; the whole spectrum shares it.
    reference
        Wavenumber at which the scale is one, cm-1.

    Raises
    ------
    SettingError
        If crystal or angle are missing, or below the critical angle.

    Examples
    --------
    >>> geometry = Geometry(index=2.4, angle_deg=45.0)
    >>> scale_depth([1000.0, 2000.0], [0.1, 0.1], geometry).values
    array([0.1, 0.2])
    """
    if geometry.angle_deg is None:
        raise SettingError("the angle of incidence is unknown; give it in degrees")
    nu = np.asarray(wavenumbers, dtype=np.float64)
    at = np.append(nu, reference)
    depth = effective_thickness(at, crystal_index(geometry, at), geometry.angle_deg, n2, geometry.s_share)
    values = np.asarray(absorbance, dtype=np.float64) * depth[-1] / depth[:-1]
    return Corrected(nu, values, "depth-scaled absorbance", ("depth growing with wavelength",), LEFT_BY_DEPTH)


def as_absorption_index(material: Material) -> Corrected:
    """Return the absorption index k of an inverted spectrum.

    Examples
    --------
    >>> from spectra.optics.material import known_material
    >>> as_absorption_index(known_material([1000.0, 1001.0], 1.5 + 0.1j)).values
    array([0.1, 0.1])
    """
    return Corrected(
        material.wavenumbers, material.k, "absorption index k", UNDONE_BY_INVERSION, LEFT_BY_INVERSION
    )


LEFT_BY_DEPTH = ("shift and broadening of strong bands", "saturation of strong bands", "contact", "baseline")

UNDONE_BY_INVERSION = (
    "depth growing with wavelength",
    "shift and broadening of strong bands",
    "saturation of strong bands",
    "contact, as far as it is known",
)

LEFT_BY_INVERSION = ("baseline", "orientation", "instrument resolution", "error of the index assumed")
