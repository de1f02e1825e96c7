"""The whole result: everything found about every sample, what was read, and every stage kept.

Records only, without a word of prose, made of those in ``findings``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from spectra.findings import (
    PRESENT,
    UNCHANGED,
    BandFinding,
    Chemistry,
    PossibleCause,
    Presence,
    Residue,
    SpecimenAmount,
    SpikeRecovery,
    Unexplained,
)
from spectra.spectrum import Fault, Stack
from spectra.study.records import Study
from spectra.units import FloatArray


@dataclass(frozen=True)
class CoatingFinding:
    """What was found about one coating on one sample; ``bands`` by falling wavenumber."""

    name: str
    material: str | None
    presence: Presence
    bands: tuple[BandFinding, ...]
    chemistry: Chemistry
    causes: tuple[PossibleCause, ...] = ()


@dataclass(frozen=True)
class SubstrateFinding:
    """The substrate's own bands, coated against bare."""

    bands: tuple[BandFinding, ...]
    chemistry: Chemistry


@dataclass(frozen=True, eq=False)
class SampleFinding:
    """Everything found about one sample.

    Attributes
    ----------
    coatings : mapping of str to CoatingFinding
    substrate : SubstrateFinding
    unexplained : tuple of Unexplained
    residues : mapping of str to Residue
    evenness : mapping of str to tuple of SpecimenAmount, by coating
    difference : ndarray, shape (n,)
        Mean coated minus fitted bare, normalised absorbance.
    unexplained_more : int
        Further unexplained bands beyond the most evident ones listed.
    expected : mapping of str to ndarray, shape (n,)
        By coating: what the amount found, in this geometry and thickness, contributes to ``difference``;
        for the figures, where it is known.
    """

    name: str
    coatings: Mapping[str, CoatingFinding]
    substrate: SubstrateFinding
    unexplained: tuple[Unexplained, ...]
    residues: Mapping[str, Residue]
    evenness: Mapping[str, tuple[SpecimenAmount, ...]]
    difference: FloatArray
    unexplained_more: int = 0
    expected: Mapping[str, FloatArray] = field(default_factory=dict)


@dataclass(frozen=True)
class InputRecord:
    """One spectrum that was read, and how it was understood."""

    path: str
    part: str
    sha256: str
    role: str
    group: str
    specimen: str
    points: int
    low: float
    high: float
    reader: str
    x_unit: str
    y_unit: str
    assumed: tuple[str, ...]
    repairs: tuple[str, ...]
    faults: tuple[Fault, ...]


@dataclass(frozen=True, eq=False)
class Stages:
    """Every intermediate of the chain, so that reports and tests look without running it again.

    ``raw`` is on the common grid, ``flat`` after the baseline, ``levelled`` after normalising; each maps
    ``(role, group)`` to a :class:`~spectra.spectrum.Stack`.
    """

    raw: Mapping[tuple[str, str], Stack]
    flat: Mapping[tuple[str, str], Stack]
    levelled: Mapping[tuple[str, str], Stack]


@dataclass(frozen=True, eq=False)
class Verification:
    """The whole result of ``verify``: the study, what was read, what was found."""

    study: Study
    inputs: tuple[InputRecord, ...]
    faults: tuple[Fault, ...]
    samples: Mapping[str, SampleFinding]
    stages: Stages
    versions: Mapping[str, str]
    spikes: Mapping[str, SpikeRecovery] = field(default_factory=dict)

    @property
    def all_shown(self) -> bool:
        """True when every expected coating is present and unchanged."""
        return all(
            finding.presence.verdict == PRESENT and finding.chemistry.verdict == UNCHANGED
            for sample in self.samples.values()
            for finding in sample.coatings.values()
        )
