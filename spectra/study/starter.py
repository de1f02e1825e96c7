"""A first study file for the spectra found in a folder, with a comment wherever a person must decide.

Every file is read: what it is decides, not its suffix, and units that no file states become a line with
their evidence. Names say the roles: a folder or file called ``bare`` or ``neat``, in several languages; every
other group is taken for a coated sample. Files in one folder belong together; where names end in a number or
a spot (``A_1``, ``A_2``, ``specimen1_spot2``), those alike up to it are taken for spots of one specimen. The
file says what was assumed, so that it can be corrected.
"""

from __future__ import annotations

import glob
import itertools
import json
import os
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from fnmatch import fnmatchcase
from pathlib import Path

from reference_bands import load
from spectra.decision import DecisionSettings
from spectra.errors import UsageError
from spectra.groups import TECHNIQUES
from spectra.study.file_roles import counts_spots, family_of, role_of, specimen_of
from spectra.study.survey import Seen, survey, unit_line


@dataclass(frozen=True)
class _Found:
    """Files that belong together, and all files of their folder."""

    role: str
    name: str
    files: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()

    @property
    def stems(self) -> dict[str, list[str]]:
        """Files by what is left of their names without the last number."""
        alike: dict[str, list[str]] = defaultdict(list)
        for file in self.files:
            alike[specimen_of(file)].append(file)
        return dict(alike)


def starter_study(folder: Path, base: Path) -> str:
    """Return the text of a study file for the spectra in ``folder``.

    Parameters
    ----------
    folder
        Searched with all folders inside it; hidden files and folders with a ``result.json`` are passed over.
    base
        Folder the study file will stand in: paths are relative to it.

    Raises
    ------
    UsageError
        If there is no such folder, or no file in it that may hold spectra.
    """
    if not folder.is_dir():
        raise UsageError(f"{folder}: no such folder; name the folder that holds the spectra")
    return starter_text(survey(folder), folder, base)


def starter_text(files: Iterable[Seen], folder: Path, base: Path) -> str:
    """Return the text of a study file for files that were read before.

    Parameters
    ----------
    files
        As :func:`~spectra.study.survey.survey` returns them.
    folder, base
        As for :func:`starter_study`.

    Raises
    ------
    UsageError
        If none of them holds a spectrum.
    """
    named = {_relative(one.file, base): one for one in files}
    seen = {name: one for name, one in named.items() if not one.refused}
    if not seen:
        raise UsageError(f"{folder}: no file in it can be read as spectra; name another folder")
    found = list(_groups(list(seen), _relative(folder, base)))
    unread = [(name, one.refused) for name, one in named.items() if one.refused]
    return "\n".join(_text(folder.resolve().name, found, seen, unread)) + "\n"


def _relative(file: Path, base: Path) -> str:
    return Path(os.path.relpath(file, base)).as_posix()


def _groups(files: Sequence[str], top: str) -> Iterator[_Found]:
    """Yield the files that belong together: those of one folder, or, at the top, of one name.

    Files at the top whose names say no role are coated samples, unless there are folders: then nobody knows.
    """
    folders: dict[str, list[str]] = defaultdict(list)
    together: dict[str, list[str]] = defaultdict(list)
    for file in files:
        parent = Path(file).parent.as_posix()
        folders[parent].append(file)
        together[family_of(file) if parent == top else parent].append(file)
    for key, members in together.items():
        beside = tuple(folders[Path(members[0]).parent.as_posix()])
        role = role_of(key) or ("coated" if key in folders or len(folders) == 1 else "unknown")
        found = _Found(role, key.rpartition("/")[2], tuple(members), beside)
        if role == "neat":
            yield from _coatings(found)
        else:
            yield found


def _coatings(neat: _Found) -> Iterator[_Found]:
    """Yield the coatings among the neat spectra, by the words their names begin with."""
    named: dict[str, list[str]] = defaultdict(list)
    for stem, files in neat.stems.items():
        words = itertools.takewhile(lambda word: not word[:1].isdigit(), re.split(r"[\s_.-]+", stem))
        named[" ".join(word for word in words if not role_of(word)) or "coating"] += files
    for name, files in named.items():
        yield _Found("neat", name, tuple(files), neat.beside)


# -- the text ----------------------------------------------------------------------------------------


def _text(
    title: str, found: Sequence[_Found], seen: Mapping[str, Seen], unread: Sequence[tuple[str, str]]
) -> Iterator[str]:
    """Yield the lines of the study file."""
    by_role: dict[str, list[_Found]] = defaultdict(list)
    for group in found:
        by_role[group.role].append(group)
    yield from (
        "# Written by coatproof from the files and their names. Read it through and correct it.",
        "# Paths are relative to this file; * stands for any characters.",
        f"title = {_quoted(title)}",
        f"# technique = {_quoted(TECHNIQUES[0])}   # how all were measured: {', '.join(TECHNIQUES)}",
        "",
        "# [instrument]   # what spectrum files do not say; needed to predict band positions",
        '# crystal = "diamond"',
        "# angle_deg = 45",
        "",
    )
    common = _common_unit(seen)
    yield from ("[files]   # what the files do not say", common, "") if common else ()
    lines = {} if common else seen
    yield from _section("[substrate]", _merged(by_role["bare"]), "bare substrate", lines)
    for group in by_role["neat"] or [_Found("neat", "NAME")]:
        yield from _section(f"[coatings.{_key(group.name)}]", group, "neat coating", lines)
    for group in by_role["coated"] or [_Found("coated", "NAME")]:
        yield from _section(f"[samples.{_key(group.name)}]", group, "coated sample", lines)
    yield from _left_out(by_role["unknown"], seen, unread)
    yield from _options()


