"""What the tables hold, as a page: rows read, recalled and computed for each material.

``python -m reference_bands.coverage > reference_bands/COVERAGE.md`` writes the page anew.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterable, Iterator

from reference_bands.loading import READERS, load
from reference_bands.records import (
    CHANGES,
    CHECKED,
    MODES,
    SHAPES,
    STRENGTHS,
    TECHNIQUES,
    WINDOWS,
    Sourced,
)
from reference_bands.table import BandTable

HEAD = """# What the reference bands cover

Made by `python -m reference_bands.coverage > reference_bands/COVERAGE.md`; do not edit.

- **read**: the number stood in a passage that was read, often a table or an abstract; `sources.toml` says
  which part.
- **unidentified**: the number stood in a passage whose publication is not known. Never cite it.
- **memory**: recalled, not read again. Check such a row before you rely on it.
- **computed**: maximum of an absorption spectrum made from published optical constants. These rows are kept
  apart: searches and matching use them only for materials that have no other rows.

Strength letters are relative to the strongest band of the same spectrum. They are a judgement by hand, not a
reading, and ATR raises bands at low wavenumber. Strong bands stand some cm-1 lower in ATR than in
transmission; a row names the technique only where it is known. A window marked `ours` is our own choice
around one number. A row without a usual position is a range that the source gives as a range. Sources that
give one band within 4 cm-1 of each other share a row, which then lists their values; sources further apart
keep a row each.
"""


def coverage(table: BandTable) -> str:
    """Return the page as Markdown.

    Examples
    --------
    >>> coverage(load()).splitlines()[0]
    '# What the reference bands cover'
    """
    parts = (_totals(table), _by_material(table), _disagreements(table), _columns())
    return "\n".join([HEAD, *(line for part in parts for line in (*part, ""))]).rstrip() + "\n"


def _totals(table: BandTable) -> Iterator[str]:
    """Lines that count all rows of each kind."""
    yield f"| table | rows | {' | '.join(CHECKED)} | window from the source | window ours or recalled |"
    yield "|---|--:|--:|--:|--:|--:|--:|--:|"
    kinds: tuple[tuple[str, Iterable[Sourced]], ...] = (
        ("materials", table.bands),
        ("functional groups", table.groups),
        ("process changes", table.changes),
    )
    for kind, entries in kinds:
        rows = list(entries)
        counts = Counter(row.checked for row in rows)
        given = sum(row.window == "source" for row in rows)
        numbers = [len(rows), *(counts[how] for how in CHECKED), given, len(rows) - given]
        yield f"| {kind} | {' | '.join(map(str, numbers))} |"
    read = sum(bool(source.read) for source in table.sources.values())
    lost = sum(not source.identified for source in table.sources.values() if source.read)
    yield ""
    yield f"{len(table.sources)} sources, {read} of them read in part; {lost} of these are not identified."


def _by_material(table: BandTable) -> Iterator[str]:
    """Lines that count the rows of each material."""
    yield "| material | family | read | unidentified | memory | computed | sources read |"
    yield "|---|---|--:|--:|--:|--:|---|"
    for name in table.materials:
        rows = table.of(name, computed=True)
        counts = Counter(row.checked for row in rows)
        keys = {key for row in rows if row.checked in ("read", "unidentified") for key in row.sources}
        read = ", ".join(sorted(key for key in keys if table.sources[key].read))
        numbers = " | ".join(str(counts[how]) for how in CHECKED)
        yield f"| {name} | {table.names[name].family} | {numbers} | {read} |"


def _disagreements(table: BandTable) -> Iterator[str]:
    """Lines that list bands for which sources give different numbers."""
    yield "## Bands for which sources give different numbers"
    yield ""
    yield "| material | vibration | window, cm-1 | values by source |"
    yield "|---|---|---|---|"
    for row in table.bands:
        values = next((part for part in row.note.split("; ") if part.startswith("values: ")), "")
        if values:
            window = f"{row.low:g}-{row.high:g}"
            yield f"| {row.material} | {row.assignment} | {window} | {values.removeprefix('values: ')} |"


def _columns() -> Iterator[str]:
    """Lines that say how to write a table of one's own."""
    yield "## Writing a table of one's own"
    yield ""
    yield "A CSV file in UTF-8: a line of column names, commas between cells, wavenumbers in cm-1. The first"
    yield "column says what the table holds."
    yield ""
    yield "| first column | other columns | may be left out |"
    yield "|---|---|---|"
    for first, (_, needed, optional) in READERS.items():
        yield f"| {first} | {', '.join(needed[1:])} | {', '.join(optional)} |"
    yield ""
    yield "| column | words it may hold |"
    yield "|---|---|"
    words = {
        "strength": (f"{letter or 'empty'} ({word})" for letter, word in STRENGTHS.items()),
        "shape": (word or "empty" for word in SHAPES),
        "technique": (word or "empty" for word in TECHNIQUES),
        "checked": CHECKED,
        "window": WINDOWS,
        "change": CHANGES,
        "vibration": (f"... {mode}" for mode in MODES),
    }
    for column, choices in words.items():
        yield f"| {column} | {', '.join(choices)} |"
    yield ""
    yield "A vibration may have parts, joined by ` + ` or ` or `, each ending in one of these. `source` holds"
    yield "a key of `sources.toml` or the citation itself; several keys are joined by `; `."


if __name__ == "__main__":
    sys.stdout.write(coverage(load()))
