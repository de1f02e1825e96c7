"""Which of film and blend fits one coating of one sample: curves from its optics, the sample from its fit."""

from __future__ import annotations

from spectra.comparison.layouts import Change, LayoutFit, judge_layout
from spectra.findings import SHOWN
from spectra.optics.blend import blend_change, islands_change
from spectra.optics.film_response import FilmResponse, FilmTable
from spectra.study.records import Study
from spectra.units import FloatArray
from spectra.variation.binning import Reduction
from spectra.verification.films import Films
from spectra.verification.model import StudyModel


def fit_layout(name: str, films: Films, study: Study, model: StudyModel) -> LayoutFit | None:
    """Say whether a coating lies as a film or is mixed in.

    Parameters
    ----------
    name : str
        Of the coating.
    films : Films
    study : Study
    model : StudyModel

    Returns
    -------
    LayoutFit or None
        None where nothing of it is there, or optics are not known: by transmission film and blend are alike.
    """
    technique = films.measured.group.technique
    table = model.predictions[name, technique].table
    if technique != "ATR" or table is None or films.layer.verdict != SHOWN or name not in films.accounts:
        return None
    rest, grid = films.sample.reduced.mean(axis=0), films.measured.raw.grid
    for other in films.shapes:
        if other != name:
            rest = rest - films.coarse.reduction.apply(films.curve_of(other, grid))
    film, *mixed = layout_changes(table, films.coarse.reduction)
    settings = study.settings.comparison
    sample = (rest, films.sample.variance)
    stated = study.coatings[name].layout
    return judge_layout(model.grounds[technique], sample, film, mixed, stated, settings.layout_evidence)


def layout_changes(table: FilmTable, reduction: Reduction) -> tuple[Change, Change, Change]:
    """Return the change by a film of so many nm, by a share mixed in, and by a share in islands."""

    def film(nm: float) -> FloatArray:
        return reduction.apply(FilmResponse(table)(nm))

    def blend(share: float) -> FloatArray:
        return reduction.apply(blend_change(table, share))

    def islands(share: float) -> FloatArray:
        return reduction.apply(islands_change(table, share))

    return film, blend, islands
