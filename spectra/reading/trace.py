"""From the columns of a file to a spectrum: units, order, gaps and what was doubtful about them.

Every reader ends in a :class:`Trace`, the pair of columns as the file has them. :func:`conclude` turns it
into a :class:`~spectra.spectrum.Spectrum`; nowhere else are units converted or points left out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from spectra.errors import FormatError
from spectra.reading.source import Source
from spectra.reading.units.abscissa import settle_x_unit
from spectra.reading.units.ordinate import settle_y_unit
from spectra.reading.units.words import KUBELKA_MUNK
from spectra.spectrum import Fault, Origin, Spectrum
from spectra.units import FloatArray, to_absorbance, to_wavenumbers

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
        As stated by the file, see ``unitwords``; None if not stated.
    x_hint, y_hint
        Units that lines near the table name; they count less.
    part, title, header, assumed, repairs, faults
        For :class:`~spectra.spectrum.Origin`.
    place
        Says where in the file point ``i`` stands.
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
    x_hint: str | None = None
    y_hint: str | None = None


def conclude(trace: Trace, source: Source, reader: str) -> Spectrum:
    """Convert a trace to increasing wavenumbers and absorbance.

    Parameters
    ----------
    trace : Trace
    source : Source
    reader
        Name of the reader, for the record.

    Returns
    -------
    Spectrum

    Raises
    ------
    FormatError
        For too few points, an abscissa that is no number, or abscissae that neither rise nor fall.
    AmbiguityError
        If the units can be understood in two ways.
    """
    where = f"{source.path} [{trace.part}]" if trace.part else source.path
    if trace.x.size < FEWEST_POINTS:
        raise FormatError(
            f"{where}: found {trace.x.size} points; a spectrum needs at least {FEWEST_POINTS}, "
            "export it again"
        )
    _require_finite(trace, where)
    x_unit, x_assumed = settle_x_unit(trace.x, trace.x_unit, where, trace.x_hint)
    y_unit, y_assumed = settle_y_unit(trace.y, trace.y_unit, where, trace.y_hint)
    x, repairs, faults = _in_order(trace, where)
    wavenumbers = _wavenumbers(x, x_unit, where)
    absorbance, recorded, converted = _absorbance(trace.y, y_unit)
    faults += _ordinate_faults(trace.y, wavenumbers, recorded)
    if wavenumbers[0] > wavenumbers[-1]:
        wavenumbers, absorbance = wavenumbers[::-1], absorbance[::-1]
    origin = Origin(
        path=source.path,
        part=trace.part,
        title=trace.title or source.stem,
        sha256=source.sha256,
        reader=reader,
        x_unit=x_unit,
        y_unit=recorded,
        assumed=trace.assumed + x_assumed + y_assumed + converted,
        repairs=trace.repairs + repairs,
        faults=trace.faults + faults,
        header=trace.header,
    )
    return Spectrum(wavenumbers, absorbance, origin)


def _require_finite(trace: Trace, where: str) -> None:
    """Every point needs an abscissa, and one ordinate at least must be a number."""
    bad = ~np.isfinite(trace.x)
    if np.any(bad):
        at = trace.place(int(np.argmax(bad)))
        raise FormatError(f"{where}: {at}: the abscissa is not a number; every point needs one")
    if not np.any(np.isfinite(trace.y)):
        raise FormatError(f"{where}: not one ordinate is a number; export the spectrum again")


def _wavenumbers(x: FloatArray, unit: str, where: str) -> FloatArray:
    """Convert the abscissa, and name the file if it cannot be."""
    try:
        return to_wavenumbers(x, unit)
    except FormatError as error:
        raise FormatError(f"{where}: {error}") from None


def _in_order(trace: Trace, where: str) -> tuple[FloatArray, tuple[str, ...], tuple[Fault, ...]]:
    """Return a strictly monotone abscissa; rebuild one whose values were rounded until they repeat."""
    before, after = trace.x[:-1], trace.x[1:]
    backward = after < before if trace.x[-1] >= trace.x[0] else after > before
    if np.any(backward):
        at = int(np.argmax(backward)) + 1
        raise FormatError(
            f"{where}: {trace.place(at)}: the abscissa turns from {trace.x[at - 1]:.10g} to "
            f"{trace.x[at]:.10g}; "
            "expected steadily rising or falling values, sort the file"
        )
    repeated = after == before
    if not np.any(repeated):
        return trace.x, (), ()
    rebuilt = np.linspace(trace.x[0], trace.x[-1], trace.x.size)
    step = abs(rebuilt[1] - rebuilt[0])
    rounding = _rounding(trace.x)
    at = int(np.argmax(repeated)) + 1
    if step == 0 or step > 2 * rounding or np.max(np.abs(rebuilt - trace.x)) > rounding:
        raise FormatError(
            f"{where}: {trace.place(at)}: the abscissa {trace.x[at]:.10g} is given twice; "
            "expected one ordinate for each"
        )
    fault = Fault(
        "axis-rounded",
        "warning",
        trace.place(at),
        f"{int(repeated.sum())} abscissae repeat: the axis was rounded to steps of {rounding:g}, "
        f"the points are {step:.4g} apart",
        "Export with more decimals on the abscissa.",
    )
    return rebuilt, (f"even axis rebuilt from abscissae rounded to {rounding:g}",), (fault,)


def _rounding(x: FloatArray) -> float:
    """Tell the unit of the last decimal that any value uses, at most the seventh."""
    for decimals in range(8):
        if np.allclose(x, np.round(x, decimals), rtol=0, atol=1e-9 * max(1.0, float(np.abs(x).max()))):
            return float(10.0**-decimals)
    return 1e-7


def _absorbance(y: FloatArray, unit: str) -> tuple[FloatArray, str, tuple[str, ...]]:
    """Convert the ordinate; Kubelka-Munk values go through the reflectance they stand for."""
    finite = y if np.isfinite(y).all() else np.where(np.isfinite(y), y, np.nan)
    if unit != KUBELKA_MUNK:
        return to_absorbance(finite, unit), unit, ()
    # f = (1 - R)^2 / (2 R), solved for R <= 1 (Kubelka and Munk 1931; textbook form)
    remission = np.where(finite >= 0, finite, np.nan)
    reflectance = 1.0 + remission - np.sqrt(remission**2 + 2.0 * remission)
    said = "Kubelka-Munk units turned back into reflectance R; absorbance is -log10 R"
    return to_absorbance(reflectance, "reflectance"), "reflectance", (said,)


def _ordinate_faults(y: FloatArray, wavenumbers: FloatArray, unit: str) -> tuple[Fault, ...]:
    """Points of the file that hold no absorbance."""
    found = []
    missing = ~np.isfinite(y)
    if np.any(missing):
        found.append(
            Fault(
                "missing-ordinates",
                "warning",
                _span(wavenumbers, missing),
                f"{int(missing.sum())} of {y.size} ordinates are missing",
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
