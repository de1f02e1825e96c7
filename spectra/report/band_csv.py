"""``bands.csv``: every band of every sample as one table, for a spreadsheet or a supplement.

Numbers have full precision and carry their unit in the head of the column; an empty cell is a value that
could not be determined. UTF-8 with a byte order mark, so that spreadsheets show Greek letters.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from spectra.findings import BandFinding

if TYPE_CHECKING:
    from spectra.verification.result import Verification

# Unit of each number of a BandFinding, written into its column's head.
UNITS = {
    **dict.fromkeys(("neat_position", "neat_error", "expected_position", "expected_error"), "cm-1"),
    **dict.fromkeys(("found_position", "found_error", "shift", "shift_low", "shift_high"), "cm-1"),
    **dict.fromkeys(("margin", "neat_width", "found_width"), "cm-1"),
    **dict.fromkeys(("neat_height", "found_height", "critical_height"), "absorbance"),
}

# A cell that starts like this is run as a formula by spreadsheets.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def as_csv(verification: Verification) -> str:
    """Return the band table of all samples, coatings first, then the substrate (RFC 4180)."""
    names = [item.name for item in fields(BandFinding)]
    head = [f"{name} / {UNITS[name]}" if name in UNITS else name for name in names]
    target = io.StringIO()
    writer = csv.writer(target)
    writer.writerow(["sample", "role", "material", *head])
    for where, band in _bands(verification):
        writer.writerow([_cell(value) for value in (*where, *(getattr(band, name) for name in names))])
    return target.getvalue()


def _bands(verification: Verification) -> Iterator[tuple[tuple[str, str, str], BandFinding]]:
    """Every band with its sample, role and group."""
    substrate = verification.study.substrate
    for name, sample in verification.samples.items():
        for coating in sample.coatings.values():
            yield from (((name, "coating", coating.name), band) for band in coating.bands)
        bare = substrate.material or substrate.name
        yield from (((name, "substrate", bare), band) for band in sample.substrate.bands)


def _cell(value: Any) -> Any:
    """Return a value as a spreadsheet may have it: no NaN, no formula."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return ""
    if isinstance(value, str) and value.startswith(FORMULA_STARTS):
        return f"'{value}"
    return value
