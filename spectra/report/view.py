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
from collections.abc import Mapping
from dataclasses import dataclass, replace

from spectra.findings import (
    PRESENT,
    UNCHANGED,
)
from spectra.report.judgements import (
    Judgement,
    layout_of,
    numbers_of,
    of_chemistry,
    of_layer,
    of_presence,
    of_residue,
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
    amount_table,
    band_table,
    cause_table,
    joint_table,
    overview_table,
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
from spectra.report.tables.sources import number_sources, source_table
from spectra.report.tables.spiking import spike_lines, spike_table
from spectra.report.tables.table import Table
from spectra.report.words.cautions import CAUTIONS, DEFINITIONS, rule
from spectra.report.words.comparing import (
    apart_headline,
    apart_line,
    contamination,
    left_out_line,
    without_lines,
)
from spectra.report.words.conditions import condition_rows
from spectra.report.words.numerals import counted
from spectra.report.words.procedure import material, procedure
from spectra.report.words.reasons import REASONS, names_of, remedy, sentence
from spectra.report.words.signs import typeset
from spectra.report.words.statement import (
    LIMIT,
    statement,
)
from spectra.study.records import Study
from spectra.verification.result import ApartFinding, CoatingFinding, SampleFinding, Verification

__all__ = [
    "CAUTIONS",
    "REASONS",
    "View",
    "remedy",
    "sentence",
    "typeset",
    "view",
]


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
        layer=of_layer(sample),
        answers=tuple(
            _answer(verification, sample, coating, numbers) for coating in sample.coatings.values()
        ),
        substrate=of_chemistry(
            "substrate bands", sample.substrate.chemistry, names_of(sample.substrate.bands)
        ),
        residues=tuple(of_residue(residue) for residue in sample.residues.values()),
        tables=(
            substrate_table(sample.substrate.bands, numbers),
            cause_table("the material", sample.substrate.causes, numbers),
            *treated_bands(sample),
            unexplained_table(sample, numbers),
            amount_table(sample),
        ),
    )


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
            of_presence(
                coating.presence,
                names_of(coating.bands),
                without_lines(verification.apart, sample.name, coating.name),
            ),
            of_chemistry("coating, band positions", coating.chemistry, names_of(coating.bands)),
        ),
        numbers=(*numbers_of(coating.presence), *layout_of(coating)),
        statement=statement(verification, sample, coating),
        bands=band_table(f"Bands of {coating.name}", coating.bands, numbers),
        tables=tuple(tables),
    )
