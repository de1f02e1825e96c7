"""Rounding, checked against JCGM 100:2008 (the GUM), 7.2.2 and 7.2.6; its examples are from memory."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spectra.report.words import numerals


# Mass standard of JCGM 100:2008, 7.2.2: y = 100.02147 g, u = 0.35 mg; U = 0.79 mg.
@pytest.mark.parametrize(
    ("uncertainty", "places"), [(0.00035, 5), (0.00079, 5), (10.47, 0), (0.0996, 2), (1.0, 1), (123.0, -1)]
)
def test_two_significant_digits_of_the_uncertainty(uncertainty: float, places: int) -> None:
    assert numerals.places(uncertainty) == places


@pytest.mark.parametrize(
    ("value", "low", "high", "written"),
    [
        # y = 10.05762 ohm with u = 27 milliohm is 10.058 ohm (JCGM 100:2008, 7.2.6)
        (10.05762, 10.05762 - 0.027, 10.05762 + 0.027, "10.058 ohm (10.031 to 10.085 ohm)"),
        (100.02147, 100.02147 - 0.00079, 100.02147 + 0.00079, "100.02147 ohm (100.02068 to 100.02226 ohm)"),
        (1234.0, 1000.0, 1468.0, "1230 ohm (1000 to 1470 ohm)"),
        (0.0, -0.01, 0.01, "0.000 ohm (-0.010 to 0.010 ohm)"),
    ],
)
def test_an_interval_rounds_its_value(value: float, low: float, high: float, written: str) -> None:
    assert numerals.with_interval(value, low, high, "ohm") == written


def test_a_number_without_an_interval_says_so() -> None:
    assert "interval not determined" in numerals.with_interval(0.4, None, 1.0, "cm-1")
    assert "interval not determined" in numerals.with_interval(0.4, 1.0, 1.0, "cm-1")
    for nothing in (None, math.nan, math.inf):
        assert numerals.with_interval(nothing, 0.0, 1.0) == numerals.MISSING
        assert numerals.position(nothing, 1.0) == numerals.MISSING
        assert numerals.limit(nothing) == numerals.MISSING


@given(st.floats(-1e5, 1e5), st.floats(1e-6, 1e4))
def test_rounding_moves_a_value_by_less_than_a_tenth_of_its_uncertainty(value: float, half: float) -> None:
    written = numerals.with_interval(value, value - half, value + half).split(" ")[0]
    assert abs(float(written) - value) <= 0.0501 * half + 1e-9 * abs(value)


@given(st.floats(1e-12, 1.0))
def test_a_probability_is_never_written_as_zero(value: float) -> None:
    written = numerals.probability(value)
    assert written == "below 0.0001" if value < 1e-4 else float(written) > 0
