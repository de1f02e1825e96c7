"""How it was measured: every question of the page with its key in the study file and what it changes."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from spectra.errors import UsageError
from spectra.groups import TECHNIQUES
from spectra.optics.geometry import CRYSTALS
from spectra.page.places import COATED, NEAT, RESIDUE, TABLES, Place, Steps
from spectra.page.state import State
from spectra.page.study_file import set_value
from spectra.units import DECIMAL_MARKS, X_UNITS, Y_UNITS

TEXT, NUMBER, COUNT, CHOICE, MATERIAL, MATERIALS, NAMES = (
    "text",
    "number",
    "count",
    "choice",
    "material",
    "materials",
    "names",
)


@dataclass(frozen=True)
class Field:
    """One question.

    Attributes
    ----------
    steps
        The way to its key in the study file.
    label
    kind
        How it is answered.
    why
        What the answer changes in the verdict, in a few words.
    choices
        Admissible answers, where they are few.
    value
        As the study says; None where it says nothing.
    """

    steps: Steps
    label: str
    kind: str
    why: str
    choices: tuple[str, ...] = ()
    value: Any = None

    @property
    def name(self) -> str:
        """The way to its key, as forms send it."""
        return json.dumps(self.steps, ensure_ascii=False)

    @property
    def shown(self) -> str:
        """The value as a form holds it."""
        return (
            ""
            if self.value is None
            else f"{self.value:g}"
            if isinstance(self.value, float)
            else str(self.value)
        )


@dataclass(frozen=True)
class Block:
    """Questions that belong together; ``why`` where one reason holds for all of them."""

    title: str
    fields: tuple[Field, ...]
    why: str = ""


WHY = {
    "title": "Stands at the head of the report.",
    "technique": "Decides which optics predict where a band must appear; like is compared with like.",
    "crystal": "Sets how deep the light reaches: expected positions, heights and film thickness follow.",
    "index": "Instead of a crystal of the list.",
    "angle": "With the crystal: without it a part of any shift may be optical, and no thickness is told.",
    "reflections": "Scales the thickness.",
    "ordinate": "Only where a file does not say it; the wrong one turns bands upside down.",
    "abscissa": "Only where a file does not say it.",
    "decimal": "Only where numbers can be read in two ways.",
    "resolution": "Stands in the report; bands narrower than this cannot be told apart.",
    "shown": "Stands in the report and in the methods, as you write it; changes no verdict.",
    "layout": "A film on the surface is told in nm; mixed into the material, as a share.",
    "bare": "Names the substrate's own bands; they are never taken for the coating.",
    "neat": "Names the coating's bands, and the processes known to change them.",
    "watch": "Each is looked for on every sample and told to be present, not shown, or open.",
    "coatings": "Only these are expected here; without a word, all.",
    "expect": "A negative control: a coating found on it is told in the headline.",
    "after": "Compared with this sample, specimen by specimen where names agree.",
    "treatment": "Stands in the report beside the comparison.",
    "side": "Front and back are compared where both are said.",
}

# What only the operator knows, in words of his own.
STATED = {
    "apodisation": "apodisation",
    "detector": "detector",
    "background": "background: of what, how often",
    "pressure": "pressure on the crystal",
    "conditioning": "humidity or drying",
    "scale_check": "wavenumber scale checked with what, when",
}


def blocks(state: State) -> tuple[Block, ...]:
    """Return every question of a study, with the answers it has."""
    return tuple(block for block in _blocks(state) if block.fields)


def _blocks(state: State) -> Iterator[Block]:
    document = state.draft.document
    yield Block("The measurement", tuple(_filled(_measurement(), document)))
    yield Block("What the files do not say", tuple(_filled(_files(state), document)))
    yield Block("Materials", tuple(_filled(_materials(state), document)))
    yield Block("What should not be left", tuple(_filled(_residues(), document)))
    for name in state.names[COATED]:
        if name in _table(document, ("samples",)):
            yield Block(f"Sample {name}", tuple(_filled(_sample(name, state), document)))
    yield Block("For the report alone", tuple(_filled(_for_the_report(), document)), WHY["shown"])


def _measurement() -> Iterator[Field]:
    yield Field(("title",), "title", TEXT, WHY["title"])
    yield Field(("technique",), "technique", CHOICE, WHY["technique"], TECHNIQUES)
    yield Field(("instrument", "crystal"), "crystal", CHOICE, WHY["crystal"], tuple(CRYSTALS))
    yield Field(("instrument", "index"), "or its refractive index", NUMBER, WHY["index"])
    yield Field(("instrument", "angle_deg"), "angle of incidence, degrees", NUMBER, WHY["angle"])
    yield Field(("instrument", "reflections"), "reflections", COUNT, WHY["reflections"])
    yield Field(("instrument", "resolution"), "resolution, cm-1", NUMBER, WHY["resolution"])


def _for_the_report() -> Iterator[Field]:
    """Yield what a paper and an auditor ask for."""
    yield Field(("instrument", "scans"), "scans added for a spectrum", COUNT, "")
    for name, called in STATED.items():
        yield Field(("instrument", name), called, TEXT, "")
    for name in ("operator", "date", "lot", "notes"):
        yield Field(("study", name), name, TEXT, "")


def _files(state: State) -> Iterator[Field]:
    """Yield the units of all files, and of every group with a file that cannot be read without them."""
    yield from _units((), "of all files", "files")
    asked = {row.place for row in state.rows if row.reading is not None and row.reading.unit_asked}
    for steps in sorted({_way(place) for place in asked if place.role in TABLES and place.role != RESIDUE}):
        if _table(state.draft.document, steps):
            yield from _units(steps, f"of {' '.join(steps)}")


def _units(steps: Steps, of: str, *table: str) -> Iterator[Field]:
    """Yield the questions about the units of some files."""
    at = (*steps, *table)
    yield Field((*at, "ordinate"), f"ordinate {of}", CHOICE, WHY["ordinate"], Y_UNITS)
    yield Field((*at, "abscissa"), f"abscissa {of}", CHOICE, WHY["abscissa"], X_UNITS)
    yield Field((*at, "decimal"), f"decimal mark {of}", CHOICE, WHY["decimal"], DECIMAL_MARKS)


def _way(place: Place) -> Steps:
    """Return the way to the table of a group."""
    return tuple(place.group if step == "*" else step for step in TABLES[place.role])


def _materials(state: State) -> Iterator[Field]:
    yield Field(("substrate", "material"), "bare substrate", MATERIAL, WHY["bare"])
    for name in _table(state.draft.document, ("coatings",)):
        yield Field(("coatings", name, "material"), f"coating {name}", MATERIAL, WHY["neat"])
        yield Field(("coatings", name, "layout"), f"{name} lies", CHOICE, WHY["layout"], ("film", "mixed"))


def _residues() -> Iterator[Field]:
    yield Field(("residues", "watch"), "residues to watch", MATERIALS, WHY["watch"])


def _sample(name: str, state: State) -> Iterator[Field]:
    """Yield the questions about one sample."""
    at = ("samples", name)
    coatings = state.names[NEAT]
    others = tuple(other for other in state.names[COATED] if other != name)
    yield Field((*at, "expect"), "coating expected to be", CHOICE, WHY["expect"], ("present", "absent"))
    if len(coatings) > 1:
        yield Field((*at, "coatings"), "coatings looked for", NAMES, WHY["coatings"], coatings)
    if others:
        yield Field((*at, "after"), "treated from", CHOICE, WHY["after"], others)
    yield Field((*at, "treatment"), "treatment", TEXT, WHY["treatment"])
    yield Field((*at, "side"), "side", TEXT, WHY["side"])


def _filled(fields: Iterator[Field], document: Mapping[str, Any]) -> Iterator[Field]:
    """Give every question its answer; a word that is not among the choices is kept as one."""
    for item in fields:
        value = _table(document, item.steps[:-1]).get(item.steps[-1])
        choices = item.choices
        if item.kind == CHOICE and value is not None and str(value) not in choices:
            choices = (*choices, str(value))
        yield Field(item.steps, item.label, item.kind, item.why, choices, value)


def _table(document: Mapping[str, Any], steps: Steps) -> Mapping[str, Any]:
    value: Any = document
    for step in steps:
        value = value.get(step, {}) if isinstance(value, Mapping) else {}
    return value if isinstance(value, Mapping) else {}


def answer(text: str, state: State, given: Mapping[str, list[str]]) -> str:
    """Write the answers of a form into the study file; questions it does not hold stay as they are.

    Parameters
    ----------
    text
        Of the study file.
    state : State
        For the questions there are.
    given
        By the name of each question.

    Raises
    ------
    UsageError
        If an answer is not a number where one is asked for.
    """
    for block in blocks(state):
        for item in block.fields:
            if item.name in given:
                value = _value(item, given[item.name])
                if value != item.value and not (value is None and item.value is None):
                    text = set_value(text, item.steps, value)
    return text


def _value(item: Field, words: list[str]) -> Any:
    """Return an answer as the study file holds it; None where nothing is said."""
    said = [word.strip() for word in words if word.strip()]
    if item.kind in (MATERIALS, NAMES):
        return list(dict.fromkeys(said)) or None
    if not said:
        return None
    if item.kind in (NUMBER, COUNT):
        return _number(item, said[0])
    return said[0]


def _number(item: Field, word: str) -> float | int:
    try:
        number = float(word.replace(",", "."))
        if not math.isfinite(number):
            raise ValueError(word)
    except ValueError:
        raise UsageError(f"{item.label}: found {word[:40]!r}; expected a number") from None
    if item.kind == COUNT:
        if number != int(number):
            raise UsageError(f"{item.label}: found {word[:40]!r}; expected a whole number")
        return int(number)
    return int(number) if number == int(number) and abs(number) < 1e9 else number