def _common_unit(seen: Mapping[str, Seen]) -> str:
    """Return the line for all files, if one unit was taken for all of them."""
    line = unit_line(seen.values())
    return "" if line.startswith("#") else line


def _left_out(
    groups: Sequence[_Found], seen: Mapping[str, Seen], unread: Sequence[tuple[str, str]]
) -> Iterator[str]:
    """Yield what could not be placed, what holds several spectra, and what is no spectrum."""
    lines = [
        f"# Left out, because no name says what it is: {', '.join(map(_quoted, group.files))}"
        for group in groups
    ]
    for file, one in seen.items():
        if one.parts:
            shown = ", ".join(f"{i} {_quoted(part)}" for i, part in enumerate(one.parts[:12], 1))
            lines.append(f"# {_quoted(file)} holds {len(one.parts)} spectra ({shown}); take some of them by")
            lines.append(f"#   {{ file = {_quoted(file)}, columns = [{_quoted(one.parts[0])}] }}")
    lines += [f"# Not read: {_quoted(file)}: {_one_line(reason)}" for file, reason in unread]
    yield from (*lines, "") if lines else ()


def _one_line(text: str) -> str:
    """Keep a reason on its line, whatever a file is called."""
    return "".join(letter if letter.isprintable() else " " for letter in text)


def _merged(groups: Sequence[_Found]) -> _Found:
    """Return all bare spectra as one group."""
    files = tuple(file for group in groups for file in group.files)
    return _Found("bare", "substrate", files, tuple(file for group in groups for file in group.beside))


def _section(heading: str, group: _Found, what: str, seen: Mapping[str, Seen]) -> Iterator[str]:
    """Yield one table, commented out where no file was found for it."""
    if group.files:
        line = unit_line(seen[file] for file in group.files if file in seen)
        yield from (heading, *_material(group), *_spectra(group), *([_one_line(line)] if line else []), "")
        return
    yield f"# No name says which spectra are of the {what}. Take the marks # away and name them:"
    yield from (f"# {heading}", '# spectra = ["FOLDER/*.csv"]', "")


def _material(group: _Found) -> Iterator[str]:
    """Yield the material, if the names say one that the tables know."""
    if group.role == "coated":
        return
    table = load()
    known = {table.named(name) for name in (group.name, *group.stems)} - {None}
    if len(known) == 1:
        yield f"material = {_quoted(str(*known))}"
    else:
        yield '# material = "..."   # as listed by: coatproof bands'


def _spectra(group: _Found) -> Iterator[str]:
    """Yield the files: each a specimen, or gathered into specimens where the names say so."""
    spots = len(group.files) > 1 and all(counts_spots(file) for file in group.files)
    if spots or 1 < len(group.stems) < len(group.files):
        yield "# Assumed: files alike but for the last number are spots of one specimen."
        listed = [f"{_key(name)} = {_patterns(files, group)}" for name, files in group.stems.items()]
        yield f"specimens = {{ {', '.join(listed)} }}"
        return
    yield "# Assumed: each file is a specimen of its own."
    yield f"spectra = {_patterns(group.files, group)}"


def _patterns(files: Sequence[str], group: _Found) -> str:
    """Return a list of patterns that match ``files`` and nothing beside them, else the files themselves."""
    heads = {_head(file) for file in files}
    shared = heads.pop() if len(heads) == 1 else f"{glob.escape(Path(files[0]).parent.as_posix())}/"
    suffixes = sorted({Path(file).suffix for file in files})
    suffixes = [""] if "" in suffixes else suffixes
    patterns = [f"{shared}*{suffix}".removeprefix("./") for suffix in suffixes]
    matched = [file for file in group.beside if any(fnmatchcase(file, pattern) for pattern in patterns)]
    if len(files) == 1 or matched != list(files):
        patterns = list(files)
    return f"[{', '.join(_quoted(pattern) for pattern in patterns)}]"


def _head(file: str) -> str:
    """Return what stands before a file's last number, with the mark between them."""
    stem = specimen_of(file)
    return glob.escape(Path(file).with_name(Path(file).stem[: len(stem) + 1]).as_posix())


def _options() -> Iterator[str]:
    """Yield what may be added, commented out."""
    yield "# [residues]   # what should not be left"
    yield '# watch = ["acetic acid", "ethanol"]'
    yield from ("", "# [settings]   # defaults; the report prints all")
    for item in fields(DecisionSettings):
        yield f"# {item.name} = {item.default}   # {item.metadata['why']}"


def _quoted(text: str) -> str:
    """Return TOML text in quotes, on one line whatever a file is called."""
    return json.dumps(text, ensure_ascii=not text.isprintable()).replace("\x7f", "\\u007f")


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else _quoted(name)
