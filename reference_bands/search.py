"""Searching the tables by words or by wavenumber."""

from __future__ import annotations

import math
import re

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
        A wavenumber in cm-1 (a number, or text that is one), or words: a material by any of its names, else
        a phrase of a row's name, vibration, state or note ("amide I" is not "amide II"), else words or parts
        of words that all occur there.
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
    named = table.named(str(query))
    if named is not None:
        return table.of(named)
    phrase = " ".join(str(query).casefold().split())
    rows: tuple[Band | GroupRange, ...] = table.usual + table.groups
    texts = [(row, _text(row)) for row in rows]
    whole = re.compile(rf"(?<!\w){re.escape(phrase)}(?!\w)")
    exact = tuple(row for row, text in texts if whole.search(text))
    return exact or tuple(row for row, text in texts if all(word in text for word in phrase.split()))


def _number(query: str | float) -> float | None:
    """Return the wavenumber a query is, or None for words."""
    try:
        number = float(query)
    except ValueError:
        return None
    return number if math.isfinite(number) else None


def _text(row: Band | GroupRange) -> str:
    """Return what is searched for words."""
    return f"{row.name} {row.vibration} {row.state} {row.note}".casefold()
