"""Where the scale is taken and what it undoes: against plain fits and known contacts."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from spectra.errors import SpectraError
from spectra.preprocessing.normalisation import choose_levelling, normalise, normalise_coated, scales
from spectra.preprocessing.settings import NormalisationSettings
from spectra.spectrum import Stack

GRID = np.arange(800.0, 2000.0, 4.0)


def gauss(centre: float, width: float = 20.0, height: float = 1.0) -> np.ndarray:
    return height * np.exp(-(((GRID - centre) / width) ** 2))


SUBSTRATE = gauss(1730.0, 15.0, 0.6) + gauss(1100.0, 25.0, 0.4)
COATING = gauss(1650.0, 30.0) + gauss(1100.0, 20.0, 0.5)


def stack(*rows: np.ndarray, usable: np.ndarray | None = None) -> Stack:
    names = tuple(f"s{i}" for i in range(len(rows)))
    marks = np.ones(GRID.size, bool) if usable is None else usable
    return Stack(GRID, np.array(rows), names, names, marks)


BARE = stack(SUBSTRATE, 1.1 * SUBSTRATE, 0.9 * SUBSTRATE)
SETTINGS = NormalisationSettings()


def test_points_are_strong_in_the_substrate_and_free_of_every_coating() -> None:
    level = choose_levelling(BARE, {"film": stack(COATING)}, SETTINGS)
    by_hand = (0.15 * SUBSTRATE.max() <= SUBSTRATE) & (0.05 * COATING.max() >= COATING)
    assert level.points.tolist() == by_hand.tolist()
    assert (level.faults, level.method) == ((), "substrate")
    other = choose_levelling(BARE, {"film": stack(COATING), "top": stack(gauss(1752.0, 3.0))}, SETTINGS)
    assert np.all(level.points | ~other.points)
    assert 8 <= np.count_nonzero(other.points) < np.count_nonzero(level.points)


def test_what_is_left_out_takes_no_part() -> None:
    usable = GRID < 1740.0
    level = choose_levelling(
        stack(SUBSTRATE, SUBSTRATE, usable=usable), {"film": stack(COATING, usable=usable)}, SETTINGS
    )
    assert not level.points[~usable].any()


@given(st.lists(st.floats(0.2, 5.0), min_size=1, max_size=5), st.floats(0.0, 2.0), st.floats(-0.3, 0.3))
def test_contact_is_undone_whatever_coating_and_offset(
    contacts: list[float], film: float, offset: float
) -> None:
    level = choose_levelling(BARE, {"film": stack(COATING)}, SETTINGS)
    rows = [c * (SUBSTRATE + film * COATING) + offset for c in contacts]
    levelled = normalise(stack(*rows), level).absorbance
    # The coating's feet under the substrate's band, up to a twentieth, are the price.
    clean = np.abs(GRID - 1650.0) < 8.0
    heights = levelled[:, clean].max(axis=1) - levelled[:, GRID > 1900.0].mean(axis=1)
    assert heights == pytest.approx(np.full(len(contacts), heights[0]), rel=1e-6)


def test_the_scale_is_the_slope_of_a_regression_on_the_bare_mean() -> None:
    level = choose_levelling(BARE, {"film": stack(COATING)}, SETTINGS)
    row = 0.7 * SUBSTRATE + 0.02 * np.random.default_rng(1).normal(size=GRID.size) + 0.1
    slope = stats.linregress(BARE.mean[level.points], row[level.points]).slope
    assert scales(stack(row), level)[0] == pytest.approx(1.0 / slope)


def test_a_flat_stretch_is_scaled_by_its_level() -> None:
    flat = stack(np.full(GRID.size, 0.2), np.full(GRID.size, 0.2))
    by_hand = NormalisationSettings(low=900.0, high=1000.0)
    level = choose_levelling(flat, {}, by_hand)
    assert scales(stack(np.full(GRID.size, 0.1)), level)[0] == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("method", "size"),
    [
        ("area", lambda row: row.mean()),
        ("maximum", lambda row: row.max()),
        ("vector", lambda row: np.sqrt(np.mean(row**2))),
        ("none", lambda row: row.size / row.size),
    ],
)
def test_the_other_methods_scale_each_spectrum_by_itself(method: str, size) -> None:
    settings = NormalisationSettings(method=method, low=1000.0, high=1200.0)
    level = choose_levelling(BARE, {"film": stack(COATING)}, settings)
    inside = (GRID >= 1000.0) & (GRID <= 1200.0)
    assert level.points.tolist() == inside.tolist()
    row = 0.7 * SUBSTRATE + 0.05
    assert scales(stack(row), level)[0] == pytest.approx(1.0 / size(row[inside]))


def test_one_end_of_a_region_may_be_open() -> None:
    low = choose_levelling(BARE, {}, NormalisationSettings(low=1500.0)).points
    high = choose_levelling(BARE, {}, NormalisationSettings(high=1500.0)).points
    assert low.tolist() == (GRID >= 1500.0).tolist()
    assert high.tolist() == (GRID <= 1500.0).tolist()


def test_where_no_point_is_free_of_the_coating_the_cleanest_are_taken_and_it_is_said() -> None:
    covering = stack(SUBSTRATE + 0.2 * gauss(1400.0, 600.0))
    level = choose_levelling(BARE, {"film": covering}, SETTINGS)
    (fault,) = level.faults
    assert (fault.code, fault.severity) == ("normalisation-overlap", "warning")
    strong = 0.15 * SUBSTRATE.max() <= SUBSTRATE
    share = covering.mean / covering.mean.max()
    assert level.points.tolist() == (strong & (share <= np.quantile(share[strong], 0.2))).tolist()
    assert f"up to {100 * np.quantile(share[strong], 0.2):.0f} % of its highest" in fault.found


def test_treated_material_without_a_coating_uses_all_of_its_bands() -> None:
    level = choose_levelling(BARE, {}, SETTINGS)
    assert level.points.tolist() == (0.15 * SUBSTRATE.max() <= SUBSTRATE).tolist()


def test_a_coated_spot_without_substrate_is_drawn_as_bare_ones_are_and_named() -> None:
    level = choose_levelling(stack(SUBSTRATE, 2.0 * SUBSTRATE), {}, NormalisationSettings())
    bare = scales(stack(SUBSTRATE, 2.0 * SUBSTRATE), level)
    coated, faults = normalise_coated(stack(SUBSTRATE, -SUBSTRATE), level, bare)
    assert [(fault.code, fault.where) for fault in faults] == [("normalisation-covered", "s1")]
    np.testing.assert_allclose(coated.absorbance[0], scales(stack(SUBSTRATE), level)[0] * SUBSTRATE)
    np.testing.assert_allclose(coated.absorbance[1], -float(np.median(bare)) * SUBSTRATE)
    assert normalise_coated(stack(SUBSTRATE), level, bare)[1] == ()


def test_what_cannot_be_scaled_is_refused_by_name() -> None:
    level = choose_levelling(BARE, {"film": stack(COATING)}, SETTINGS)
    with pytest.raises(SpectraError, match=r"^s1: shows no substrate to normalise on; check"):
        scales(stack(SUBSTRATE, -SUBSTRATE), level)
    with pytest.raises(SpectraError, match=r"holds 2 usable points; expected at least 8: widen it"):
        choose_levelling(BARE, {}, NormalisationSettings(low=1000.0, high=1004.0))
    with pytest.raises(SpectraError, match="the bare spectra have no band above their baseline"):
        choose_levelling(stack(-SUBSTRATE), {"film": stack(COATING)}, SETTINGS)
