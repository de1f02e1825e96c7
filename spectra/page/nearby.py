"""What could be at a place in the spectra: the band's own row, and what the tables say near it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from reference_bands import Band, BandTable, GroupRange, find, load
from reference_bands.records import STRENGTHS
from spectra.page.results import Mark
from spectra.page.sheet import environment, marks_of
from spectra.page.state import State

REACH = 8.0  # cm-1: twice the usual resolution of a solid's spectrum

MOST = 30


@dataclass(frozen=True)
class Near:
    """One row of the tables, as text."""

    name: str
    vibration: str
    place: str
    strength: str
    source: str
    checked: str


def near_html(state: State, at: float, number: int | None = None) -> str:
    """Return what is known near a place.

    Parameters
    ----------
    state : State
    at
        cm-1.
    number
        Of the mark that was chosen, if one was.
    """
    marks = marks_of(state)
    chosen = marks[number] if number is not None and 0 <= number < len(marks) else None
    rows = [(_called(mark), mark.row) for mark in marks if mark.row and _same(mark, chosen, at)]
    table = load()
    found = [_near(row, table) for row in _sorted(find(at, REACH), state, table)[:MOST]]
    return environment().get_template("near.html").render(at=at, rows=rows, found=found, reach=REACH)


def within_reach(state: State, at: float) -> str:
    """Return the assignments within reach of a place, the study's own materials first, as one line."""
    table = load()
    rows = _sorted(find(at, REACH), state, table)[:6]
    said = dict.fromkeys(f"{row.name} {row.vibration} ({row.low:g} to {row.high:g})" for row in rows)
    return f"Within reach by the tables: {'; '.join(said)}" if said else "Within reach by the tables: nothing"


def _same(mark: Mark, chosen: Mark | None, at: float) -> bool:
    """Tell whether a mark is the chosen band, on whatever sample; without a choice, whether it is here."""
    if chosen is None:
        return mark.low <= at <= mark.high
    return mark.owner == chosen.owner and abs(mark.position - chosen.position) < REACH


def _called(mark: Mark) -> str:
    return f"{mark.owner} on {mark.sample}" if mark.role == "neat" else f"{mark.owner} under {mark.sample}"


def _sorted(rows: Iterable[Band | GroupRange], state: State, table: BandTable) -> list[Band | GroupRange]:
    """Return the rows of the study's own materials first, each kind in the order of the tables."""
    document = state.draft.document
    said = [document.get("substrate", {}).get("material")]
    said += [item.get("material", name) for name, item in document.get("coatings", {}).items()]
    said += document.get("residues", {}).get("watch", [])
    own = {table.named(str(word)) for word in said if word}
    return sorted(rows, key=lambda row: row.name not in own)


def _near(row: Band | GroupRange, table: BandTable) -> Near:
    return Near(
        row.name,
        row.vibration,
        f"{row.low:g} to {row.high:g}",
        STRENGTHS[row.strength],
        table.cite(row),
        row.checked,
    )
