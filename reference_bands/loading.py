"""Reading the tables: CSV that a chemist can edit, TOML for the sources.

The first column says what a table holds: ``material`` bands, ``group`` correlation ranges, ``process``
changes, ``name`` canonical names with synonyms. The shipped tables stand in ``tables/``, one for each
material family. A table of one's own has the same columns; its ``source`` cells may hold a key of
``sources.toml`` or the citation itself.
"""

from __future__ import annotations

import csv
import io
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from reference_bands.cells import Row
from reference_bands.errors import BandTableError
from reference_bands.records import (
    CHANGES,
    CHECKED,
    SHAPES,
    STRENGTHS,
    TECHNIQUES,
    WINDOWS,
    Band,
    GroupRange,
    Name,
    ProcessChange,
    Source,
)
from reference_bands.table import BandTable

HERE = Path(__file__).parent

_RANGE_COLUMNS = ("low", "typical", "high", "strength", "vibration", "source", "checked")
_OPTIONAL = ("shape", "technique", "state", "window", "note")

Record = Band | GroupRange | ProcessChange | Name


def load(*extra_tables: str | Path) -> BandTable:
    """Read the shipped tables, and tables of one's own after them.

    Parameters
    ----------
    *extra_tables
        CSV files with the same columns as the shipped ones.

    Returns
    -------
    BandTable

    Raises
    ------
    BandTableError
        If a table cannot be read or a cell is wrong: the message names file, line, column, what was found
        and the expected form.

    Examples
    --------
    >>> table = load()
    >>> len(table.of("PCL")) == len(table.of("polycaprolactone"))
    True
    """
    shipped = _shipped()
    if not extra_tables:
        return shipped
    records = [record for path in extra_tables for record in read_table(Path(path))]
    return _assembled(records, shipped)


@lru_cache(maxsize=1)
def _shipped() -> BandTable:
    """Read the tables of the package, once."""
    sources = read_sources(HERE / "sources.toml")
    records = [record for path in sorted((HERE / "tables").glob("*.csv")) for record in read_table(path)]
    return _assembled(records, BandTable(sources=sources), strict=True)


def read_sources(path: Path) -> dict[str, Source]:
    """Read ``sources.toml``.

    Raises
    ------
    BandTableError
        If it is not TOML, or an entry holds an unknown field.
    """
    try:
        entries: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))
        return {key: Source(key=key, **fields) for key, fields in entries.items()}
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, TypeError) as error:
        raise BandTableError(
            f"{path.name}: {error}; expected one [key] for each source with authors, title, about, "
            "published, year, doi, read, seen_at and note"
        ) from error


def read_table(path: Path) -> tuple[Record, ...]:
    """Read one CSV table; its first column says of which kind it is.

    Raises
    ------
    BandTableError
        Naming file, line, column and the expected form.
    """
    rows = _rows(path)
    first = next(rows, None)
    if first is None:
        raise BandTableError(f"{path.name}: the table is empty; expected a line of column names and rows")
    header = list(first.cells)
    kind = header[0] if header else ""
    if kind not in READERS:
        raise BandTableError(
            f"{path.name} line 1: the first column is {kind!r}; expected {', '.join(READERS)}, "
            "columns separated by commas"
        )
    reader, needed, optional = READERS[kind]
    _require_columns(path.name, header, needed, optional)
    return tuple(reader(row) for row in rows)


