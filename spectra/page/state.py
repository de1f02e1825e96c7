"""Everything the page shows, as one value; and what follows from it without looking at a disk."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from spectra.page.folder import Stamp
from spectra.page.places import BARE, COATED, LEFT_OUT, NEAT, ROLES, Place
from spectra.page.readings import Reading
from spectra.page.results import Findings, Running
from spectra.page.study_file import NO_FILE


@dataclass(frozen=True)
class Draft:
    """The study file as it stands.

    Attributes
    ----------
    text, version
        The version is the hash of the bytes; ``"none"`` without a file.
    document
        Its keys, plain.
    places
        Of every file it names.
    problem
        Why it cannot be used as it is; empty if it can.
    """

    text: str = ""
    version: str = NO_FILE
    document: Mapping[str, Any] = field(default_factory=dict)
    places: Mapping[str, Place] = field(default_factory=dict)
    problem: str = ""


@dataclass(frozen=True)
class Work:
    """What is being computed: a kind of job, how far it has come, and what stopped it."""

    kind: str = ""
    phase: str = ""
    done: int = 0
    total: int = 0
    queued: bool = False
    failure: str = ""


@dataclass(frozen=True)
class Row:
    """One file of the folder: who it is, what was read of it, and how it compares with its group."""

    name: str
    place: Place
    guessed: bool = False
    reading: Reading | None = None
    gone: bool = False
    remark: str = ""

    @property
    def key(self) -> str:
        """Name of the file's element in the page."""
        return f"file-{hashlib.sha256(self.name.encode()).hexdigest()[:16]}"


@dataclass(frozen=True, eq=False)
class State:
    """All the page shows.

    Attributes
    ----------
    folder
        Its name alone.
    rows : tuple of Row
        By name.
    draft : Draft
    mistakes
        What keeps the study from being judged, in the words of the study's own check.
    doubts
        About the files together, each with its remedy.
    running, findings
        What the working process found last; None before.
    running_old, findings_old
        The study or its files have changed since.
    work : Work
    results
        Files of the report with their sizes.
    notice
        The answer to what a person did last, where that could not be done.
    """

    folder: str
    rows: tuple[Row, ...]
    draft: Draft
    mistakes: tuple[str, ...] = ()
    doubts: tuple[tuple[str, str, str], ...] = ()
    running: Running | None = None
    running_old: bool = False
    findings: Findings | None = None
    findings_old: bool = False
    work: Work = Work()
    results: tuple[tuple[str, int], ...] = ()
    notice: str = ""

    @property
    def guesses(self) -> int:
        """How many files have a place only by their names."""
        return sum(row.guessed and bool(row.place.role) for row in self.rows)

    @property
    def unread(self) -> int:
        """How many files are still to be read."""
        return sum(row.reading is None and not row.gone for row in self.rows)

    def count(self, role: str, *, guessed: bool = False) -> int:
        """Return how many files have a role, by the study or by their names."""
        return sum(row.place.role == role and row.guessed == guessed for row in self.rows)

    @property
    def names(self) -> Mapping[str, tuple[str, ...]]:
        """The coatings, samples and residues known by name, by role."""
        found: dict[str, dict[str, None]] = {role: {} for role in ROLES}
        for row in self.rows:
            if row.place.role and row.place.group:
                found[row.place.role][row.place.group] = None
        return {role: tuple(names) for role, names in found.items() if role not in (BARE, LEFT_OUT)}

    @property
    def missing(self) -> tuple[str, ...]:
        """The roles nobody fills yet."""
        return tuple(role for role in (BARE, NEAT, COATED) if not self.count(role))


def make_rows(
    stamps: Mapping[str, Stamp],
    readings: Mapping[str, Reading],
    places: Mapping[str, Place],
    guesses: Mapping[str, Place],
    remarks: Mapping[str, str],
) -> tuple[Row, ...]:
    """Return a row for every file of the folder, and for every one the study names that is not there.

    Parameters
    ----------
    stamps, readings
        By file.
    places
        As the study says.
    guesses
        As names suggest; used where the study says nothing.
    remarks
        On files that do not belong to their group.
    """
    rows = []
    for name in sorted({*stamps, *places}):
        stated = name in places
        place = places[name] if stated else guesses.get(name, Place())
        remark = remarks.get(name, "")
        rows.append(Row(name, place, not stated, readings.get(name), name not in stamps, remark))
    return tuple(rows)


def default_title(folder: Path) -> str:
    """Return what a study without a title is called."""
    return folder.resolve().name
