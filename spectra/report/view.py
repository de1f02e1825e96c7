"""What a reader sees, as text: the one place where findings become words and rounded numbers.

``view(verification, date)`` turns the result into records of finished strings; the page and the terminal
only lay them out. The words stand in the modules behind this one:

- ``words.numerals``: how a number is rounded and given its unit and interval;
- ``words.reasons``: the sentence and the remedy of every reason code, by subject in ``words.of_*``;
- ``words.conditions``, ``words.procedure``, ``words.statement`` and ``words.cautions``: how it was measured,
  the paragraphs for a paper, the rule and what the results do not show;
- ``tables``: heads and cells of every table;
- ``words.captions`` and ``words.alternatives``: words in and below the figures, and in their place.
"""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from spectra.findings import (
    CANNOT_TELL,
    CHANGED,
    NOT_SHOWN,
    PRESENT,
    UNCHANGED,
    Chemistry,
    Presence,
    Reason,
    Residue,
)
from spectra.report.tables.comparing import (
    difference_table,
    material_table,
    side_by_side,
    together_table,
    treated_bands,
    treatment_table,
)
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
    changed_table,
    fault_table,
    hash_table,
    input_table,
    reading_table,
    setting_tables,
    shown_path,
)
from spectra.report.tables.spiking import spike_lines, spike_table
from spectra.report.words.cautions import CAUTIONS, DEFINITIONS, rule
from spectra.report.words.comparing import (
    apart_headline,
    apart_line,
    contamination,
    layout_line,
    left_out_line,
    without_lines,
)
from spectra.report.words.conditions import condition_rows
from spectra.report.words.numerals import counted, length, limit, listed, plain, typeset
from spectra.report.words.procedure import material, procedure
from spectra.report.words.reasons import REASONS, Names, named_remedy, names_of, remedy, sentence
from spectra.report.words.remedies import GENERAL_REMEDY
from spectra.report.words.statement import (
    LIMIT,
    RESIDUE_CAUTION,
    RESIDUE_WORDS,
    amount,
    confidence,
    from_memory,
    has_thickness,
    hidden_bands,
    residue_limit,
    statement,
    thickness,
)
from spectra.study.records import Study
from spectra.verification.result import ApartFinding, CoatingFinding, SampleFinding, Verification

__all__ = [
    "CAUTIONS",
    "MARKS",
    "REASONS",
    "View",
    "remedy",
    "sentence",
    "typeset",
    "view",
]

# Style class of each verdict: a shape as well as a colour, so that it survives print in grey.
MARKS = {
    PRESENT: "yes",
    UNCHANGED: "yes",
    NOT_SHOWN: "no",
    CHANGED: "moved",
    CANNOT_TELL: "open",
    "shown": "yes",
}


@dataclass(frozen=True)
class Judgement:
    """One verdict: the question, the word, its mark and why; each reason with its remedy or ''."""

    question: str
    word: str
    mark: str
    reasons: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Answer:
    """The verdicts about one coating on one sample, with the numbers behind them.

    ``bands`` is the one table that is always laid open; ``tables`` may be folded.
    """

    sample: str
    coating: str
    judgements: tuple[Judgement, ...]
    numbers: tuple[tuple[str, str], ...]
    statement: str
    bands: Table
    tables: tuple[Table, ...]


@dataclass(frozen=True)
class SampleView:
    """Everything said about one sample."""

    name: str
    layer: tuple[Judgement, ...]
    answers: tuple[Answer, ...]
    substrate: Judgement
    residues: tuple[Judgement, ...]
    tables: tuple[Table, ...]


