"""The study: what was measured, in which role, and with which settings it is to be judged.

Records only. ``spectra.study.loading`` makes them from a study file or from the command line, with every
path resolved and checked; ``spectra.verification.verify`` reads the files and judges.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from os.path import commonpath
from pathlib import Path

from spectra.comparison.settings import Requirement
from spectra.groups import TECHNIQUES, Group, Instrument, Specimen
from spectra.spectrum import Fault, rows_as_html
from spectra.study.settings import Settings

__all__ = ["TECHNIQUES", "Group", "Instrument", "Settings", "Specimen", "Study"]


@dataclass(frozen=True)
class LeftOutFile:
    """A file of the study that is not used, by the user's decision: shown in every report.

    Attributes
    ----------
    path
        Absolute.
    role, group, specimen
        Where the study names it.
    reason
        In the user's words.
    """

    path: Path
    role: str
    group: str
    specimen: str
    reason: str


@dataclass(frozen=True)
class Study:
    """A validated study: every file exists, no file is used twice, every name is known.

    Attributes
    ----------
    title
        Untrusted text for the report's head.
    file, sha256
        The study file and the hash of its bytes; None and empty when given on the command line.
    instrument : Instrument
    substrate : Group
        The bare spectra.
    coatings, samples : mapping of str to Group
        In the order of the study file.
    watch
        Materials of ``reference_bands`` looked for as residues.
    measured : mapping of str to Group
        Measured spectra of residues.
    band_tables
        The user's own band tables, absolute paths.
    notes : mapping of str to str
        Operator, date, lot, notes: shown, never interpreted.
    left_out : tuple of LeftOutFile
    against
        Sample that the others are compared with; None for all pairs.
    requirement : Requirement or None
    positions : mapping of Path to (x, y)
        Of the spots, by file; empty where none are given.
    settings : Settings
    warnings
        What is doubtful about the study itself, with its place in the study file.
    """

    title: str
    file: Path | None
    sha256: str
    instrument: Instrument
    substrate: Group
    coatings: Mapping[str, Group]
    samples: Mapping[str, Group]
    watch: tuple[str, ...] = ()
    measured: Mapping[str, Group] = field(default_factory=dict)
    band_tables: tuple[Path, ...] = ()
    notes: Mapping[str, str] = field(default_factory=dict)
    left_out: tuple[LeftOutFile, ...] = ()
    against: str | None = None
    requirement: Requirement | None = None
    positions: Mapping[Path, tuple[float, float]] = field(default_factory=dict)
    settings: Settings = field(default_factory=Settings)
    warnings: tuple[Fault, ...] = ()

    @property
    def groups(self) -> tuple[Group, ...]:
        """Every group, in the order of the study file: bare, neat, coated, residues."""
        return (
            self.substrate,
            *self.coatings.values(),
            *self.samples.values(),
            *self.measured.values(),
        )

    def _repr_html_(self) -> str:
        """Show in a notebook who is compared with whom, escaped."""
        rows = [("study", self.title)]
        for group in self.groups:
            files = sum(len(specimen.files) for specimen in group.specimens)
            name = group.role if group.role == "bare" else f"{group.role} {group.name}"
            rows.append((name, f"{group.technique}; specimens: {len(group.specimens)}, files: {files}"))
        return rows_as_html(rows)

    @cached_property
    def folder(self) -> Path:
        """Where the study's paths start: beside the study file, or the folder that holds all its files."""
        if self.file is not None:
            return self.file.parent
        files = (file for group in self.groups for item in group.specimens for file in item.files)
        return Path(commonpath({file.parent for file in files}))
