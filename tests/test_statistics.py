"""Critical and detectable values against published tables and worked examples."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import nct
from statsmodels.stats.multitest import multipletests

from spectra.replicates import Units, leave_one_out, unit_scatter
from spectra.statistics import critical_factor, detectable_factor, exceedance, holm


# Student's t and the non-central t factor of ISO 11843-2 / Currie 1995, both risks 5 %: the non-centrality
# values are computed (scipy.stats.nct by root finding), t.95 is the usual table.
@pytest.mark.parametrize(
    ("freedom", "t", "delta"),
    [
        (2, 2.920, 5.516),
        (3, 2.353, 4.456),
        (4, 2.132, 4.067),
        (5, 2.015, 3.870),
        (9, 1.833, 3.575),
        (19, 1.729, 3.415),
    ],
)
def test_factors_are_the_tabulated_ones(freedom: int, t: float, delta: float) -> None:
    assert critical_factor(0.05, freedom) == pytest.approx(t, abs=6e-4)
    assert detectable_factor(0.05, 0.95, freedom) == pytest.approx(delta, abs=6e-4)


@pytest.mark.parametrize("freedom", [1, 2, 4, 7, 30])
@pytest.mark.parametrize("alpha", [0.01, 0.05])
def test_detectable_factor_has_its_power(freedom: int, alpha: float) -> None:
    # scipy.stats.nct as the general-purpose reference
    factor = detectable_factor(alpha, 0.95, freedom)
    assert nct.sf(critical_factor(alpha, freedom), freedom, factor) == pytest.approx(0.95, abs=1e-4)


def test_holm_on_a_published_example() -> None:
    # Benjamini & Hochberg 1995 example p values; Holm-adjusted first five .0015 .0056 .0247 .1140 .2211
    p = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459]
    p += [0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0]
    adjusted = holm(np.array(p))
    assert adjusted[:5] == pytest.approx([0.0015, 0.0056, 0.0247, 0.1140, 0.2211], abs=1e-4)
    assert np.count_nonzero(adjusted <= 0.05) == 3
    assert adjusted == pytest.approx(multipletests(p, method="holm")[1])


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(0, 1), min_size=1, max_size=20))
def test_holm_agrees_with_statsmodels_in_any_order(p: list[float]) -> None:
    assert holm(np.array(p)) == pytest.approx(multipletests(p, method="holm")[1])


# Ten blanks (mA), both risks 5 %: critical and detectable net signals of K replicates, computed by the
# formulas of Currie 1995 / ISO 11843-2 with scipy.stats.nct: t(9) and delta(9) times s sqrt(1/K + 1/10).
@pytest.mark.parametrize(
    ("replicates", "critical", "detectable"), [(1, 0.6473, 1.2625), (3, 0.4063, 0.7924), (5, 0.3380, 0.6593)]
)
def test_critical_and_detectable_values_of_blanks(
    replicates: int, critical: float, detectable: float
) -> None:
    blanks = np.array([0.12, -0.35, 0.41, 0.05, -0.22, 0.30, -0.10, 0.55, -0.48, -0.18])
    units = Units(blanks[:, None], tuple("abcdefghij"), True)
    scatter = float(unit_scatter(leave_one_out(units))[0])
    assert scatter == pytest.approx(0.3367, abs=5e-5)
    error = scatter * np.sqrt(1 / replicates + 1 / 10)
    assert critical_factor(0.05, 9) * error == pytest.approx(critical, abs=1e-4)
    assert detectable_factor(0.05, 0.95, 9) * error == pytest.approx(detectable, abs=1e-4)


# Linear calibration, twelve points on 0 to 5, s_y / b = 0.0730, both risks 5 %: critical value (DIN 32645:
# Nachweisgrenze) and minimum detectable value (ISO 11843-2), computed; formulas of DIN 32645 from memory.
@pytest.mark.parametrize(("replicates", "critical", "detectable"), [(1, 0.1486, 0.2904), (3, 0.1020, 0.1995)])
def test_critical_and_detectable_values_of_a_calibration(
    replicates: int, critical: float, detectable: float
) -> None:
    x = np.repeat(np.arange(6.0), 2)
    y = np.array([0.4, -0.2, 10.3, 9.1, 20.6, 19.5, 29.2, 30.9, 40.8, 39.4, 49.1, 50.6])
    slope, level = np.polyfit(x, y, 1)
    residual = np.sqrt(np.sum((y - level - slope * x) ** 2) / 10)
    spread = np.sum((x - x.mean()) ** 2)
    error = residual / slope * np.sqrt(1 / replicates + 1 / x.size + x.mean() ** 2 / spread)
    assert critical_factor(0.05, 10) * error == pytest.approx(critical, abs=1e-4)
    assert detectable_factor(0.05, 0.95, 10) * error == pytest.approx(detectable, abs=2e-4)


def test_exceedance_is_one_sided() -> None:
    assert exceedance(np.array([0.0, 1.833, -1.833]), 9) == pytest.approx([0.5, 0.05, 0.95], abs=1e-4)
