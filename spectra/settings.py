"""Settings as data: each number with its unit, its range and the reason for its default.

A step's settings are a frozen dataclass beside the step's function. Its fields are made with
:func:`setting`, so that the study file can be checked against the range and the report can print what
every number means. :func:`require_in_range` is called from ``__post_init__``.
"""

from __future__ import annotations

from dataclasses import field, fields
from typing import Any

from spectra.errors import SettingError


def setting(
    default: Any,
    why: str,
    *,
    unit: str = "",
    low: float | None = None,
    high: float | None = None,
    choices: tuple[str, ...] = (),
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

    Returns
    -------
    dataclasses.Field
        With the description in its ``metadata``.
    """
    about = {"why": why, "unit": unit, "low": low, "high": high, "choices": choices}
    return field(default=default, metadata=about)


def require_in_range(settings: Any) -> None:
    """Check every field of a settings dataclass against its declared range.

    Raises
    ------
    SettingError
        Naming the setting, the value found and the range expected.

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
    """
    for item in fields(settings):
        about = item.metadata
        if not about:
            continue
        value = getattr(settings, item.name)
        name = f"setting {item.name!r} of {type(settings).__name__}"
        if about["choices"] and value not in about["choices"]:
            raise SettingError(f"{name} is {value!r}; expected one of {', '.join(about['choices'])}")
        _require_between(name, value, about["low"], about["high"], about["unit"])


def _require_between(name: str, value: object, low: float | None, high: float | None, unit: str) -> None:
    """Refuse a number outside the closed range; lists are checked entry by entry."""
    if isinstance(value, list | tuple):
        for entry in value:
            _require_between(name, entry, low, high, unit)
        return
    if isinstance(value, bool) or not isinstance(value, int | float):
        return
    unit = f" {unit}" if unit else ""
    below = low is not None and not value >= low
    above = high is not None and not value <= high
    if below or above or value != value:
        bounds = f"{'any' if low is None else low} to {'any' if high is None else high}"
        raise SettingError(f"{name} is {value}{unit}; expected {bounds}{unit}")
