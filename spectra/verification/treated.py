"""Treated against untreated material, without a coating: what changed in it.

The material's own bands are followed as those of a substrate are (position with its interval against the
margin), and the whole spectrum is searched for absorption that is new or missing. The same error rates hold
as for a coated sample.
"""

from __future__ import annotations

import numpy as np

from spectra.assignment.assignment import assign
from spectra.assignment.causes import possible_causes
from spectra.chemistry.band_tests import look_for_bands
from spectra.chemistry.shifts import measure_shift
from spectra.chemistry.verdict import Judged, band_finding, judge_bands_at_rest
from spectra.detection.capability import average_sample
from spectra.findings import CANNOT_TELL, CHANGED, UNCHANGED, Chemistry, Reason
from spectra.peaks.window_fit import Others
from spectra.replicates import units_of
from spectra.residues.search import Search, search_residual, sought_beside
from spectra.residues.unexplained import explain_bumps
from spectra.residues.watched import judge_watched
from spectra.study.records import Study
from spectra.variation.model import nuisance_basis, project_out
from spectra.verification.films import Measured
from spectra.verification.model import StudyModel
from spectra.verification.result import SampleFinding, SubstrateFinding
from spectra.verification.substrate import RESTING


def judge_treated(measured: Measured, study: Study, model: StudyModel) -> SampleFinding:
    """Say what changed in a treated material.

    Parameters
    ----------
    measured : Measured
        A sample without coatings.
    study : Study
    model : StudyModel
        With a variation and a bank.
    """
    if model.coarse is None or model.bank is None:
        raise TypeError("judge_treated needs a variation and a bank")  # a fault of the caller
    settings, residues = study.settings, study.settings.residues
    # The bank's bumps stand on the coarser points.
    sample = average_sample(measured.raw, model.coarse)
    sought = sought_beside(sample.mean, sample.variance, model.coarse, [], residues)
    search = search_residual(sought, model.bank, residues.most)
    unexplained = explain_bumps(search.found, model.table, study.watch, residues, settings.suggestions)
    substrate = _follow(measured, study, model, search)
    if substrate.chemistry.verdict == CHANGED:
        material = study.substrate.material or study.substrate.name
        causes = possible_causes(substrate.chemistry.reasons, unexplained, material, model.table)
        substrate = SubstrateFinding(substrate.bands, substrate.chemistry, causes)
    rest = project_out(nuisance_basis(model.coarse), sample.mean)[0]
    points = model.coarse.reduction.points
    return SampleFinding(
        name=measured.group.name,
        coatings={},
        substrate=substrate,
        unexplained=unexplained,
        residues={
            name: judge_watched(name, search, settings.decision, residues, model.table, None)
            for name in study.watch
        },
        evenness={},
        difference=np.asarray(np.interp(measured.raw.grid, points, model.coarse.factor @ rest)),
        unexplained_more=len(search.found) - len(unexplained),
    )


def _follow(measured: Measured, study: Study, model: StudyModel, search: Search) -> SubstrateFinding:
    """Follow the material's bands; new and missing ones count as a change."""
    decision, treated, bare = study.settings.decision, units_of(measured.levelled), units_of(model.bare)
    if len(bare) < 2:
        return SubstrateFinding((), Chemistry(CANNOT_TELL, (Reason("too-few-bare", {"needed": 2}),)))
    nothing = Others(np.zeros((model.bare.grid.size, 0)), np.zeros(0))
    material = study.substrate.material or study.substrate.name
    rows = treated.rows - bare.rows.mean(axis=0)
    judged = [
        Judged(
            item,
            measure_shift(item, rows, model.substrate, nothing, model.bare.grid, decision, RESTING),
            assign(item.peak, material, model.table),
            RESTING,
        )
        for item in look_for_bands(treated, bare, model.substrate, nothing, model.bare, decision)
    ]
    bands = tuple(sorted((band_finding(j, decision) for j in judged), key=lambda b: -b.expected_position))
    return SubstrateFinding(bands, _with_bumps(judge_bands_at_rest(bands, decision), search))


def _with_bumps(chemistry: Chemistry, search: Search) -> Chemistry:
    """Take bands that are new or missing for a change; a chemistry that looks unchanged is then not."""
    new = tuple(bump.position for bump in search.found if bump.height > 0)
    gone = tuple(bump.position for bump in search.found if bump.height < 0)
    reasons = [Reason("new-bands", {"positions": new})] if new else []
    reasons += [Reason("missing-absorption", {"positions": gone})] if gone else []
    if not reasons:
        return chemistry
    kept = chemistry.reasons if chemistry.verdict != UNCHANGED else ()
    return Chemistry(CHANGED, (*kept, *reasons))
