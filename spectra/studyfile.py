"""From a study file, or from files named one by one, to a checked ``Study``.

Checked means: every key is known and of its kind, every setting in its range, every named file exists,
no file is named twice, no two files hold the same bytes, and the roles a verdict needs are filled. All
mistakes of a study are told at once, each with file, line and key. What is doubtful but usable goes to
``Study.warnings``. Paths are relative to the study file.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from spectra.errors import StudyError
from spectra.filesearch import FileSearch
from spectra.groups import TECHNIQUES, Group, Specimen
from spectra.mistakes import Mistakes, nearest, shown
from spectra.study import Settings, Study
from spectra.studychecks import (
    UNSTATED,
    note_mixed_techniques,
    note_unknown_residues,
    place_of,
    read_instrument,
    read_tables,
    warnings_of,
)
from spectra.studyform import GroupForm, StudyForm, fill, read_form
from spectra.tomlplace import KeyPath


def load_study(path: str | Path) -> Study:
    """Read and check a study file.

    Parameters
    ----------
    path
        A TOML 1.0 file in UTF-8.

    Returns
    -------
    Study

    Raises
    ------
    StudyError
        With every mistake of the file: line, key, what was found, what was expected.

    Examples
    --------
    >>> load_study("no such study.toml")
    Traceback (most recent call last):
    spectra.errors.StudyError: no such study.toml: no such file; check the name and the folder
    """
    content = _content(Path(path))
    try:
        form, settings, mistakes = read_form(_decoded(content, path), str(path))
    except StudyError as error:
        if Path(path).suffix.lower() == ".toml":
            raise
        doubt = "is it a study file? Spectra are named with --bare, --neat and --coated"
        raise StudyError(f"{error}; {doubt}") from None
    file = Path(path).absolute()
    search = FileSearch(file.parent, mistakes)
    return _study(form, settings, search, file, hashlib.sha256(content).hexdigest())


def study_from_files(
    bare: Sequence[str | Path],
    neat: Sequence[str | Path],
    coated: Sequence[str | Path],
    *,
    technique: str | None = None,
    crystal: str | None = None,
    angle_deg: float | None = None,
    title: str = "Coating on substrate",
) -> Study:
    """Make a study of one coating on one sample from files alone; each file is one specimen.

    Parameters
    ----------
    bare, neat, coated
        Files or patterns, relative to the working folder.
    technique
        Of all files, a member of ``study.TECHNIQUES``; None if not known.
    crystal, angle_deg
        As in :class:`~spectra.study.Instrument`.
    title
        For the report's head.

    Returns
    -------
    Study
        With coating ``"coating"`` and sample ``"coated"``.

    Raises
    ------
    StudyError
        As :func:`load_study`, naming the role in place of the line.

    Examples
    --------
    >>> study_from_files([__file__], [], ["another.csv"])  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    spectra.errors.StudyError: files given: 2 mistakes
      --neat: no file; name at least one
      --coated: no file 'another.csv' in ...; check the name
    """
    given = {
        "title": title,
        "technique": technique,
        "instrument": {"crystal": crystal, "angle_deg": angle_deg},
        "substrate": {"spectra": _texts(bare)},
        "coatings": {"coating": {"spectra": _texts(neat)}},
        "samples": {"coated": {"spectra": _texts(coated)}},
    }
    mistakes = Mistakes("files given", None, _as_option)
    form = fill(StudyForm, given, mistakes)
    return _study(form, Settings(), FileSearch(Path.cwd(), mistakes), None, "")


def _texts(paths: Sequence[str | Path]) -> tuple[str, ...]:
    return tuple(str(path) for path in paths)


def _as_option(path: KeyPath) -> str:
    """Return the option that gave a value, as the command line spells it."""
    roles = {"substrate": "--bare", "coatings": "--neat", "samples": "--coated"}
    return roles.get(str(path[0])) or f"--{path[-1]}".replace("_", "-")


def _content(path: Path) -> bytes:
    """Return the bytes of a study file, or say why there are none."""
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        raise StudyError(f"{path}: no such file; check the name and the folder") from None
    except IsADirectoryError:
        inside = sorted(path.glob("*.toml"))
        hint = f"did you mean {inside[0]}?" if inside else f"`coatproof new {path}` writes one"
        raise StudyError(f"{path}: a folder; expected a study file; {hint}") from None
    except OSError as error:
        raise StudyError(f"{path}: cannot be opened ({error.strerror}); check its permissions") from None
    if not content.strip():
        raise StudyError(f"{path}: empty; expected a study file in TOML")
    return content


def _decoded(content: bytes, path: str | Path) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise StudyError(f"{path} line {line}: not UTF-8 text; save the study file as UTF-8") from None


def _study(form: StudyForm, settings: Settings, search: FileSearch, file: Path | None, sha256: str) -> Study:
    """Settle what the values mean together."""
    mistakes = search.mistakes
    substrate = _substrate(form, search)
    coatings = _groups("neat", form.coatings, form, search)
    samples = _groups("coated", form.samples, form, search)
    measured = {name: _residue(name, form, search) for name in form.residues.measured}
    tables = search.files(form.bands, ("bands",))
    bands = read_tables(tables, mistakes)
    _note_missing_roles(form, mistakes)
    search.note_copies()
    note_mixed_techniques([substrate, *samples.values()], mistakes)
    note_mixed_techniques([*coatings.values()], mistakes)
    note_unknown_residues(form.residues.watch, bands, mistakes)
    instrument = read_instrument(form.instrument, mistakes)
    mistakes.raise_if_any()
    study = Study(
        title=form.title or (file.stem if file else ""),
        file=file,
        sha256=sha256,
        instrument=instrument,
        substrate=substrate,
        coatings=coatings,
        samples=samples,
        watch=form.residues.watch,
        measured=measured,
        band_tables=tables,
        settings=settings,
    )
    return replace(study, warnings=tuple(warnings_of(study, _all_stated(form), bands, mistakes)))


def _all_stated(form: StudyForm) -> bool:
    """Tell whether every group's technique is said; one said to be "other" is said."""
    groups = [form.substrate, *form.coatings.values(), *form.samples.values()]
    return form.technique is not None or all(item is not None and item.technique for item in groups)


def _note_missing_roles(form: StudyForm, mistakes: Mistakes) -> None:
    """Note the roles without which there is nothing to compare."""
    if not form.coatings:
        mistakes.add(("coatings",), "missing; add [coatings.NAME] with the spectra of the neat coating")
    if not form.samples:
        mistakes.add(("samples",), "missing; add [samples.NAME] with the spectra of coated specimens")


def _substrate(form: StudyForm, search: FileSearch) -> Group:
    if form.substrate is not None:
        return _group("bare", "substrate", form.substrate, form, search)
    search.mistakes.add(("substrate",), "missing; add [substrate] with the spectra of the bare substrate")
    return Group("bare", "substrate", "", ())


def _groups(
    role: str, items: Mapping[str, GroupForm], form: StudyForm, search: FileSearch
) -> dict[str, Group]:
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
    )


def _residue(name: str, form: StudyForm, search: FileSearch) -> Group:
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
