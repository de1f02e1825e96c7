"""The form of ``[settings]``, made from the settings records themselves.

A new setting needs no second entry: its name, kind, range and default stand in its record. Every stage has a
table of its own, as the report heads it; the keys of ``[settings.decision]`` may stand directly under
``[settings]``.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import is_dataclass
from typing import Any, TypeVar, get_type_hints

from pydantic import BaseModel, ConfigDict, create_model

from spectra.decision import DecisionSettings
from spectra.errors import SettingError
from spectra.study.mistakes import Mistakes, shown
from spectra.study.settings import Settings
from spectra.study.toml_lines import KeyPath

Record = TypeVar("Record")

Records = Mapping[str, type[Any]]


class StrictForm(BaseModel):
    """Strict: text is never taken for a number, an unknown key is never passed over."""

    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False)


def read_settings(given: Mapping[str, Any], mistakes: Mistakes) -> Settings:
    """Return the settings; those out of range are noted and left at their defaults.

    Parameters
    ----------
    given
        The content of ``[settings]`` as a :data:`SettingsForm` accepts it.
    mistakes
        Where to note what is refused.
    """
    tables = {stage: given.get(stage, {}) for stage in _STAGES}
    short = {name: value for name, value in given.items() if name not in _STAGES}
    settings: dict[str, Any] = {
        stage: made(record, tables[stage], ("settings", stage), mistakes) for stage, record in _STAGES.items()
    }
    if short:
        _note_contradictions(short, tables["decision"], mistakes)
        made(DecisionSettings, short, ("settings",), mistakes)
        accepted = {**tables["decision"], **short}
        settings["decision"] = made(DecisionSettings, accepted, ("settings",), Mistakes("", None))
    return Settings(**settings)


def _note_contradictions(short: Mapping[str, Any], table: Mapping[str, Any], mistakes: Mistakes) -> None:
    """Note every setting of the decision that is given in both places, with two values."""
    for name in short.keys() & table.keys():
        if short[name] != table[name]:
            text = f"found {shown(table[name])}, and {shown(short[name])} in [settings]; give it once"
            mistakes.add(("settings", "decision", name), text)


def made(record: Callable[..., Record], given: Mapping[str, Any], at: KeyPath, mistakes: Mistakes) -> Record:
    """Return a settings record; a value it refuses is noted and left at its default.

    Parameters
    ----------
    record
        A settings dataclass that checks its own ranges; it may hold others.
    given
        Values by name, those of a record inside as a mapping of their own.
    at
        The way to them in the study file.
    mistakes
        Where to note what is refused.
    """
    inside = {
        name: made(inner, given[name], (*at, name), mistakes)
        for name, inner in _inner_records(record).items()
        if name in given
    }
    return _accepted(record, {**given, **inside}, at, mistakes)


def _accepted(
    record: Callable[..., Record], given: Mapping[str, Any], at: KeyPath, mistakes: Mistakes
) -> Record:
    """Return the record of the values it does not refuse."""
    try:
        return record(**given)
    except SettingError as error:
        refused = next((name for name in given if f"{name!r}" in str(error)), None)
        text = re.sub(r"^setting '\w+' of \w+ is ", "found ", str(error))
        text = re.sub(r"^settings ('\w+' and '\w+') of \w+ are", r"\1 are", text)
        mistakes.add((*at, refused) if refused else at, text)
    rest = {name: value for name, value in given.items() if refused and name != refused}
    return _accepted(record, rest, at, mistakes)


def _inner_records(record: object) -> Records:
    """Return the records a settings record holds, by field."""
    hints = get_type_hints(record) if is_dataclass(record) else {}
    return {name: hint for name, hint in hints.items() if isinstance(hint, type) and is_dataclass(hint)}


def _form_of(record: type[Any], inner: Records) -> type[BaseModel]:
    """Return a strict form with the names and kinds of a record and of those inside it."""
    definitions: dict[str, Any] = {name: (hint, None) for name, hint in get_type_hints(record).items()}
    definitions |= {name: (_form_of(item, _inner_records(item)), None) for name, item in inner.items()}
    return create_model(record.__name__, __base__=StrictForm, **definitions)


def _keys_of(record: type[Any], inner: Records, at: KeyPath) -> Iterator[tuple[KeyPath, tuple[str, ...]]]:
    """Yield the keys valid in each table of the settings."""
    yield at, tuple(dict.fromkeys([*get_type_hints(record), *inner]))
    for name, item in inner.items():
        yield from _keys_of(item, _inner_records(item), (*at, name))


_STAGES = _inner_records(Settings)

SettingsForm = _form_of(DecisionSettings, _STAGES)

SETTING_KEYS = dict(_keys_of(DecisionSettings, _STAGES, ("settings",)))
