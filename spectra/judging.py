"""One sample judged: presence, chemistry, what is left behind, how much and how evenly."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from reference_bands import BandTable
from spectra.amount import amounts_by_specimen
from spectra.assigning import assign, explain_bump, judge_watched
from spectra.bandfit import COATING_SPREAD, SUBSTRATE_SPREAD, Others
from spectra.bandtest import BandEvidence, Reference, Shift, look_for_bands, measure_shift
from spectra.bandverdict import BARE_NEEDED, presence_by_bands, presence_unknown
from spectra.chemistry import band_finding, changed_ratios, judge_chemistry
from spectra.findings import (
    CANNOT_TELL,
    BandFinding,
    Chemistry,
    CoatingFinding,
    Reason,
    Residue,
    SampleFinding,
    SpecimenAmount,
    SubstrateFinding,
    Unexplained,
)
from spectra.replicates import Units, units_of
from spectra.residues import find_residual
from spectra.spectrum import Stack
from spectra.study import Group, Study
from spectra.units import FloatArray


@dataclass(frozen=True, eq=False)
class Scene:
    """Everything that is the same for all samples of a study.

    Attributes
    ----------
    study : Study
    bare : Stack
        Levelled bare spots.
    substrate : Reference
    coatings, residues : mapping of str to Reference
    table : BandTable
    """

    study: Study
    bare: Stack
    substrate: Reference
    coatings: Mapping[str, Reference]
    residues: Mapping[str, Reference]
    table: BandTable

    @property
    def units(self) -> Units:
        """Bare units of replication."""
        return units_of(self.bare)


def judge_sample(group: Group, coated: Stack, scene: Scene) -> SampleFinding:
    """Judge one sample.

    Parameters
    ----------
    group : Group
        The sample as the study describes it.
    coated : Stack
        Its levelled spots.
    scene : Scene
    """
    expected = {name: scene.coatings[name] for name in group.coatings}
    sample, bare = units_of(coated), scene.units
    if len(bare) < BARE_NEEDED:
        return _unjudged(group, coated, sample, scene)
    evidence = {name: _evidence(name, sample, bare, expected, scene) for name in expected}
    shown = {
        name: _judge_coating(name, evidence[name], sample, expected, len(coated), group, scene)
        for name in expected
    }
    unexplained, difference = _left_over(sample, bare, expected, coated, scene)
    return SampleFinding(
        name=group.name,
        coatings=shown,
        substrate=_judge_substrate(sample, bare, expected, scene),
        unexplained=unexplained,
        residues=_judge_residues(sample, bare, expected, unexplained, len(coated), scene),
        evenness={name: _evenness(name, coated, evidence[name], expected, scene) for name in expected},
        difference=difference,
    )


def _others(scene: Scene, shapes: Sequence[Reference], substrate: bool = True) -> Others:
    """Return what else varies: the substrate if asked for, and other coatings."""
    columns = [scene.substrate.shape] * substrate + [shape.shape for shape in shapes]
    spread = [SUBSTRATE_SPREAD] * substrate + [COATING_SPREAD] * len(shapes)
    return Others(np.reshape(np.array(columns).T, (scene.bare.grid.size, len(columns))), np.array(spread))


def _around(name: str, expected: Mapping[str, Reference], scene: Scene) -> Others:
    """Return what else varies around one coating."""
    return _others(scene, [shape for other, shape in expected.items() if other != name])


def _evidence(
    name: str, sample: Units, bare: Units, expected: Mapping[str, Reference], scene: Scene
) -> tuple[BandEvidence, ...]:
    """Look for the bands of one coating."""
    others, decision = _around(name, expected, scene), scene.study.settings.decision
    return look_for_bands(sample, bare, expected[name], others, scene.bare, decision)


def _judge_coating(
    name: str,
    evidence: tuple[BandEvidence, ...],
    sample: Units,
    expected: Mapping[str, Reference],
    spots: int,
    group: Group,
    scene: Scene,
) -> CoatingFinding:
    """Judge presence and chemistry of one coating."""
    decision, coating = scene.study.settings.decision, scene.study.coatings[name]
    presence = presence_by_bands(evidence, sample, scene.units, spots, decision)
    shifts = _shifts(evidence, sample, expected[name], _around(name, expected, scene), scene)
    bands = _rows(evidence, shifts, coating.material or coating.name, scene)
    if coating.technique != group.technique:
        techniques = {"neat_technique": coating.technique, "sample_technique": group.technique}
        chemistry = Chemistry(CANNOT_TELL, (Reason("not_like_with_like", techniques),))
    else:
        chemistry = judge_chemistry(bands, decision, changed_ratios(evidence, decision))
    return CoatingFinding(name, coating.material, presence, bands, chemistry)


def _shifts(
    evidence: Sequence[BandEvidence],
    sample: Units,
    reference: Reference,
    others: Others,
    scene: Scene,
    resting: float = 0.0,
) -> list[Shift | None]:
    """Measure the shift of every band."""
    rows = sample.rows - scene.bare.mean if not resting else sample.rows - scene.units.rows.mean(axis=0)
    return [
        measure_shift(item, rows, reference, others, scene.bare.grid, scene.study.settings.decision, resting)
        for item in evidence
    ]


def _rows(
    evidence: Sequence[BandEvidence],
    shifts: Sequence[Shift | None],
    material: str,
    scene: Scene,
    resting: float = 0.0,
) -> tuple[BandFinding, ...]:
    """Put together the band table, by falling wavenumber."""
    rows = [
        band_finding(
            item, shift, assign(item.peak, material, scene.table), scene.study.settings.decision, resting
        )
        for item, shift in zip(evidence, shifts, strict=True)
    ]
    return tuple(sorted(rows, key=lambda row: -row.expected_position))


def _judge_substrate(
    sample: Units, bare: Units, expected: Mapping[str, Reference], scene: Scene
) -> SubstrateFinding:
    """Follow the substrate's own bands, coated against bare."""
    others, decision = _others(scene, list(expected.values()), substrate=False), scene.study.settings.decision
    evidence = look_for_bands(sample, bare, scene.substrate, others, scene.bare, decision)
    shifts = _shifts(evidence, sample, scene.substrate, others, scene, resting=1.0)
    group = scene.study.substrate
    bands = _rows(evidence, shifts, group.material or group.name, scene, resting=1.0)
    return SubstrateFinding(bands, judge_chemistry(bands, decision))


