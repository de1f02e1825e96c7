"""The mistakes of one study file, collected with their places and told together.

A study file with five mistakes is answered with five lines, each with its line number and key, and not
with the first of them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches

from spectra.errors import StudyError
from spectra.study.toml_lines import KeyPath, line_of

MOST = 20  # mistakes told one by one


@dataclass(frozen=True)
class _Mistake:
    line: int
    path: KeyPath
    text: str


class Mistakes:
    """The mistakes found so far in one study file.

    Parameters
    ----------
    name
        How messages call the file; for a study given by options, what they start with instead.
    lines
        Line of every key; None for a study given by options.
    spelling
        How to write the way to a value; None writes it as in a study file.
    """

    def __init__(
        self,
        name: str,
        lines: Mapping[KeyPath, int] | None,
        spelling: Callable[[KeyPath], str] | None = None,
    ) -> None:
        self.name, self.lines, self.spelling = name, lines, spelling or spelt
        self.found: list[_Mistake] = []

    def add(self, path: KeyPath, text: str) -> None:
        """Note a mistake at ``path``, unless one further inside it is noted already and explains it."""
        if not any(known.path[: len(path)] == path for known in self.found if known.path != path):
            self.found.append(_Mistake(self._line(path), path, text))

    def add_missing(self, path: KeyPath, what: str) -> None:
        """Note that the table at ``path`` is not there, unless it is there and mistaken."""
        if not self.known_at(path):
            self.add(path, f"missing; {what}")

    def known_at(self, path: KeyPath) -> bool:
        """Tell whether a mistake is noted at ``path`` itself."""
        return any(mistake.path == path for mistake in self.found)

    def _line(self, path: KeyPath) -> int:
        return 0 if self.lines is None else line_of(self.lines, path)

    def place(self, path: KeyPath) -> str:
        """Return the file, line and key of ``path``, as messages name them."""
        if self.lines is None:
            return self.spelling(path)
        return f"{self.name} line {self._line(path)}, {self.spelling(path)}"

    def raise_if_any(self) -> None:
        """Raise one StudyError that holds every mistake, in the order of the file."""
        told = [
            f"{self.place(mistake.path)}: {mistake.text}"
            for mistake in sorted(self.found, key=lambda mistake: mistake.line)
        ]
        if len(told) == 1:
            raise StudyError(told[0])
        if told:
            more = [f"and {len(told) - MOST} more"] if len(told) > MOST else []
            raise StudyError("\n  ".join([f"{self.name}: {len(told)} mistakes", *told[:MOST], *more]))


def spelt(path: KeyPath) -> str:
    """Return the way to a value as a reader of the file would write it.

    Examples
    --------
    >>> spelt(("samples", "acetic acid", "spectra", 1))
    'samples."acetic acid".spectra entry 2'
    """
    names = [name for name in path if isinstance(name, str)]
    entry = f" entry {path[-1] + 1}" if path and isinstance(path[-1], int) else ""
    return (".".join(_quoted(name) for name in names) or "study") + entry


def nearest(word: str, known: Iterable[str]) -> str:
    """Return ``"; did you mean 'x'?"`` for the nearest of ``known``, or nothing if none is near.

    Examples
    --------
    >>> nearest("atr", ("ATR", "transmission"))
    "; did you mean 'ATR'?"
    """
    by_folded = {name.casefold(): name for name in known}
    close = get_close_matches(word.casefold(), by_folded, n=1, cutoff=0.6)
    return f"; did you mean '{by_folded[close[0]]}'?" if close else ""


def shown(value: object) -> str:
    """Return a found value as text for a message: lists as in the file, cut when long."""
    if isinstance(value, tuple):
        text = "[" + ", ".join(shown(inner) for inner in value) + "]"
    elif isinstance(value, Mapping):
        text = "a table"
    elif isinstance(value, bool):
        text = str(value).lower()
    else:
        text = repr(value) if isinstance(value, str | int | float) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _quoted(name: str) -> str:
    return name if re.fullmatch(r"[\w-]+", name) else f'"{name}"'
