"""From the tables of a study file to its groups: technique, specimens, files, expected coatings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from spectra.groups import TECHNIQUES, Group, Specimen
from spectra.study.checks import UNSTATED, place_of
from spectra.study.file_search import FileSearch, Part
from spectra.study.form import Entries, FilesForm, GroupForm, StudyForm
from spectra.study.mistakes import Mistakes, nearest, shown
from spectra.study.toml_lines import KeyPath
from spectra.units import DECIMAL_MARKS, X_UNITS, Y_UNITS, StatedUnits

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
        units=_units(item, at, form, search.mistakes),
        **{key: getattr(item, key) for key in WORDS if hasattr(item, key)},
    )


def residue_group(name: str, form: StudyForm, search: FileSearch) -> Group:
    """Return the measured spectra of one residue."""
    at = ("residues", "measured", name)
    parts = _some_parts(form.residues.measured[name], at, search)
    units = _stated(form.files, ("files",), search.mistakes)
    technique = _known_technique(form.technique or UNSTATED) or UNSTATED
    return Group("residue", name, technique, _one_each(parts, search), units=units)


def _units(item: GroupForm, at: KeyPath, form: StudyForm, mistakes: Mistakes) -> StatedUnits:
    """Return what a group says about its files, else what the study says."""
    return _stated(item, at, mistakes).over(_stated(form.files, ("files",), mistakes))


def _stated(form: FilesForm, at: KeyPath, mistakes: Mistakes) -> StatedUnits:
    """Return what one table says about files; an unknown word is noted and left out."""
    known = {"ordinate": Y_UNITS, "abscissa": X_UNITS, "decimal": DECIMAL_MARKS}
    said = {}
    for key, words in known.items():
        value = getattr(form, key)
        if value is None:
            continue
        if value in words:
            said[key] = value
        elif not mistakes.known_at((*at, key)):
            listed = ", ".join(words)
            mistakes.add((*at, key), f"unknown word {shown(value)}{nearest(value, words)} (known: {listed})")
    return StatedUnits(**said)


def _technique(item: GroupForm, at: KeyPath, form: StudyForm, mistakes: Mistakes) -> str:
    """Return the group's technique, else the study's, else that nothing is known of it."""
    place = ("technique",) if item.technique is None else (*at, "technique")
    technique = item.technique or form.technique or UNSTATED
    if (meant := _known_technique(technique)) is not None:
        return meant
    known = f"{nearest(technique, TECHNIQUES)} (known: {', '.join(TECHNIQUES)})"
    if not mistakes.known_at(place):
        mistakes.add(place, f"unknown technique {shown(technique)}{known}")
    return ""


def _known_technique(text: str) -> str | None:
    """Return a technique however its letters are cased."""
    return next((known for known in TECHNIQUES if known.casefold() == text.strip().casefold()), None)


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
            _specimen(name, _some_parts(entries, (*at, "specimens", name), search))
            for name, entries in item.specimens.items()
        )
    if item.spectra is None:
        search.mistakes.add(at, 'no spectra; add spectra = ["FOLDER/*.csv"]')
        return ()
    return _one_each(_some_parts(item.spectra, (*at, "spectra"), search), search)


def _some_parts(entries: Entries, at: KeyPath, search: FileSearch) -> tuple[Part, ...]:
    if not entries:
        search.mistakes.add(at, "no file; name at least one")
    return search.parts(
        [(entry, ()) if isinstance(entry, str) else (entry.file, entry.columns) for entry in entries], at
    )


def _specimen(name: str, parts: Sequence[Part]) -> Specimen:
    """Return the specimen that some files, or spectra of files, were measured on."""
    chosen = tuple(part.columns for part in parts)
    return Specimen(name, tuple(part.file for part in parts), chosen if any(chosen) else ())


def _one_each(parts: Sequence[Part], search: FileSearch) -> tuple[Specimen, ...]:
    """Return one specimen a file or named spectrum, by its stem or, where stems are shared, its path."""
    pieces = [
        Part(part.file, (column,)) if column else part for part in parts for column in (part.columns or ("",))
    ]
    names = [" ".join((piece.file.stem, *piece.columns)) for piece in pieces]
    if len(set(names)) < len(names):
        names = [" ".join((search.shown(piece.file), *piece.columns)) for piece in pieces]
    return tuple(_specimen(name, (piece,)) for name, piece in zip(names, pieces, strict=True))
