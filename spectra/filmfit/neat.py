"""The response of a coating of which only the neat spectrum is known: that spectrum, scaled."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectra.filmfit.response import Linear
from spectra.optics.fresnel import ComplexArray
from spectra.spectrum import Frozen
from spectra.units import FloatArray

AMOUNTS = (0.01, 1.0)
LEAST_AMOUNT, MOST_AMOUNT = 1e-5, 30.0


@dataclass(frozen=True, eq=False)
class NeatResponse(Frozen):
    """The neat spectrum itself, scaled.

    Attributes
    ----------
    points : ndarray, shape (r,), cm-1
    neat : ndarray, shape (r,), absorbance
    by_depth : bool
        Whether neat and film may differ by the light's depth (ATR of unknown geometry).
    """

    points: FloatArray
    neat: FloatArray
    by_depth: bool

    @property
    def unknowns(self) -> tuple[str, ...]:
        """The share of the depth, where it matters."""
        return ("depth",) if self.by_depth else ()

    @property
    def room(self) -> FloatArray:
        """One."""
        return np.ones(len(self.unknowns))

    @property
    def knots(self) -> tuple[float, ...]:
        """Amounts where a search starts."""
        return AMOUNTS

    @property
    def bounds(self) -> tuple[float, float]:
        """Least and greatest amount."""
        return LEAST_AMOUNT, MOST_AMOUNT

    def function(self, z: FloatArray) -> ComplexArray:  # noqa: ARG002 (the face of every response)
        """Return the neat absorbance."""
        return np.asarray(self.neat.astype(np.complex128))

    def function_slopes(self, z: FloatArray) -> ComplexArray:
        """Return zeros: nothing changes the neat absorbance."""
        return np.zeros((z.size, self.points.size), dtype=np.complex128)

    def change(self, amount: float, z: FloatArray, extra: ComplexArray) -> FloatArray:
        """Coated minus bare."""
        return np.asarray(amount * self._depth(z) * (self.neat + extra.real))

    def own(self, amount: float, z: FloatArray, extra: ComplexArray) -> FloatArray:
        """Coated minus bare: a scaled spectrum weakens nothing."""
        return self.change(amount, z, extra)

    def linear(
        self,
        amount: float,
        z: FloatArray,
        extra: ComplexArray,
        rates: ComplexArray,  # noqa: ARG002 (the face of every response)
    ) -> Linear:
        """Coated minus bare, and its slopes."""
        change, depth = self.change(amount, z, extra), self._depth(z)
        rows = [change * 0.5 * np.log(self.points / self._middle)] if self.by_depth else []
        slopes = np.reshape(rows, (len(rows), self.points.size))
        return Linear(change, change, slopes, np.asarray((amount * depth).astype(np.complex128)))

    @property
    def _middle(self) -> float:
        return float(np.sqrt(self.points[0] * self.points[-1]))

    def _depth(self, z: FloatArray) -> FloatArray:
        """(nu / middle)^share, the share between 0 (-1) and 1 (+1)."""
        if not self.by_depth:
            return np.ones_like(self.points)
        return np.asarray((self.points / self._middle) ** (0.5 * (1.0 + float(z[0]))))
