"""The one datum of the chain: a spectrum, where it came from, and what is doubtful about it.

Inside the chain a spectrum is always decadic absorbance over increasing wavenumber in cm-1.
Conversion happens once, on reading; what was found in the file, what was assumed and what was mended is
kept in :class:`Origin`, so that a report can say it. A :class:`Stack` is several spectra of one group on
one common grid. All arrays are read-only, and private copies unless they were sealed before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from html import escape
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from spectra.errors import SpectraError
from spectra.units import FloatArray


@dataclass(frozen=True)
class Fault:
    """Something doubtful about a spectrum or a set of spectra, with its remedy.

    Attributes
    ----------
    code
        Short stable name, e.g. ``"transmittance-not-positive"``; the same in every report format.
    severity
        ``"note"`` (said), ``"warning"`` (may change a verdict).
    where
        Line, cell or cm-1 range.
    found
        What was found, with the number and its unit.
    remedy
        One sentence: what to do about it.
    """

    code: str
    severity: str
    where: str
    found: str
    remedy: str


@dataclass(frozen=True)
class Origin:
    """Where a spectrum came from and how its numbers were understood.

    Attributes
    ----------
    path, part
        The file as it was named, and the block, page, sheet or column within it (empty if whole).
    title
        Title the file gives, else the file's stem. Untrusted text.
    sha256
        Of the file's bytes.
    reader
        Name of the reader in ``spectra.reading.READERS``.
    x_unit, y_unit
        Units found in the file (members of ``units.X_UNITS`` and ``units.Y_UNITS``).
    assumed
        What the file did not say and was assumed, one clause each.
    repairs
        Broken header promises that the data themselves settle, one clause each.
    faults
        What is doubtful about the data.
    header
        Header entries in file order, as text; untrusted.
    """

    path: str
    part: str = ""
    title: str = ""
    sha256: str = ""
    reader: str = ""
    x_unit: str = "cm-1"
    y_unit: str = "absorbance"
    assumed: tuple[str, ...] = ()
    repairs: tuple[str, ...] = ()
    faults: tuple[Fault, ...] = ()
    header: tuple[tuple[str, str], ...] = ()

    @property
    def name(self) -> str:
        """The file, with the part of it in brackets where it holds several."""
        return f"{self.path} [{self.part}]" if self.part else self.path


def read_only(values: ArrayLike) -> FloatArray:
    """Return float64 values that cannot be written to: a private copy, unless they are sealed already."""
    if isinstance(values, np.ndarray) and _is_sealed(values):
        return values
    array = np.array(values, dtype=np.float64)
    array.flags.writeable = False
    return array


def _is_sealed(array: np.ndarray[Any, Any]) -> bool:
    """Whether nothing can write to an array: it owns its values, and is read-only."""
    return array.dtype == np.float64 and array.base is None and not array.flags.writeable


def sealed(values: FloatArray) -> FloatArray:
    """Give an array up: nothing can write to it from now on, so that no copy of it is needed.

    A copy is made of a part of another array only, which that one could still change.

    Examples
    --------
    >>> values = np.zeros(3)
    >>> read_only(sealed(values)) is values, read_only(values[1:]) is values[1:]
    (True, False)
    """
    if values.base is not None or values.dtype != np.float64:
        return read_only(values)
    values.flags.writeable = False
    return values


def rows_as_html(rows: Sequence[tuple[str, str]]) -> str:
    """Return labelled facts as a table for a notebook; text from files is escaped.

    Examples
    --------
    >>> rows_as_html([("title", "<b>")])
    '<table><tr><th scope="row">title</th><td>&lt;b&gt;</td></tr></table>'
    """
    lines = (f'<tr><th scope="row">{escape(name)}</th><td>{escape(text)}</td></tr>' for name, text in rows)
    return f"<table>{''.join(lines)}</table>"


class Frozen:
    """Mixin for frozen dataclasses with arrays: copies and pickles go through the checks again.

    Without it ``copy.deepcopy`` and ``pickle`` hand back writable arrays.
    """

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), tuple(getattr(self, item.name) for item in fields(self))  # type: ignore[arg-type]


@dataclass(frozen=True, eq=False)
class Spectrum(Frozen):
    """One measured spectrum.

    Parameters
    ----------
    wavenumbers : array_like, shape (n,), cm-1
        Strictly increasing and finite.
    absorbance : array_like, shape (n,), decadic, dimensionless
        NaN marks a point that holds no absorbance (a gap, a transmittance at or below zero).
    origin : Origin

    Raises
    ------
    SpectraError
        If the axis is not strictly increasing, the lengths differ, or nothing is finite.

    Examples
    --------
    >>> Spectrum([400.0, 402.0, 404.0], [0.1, 0.2, 0.1], Origin("a.csv"))
    Spectrum('a.csv', 3 points, 400 to 404 cm-1)
    """

    wavenumbers: FloatArray
    absorbance: FloatArray
    origin: Origin

    def __post_init__(self) -> None:
        wavenumbers = read_only(self.wavenumbers)
        absorbance = read_only(self.absorbance)
        name = self.origin.name
        if wavenumbers.ndim != 1 or wavenumbers.shape != absorbance.shape or wavenumbers.size == 0:
            raise SpectraError(
                f"{name}: found {wavenumbers.shape} wavenumbers and {absorbance.shape} ordinates; "
                "expected two one-dimensional arrays of the same length"
            )
        if not np.all(np.isfinite(wavenumbers)):
            raise SpectraError(f"{name}: a wavenumber is not a number; every point needs one")
        rising = wavenumbers[1:] > wavenumbers[:-1]
        if not np.all(rising):
            at = wavenumbers[int(np.argmin(rising))]
            raise SpectraError(
                f"{name}: wavenumbers do not increase at {at:g} cm-1; sort them, one value each"
            )
        if not np.any(np.isfinite(absorbance)):
            raise SpectraError(f"{name}: not one ordinate is a number; export the spectrum again")
        object.__setattr__(self, "wavenumbers", wavenumbers)
        object.__setattr__(self, "absorbance", absorbance)

    def __repr__(self) -> str:
        low, high = self.wavenumbers[0], self.wavenumbers[-1]
        return f"Spectrum({self.origin.name!r}, {len(self)} points, {low:g} to {high:g} cm-1)"

    def _repr_html_(self) -> str:
        """Show what was read in a notebook, escaped."""
        origin, low, high = self.origin, self.wavenumbers[0], self.wavenumbers[-1]
        rows = [
            ("spectrum", origin.name),
            ("title", origin.title),
            ("points", f"{len(self)}, {low:g} to {high:g} cm⁻¹"),
            ("units in the file", f"{origin.x_unit}, {origin.y_unit}"),
            *(("assumed", clause) for clause in origin.assumed),
            *((fault.severity, fault.found) for fault in origin.faults),
        ]
        return rows_as_html([row for row in rows if row[1]])

    def __len__(self) -> int:
        return int(self.wavenumbers.size)

    @property
    def step(self) -> float:
        """Median distance of neighbouring points, cm-1."""
        return float(np.median(np.diff(self.wavenumbers))) if len(self) > 1 else float("nan")

    def with_faults(self, faults: Sequence[Fault]) -> Spectrum:
        """Return the same spectrum with ``faults`` added to its origin."""
        return replace(self, origin=replace(self.origin, faults=self.origin.faults + tuple(faults)))


@dataclass(frozen=True, eq=False)
class Stack(Frozen):
    """Spectra of one group on one grid, spot by spot.

    Attributes
    ----------
    grid : ndarray, shape (n,), cm-1, increasing
    absorbance : ndarray, shape (m, n), decadic
        Row i is spot i. Finite on ``usable`` points.
    specimens : tuple of str, length m
        Which physical piece spot i was measured on: the unit of replication.
    names : tuple of str, length m
        File (and part) of spot i.
    usable : ndarray of bool, shape (n,)
        False where the study leaves a point out (gas regions, crystal absorption, gaps).

    Raises
    ------
    SpectraError
        If shapes disagree or a usable point is not finite.
    """

    grid: FloatArray
    absorbance: FloatArray
    specimens: tuple[str, ...]
    names: tuple[str, ...]
    usable: np.ndarray[Any, np.dtype[np.bool_]] = field(default_factory=lambda: np.zeros(0, dtype=bool))

    def __post_init__(self) -> None:
        grid, absorbance = read_only(self.grid), read_only(self.absorbance)
        usable = np.array(self.usable if np.size(self.usable) else np.ones(grid.shape, bool), dtype=bool)
        usable.flags.writeable = False
        shape = (len(self.specimens), grid.size)
        if absorbance.shape != shape or len(self.names) != shape[0] or usable.shape != grid.shape:
            raise SpectraError(
                f"a stack of shape {absorbance.shape} was given names and grid for {shape}, "
                f"and {usable.size} marks of what is usable; expected one mark a point"
            )
        if not np.all(np.isfinite(absorbance[:, usable])):
            row = int(np.argmax(~np.isfinite(absorbance[:, usable]).all(axis=1)))
            raise SpectraError(f"{self.names[row]}: has gaps inside the range that is used; leave it out")
        object.__setattr__(self, "grid", grid)
        object.__setattr__(self, "absorbance", absorbance)
        object.__setattr__(self, "usable", usable)

    def __len__(self) -> int:
        return len(self.names)

    @property
    def mean(self) -> FloatArray:
        """Mean of the spots, shape (n,)."""
        return np.asarray(self.absorbance.mean(axis=0))

    @property
    def step(self) -> float:
        """Grid step, cm-1."""
        return float(self.grid[1] - self.grid[0])

    def with_absorbance(self, absorbance: ArrayLike) -> Stack:
        """Return the same spots with other ordinates, shape (m, n)."""
        return replace(self, absorbance=np.asarray(absorbance, dtype=np.float64))

    def take(self, rows: Sequence[int]) -> Stack:
        """Return the spots ``rows`` as a stack of their own."""
        return replace(
            self,
            absorbance=self.absorbance[list(rows)],
            specimens=tuple(self.specimens[i] for i in rows),
            names=tuple(self.names[i] for i in rows),
        )