def _left_over(
    sample: Units, bare: Units, expected: Mapping[str, Reference], coated: Stack, scene: Scene
) -> tuple[tuple[Unexplained, ...], FloatArray]:
    """Find unexplained bands and the difference spectrum."""
    shapes = {name: reference.shape for name, reference in expected.items()}
    _, bumps = find_residual(
        sample, bare, shapes, coated.grid, coated.usable, scene.study.settings.residues
    )
    difference = sample.rows.mean(axis=0) - bare.rows.mean(axis=0)
    return tuple(explain_bump(bump, scene.table, scene.study.watch) for bump in bumps), difference


def _judge_residues(
    sample: Units,
    bare: Units,
    expected: Mapping[str, Reference],
    unexplained: Sequence[Unexplained],
    spots: int,
    scene: Scene,
) -> Mapping[str, Residue]:
    """Judge the watched and the measured residues."""
    found = {name: judge_watched(name, unexplained, scene.bare, scene.table) for name in scene.study.watch}
    for name, reference in scene.residues.items():
        others = _others(scene, list(expected.values()))
        evidence = look_for_bands(sample, bare, reference, others, scene.bare, scene.study.settings.decision)
        presence = presence_by_bands(evidence, sample, bare, spots, scene.study.settings.decision)
        seen = tuple(item.expected for item in evidence if item.detected)
        found[name] = Residue(name, presence.verdict, presence.reasons, seen)
    return found


def _evenness(
    name: str,
    coated: Stack,
    evidence: Sequence[BandEvidence],
    expected: Mapping[str, Reference],
    scene: Scene,
) -> tuple[SpecimenAmount, ...]:
    """Return the amounts on every specimen."""
    others, decision = _around(name, expected, scene), scene.study.settings.decision
    return amounts_by_specimen(coated, scene.bare.mean, evidence, expected[name].shape, others, decision)


def _unjudged(group: Group, coated: Stack, sample: Units, scene: Scene) -> SampleFinding:
    """Return the finding for a study with too few bare spectra."""
    reason = Reason("few_bare", {"found": len(scene.units), "needed": BARE_NEEDED})
    unknown = Chemistry(CANNOT_TELL, (reason,))
    coatings = {
        name: CoatingFinding(
            name,
            scene.study.coatings[name].material,
            presence_unknown(reason, sample, len(coated)),
            (),
            unknown,
        )
        for name in group.coatings
    }
    residues = {name: Residue(name, CANNOT_TELL, (reason,)) for name in scene.study.watch}
    difference = sample.rows.mean(axis=0) - scene.bare.mean
    return SampleFinding(group.name, coatings, SubstrateFinding((), unknown), (), residues, {}, difference)
