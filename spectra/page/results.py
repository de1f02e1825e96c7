"""What the working process hands back: finished words, and lines to draw. Records only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from spectra.spectrum import Frozen

if TYPE_CHECKING:
    from spectra.report.tables.table import Table
    from spectra.report.view import View

Float32Array = NDArray[np.float32]

# What can be drawn, in the order of the chain, and what it is called.
STAGES: Mapping[str, str] = {
    "raw": "as read",
    "flat": "baseline removed",
    "levelled": "normalised",
    "difference": "coated minus bare",
    "film": "computed film",
}


@dataclass(frozen=True, eq=False)
class Sheaf(Frozen):
    """Spectra of one group on one grid.

    Attributes
    ----------
    role, group
    names
        Of the lines.
    grid : ndarray, shape (n,), cm-1, increasing
    values : ndarray, shape (m, n)
    """

    role: str
    group: str
    names: tuple[str, ...]
    grid: Float32Array
    values: Float32Array


@dataclass(frozen=True)
class Mark:
    """A band drawn into the spectra: of a coating, or of the substrate; masked or not.

    Attributes
    ----------
    owner
        Coating or substrate, as it is called.
    role
        ``"neat"`` or ``"bare"``.
    position, low, high
        cm-1.
    masked
        The substrate's own variation hides it.
    row
        What is known of the band, each with its label.
    sample
        The sample the row is about; empty before there is one.
    """

    owner: str
    role: str
    position: float
    low: float
    high: float
    masked: bool
    row: tuple[tuple[str, str], ...] = ()
    sample: str = ""


@dataclass(frozen=True, eq=False)
class Running:
    """What bare and neat spectra say while a measurement goes on; remarks are on files that stand apart."""

    lines: tuple[str, ...]
    remarks: Mapping[str, str]
    doubts: tuple[tuple[str, str], ...]
    marks: tuple[Mark, ...]
    stages: Mapping[str, tuple[Sheaf, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class Figure:
    """A figure of the report: its file in the report's folder, its caption, and what it shows in words."""

    file: str
    caption: str
    alternative: str


@dataclass(frozen=True, eq=False)
class Findings:
    """The verdicts as words, as in the report, and what stands where in the spectra.

    Attributes
    ----------
    view : View
        Of the report.
    figures
        Of the report's folder.
    places
        For a sentence of a verdict: the range in cm-1 it speaks of.
    """

    view: View
    overview: Table
    figures: tuple[Figure, ...]
    places: Mapping[str, tuple[float, float]]
    marks: tuple[Mark, ...]
    stages: Mapping[str, tuple[Sheaf, ...]]
