"""The study file as the page writes it: only what a person changed, everything else left as it stands.

Comments, order, and keys the page does not know are kept (``tomlkit``). Every edit is a function from the
text of the file to its new text; :func:`save` puts it in place whole or not at all, and only if the file is
still the one the edit was made for.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from spectra.errors import StudyError
from spectra.page.places import LEFT_OUT, RESIDUE, TABLES, Place, Steps, files_of, listings
from spectra.writing.output import write_file

HEAD = "# Written by the page of coatproof. It may be edited by hand; the page then shows what you wrote.\n"

NO_FILE = "none"


def load_text(path: Path) -> tuple[str, str]:
    """Return the text of a study file and its version; an empty text if there is none yet.

    Raises
    ------
    StudyError
        If the file cannot be opened or is not UTF-8.
    """
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        return "", NO_FILE
    except OSError as error:
        raise StudyError(f"{path.name}: cannot be opened ({error.strerror}); check its permissions") from None
    try:
        return content.decode("utf-8-sig"), hashlib.sha256(content).hexdigest()
    except UnicodeDecodeError:
        raise StudyError(f"{path.name}: not UTF-8 text; save the study file as UTF-8") from None


def save(path: Path, text: str, version: str) -> str:
    """Put a new text in place of the one of ``version``, whole or not at all; return its version.

    Raises
    ------
    StudyError
        If the file is not the one of ``version`` any more, or the text is not TOML.
    OutputError
        If it cannot be written; the old file stands then.
    """
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise StudyError(f"{path.name}: the change would leave no valid study file ({error})") from None
    if load_text(path)[1] != version:
        raise StudyError(f"{path.name} was changed meanwhile; look at it as it is now and change it again")
    content = text.encode()
    write_file(path, content)
    return hashlib.sha256(content).hexdigest()


def parse(text: str) -> tomlkit.TOMLDocument:
    """Return a text as a document that keeps its comments.

    Raises
    ------
    StudyError
        If it is not TOML.
    """
    try:
        return tomlkit.parse(text or HEAD)
    except TOMLKitError as error:
        raise StudyError(f"the study file is not TOML ({error}); correct it by hand") from None


def assign(text: str, folder: Path, places: Mapping[str, Place]) -> str:
    """Give files their places in the study.

    Parameters
    ----------
    text
        Of the study file.
    folder
        Where the study file stands.
    places
        By path in the folder. Without a role a file is taken out of the study; one that is left out stays
        in its group and is named with the reason.

    Examples
    --------
    >>> place = Place("bare", "", "A")
    >>> print(assign("", Path(), {"a.csv": place, "b.csv": place}).partition("wrote.")[2].strip())
    [substrate]
    specimens = {A = ["a.csv", "b.csv"]}
    """
    document = parse(text)
    _forgive(document, folder, set(places))
    _take_out(document, folder, {file for file, place in places.items() if place.role != LEFT_OUT})
    for place, files in _together(places).items():
        if place.role == LEFT_OUT:
            _leave_out(document, files, place.reason)
        elif place.role:
            _put_in(document, folder, files, place)
    return tomlkit.dumps(document)


def _together(places: Mapping[str, Place]) -> dict[Place, list[str]]:
    """Return the files of each place, in their order."""
    found: dict[Place, list[str]] = {}
    for file, place in places.items():
        found.setdefault(place, []).append(file)
    return found


def _forgive(document: tomlkit.TOMLDocument, folder: Path, files: set[str]) -> None:
    """Take files off the list of those left out."""
    entries = document.get("leave_out")
    if entries is None:
        return
    kept = [entry for entry in entries if not files.intersection(files_of(entry, folder))]
    if len(kept) < len(entries):
        document.remove("leave_out")
        if kept:
            _write_left_out(document, [dict(entry) for entry in kept])


def _leave_out(document: tomlkit.TOMLDocument, files: Sequence[str], reason: str) -> None:
    entries = [dict(entry) for entry in document.get("leave_out", ())]
    document.pop("leave_out", None)
    _write_left_out(document, [*entries, *({"file": file, "reason": reason} for file in files)])


def _write_left_out(document: tomlkit.TOMLDocument, entries: Sequence[Mapping[str, Any]]) -> None:
    """Write the list at the foot, a table an entry."""
    listed = tomlkit.aot()
    for entry in entries:
        table = tomlkit.table()
        for key, value in entry.items():
            table[key] = value
        listed.append(table)
    document["leave_out"] = listed


def _take_out(document: tomlkit.TOMLDocument, folder: Path, files: set[str]) -> None:
    """Take files out of every list; a pattern is spelt out only where it names one of them."""
    for listing in list(listings(document)):
        kept: list[Any] = []
        for entry in listing.entries:
            named = files_of(entry, folder)
            kept += [name for name in named if name not in files] if files.intersection(named) else [entry]
        if kept != list(listing.entries):
            _set_list(document, listing.steps, kept)


def _put_in(document: tomlkit.TOMLDocument, folder: Path, files: Sequence[str], place: Place) -> None:
    """Add files to their group, as specimens wherever one of the group is named."""
    steps = tuple(place.group if step == "*" else step for step in TABLES[place.role])
    if place.role == RESIDUE:
        _set_list(document, steps, [*_value_at(document, steps, []), *files])
        return
    table = _table_at(document, steps)
    if not place.specimen and "specimens" not in table:
        _set_list(document, (*steps, "spectra"), [*table.get("spectra", []), *files])
        return
    if "spectra" in table:
        _name_specimens(document, steps, folder)
    for file in files:
        way = (*steps, "specimens", place.specimen or Path(file).stem)
        _set_list(document, way, [*_value_at(document, way, []), file])


def _name_specimens(document: tomlkit.TOMLDocument, steps: Steps, folder: Path) -> None:
    """Turn a list of files, each a specimen, into specimens named as the study would name them."""
    table = _table_at(document, steps)
    files = [name for entry in table["spectra"] for name in files_of(entry, folder)]
    stems = [Path(file).stem for file in files]
    alone = len(set(stems)) == len(stems)
    table.remove("spectra")
    for file, stem in zip(files, stems, strict=True):
        _set_list(document, (*steps, "specimens", stem if alone else file), [file])


def _set_list(document: tomlkit.TOMLDocument, steps: Steps, entries: Sequence[Any]) -> None:
    """Write a list of files at a way; an empty one goes, and with it what is empty around it."""
    if not entries:
        _remove(document, steps)
        return
    array = tomlkit.array()
    for entry in entries:
        array.append(entry)
    parent = _table_at(document, steps[:-1])
    parent[steps[-1]] = array


def _remove(document: tomlkit.TOMLDocument, steps: Steps) -> None:
    """Take out the list at a way and every table that is left without spectra by it."""
    parent = _value_at(document, steps[:-1], None)
    if parent is None or steps[-1] not in parent:
        return
    parent.remove(steps[-1])
    group_is_empty = not any(key in parent for key in ("spectra", "specimens"))
    is_group = steps[0] in ("coatings", "samples") and len(steps) == 3
    if len(steps) > 1 and (not len(parent) or (is_group and group_is_empty)):
        _remove(document, steps[:-1])


def set_value(text: str, steps: Steps, value: Any) -> str:
    r"""Set one key of the study file, making the tables around it; None or nothing takes it out.

    Examples
    --------
    >>> print(set_value('title = "a"  # mine\n', ("technique",), "ATR"), end="")
    title = "a"  # mine
    technique = "ATR"
    """
    document = parse(text)
    if value is None or value == "" or value == []:
        table = _value_at(document, steps[:-1], {})
        if steps[-1] in table:
            table.remove(steps[-1])
            if len(steps) > 1 and not len(table):
                _remove(document, steps[:-1])
    elif _value_at(document, steps, None) != value:
        table = _table_at(document, steps[:-1])
        table[steps[-1]] = value
    return tomlkit.dumps(document)


def _value_at(document: Any, steps: Steps, missing: Any) -> Any:
    """Return what stands at a way, or ``missing``."""
    value = document
    for step in steps:
        if not isinstance(value, Mapping) or step not in value:
            return missing
        value = value[step]
    return value


def _table_at(document: Any, steps: Steps) -> Any:
    """Return the table at a way, made where it is missing: one line for specimens, else under a heading."""
    table = document
    for number, step in enumerate(steps):
        if step not in table:
            if step == "specimens":
                made: Any = tomlkit.inline_table()
            else:
                made = tomlkit.table(is_super_table=number + 1 < len(steps) and steps[0] != "substrate")
            table[step] = made
        table = table[step]
    return table
