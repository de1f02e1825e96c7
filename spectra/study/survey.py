"""What the files of a folder are, by reading them: spectra, in which units, or something else.

What a file is decides, not its name. Units that no file states are found for all files that were written
alike, and handed back as a line for the study, so that a person sees and confirms them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from spectra.errors import AmbiguityError, ReadingError
from spectra.reading import read_alike
from spectra.reading.candidates import list_candidates
from spectra.reading.numbers import shorten
from spectra.reading.together import FileRead, reason_of
from spectra.spectrum import Spectrum
from spectra.units import UNSTATED


@dataclass(frozen=True)
class Seen:
    """One file as it was read.

    Attributes
    ----------
    file : Path
    parts : tuple of str
        Names of its spectra, where it holds several.
    unit
        Ordinate that was taken though nothing states it; None if it is stated, or nothing could be taken.
    evidence
        Why it was taken; if nothing could be taken, why not.
    refused
        Why it holds no spectrum; empty if it may hold one.
    """

    file: Path
    parts: tuple[str, ...] = ()
    unit: str | None = None
    evidence: str = ""
    refused: str = ""


def survey(folder: Path) -> tuple[Seen, ...]:
    """Read what lies in a folder and in all folders inside it.

    Parameters
    ----------
    folder
        Hidden files and folders with a ``result.json`` are passed over.

    Returns
    -------
    tuple of Seen
        Every file, sorted.
    """
    files = sorted(folder / name for name, _ in list_candidates(folder, plain=False))
    found = read_alike(files, [UNSTATED] * len(files))
    return tuple(as_seen(file, one) for file, one in zip(files, found, strict=True))


def as_seen(file: Path, found: FileRead | ReadingError) -> Seen:
    """Return what a file is, from what was read of it."""
    if isinstance(found, FileRead):
        parts = tuple(spectrum.origin.part for spectrum in found.spectra)
        return Seen(file, parts if len(parts) > 1 else (), *_taken(found.spectra))
    if isinstance(found, AmbiguityError):
        return Seen(file, evidence=reason_of(found, str(file)))
    return Seen(file, refused=shorten(reason_of(found, str(file)), 120))


def _taken(spectra: Iterable[Spectrum]) -> tuple[str | None, str]:
    """Return the unit that was taken from the values, and why."""
    for spectrum in spectra:
        for clause in spectrum.origin.assumed:
            if clause.startswith("ordinates ") and " taken as " in clause:
                return spectrum.origin.y_unit, clause
    return None, ""


def unit_line(seen: Iterable[Seen]) -> str:
    """Return the line that states the ordinate of some files, with its evidence; nothing if none is needed.

    It is a comment where the values do not tell, or not all of the files agree.
    """
    files = list(seen)
    found = [one for one in files if one.unit is not None]
    doubtful = [one for one in files if one.unit is None and one.evidence]
    if doubtful:
        return f'# ordinate = "..."   # {_count(doubtful)}: {shorten(doubtful[0].evidence, 200)}'
    units = {one.unit for one in found}
    if not found:
        return ""
    reasons = "; ".join(dict.fromkeys(one.evidence for one in found))
    if len(units) > 1 or len(found) < len(files):
        return f"# ordinate: {_count(found)} of {len(files)} do not state it: {reasons}"
    return f'ordinate = "{units.pop()}"   # {_count(found)}: {reasons}; correct it if wrong'


def _count(seen: list[Seen]) -> str:
    return f"{len(seen)} file" + ("s" if len(seen) > 1 else "")
