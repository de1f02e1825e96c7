"""The substrate's own bands, coated against bare, on levelled spectra."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from spectra.assignment.assignment import assign
from spectra.chemistry.band_tests import BandEvidence, look_for_bands
from spectra.chemistry.shifts import measure_shift
from spectra.chemistry.verdict import Judged, band_finding, judge_bands_at_rest
from spectra.findings import CANNOT_TELL, CHANGED, SHOWN, UNCHANGED, Chemistry, Reason
from spectra.peaks.window_fit import COATING_SPREAD, Others
from spectra.replicates import units_of
from spectra.study.records import Study
from spectra.units import FloatArray
from spectra.verification.films import Films, Measured
from spectra.verification.model import StudyModel
from spectra.verification.result import CoatingFinding, SubstrateFinding

FEWEST_BARE = 2

# A coating not shown unchanged hides a substrate band where its share is this much of the band's height.
OVERLAP = 0.1

RESTING = 1.0  # the substrate's heights are measured as changes from the bare mean


def judge_substrate(
    measured: Measured,
    films: Films,
    coatings: Mapping[str, CoatingFinding],
    study: Study,
    model: StudyModel,
) -> SubstrateFinding:
    """Follow the substrate's own bands, coated against bare.

    Parameters
    ----------
    measured : Measured
    films : Films
    coatings : mapping of str to CoatingFinding
    study : Study
    model : StudyModel
    """
    decision, sample, bare = study.settings.decision, units_of(measured.levelled), units_of(model.bare)
    if len(bare) < FEWEST_BARE:
        return SubstrateFinding(
            (), Chemistry(CANNOT_TELL, (Reason("too-few-bare", {"needed": FEWEST_BARE}),))
        )
    own = {name: _own(name, films, model) for name in measured.group.coatings}
    columns = np.reshape(np.array(list(own.values())).T, (model.bare.grid.size, len(own)))
    others = Others(columns, np.full(len(own), COATING_SPREAD))
    evidence = look_for_bands(sample, bare, model.substrate, others, model.bare, decision)
    open_ = [name for name, found in coatings.items() if found.chemistry.verdict != UNCHANGED]
    evidence = _hide_overlapped(evidence, [films.amount_of(name) * own[name] for name in open_])
    material = study.substrate.material or study.substrate.name
    rows = sample.rows - bare.rows.mean(axis=0)
    judged = [
        Judged(
            item,
            measure_shift(item, rows, model.substrate, others, model.bare.grid, decision, RESTING),
            assign(item.peak, material, model.table),
            RESTING,
        )
        for item in evidence
    ]
    bands = tuple(sorted((band_finding(j, decision) for j in judged), key=lambda b: -b.expected_position))
    chemistry = judge_bands_at_rest(bands, decision)
    if chemistry.verdict == CHANGED and films.layer.verdict == SHOWN and not films.named:
        return SubstrateFinding(bands, Chemistry(CANNOT_TELL, (Reason("layer-over-substrate"),)))
    return SubstrateFinding(bands, chemistry)


def _own(name: str, films: Films, model: StudyModel) -> FloatArray:
    """Return a coating's own spectrum on the grid, per unit amount."""
    grid = model.bare.grid
    if name in films.named:
        curve = films.accounts[name].own / max(films.amount_of(name), 1e-12)
        return np.asarray(np.interp(grid, films.points, curve))
    return films.references[name].shape


def _hide_overlapped(
    evidence: Sequence[BandEvidence], covers: Sequence[FloatArray]
) -> tuple[BandEvidence, ...]:
    """Mask the substrate's bands that lie under bands of a coating not shown unchanged."""
    cover = np.sum([np.abs(curve) for curve in covers], axis=0) if covers else None
    return tuple(
        replace(item, masked=True)
        if cover is not None
        and item.window is not None
        and cover[item.window.points].max() > OVERLAP * item.height
        else item
        for item in evidence
    )
