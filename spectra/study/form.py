"""The form of a study file: which keys it may hold, of which kind, and every mistake at once.

The schema says what a value must look like (pydantic, strict: nothing is converted in silence). What
the values mean together is settled in ``spectra.study.loading``. Both add to one ``Mistakes``.
"""

from __future__ import annotations

import datetime
import re
import tomllib
from collections.abc import Mapping
from itertools import takewhile
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, Discriminator, Field, Tag, ValidationError

from spectra.errors import StudyError
from spectra.study.mistakes import Mistakes, nearest, shown, spelt
from spectra.study.settings import Settings
from spectra.study.settings_form import SETTING_KEYS, SettingsForm, StrictForm, read_settings
from spectra.study.toml_lines import KeyPath, key_lines

Texts = tuple[str, ...]

Form = TypeVar("Form", bound=BaseModel)

Record = TypeVar("Record")


class InstrumentForm(StrictForm):
    """``[instrument]``: what the spectrum files do not say."""

    crystal: str | None = None
    index: float | None = None
    angle_deg: float | None = None
    reflections: int = 1
    resolution: Annotated[float, Field(gt=0)] | None = None
    scans: Annotated[int, Field(gt=0)] | None = None
    apodisation: str = ""
    detector: str = ""
    pressure: str = ""
    conditioning: str = ""
    background: str = ""
    scale_check: str = ""


class NotesForm(StrictForm):
    """``[study]``: shown in the report, never interpreted."""

    operator: str | None = None
    date: str | datetime.date | None = None
    lot: str | None = None
    notes: str | None = None


class FilesForm(StrictForm):
    """``[files]``: what files do not say about their numbers; any group may say it for itself."""

    ordinate: str | None = None
    abscissa: str | None = None
    decimal: str | None = None


class PartForm(StrictForm):
    """Some of the spectra of one file: ``{ file = "map.xlsx", columns = ["film 1"] }``."""

    file: str
    columns: Annotated[Texts, Field(min_length=1)]


def _kind(entry: Any) -> str:
    return "part" if isinstance(entry, dict | PartForm) else "text"


Entry = Annotated[
    Annotated[str, Tag("text")] | Annotated[PartForm, Tag("part")],
    Discriminator(_kind),
]

Entries = tuple[Entry, ...]


class GroupForm(FilesForm):
    """What every group of spectra may say."""

    spectra: Entries | None = None
    specimens: dict[str, Entries] | None = None
    technique: str | None = None
    contact: Annotated[float, Field(gt=0, le=1)] | None = None


class MaterialForm(GroupForm):
    """``[substrate]``."""

    material: str | None = None


class CoatingForm(MaterialForm):
    """Each of ``[coatings]``."""

    layout: Literal["film", "mixed"] = "film"


class SampleForm(GroupForm):
    """Each of ``[samples]``."""

    coatings: Texts | None = None
    expect: Literal["present", "absent"] = "present"
    after: str | None = None
    treatment: str = ""
    side: str = ""


class ResiduesForm(StrictForm):
    """``[residues]``: what should not be left."""

    watch: Texts = ()
    measured: dict[str, Entries] = Field(default_factory=dict)


class CompareForm(StrictForm):
    """``[compare]``: which recipes beside which."""

    against: str | None = None


class AcceptForm(StrictForm):
    """``[accept]``: a stated requirement; the ranges are those of its record."""

    least_nm: float | None = None
    most_variation: float | None = None
    risk: float = 0.05


class PositionsForm(StrictForm):
    """``[positions]``: where on its piece each spot was measured."""

    file: str


class LeaveOutForm(StrictForm):
    """Each of ``leave_out``: a file that is not used, and why."""

    file: str
    reason: Annotated[str, Field(min_length=1)]


class StudyForm(StrictForm):
    """The whole file; ``settings`` has a form of its own."""

    title: str | None = None
    technique: str | None = None
    bands: Texts = ()
    files: FilesForm = FilesForm()
    leave_out: tuple[LeaveOutForm, ...] = ()
    study: NotesForm = NotesForm()
    instrument: InstrumentForm = InstrumentForm()
    substrate: MaterialForm | None = None
    coatings: dict[str, CoatingForm] = Field(default_factory=dict)
    samples: dict[str, SampleForm] = Field(default_factory=dict)
    residues: ResiduesForm = ResiduesForm()
    compare: CompareForm = CompareForm()
    accept: AcceptForm | None = None
    positions: PositionsForm | None = None
    settings: dict[str, Any] = Field(default_factory=dict)


