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
from spectra.reading.source import Source
from spectra.reading.units.abscissa import settle_x_unit
from spectra.reading.units.curve import Curve, Ordinate
from spectra.reading.units.words import KUBELKA_MUNK, SCALED_ABSORBANCE
from spectra.spectrum import Fault, Origin, Spectrum, sealed
from spectra.units import FloatArray, to_absorbance, to_wavenumbers

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
    if max(abs(end) for end in found.curve.span or (0.0,)) > _USUAL:
        require_possible(y, ordinate.unit, trace.place, found.where)
    absorbance, recorded, converted = _absorbance(y, ordinate.unit)
    faults = (*found.faults, *ordinate.faults, *_ordinate_faults(y, wavenumbers, recorded, found.mark))
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


# Ordinates up to here need no second look: the least that is impossible for a unit, see below.
_USUAL = 20.0

# Numbers that programs write where there is none (common practice, no source), far from any ordinate.
_MARKS = (-999.0, -999.9, -9999.0, -99999.0, 9999.0, 99999.0, -32768.0, 1e30, -1e30, 1e31, 9.9e37)


def without_marks(y: FloatArray) -> tuple[FloatArray, float | None]:
    """Take numbers that stand for a missing value out, where they are no possible ordinate.

    Returns
    -------
    y : ndarray, shape (n,)
        NaN in place of them; the array itself if there are none.
    mark : float or None
        The number that was taken out.
    """
    with np.errstate(invalid="ignore"):
        if not np.any(np.abs(y) > 500.0):
            return y, None
    for mark in _MARKS:
        there = y == mark
        if np.any(there) and np.mean(there) < 0.5:
            return np.where(there, np.nan, y), mark
    return y, None


# Beyond it a single ordinate has lost its decimal mark: common practice, no source.
_IMPOSSIBLE = {"absorbance": 50.0, "transmittance": 20.0, "reflectance": 20.0}


def require_possible(y: FloatArray, unit: str, place: Callable[[int], str], where: str) -> None:
    """Refuse single ordinates so large that their decimal mark must have been lost.

    Raises
    ------
    FormatError
        Naming the first of them.
    """
    percent = unit.startswith("percent ")
    limit = _IMPOSSIBLE.get(unit.removeprefix("percent "), np.inf) * (100.0 if percent else 1.0)
    with np.errstate(invalid="ignore"):
        beyond = np.abs(y) > limit / (2.0 if percent else 1.0)
    few = 0.05 if unit == "absorbance" else 0.5
    if 0 < np.count_nonzero(beyond) < few * y.size:
        at = int(np.argmax(beyond))
        raise FormatError(
            f"{where}: {place(at)}: {y[at]:.10g} cannot be {unit} ({int(beyond.sum())} of {y.size} "
            "ordinates); was a decimal mark lost? Export again"
        )


def _absorbance(y: FloatArray, unit: str) -> tuple[FloatArray, str, tuple[str, ...]]:
    """Convert the ordinate; Kubelka-Munk values go through the reflectance they stand for."""
    finite = y if np.isfinite(y).all() else np.where(np.isfinite(y), y, np.nan)
    if unit in SCALED_ABSORBANCE:
        return finite * SCALED_ABSORBANCE[unit], "absorbance", ()
    if unit != KUBELKA_MUNK:
        return to_absorbance(finite, unit), unit, ()
    # f = (1 - R)^2 / (2 R), solved for R <= 1 (Kubelka and Munk 1931; textbook form)
    remission = np.where(finite >= 0, finite, np.nan)
    reflectance = 1.0 + remission - np.sqrt(remission**2 + 2.0 * remission)
    said = "Kubelka-Munk units turned back into reflectance R; absorbance is -log10 R"
    return to_absorbance(reflectance, "reflectance"), "reflectance", (said,)


def _ordinate_faults(
    y: FloatArray, wavenumbers: FloatArray, unit: str, mark: float | None
) -> tuple[Fault, ...]:
    """Points of the file that hold no absorbance."""
    found = []
    missing = ~np.isfinite(y)
    if np.any(missing):
        found.append(
            Fault(
                "missing-ordinates",
                "warning",
                _span(wavenumbers, missing),
                f"{int(missing.sum())} of {y.size} ordinates are missing"
                + (f", written as {mark:g}" if mark is not None else ""),
                "Export the full range, or leave the gap out of the evaluation.",
            )
        )
    dark = np.zeros(y.shape, bool) if unit == "absorbance" else np.isfinite(y) & (y <= 0)
    if np.any(dark):
        found.append(
            Fault(
                "transmittance-not-positive",
                "warning",
                _span(wavenumbers, dark),
                f"{int(dark.sum())} of {y.size} ratios are zero or negative; no absorbance belongs to them",
                "Measure a thinner sample, or leave the range out: the detector saw no light there.",
            )
        )
    return tuple(found)


def _span(wavenumbers: FloatArray, where: np.ndarray) -> str:
    """Wavenumber range of the marked points."""
    marked = wavenumbers[where]
    low, high = float(marked.min()), float(marked.max())
    return f"{low:.1f} cm-1" if low == high else f"{low:.1f} to {high:.1f} cm-1"
