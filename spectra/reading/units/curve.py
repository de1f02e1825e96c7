"""One curve of a set, the unit it is given, and the words that messages share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from spectra.errors import FormatError
from spectra.reading.numbers import finite_values
from spectra.spectrum import Fault
from spectra.units import FloatArray


@dataclass(frozen=True, eq=False)
class Curve:
    """One curve of a set, with what is said about its ordinate.

    Attributes
    ----------
    where
        File and part, for messages.
    wavenumbers : ndarray, shape (n,), cm-1
    values : ndarray, shape (n,)
        As in the file.
    stated
        Unit by its heading or label, see :func:`~spectra.reading.units.words.named_y_unit`.
    above
        Unit by the lines around the table.
    hint
        What the letters of its heading may stand for.
    foreign
        What the heading calls it, if that is no unit of an infrared spectrum.
    """

    where: str
    wavenumbers: FloatArray
    values: FloatArray
    stated: str | None = None
    above: str | None = None
    hint: str | None = None
    foreign: str | None = None

    @cached_property
    def span(self) -> tuple[float, float] | None:
        """Lowest and highest ordinate that is a number; None if none is."""
        finite = finite_values(self.values)
        return (float(finite.min()), float(finite.max())) if finite.size else None


@dataclass(frozen=True)
class Ordinate:
    """The unit of one curve, what was assumed about it, and what is doubtful."""

    unit: str
    said: tuple[str, ...] = ()
    faults: tuple[Fault, ...] = ()


def state_it(*readings: str) -> str:
    """Return the lines of a study, and the option, that state a unit."""
    lines = " or ".join(f'ordinate = "{reading}"' for reading in readings or ("absorbance", "transmittance"))
    return f"state it: {lines} under [files] of the study, or --ordinate on the command line"


def reading_of(curve: Curve, unit: str) -> str:
    """Return the absorbances that a reading gives."""
    low, high = span_of([curve])
    if unit == "absorbance":
        return f"{low:.3g} to {high:.3g}"
    scale = 100.0 if unit.startswith("percent") else 1.0
    return f"{_as_absorbance(high, scale)} to {_as_absorbance(low, scale)}"


def _as_absorbance(value: float, scale: float) -> str:
    return f"{-np.log10(value / scale):.2f}" if value > 0 else "undefined"


def range_of(curve: Curve) -> str:
    """Return the range of a curve's ordinates, in words."""
    low, high = span_of([curve])
    return f"ordinates from {low:.3g} to {high:.3g}"


def span_of(curves: Sequence[Curve]) -> tuple[float, float]:
    """Return the lowest and highest value of all curves."""
    spans = [curve.span for curve in curves if curve.span is not None]
    return min(low for low, _ in spans), max(high for _, high in spans)


def high_of(curve: Curve) -> float:
    """Return the highest value but for spikes."""
    ordered = np.sort(finite_values(curve.values))
    return float(ordered[round(0.98 * (ordered.size - 1))])


def require_number(curve: Curve) -> None:
    """Require one ordinate that is a number.

    Raises
    ------
    FormatError
        If there is none.
    """
    if curve.span is None:
        raise FormatError(f"{curve.where}: not one ordinate is a number; export the spectrum again")
