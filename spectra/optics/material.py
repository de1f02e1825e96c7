"""A material as optics sees it: n + ik over wavenumber, and what is not known about them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from spectra.errors import SpectraError
from spectra.optics.fresnel import ComplexArray
from spectra.optics.geometry import Geometry
from spectra.optics.kramers_kronig import is_even
from spectra.optics.newton import Convergence
from spectra.spectrum import Frozen
from spectra.units import FloatArray

BoolArray = np.ndarray[Any, np.dtype[np.bool_]]


@dataclass(frozen=True)
class Unsolved:
    """Why optics has no answer: a finding, not an error.

    Attributes
    ----------
    code
        ``no-model``, ``unknown-geometry``, ``no-total-reflection``, ``too-strong``, ``not-converged``.
    message
        One or two sentences with the numbers, and what to do.
    """

    code: str
    message: str


@dataclass(frozen=True, eq=False)
class Crossed(Frozen):
    """Solutions with contact and n_inf moved together: what one does to k depends on the other.

    Attributes
    ----------
    contacts : ndarray, shape (c,)
        Places in the range of contact that is left at each n_inf, -1 to 1; one where contact is known.
    indices : ndarray, shape (m,)
        Places of n_inf, in half-widths of its prior.
    rows : ndarray, shape (c, m, n), complex
        n + ik.
    raised : bool
        The low end of contact is not the one asked for: less could not give so strong a spectrum.
    """

    contacts: FloatArray
    indices: FloatArray
    rows: ComplexArray
    raised: bool = False


@dataclass(frozen=True, eq=False)
class Material(Frozen):
    """Optical constants of a material, with what is not known about them.

    Attributes
    ----------
    wavenumbers : ndarray, shape (n,), cm-1
    index : ndarray, shape (n,), complex
        n + ik at the middle of all priors.
    variants : ndarray, shape (v, n), complex
        The same, one unknown moved at a time.
    moved : tuple of str, length v
        Which unknown: ``contact``, ``n_inf``, ``pull`` or ``thickness``.
    moves : tuple of float, length v
        Where to, as a share of the half-width of its prior: -1 is the low end, +1 the high.
    k_noise : ndarray, shape (n,)
        Standard deviation of k from the noise of the spectrum.
    n_inf
        Middle of its prior.
    contact : tuple of float
        Range of contact left: as given, its low end raised where so little contact could not give so
        strong a spectrum. (1, 1) for transmission.
    source
        ``ATR``, ``transmission`` or ``constants``.
    geometry
        Of the measurement.
    absorbance : ndarray, shape (n,)
        The spectrum that was inverted, gaps bridged.
    convergence
        Of the middle solution.
    crossed
        Contact and n_inf moved together; None where that was not asked for, or there is nothing to cross.
    """

    wavenumbers: FloatArray
    index: ComplexArray
    variants: ComplexArray
    moved: tuple[str, ...]
    moves: tuple[float, ...]
    k_noise: FloatArray
    n_inf: float
    contact: tuple[float, float]
    source: str
    geometry: Geometry
    absorbance: FloatArray
    convergence: Convergence
    crossed: Crossed | None = None

    def __post_init__(self) -> None:
        for name in ("wavenumbers", "index", "variants", "k_noise", "absorbance"):
            array = np.array(getattr(self, name))
            array.flags.writeable = False
            object.__setattr__(self, name, array)

    @property
    def k(self) -> FloatArray:
        """Absorption index at the middle of all priors."""
        return np.asarray(self.index.imag)


def known_material(wavenumbers: ArrayLike, index: ArrayLike, n_inf: float = 1.5) -> Material:
    """Return a material whose constants are known, e.g. from a publication.

    Parameters
    ----------
    wavenumbers : array_like, shape (n,), cm-1
    index : array_like, shape (n,) or a number, complex
        n + ik.

    Examples
    --------
    >>> known_material([1000.0, 1001.0], 1.5 + 0.1j).k
    array([0.1, 0.1])
    """
    grid = np.asarray(wavenumbers, dtype=np.float64)
    values = np.asarray(index, dtype=np.complex128) + np.zeros(grid.shape)
    return Material(
        grid,
        values,
        np.zeros((0, grid.size), dtype=np.complex128),
        (),
        (),
        np.zeros(grid.shape),
        n_inf,
        (1.0, 1.0),
        "constants",
        Geometry("constants"),
        np.zeros(grid.shape),
        Convergence(0, 0, 0.0, True),
    )


def bridged(
    wavenumbers: ArrayLike, absorbance: ArrayLike, usable: BoolArray | None = None
) -> tuple[FloatArray, FloatArray]:
    """Return the spectrum on an even grid of the same range, with straight lines across gaps.

    Raises
    ------
    SpectraError
        If lengths differ, wavenumbers do not increase, or fewer than eight points are left.

    Examples
    --------
    >>> grid, values = bridged(np.arange(400.0, 420.0, 2.0), [0, 1, 2, np.nan, 4, 5, 6, 7, 8, 9])
    >>> float(values[3])
    3.0
    """
    nu, values = np.asarray(wavenumbers, dtype=np.float64), np.asarray(absorbance, dtype=np.float64)
    if nu.ndim != 1 or nu.shape != values.shape or not np.all(np.diff(nu) > 0):
        raise SpectraError(
            f"found {nu.shape} wavenumbers and {values.shape} ordinates; expected increasing pairs"
        )
    good = np.isfinite(values) if usable is None else np.isfinite(values) & usable
    if good.sum() < 8:
        raise SpectraError(f"only {good.sum()} usable points; expected 8 or more to invert a spectrum")
    grid = nu if is_even(nu) else np.linspace(nu[0], nu[-1], nu.size)
    return grid, np.asarray(np.interp(grid, nu[good], values[good]))
