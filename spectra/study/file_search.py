"""Which files a study names: patterns to files, in sorted order, each file once.

A pattern may hold ``*``, ``?``, ``[...]`` and ``**``; a file that bears the pattern as its very name
wins. What is wrong with a name is noted, with its place, among the mistakes of the study.
"""

from __future__ import annotations

import glob
import hashlib
import os
from collections import defaultdict
from collections.abc import Iterable
from pathlib import Path

from spectra.study.mistakes import Mistakes, nearest, shown
from spectra.study.toml_lines import KeyPath


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
        self.named: dict[Path, KeyPath] = {}

    def files(self, patterns: Iterable[str], at: KeyPath) -> tuple[Path, ...]:
        """Return the files that the list of patterns at ``at`` names, absolute, in the order of the list."""
        found = [
            (file, (*at, i)) for i, text in enumerate(patterns) for file in self._matches(text, (*at, i))
        ]
        return tuple(file for file, place in found if self._is_first(file, place))

    def _is_first(self, file: Path, place: KeyPath) -> bool:
        """Note that ``place`` names ``file``; a second place is a mistake."""
        first = self.named.setdefault(file.resolve(), place)
        if first != place:
            text = f"{self.shown(file)} is named already at {self.mistakes.place(first)}; name each file once"
            self.mistakes.add(place, text)
        return first == place

    def _matches(self, pattern: str, place: KeyPath) -> list[Path]:
        whole = self.folder / pattern
        if _is_file(whole):
            return [whole]
        # Path.glob would refuse absolute patterns and take the hidden files some systems lay beside others.
        matches = sorted(glob.glob(pattern, root_dir=self.folder, recursive=True))  # noqa: PTH207
        files = [self.folder / match for match in matches if _is_file(self.folder / match)]
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
                self.mistakes.add(self.named[file], f"{text}; {remedy}")
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
