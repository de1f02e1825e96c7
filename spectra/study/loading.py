"""From a study file, or from files named one by one, to a checked ``Study``.

Checked means: every key is known and of its kind, every setting in its range, every named file exists,
no file is named twice, no two files hold the same bytes, and the roles a verdict needs are filled. All
mistakes of a study are told at once, each with file, line and key. What is doubtful but usable goes to
``Study.warnings``. Paths are relative to the study file.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path

from spectra.errors import StudyError
from spectra.groups import Group
from spectra.study.checks import (
    note_mixed_techniques,
    note_unknown_residues,
    read_instrument,
    read_tables,
    warnings_of,
)
from spectra.study.file_search import FileSearch
from spectra.study.form import StudyForm, fill, read_form
from spectra.study.group_tables import bare_group, groups_of, residue_group
from spectra.study.mistakes import Mistakes
from spectra.study.positions import read_positions
from spectra.study.records import Study
from spectra.study.settings import Settings
from spectra.study.toml_lines import KeyPath
from spectra.study.wishes import (
    leave_out,
    note_conditions,
    note_empty,
    read_against,
    read_requirement,
)
from spectra.units import UNSTATED, StatedUnits


def load_study(path: str | Path, *, need_samples: bool = True) -> Study:
    """Read and check a study file.

    Parameters
    ----------
    path
        A TOML 1.0 file in UTF-8.
    need_samples
        False where bare and neat spectra are enough: before anything is coated.

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
    if need_samples and not form.samples:
        mistakes.add_missing(("samples",), "add [samples.NAME] with the spectra of coated specimens")
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
    coating: str | None = None,
    substrate: str | None = None,
    title: str | None = None,
    units: StatedUnits = UNSTATED,
) -> Study:
    """Make a study of one coating on one sample from files alone; each file is one specimen.

    Parameters
    ----------
    bare, neat, coated
        Files or patterns, relative to the working folder.
    technique
        Of all files, a member of ``study.TECHNIQUES``; None if not known.
    crystal, angle_deg
        As in :class:`~spectra.study.records.Instrument`.
    coating
        Name of the coating; that of a material in the reference bands says what it is made of.
    substrate
        Material of the substrate.
    title
        For the report's head.
    units : StatedUnits
        What the files do not say about their numbers.

    Returns
    -------
    Study
        Its sample is called ``"coated"``, its coating ``"coating"`` if it is not named.

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
        "title": title or f"{coating or 'Coating'} on {substrate or 'substrate'}",
        "technique": technique,
        "files": asdict(units),
        "instrument": {"crystal": crystal, "angle_deg": angle_deg},
        "substrate": {"spectra": _texts(bare), "material": substrate},
        "coatings": {coating or "coating": {"spectra": _texts(neat)}},
        "samples": {"coated": {"spectra": _texts(coated)}},
    }
    mistakes = Mistakes("files given", None, _as_option)
    form = fill(StudyForm, given, mistakes)
    return _study(form, Settings(), FileSearch(Path.cwd(), mistakes), None, "")


def _texts(paths: Sequence[str | Path]) -> tuple[str, ...]:
    return tuple(str(path) for path in paths)


def _as_option(path: KeyPath) -> str:
    """Return the option that gave a value, as the command line spells it."""
    if path[-1] == "material":
        return "--substrate"
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
    substrate = bare_group(form, search)
    coatings = groups_of("neat", form.coatings, form, search)
    samples = groups_of("coated", form.samples, form, search)
    measured = {name: residue_group(name, form, search) for name in form.residues.measured}
    tables = search.files(form.bands, ("bands",))
    bands = read_tables(tables, mistakes)
    if not form.coatings and not form.samples:
        mistakes.add_missing(("coatings",), "add [coatings.NAME] with the spectra of the neat coating")
    search.note_copies()
    groups = (substrate, *coatings.values(), *samples.values(), *measured.values())
    positions = _positions(form, tuple(samples.values()), search)
    (substrate, *rest), left_out = leave_out(groups, form.leave_out, search)
    note_empty((substrate, *rest), left_out, mistakes)
    coatings, samples, measured = (
        {group.name: group for group in rest if group.role == role} for role in ("neat", "coated", "residue")
    )
    note_conditions(samples, mistakes)
    note_mixed_techniques([substrate, *samples.values()], mistakes)
    note_mixed_techniques([*coatings.values()], mistakes)
    note_unknown_residues(form.residues.watch, bands, mistakes)
    instrument = read_instrument(form.instrument, mistakes)
    against, requirement = read_against(form, mistakes), read_requirement(form, mistakes)
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
        notes={key: str(value) for key, value in form.study.model_dump(exclude_none=True).items()},
        left_out=left_out,
        against=against,
        requirement=requirement,
        positions=positions,
        settings=settings,
    )
    return replace(study, warnings=tuple(warnings_of(study, _all_stated(form), bands, mistakes)))


def _positions(
    form: StudyForm, samples: Sequence[Group], search: FileSearch
) -> dict[Path, tuple[float, float]]:
    """Return the positions of the spots, if the study gives any."""
    if form.positions is None:
        return {}
    files = search.files((form.positions.file,), ("positions", "file"))
    return read_positions(files[0], samples, search) if files else {}


def _all_stated(form: StudyForm) -> bool:
    """Tell whether every group's technique is said; one said to be "other" is said."""
    groups = [form.substrate, *form.coatings.values(), *form.samples.values()]
    return form.technique is not None or all(item is not None and item.technique for item in groups)
