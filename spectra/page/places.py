"""Who each file is: its place in the study, as the study file says it or as names suggest it."""

from __future__ import annotations

import glob
import os
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from spectra.errors import CoatproofError, UsageError
from spectra.study.starter import starter_text
from spectra.study.survey import Seen
from spectra.units import DECIMAL_MARKS, X_UNITS, Y_UNITS, StatedUnits

BARE, NEAT, COATED, RESIDUE, LEFT_OUT = "bare", "neat", "coated", "residue", "left out"

ROLES = (BARE, NEAT, COATED, RESIDUE, LEFT_OUT)

# The tables of the study file that hold the groups of each role; ``*`` is the group's name.
TABLES: Mapping[str, tuple[str, ...]] = {
    BARE: ("substrate",),
    NEAT: ("coatings", "*"),
    COATED: ("samples", "*"),
    RESIDUE: ("residues", "measured", "*"),
}

Steps = tuple[str, ...]


@dataclass(frozen=True)
class Place:
    """The place of one file in a study.

    Attributes
    ----------
    role
        Member of :data:`ROLES`; empty if nobody has said it.
    group
        The coating, sample or residue; empty for the bare substrate.
    specimen
        As the study names it; empty where the file is a specimen of its own.
    reason
        Why a file is left out.
    """

    role: str = ""
    group: str = ""
    specimen: str = ""
    reason: str = ""


@dataclass(frozen=True)
class Listing:
    """One list of files in the study file: the way to it, and whom it is about."""

    steps: Steps
    entries: Any
    place: Place


def listings(document: Mapping[str, Any]) -> Iterator[Listing]:
    """Yield every list of spectra of a study, in the order of the roles."""
    for role, pattern in TABLES.items():
        for steps, table in _tables(document, pattern, ()):
            name = steps[-1] if "*" in pattern else ""
            if role == RESIDUE:
                yield Listing(steps, table, Place(role, name))
            elif isinstance(table, Mapping):
                yield from _of_group(steps, table, Place(role, name))


def _tables(value: Any, pattern: Steps, before: Steps) -> Iterator[tuple[Steps, Any]]:
    """Yield what stands at a way through tables, with the way."""
    if not pattern:
        yield before, value
    elif isinstance(value, Mapping):
        names = list(value) if pattern[0] == "*" else [pattern[0]] if pattern[0] in value else []
        for name in names:
            yield from _tables(value[name], pattern[1:], (*before, str(name)))


def _of_group(steps: Steps, table: Mapping[str, Any], place: Place) -> Iterator[Listing]:
    if isinstance(table.get("spectra"), list):
        yield Listing((*steps, "spectra"), table["spectra"], place)
    specimens = table.get("specimens")
    if isinstance(specimens, Mapping):
        for name, entries in specimens.items():
            if isinstance(entries, list):
                yield Listing(
                    (*steps, "specimens", str(name)), entries, Place(place.role, place.group, str(name))
                )


def files_of(entry: Any, folder: Path) -> list[str]:
    """Return the files that one entry of a list names, by their path in the folder.

    A pattern counts as in ``spectra.study.file_search``; an entry may also be a table with a ``file``, or
    name a column after ``#``.
    """
    text = str(entry.get("file", "")) if isinstance(entry, Mapping) else str(entry)
    if os.path.isfile(folder / text):  # noqa: PTH113  (Path.is_file raises for names no disk takes)
        return [os.path.normpath(text).replace(os.sep, "/")]
    if not isinstance(entry, Mapping) and glob.has_magic(text):
        found = sorted(glob.glob(text, root_dir=folder, recursive=True))  # noqa: PTH207  (as file_search does)
        return [os.path.normpath(name).replace(os.sep, "/") for name in found]
    file = text.rpartition("#")[0]
    return files_of(file, folder) if file else []