def read_form(text: str, name: str) -> tuple[StudyForm, Settings, Mistakes]:
    """Read the text of a study file into its form.

    Parameters
    ----------
    text
        TOML 1.0.
    name
        How messages call the file.

    Returns
    -------
    form : StudyForm
        Without the values that are mistaken.
    settings : Settings
        Likewise.
    mistakes : Mistakes
        The mistakes so far; nothing is raised for them yet.

    Raises
    ------
    StudyError
        If the text is not TOML.
    """
    try:
        data = _as_tuples(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise StudyError(f"{name}: {_toml_words(str(error))}") from None
    mistakes = Mistakes(name, key_lines(text))
    form = fill(StudyForm, data, mistakes)
    raw = fill(SettingsForm, data.get("settings", {}), mistakes, ("settings",))
    return form, read_settings(raw.model_dump(exclude_unset=True), mistakes), mistakes


def _toml_words(error: str) -> str:
    """Put the place first: ``line 3, column 7: Invalid value``."""
    match = re.fullmatch(r"(.*) \(at (?:line (\d+), column (\d+)|end of document)\)", error, re.DOTALL)
    if not match:
        return f"not a study file ({error}); expected TOML text"
    where = f"line {match[2]}, column {match[3]}" if match[2] else "at its end"
    return f"{where}: not TOML ({match[1].lower()}); check quotes, brackets and the = sign there"


def _as_tuples(value: Any) -> Any:
    """Return lists as tuples: a strict form then takes them for the tuples its records hold."""
    if isinstance(value, dict):
        return {key: _as_tuples(inner) for key, inner in value.items()}
    return tuple(_as_tuples(inner) for inner in value) if isinstance(value, list) else value


def fill(form: type[Form], data: Any, mistakes: Mistakes, at: KeyPath = ()) -> Form:
    """Return ``data`` as a form; what is mistaken is noted and taken out of ``data``.

    Parameters
    ----------
    form
        The schema.
    data
        Nested dictionaries; tuples for lists.
    mistakes
        Where to note what does not fit.
    at
        The way to ``data`` in the file.
    """
    try:
        return form.model_validate(data)
    except ValidationError as error:
        found = [(_way(data, item["loc"]), item) for item in error.errors(include_url=False)]
    for path, item in found:
        mistakes.add((*at, *path), _words(item, (*at, *path)))
        _prune(data, path)
    return fill(form, data, mistakes, at)


def _way(data: Any, location: KeyPath) -> KeyPath:
    """Return the part of pydantic's location that leads through ``data`` (it adds names of its own)."""
    path: KeyPath = ()
    for step in location:
        inside = isinstance(data, dict) and step in data
        if not inside and not (isinstance(data, tuple) and isinstance(step, int) and step < len(data)):
            break
        data, path = data[step], (*path, step)
    return path


def _prune(data: dict[str | int, Any], path: KeyPath) -> None:
    """Take the innermost key on the way to a mistake out of ``data``."""
    *tables, last = takewhile(lambda step: isinstance(step, str), path)
    for name in tables:
        data = data.get(name, {})
    data.pop(last, None)


# What pydantic's kinds of error expected, in words of this file.
_EXPECTED = {
    "string_type": "text in quotes",
    "float_type": "a number",
    "finite_number": "a finite number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "bool_type": "true or false",
    "tuple_type": "a list in square brackets",
    "dict_type": "a table of named entries",
    "model_type": "a table of keys and values",
    "greater_than": "more than {gt:g}",
    "greater_than_equal": "at least {ge:g}",
    "less_than": "less than {lt:g}",
    "less_than_equal": "at most {le:g}",
    "too_short": "at least {min_length} entries",
    "too_long": "at most {max_length} entries",
    "missing": "one entry more",
    "literal_error": "{expected}",
    "string_too_short": "some text",
}


def _words(item: Any, path: KeyPath) -> str:
    """Word one of pydantic's errors: what was found, what was expected."""
    if item["type"] == "extra_forbidden":
        return _unknown_key(path)
    known = _EXPECTED.get(item["type"])
    expected = known.format_map(item.get("ctx", {})) if known else item["msg"]
    return f"found {shown(item['input'])}; expected {expected}"


def _unknown_key(path: KeyPath) -> str:
    """Name the nearest key valid there, or the table the key belongs to."""
    key, valid = str(path[-1]), _keys_at(path[:-1])
    homes = [spelt(table) for table, keys in _KEYS.items() if table and key in keys]
    hint = f"; it belongs in [{homes[0]}]" if homes else nearest(key, valid)
    return f"unknown key{hint or '; take it out'} (known here: {', '.join(sorted(valid))})"


def _keys_at(table: KeyPath) -> tuple[str, ...]:
    """Return the keys valid in a table; any name of a coating or sample stands for all."""
    if isinstance(table[-1] if table else None, int):
        return tuple(PartForm.model_fields)
    pattern = tuple("*" if i == 1 and table[0] in {"coatings", "samples"} else s for i, s in enumerate(table))
    """Return the keys valid in a table; one name, or one entry of a list, stands for all."""
    named = {"coatings", "samples", "leave_out"}
    pattern = tuple("*" if i == 1 and table[0] in named else s for i, s in enumerate(table))
    return _KEYS.get(pattern, ())


_KEYS: Mapping[KeyPath, tuple[str, ...]] = {
    (): tuple(StudyForm.model_fields),
    ("files",): tuple(FilesForm.model_fields),
    ("instrument",): tuple(InstrumentForm.model_fields),
    ("substrate",): tuple(MaterialForm.model_fields),
    ("coatings", "*"): tuple(CoatingForm.model_fields),
    ("samples", "*"): tuple(SampleForm.model_fields),
    ("residues",): tuple(ResiduesForm.model_fields),
    ("study",): tuple(NotesForm.model_fields),
    ("compare",): tuple(CompareForm.model_fields),
    ("accept",): tuple(AcceptForm.model_fields),
    ("positions",): tuple(PositionsForm.model_fields),
    ("leave_out", "*"): tuple(LeaveOutForm.model_fields),
    **SETTING_KEYS,
}
