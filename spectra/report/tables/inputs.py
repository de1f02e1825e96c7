"""The tables of ``report.view`` about inputs and settings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import Field, fields, is_dataclass
from pathlib import PurePath
from typing import Any

from spectra.report.tables.table import Table
from spectra.report.words.numerals import exact, merged, span, wording
from spectra.report.words.reasons import remedy, sentence
from spectra.study.records import Study
from spectra.study.settings import Settings
from spectra.verification.result import InputRecord, Verification

DEFAULT = "default"


def shown_path(path: str, study: Study) -> str:
    """Return a path as the study would write it, so that a report tells nothing of the disk around it.

    Relative to the study file where it lies beside it; without a study file, to the folder that holds all
    files of the study.
    """
    if not PurePath(path).is_relative_to(study.folder):
        return PurePath(path).as_posix()
    return PurePath(path).relative_to(study.folder).as_posix()


def fault_table(verification: Verification) -> Table:
    """Return what is doubtful about the inputs, warnings first.

    Faults that differ only in their numbers are one row, with the range of each number.
    """
    found: dict[tuple[str, ...], list[tuple[str, str]]] = {}
    for severity, where, said, cure, name in _faults(verification):
        found.setdefault((severity, where, cure, wording(said)), []).append((name, said))
    ordered = sorted(found.items(), key=lambda entry: entry[0][0] != "warning")
    groups = _groups(verification)
    rows = tuple(
        (key[0], _all_of([name for name, _ in mine], groups), key[1], merged([s for _, s in mine]), key[2])
        for key, mine in ordered
    )
    head = ("severity", "spectra", "where", "found", "remedy")
    return Table("Faults in the inputs", head, rows, "No fault was found in the inputs.")


def _faults(verification: Verification) -> Iterator[tuple[str, str, str, str, str]]:
    """Yield every fault: severity, where, found, remedy, and the spectrum it was found in."""
    for item in verification.inputs:
        name = _name(item, verification.study)
        yield from ((f.severity, f.where, f.found, f.remedy, name) for f in item.faults)
    yield from ((f.severity, f.where, f.found, f.remedy, "the set") for f in verification.faults)
    for check in verification.materials:
        where = f"{check.role} {check.group}, stated as {check.stated}"
        yield from (("warning", where, sentence(r), remedy(r), "the set") for r in check.reasons)


def reading_table(verification: Verification) -> Table:
    """Return what the files did not say and was assumed, and what was mended, each with its spectra."""
    said: dict[tuple[str, str], list[str]] = {}
    for item in verification.inputs:
        name = _name(item, verification.study)
        for kind, clauses in (("assumed", item.assumed), ("mended", item.repairs)):
            for clause in clauses:
                said.setdefault((kind, clause), []).append(name)
    groups = _groups(verification)
    rows = tuple((*key, _all_of(names, groups)) for key, names in said.items())
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
    """Return every setting with its unit, its reason and whether the study changed it, stage by stage.

    A table is headed by the key under which a study file sets its values.
    """
    return tuple(
        table for stage in fields(settings) for table in _stage(stage.name, getattr(settings, stage.name))
    )


def changed_table(settings: Settings) -> Table:
    """Return the settings that the study changed."""
    rows = tuple(
        (table.title, *row[:2], row[3])
        for table in setting_tables(settings)
        for row in table.rows
        if row[2] != DEFAULT
    )
    head = ("stage", "setting", "value", "reason for the default")
    return Table("Settings changed by the study", head, rows, "Every setting has its default value.")


def _stage(name: str, settings: Any) -> Iterator[Table]:
    """Yield the table of one stage, and one of each group of settings within it."""
    groups = {item.name for item in fields(settings) if is_dataclass(getattr(settings, item.name))}
    rows = tuple(_setting(settings, item) for item in fields(settings) if item.name not in groups)
    if rows:
        yield Table(name, ("setting", "value", "from", "reason"), rows)
    for group in sorted(groups):
        yield from _stage(f"{name}, {group}", getattr(settings, group))


def _setting(settings: Any, item: Field[Any]) -> tuple[str, ...]:
    value, about = getattr(settings, item.name), item.metadata
    changed = DEFAULT if value == item.default else "set by the study"
    return item.name, _value(value, about.get("unit", "")), changed, about.get("why", "")


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


def _groups(verification: Verification) -> dict[str, list[str]]:
    """Return the names of the spectra of each group, every group named by its role."""
    groups: dict[str, list[str]] = {}
    for item in verification.inputs:
        group = item.role if item.role == "bare" else f"{item.role} {item.group}"
        groups.setdefault(group, []).append(_name(item, verification.study))
    return groups


def _all_of(names: Sequence[str], groups: Mapping[str, Sequence[str]]) -> str:
    """Name the spectra a remark applies to, whole groups in short; none is left unnamed."""
    total = sum(map(len, groups.values()))
    if len(names) == total > 1:
        return f"all {total} spectra"
    named = set(names)
    whole = {
        group: mine for group, mine in groups.items() if 1 < len(mine) <= len(named) and named >= {*mine}
    }
    covered = {name for mine in whole.values() for name in mine}
    short = [f"all {len(mine)} of {group}" for group, mine in whole.items()]
    return ", ".join([*short, *(name for name in names if name not in covered)])
