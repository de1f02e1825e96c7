"""What is left behind on one sample: the search for unexplained bands, and the residues asked for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from spectra.detection.presence import decide_presence, yardstick_for
from spectra.filmfit.model import Ground, soften
from spectra.filmfit.posterior import Fit, computed_signal
from spectra.findings import CHANGED, NOT_SHOWN, Presence, Reason, Residue
from spectra.peaks.line_shape import FOUR_LN2
from spectra.residues.search import Search, Sought, search_residual, sought_beside
from spectra.residues.watched import judge_watched, residue_places
from spectra.study.records import Study
from spectra.study.settings import Settings
from spectra.units import FloatArray
from spectra.verification.films import Films
from spectra.verification.model import StudyModel
from spectra.verification.result import CoatingFinding


def search_left_over(films: Films, settings: Settings, model: StudyModel) -> Search:
    """Ask the whole spectrum for bands that nothing expected explains."""
    if model.bank is None:
        raise TypeError("search_left_over needs a bank")  # a fault of the caller, not of the data
    if not films.named:
        return search_residual(_beside_shapes(films, settings), model.bank, settings.residues.most)
    ground = _ground_of_all([films.accounts[name].fit for name in films.named])
    bank = replace(model.bank, whitened=ground.softened(model.bank.whitened))
    return search_residual(_beside_fits(films, ground, settings), bank, settings.residues.most)


def _ground_of_all(fits: Sequence[Fit]) -> Ground:
    """Return the ground on which the errors of all computed films are allowed for."""
    first = fits[0].target
    if len(fits) == 1 or first.model.hard is None:
        return first.model.ground
    signal = np.sqrt(np.sum([computed_signal(fit) ** 2 for fit in fits], axis=0))
    return soften(first.model.hard.ground, signal, first.scale, first.model.settings.computed)


def _beside_shapes(films: Films, settings: Settings) -> Sought:
    """Nothing was recognised: the expected shapes are taken out at whatever amount they take."""
    reduce = films.coarse.reduction.apply
    coatings = [
        (films.presence[name].amount or 0.0, reduce(shape.curve)) for name, shape in films.shapes.items()
    ]
    return sought_beside(films.sample.mean, films.sample.variance, films.coarse, coatings, settings.residues)


def _beside_fits(films: Films, ground: Ground, settings: Settings) -> Sought:
    """Take the fitted films out; all their unknowns go along with a bump, under their priors."""
    fits = [films.accounts[name].fit for name in films.named]
    scale = fits[0].target.scale
    rest = films.sample.reduced.mean(axis=0) - ground.bare - np.sum([fit.change for fit in fits], axis=0)
    sample, tolerated = ground.clear(rest[None])[0], []
    for fit in fits:
        centre, sd = fit.prior
        # Bands that are none of the coating's are not taken out: they are what is looked for.
        kept = [i for i in range(len(fit.rows)) if i not in fit.other_rows]
        rows = ground.carried(fit.target.model.ground.hardened(fit.rows[kept])) * scale
        sample = sample + (fit.values - centre)[kept] @ rows
        tolerated.append(sd[kept, None] * rows)
    unnamed = [films.shapes[name].curve for name in films.shapes if name not in films.named]
    if unnamed:
        curves = films.coarse.reduction.apply(np.array(unnamed))
        tolerated.append(FREE * ground.clear(curves))
    tallest = max(float(np.ptp(fit.change)) for fit in fits)
    variance = scale**2 * max(fit.growth for fit in fits)
    return Sought(
        sample[None], ground.held, np.vstack(tolerated), variance, settings.residues.smallest * tallest
    )


FREE = 1e2  # amount of an unrecognised coating that is taken out: any


def suspected_rows(search: Search, films: Films, study: Study, model: StudyModel) -> FloatArray:
    """Return the bands of watched residues of which two or more show, as bumps of height one, (m, r)."""
    points, rows = films.points, []
    decision, settings = study.settings.decision, study.settings.residues
    for name in study.watch:
        shown = judge_watched(name, search, decision, settings, model.table, None)
        if len(shown.bands) < settings.watched_bands:
            continue
        for place in residue_places(name, search, settings, model.table):
            rows.append(np.exp(-FOUR_LN2 * ((points - place) / settings.band_width) ** 2))
    return np.reshape(rows, (len(rows), points.size))


def judge_residues(
    films: Films, search: Search, coatings: Mapping[str, CoatingFinding], study: Study, model: StudyModel
) -> Mapping[str, Residue]:
    """Judge the watched and the measured residues."""
    doubt = _doubt(films, coatings, model)
    found = {
        name: judge_watched(
            name, search, study.settings.decision, study.settings.residues, model.table, doubt
        )
        for name in study.watch
    }
    if not model.residues:
        return found
    shapes = {**films.shapes, **model.residues}
    settings = study.settings.presence
    yardstick = yardstick_for(shapes, films.variation, settings)
    decided = decide_presence(
        films.measured.raw, films.variation, shapes, study.settings.decision, settings, yardstick
    )
    return found | {name: _measured_residue(name, decided[name]) for name in model.residues}


def _measured_residue(name: str, presence: Presence) -> Residue:
    """Word a measured residue; a negative amount of something unexpected means that it is not shown."""
    seen = tuple(band.position for band in presence.band_evidence if band.supports)
    looked_for = tuple(band.position for band in presence.band_evidence if not band.masked)
    hidden = tuple(band.position for band in presence.band_evidence if band.masked)
    limit = presence.detectable_amount
    if presence.verdict == NOT_SHOWN or any(r.code == "negative-amount" for r in presence.reasons):
        reason = Reason("residue-not-seen", {"bands": looked_for, "hidden": hidden})
        return Residue(name, NOT_SHOWN, (reason,), seen, limit, hidden)
    return Residue(name, presence.verdict, presence.reasons, seen, limit, hidden)


def _doubt(films: Films, coatings: Mapping[str, CoatingFinding], model: StudyModel) -> str | None:
    """Return what else than a residue may cause unexplained bands on this sample."""
    if any(finding.chemistry.verdict == CHANGED for finding in coatings.values()):
        return "residue-or-change"
    technique = films.measured.group.technique
    uncomputed = any(model.predictions[name, technique].optics is None for name in coatings)
    return "residue-or-optics" if uncomputed and technique != "transmission" else None
