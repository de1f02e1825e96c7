"""Common grid, baseline and normalisation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectra.errors import SettingError, SpectraError
from spectra.preprocessing.baseline import penalty_weight, subtract_baselines
from spectra.preprocessing.common_grid import Placed, put_on_common_grid, resample
from spectra.preprocessing.normalisation import choose_levelling, normalise
from spectra.preprocessing.settings import BaselineSettings, FootingSettings, NormalisationSettings
from spectra.spectrum import Origin, Spectrum, Stack


def gauss(x: np.ndarray, centre: float, width: float) -> np.ndarray:
    return np.exp(-4 * np.log(2) * ((x - centre) / width) ** 2)


def placed(x: np.ndarray, y: np.ndarray, name: str, role: str = "bare", group: str = "substrate") -> Placed:
    return Placed(Spectrum(x, y, Origin(name)), role, group, name)


def test_one_shared_axis_is_taken_over_point_by_point() -> None:
    x = np.arange(600.0, 1800.0, 1.93)
    rows = [np.sin(x / 80), np.cos(x / 80)]
    stack = put_on_common_grid([placed(x, y, str(i)) for i, y in enumerate(rows)], FootingSettings())
    stack = stack["bare", "substrate"]
    assert np.array_equal(stack.grid, x)
    assert np.array_equal(stack.absorbance, rows)


@settings(max_examples=40, deadline=None)
@given(st.floats(0.5, 4.0), st.floats(0.5, 4.0), st.floats(600, 700), st.floats(1500, 1800))
def test_grid_never_leaves_the_measured_range_nor_gets_finer(
    one: float, two: float, low: float, high: float
) -> None:
    a, b = np.arange(low, 1900.0, one), np.arange(500.0, high, two)
    stacks = put_on_common_grid(
        [placed(a, a * 0 + 0.1, "a"), placed(b, b * 0 + 0.1, "b", "neat", "x")], FootingSettings()
    )
    grid = stacks["bare", "substrate"].grid
    assert grid[0] >= max(a[0], b[0]) - 1e-9
    assert grid[-1] <= min(a[-1], b[-1]) + 1e-9
    assert grid[1] - grid[0] == pytest.approx(max(one, two))


def test_resampled_band_keeps_its_place_and_height() -> None:
    x = np.arange(1600.0, 1860.0, 2.0)
    fine = np.arange(1650.0, 1800.0, 0.5)
    found = resample(Spectrum(x, gauss(x, 1731.3, 16.0), Origin("a")), fine)
    assert np.abs(found - gauss(fine, 1731.3, 16.0)).max() < 2e-4


def test_gap_is_not_bridged() -> None:
    x = np.arange(900.0, 1900.0, 2.0)
    y = gauss(x, 1700.0, 30.0)
    y[(x > 1200) & (x < 1300)] = np.nan
    stacks = put_on_common_grid([placed(x, y, "gap"), placed(x + 0.7, y, "other")], FootingSettings())
    stack = stacks["bare", "substrate"]
    hidden = (stack.grid > 1203) & (stack.grid < 1297)
    assert not stack.usable[hidden].any()
    assert stack.usable[(stack.grid < 1190) | (stack.grid > 1310)].all()


def test_wavelength_axis_has_no_gaps() -> None:
    x = np.sort(1e4 / np.arange(2.6, 15.0, 0.01))
    stacks = put_on_common_grid([placed(x, gauss(x, 1700.0, 300.0), "um")], FootingSettings(leave_out=()))
    assert stacks["bare", "substrate"].usable.all()


def test_spectra_without_common_range_are_refused() -> None:
    a, b = np.arange(600.0, 900.0), np.arange(1000.0, 1300.0)
    with pytest.raises(
        SpectraError, match=r"b starts at 1000 cm-1 and a ends at 899 cm-1: they share no range"
    ):
        put_on_common_grid([placed(a, a * 0, "a"), placed(b, b * 0, "b")], FootingSettings())


def test_settings_are_checked() -> None:
    with pytest.raises(SettingError, match=r"'period' of BaselineSettings is 5\.0 cm-1; expected 50"):
        BaselineSettings(period=5.0)


def test_penalty_grows_with_the_fourth_power_of_the_points() -> None:
    # Best log10 weight for arPLS of one spectrum at N = 551 and 1101 differed by 1.2 per doubling (computed)
    ratio = penalty_weight(300.0, 1.0) / penalty_weight(300.0, 2.0)
    assert np.log10(ratio) == pytest.approx(1.204, abs=1e-3)


@pytest.mark.parametrize("step", [1.0, 2.0, 4.0])
def test_one_period_means_one_baseline_on_any_grid(step: float) -> None:
    fine = np.arange(800.0, 1900.0, 1.0)
    x = np.arange(800.0, 1900.0, step)

    def flat(grid: np.ndarray) -> np.ndarray:
        drift = 0.05 * np.sin(grid / 700) + 1e-4 * (grid - 800)
        noise = 1e-5 * np.random.default_rng(1).normal(size=grid.size)
        y = drift + 0.3 * gauss(grid, 1730, 20) + 0.2 * gauss(grid, 1170, 30) + noise
        return subtract_baselines(Stack(grid, [y], ("a",), ("a",)), BaselineSettings()).absorbance[0]

    assert np.abs(np.interp(x, fine, flat(fine)) - flat(x)).max() < 0.004


def scene(scale: float) -> tuple[Stack, Stack, Stack]:
    x = np.arange(900.0, 1900.0, 2.0)
    substrate = gauss(x, 1730, 20) + 0.6 * gauss(x, 1170, 30)
    coating = gauss(x, 1650, 45) + 0.5 * gauss(x, 1540, 40)
    bare = Stack(x, [substrate, 1.1 * substrate], ("a", "b"), ("a", "b"))
    coated = Stack(x, [scale * (substrate + 0.3 * coating)], ("c",), ("c",))
    return bare, Stack(x, [coating], ("n",), ("n",)), coated


@pytest.mark.parametrize("scale", [0.4, 1.0, 2.5])
def test_substrate_normalising_undoes_contact(scale: float) -> None:
    bare, neat, coated = scene(scale)
    level = choose_levelling(bare, {"film": neat}, NormalisationSettings())
    found = normalise(coated, level).absorbance[0]
    expected = scene(1.05)[2].absorbance[0]  # the mean of the bare spots is 1.05 substrates
    assert np.abs(found - expected).max() < 0.01


@pytest.mark.parametrize("method", ["area", "maximum", "vector"])
def test_other_methods_give_one_size(method: str) -> None:
    bare, neat, coated = scene(2.0)
    level = choose_levelling(bare, {"film": neat}, NormalisationSettings(method=method))
    size = {"area": np.mean, "maximum": np.max, "vector": lambda y: np.sqrt(np.mean(y**2))}[method]
    for stack in (bare, coated):
        assert [size(row) for row in normalise(stack, level).absorbance] == pytest.approx([1.0] * len(stack))


def test_overlapping_coating_is_said() -> None:
    bare, _, _ = scene(1.0)
    level = choose_levelling(bare, {"same": bare.take([0])}, NormalisationSettings())
    assert [fault.code for fault in level.faults] == ["normalisation-overlap"]


def test_empty_normalisation_region_is_refused() -> None:
    bare, neat, _ = scene(1.0)
    with pytest.raises(
        SpectraError, match="region 3000 to 3100 cm-1 holds 0 usable points; expected at least 8"
    ):
        choose_levelling(bare, {"film": neat}, NormalisationSettings(low=3000, high=3100))
