"""One sample judged: is anything there, is it the coating, is it unchanged, what else is there, how much.

Three questions in order, from one account: amounts, bands and curves all come from the joint model on spectra
as measured. Only the substrate's own bands are followed on levelled spectra, coated against bare.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from spectra.assignment.assignment import assign
from spectra.assignment.causes import possible_causes
from spectra.chemistry.fates import Fated, follow_bands, judge_fates, judged_share, runs_away
from spectra.chemistry.rows import band_rows, expected_rows
from spectra.comparison.amounts import Amounts
from spectra.comparison.evenness import amounts_by_specimen
from spectra.comparison.forming import form_amounts, level_contact
from spectra.detection.capability import spot_amounts
from spectra.detection.presence import decide_presence
from spectra.findings import (
    CANNOT_TELL,
    CHANGED,
    NOT_SHOWN,
    Assigned,
    Chemistry,
    Layer,
    Presence,
    Reason,
    Residue,
    Unexplained,
)
from spectra.peaks.finding import Peak
from spectra.residues.search import Search
from spectra.residues.settings import ResidueSettings
from spectra.residues.unexplained import explain_bumps
from spectra.study.records import Study
from spectra.variation.model import Variation
from spectra.verification.films import Films, Measured, fit_films
from spectra.verification.layout import fit_layout
from spectra.verification.left_behind import judge_residues, search_left_over, suspected_rows
from spectra.verification.model import StudyModel
from spectra.verification.result import CoatingFinding, SampleFinding, SubstrateFinding
from spectra.verification.substrate import judge_substrate
from spectra.verification.together import put_together
from spectra.verification.treated import judge_treated


def judge_sample(measured: Measured, study: Study, model: StudyModel) -> SampleFinding:
    """Judge one sample.

    Parameters
    ----------
    measured : Measured
        Its spectra, and what the study says of it.
    study : Study
    model : StudyModel
        From :func:`spectra.verification.model.learn_study`.
    """
    if model.variation is None or model.bank is None:
        return _unjudged(measured, study, model)
    if not measured.group.coatings:
        return judge_treated(measured, study, model)
    films, search = _account(measured, study, model)
    coatings = {name: _judge_coating(name, films, search, study, model) for name in measured.group.coatings}
    coatings = {name: _with_layout(found, films, study, model) for name, found in coatings.items()}
    suggestions = study.settings.suggestions
    unexplained = explain_bumps(search.found, model.table, study.watch, study.settings.residues, suggestions)
    coatings = {name: _with_causes(found, unexplained, model) for name, found in coatings.items()}
    amounts = _amounts(measured, films, model.variation, study.settings.comparison.least_contact)
    grid = measured.raw.grid
    return SampleFinding(
        name=measured.group.name,
        coatings=coatings,
        substrate=judge_substrate(measured, films, coatings, study, model),
        unexplained=unexplained,
        residues=judge_residues(films, search, coatings, study, model),
        evenness={
            name: amounts_by_specimen(item, study.settings.presence.interval)
            for name, item in amounts.items()
        },
        difference=films.difference(grid),
        unexplained_more=len(search.found) - len(unexplained),
        expected={name: films.curve_of(name, grid) for name in measured.group.coatings},
        layer=films.layer,
        spot_amounts={name: item.values for name, item in amounts.items()},
        amounts=amounts,
        together=put_together(films, coatings, len(search.found), study.settings),
    )


def _account(measured: Measured, study: Study, model: StudyModel) -> tuple[Films, Search]:
    """Fit the films; where a watched residue shows, fit them again with all its bands beside them.

    A residue's band under one of the coating's would else pass for a change of the coating.
    """
    films = fit_films(measured, study.settings, model)
    search = search_left_over(films, study.settings, model)
    beside = suspected_rows(search, films, study, model)
    if not len(beside) or not films.named:
        return films, search
    again = fit_films(measured, study.settings, model, beside)
    return (again, search_left_over(again, study.settings, model)) if again.named else (films, search)


def _amounts(
    measured: Measured, films: Films, variation: Variation, least_contact: float
) -> dict[str, Amounts]:
    """Return the amounts of every coating by spot."""
    values = spot_amounts(measured.raw, variation, films.yardstick)
    if measured.group.technique == "ATR":
        values = level_contact(values, measured.raw, variation, films.yardstick, least_contact)
    return {
        name: form_amounts(
            values[:, i],
            measured.raw.specimens,
            i,
            variation,
            films.yardstick,
            (films.shapes[name], films.presence[name]),
        )
        for i, name in enumerate(films.yardstick.names)
    }


def _judge_coating(
    name: str, films: Films, search: Search, study: Study, model: StudyModel
) -> CoatingFinding:
    """Say what became of the bands of one coating and judge its chemistry."""
    coating, settings = study.coatings[name], study.settings
    presence, technique = films.presence[name], films.measured.group.technique
    prediction, account = model.predictions[name, technique], films.accounts.get(name)
    material = coating.material or name

    def named(peak: Peak) -> Assigned:
        return assign(peak, material, model.table)

    if not prediction.comparable:
        techniques = {"neat_technique": coating.technique, "sample_technique": technique}
        chemistry = Chemistry(CANNOT_TELL, (Reason("not-like-with-like", techniques),))
        rows = expected_rows(prediction, presence, settings.decision, named)
        return CoatingFinding(name, coating.material, presence, rows, chemistry)
    if account is None or not films.identities[name].named:
        rows = expected_rows(prediction, presence, settings.decision, named)
        return CoatingFinding(name, coating.material, presence, rows, _nothing_to_judge(presence))
    bounds = account.fit.target.model.place_error
    fates = follow_bands(account, [float(b) for b in bounds], settings.decision, settings.chemistry)
    beside = _beside(fates, search, settings.residues)
    note = prediction.note if prediction.optics is None else None
    chemistry = judge_fates(fates, True, note, beside, settings.decision, settings.chemistry)
    if chemistry.verdict == CANNOT_TELL and runs_away(account, settings.chemistry):
        strong = Reason("strong-absorber", {"k": account.strongest})
        chemistry = Chemistry(CANNOT_TELL, (strong, *chemistry.reasons))
    rows = band_rows(fates, account, films.references[name], settings.decision, named)
    return CoatingFinding(name, coating.material, presence, rows, chemistry, judged_share=judged_share(fates))


def _with_layout(finding: CoatingFinding, films: Films, study: Study, model: StudyModel) -> CoatingFinding:
    """Say whether it lies as a film or is mixed in, where optics can tell.

    Bands stand elsewhere in the one than in the other: where the one that is not stated fits, nothing can be
    told of chemistry from places computed for the wrong one.
    """
    layout = fit_layout(finding.name, films, study, model)
    if layout is None or not layout.otherwise or finding.chemistry.verdict == CANNOT_TELL:
        return replace(finding, layout=layout)
    why = Reason("layout-otherwise", {"stated": layout.stated, "fits": layout.fits})
    return replace(finding, layout=layout, chemistry=Chemistry(CANNOT_TELL, (why,)))


def _nothing_to_judge(presence: Presence) -> Chemistry:
    """Say why there is no chemistry to judge: nothing shown, or not known to be the coating."""
    code = "coating-not-shown" if presence.verdict == NOT_SHOWN else "presence-open"
    return Chemistry(CANNOT_TELL, (Reason(code),))


def _beside(fates: Sequence[Fated], search: Search, settings: ResidueSettings) -> list[float]:
    """Bands beside which as much is left over as may be a part of them."""
    return [
        fate.band.expected
        for fate in fates
        if fate.judged
        and any(
            abs(bump.position - fate.band.expected) < settings.beside
            and bump.height > settings.part * fate.band.height
            for bump in search.found
        )
    ]


def _with_causes(
    finding: CoatingFinding, unexplained: Sequence[Unexplained], model: StudyModel
) -> CoatingFinding:
    """Put possible causes beside a changed coating."""
    if finding.chemistry.verdict != CHANGED:
        return finding
    material = finding.material or finding.name
    causes = possible_causes(finding.chemistry.reasons, unexplained, material, model.table)
    return replace(finding, causes=causes)


def _unjudged(measured: Measured, study: Study, model: StudyModel) -> SampleFinding:
    """Return the finding for a study with too few bare spectra."""
    names = measured.group.coatings
    shapes = {name: model.predictions[name, measured.group.technique].shape for name in names}
    found = decide_presence(measured.raw, None, shapes, study.settings.decision, study.settings.presence)
    reason = Reason("too-few-bare", {"found": len(set(model.bare.specimens)), "needed": 2})
    unknown = Chemistry(CANNOT_TELL, (reason,))
    coatings = {
        name: CoatingFinding(name, study.coatings[name].material, presence, (), unknown)
        for name, presence in found.items()
    }
    residues = {name: Residue(name, CANNOT_TELL, (reason,)) for name in study.watch}
    difference = measured.levelled.mean - model.bare.mean
    substrate = SubstrateFinding((), unknown)
    layer = Layer(CANNOT_TELL, (reason,))
    return SampleFinding(measured.group.name, coatings, substrate, (), residues, {}, difference, layer=layer)