@dataclass(frozen=True)
class View:
    """The whole report as text, in reading order."""

    title: str
    date: str
    document: str
    made_by: str
    measured: str
    headline: str
    overview: Table
    apart: tuple[str, ...]
    left_out: tuple[str, ...]
    beside: tuple[Table, ...]
    cautions: tuple[tuple[str, str], ...]
    conditions: Table
    definitions: str
    procedure: str
    samples: tuple[SampleView, ...]
    rule: tuple[str, ...]
    limits_tried: tuple[str, ...]
    limits_tables: tuple[Table, ...]
    changed: Table
    limit: str
    faults: Table
    inputs: tuple[Table, ...]
    settings: tuple[Table, ...]
    sources: Table
    versions: Table
    warnings: int
    warning_line: str


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
    warnings += sum(len(check.reasons) for check in verification.materials)
    return View(
        title=verification.study.title or "Coating verification",
        date="" if date is None else f"{date:%Y-%m-%d}",
        document=document_id(verification),
        made_by=_made_by(versions),
        measured=_measured(verification),
        headline=_headline(verification),
        overview=overview_table(verification),
        apart=tuple(apart_line(as_shown(item, verification.study)) for item in verification.apart),
        left_out=tuple(left_out_line(item, verification.study) for item in verification.study.left_out),
        beside=_beside(verification),
        cautions=CAUTIONS,
        conditions=Table("", ("condition", "value"), tuple(condition_rows(verification))),
        definitions=DEFINITIONS,
        procedure=procedure(verification),
        samples=tuple(_sample(verification, sample, numbers) for sample in verification.samples.values()),
        rule=rule(verification),
        limits_tried=spike_lines(verification.spikes, verification.study.settings.decision),
        limits_tables=tuple(spike_table(name, found) for name, found in verification.spikes.items()),
        changed=changed_table(verification.study.settings),
        limit=LIMIT,
        faults=fault_table(verification),
        inputs=(reading_table(verification), input_table(verification), hash_table(verification)),
        settings=setting_tables(verification.study.settings),
        sources=source_table(numbers),
        versions=Table("Versions", ("software", "version"), tuple(versions.items())),
        warnings=warnings,
        warning_line=f"{counted(warnings, 'warning')} about the inputs; each is listed with its remedy",
    )


def document_id(verification: Verification) -> str:
    """Return an identifier made of the study and of every spectrum read: other inputs, another identifier."""
    said = [verification.study.sha256, *(f"{item.sha256} {item.part} {item.role} {item.group} {item.specimen}"
                                         for item in verification.inputs)]  # fmt: skip
    return hashlib.sha256("\n".join(said).encode()).hexdigest()[:12]


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
    return "; ".join([text, *controls, *apart_headline(verification.apart)])


def _beside(verification: Verification) -> tuple[Table, ...]:
    """Return the tables of samples beside each other, where there is more than one line to compare."""
    tables = (side_by_side(verification), difference_table(verification))
    several = tables if len(tables[0].rows) > 1 else ()
    more = (together_table, treatment_table, material_table)
    return (*several, *(table(verification) for table in more))


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
        layer=_of_layer(sample),
        answers=tuple(
            _answer(verification, sample, coating, numbers) for coating in sample.coatings.values()
        ),
        substrate=_of_chemistry(
            "substrate bands", sample.substrate.chemistry, names_of(sample.substrate.bands)
        ),
        residues=tuple(_residue(residue) for residue in sample.residues.values()),
        tables=(
            substrate_table(sample.substrate.bands, numbers),
            cause_table("the material", sample.substrate.causes, numbers),
            *treated_bands(sample),
            unexplained_table(sample, numbers),
            amount_table(sample),
        ),
    )


def _of_layer(sample: SampleFinding) -> tuple[Judgement, ...]:
    """Word the verdict on a layer of any kind, where it was judged."""
    layer = sample.layer
    if layer is None:
        return ()
    said = _judgement("layer of any kind", layer.verdict, layer.reasons, {})
    like = ((f"It looks like {listed(layer.looks_like)}.", ""),) if layer.looks_like else ()
    return (replace(said, reasons=(*said.reasons, *like)),)


def _answer(
    verification: Verification, sample: SampleFinding, coating: CoatingFinding, numbers: Mapping[str, int]
) -> Answer:
    tables = [joint_table(coating)]
    if coating.causes:
        tables.append(cause_table(coating.name, coating.causes, numbers))
    return Answer(
        sample=sample.name,
        coating=material(coating),
        judgements=(
            _of_presence(
                coating.presence,
                names_of(coating.bands),
                without_lines(verification.apart, sample.name, coating.name),
            ),
            _of_chemistry("coating, band positions", coating.chemistry, names_of(coating.bands)),
        ),
        numbers=(*_numbers(coating.presence), *_layout(coating)),
        statement=statement(verification, sample, coating),
        bands=band_table(f"Bands of {coating.name}", coating.bands, numbers),
        tables=tuple(tables),
    )


