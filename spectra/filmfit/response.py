"""What a coating does to the spectrum of a bare sample, as a function of how much there is.

Two kinds with one face. :class:`StackResponse` computes crystal | film | substrate exactly; its unknowns are
those of the two inversions (contact, index, what lies outside the range) and move all bands together.
``NeatResponse`` of :mod:`spectra.filmfit.neat` scales the neat spectrum itself, where no geometry is known;
its one unknown says how far the light's depth, which grows with wavelength, went into the neat spectrum and
not into the thin film's.

The film is given by ``extra``: what its bands add to the dielectric function (or to the neat absorbance) by
standing elsewhere or by being stronger. A change of the film changes absorbance by Re(g d eps): the reflected
amplitude is analytic in eps, so that two differences give both parts of g.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from spectra.filmfit.moves import CrossedMoves, Moves
from spectra.optics.crossing import CROSSED_REACH
from spectra.optics.film import film_absorbance
from spectra.optics.fresnel import ComplexArray
from spectra.optics.geometry import Geometry
from spectra.spectrum import Frozen
from spectra.units import FloatArray

TINY = 1e-4  # step of the numerical slopes in eps, contact and the logarithm of the amount
THICKNESSES_NM = (4.0, 15.0, 40.0, 90.0, 180.0, 360.0, 800.0)  # where the search starts
# The index above all vibrations of an unnamed organic material, 1.40 to 1.60; a named one's error is as often
# too small, since the inversion's range of bands ends somewhere.
UNKNOWN_INDEX = CROSSED_REACH
LEAST, MOST = 0.05, 5000.0  # nm; below one molecule to beyond the depth of the light


@dataclass(frozen=True, eq=False)
class Linear(Frozen):
    """A response at one place, and its slopes.

    Attributes
    ----------
    change : ndarray, shape (r,), absorbance
        Coated minus bare.
    log_slope : ndarray, shape (r,)
        With the logarithm of the amount.
    slopes : ndarray, shape (u, r)
        With each unknown, from -1 to 1 over its prior.
    gain : ndarray, shape (r,), complex
        g: a change of the film's function by d changes absorbance by Re(g d).
    """

    change: FloatArray
    log_slope: FloatArray
    slopes: FloatArray
    gain: ComplexArray


class Response(Protocol):
    """What the inference needs of a coating."""

    @property
    def unknowns(self) -> tuple[str, ...]:
        """Names of what moves all bands together."""

    @property
    def room(self) -> FloatArray:
        """Half-width of each unknown's even prior, in units of the inversion's, shape (u,)."""

    @property
    def knots(self) -> tuple[float, ...]:
        """Amounts where a search starts."""

    @property
    def bounds(self) -> tuple[float, float]:
        """Least and greatest amount."""

    def change(self, amount: float, z: FloatArray, extra: ComplexArray) -> FloatArray:
        """Return coated minus bare."""

    def linear(self, amount: float, z: FloatArray, extra: ComplexArray, rates: ComplexArray) -> Linear:
        """Return the same with its slopes; ``rates``: how ``extra`` changes with each unknown, (u, r)."""

    def function(self, z: FloatArray) -> ComplexArray:
        """Return the film's function without ``extra``: eps, or the neat absorbance."""

    def function_slopes(self, z: FloatArray) -> ComplexArray:
        """Return its slope with each unknown, shape (u, r)."""

    def own(self, amount: float, z: FloatArray, extra: ComplexArray) -> FloatArray:
        """Return the coating's own part of the change: its bands without the substrate's weakening."""


