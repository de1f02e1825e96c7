"""Settings as data: each number with its unit, its range and the reason for its default.

A step's settings are a frozen dataclass beside the step's function. Its fields are made with
:func:`setting`, so that the study file can be checked against the range and the report can print what
every number means. :func:`require_in_range` is called from ``__post_init__``.
"""

from __future__ import annotations

import math
from dataclasses import field, fields
from functools import cache
from types import NoneType, UnionType
from typing import Any, get_args, get_origin, get_type_hints

from spectra.errors import SettingError


def setting(
    default: Any,
    why: str,
    *,
    unit: str = "",
    low: float | None = None,
    high: float | None = None,
    choices: tuple[str, ...] = (),
    not_below: str = "",
) -> Any:
    """Declare one field of a settings dataclass.

    Parameters
    ----------
    default
        Value used when the study file says nothing.
    why
        One clause: where the default comes from or what a larger value does.
    unit
        Unit of the value; empty for pure numbers and words.
    low, high
        Closed range of admissible numbers; ``None`` for open.
    choices
        The admissible words, for a setting that is a word.
    not_below
        Another field of the record: the lower end of a range of which this one is the upper.

    Returns
    -------
    dataclasses.Field
        With the description in its ``metadata``.
    """
    about = {"why": why, "unit": unit, "low": low, "high": high, "choices": choices, "not_below": not_below}
    return field(default=default, metadata=about)


def require_in_range(settings: Any) -> None:
    """Check every field of a settings dataclass: its type, its range, its place above another field.

    A field takes its own type only: text and truth values are no numbers, a list is no tuple. A whole number
    is taken for a number with decimals, as everywhere in Python.

    Raises
    ------
    SettingError
        Naming the setting, the value found and what was expected.

    Examples
    --------
    >>> from dataclasses import dataclass
    >>> @dataclass(frozen=True)
    ... class Smoothing:
    ...     width: float = setting(8.0, "instrument resolution", unit="cm-1", low=1, high=50)
    ...
    ...     def __post_init__(self):
    ...         require_in_range(self)
    >>> Smoothing(width=90.0)
    Traceback (most recent call last):
    spectra.errors.SettingError: setting 'width' of Smoothing is 90.0 cm-1; expected 1 to 50 cm-1
    >>> Smoothing(width="8")
    Traceback (most recent call last):
    spectra.errors.SettingError: setting 'width' of Smoothing is '8'; expected a finite number
    """
    record: Any = type(settings)
    kinds = _kinds(record)
    for item in fields(settings):
        value, about = getattr(settings, item.name), item.metadata
        name = f"setting {item.name!r} of {type(settings).__name__}"
        if not _is_of(value, kinds[item.name]):
            raise SettingError(f"{name} is {value!r}; expected {_called(kinds[item.name])}")
        if about.get("choices") and value not in about["choices"]:
            raise SettingError(f"{name} is {value!r}; expected one of {', '.join(about['choices'])}")
        if about:
            _require_between(name, value, about["low"], about["high"], about["unit"])
            _require_rising(settings, about["not_below"], item.name, about["unit"])


@cache
def _kinds(record: type) -> dict[str, Any]:
    """Return the types of a record's fields."""
    return get_type_hints(record)


def _is_of(value: object, kind: Any) -> bool:
    """Tell whether a value is of a field's type; numbers must be finite."""
    if get_origin(kind) is UnionType:
        return any(_is_of(value, each) for each in get_args(kind))
    if get_origin(kind) is tuple:
        inner = get_args(kind)
        if not isinstance(value, tuple) or (inner[-1] is not ... and len(value) != len(inner)):
            return False
        each = inner[:1] * len(value) if inner[-1] is ... else inner
        return all(_is_of(entry, one) for entry, one in zip(value, each, strict=True))
    if kind in (int, float):
        whole = isinstance(value, int) and not isinstance(value, bool)
        return whole or (kind is float and isinstance(value, float) and math.isfinite(value))
    return isinstance(value, kind)


_WORDS = {
    int: "a whole number",
    float: "a finite number",
    str: "text",
    bool: "True or False",
    NoneType: "None",
}


def _called(kind: Any) -> str:
    """Return the words for a field's type."""
    if get_origin(kind) is UnionType:
        return " or ".join(_called(each) for each in get_args(kind))
    if get_origin(kind) is tuple:
        inner = get_args(kind)
        parts = f"each {_called(inner[0])}" if inner[-1] is ... else " and ".join(map(_called, inner))
        return f"a tuple, {parts}"
    return _WORDS.get(kind) or str(kind.__name__)


def _require_between(name: str, value: object, low: float | None, high: float | None, unit: str) -> None:
    """Refuse a number outside the closed range; tuples are checked entry by entry."""
    if isinstance(value, tuple):
        for entry in value:
            _require_between(name, entry, low, high, unit)
    if not isinstance(value, int | float):
        return
    unit = f" {unit}" if unit else ""
    below = low is not None and value < low
    above = high is not None and value > high
    if below or above:
        bounds = f"{'any' if low is None else low} to {'any' if high is None else high}"
        raise SettingError(f"{name} is {value}{unit}; expected {bounds}{unit}")


def _require_rising(settings: Any, lower: str, upper: str, unit: str) -> None:
    """Refuse a range whose upper end lies below its lower one; an end that is not set is no end."""
    if not lower:
        return
    low, high = getattr(settings, lower), getattr(settings, upper)
    if low is not None and high is not None and high < low:
        both = f"settings {lower!r} and {upper!r} of {type(settings).__name__}"
        raise SettingError(f"{both} are {low} and {high} {unit}".rstrip() + "; expected the lower one first")
