"""From the tables of a study file to its groups: technique, specimens, files, expected coatings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from spectra.groups import TECHNIQUES, Group, Specimen
from spectra.study.checks import UNSTATED, place_of
from spectra.study.file_search import FileSearch
from spectra.study.form import GroupForm, StudyForm
from spectra.study.mistakes import Mistakes, nearest, shown
from spectra.study.toml_lines import KeyPath

# Keys of a sample or coating that its group takes over as they stand.
WORDS = ("expect", "after", "treatment", "side", "layout")


def bare_group(form: StudyForm, search: FileSearch) -> Group:
    """Return the group of ``[substrate]``; without one, an empty group and a mistake."""
    if form.substrate is not None:
        return _group("bare", "substrate", form.substrate, form, search)
    search.mistakes.add_missing(("substrate",), "add [substrate] with the spectra of the bare substrate")
    return Group("bare", "substrate", "", ())


def groups_of(
    role: str, items: Mapping[str, GroupForm], form: StudyForm, search: FileSearch
) -> dict[str, Group]:
    """Return the groups of ``[coatings]`` or ``[samples]`` by name, in the order of the file."""
    return {name: _group(role, name, item, form, search) for name, item in items.items()}


def _group(role: str, name: str, item: GroupForm, form: StudyForm, search: FileSearch) -> Group:
    """Make the group of one table of the study file."""
    at = place_of(role, name)
    if not name.strip():
        search.mistakes.add(at, "has no name; name the coating or sample in its heading")
    return Group(
        role=role,
        name=name,
        technique=_technique(item, at, form, search.mistakes),
        specimens=_specimens(item, at, search),
        material=getattr(item, "material", None),
        contact=item.contact,
        coatings=_expected(item, at, form, search.mistakes) if role == "coated" else (),
        **{key: getattr(item, key) for key in WORDS if hasattr(item, key)},
    )


def residue_group(name: str, form: StudyForm, search: FileSearch) -> Group:
    """Return the measured spectra of one residue."""
    at = ("residues", "measured", name)
    files = _some_files(form.residues.measured[name], at, search)
    return Group("residue", name, form.technique or UNSTATED, _one_each(files, search))


def _technique(item: GroupForm, at: KeyPath, form: StudyForm, mistakes: Mistakes) -> str:
    """Return the group's technique, else the study's, else that nothing is known of it."""
    place = ("technique",) if item.technique is None else (*at, "technique")
    technique = item.technique or form.technique or UNSTATED
    if technique in TECHNIQUES:
        return technique
    known = f"{nearest(technique, TECHNIQUES)} (known: {', '.join(TECHNIQUES)})"
    if not mistakes.known_at(place):
        mistakes.add(place, f"unknown technique {shown(technique)}{known}")
    return ""


def _expected(item: GroupForm, at: KeyPath, form: StudyForm, mistakes: Mistakes) -> tuple[str, ...]:
    """Return the coatings expected on a sample; by default all."""
    named: tuple[str, ...] | None = getattr(item, "coatings", None)
    if named is None:
        return tuple(form.coatings)
    if not named:
        mistakes.add((*at, "coatings"), "an empty list; name the coatings expected, or leave it out for all")
    for number, name in enumerate(named):
        place = (*at, "coatings", number)
        if name not in form.coatings:
            known = f"(known: {', '.join(form.coatings)})" if form.coatings else "(none is given)"
            mistakes.add(place, f"unknown coating {shown(name)}{nearest(name, form.coatings)} {known}")
        elif name in named[:number]:
            mistakes.add(place, f"{shown(name)} is named twice; once is enough")
    return named


def _specimens(item: GroupForm, at: KeyPath, search: FileSearch) -> tuple[Specimen, ...]:
    """Return the specimens of a group, each with its files."""
    if item.spectra is not None and item.specimens is not None:
        search.mistakes.add(at, "spectra and specimens are both given; keep one of the two")
    if item.specimens:
        return tuple(
            Specimen(name, _some_files(patterns, (*at, "specimens", name), search))
            for name, patterns in item.specimens.items()
        )
    if item.spectra is None:
        search.mistakes.add(at, 'no spectra; add spectra = ["FOLDER/*.csv"]')
        return ()
    return _one_each(_some_files(item.spectra, (*at, "spectra"), search), search)


def _some_files(patterns: Sequence[str], at: KeyPath, search: FileSearch) -> tuple[Path, ...]:
    if not patterns:
        search.mistakes.add(at, "no file; name at least one")
    return search.files(patterns, at)


def _one_each(files: Sequence[Path], search: FileSearch) -> tuple[Specimen, ...]:
    """Return one specimen a file, named by its stem or, where stems are shared, by its path."""
    stems = [file.stem for file in files]
    alone = len(set(stems)) == len(stems)
    return tuple(Specimen(file.stem if alone else search.shown(file), (file,)) for file in files)
