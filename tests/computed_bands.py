"""Makes ``reference_bands/tables/computed.csv`` from the open optical constants.

``python -m tests.computed_bands`` writes the table anew; a test compares it with what is shipped. Positions
are maxima of k times wavenumber. The strength letters are classes of the height above the surroundings
(prominence), relative to the highest: vs from 0.6, s from 0.25, m from 0.08, w from 0.02. These limits are
our own choice, since no standard defines the letters.
"""

from __future__ import annotations

import csv
import io

import numpy as np

from reference_bands import load
from tests.optical_constants import PAGES, absorption, maxima
from tests.places import ROOT

TABLE = ROOT / "reference_bands" / "tables" / "computed.csv"
COLUMNS = (
    *("material", "low", "typical", "high", "strength", "shape", "vibration"),
    *("technique", "state", "source", "checked", "window", "note"),
)
CLASSES = ((0.6, "vs"), (0.25, "s"), (0.08, "m"), (0.02, "w"))
LOWEST = 0.02
BROAD = 60.0  # cm-1, full width at half height above which a row says "broad"


# Maxima that belong to something else than the material. The polystyrene measured as a liquid has short
# chains: their CH3 end groups (2957, 2874, 1377 cm-1) are no bands of the polymer. Our judgement, no source.
NOT_THE_MATERIAL = {"polystyrene__Myers": (1377.2, 2957.0, 2874.0)}


def computed_rows(page: str) -> list[list[str]]:
    """Return the rows of one page, by falling wavenumber."""
    material, state, source = PAGES[page]
    wavenumbers, signal = absorption(page)
    found = maxima(wavenumbers, signal, LOWEST)
    rows = []
    for position, prominence, width in zip(found.positions, found.prominences, found.widths, strict=True):
        if not 400 <= position <= 4000 or _foreign(page, float(position)):
            continue
        spacing = float(np.median(np.diff(wavenumbers[np.abs(wavenumbers - position) < 60])))
        half = max(2.0, round(spacing))
        relative = prominence / found.prominences.max()
        strength = next((word for limit, word in CLASSES if relative >= limit), "w")
        rows.append(
            [
                material,
                f"{position - half:.1f}",
                f"{position:.1f}",
                f"{position + half:.1f}",
                strength,
                "broad" if width > BROAD else "",
                _vibration(material, float(position)),
                "",
                state,
                source,
                "computed",
                "ours",
                f"relative height {relative:.2f}; points every {spacing:.1f} cm-1",
            ]
        )
    return rows[::-1]


def _foreign(page: str, position: float) -> bool:
    """Tell whether a maximum of a page is known not to belong to its material."""
    return any(abs(position - other) < 2.0 for other in NOT_THE_MATERIAL.get(page, ()))


def _vibration(material: str, position: float) -> str:
    """The vibration of the nearest row from the literature, if its window comes within 4 cm-1."""
    rows = load().near(position, 4.0, material)
    return next((row.vibration for row in rows if row.checked != "computed"), "not assigned")


def table_text() -> str:
    """Return the whole table as it is shipped."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for page in PAGES:
        writer.writerows(computed_rows(page))
    return out.getvalue()


if __name__ == "__main__":
    TABLE.write_text(table_text(), encoding="utf-8", newline="")
