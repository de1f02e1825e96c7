"""The one datum: frozen through every way of copying, and refusing what cannot be a spectrum."""

from __future__ import annotations

import copy
import pickle
from dataclasses import FrozenInstanceError, replace

import numpy as np
import pytest

from spectra.errors import SpectraError
from spectra.spectrum import Fault, Origin, Spectrum, Stack

X = np.arange(1000.0, 1100.0, 2.0)


def spectrum() -> Spectrum:
    return Spectrum(X, np.sin(X / 30), Origin("film.csv", part="column 2"))


def stack() -> Stack:
    return Stack(X, [np.sin(X / 30), np.cos(X / 30)], ("a", "b"), ("a1", "b1"))


@pytest.mark.parametrize("make", [spectrum, stack])
@pytest.mark.parametrize(
    "through",
    [lambda v: v, copy.copy, copy.deepcopy, lambda v: pickle.loads(pickle.dumps(v)), replace],
    ids=["as made", "copy", "deepcopy", "pickle", "replace"],
)
def test_arrays_stay_read_only(make, through) -> None:
    value = through(make())
    for name in ("wavenumbers", "absorbance", "grid", "usable"):
        array = getattr(value, name, None)
        if array is not None:
            with pytest.raises(ValueError, match="read-only"):
                array[0] = 7.0
    assert value.absorbance == pytest.approx(make().absorbance)


def test_the_given_arrays_are_copied() -> None:
    mine = np.sin(X)
    made = Spectrum(X, mine, Origin("a"))
    mine[:] = 0.0
    assert made.absorbance.any()


def test_fields_cannot_be_set() -> None:
    with pytest.raises(FrozenInstanceError, match="cannot assign"):
        spectrum().absorbance = X  # type: ignore[misc]


@pytest.mark.parametrize(
    ("x", "y", "told"),
    [
        ([1.0, 2.0], [1.0], "two one-dimensional arrays of the same length"),
        ([], [], "two one-dimensional arrays"),
        ([2.0, 1.0], [1.0, 1.0], "do not increase at 2 cm-1"),
        ([1.0, 1.0], [1.0, 1.0], "do not increase at 1 cm-1"),
        ([1.0, np.nan], [1.0, 1.0], "a wavenumber is not a number"),
        ([1.0, 2.0], [np.nan, np.nan], "not one ordinate is a number"),
    ],
)
def test_what_cannot_be_a_spectrum_is_refused_by_name(x, y, told) -> None:
    with pytest.raises(SpectraError, match=f"film.csv.*{told}"):
        Spectrum(x, y, Origin("film.csv"))


def test_a_stack_refuses_gaps_it_is_told_to_use() -> None:
    rows = np.ones((2, X.size))
    rows[1, 3] = np.nan
    with pytest.raises(SpectraError, match="b1: has gaps inside the range that is used"):
        Stack(X, rows, ("a", "b"), ("a1", "b1"))
    usable = np.arange(X.size) != 3
    assert len(Stack(X, rows, ("a", "b"), ("a1", "b1"), usable)) == 2


def test_a_stack_refuses_shapes_that_disagree() -> None:
    with pytest.raises(
        SpectraError, match=r"a stack of shape \(1, 50\) was given names and grid for \(2, 50\)"
    ):
        Stack(X, np.ones((1, X.size)), ("a", "b"), ("a1", "b1"))


def test_faults_are_added_not_replaced() -> None:
    one, two = (Fault(code, "note", "line 1", "found", "remedy") for code in ("one", "two"))
    both = spectrum().with_faults([one]).with_faults([two])
    assert [fault.code for fault in both.origin.faults] == ["one", "two"]
    assert both.origin.name == "film.csv [column 2]"
