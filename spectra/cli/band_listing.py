"""Listing the reference tables: by words, by wavenumber, or a coating beside a substrate.

Every row carries its source and how it was checked; how a listing is laid out stands in ``band_forms``. A
pair is judged from the tables alone, which know neither how much the substrate varies nor how strong its
bands are in a given spectrum.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from reference_bands import Band, BandTable, GroupRange, find, load
from reference_bands.records import CHECKED, HIGHEST, LOWEST, STRENGTHS
from spectra.cli.band_forms import (
    FORMS,
    PAIR_COLUMNS,
    TEXT_COLUMNS,
    Row,
    material_cells,
    pair_cells,
    place_of,
    search_cells,
)
from spectra.errors import BandTableError, UsageError

CLEAR, WEAK_OVERLAP, COLLIDES = "clear", "beside a weak band", "collides"

COLUMNS = (
    "name",
    "kind",
    "typical",
    "low",
    "high",
    "window",
    "strength",
    "shape",
    "vibration",
    "state",
    "technique",
    "checked",
    "source",
    "citation",
    "note",
)


def band_listing(
    query: str | None = None,
    *,
    coating: str | None = None,
    substrate: str | None = None,
    tolerance: float = 4.0,
    form: str = "text",
    tables: Iterable[str | Path] = (),
) -> str:
    """Return a listing of the reference tables.

    Parameters
    ----------
    query
        Words, a material by any of its names, or a wavenumber in cm-1. Without it and without a pair the
        materials are listed.
    coating, substrate
        A pair of materials: which bands of the coating stand clear of the substrate's.
    tolerance
        By how much a wavenumber may lie outside a window, or two windows apart to collide, cm-1.
    form : {"text", "json", "csv"}
    tables
        Band tables of one's own, added to the shipped ones.

    Returns
    -------
    str
        Ends with a line feed.

    Raises
    ------
    UsageError
        If query and pair are mixed, one of the pair is missing, or a number is out of range.
    BandTableError
        If nothing in the tables fits: the nearest material names are given.

    Examples
    --------
    >>> print(band_listing("1570", form="csv").splitlines()[0])
    name,kind,typical,low,high,window,strength,shape,vibration,state,technique,checked,source,citation,note
    """
    _require_usable(query, coating, substrate, tolerance, form)
    table = load(*tables)
    if coating is not None and substrate is not None:
        content = _pair(coating, substrate, tolerance, table)
    elif query is not None:
        content = _search(query, tolerance, table)
    else:
        content = _materials(table)
    return FORMS[form](content)


def _require_usable(
    query: str | None, coating: str | None, substrate: str | None, tolerance: float, form: str
) -> None:
    """Refuse what cannot be listed."""
    if (coating is None) != (substrate is None):
        raise UsageError("a pair needs both --coating and --substrate")
    if query is not None and coating is not None:
        raise UsageError("give words or a wavenumber, or a pair, not both")
    if not 0 <= tolerance <= 100:
        raise UsageError(f"the tolerance is {tolerance:g} cm-1; expected 0 to 100 cm-1")
    if form not in FORMS:
        raise UsageError(f"the form is {form!r}; expected one of {', '.join(FORMS)}")


def _search(query: str, tolerance: float, table: BandTable) -> dict[str, Any]:
    """Return the rows that fit words or a wavenumber."""
    position = _wavenumber(query)
    if position is not None and not LOWEST <= position <= HIGHEST:
        raise UsageError(f"{query} cm-1 is outside the tables; expected {LOWEST:g} to {HIGHEST:g} cm-1")
    rows = find(query, tolerance, table)
    if not rows and position is None:
        table.resolve(query)  # raises, naming the nearest materials
    if not rows:
        raise BandTableError(f"nothing in the tables within {tolerance:g} cm-1 of {query}; widen --tolerance")
    title = f"{len(rows)} rows within {tolerance:g} cm-1 of {query} cm-1, the nearest first"
    if position is None:
        named = table.named(query)
        title = f"{len(rows)} bands of {named}" if named else f"{len(rows)} rows that hold {query!r}"
    found = [_row(row, table) for row in rows]
    return {"title": title, "rows": found, "columns": COLUMNS, "layout": (TEXT_COLUMNS, search_cells)}


def _pair(coating: str, substrate: str, tolerance: float, table: BandTable) -> dict[str, Any]:
    """Return the bands of a coating, each beside the substrate's bands that reach it."""
    upper, lower = table.resolve(coating), table.resolve(substrate)
    rows = []
    for band in table.of(upper):
        near = [other for other in table.of(lower) if _reach(band, other, tolerance)]
        beside = sorted(near, key=lambda other: abs(other.centre - band.centre))
        rows.append(
            _row(band, table)
            | {"beside": _beside(band, near), "substrate_bands": [other.centre for other in beside]}
        )
    title = f"{upper} on {lower}: {len(rows)} bands of the coating, from the tables alone"
    columns = (*COLUMNS, "beside", "substrate_bands")
    return {
        "title": title,
        "rows": rows,
        "columns": columns,
        "layout": (PAIR_COLUMNS, pair_cells),
        "foot": _usable(rows),
    }


def _materials(table: BandTable) -> dict[str, Any]:
    """Return all materials, with how many rows were read, recalled and computed."""
    rows = []
    for name in table.materials:
        bands = table.of(name, computed=True)
        counts = {how: sum(band.checked == how for band in bands) for how in CHECKED}
        entry = table.names[name]
        rows.append(
            {"name": name, "family": entry.family, **counts, "other_names": "; ".join(entry.synonyms)}
        )
    columns = ("name", "family", *CHECKED, "other_names")
    title = f"{len(rows)} materials; the numbers count rows by how they were checked"
    return {"title": title, "rows": rows, "columns": columns, "layout": (columns, material_cells)}


def _reach(band: Band, other: Band, tolerance: float) -> bool:
    """Tell whether two windows come within the tolerance of each other."""
    return other.low - band.high <= tolerance and band.low - other.high <= tolerance


def _beside(band: Band, near: Sequence[Band]) -> str:
    """Return the word for what the substrate does at a band of the coating."""
    if not near:
        return CLEAR
    weak = all(other.strength == "w" for other in near) and band.strong
    return WEAK_OVERLAP if weak else COLLIDES


def _usable(rows: Sequence[Row]) -> list[str]:
    """Return the lines below a pair: what to rely on, and what the tables cannot know."""
    clear = [
        f"{place_of(row)} ({row['vibration']})"
        for row in rows
        if row["beside"] == CLEAR and row["strength"] in ("strong", "very strong", "medium")
    ]
    told = ", ".join(clear) if clear else "none of at least medium strength"
    return [
        f"Clear: {told}.",
        "How much the substrate varies decides what is masked: measure it before relying on a band.",
    ]


def _row(row: Band | GroupRange, table: BandTable) -> Row:
    """Return one row as plain values."""
    return {
        "name": row.name,
        "kind": "material" if isinstance(row, Band) else "functional group",
        "typical": row.typical,
        "low": row.low,
        "high": row.high,
        "window": row.window,
        "strength": STRENGTHS[row.strength],
        "shape": row.shape,
        "vibration": row.vibration,
        "state": row.state,
        "technique": row.technique,
        "checked": row.checked,
        "source": row.source,
        "citation": table.cite(row),
        "note": row.note,
    }


def _wavenumber(query: str) -> float | None:
    """Return the number a query is, or None for words."""
    try:
        return float(query)
    except ValueError:
        return None
