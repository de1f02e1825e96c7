"""What the chain found: records only, without a word of prose.

A verdict carries :class:`Reason` records, a code with the numbers it rests on; ``report.view`` is the one
place that words and rounds them. Positions and widths are in cm-1, heights in absorbance of the
normalised spectra unless a field says otherwise; an amount is in units of the neat spectrum.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

SHOWN = "shown"

PRESENT, NOT_SHOWN, CANNOT_TELL = "present", "not shown", "cannot tell"

UNCHANGED, CHANGED = "unchanged", "changed"

AGREES, DOUBTFUL = "agrees", "doubtful"

# What became of a band.
AT_ITS_PLACE, MOVED, WEAKER, STRONGER, LOST = "at its place", "moved", "weaker", "stronger", "lost"
HIDDEN, NOT_JUDGED = "hidden", "not judged"


@dataclass(frozen=True)
class Reason:
    """Why a verdict is what it is: a code of ``report.view.REASONS`` and the values its sentence needs."""

    code: str
    values: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class BandFinding:
    """One band of the coating or substrate, looked for in one sample.

    Attributes
    ----------
    neat_position, neat_error
        Band position in the reference (neat coating, or bare substrate) and its standard error, cm-1.
    expected_position, expected_error
        Where the band must appear in this geometry if nothing changed, and what optics leave open, cm-1.
    found_position, found_error
        In the sample; None where the band was not found.
    shift, shift_low, shift_high
        Found minus expected and its interval, cm-1; None where not found.
    margin
        Half-width of the window that counts as unchanged, cm-1.
    neat_height, found_height, critical_height
        Heights above the baseline, and the height above which the band counts as detected.
    neat_width, found_width
        Full width at half height, cm-1.
    verdict
        ``unchanged``, ``changed`` or ``cannot tell``: of the position.
    detected, masked
        Above its critical height in the sample; hidden by the substrate's own variation.
    evidence
        Student's t of the band's height.
    p_value, p_adjusted
        One-sided, and after Holm over the unmasked bands.
    assignment, source, checked
        From the reference tables; empty where nothing fits.
    confidence
        Level of the interval of the shift, 0 to 1; None where it was not computed.
    optical_bound
        How far optics may move the band, cm-1, where that could not be computed; part of ``margin``.
    fate
        What became of the band: ``at its place``, ``moved``, ``weaker``, ``stronger``, ``lost``, ``hidden``
        (its loss would not show) or ``not judged``.
    ratio, ratio_low, ratio_high
        Height against the one expected of this amount, and its interval; None where not measured.
    """

    neat_position: float
    neat_error: float
    expected_position: float
    expected_error: float
    found_position: float | None
    found_error: float | None
    shift: float | None
    shift_low: float | None
    shift_high: float | None
    margin: float
    neat_height: float
    found_height: float
    critical_height: float
    neat_width: float
    found_width: float | None
    verdict: str
    detected: bool
    masked: bool
    evidence: float
    p_value: float
    p_adjusted: float
    assignment: str = ""
    source: str = ""
    checked: str = ""
    confidence: float | None = None
    optical_bound: float | None = None
    fate: str = NOT_JUDGED
    ratio: float | None = None
    ratio_low: float | None = None
    ratio_high: float | None = None


@dataclass(frozen=True)
class Layer:
    """Whether there is anything on the surface that bare specimens do not show.

    Attributes
    ----------
    verdict
        ``shown``, ``not shown`` or ``cannot tell``.
    reasons : tuple of Reason
    p_value
        Chance of as much difference on a bare specimen; None with too few of them.
    looks_like : tuple of str
        Coatings of the study, or materials of the tables, that it looks like.
    """

    verdict: str
    reasons: tuple[Reason, ...]
    p_value: float | None = None
    looks_like: tuple[str, ...] = ()


@dataclass(frozen=True)
class BandSupport:
    """What one band of the coating says by itself in the joint fit.

    Attributes
    ----------
    position, low, high
        Maximum of the band in the expected shape and the stretch it was fitted on, cm-1.
    amount, error
        Amount this band alone asks for, and its widened standard error.
    critical_amount, detectable_amount
        For this band alone, before the correction for several bands.
    t, p_value, p_adjusted
        Student's t, one-sided p, and p after Holm over the unmasked bands.
    masked
        The substrate's variation makes this band useless here: known before the sample is looked at.
    supports
        Unmasked, and found on its own.
    """

    position: float
    low: float
    high: float
    amount: float
    error: float
    critical_amount: float
    detectable_amount: float
    t: float
    p_value: float
    p_adjusted: float
    masked: bool
    supports: bool


@dataclass(frozen=True)
class Misfit:
    """A stretch where the sample differs from bare substrate plus coatings as no bare spot does.

    Attributes
    ----------
    low, high
        The stretch, cm-1.
    ratio
        Variance of the sample's residual over that of left-out bare spots.
    p_value
        Before the correction for the number of stretches.
    height
        Residual of largest size in the stretch, absorbance.
    """

    low: float
    high: float
    ratio: float
    p_value: float
    height: float


@dataclass(frozen=True)
class Presence:
    """Is the coating there? ``amount`` and its limits are in units of the neat spectrum (neat = 1).

    ``thickness_nm`` and every other length are None where the geometry is unknown.

    Attributes
    ----------
    remedies
        What to do about a ``cannot tell``; one code for each cause.
    confidence
        Level of the intervals of amount and thickness, 0 to 1; None where they were not computed.
    evidence, degrees
        Student's t of the amount and its degrees of freedom.
    widening
        Factor by which left-out bare spots widened the model's error.
    chi_square
        Squared residual per point in units of the model; about one when the fit is good.
    pattern_p
        Chance of band amounts as unequal as these if the coating's pattern is right.
    separability
        For every other coating of the sample: correlation of the two amounts' shapes.
    attenuation_nm, attenuation_low_nm, attenuation_high_nm
        Thickness from the weakening of the substrate's own bands: a second, independent value.
    """

    verdict: str
    reasons: tuple[Reason, ...]
    amount: float | None
    amount_low: float | None
    amount_high: float | None
    critical_amount: float | None
    detectable_amount: float | None
    p_value: float | None
    spots: int
    specimens: int
    thickness_nm: float | None = None
    thickness_low_nm: float | None = None
    thickness_high_nm: float | None = None
    confidence: float | None = None
    remedies: tuple[Reason, ...] = ()
    evidence: float | None = None
    degrees: float | None = None
    widening: float | None = None
    critical_nm: float | None = None
    detectable_nm: float | None = None
    chi_square: float | None = None
    pattern_p: float | None = None
    separability: Mapping[str, float] = field(default_factory=dict)
    band_evidence: tuple[BandSupport, ...] = ()
    misfits: tuple[Misfit, ...] = ()
    attenuation_nm: float | None = None
    attenuation_low_nm: float | None = None
    attenuation_high_nm: float | None = None


@dataclass(frozen=True)
class Chemistry:
    """Did the chemistry survive? ``unchanged``, ``changed`` or ``cannot tell``."""

    verdict: str
    reasons: tuple[Reason, ...]


@dataclass(frozen=True)
class PossibleCause:
    """A process, known for the material, that could have changed a band: a candidate, not a finding.

    Attributes
    ----------
    position
        Of the changed band, cm-1.
    direction
        ``new``, ``lost``, ``higher``, ``lower``, ``up`` or ``down``.
    process, effect
        What happens, and what it does to the band.
    source, checked
        From the tables.
    """

    position: float
    direction: str
    process: str
    effect: str
    source: str
    checked: str


@dataclass(frozen=True)
class Candidate:
    """A material or functional group of the tables that fits an unexplained band.

    Attributes
    ----------
    position
        Its usual position, cm-1; of a range the middle.
    low, high
        The range, where the source gives a range and no position within it; else None.
    look_for
        Other bands it shows, cm-1.
    """

    material: str
    assignment: str
    position: float
    source: str
    checked: str
    look_for: tuple[float, ...] = ()
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Unexplained:
    """A band of the sample that neither substrate nor coating accounts for; negative height: a lost band."""

    position: float
    height: float
    width: float
    evidence: float
    candidates: tuple[Candidate, ...]


@dataclass(frozen=True)
class Residue:
    """One named residue looked for in one sample.

    Attributes
    ----------
    bands : tuple of float, cm-1
        Where it was seen.
    detectable
        For a residue that was measured: smallest amount of its own spectrum that would have been found.
    detectable_height, detectable_at
        For one that was not: smallest height, absorbance, that would have been found of its best band, and
        where that band is, cm-1. None where nothing could be.
    hidden : tuple of float, cm-1
        Its bands that substrate or coating hide.
    recalled : tuple of float, cm-1
        Its places looked at that stand in the tables from memory: no source was read for them.
    """

    name: str
    verdict: str
    reasons: tuple[Reason, ...]
    bands: tuple[float, ...] = ()
    detectable: float | None = None
    hidden: tuple[float, ...] = ()
    detectable_height: float | None = None
    detectable_at: float | None = None
    recalled: tuple[float, ...] = ()


@dataclass(frozen=True)
class SpecimenAmount:
    """The amount of one coating on one specimen, from its spots."""

    specimen: str
    amount: float
    amount_low: float | None
    amount_high: float | None
    spots: tuple[float, ...]


@dataclass(frozen=True)
class SpikeLevel:
    """What was found of one spike.

    Attributes
    ----------
    multiple
        Spike in units of the amount stated as detectable.
    found, of
        Trials called present, and all trials.
    recovery, recovery_sd
        Mean amount found over amount added, and its scatter; None for no spike.
    covered
        Trials whose interval held the true amount.
    """

    multiple: float
    found: int
    of: int
    recovery: float | None
    recovery_sd: float | None
    covered: int


@dataclass(frozen=True)
class SpikeRecovery:
    """Detection curve of one coating.

    Attributes
    ----------
    levels : tuple of SpikeLevel
        By rising spike.
    detectable_low, detectable_high
        Smallest and largest detectable amount stated in the trials.
    held_back, learned_from
        Bare specimens in each trial sample, and those left to learn from.
    """

    levels: tuple[SpikeLevel, ...]
    detectable_low: float
    detectable_high: float
    held_back: int
    learned_from: int


@dataclass(frozen=True)
class MaterialFit:
    """A material of the tables that fits found bands.

    Attributes
    ----------
    material
    bands : tuple of float, cm-1
        Usual positions of its strong bands that were found.
    sources : tuple of str
        Of these positions.
    """

    material: str
    bands: tuple[float, ...]
    sources: tuple[str, ...]


@dataclass(frozen=True)
class MaterialCheck:
    """Neat or bare spectra beside what the tables say of the material they are stated to be.

    Attributes
    ----------
    role, group
        Of the spectra.
    stated, material
        As the study names it, and its name in the tables; None if they do not hold it.
    verdict
        ``agrees``, ``doubtful`` or ``cannot tell``.
    reasons : tuple of Reason
        Of a doubt.
    found, missing : tuple of float, cm-1
        Usual positions of the material's visible strong bands that are there and that are not.
    better : tuple of MaterialFit
        Materials that fit better, the one that explains most first.
    """

    role: str
    group: str
    stated: str
    material: str | None
    verdict: str
    reasons: tuple[Reason, ...]
    found: tuple[float, ...]
    missing: tuple[float, ...]
    better: tuple[MaterialFit, ...]


@dataclass(frozen=True)
class Assigned:
    """What the reference tables say of a band; empty where nothing fits."""

    assignment: str = ""
    source: str = ""
    checked: str = ""
