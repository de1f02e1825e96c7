"""What a study asks for beyond its spectra: files left out, conditions, comparisons.

Each function notes what is mistaken at its place and returns the rest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from spectra.comparison.settings import Requirement
from spectra.groups import Group
from spectra.study.checks import place_of
from spectra.study.file_search import FileSearch
from spectra.study.form import LeaveOutForm, StudyForm
from spectra.study.mistakes import Mistakes, nearest, shown
from spectra.study.records import LeftOutFile
from spectra.study.settings_form import made
from spectra.study.toml_lines import KeyPath


def leave_out(
    groups: Sequence[Group], asked: Sequence[LeaveOutForm], search: FileSearch
) -> tuple[tuple[Group, ...], tuple[LeftOutFile, ...]]:
    """Take the files that the user leaves out from their groups, and keep a record of each.

    Parameters
    ----------
    groups : sequence of Group
    asked : sequence of LeaveOutForm
    search : FileSearch

    Returns
    -------
    groups : tuple of Group
        A specimen without files left is not in its group any more.
    left_out : tuple of LeftOutFile
    """
    reasons: dict[Path, str] = {}
    for number, item in enumerate(asked):
        place: KeyPath = ("leave_out", number, "file")
        file = (search.folder / item.file).resolve()
        known = [search.shown(path) for path in search.named]
        if file not in search.named:
            hint = nearest(item.file, known) or "; name a file as the study does"
            search.mistakes.add(place, f"{shown(item.file)} is no spectrum of this study{hint}")
        elif file in reasons:
            search.mistakes.add(place, f"{shown(item.file)} is left out twice; once is enough")
        else:
            reasons[file] = item.reason
    return tuple(_without(group, reasons) for group in groups), tuple(_records(groups, reasons))


def _without(group: Group, reasons: Mapping[Path, str]) -> Group:
    """Return the group without the files left out."""
    kept = [
        replace(specimen, files=tuple(file for file in specimen.files if file.resolve() not in reasons))
        for specimen in group.specimens
    ]
    return replace(group, specimens=tuple(specimen for specimen in kept if specimen.files))


def _records(groups: Sequence[Group], reasons: Mapping[Path, str]) -> list[LeftOutFile]:
    return [
        LeftOutFile(file, group.role, group.name, specimen.name, reasons[file.resolve()])
        for group in groups
        for specimen in group.specimens
        for file in specimen.files
        if file.resolve() in reasons
    ]


def note_empty(groups: Sequence[Group], left_out: Sequence[LeftOutFile], mistakes: Mistakes) -> None:
    """Note groups that leaving files out has emptied."""
    touched = {(item.role, item.group) for item in left_out}
    for group in groups:
        if not group.specimens and (group.role, group.name) in touched:
            text = "leave_out takes its every spectrum; keep one, or take the group out"
            mistakes.add(place_of(group.role, group.name), text)


def note_conditions(samples: Mapping[str, Group], mistakes: Mistakes) -> None:
    """Note samples said to be after one that is not there, or after themselves by a ring."""
    for name, group in samples.items():
        place: KeyPath = ("samples", name, "after")
        if group.after is None:
            continue
        if group.after not in samples:
            hint = f"{nearest(group.after, samples)} (known: {', '.join(samples)})"
            mistakes.add(place, f"unknown sample {shown(group.after)}{hint}")
        elif name in _before(name, samples):
            mistakes.add(place, "leads back to the sample itself; name the one measured before the treatment")


def _before(name: str, samples: Mapping[str, Group]) -> list[str]:
    """Return every sample before one, the nearest first; a ring ends where it closes."""
    found: list[str] = []
    here = samples[name].after
    while here is not None and here in samples and here not in found:
        found.append(here)
        here = samples[here].after
    return found


def read_against(form: StudyForm, mistakes: Mistakes) -> str | None:
    """Return the sample that others are compared with; one that is not there is noted."""
    against = form.compare.against
    if against is None or against in form.samples:
        return against
    hint = f"{nearest(against, form.samples)} (known: {', '.join(form.samples) or 'none'})"
    mistakes.add(("compare", "against"), f"unknown sample {shown(against)}{hint}")
    return None


def read_requirement(form: StudyForm, mistakes: Mistakes) -> Requirement | None:
    """Return the stated requirement; one that asks nothing is noted."""
    if form.accept is None:
        return None
    given = form.accept.model_dump(exclude_none=True)
    if not given.keys() & {"least_nm", "most_variation"}:
        mistakes.add(("accept",), "asks for nothing; give least_nm or most_variation, or take the table out")
    return made(Requirement, given, ("accept",), mistakes)
