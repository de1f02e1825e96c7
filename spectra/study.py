"""The study: what was measured, in which role, and with which settings it is to be judged.

Records only. ``spectra.studyfile`` makes them from a study file or from the command line, with every
path resolved and checked; ``spectra.verification`` reads the files and judges.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from spectra.bandtest import DecisionSettings
from spectra.baseline import BaselineSettings
from spectra.footing import FootingSettings
from spectra.normalisation import NormalisationSettings
from spectra.peaks import PeakSettings
from spectra.residues import ResidueSettings
from spectra.spectrum import Fault

# "other" is any technique without an optical model: compared with itself only.
TECHNIQUES = ("ATR", "transmission", "transflection", "diffuse reflectance", "other")


@dataclass(frozen=True)
class Specimen:
    """One physical piece: the unit of replication.

    Attributes
    ----------
    name
        As the study names it, else the file's stem.
    files
        Absolute paths. Every spectrum in them is one spot on this piece.
    """

    name: str
    files: tuple[Path, ...]


@dataclass(frozen=True)
class Group:
    """Spectra in one role.

    Attributes
    ----------
    role
        ``"bare"``, ``"neat"``, ``"coated"`` or ``"residue"``.
    name
        Key in the study file: the coating, sample or residue; ``"substrate"`` for the bare spectra.
    material
        A material of ``reference_bands``, or None.
    technique
        Member of :data:`TECHNIQUES`.
    specimens
        In the order of the study file.
    contact
        Stated fraction of the crystal the group touches, 0 to 1, or None.
    coatings
        For a sample: the coatings expected on it.
    """

    role: str
    name: str
    technique: str
    specimens: tuple[Specimen, ...]
    material: str | None = None
    contact: float | None = None
    coatings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Instrument:
    """What the files do not say about the measurement; None is unknown.

    Attributes
    ----------
    crystal
        A crystal of the optics table, or None.
    index
        Refractive index of the crystal, if given instead.
    angle_deg
        Angle of incidence in degrees.
    reflections
        Number of reflections.
    """

    crystal: str | None = None
    index: float | None = None
    angle_deg: float | None = None
    reflections: int = 1


@dataclass(frozen=True)
class Settings:
    """Every number of the chain; one record a stage, each field with unit, range and reason."""

    decision: DecisionSettings = field(default_factory=DecisionSettings)
    footing: FootingSettings = field(default_factory=FootingSettings)
    baseline: BaselineSettings = field(default_factory=BaselineSettings)
    normalisation: NormalisationSettings = field(default_factory=NormalisationSettings)
    peaks: PeakSettings = field(default_factory=PeakSettings)
    residues: ResidueSettings = field(default_factory=ResidueSettings)


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
