"""Which files a study names: patterns to files, in sorted order, each file once.

A pattern may hold ``*``, ``?``, ``[...]`` and ``**``; a file that bears the pattern as its very name
wins. ``file#column`` names one spectrum of a file that holds several. What is wrong with a name is noted,
with its place, among the mistakes of the study.
"""

from __future__ import annotations

import glob
import hashlib
import os
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from spectra.study.mistakes import Mistakes, nearest, shown
from spectra.study.toml_lines import KeyPath

WHOLE = ""  # stands for all spectra of a file


@dataclass(frozen=True)
class Part:
    """A file, and the spectra of it that are meant; none named means all."""

    file: Path
    columns: tuple[str, ...] = ()


class FileSearch:
    """The files found so far, each with the place that named it.

    Parameters
    ----------
    folder
        Patterns are relative to it.
    mistakes
        Where to note names that lead nowhere and files named twice.
    """

    def __init__(self, folder: Path, mistakes: Mistakes) -> None:
        self.folder, self.mistakes = folder, mistakes
        self.named: dict[Path, dict[str, KeyPath]] = {}

    def files(self, patterns: Iterable[str], at: KeyPath) -> tuple[Path, ...]:
        """Return the files that the list of patterns at ``at`` names, absolute, in the order of the list."""
        return tuple(part.file for part in self.parts([(text, ()) for text in patterns], at))

    def parts(self, entries: Iterable[tuple[str, tuple[str, ...]]], at: KeyPath) -> tuple[Part, ...]:
        """Return the files, or parts of them, that the list at ``at`` names, in the order of the list.

        Parameters
        ----------
        entries
            Pattern of each entry, and the spectra that are meant; a pattern may end in ``#`` and one of them.
        at
            The way to the list in the study.
        """
        found = [
            (Part(file, columns), (*at, i))
            for i, (text, named) in enumerate(entries)
            for pattern, columns in [self._split(text, named)]
            for file in self._matches(pattern, (*at, i))
        ]
        return tuple(part for part, place in found if self._is_first(part, place))

    def _split(self, text: str, named: tuple[str, ...]) -> tuple[str, tuple[str, ...]]:
        """Take the name of a spectrum off its file: ``map.xlsx#film 1``."""
        file, mark, column = text.partition("#")
        if named or not mark or not column.strip() or _is_file(self.folder / text):
            return text, named
        return file, (column.strip(),)

    def _is_first(self, part: Part, place: KeyPath) -> bool:
        """Note that ``place`` names a file or spectra of it; the same once more is a mistake."""
        known = self.named.setdefault(part.file.resolve(), {})
        wanted = part.columns or (WHOLE,)
        taken = [name for name in known if name in wanted or WHOLE in (name, *wanted)]
        earlier = [known[name] for name in taken if known[name] != place]
        if earlier:
            what = "each file" if WHOLE in (*wanted, *taken) else "each spectrum"
            shown_part = self.shown(part.file) + ("" if WHOLE in wanted else f"#{wanted[0]}")
            text = f"{shown_part} is named already at {self.mistakes.place(earlier[0])}; name {what} once"
            self.mistakes.add(place, text)
        for name in wanted:
            known.setdefault(name, place)
        return not taken

    def _matches(self, pattern: str, place: KeyPath) -> list[Path]:
        whole = self.folder / pattern
        if _is_file(whole):
            return [whole]
        # Path.glob would refuse absolute patterns and take the hidden files some systems lay beside others.
        matches = sorted(glob.glob(pattern, root_dir=self.folder, recursive=True))  # noqa: PTH207
        files = [self.folder / match for match in matches if _is_file(self.folder / match)]
        if not files and "\\" in pattern:
            return self._matches(pattern.replace("\\", "/"), place)
        if not files:
            self.mistakes.add(place, self._why_none(pattern))
        return files

    def _why_none(self, pattern: str) -> str:
        """Say why a pattern names no file."""
        whole = self.folder / pattern
        if os.path.isdir(whole):  # noqa: PTH112  (Path.is_dir raises for names no disk takes)
            return f"{shown(pattern)} is a folder; name the files in it, as in '{pattern.rstrip('/')}/*.csv'"
        if glob.has_magic(pattern):
            return f"{shown(pattern)} matches no file in {self.folder}; check the pattern and the folder"
        beside = os.listdir(whole.parent) if os.path.isdir(whole.parent) else []  # noqa: PTH112, PTH208
        hint = nearest(whole.name, beside) or "; check the name"
        return f"no file {shown(pattern)} in {self.folder}{hint}"

    def shown(self, file: Path) -> str:
        """Return a file as the study would name it: relative to its folder where it lies inside."""
        inside = file.is_relative_to(self.folder)
        return str(file.relative_to(self.folder)) if inside else str(file)

    def note_copies(self) -> None:
        """Note files of the same bytes: a copy is no second measurement."""
        first: dict[str, Path] = {}
        for file in self._same_size():
            digest = _sha256(file)
            if digest and digest in first:
                text = f"{self.shown(file)} and {self.shown(first[digest])} hold the same bytes"
                remedy = "a copy is no second measurement; name one of them"
                place = next(iter(self.named[file].values()))
                self.mistakes.add(place, f"{text}; {remedy}")
            first.setdefault(digest, file)

    def _same_size(self) -> list[Path]:
        """Return the files that share their size with another: only these can be copies."""
        sizes: dict[int, list[Path]] = defaultdict(list)
        for file in self.named:
            sizes[file.stat().st_size].append(file)
        return [file for files in sizes.values() if len(files) > 1 for file in files]


def _is_file(path: Path) -> bool:
    return os.path.isfile(path)  # noqa: PTH113  (Path.is_file raises for names no disk takes)


def _sha256(file: Path) -> str:
    """Return the hash of a file; nothing where it cannot be opened, which reading will say."""
    try:
        with file.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError:
        return ""
