"""One sample judged: presence, chemistry, what is left behind, how much and how evenly.

Presence and amounts come from the joint model on raw spectra (``spectra.detection.presence``). The bands,
their positions and relative heights are then followed one by one on levelled spectra, against the spectrum
that unchanged chemistry gives at the thickness found (``spectra.optics.prediction``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from spectra.assignment.assignment import assign
from spectra.assignment.causes import possible_causes
from spectra.chemistry.band_rule import BARE_NEEDED
from spectra.chemistry.band_tests import BandEvidence, look_for_bands
from spectra.chemistry.shifts import measure_shift
from spectra.chemistry.verdict import Judged, band_finding, changed_ratios, judge_chemistry
from spectra.comparison.evenness import amounts_by_specimen
from spectra.detection.presence import decide_presence
from spectra.findings import (
    CANNOT_TELL,
    CHANGED,
    Chemistry,
    Presence,
    Reason,
    Residue,
    SpecimenAmount,
    Unexplained,
)
from spectra.groups import Group
from spectra.optics.prediction import Prediction, at_thickness, change_at
from spectra.peaks.reference import Reference
from spectra.peaks.window_fit import Others
from spectra.residues.unexplained import explain_bumps
from spectra.spectrum import Stack
from spectra.verification.left_behind import judge_residues, search_left_over
from spectra.verification.model import Coated, Scene, around, others_of
from spectra.verification.result import CoatingFinding, SampleFinding, SubstrateFinding

SHOWN_UNEXPLAINED = 12

# A changed coating hides a substrate band where its expected share is this much of the band's height.
OVERLAP = 0.1


def judge_sample(group: Group, raw: Stack, levelled: Stack, scene: Scene) -> SampleFinding:
    """Judge one sample.

    Parameters
    ----------
    group : Group
        The sample as the study describes it.
    raw, levelled : Stack
        Its spots as measured, and after baseline and normalising.
    scene : Scene
    """
    coated = _with_presence(group, raw, levelled, scene)
    if len(scene.units) < BARE_NEEDED:
        return _unjudged(coated, scene)
    evidence = {name: _evidence(name, coated, scene) for name in group.coatings}
    coatings = {name: _judge_coating(name, evidence[name], coated, scene) for name in group.coatings}
    search = search_left_over(coated, scene)
    bumps = search.found if search else ()
    unexplained = explain_bumps(bumps, SHOWN_UNEXPLAINED, scene.table, scene.study.watch)
    coatings = {name: _with_causes(found, unexplained, scene) for name, found in coatings.items()}
    return SampleFinding(
        name=group.name,
        coatings=coatings,
        substrate=_judge_substrate(coated, coatings, scene),
        unexplained=unexplained,
        residues=judge_residues(coated, search, coatings, scene),
        evenness={name: _evenness(name, evidence[name], coated, scene) for name in group.coatings},
        difference=coated.units.rows.mean(axis=0) - scene.units.rows.mean(axis=0),
        unexplained_more=len(bumps) - len(unexplained),
        expected={
            name: (coated.presence[name].amount or 0.0) * reference.shape
            for name, reference in coated.references.items()
        },
    )


def _with_presence(group: Group, raw: Stack, levelled: Stack, scene: Scene) -> Coated:
    """Decide on presence, and take the bands' references at the thickness found."""
    settings = scene.study.settings
    predictions = {name: scene.predictions[name, group.technique] for name in group.coatings}
    shapes = {name: prediction.shape for name, prediction in predictions.items()}
    presence = decide_presence(raw, scene.variation, shapes, settings.decision, settings.presence)
    references = {name: _reference(predictions[name], presence[name]) for name in group.coatings}
    changes = {name: change_at(predictions[name], presence[name].thickness_nm) for name in group.coatings}
    return Coated(group, raw, levelled, predictions, presence, references, changes)


def _reference(prediction: Prediction, presence: Presence) -> Reference:
    """Return the bands' reference at the thickness found, if one was."""
    nm, low, high = presence.thickness_nm, presence.thickness_low_nm, presence.thickness_high_nm
    if nm is None or low is None or high is None:
        return prediction.reference
    return at_thickness(prediction, nm, max(low, 0.3 * nm), high)


def _with_causes(finding: CoatingFinding, unexplained: Sequence[Unexplained], scene: Scene) -> CoatingFinding:
    """Put possible causes beside a changed coating."""
    if finding.chemistry.verdict != CHANGED:
        return finding
    material = finding.material or finding.name
    causes = possible_causes(finding.chemistry.reasons, unexplained, material, scene.table)
    return replace(finding, causes=causes)


def _evidence(name: str, coated: Coated, scene: Scene) -> tuple[BandEvidence, ...]:
    """Look for the bands of one coating."""
    others, decision = around(name, coated, scene), scene.study.settings.decision
    return look_for_bands(coated.units, scene.units, coated.references[name], others, scene.bare, decision)


