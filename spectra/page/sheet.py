"""The page as HTML: pure functions of the state.

The page is one sheet in the order of the work. It is rendered in parts, each an element with a name, so
that a browser can be sent those that changed. Every name and text of a file is escaped by the templates.
"""

from __future__ import annotations

from functools import cache, lru_cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from reference_bands import load
from spectra.page.downloads import figure_files
from spectra.page.fields import blocks
from spectra.page.places import BARE, COATED, LEFT_OUT, NEAT, RESIDUE
from spectra.page.results import STAGES, Mark
from spectra.page.state import Row, State
from spectra.report.words.signs import typeset

TEMPLATES = Path(__file__).parent / "templates"

PARTS = ("notice", "summary", "names", "ahead", "measured", "marks", "work", "findings", "take")

ROLE_WORDS = {
    BARE: "bare substrate",
    NEAT: "neat coating",
    COATED: "coated sample",
    RESIDUE: "residue",
    LEFT_OUT: "left out",
    "": "not said yet",
}


@cache
def environment() -> Environment:
    """Return the templates; what they are given is escaped, what they are not given is an error."""
    made = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["typeset"] = typeset
    made.globals.update(role_words=ROLE_WORDS, stage_words=STAGES, figure_files=figure_files)
    return made


@lru_cache(maxsize=4096)
def row_html(row: Row) -> str:
    """Return the element of one file."""
    return environment().get_template("row.html").render(row=row)


def parts_of(state: State) -> tuple[dict[str, str], tuple[str, ...], str]:
    """Return every part of the page by name, the order of the files, and the version of the study."""
    values = _values(state)
    parts = {name: _part(name, values) for name in PARTS}
    parts.update((row.key, row_html(row)) for row in state.rows)
    return parts, tuple(row.key for row in state.rows), state.draft.version


def _values(state: State) -> dict[str, Any]:
    return {"state": state, "blocks": blocks(state), "marks": shown_marks(state)}


def marks_of(state: State) -> tuple[Mark, ...]:
    """Return the bands to be marked: those of the verdicts if there are any, else of the running answer."""
    found = state.findings or state.running
    return found.marks if found else ()


def shown_marks(state: State) -> list[tuple[int, Mark]]:
    """Return the first of all marks of one band, whatever the sample, with its number."""
    seen: dict[tuple[str, str, int], tuple[int, Mark]] = {}
    for number, mark in enumerate(marks_of(state)):
        near = [key for key in seen if key[:2] == (mark.role, mark.owner) and abs(key[2] - mark.position) < 8]
        seen.setdefault(near[0] if near else (mark.role, mark.owner, round(mark.position)), (number, mark))
    return list(seen.values())


def _part(name: str, values: dict[str, Any]) -> str:
    return environment().get_template(f"{name}.html").render(**values)


def page_html(state: State, tick: int) -> str:
    """Return the whole page.

    Parameters
    ----------
    state : State
    tick
        Count of changes the page is up to.
    """
    parts, order, version = parts_of(state)
    return (
        environment()
        .get_template("page.html")
        .render(state=state, parts=parts, order=order, version=version, tick=tick, materials=material_names())
    )


@cache
def material_names() -> tuple[str, ...]:
    """Return every name of every material of the band tables, synonyms included."""
    names = load().names
    said = [word for name, entry in names.items() for word in (name, *entry.synonyms)]
    return tuple(sorted(dict.fromkeys(said), key=str.casefold))
