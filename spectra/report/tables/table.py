"""A table of finished text."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Table:
    """A table of finished text; ``empty`` is said when there are no rows."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    empty: str = ""
    note: str = ""
