"""What is looked for: the expected spectrum of a coating, coated minus bare."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from spectra.errors import SpectraError
from spectra.spectrum import Frozen, read_only
from spectra.units import FloatArray


@dataclass(frozen=True, eq=False)
class Shape(Frozen):
    """Expected spectrum of a coating on this substrate, coated minus bare.

    Attributes
    ----------
    curve : ndarray, shape (n,), absorbance per unit amount
        On the common grid: of a thin film where optics are known, else the neat spectrum.
    nm_per_amount : float or None
        Thickness of one unit of amount; None where the geometry is unknown.
    response : callable or None
        Film thickness in nm to the change of absorbance, shape (n,), by the full stack: for films too
        thick to be linear.
    contact_error : float
        Relative standard error of the signal per nm because the contact of sample and crystal is not
        known exactly.
    tolerance : float
        Relative amount by which a single band may differ from the shape though nothing is wrong: small for
        a film computed by optics, large for a neat spectrum taken as it is.
    """

    curve: FloatArray
    nm_per_amount: float | None = None
    response: Callable[[float], FloatArray] | None = None
    contact_error: float = 0.0
    tolerance: float = 0.2

    def __post_init__(self) -> None:
        curve = read_only(self.curve)
        if curve.ndim != 1 or not np.any(np.isfinite(curve)):
            raise SpectraError(f"a coating's shape has {curve.shape} values; expected one row of numbers")
        object.__setattr__(self, "curve", curve)
