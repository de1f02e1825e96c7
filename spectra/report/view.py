"""What a reader sees, as text: the one place where findings become words and rounded numbers.

``view(verification, date)`` turns the result into records of finished strings; the page and the terminal
only lay them out. The words stand in the modules behind this one:

- ``numerals``: how a number is rounded and given its unit and interval;
- ``reasons`` and ``remedies``: the sentence and the remedy of every reason code;
- ``phrases``: the decision rule, the statement for a paper, the cautions;
- ``tables`` and ``inputtables``: heads and cells of every table;
- ``captions``: words in and below the figures.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from spectra.findings import CANNOT_TELL, CHANGED, NOT_SHOWN, PRESENT, UNCHANGED, Chemistry, Presence, Residue
from spectra.report.tables.comparing import difference_table, material_table, side_by_side
from spectra.report.tables.findings import (
    Table,
    amount_table,
    band_table,
    cause_table,
    joint_table,
    number_sources,
    overview_table,
    source_table,
    substrate_table,
    unexplained_table,
)
from spectra.report.tables.inputs import (
    fault_table,
    hash_table,
    input_table,
    reading_table,
    setting_tables,
    shown_path,
)
from spectra.report.tables.spiking import spike_lines, spike_table
from spectra.report.words.comparing import apart_line, contamination, left_out_line
from spectra.report.words.numerals import counted, limit, plain, span, typeset, with_interval
from spectra.report.words.reasons import REASONS, named_remedy, remedy, sentence
from spectra.report.words.remedies import GENERAL_REMEDY, REMEDIES
from spectra.report.words.statement import (
    CAUTIONS,
    LIMIT,
    amount,
    confidence,
    material,
    rule,
    statement,
    thickness,
)
from spectra.spectrum import Spectrum
from spectra.study.records import Study
from spectra.verification.result import ApartFinding, CoatingFinding, SampleFinding, Verification

__all__ = [
    "CAUTIONS",
    "MARKS",
    "REASONS",
    "REMEDIES",
    "View",
    "remedy",
    "sentence",
    "typeset",
    "view",
]

# Style class of each verdict: a shape as well as a colour, so that it survives print in grey.
MARKS = {PRESENT: "yes", UNCHANGED: "yes", NOT_SHOWN: "no", CHANGED: "moved", CANNOT_TELL: "open"}


@dataclass(frozen=True)
class Judgement:
    """One verdict: the question, the word, its mark and why; each reason with its remedy or ''."""

    question: str
    word: str
    mark: str
    reasons: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Answer:
    """The verdicts about one coating on one sample, with the numbers behind them."""

    sample: str
    coating: str
    judgements: tuple[Judgement, ...]
    numbers: tuple[tuple[str, str], ...]
    statement: str
    tables: tuple[Table, ...]


@dataclass(frozen=True)
class SampleView:
    """Everything said about one sample."""

    name: str
    answers: tuple[Answer, ...]
    substrate: Judgement
    residues: tuple[Judgement, ...]
    tables: tuple[Table, ...]


@dataclass(frozen=True)
class View:
    """The whole report as text, in reading order."""

    title: str
    date: str
    made_by: str
    measured: str
    headline: str
    overview: Table
    apart: tuple[str, ...]
    left_out: tuple[str, ...]
    beside: tuple[Table, ...]
    samples: tuple[SampleView, ...]
    limits_tried: tuple[str, ...]
    limits_tables: tuple[Table, ...]
    rule: tuple[str, ...]
    cautions: tuple[tuple[str, str], ...]
    limit: str
    faults: Table
    inputs: tuple[Table, ...]
    settings: tuple[Table, ...]
    sources: Table
    versions: Table
    warnings: int
    warning_line: str


@dataclass(frozen=True)
class Look:
    """What was understood of one spectrum: labelled facts, then faults each with its remedy."""

    name: str
    facts: tuple[tuple[str, str], ...]
    faults: tuple[tuple[str, str], ...]


def view(verification: Verification, date: datetime.date | None = None) -> View:
    """Put a verification into words.

    Parameters
    ----------
    verification
        The whole result.
    date
        Day of the report; none is shown when left out, so that output can be compared.
    """
    versions, numbers = verification.versions, number_sources(verification)
    faults = [*verification.faults, *(fault for item in verification.inputs for fault in item.faults)]
    warnings = sum(1 for fault in faults if fault.severity == "warning")
    return View(
        title=verification.study.title or "Coating verification",
        date="" if date is None else f"{date:%Y-%m-%d}",
        made_by=_made_by(versions),
        measured=_measured(verification),
        headline=_headline(verification),
        overview=overview_table(verification),
        apart=tuple(apart_line(as_shown(item, verification.study)) for item in verification.apart),
        left_out=tuple(left_out_line(item, verification.study) for item in verification.study.left_out),
        beside=_beside(verification),
        samples=tuple(_sample(verification, sample, numbers) for sample in verification.samples.values()),
        limits_tried=spike_lines(verification.spikes, verification.study.settings.decision),
        limits_tables=tuple(spike_table(name, found) for name, found in verification.spikes.items()),
        rule=rule(verification),
        cautions=CAUTIONS,
        limit=LIMIT,
        faults=fault_table(verification),
        inputs=(reading_table(verification), input_table(verification), hash_table(verification)),
        settings=setting_tables(verification.study.settings),
        sources=source_table(numbers),
        versions=Table("Versions", ("software", "version"), tuple(versions.items())),
        warnings=warnings,
        warning_line=f"{counted(warnings, 'warning')} about the inputs; each is listed with its remedy",
    )


def look(spectrum: Spectrum) -> Look:
    """Put into words what was read of one spectrum, without judging what it shows."""
    origin, points = spectrum.origin, spectrum.wavenumbers
    unusable = int((spectrum.absorbance != spectrum.absorbance).sum())
    facts = [
        ("title", origin.title),
        ("read as", origin.reader),
        ("units in the file", f"{origin.x_unit}, {origin.y_unit}"),
        ("points", f"{len(spectrum)}, {span(points[0], points[-1])}, one every {plain(spectrum.step)} cm-1"),
        ("without absorbance", counted(unusable, "point") if unusable else ""),
        *(("assumed", clause) for clause in origin.assumed),
        *(("mended", clause) for clause in origin.repairs),
    ]
    faults = tuple(
        (f"{fault.severity}: {fault.found} ({fault.where})", fault.remedy) for fault in origin.faults
    )
    said = tuple((label, value) for label, value in facts if value)
    return Look(origin.name, said if faults else (*said, ("faults", "none found")), faults)


def _made_by(versions: Mapping[str, str]) -> str:
    version = versions.get("coatproof", "")
    return f"coatproof {version}" if version[:1].isdigit() else "coatproof (run from its source)"


def _headline(verification: Verification) -> str:
    """Say in one line how many of the expected coatings are present and unchanged.

    A count of verdicts, not a score.
    """
    samples = verification.samples.values()
    findings = [found for sample in samples if sample.expected_present for found in sample.coatings.values()]
    good = [
        found
        for found in findings
        if found.presence.verdict == PRESENT and found.chemistry.verdict == UNCHANGED
    ]
    text = f"{len(good)} of {counted(len(findings), 'expected coating')} present and unchanged"
    controls = [contamination(sample, name) for sample in samples for name in sample.contaminated]
    return "; ".join([text, *controls])


def _beside(verification: Verification) -> tuple[Table, ...]:
    """Return the tables of samples beside each other, where there is more than one line to compare."""
    tables = (side_by_side(verification), difference_table(verification))
    return (*(tables if len(tables[0].rows) > 1 else ()), material_table(verification))


def as_shown(item: ApartFinding, study: Study) -> ApartFinding:
    """Return a finding with its paths as the study would name them."""
    return replace(item, paths=tuple(shown_path(path, study) for path in item.paths))


def _measured(verification: Verification) -> str:
    """Who was compared with whom, in one line."""
    roles = {"bare": "bare", "neat": "neat", "coated": "coated", "residue": "residue"}
    parts = []
    for role, word in roles.items():
        mine = [item for item in verification.inputs if item.role == role]
        pieces = {(item.group, item.specimen) for item in mine}
        if mine:
            parts.append(f"{word}: {counted(len(mine), 'spot')} on {counted(len(pieces), 'specimen')}")
    return "; ".join(parts)


def _sample(verification: Verification, sample: SampleFinding, numbers: Mapping[str, int]) -> SampleView:
    return SampleView(
        name=sample.name,
        answers=tuple(
            _answer(verification, sample, coating, numbers) for coating in sample.coatings.values()
        ),
        substrate=_judgement("substrate chemistry", sample.substrate.chemistry),
        residues=tuple(_residue(residue) for residue in sample.residues.values()),
        tables=(
            substrate_table(sample.substrate.bands, numbers),
            cause_table("the material", sample.substrate.causes, numbers),
            unexplained_table(sample, numbers),
            amount_table(sample),
        ),
    )


def _answer(
    verification: Verification, sample: SampleFinding, coating: CoatingFinding, numbers: Mapping[str, int]
) -> Answer:
    tables = [band_table(f"Bands of {coating.name}", coating.bands, numbers), joint_table(coating)]
    if coating.causes:
        tables.append(cause_table(coating.name, coating.causes, numbers))
    return Answer(
        sample=sample.name,
        coating=material(coating),
        judgements=(
            _judgement("coating", coating.presence),
            _judgement("coating chemistry", coating.chemistry),
        ),
        numbers=_numbers(coating.presence),
        statement=statement(verification, sample, coating),
        tables=tuple(tables),
    )


def _judgement(question: str, found: Presence | Chemistry | Residue) -> Judgement:
    """Word a verdict; an undecided one never goes without a remedy."""
    named = found.remedies if isinstance(found, Presence) else ()
    said = [(sentence(reason), "" if named else remedy(reason)) for reason in found.reasons]
    said += [("", named_remedy(reason)) for reason in named]
    if found.verdict == CANNOT_TELL and not any(cure for _, cure in said):
        said.append(("", GENERAL_REMEDY))
    return Judgement(question, found.verdict, MARKS[found.verdict], tuple(said))


def _residue(residue: Residue) -> Judgement:
    """Word the verdict on a residue: one that is present is marked like a change."""
    said = _judgement(residue.name, residue)
    return replace(said, mark=MARKS[CHANGED]) if residue.verdict == PRESENT else said


def _numbers(presence: Presence) -> tuple[tuple[str, str], ...]:
    """Labelled numbers beside the verdict."""
    return (
        (f"amount ({confidence(presence.confidence)})", amount(presence)),
        (
            "critical, detectable amount",
            limit(presence.critical_amount, presence.detectable_amount),
        ),
        *_lengths(presence),
        (
            "measured",
            f"{counted(presence.spots, 'spot')} on {counted(presence.specimens, 'specimen')}",
        ),
    )


def _lengths(presence: Presence) -> Iterator[tuple[str, str]]:
    """Yield what is known as a film thickness."""
    called = confidence(presence.confidence)
    if presence.thickness_nm is not None:
        yield f"film thickness ({called})", thickness(presence)
    if presence.critical_nm is not None and presence.detectable_nm is not None:
        least = f"{plain(presence.critical_nm, 2)} nm, {plain(presence.detectable_nm, 2)} nm"
        yield "critical, detectable thickness", least
    if presence.attenuation_nm is not None:
        low, high = presence.attenuation_low_nm, presence.attenuation_high_nm
        yield (
            f"thickness from substrate bands ({called})",
            with_interval(presence.attenuation_nm, low, high, "nm"),
        )
