"""The tables of ``report.view``: column heads, cells, notes; every cell is finished text."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from pathlib import PurePath
from typing import Any

from spectra.findings import BandFinding, Candidate, InputRecord, SampleFinding, Unexplained, Verification
from spectra.report.numerals import (
    exact,
    plain,
    position,
    probability,
    span,
    wavenumber,
    wavenumbers,
    with_interval,
)
from spectra.study import Settings, Study

# Marks a fact of the band tables that was written down without the source at hand.
RECALLED = "recalled, source not read"
MISSING_BAND = "not found"


@dataclass(frozen=True)
class Table:
    """A table of finished text; ``empty`` is said when there are no rows."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    empty: str = ""
    note: str = ""


def shown_path(path: str, study: Study) -> str:
    """Return a path as the study would write it: relative to the study file where it lies beside it.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> shown_path("/data/run/bare/a.csv", SimpleNamespace(file=PurePath("/data/run/study.toml")))
    'bare/a.csv'
    """
    if study.file is None or not PurePath(path).is_relative_to(study.file.parent):
        return PurePath(path).as_posix()
    return PurePath(path).relative_to(study.file.parent).as_posix()


def band_table(title: str, bands: Iterable[BandFinding], numbers: Mapping[str, int]) -> Table:
    """Return the classical band table: where each band should be, where it was found, and what it is."""
    head = (
        "reference, cm-1",
        "expected, cm-1",
        "found, cm-1",
        "shift, cm-1",
        "margin, cm-1",
        "height",
        "critical height",
        "p (Holm)",
        "seen",
        "position",
        "assignment",
        "source",
    )
    note = "Heights are absorbance after baseline and normalisation. +/- is a standard error."
    return Table(
        title, head, tuple(_band_row(band, numbers) for band in bands), "No band was looked for.", note
    )


def _band_row(band: BandFinding, numbers: Mapping[str, int]) -> tuple[str, ...]:
    found = band.found_position
    return (
        position(band.neat_position, band.neat_error),
        position(band.expected_position, band.expected_error),
        MISSING_BAND if found is None else position(found, band.found_error),
        "-" if band.shift is None else with_interval(band.shift, band.shift_low, band.shift_high),
        f"+/- {exact(band.margin)}",
        plain(band.found_height),
        plain(band.critical_height),
        "-" if band.masked else probability(band.p_adjusted),
        "masked" if band.masked else "yes" if band.detected else "no",
        band.verdict,
        band.assignment or "none in the tables",
        _sourced(band, numbers),
    )


def number_sources(verification: Verification) -> dict[str, int]:
    """Return the number of every source of an assignment or candidate, in the order of the report."""
    numbers: dict[str, int] = {}
    for sample in verification.samples.values():
        bands = [band for coating in sample.coatings.values() for band in coating.bands]
        candidates = [item for band in sample.unexplained for item in band.candidates]
        cited = [band.source for band in (*bands, *sample.substrate.bands)]
        for source in (*cited, *(item.source for item in candidates)):
            if source:
                numbers.setdefault(source, len(numbers) + 1)
    return numbers


def source_table(numbers: Mapping[str, int]) -> Table:
    """Return the numbered list of sources."""
    rows = tuple((f"[{number}]", source) for source, number in numbers.items())
    return Table("Sources of the assignments", ("", "source"), rows, "No band was assigned.")


def _sourced(item: BandFinding | Candidate, numbers: Mapping[str, int]) -> str:
    """Return the source's number, marked where the row was written from memory."""
    if not item.source:
        return "-"
    mark = f", {RECALLED}" if item.checked == "memory" else ""
    return f"[{numbers[item.source]}]{mark}"


def unexplained_table(sample: SampleFinding, numbers: Mapping[str, int]) -> Table:
    """Return the bands that neither substrate nor coating accounts for, with what could cause them."""
    head = ("position", "height", "width, cm-1", "evidence (t)", "possible origin, not identified")
    rows = tuple(_unexplained_row(band, numbers) for band in sample.unexplained)
    note = "Negative height: a lost band. Origins are candidates from the band tables, not findings."
    empty = "No band is left unexplained." if sample.substrate.bands else "Not looked for."
    return Table("Unexplained bands", head, rows, empty, note if rows else "")


def _unexplained_row(band: Unexplained, numbers: Mapping[str, int]) -> tuple[str, ...]:
    return (
        wavenumber(band.position),
        plain(band.height),
        plain(band.width),
        plain(band.evidence),
        "\n".join(_candidate(item, numbers) for item in band.candidates) or "nothing in the tables fits",
    )


def _candidate(item: Candidate, numbers: Mapping[str, int]) -> str:
    """Word one candidate with where to look for more of it."""
    look = f"; look for {wavenumbers(item.look_for)}" if item.look_for else ""
    return f"{item.material}: {item.assignment}, {wavenumber(item.position)} {_sourced(item, numbers)}{look}"


