"""Groups: spectra in one role, on which specimens, measured how. Records only."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from spectra.units import UNSTATED, StatedUnits

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
    columns
        For each file the spectra of it that are meant, by name or number; empty for all of them.
    """

    name: str
    files: tuple[Path, ...]
    columns: tuple[tuple[str, ...], ...] = ()

    @property
    def parts(self) -> tuple[tuple[Path, tuple[str, ...]], ...]:
        """Each file with the spectra of it that are meant."""
        chosen = self.columns or ((),) * len(self.files)
        return tuple(zip(self.files, chosen, strict=True))


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
        For a sample: the coatings looked for on it.
    units : StatedUnits
        What the study says about the files that they do not say themselves.
    expect
        For a sample: ``"present"``, or ``"absent"`` for a control processed without coating.
    after
        For a sample: the sample it was before a treatment, or None.
    treatment, side
        For a sample: what was done to it and which side was measured, in the user's words.
    layout
        For a coating: ``"film"`` on the surface, or ``"mixed"`` into the material.
    """

    role: str
    name: str
    technique: str
    specimens: tuple[Specimen, ...]
    material: str | None = None
    contact: float | None = None
    coatings: tuple[str, ...] = ()
    units: StatedUnits = UNSTATED
    expect: str = "present"
    after: str | None = None
    treatment: str = ""
    side: str = ""
    layout: str = "film"

    @property
    def expected(self) -> bool:
        """Whether the coatings should be on it; False for a control."""
        return self.expect == "present"


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
    resolution
        As set on the instrument, cm-1.
    scans
        Added for one spectrum.
    apodisation, detector, background, pressure, conditioning, scale_check
        In the user's words: shown, never interpreted. ``scale_check`` says how and when the wavenumber scale
        was checked.
    """

    crystal: str | None = None
    index: float | None = None
    angle_deg: float | None = None
    reflections: int = 1
    resolution: float | None = None
    scans: int | None = None
    apodisation: str = ""
    detector: str = ""
    pressure: str = ""
    conditioning: str = ""
    background: str = ""
    scale_check: str = ""
