"""What is left behind on one sample: the search for unexplained bands, and the residues asked for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from spectra.chemistry.band_rule import presence_by_bands
from spectra.chemistry.band_tests import BandEvidence, look_for_bands
from spectra.detection.capability import average_sample
from spectra.findings import CHANGED, NOT_SHOWN, Presence, Reason, Residue
from spectra.residues.search import Search, search_residual
from spectra.residues.watched import judge_watched
from spectra.verification.model import Coated, Scene, others_of
from spectra.verification.result import CoatingFinding


def search_left_over(coated: Coated, scene: Scene) -> Search | None:
    """Ask the whole spectrum for bands that nothing expected explains."""
    variation = scene.variation
    if variation is None or scene.bumps is None:
        return None
    sample = average_sample(coated.raw, variation)
    coatings = [
        (coated.presence[name].amount or 0.0, variation.reduction.apply(coated.changes[name]))
        for name in coated.references
    ]
    settings = scene.study.settings.residues
    return search_residual(sample.mean, sample.variance, variation, coatings, scene.bumps, settings)


def judge_residues(
    coated: Coated, search: Search | None, coatings: Mapping[str, CoatingFinding], scene: Scene
) -> Mapping[str, Residue]:
    """Judge the watched and the measured residues."""
    decision, sample, bare = scene.study.settings.decision, coated.units, scene.units
    doubt = _doubt(coated, coatings)
    found: dict[str, Residue] = {}
    if search is not None:
        for name in scene.study.watch:
            found[name] = judge_watched(name, search, decision.alpha, scene.table, doubt)
    for name, reference in scene.residues.items():
        others = others_of(scene, list(coated.references.values()))
        evidence = look_for_bands(sample, bare, reference, others, scene.bare, decision)
        presence = presence_by_bands(evidence, sample, bare, len(coated.levelled), decision)
        found[name] = _measured_residue(name, presence, evidence)
    return found


def _measured_residue(name: str, presence: Presence, evidence: Sequence[BandEvidence]) -> Residue:
    """Word a measured residue; a negative amount of something unexpected means that it is not shown."""
    seen = tuple(item.expected for item in evidence if item.detected)
    if any(reason.code == "negative-amount" for reason in presence.reasons):
        looked_for = tuple(item.expected for item in evidence if not item.masked)
        return Residue(name, NOT_SHOWN, (Reason("residue-not-seen", {"bands": looked_for}),), seen)
    return Residue(name, presence.verdict, presence.reasons, seen)


def _doubt(coated: Coated, coatings: Mapping[str, CoatingFinding]) -> str | None:
    """Return what else than a residue may cause unexplained bands on this sample."""
    if any(finding.chemistry.verdict == CHANGED for finding in coatings.values()):
        return "residue-or-change"
    uncomputed = any(prediction.optics is None for prediction in coated.predictions.values())
    return "residue-or-optics" if uncomputed and coated.group.technique != "transmission" else None
