"""The whole result: everything found about every sample, what was read, and every stage kept.

Records only, without a word of prose, made of those in ``findings``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from spectra.apart.groups import Outsider
from spectra.comparison.amounts import Amounts
from spectra.comparison.conditions import Kept
from spectra.comparison.layouts import LayoutFit
from spectra.comparison.recipes import Difference
from spectra.comparison.requirement import CONFORMS, Conformity
from spectra.comparison.sources import MaterialsCompared
from spectra.comparison.specimens import SpecimenVerdict
from spectra.comparison.spread import Evenness
from spectra.comparison.together import Together
from spectra.comparison.treatment import TreatmentFinding
from spectra.comparison.trends import Trend
from spectra.findings import (
    PRESENT,
    UNCHANGED,
    BandFinding,
    Chemistry,
    Layer,
    MaterialCheck,
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
    """What was found about one coating on one sample.

    Attributes
    ----------
    bands : tuple of BandFinding
        By falling wavenumber.
    specimens : mapping of str to SpecimenVerdict
    evenness : Evenness or None
        None with too few bare spectra.
    kept : Kept or None
        For a sample measured after a treatment.
    trends : tuple of Trend
        Where positions are given.
    judged_share : float or None
        Share of the coating's expected band strength that could be judged here, 0 to 1.
    layout : LayoutFit or None
        Whether a film or a blend fits; None where nothing is there or optics cannot tell.
    """

    name: str
    material: str | None
    presence: Presence
    bands: tuple[BandFinding, ...]
    chemistry: Chemistry
    causes: tuple[PossibleCause, ...] = ()
    specimens: Mapping[str, SpecimenVerdict] = field(default_factory=dict)
    evenness: Evenness | None = None
    kept: Kept | None = None
    trends: tuple[Trend, ...] = ()
    judged_share: float | None = None
    layout: LayoutFit | None = None


@dataclass(frozen=True)
class SubstrateFinding:
    """The substrate's own bands, coated against bare; possible causes only where nothing is coated."""

    bands: tuple[BandFinding, ...]
    chemistry: Chemistry
    causes: tuple[PossibleCause, ...] = ()


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
    difference : ndarray, shape (n,), absorbance
        Mean coated minus mean bare as measured, with contact, baseline and gases taken off as fitted.
    unexplained_more : int
        Further unexplained bands beyond the most evident ones listed.
    expected : mapping of str to ndarray, shape (n,)
        By coating: what the fitted film contributes to ``difference``.
    expect
        ``present``, or ``absent`` for a control.
    requirement : RequirementFinding or None
        Against the study's stated requirement.
    layer : Layer or None
        Whether there is anything on the surface that bare specimens do not show.
    spot_amounts : mapping of str to ndarray, shape (m,)
        By coating: amount in every spot, in the order of the study.
    amounts : mapping of str to Amounts
        The same with specimens and errors: what samples are compared by.
    treatment : TreatmentFinding or None
        Chemistry against that before the treatment, for a sample that is after another.
    together : Together or None
        Where several coatings are looked for: their sum, and how their errors hang together.
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
    expect: str = "present"
    requirement: RequirementFinding | None = None
    layer: Layer | None = None
    spot_amounts: Mapping[str, FloatArray] = field(default_factory=dict)
    amounts: Mapping[str, Amounts] = field(default_factory=dict)
    treatment: TreatmentFinding | None = None
    together: Together | None = None

    @property
    def expected_present(self) -> bool:
        """Whether the coatings should be on it; False for a control."""
        return self.expect == "present"

    @property
    def contaminated(self) -> tuple[str, ...]:
        """Coatings that a control shows."""
        if self.expected_present:
            return ()
        return tuple(n for n, found in self.coatings.items() if found.presence.verdict == PRESENT)


@dataclass(frozen=True)
class RequirementFinding:
    """A sample against the stated requirement: its verdict, that of every coating, and the stated risk."""

    verdict: str
    coatings: Mapping[str, Conformity]
    risk: float

    @property
    def met(self) -> bool:
        """Whether it conforms."""
        return self.verdict == CONFORMS


@dataclass(frozen=True)
class SampleDifference:
    """Two samples compared in one coating."""

    coating: str
    found: Difference


@dataclass(frozen=True)
class VerdictWithout:
    """What one verdict would be without the spectra that stand apart in a group.

    Attributes
    ----------
    sample, coating : str
        ``coating`` is empty for a material without a coating: then only chemistry is judged.
    presence, presence_without : str or None
        With all files, as shown; and without.
    chemistry, chemistry_without : str
    amount, amount_without : float or None
        Neat = 1.
    """

    sample: str
    coating: str
    presence: str | None
    presence_without: str | None
    chemistry: str
    chemistry_without: str
    amount: float | None = None
    amount_without: float | None = None

    @property
    def differs(self) -> bool:
        """Whether a verdict is another without them."""
        return (self.presence, self.chemistry) != (self.presence_without, self.chemistry_without)


@dataclass(frozen=True)
class ApartFinding:
    """A spectrum or specimen that does not belong to its group.

    Attributes
    ----------
    role, group
        Of the group.
    outsider : Outsider
        Its name, what it looks like and the chance of naming it in vain.
    paths : tuple of str
        Its files.
    kind
        ``apart``, or ``two kinds`` where the spectra do not say which is meant.
    detectable_with, detectable_without : mapping of str to float
        Detectable amount of every coating with it and without those that stand apart; empty outside the bare
        set.
    verdicts : tuple of VerdictWithout
        Of the samples that the group bears on, without all that stand apart in it.
    """

    role: str
    group: str
    outsider: Outsider
    paths: tuple[str, ...]
    kind: str
    detectable_with: Mapping[str, float] = field(default_factory=dict)
    detectable_without: Mapping[str, float] = field(default_factory=dict)
    verdicts: tuple[VerdictWithout, ...] = ()


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
    materials: tuple[MaterialCheck, ...] = ()
    comparisons: tuple[SampleDifference, ...] = ()
    apart: tuple[ApartFinding, ...] = ()
    materials_compared: tuple[MaterialsCompared, ...] = ()

    @property
    def all_shown(self) -> bool:
        """True when every expected coating is present and unchanged, and no control shows one."""
        treated = [sample for sample in self.samples.values() if not sample.coatings]
        return all(
            finding.presence.verdict == PRESENT and finding.chemistry.verdict == UNCHANGED
            for sample in self.samples.values()
            if sample.expected_present
            for finding in sample.coatings.values()
        ) and not any(
            sample.contaminated or (sample in treated and sample.substrate.chemistry.verdict != UNCHANGED)
            for sample in self.samples.values()
        )
