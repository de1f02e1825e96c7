"""Stretches without a gap, against grouping by the standard library."""

from __future__ import annotations

from itertools import groupby

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from spectra.stretches import runs, unbroken


@given(st.lists(st.booleans(), max_size=30))
def test_runs_are_the_groups_of_marked_points(marks: list[bool]) -> None:
    groups = [[i for i, _ in group] for mark, group in groupby(enumerate(marks), key=lambda m: m[1]) if mark]
    assert runs(np.array(marks, dtype=bool)) == [(group[0], group[-1] + 1) for group in groups]


@given(st.lists(st.integers(2, 12), min_size=1, max_size=6))
def test_an_axis_is_cut_where_parts_are_left_out(lengths: list[int]) -> None:
    """Even steps of 2 cm-1 with 20 cm-1 left out between the parts."""
    parts, at = [], 400.0
    for length in lengths:
        parts.append(at + 2.0 * np.arange(length))
        at = parts[-1][-1] + 20.0
    found = unbroken(np.concatenate(parts))
    if np.median(np.diff(np.concatenate(parts))) == 2.0:
        assert [stop - start for start, stop in found] == lengths
    assert [start for start, _ in found][1:] == [stop for _, stop in found][:-1]


def test_uneven_steps_are_no_gaps() -> None:
    assert unbroken(np.geomspace(1000.0, 2000.0, 50)) == [(0, 50)]
    assert unbroken(np.array([5.0])) == [(0, 1)]
    assert runs(np.zeros(4, dtype=bool)) == []