def _rows(path: Path) -> Iterator[Row]:
    """Yield the header as a row with empty cells, then every row that is not blank."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise BandTableError(f"{path}: cannot be read ({error}); expected a CSV file in UTF-8") from error
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    header: list[str] = []
    try:
        for cells in reader:
            if not header:
                header = [cell.strip() for cell in cells]
                _require_distinct(path.name, header)
                yield Row(path.name, reader.line_num, dict.fromkeys(header, ""))
            elif any(cell.strip() for cell in cells):
                yield _row(path.name, reader.line_num, header, cells)
    except csv.Error as error:
        raise BandTableError(
            f"{path.name} line {reader.line_num}: {error}; expected commas between cells, and "
            "double quotes around a cell that holds a comma"
        ) from error


def _row(file: str, line: int, header: list[str], cells: list[str]) -> Row:
    """Pair the cells with their columns; a row of another length is an error, never padded."""
    if len(cells) != len(header):
        raise BandTableError(
            f"{file} line {line}: found {len(cells)} cells; expected {len(header)}: {', '.join(header)}"
        )
    return Row(file, line, dict(zip(header, cells, strict=True)))


def _require_distinct(file: str, header: list[str]) -> None:
    """Refuse a column that stands twice."""
    repeated = sorted({name for name in header if header.count(name) > 1})
    if repeated:
        raise BandTableError(f"{file} line 1: the table repeats the column {', '.join(map(repr, repeated))}")


def _require_columns(file: str, header: list[str], needed: Iterable[str], optional: Iterable[str]) -> None:
    """Refuse missing and unknown columns."""
    missing = [name for name in needed if name not in header]
    unknown = [name for name in header if name not in (*needed, *optional)]
    for names, fault in ((missing, "lacks"), (unknown, "has the unknown")):
        if names:
            raise BandTableError(
                f"{file} line 1: the table {fault} column {', '.join(map(repr, names))}; "
                f"expected {', '.join(needed)} and, if wanted, {', '.join(optional)}"
            )


def _sourced(row: Row) -> dict[str, Any]:
    """Read what all tables have in common."""
    low, typical, high = row.window()
    return {
        "low": low,
        "typical": typical,
        "high": high,
        "vibration": row.vibration(),
        "source": row.required("source", "the key of a source, or a citation"),
        "checked": row.word("checked", CHECKED),
        "window": row.word("window", WINDOWS) if row.text("window") else "ours",
        "note": row.text("note"),
        "origin": row.origin,
    }


def _range(row: Row) -> dict[str, Any]:
    """Read what bands and groups have in common."""
    return _sourced(row) | {
        "strength": row.word("strength", tuple(STRENGTHS)),
        "shape": row.word("shape", SHAPES),
        "technique": row.word("technique", TECHNIQUES),
        "state": row.text("state"),
    }


def _band(row: Row) -> Band:
    """Read a row of a band table."""
    return Band(material=row.required("material", "the name of a material"), **_range(row))


def _group(row: Row) -> GroupRange:
    """Read a row of the table of functional groups."""
    group = row.required("group", "the name of a functional group")
    return GroupRange(group=group, look_for=row.positions("look_for"), **_range(row))


def _change(row: Row) -> ProcessChange:
    """Read a row of the table of process changes."""
    sizes = [row.number(name, "a signed number of cm-1, or nothing") for name in ("shift_low", "shift_high")]
    known = [size for size in sizes if size is not None]
    if len(known) == 1 or known != sorted(known):
        raise row.broken("shift_high", "both shifts empty, or shift_low <= shift_high")
    return ProcessChange(
        process=row.required("process", "the name of a process"),
        materials=row.several("materials", "material names joined by ';', or any"),
        change=row.word("change", CHANGES),
        shift_low=sizes[0],
        shift_high=sizes[1],
        shift_checked=row.word("shift_checked", CHECKED if known else ("",)),
        **_sourced(row),
    )


def _name(row: Row) -> Name:
    """Read a row of the table of names."""
    return Name(
        name=row.required("name", "the canonical name of a material"),
        family=row.required("family", "the family of materials"),
        synonyms=row.several("synonyms"),
        note=row.text("note"),
        origin=row.origin,
    )


def _assembled(records: Iterable[Record], base: BandTable, strict: bool = False) -> BandTable:
    """Add records to a table; ``strict`` also refuses materials and sources that are not listed."""
    records = list(records)
    table = base.with_names([record for record in records if isinstance(record, Name)])
    cited = [record for record in records if not isinstance(record, Name)]
    return table.with_records(cited, strict=strict)


READERS: Mapping[str, tuple[Callable[[Row], Record], tuple[str, ...], tuple[str, ...]]] = {
    "material": (_band, ("material", *_RANGE_COLUMNS), _OPTIONAL),
    "group": (_group, ("group", *_RANGE_COLUMNS), (*_OPTIONAL, "look_for")),
    "process": (
        _change,
        ("process", "materials", "low", "typical", "high", "change", "vibration", "source", "checked"),
        ("shift_low", "shift_high", "shift_checked", "window", "note"),
    ),
    "name": (_name, ("name", "family"), ("synonyms", "note")),
}
