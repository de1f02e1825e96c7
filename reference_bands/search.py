"""Searching the tables by words or by wavenumber."""

from __future__ import annotations

import math

from reference_bands.loading import load
from reference_bands.records import Band, GroupRange
from reference_bands.table import BandTable

TOLERANCE = 4.0  # cm-1: the usual resolution of a solid's spectrum


def materials(table: BandTable | None = None) -> tuple[str, ...]:
    """Return the canonical names of all materials, in alphabetical order.

    Examples
    --------
    >>> "polycaprolactone" in materials()
    True
    """
    return (table or load()).materials


def find(
    query: str | float, tolerance: float = TOLERANCE, table: BandTable | None = None
) -> tuple[Band | GroupRange, ...]:
    """Search by wavenumber or by words.

    Parameters
    ----------
    query
        A wavenumber in cm-1 (a number, or text that is one), or words: a material by any of its names, or
        words that all occur in a row's name, vibration, state or note.
    tolerance
        By how much a wavenumber may lie outside a row's window, cm-1.
    table : BandTable, optional
        The shipped tables if None.

    Returns
    -------
    tuple
        By distance for a wavenumber, by falling wavenumber for a material, else in the order of the tables.
        Empty if nothing fits.

    Examples
    --------
    >>> {row.name for row in find("ester C=O") if row.typical > 1750} >= {"polylactide"}
    True
    >>> all(row.distance(1715) <= 4 for row in find(1715))
    True
    """
    table = table or load()
    position = _number(query)
    if position is not None:
        return table.near(position, tolerance) + table.groups_near(position, tolerance)
    words = str(query).casefold().split()
    named = table.named(str(query))
    if named is not None:
        return table.of(named)
    rows: tuple[Band | GroupRange, ...] = table.usual + table.groups
    return tuple(row for row in rows if _holds(row, words))


def _number(query: str | float) -> float | None:
    """Return the wavenumber a query is, or None for words."""
    try:
        number = float(query)
    except ValueError:
        return None
    return number if math.isfinite(number) else None


def _holds(row: Band | GroupRange, words: list[str]) -> bool:
    """Tell whether all words occur in the row."""
    text = f"{row.name} {row.vibration} {row.state} {row.note}".casefold()
    return all(word in text for word in words)
