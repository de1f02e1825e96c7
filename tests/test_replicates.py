"""The unit of replication is the specimen: averages, scatter, and the cost of many specimens."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectra.replicates import Units, group_rows, leave_one_out, unit_scatter, units_of
from spectra.spectrum import Stack
from spectra.statistics import critical_factor


def test_leave_one_out_scatter_is_the_standard_deviation() -> None:
    rng = np.random.default_rng(1)
    rows = rng.normal(size=(7, 3))
    units = Units(rows, tuple("abcdefg"), True)
    assert unit_scatter(leave_one_out(units)) == pytest.approx(np.std(rows, axis=0, ddof=1))
    slow = np.array([row - np.delete(rows, i, axis=0).mean(axis=0) for i, row in enumerate(rows)])
    assert leave_one_out(units) == pytest.approx(slow)


def test_specimens_are_the_unit_of_replication() -> None:
    # Worked example: 3 specimens x 5 spots; the half-width of the 95 % interval of the mean is 0.331 with
    # specimens as the unit, 0.064 if fifteen spots were taken for independent.
    spots = [[1.02, 1.05, 0.99, 1.04, 1.00], [1.21, 1.18, 1.25, 1.20, 1.16], [0.93, 0.90, 0.97, 0.95, 0.95]]
    names = tuple(name for name in "abc" for _ in range(5))
    stack = Stack(
        [1000.0, 1001.0], np.repeat(np.ravel(spots)[:, None], 2, axis=1), names, tuple(map(str, range(15)))
    )
    units = units_of(stack)
    assert units.are_specimens
    scatter = float(unit_scatter(leave_one_out(units))[0])
    assert critical_factor(0.025, 2) * scatter / np.sqrt(3) == pytest.approx(0.331, abs=1.5e-3)


def test_one_specimen_gives_its_spots_and_says_so() -> None:
    stack = Stack([1.0, 2.0], [[1, 1], [2, 2]], ("a", "a"), ("a1", "a2"))
    units = units_of(stack)
    assert len(units) == 2
    assert not units.are_specimens


class Counted(str):
    """A name that counts how often it is compared."""

    compared = 0
    __hash__ = str.__hash__

    def __eq__(self, other: object) -> bool:
        Counted.compared += 1
        return str.__eq__(self, other)


def test_rows_of_many_specimens_cost_one_look_each() -> None:
    for count in (100, 400):
        names = [Counted(f"s{i // 2}") for i in range(2 * count)]
        Counted.compared = 0
        rows = group_rows(names)
        assert rows == tuple((2 * i, 2 * i + 1) for i in range(count))
        assert Counted.compared <= 2 * count + 10


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from("abcd"), min_size=1, max_size=12))
def test_rows_of_specimens_are_a_division_in_order_of_appearance(names: list[str]) -> None:
    rows = group_rows(names)
    assert sorted(i for group in rows for i in group) == list(range(len(names)))
    assert [{names[i] for i in group} for group in rows] == [{name} for name in dict.fromkeys(names)]
    assert all(list(group) == sorted(group) for group in rows)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.sampled_from("abc"), min_size=2, max_size=9))
def test_every_specimen_weighs_the_same_whatever_its_spots(names: list[str]) -> None:
    values = np.arange(2.0 * len(names)).reshape(len(names), 2) ** 2
    units = units_of(Stack([1.0, 2.0], values, tuple(names), tuple(map(str, range(len(names))))))
    if len(set(names)) == 1:
        assert units.rows == pytest.approx(values)
        return
    frame = pd.DataFrame(values).groupby(np.array(names), sort=False).mean()  # pandas as the reference
    assert units.rows == pytest.approx(frame.to_numpy())
    assert units.names == tuple(frame.index)
