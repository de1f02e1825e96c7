"""Where the unknowns of one sample stand: amount, optics, and every band with its flags."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from spectra.optics.material import BoolArray
from spectra.spectrum import Frozen
from spectra.units import FloatArray


@dataclass(frozen=True, eq=False)
class State(Frozen):
    """Where the unknowns stand.

    Attributes
    ----------
    log_amount : float
    z : ndarray, shape (u,)
        Optical unknowns, -1 to 1.
    shift, height, widening : ndarray, shape (b,)
        Of each band: cm-1, relative, and logarithm of the relative width.
    moved, resized : ndarray of bool, shape (b,)
        Flags.
    """

    log_amount: float
    z: FloatArray
    shift: FloatArray
    height: FloatArray
    widening: FloatArray
    moved: BoolArray
    resized: BoolArray

    @property
    def vector(self) -> FloatArray:
        """All numbers in a row."""
        return np.concatenate([[self.log_amount], self.z, self.shift, self.height, self.widening])

    def at(self, vector: FloatArray) -> State:
        """Return the same flags at other numbers."""
        u, b = self.z.size, self.shift.size
        parts = np.split(vector[1:], [u, u + b, u + 2 * b, u + 3 * b])
        return replace(
            self, log_amount=float(vector[0]), z=parts[0], shift=parts[1], height=parts[2], widening=parts[3]
        )


def unchanged(state: State) -> State:
    """Return the same amount and optics with every band at its place."""
    b = state.shift.size
    none = np.zeros(b, dtype=bool)
    return replace(
        state, shift=np.zeros(b), height=np.ones(b), widening=np.zeros(b), moved=none, resized=none
    )