def amount_table(sample: SampleFinding) -> Table:
    """Return the amount of each coating on each specimen."""
    rows = tuple(
        (
            coating,
            item.specimen,
            with_interval(item.amount, item.amount_low, item.amount_high),
            ", ".join(plain(spot) for spot in item.spots),
        )
        for coating, pieces in sample.evenness.items()
        for item in pieces
    )
    head = ("coating", "specimen", "amount (interval), neat = 1", "amount at each spot, neat = 1")
    return Table("Amount on each specimen", head, rows, "No amount was determined.")


def fault_table(verification: Verification) -> Table:
    """Return what is doubtful about the inputs, warnings first; equal faults are listed once."""
    found: dict[tuple[str, ...], list[str]] = {}
    for item in verification.inputs:
        for fault in item.faults:
            key = (fault.severity, fault.where, fault.found, fault.remedy)
            found.setdefault(key, []).append(_name(item, verification.study))
    for fault in verification.faults:
        found.setdefault((fault.severity, fault.where, fault.found, fault.remedy), []).append("the set")
    ordered = sorted(found.items(), key=lambda entry: entry[0][0] != "warning")
    rows = tuple((key[0], _all_of(names, verification), *key[1:]) for key, names in ordered)
    head = ("weight", "spectra", "where", "found", "remedy")
    return Table("Faults in the inputs", head, rows, "No fault was found in the inputs.")


def reading_table(verification: Verification) -> Table:
    """Return what the files did not say and was assumed, and what was mended, each with its spectra."""
    said: dict[tuple[str, str], list[str]] = {}
    for item in verification.inputs:
        name = _name(item, verification.study)
        for kind, clauses in (("assumed", item.assumed), ("mended", item.repairs)):
            for clause in clauses:
                said.setdefault((kind, clause), []).append(name)
    rows = tuple((*key, _all_of(names, verification)) for key, names in said.items())
    empty = "Nothing had to be assumed or mended."
    return Table("Assumed and mended on reading", ("kind", "what", "spectra"), rows, empty)


def input_table(verification: Verification) -> Table:
    """Return every spectrum that was read; none is left out."""
    rows = tuple(
        (
            _name(item, verification.study),
            item.role,
            item.group,
            item.specimen,
            str(item.points),
            span(item.low, item.high),
            f"{item.x_unit}, {item.y_unit}",
            item.reader,
        )
        for item in verification.inputs
    )
    head = ("spectrum", "role", "group", "specimen", "points", "range", "units in the file", "read as")
    return Table("Spectra read", head, rows)


def hash_table(verification: Verification) -> Table:
    """Return the SHA-256 of every input file, the study file first."""
    study = verification.study
    files = {} if study.file is None else {study.file.name: study.sha256}
    files |= {shown_path(item.path, study): item.sha256 for item in verification.inputs}
    return Table("SHA-256 of the input files", ("file", "sha256"), tuple(files.items()))


def setting_tables(settings: Settings) -> tuple[Table, ...]:
    """Return every setting with its unit, its reason and whether the study changed it, stage by stage."""
    return tuple(_stage(stage.name, getattr(settings, stage.name)) for stage in fields(settings))


def _stage(name: str, settings: Any) -> Table:
    rows = tuple(
        (
            item.name,
            _value(getattr(settings, item.name), item.metadata.get("unit", "")),
            "default" if getattr(settings, item.name) == item.default else "set by the study",
            item.metadata.get("why", ""),
        )
        for item in fields(settings)
    )
    return Table(name, ("setting", "value", "from", "reason"), rows)


def _value(value: Any, unit: str) -> str:
    """Write a setting as it was given, with its unit; settings are exact and not rounded."""
    if value is None:
        return "not set"
    if isinstance(value, tuple | list):
        nested = [
            " to ".join(exact(end) for end in each) if isinstance(each, tuple | list) else str(each)
            for each in value
        ]
        return f"{', '.join(nested)} {unit}".strip() if nested else "none"
    text = exact(value) if isinstance(value, float) else str(value)
    return f"{text} {unit}".strip()


def _name(item: InputRecord, study: Study) -> str:
    path = shown_path(item.path, study)
    return f"{path} [{item.part}]" if item.part else path


def _all_of(names: Sequence[str], verification: Verification) -> str:
    """Name the spectra a remark applies to, whole groups in short; none is left unnamed."""
    groups: dict[str, list[str]] = {}
    for item in verification.inputs:
        group = item.role if item.role == "bare" else f"{item.role} {item.group}"
        groups.setdefault(group, []).append(_name(item, verification.study))
    if len(names) == len(verification.inputs) > 1:
        return f"all {len(names)} spectra"
    whole = {group: mine for group, mine in groups.items() if len(mine) > 1 and set(mine) <= set(names)}
    covered = {name for mine in whole.values() for name in mine}
    short = [f"all {len(mine)} of {group}" for group, mine in whole.items()]
    return ", ".join([*short, *(name for name in names if name not in covered)])
