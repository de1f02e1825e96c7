"""Files that were written alike are understood alike: the units of a whole set are settled at once.

Decoding a file gives its traces. Traces of one folder whose headings state the same are one set; each
column of a table belongs to the same set as the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from spectra.errors import FormatError, ReadingError, SpectraError
from spectra.reading.numbers import shorten
from spectra.reading.source import Source
from spectra.reading.trace import Axed, Trace, axed, conclude
from spectra.reading.units.curve import Ordinate
from spectra.reading.units.ordinate import settle_ordinates
from spectra.spectrum import Fault, Spectrum


@dataclass(frozen=True, eq=False)
class Decoded:
    """One file as its reader left it.

    Attributes
    ----------
    source : Source
        Without its bytes.
    reader
        Name of the reader.
    traces : tuple of Trace
    """

    source: Source
    reader: str
    traces: tuple[Trace, ...]


@dataclass(frozen=True, eq=False)
class FileRead:
    """What a file holds.

    Attributes
    ----------
    spectra : tuple of Spectrum
    left_out : dict of str to ReadingError
        Parts that are no spectrum, each with the reason.
    """

    spectra: tuple[Spectrum, ...]
    left_out: dict[str, ReadingError] = field(default_factory=dict)


@dataclass
class _Draft:
    """A file on its way from traces to spectra."""

    decoded: Decoded
    axes: list[Axed] = field(default_factory=list)
    units: list[Ordinate] = field(default_factory=list)
    left_out: dict[str, ReadingError] = field(default_factory=dict)
    failed: ReadingError | None = None


def understand(files: Sequence[Decoded | ReadingError]) -> list[FileRead | ReadingError]:
    """Settle the units of decoded files, set by set, and make their spectra.

    Parameters
    ----------
    files : sequence of Decoded or ReadingError
        An error is handed through in its place.

    Returns
    -------
    list of FileRead or ReadingError
        In the order given; an error for a file of which no spectrum is left.
    """
    drafts = [_with_axes(file) if isinstance(file, Decoded) else file for file in files]
    sets: dict[object, list[_Draft]] = {}
    for draft in drafts:
        if isinstance(draft, _Draft) and draft.failed is None:
            sets.setdefault(_shape(draft), []).append(draft)
    for alike in sets.values():
        _settle(alike)
    return [_finished(draft) if isinstance(draft, _Draft) else draft for draft in drafts]


def _shape(draft: _Draft) -> object:
    """Return what files written alike share: folder, reader, and what is stated."""
    source = draft.decoded.source
    said = {(one.x_unit, one.trace.y_unit, one.trace.y_above, one.trace.y_foreign) for one in draft.axes}
    return str(Path(source.path).parent), draft.decoded.reader, source.stated, frozenset(said)


def _with_axes(decoded: Decoded) -> _Draft:
    """Understand the abscissa of every trace; one that fails is left out if others stand."""
    draft = _Draft(decoded)
    for trace in decoded.traces:
        try:
            draft.axes.append(axed(trace, decoded.source))
        except ReadingError as error:
            draft.left_out[trace.part] = error
    if not draft.axes:
        draft.failed = next(iter(draft.left_out.values()))
    return draft


def _settle(alike: Sequence[_Draft]) -> None:
    """Settle the ordinates of files that were written alike, in place."""
    placed = [(draft, one) for draft in alike for one in draft.axes]
    wanted = alike[0].decoded.source.stated.ordinate
    try:
        settled = settle_ordinates([one.curve for _, one in placed], wanted)
    except ReadingError as error:
        for draft in alike:
            draft.failed = error
        return
    for draft in alike:
        draft.axes = []
    for (draft, one), unit in zip(placed, settled, strict=True):
        if isinstance(unit, Ordinate):
            draft.axes.append(one)
            draft.units.append(unit)
        else:
            draft.left_out[one.trace.part] = unit


def _finished(draft: _Draft) -> FileRead | ReadingError:
    """Make the spectra of a file, with what was left out beside them said."""
    if draft.failed is not None:
        return draft.failed
    spectra = []
    for one, unit in zip(draft.axes, draft.units, strict=True):
        try:
            spectra.append(conclude(one, unit, draft.decoded.source, draft.decoded.reader))
        except SpectraError as error:
            draft.left_out[one.trace.part] = FormatError(str(error))
        except ReadingError as error:
            draft.left_out[one.trace.part] = error
    if not spectra:
        return next(iter(draft.left_out.values()))
    if draft.left_out:
        spectra = [_with_said(spectrum, draft) for spectrum in spectra]
    return FileRead(tuple(spectra), draft.left_out)


def _with_said(spectrum: Spectrum, draft: _Draft) -> Spectrum:
    """Say which parts of the file were left out, and why."""
    faults = tuple(
        Fault(
            "part-left-out",
            "warning",
            shorten(part, 120) or "the file",
            f"left out: {reason_of(error, draft.decoded.source.path)}",
            "Correct it, or name the spectra that are wanted.",
        )
        for part, error in draft.left_out.items()
    )
    return replace(spectrum, origin=replace(spectrum.origin, faults=spectrum.origin.faults + faults))


def reason_of(error: ReadingError, path: str) -> str:
    """Return what an error says without the file it names."""
    return shorten(str(error).removeprefix(path).lstrip(": "), 300)