def _of_presence(presence: Presence, names: Names, without: Sequence[str] = ()) -> Judgement:
    """Word the verdict on presence with the remedies it names, and the second verdict where there is one."""
    said = [
        (sentence(reason, names), "" if presence.remedies else remedy(reason)) for reason in presence.reasons
    ]
    said += [(line, "") for line in without]
    said += [("", named_remedy(reason)) for reason in presence.remedies]
    return _with_remedy("coating", presence.verdict, said)


def _of_chemistry(question: str, chemistry: Chemistry, names: Names) -> Judgement:
    return _judgement(question, chemistry.verdict, chemistry.reasons, names)


def _judgement(question: str, verdict: str, reasons: tuple[Reason, ...], names: Names) -> Judgement:
    """Word a verdict, each reason with its remedy."""
    return _with_remedy(question, verdict, [(sentence(reason, names), remedy(reason)) for reason in reasons])


def _with_remedy(question: str, verdict: str, said: list[tuple[str, str]]) -> Judgement:
    """Return a verdict in words; an undecided one never goes without a remedy."""
    if verdict == CANNOT_TELL and not any(cure for _, cure in said):
        said.append(("", GENERAL_REMEDY))
    return Judgement(question, verdict, MARKS[verdict], tuple(said))


def _residue(residue: Residue) -> Judgement:
    """Word the verdict on a residue: signs of it are marked like a change, its limit and caution stand by."""
    said = _judgement(f"residue {residue.name}", residue.verdict, residue.reasons, {})
    told = any("hidden" in reason.values for reason in residue.reasons)
    hidden = "" if told else hidden_bands(residue)
    known = (
        f"{residue_limit(residue)}{f'; {hidden}' if hidden else ''}. {from_memory(residue)} {RESIDUE_CAUTION}"
    ).replace("  ", " ")
    mark = MARKS[CHANGED] if residue.verdict == PRESENT else said.mark
    reasons = (*said.reasons, (known[:1].upper() + known[1:], ""))
    return replace(said, word=RESIDUE_WORDS[residue.verdict], mark=mark, reasons=reasons)


def _numbers(presence: Presence) -> tuple[tuple[str, str], ...]:
    """Labelled numbers beside the verdict."""
    return (
        (f"amount ({confidence(presence.confidence)})", amount(presence)),
        (
            "decision limit, detection limit",
            _both(limit(presence.critical_amount), limit(presence.detectable_amount)),
        ),
        *_lengths(presence),
        (
            "measured",
            f"{counted(presence.spots, 'spot')} on {counted(presence.specimens, 'specimen')}",
        ),
    )


def _layout(coating: CoatingFinding) -> Iterator[tuple[str, str]]:
    """Yield whether a film or a blend fits, where that was asked."""
    if coating.layout is not None:
        yield "film or mixed in", layout_line(coating.layout)


def _both(first: str, second: str) -> str:
    return first if first == second else f"{first}, {second}"


def _lengths(presence: Presence) -> Iterator[tuple[str, str]]:
    """Yield what is known as a mean thickness."""
    called = confidence(presence.confidence)
    if has_thickness(presence):
        yield f"mean thickness of an even film ({called})", thickness(presence)
    if presence.critical_nm is not None and presence.detectable_nm is not None:
        least = f"{plain(presence.critical_nm, 2)} nm, {plain(presence.detectable_nm, 2)} nm"
        yield "the same limits as mean thickness", least
    if presence.attenuation_nm is not None or presence.attenuation_high_nm is not None:
        low, high = presence.attenuation_low_nm, presence.attenuation_high_nm
        yield f"thickness from substrate bands ({called})", length(presence.attenuation_nm, low, high)
