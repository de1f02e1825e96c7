"""From the columns of a file to a spectrum: order, gaps and what was doubtful about them.

Every reader ends in a :class:`Trace`, the pair of columns as the file has them. :func:`axed` brings its
abscissa to wavenumbers, :func:`conclude` turns it into a :class:`~spectra.spectrum.Spectrum` once the unit
of its ordinate is settled; nowhere else are units converted or points left out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from spectra.errors import FormatError
from spectra.reading.axis_order import in_order
from spectra.reading.ordinate_values import (
    USUAL,
    as_absorbance,
    ordinate_faults,
    require_possible,
    without_marks,
)
from spectra.reading.source import Source
from spectra.reading.units.abscissa import settle_x_unit
from spectra.reading.units.curve import Curve, Ordinate
from spectra.spectrum import Fault, Origin, Spectrum, sealed
from spectra.units import FloatArray, to_wavenumbers

_PIECE = 1 << 16  # points turned at once

FEWEST_POINTS = 10  # fewer cannot hold one band with its baseline


def _point(index: int) -> str:
    return f"point {index + 1}"


@dataclass(frozen=True, eq=False)
class Trace:
    """Two columns of a file, not yet converted.

    Attributes
    ----------
    x, y : ndarray, shape (n,)
        In the order and units of the file; NaN for an empty cell.
    x_unit, y_unit
        As stated by a heading or label, see ``units.words``; None if not stated.
    part, title, header, assumed, repairs, faults
        For :class:`~spectra.spectrum.Origin`.
    place
        Says where in the file point ``i`` stands.
    x_above, y_above
        Units that lines around the table state.
    y_hint
        What the letters of the heading may stand for.
    y_foreign
        What the heading calls the ordinate, if it is no unit of an infrared spectrum.
    """

    x: FloatArray
    y: FloatArray
    x_unit: str | None = None
    y_unit: str | None = None
    part: str = ""
    title: str = ""
    header: tuple[tuple[str, str], ...] = ()
    assumed: tuple[str, ...] = ()
    repairs: tuple[str, ...] = ()
    faults: tuple[Fault, ...] = ()
    place: Callable[[int], str] = field(default=_point)
    x_above: str | None = None
    y_above: str | None = None
    y_hint: str | None = None
    y_foreign: str | None = None


def turned(trace: Trace) -> Trace:
    """Return a trace whose abscissa rises from first to last; its arrays, which it owns, turn in place.

    A second pair of arrays of a long difference table takes more room than its file.
    """
    if not trace.x[0] > trace.x[-1]:
        return trace
    for values in (trace.x, trace.y):
        for start in range(0, values.size // 2, _PIECE):
            stop = min(start + _PIECE, values.size // 2)
            front, back = slice(start, stop), slice(values.size - stop, values.size - start)
            values[front], values[back] = values[back][::-1].copy(), values[front][::-1].copy()
    place, last = trace.place, trace.x.size - 1
    return replace(trace, place=lambda point: place(last - point))


@dataclass(frozen=True, eq=False)
class Axed:
    """A trace whose abscissa is understood.

    Attributes
    ----------
    trace : Trace
    where
        File and part, for messages.
    wavenumbers : ndarray, shape (n,), cm-1
        In the order of the file.
    values : ndarray, shape (n,)
        Ordinates, NaN in place of numbers that stand for a missing one.
    x_unit
        Member of ``units.X_UNITS``.
    mark
        The number that stands for a missing ordinate, if there is one.
    said, repairs, faults
        What was assumed, mended and doubtful about the abscissa.
    """

    trace: Trace
    where: str
    wavenumbers: FloatArray
    values: FloatArray
    x_unit: str
    mark: float | None = None
    said: tuple[str, ...] = ()
    repairs: tuple[str, ...] = ()
    faults: tuple[Fault, ...] = ()

    @cached_property
    def curve(self) -> Curve:
        """What the unit of the ordinate is decided from."""
        trace = self.trace
        return Curve(
            self.where,
            self.wavenumbers,
            self.values,
            trace.y_unit,
            trace.y_above,
            trace.y_hint,
            trace.y_foreign,
        )


def axed(trace: Trace, source: Source) -> Axed:
    """Bring the abscissa of a trace to wavenumbers.

    Raises
    ------
    FormatError
        For too few points, an abscissa that is no number, or abscissae that neither rise nor fall.
    AmbiguityError
        If its unit can be understood in two ways.
    """
    where = f"{source.path} [{trace.part}]" if trace.part else source.path
    if trace.x.size < FEWEST_POINTS:
        raise FormatError(
            f"{where}: found {trace.x.size} points; a spectrum needs at least {FEWEST_POINTS}, "
            "export it again"
        )
    bad = ~np.isfinite(trace.x)
    if np.any(bad):
        at = trace.place(int(np.argmax(bad)))
        raise FormatError(f"{where}: {at}: the abscissa is not a number; every point needs one")
    stated, said = trace.x_unit, tuple[str, ...]()
    if stated is None and trace.x_above is not None:
        stated, said = trace.x_above, (f"abscissa taken as {trace.x_above}, which is named above the table",)
    unit, assumed = settle_x_unit(trace.x, stated, where, source.stated.abscissa)
    x, repairs, faults = in_order(trace.x, trace.place, where)
    try:
        wavenumbers = to_wavenumbers(x, unit)
    except FormatError as error:
        raise FormatError(f"{where}: {error}") from None
    values, mark = without_marks(trace.y)
    return Axed(trace, where, wavenumbers, values, unit, mark, said + assumed, repairs, faults)


def conclude(found: Axed, ordinate: Ordinate, source: Source, reader: str) -> Spectrum:
    """Convert a trace to increasing wavenumbers and absorbance.

    Parameters
    ----------
    found : Axed
    ordinate : Ordinate
        The settled unit of its ordinate.
    source : Source
    reader
        Name of the reader, for the record.

    Returns
    -------
    Spectrum

    Raises
    ------
    FormatError
        For single ordinates that cannot be of the unit.
    """
    trace, wavenumbers = found.trace, found.wavenumbers
    y = found.values
    if max(abs(end) for end in found.curve.span or (0.0,)) > USUAL:
        require_possible(y, ordinate.unit, trace.place, found.where)
    absorbance, recorded, converted = as_absorbance(y, ordinate.unit)
    faults = (*found.faults, *ordinate.faults, *ordinate_faults(y, wavenumbers, recorded, found.mark))
    if wavenumbers[0] > wavenumbers[-1]:
        wavenumbers, absorbance = wavenumbers[::-1], absorbance[::-1]
    origin = Origin(
        path=source.path,
        part=trace.part,
        title=trace.title or source.stem,
        sha256=source.sha256,
        reader=reader,
        x_unit=found.x_unit,
        y_unit=recorded,
        assumed=trace.assumed + found.said + ordinate.said + converted,
        repairs=trace.repairs + found.repairs,
        faults=trace.faults + faults,
        header=trace.header,
    )
    return Spectrum(sealed(wavenumbers), sealed(absorbance), origin)
