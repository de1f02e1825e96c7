"""What was read from one file, in the report's words, with a small trace and lines to draw."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from spectra.errors import AmbiguityError, CoatproofError, ReadingError
from spectra.page.folder import Stamp
from spectra.quality.checks import check_set, check_spectrum
from spectra.reading import read_alike
from spectra.reading.together import FileRead
from spectra.report.looking import look
from spectra.spectrum import Fault, Frozen, Origin, Spectrum
from spectra.study.survey import Seen, as_seen
from spectra.units import UNSTATED, StatedUnits

Float32Array = NDArray[np.float32]

WIDE, HIGH = 132, 30  # the small trace, in units of its drawing

COLUMNS = 66  # of the small trace; each shows the least and the greatest value in it


@dataclass(frozen=True, eq=False)
class Line(Frozen):
    """One spectrum as it is drawn: single precision is far below what a screen shows.

    Attributes
    ----------
    name
        File and part.
    wavenumbers : ndarray, shape (n,), cm-1, increasing
    absorbance : ndarray, shape (n,)
    """

    name: str
    wavenumbers: Float32Array
    absorbance: Float32Array


@dataclass(frozen=True, eq=False)
class Reading:
    """One file as it was read, or why it was not.

    Attributes
    ----------
    stamp : Stamp
        Of the file that was read.
    units : StatedUnits
        What the study said of it when it was read.
    facts
        Labelled, one tuple a spectrum.
    faults
        What was found, and the remedy.
    problem
        Why nothing could be read; empty if it could.
    unit_asked
        Whether it can be read once somebody says its units.
    lines : tuple of Line
    trace
        Path of the small drawing, wavenumbers falling.
    seen
        What the file is, as a first study is told; None where it was read for something else.
    """

    stamp: Stamp
    units: StatedUnits = UNSTATED
    facts: tuple[tuple[tuple[str, str], ...], ...] = ()
    faults: tuple[tuple[str, str], ...] = ()
    problem: str = ""
    unit_asked: bool = False
    lines: tuple[Line, ...] = ()
    trace: str = ""
    seen: Seen | None = None


def read_files(
    folder: Path, wanted: Mapping[str, tuple[Stamp, StatedUnits]], beside: Sequence[str] = ()
) -> dict[str, Reading]:
    """Read and check files; whatever is wrong with one becomes words beside its name.

    Parameters
    ----------
    folder
    wanted
        By path in the folder: the file as it was listed, and what the study says of its units.
    beside
        Files that are read again with them and not returned: those written alike are decided together.
    """
    names = [*wanted, *(name for name in beside if name not in wanted)]
    stated = [wanted[name][1] if name in wanted else UNSTATED for name in names]
    found = read_alike([folder / name for name in names], stated)
    return {
        name: _reading(folder, name, one, *wanted[name])
        for name, one in zip(names, found, strict=True)
        if name in wanted
    }


def _reading(
    folder: Path, name: str, found: FileRead | ReadingError, stamp: Stamp, units: StatedUnits
) -> Reading:
    """Check what was read of one file."""
    seen = as_seen(folder / name, found)
    try:
        if isinstance(found, ReadingError):
            raise found
        spectra = [item.with_faults(check_spectrum(item)) for item in found.spectra]
    except CoatproofError as error:
        said = str(error).replace(f"{folder / name}", name)
        return Reading(stamp, units, problem=said, unit_asked=isinstance(error, AmbiguityError), seen=seen)
    return replace(summarise(spectra, stamp, units), seen=seen)


def summarise(spectra: Sequence[Spectrum], stamp: Stamp, units: StatedUnits = UNSTATED) -> Reading:
    """Put what was read of one file into words and lines."""
    seen = [look(item) for item in spectra]
    plain = {"title", "faults"}
    return Reading(
        stamp,
        units,
        facts=tuple(tuple(fact for fact in item.facts if fact[0] not in plain) for item in seen),
        faults=tuple(dict.fromkeys(fault for item in seen for fault in item.faults)),
        lines=tuple(_line(item) for item in spectra),
        trace=trace_path(spectra),
    )


def _line(spectrum: Spectrum) -> Line:
    return Line(
        spectrum.origin.part,
        spectrum.wavenumbers.astype(np.float32),
        spectrum.absorbance.astype(np.float32),
    )


def trace_path(spectra: Sequence[Spectrum]) -> str:
    """Return the small drawing of some spectra as the data of an SVG path.

    Examples
    --------
    >>> from spectra.spectrum import Origin
    >>> trace_path([Spectrum([400.0, 4000.0], [0.0, 1.0], Origin("a"))])
    'M1.0 1.0V1.0L132.0 29.0V29.0'
    """
    drawn = [item for item in spectra if np.ptp(item.wavenumbers) > 0][:12]
    if not drawn:
        return ""
    low = min(float(item.wavenumbers[0]) for item in drawn)
    high = max(float(item.wavenumbers[-1]) for item in drawn)
    least = min(float(np.nanmin(item.absorbance)) for item in drawn)
    reach = max(float(np.nanmax(item.absorbance)) for item in drawn) - least or 1.0
    return "".join(_column_path(item, (low, high), (least, reach)) for item in drawn)


def _column_path(spectrum: Spectrum, span: tuple[float, float], heights: tuple[float, float]) -> str:
    """Return one line through the least and the greatest value of every column."""
    usable = np.isfinite(spectrum.absorbance)
    x, y = spectrum.wavenumbers[usable], spectrum.absorbance[usable]
    column = ((span[1] - x) / (span[1] - span[0]) * (COLUMNS - 1)).round().astype(int)[::-1]
    first = np.flatnonzero(np.diff(column, prepend=-1))
    scaled = (HIGH - 1) - (y[::-1] - heights[0]) / heights[1] * (HIGH - 2)
    tops, feet = np.minimum.reduceat(scaled, first), np.maximum.reduceat(scaled, first)
    across = 1.0 + column[first] * (WIDE - 1) / (COLUMNS - 1)
    return "M" + "L".join(f"{a:.1f} {t:.1f}V{f:.1f}" for a, t, f in zip(across, tops, feet, strict=True))


def set_faults(readings: Mapping[str, Reading]) -> tuple[Fault, ...]:
    """Return what is doubtful about some files together: copies, other intervals, other scales."""
    spectra = [
        Spectrum(
            line.wavenumbers.astype(np.float64),
            line.absorbance.astype(np.float64),
            Origin(name, line.name),
        )
        for name, reading in readings.items()
        for line in reading.lines
    ]
    return check_set(spectra) if spectra else ()
