"""On which line of a TOML file each key stands.

``tomllib`` gives the values and forgets the places. This locator reads the same text a second time and
keeps only the places: it relies on ``tomllib`` having accepted the text, so it can stay small. The
grammar is that of TOML 1.0 (https://toml.io/en/v1.0.0).
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping

# A way to a value: table and key names, and the number of an entry in a list.
KeyPath = tuple[str | int, ...]

_TOKEN = re.compile(
    r"""
      (?P<skip>   [ \t\r]+ | \#[^\n]* )
    | (?P<text>   \"{3}(?:[^\\]|\\.)*?\"{3,5} | '{3}.*?'{3,5} | "(?:[^"\\\n]|\\.)*" | '[^'\n]*' )
    | (?P<mark>   [\[\]{}=,.\n] )
    | (?P<bare>   [^\s\[\]{}=,.\#"']+ )
    """,
    re.VERBOSE | re.DOTALL,
)


def key_lines(text: str) -> Mapping[KeyPath, int]:
    r"""Return the line of every key and list entry of a TOML text.

    Parameters
    ----------
    text : str
        Accepted by ``tomllib.loads``.

    Returns
    -------
    mapping of tuple to int
        From the way to a value, list entries counted from 0, to its line, counted from 1. A table that
        is opened twice (by dotted keys or sub-tables) keeps its first line.

    Examples
    --------
    >>> lines = key_lines('title = "a"\n[samples.acid]\nspectra = [\n  "b.csv",\n]\n')
    >>> lines["samples", "acid"], lines["samples", "acid", "spectra", 0]
    (2, 4)
    """
    return _Locator(text).locate()


def line_of(lines: Mapping[KeyPath, int], path: KeyPath) -> int:
    """Return the line of ``path``, or of the nearest table around it; 1 if there is none."""
    while path and path not in lines:
        path = path[:-1]
    return lines.get(path, 1)


class _Locator:
    """One walk over the tokens; ``at`` is the next one."""

    def __init__(self, text: str) -> None:
        self.tokens = _tokens(text)
        self.at = 0
        self.lines: dict[KeyPath, int] = {}
        self.entries: dict[KeyPath, int] = {}

    def locate(self) -> Mapping[KeyPath, int]:
        table: KeyPath = ()
        while self.peek():
            if self.peek() == "[":
                table = self.header()
            elif self.peek() == "\n":
                self.take()
            else:
                self.pair(table)
        return self.lines

    def peek(self) -> str:
        """Return the next token, or nothing at the end."""
        return self.tokens[self.at][0] if self.at < len(self.tokens) else ""

    def line(self) -> int:
        """Return the line of the next token."""
        return self.tokens[self.at][1]

    def take(self) -> str:
        self.at += 1
        return self.tokens[self.at - 1][0]

    def mark(self, path: KeyPath, line: int) -> None:
        """Note the line of ``path``, and of the tables around it that are seen here first."""
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], line)

    def header(self) -> KeyPath:
        """Read ``[table]`` or ``[[list of tables]]`` and return the way to it."""
        opened, line = self.at, self.line()
        while self.peek() == "[":
            self.take()
        doubled = self.at - opened == 2
        path = self.inside_lists(self.key())
        if doubled:
            self.entries[path] = self.entries.get(path, -1) + 1
            path = (*path, self.entries[path])
        self.mark(path, line)
        while self.peek() == "]":
            self.take()
        return path

    def inside_lists(self, names: tuple[str, ...]) -> KeyPath:
        """Put in the number of the entry wherever the way leads through a list of tables."""
        path: KeyPath = ()
        for name in names[:-1]:
            path = (*path, name)
            if path in self.entries:
                path = (*path, self.entries[path])
        return (*path, names[-1])

    def key(self) -> tuple[str, ...]:
        """Read a key, dotted or not, quoted or not."""
        names = [_plain(self.take())]
        while self.peek() == ".":
            self.take()
            names.append(_plain(self.take()))
        return tuple(names)

    def pair(self, table: KeyPath) -> None:
        """Read ``key = value``."""
        line = self.line()
        path = (*table, *self.key())
        self.mark(path, line)
        self.take()
        self.value(path)

    def value(self, path: KeyPath) -> None:
        if self.peek() == "[":
            self.listing(path)
        elif self.peek() == "{":
            self.inline_table(path)
        else:
            while self.peek() not in {"", "\n", ",", "]", "}"}:
                self.take()

    def listing(self, path: KeyPath) -> None:
        """Read ``[value, value]``, over as many lines as it takes."""
        self.take()
        number = 0
        while self.peek() != "]":
            if self.peek() in {"\n", ","}:
                self.take()
                continue
            self.mark((*path, number), self.line())
            self.value((*path, number))
            number += 1
        self.take()

    def inline_table(self, path: KeyPath) -> None:
        """Read ``{key = value, key = value}``."""
        self.take()
        while self.peek() != "}":
            if self.peek() in {"\n", ","}:
                self.take()
            else:
                self.pair(path)
        self.take()


def _tokens(text: str) -> list[tuple[str, int]]:
    """Return every token that is not blank or comment, with its line."""
    found = []
    line = 1
    for match in _TOKEN.finditer(text):
        if match.lastgroup != "skip":
            found.append((match.group(), line))
        line += match.group().count("\n")
    return found


def _plain(name: str) -> str:
    """Return a key without its quotes."""
    return str(tomllib.loads(f"name = {name}")["name"]) if name[0] in "\"'" else name