def read_places(document: Mapping[str, Any], folder: Path) -> dict[str, Place]:
    """Return the place of every file a study names; the first one where it is named twice."""
    places: dict[str, Place] = {}
    for listing in listings(document):
        for entry in listing.entries:
            for file in files_of(entry, folder):
                places.setdefault(file, listing.place)
    for entry in document.get("leave_out", ()):
        if isinstance(entry, Mapping):
            for file in files_of(entry, folder):
                held = places.get(file, Place())
                places[file] = Place(LEFT_OUT, held.group, held.specimen, str(entry.get("reason", "")))
    return places


def read_units(document: Mapping[str, Any], places: Mapping[str, Place]) -> dict[str, StatedUnits]:
    """Return what a study says of the units of every file it names; under ``""`` what it says of all.

    Words that are no units are passed over: the study's own check tells of them.
    """
    of_all = _stated(document.get("files", {}))
    said = {"": of_all}
    for file, place in places.items():
        said[file] = _stated(_table_of(document, place)).over(of_all)
    return said


def _table_of(document: Mapping[str, Any], place: Place) -> Any:
    if place.role in (RESIDUE, "", LEFT_OUT):
        return {}
    value: Any = document
    for step in TABLES[place.role]:
        value = value.get(place.group if step == "*" else step, {}) if isinstance(value, Mapping) else {}
    return value


def _stated(table: Any) -> StatedUnits:
    """Return the units that a table states."""
    known = {"ordinate": Y_UNITS, "abscissa": X_UNITS, "decimal": DECIMAL_MARKS}
    held = table if isinstance(table, Mapping) else {}
    return StatedUnits(**{name: held[name] for name, words in known.items() if held.get(name) in words})


def guess_places(folder: Path, files: Iterable[Seen]) -> dict[str, Place]:
    """Return what the names of files suggest, as ``coatproof new`` would write it; empty without files."""
    try:
        return read_places(tomllib.loads(starter_text(files, folder, folder)), folder)
    except (CoatproofError, tomllib.TOMLDecodeError):  # two groups of one name make no study
        return {}


def chosen_places(files: Sequence[str], words: Mapping[str, str]) -> dict[str, Place]:
    """Return the places a person gave to some files.

    Parameters
    ----------
    files
    words
        ``role``, ``group``, ``pieces`` (``own``, ``alike`` or ``one``), ``specimen`` and ``reason``.

    Raises
    ------
    UsageError
        If something needed is not said.

    Examples
    --------
    >>> chosen_places(["a/S1_1.csv"], {"role": "coated", "group": "mist", "pieces": "alike"})
    {'a/S1_1.csv': Place(role='coated', group='mist', specimen='S1', reason='')}
    """
    role, group = words.get("role", ""), words.get("group", "")
    if not files:
        raise UsageError("no file is marked; mark files in the list first")
    if role and role not in ROLES:
        raise UsageError(f"unknown role {role[:40]!r}; expected one of {', '.join(ROLES)}")
    if role in (NEAT, COATED, RESIDUE) and not group:
        raise UsageError("say what the coating, the sample or the residue is called")
    if role == LEFT_OUT and not words.get("reason"):
        raise UsageError("say why they are left out: the reason stands in every report")
    if words.get("pieces") == "one" and role in (BARE, COATED) and not words.get("specimen"):
        raise UsageError("say what the one piece is called")
    return {file: _chosen(file, role, words) for file in files}


def _chosen(file: str, role: str, words: Mapping[str, str]) -> Place:
    if role == LEFT_OUT:
        return Place(role, reason=words.get("reason", ""))
    if role not in (BARE, COATED):
        return Place(role, words.get("group", "") if role else "")
    pieces = words.get("pieces", "own")
    stem = Path(file).stem
    named = {"one": words.get("specimen", ""), "alike": re.sub(r"[\s_.-]+\d+$", "", stem)}
    return Place(role, words.get("group", "") if role == COATED else "", named.get(pieces, ""))