def _judge_coating(
    name: str, evidence: Sequence[BandEvidence], coated: Coated, scene: Scene
) -> CoatingFinding:
    """Follow the bands of one coating and judge its chemistry."""
    decision, coating = scene.study.settings.decision, scene.study.coatings[name]
    prediction, reference = coated.predictions[name], coated.references[name]
    others = around(name, coated, scene)
    judged = _judged(evidence, coated, reference, others, coating.material or coating.name, scene)
    judged = [replace(j, optical=bound) for j, bound in zip(judged, prediction.optical_bounds, strict=True)]
    bands = tuple(sorted((band_finding(j, decision) for j in judged), key=lambda b: -b.expected_position))
    if not prediction.comparable:
        techniques = {"neat_technique": coating.technique, "sample_technique": coated.group.technique}
        chemistry = Chemistry(CANNOT_TELL, (Reason("not-like-with-like", techniques),))
        bands = tuple(replace(band, verdict=CANNOT_TELL) for band in bands)
    else:
        sure = prediction.optics is not None or coated.group.technique == "transmission"
        ratios = changed_ratios(evidence, decision, prediction.shape.tolerance if sure else None)
        chemistry = judge_chemistry(bands, decision, ratios, prediction.note, coated.presence[name])
    return CoatingFinding(name, coating.material, coated.presence[name], bands, chemistry)


def _judged(
    evidence: Sequence[BandEvidence],
    coated: Coated,
    reference: Reference,
    others: Others,
    material: str,
    scene: Scene,
    resting: float = 0.0,
) -> list[Judged]:
    """Measure the shift of every band and look its assignment up."""
    decision, grid = scene.study.settings.decision, scene.bare.grid
    rows = coated.units.rows - scene.units.rows.mean(axis=0)
    return [
        Judged(
            item,
            measure_shift(item, rows, reference, others, grid, decision, resting),
            assign(item.peak, material, scene.table),
            resting,
        )
        for item in evidence
    ]


def _judge_substrate(
    coated: Coated, coatings: Mapping[str, CoatingFinding], scene: Scene
) -> SubstrateFinding:
    """Follow the substrate's own bands, coated against bare."""
    decision, group = scene.study.settings.decision, scene.study.substrate
    others = others_of(scene, list(coated.references.values()), substrate=False)
    evidence = look_for_bands(coated.units, scene.units, scene.substrate, others, scene.bare, decision)
    evidence = _hide_overlapped(evidence, coated, coatings)
    material = group.material or group.name
    judged = _judged(evidence, coated, scene.substrate, others, material, scene, resting=1.0)
    bands = tuple(sorted((band_finding(j, decision) for j in judged), key=lambda b: -b.expected_position))
    return SubstrateFinding(bands, judge_chemistry(bands, decision))


def _hide_overlapped(
    evidence: Sequence[BandEvidence], coated: Coated, coatings: Mapping[str, CoatingFinding]
) -> tuple[BandEvidence, ...]:
    """Mask the substrate's bands that lie under bands of a changed coating: what moved there is its own."""
    changed = [name for name, found in coatings.items() if found.chemistry.verdict == CHANGED]
    cover = sum(
        (abs(coated.presence[n].amount or 0.0) * np.abs(coated.references[n].shape) for n in changed),
        np.zeros(coated.levelled.grid.size),
    )
    return tuple(
        replace(item, masked=True)
        if item.window is not None and cover[item.window.points].max() > OVERLAP * item.height
        else item
        for item in evidence
    )


def _evenness(
    name: str, evidence: Sequence[BandEvidence], coated: Coated, scene: Scene
) -> tuple[SpecimenAmount, ...]:
    """Return the amounts on every specimen, the contact of each spot levelled out."""
    reference, others = coated.references[name], around(name, coated, scene)
    decision = scene.study.settings.decision
    return amounts_by_specimen(coated.levelled, scene.bare.mean, evidence, reference.shape, others, decision)


def _unjudged(coated: Coated, scene: Scene) -> SampleFinding:
    """Return the finding for a study with too few bare spectra."""
    reason = Reason("too-few-bare", {"found": len(scene.units), "needed": BARE_NEEDED})
    unknown = Chemistry(CANNOT_TELL, (reason,))
    coatings = {
        name: CoatingFinding(name, scene.study.coatings[name].material, presence, (), unknown)
        for name, presence in coated.presence.items()
    }
    residues = {name: Residue(name, CANNOT_TELL, (reason,)) for name in scene.study.watch}
    difference = coated.units.rows.mean(axis=0) - scene.bare.mean
    return SampleFinding(
        coated.group.name, coatings, SubstrateFinding((), unknown), (), residues, {}, difference
    )