@dataclass(frozen=True, eq=False)
class StackResponse(Frozen):
    """Crystal (or air), film, substrate, computed exactly.

    Attributes
    ----------
    points : ndarray, shape (r,), cm-1
    geometry : Geometry
        Of the sample.
    film, bed : ndarray, shape (r,), complex
        Index of coating and substrate at the middle of all priors.
    film_moves, bed_moves : Moves
    contact : tuple of float
        Range of the sample's contact; moves with the substrate's contact.
    """

    points: FloatArray
    geometry: Geometry
    film: ComplexArray
    film_moves: Moves | CrossedMoves
    bed: ComplexArray
    bed_moves: Moves
    contact: tuple[float, float]

    @property
    def unknowns(self) -> tuple[str, ...]:
        """Those of the coating, then those of the substrate."""
        own = tuple(f"coating {name}" for name in self.film_moves.names)
        return own + tuple(f"substrate {name}" for name in self.bed_moves.names)

    @property
    def room(self) -> FloatArray:
        """One, but for an index that nobody stated."""
        return np.array([UNKNOWN_INDEX if name.endswith("n_inf") else 1.0 for name in self.unknowns])

    @property
    def knots(self) -> tuple[float, ...]:
        """Thicknesses where a search starts, nm."""
        return THICKNESSES_NM

    @property
    def bounds(self) -> tuple[float, float]:
        """Least and greatest thickness, nm."""
        return LEAST, MOST

    def function(self, z: FloatArray) -> ComplexArray:
        """Return the dielectric function of the coating."""
        return np.asarray((self.film + self.film_moves.shift(z[: len(self.film_moves.names)])) ** 2)

    def function_slopes(self, z: FloatArray) -> ComplexArray:
        """Return the slope of the dielectric function with each unknown, shape (u, r)."""
        own = z[: len(self.film_moves.names)]
        index = self.film + self.film_moves.shift(own)
        slopes = np.zeros((z.size, self.points.size), dtype=np.complex128)
        for i in range(own.size):
            slopes[i] = 2.0 * index * self.film_moves.slope(i, own)
        return slopes

    def change(self, amount: float, z: FloatArray, extra: ComplexArray) -> FloatArray:
        """Coated minus bare at a thickness in nm."""
        bed, phi = self._below(z)
        return self._coated(self.function(z) + extra, bed, amount, phi) - self._bare(bed, phi)

    def own(self, amount: float, z: FloatArray, extra: ComplexArray) -> FloatArray:
        """Coated minus the same with the film's absorption switched off."""
        bed, phi = self._below(z)
        eps = self.function(z) + extra
        inert = np.full(eps.shape, complex(np.mean(eps.real)))
        return self._coated(eps, bed, amount, phi) - self._coated(inert, bed, amount, phi)

    def linear(self, amount: float, z: FloatArray, extra: ComplexArray, rates: ComplexArray) -> Linear:
        """Coated minus bare, and its slopes by the chain rule."""
        eps, (bed, phi) = self.function(z) + extra, self._below(z)
        coated, bare = self._coated(eps, bed, amount, phi), self._bare(bed, phi)
        change = coated - bare
        log_slope = (self._coated(eps, bed, amount * (1.0 + TINY), phi) - coated) / TINY
        gain = _complex_slope(lambda step: self._coated(eps + step, bed, amount, phi), coated)
        below = _complex_slope(lambda step: self._change_by_bed(eps, bed, amount, phi, step), change)
        own = len(self.film_moves.names)
        moved = self.function_slopes(z)
        rows = [(gain * (moved[i] + rates[i])).real for i in range(own)]
        for i, name in enumerate(self.bed_moves.names):
            row = (below * 2.0 * bed * self.bed_moves.slope(i, z[own:])).real
            if name == "contact":
                row = row + self._contact_slope(eps, bed, amount, phi, change)
            rows.append(row)
        return Linear(change, log_slope, np.reshape(rows, (len(rows), self.points.size)), gain)

    def _below(self, z: FloatArray) -> tuple[ComplexArray, float]:
        """Substrate's index and the sample's contact."""
        places = z[len(self.film_moves.names) :]
        low, high = self.contact
        contact = 0.0
        if "contact" in self.bed_moves.names:
            contact = float(places[self.bed_moves.names.index("contact")])
        return np.asarray(self.bed + self.bed_moves.shift(places)), 0.5 * (low + high) + 0.5 * contact * (
            high - low
        )

    def _coated(self, eps: ComplexArray, bed: ComplexArray, nm: float, phi: float) -> FloatArray:
        return film_absorbance(self.points, np.sqrt(eps), bed, nm, self.geometry, phi)

    def _bare(self, bed: ComplexArray, phi: float) -> FloatArray:
        return film_absorbance(self.points, None, bed, 0.0, self.geometry, phi)

    def _change_by_bed(
        self, eps: ComplexArray, bed: ComplexArray, nm: float, phi: float, step: complex
    ) -> FloatArray:
        moved = np.sqrt(bed**2 + step)
        return self._coated(eps, moved, nm, phi) - self._bare(moved, phi)

    def _contact_slope(
        self, eps: ComplexArray, bed: ComplexArray, nm: float, phi: float, change: FloatArray
    ) -> FloatArray:
        """Slope with the unknown that moves the sample's contact over its range."""
        low, high = self.contact
        moved = self._coated(eps, bed, nm, phi - TINY) - self._bare(bed, phi - TINY)
        return np.asarray((change - moved) / TINY * 0.5 * (high - low))


def _complex_slope(value: Callable[[complex], FloatArray], base: FloatArray) -> ComplexArray:
    """Complex g with d value = Re(g d): from a real and an imaginary step."""
    return np.asarray((value(TINY) - base) / TINY - 1j * (value(1j * TINY) - base) / TINY)
