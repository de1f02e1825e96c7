"""Settings: a field takes its own type and range only, and says why it is what it is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import Field, dataclass, fields, is_dataclass
from typing import Any, get_type_hints

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as effort
from hypothesis import strategies as st

from spectra.decision import DecisionSettings
from spectra.errors import SettingError
from spectra.optics.geometry import Geometry
from spectra.preprocessing.settings import FootingSettings
from spectra.settings import require_in_range, setting
from spectra.study.settings import Settings


@dataclass(frozen=True)
class Sample:
    width: float = setting(8.0, "why", unit="cm-1", low=1.0, high=50.0)
    widths: tuple[float, ...] = setting((1.0, 2.0), "why", low=0.0, high=3.0)
    word: str = setting("one", "why", choices=("one", "two"))
    free: float = 1.0
    count: int = setting(3, "why", low=0, high=9)
    low: float | None = setting(None, "why", unit="cm-1")
    high: float | None = setting(None, "why", unit="cm-1", not_below="low")
    pairs: tuple[tuple[float, float], ...] = setting((), "why", low=0.0)

    def __post_init__(self) -> None:
        require_in_range(self)


@pytest.mark.parametrize(
    ("values", "told"),
    [
        ({"width": 0.5}, "'width' of Sample is 0.5 cm-1; expected 1.0 to 50.0 cm-1"),
        ({"width": 51}, "'width' of Sample is 51 cm-1; expected 1.0 to 50.0 cm-1"),
        ({"width": float("nan")}, "'width' of Sample is nan; expected a finite number"),
        ({"free": float("inf")}, "'free' of Sample is inf; expected a finite number"),
        ({"width": "8"}, "'width' of Sample is '8'; expected a finite number"),
        ({"width": True}, "'width' of Sample is True; expected a finite number"),
        ({"width": None}, "'width' of Sample is None; expected a finite number"),
        ({"free": "1"}, "'free' of Sample is '1'; expected a finite number"),
        ({"count": 3.0}, r"'count' of Sample is 3\.0; expected a whole number"),
        ({"count": True}, "'count' of Sample is True; expected a whole number"),
        ({"count": 10}, "'count' of Sample is 10; expected 0 to 9"),
        ({"widths": (1.0, 9.0)}, "'widths' of Sample is 9.0; expected 0.0 to 3.0"),
        ({"widths": [1.0]}, r"'widths' of Sample is \[1\.0\]; expected a tuple, each a finite number"),
        ({"widths": (1.0, "2")}, r"'widths' of Sample is \(1\.0, '2'\); expected a tuple, each"),
        ({"pairs": ((1.0,),)}, "expected a tuple, each a tuple, a finite number and a finite number"),
        ({"pairs": ((1.0, -2.0),)}, r"'pairs' of Sample is -2\.0; expected 0\.0 to any"),
        ({"word": "three"}, "'word' of Sample is 'three'; expected one of one, two"),
        ({"word": 1}, "'word' of Sample is 1; expected text"),
        ({"low": "a"}, "'low' of Sample is 'a'; expected a finite number or None"),
        ({"low": 9.0, "high": 8.0}, r"'low' and 'high' of Sample are 9\.0 and 8\.0 cm-1; expected the lower"),
    ],
)
def test_what_a_field_does_not_take_is_refused(values: dict[str, Any], told: str) -> None:
    with pytest.raises(SettingError, match=told):
        Sample(**values)


@effort(max_examples=60, deadline=None)
@given(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4))
def test_a_range_rises(low: float, high: float) -> None:
    ends = min(low, high), max(low, high)
    assert (Sample(low=ends[0], high=ends[1]).low, Sample(high=ends[1]).high) == ends
    if low != high:
        with pytest.raises(SettingError, match="expected the lower one first"):
            Sample(low=ends[1], high=ends[0])


def records(record: Any) -> Iterator[Any]:
    """Every settings record of the chain with those inside it."""
    yield record
    for item in fields(record):
        if is_dataclass(getattr(record, item.name)):
            yield from records(getattr(record, item.name))


ALL: list[tuple[type, Field[Any]]] = [
    (type(record), item)
    for record in records(Settings())
    for item in fields(record)
    if not is_dataclass(getattr(record, item.name))
]


@pytest.mark.parametrize(("record", "item"), ALL, ids=[f"{kind.__name__}.{item.name}" for kind, item in ALL])
def test_every_setting_of_the_chain(record: type, item: Field[Any]) -> None:
    """It says its reason, keeps its own range, and takes neither another type nor a number outside."""
    about = item.metadata
    assert about, "it has no description"
    assert len(about["why"]) > 8
    numbers = [n for n in np.ravel(np.array(item.default, dtype=object)) if isinstance(n, int | float)]
    assert all(about["low"] is None or number >= about["low"] for number in numbers)
    assert all(about["high"] is None or number <= about["high"] for number in numbers)
    with pytest.raises(SettingError, match=f"'{item.name}'"):
        record(**{item.name: True})
    wrong: Any = 3 if get_type_hints(record)[item.name] is str else "0.5"
    with pytest.raises(SettingError, match=f"'{item.name}' of {record.__name__} is .*; expected"):
        record(**{item.name: wrong})
    for end, step in (("low", -1), ("high", 1)):
        if about[end] is not None:
            outside = type(numbers[0] if numbers else 0.0)(about[end] + step)
            value = (outside,) if isinstance(item.default, tuple) else outside
            with pytest.raises(SettingError, match=f"'{item.name}'"):
                record(**{item.name: value})


def test_there_are_settings_to_look_at() -> None:
    assert len(ALL) > 70


def test_the_report_of_a_wrong_number_is_the_same_everywhere() -> None:
    with pytest.raises(SettingError, match=r"'alpha' of DecisionSettings is '0\.5'; expected a finite"):
        DecisionSettings(alpha="0.5")  # type: ignore[arg-type]
    with pytest.raises(SettingError, match=r"'low' and 'high' of FootingSettings are 4000\.0 and 400\.0"):
        FootingSettings(low=4000.0, high=400.0)
    with pytest.raises(SettingError, match=r"'leave_out' of FootingSettings is \(2390\.0, 2280\.0\)"):
        FootingSettings(leave_out=((2390.0, 2280.0),))
    with pytest.raises(SettingError, match="'reflections' of Geometry is True; expected a whole number"):
        Geometry(reflections=True)
    with pytest.raises(SettingError, match="'decision' of Settings is 3; expected DecisionSettings"):
        Settings(decision=3)  # type: ignore[arg-type]
