"""The trial of every band's fate: that its truth is true, that it counts right, and a small share of it."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binomtest

from spectra.findings import CHANGED, PRESENT, UNCHANGED, Chemistry, Reason
from tests import fatefigures, fatetrial
from tests.fatecells import CELLS, MARGIN, Bench, draw_bench, every_material, kind, measure, usual_scene
from tests.fatetrial import PLANS, Task, first_named
from tests.films import edited, film_in_bands, moved, split
from tests.scenes import BACKGROUND, GRID, Scene, film_of, kramers_kronig, oscillator, specimen_of
from tests.visibility import residue_bounds, thickness_bound, visible

MIDDLE = (GRID > 600.0) & (GRID < 3600.0)
PAIR = "protein on polylactide"


def test_the_bands_of_a_film_add_up_to_it() -> None:
    for material in ("protein", "PMMA", "SiO2", "polystyrene__Myers"):
        film = film_in_bands(material)
        np.testing.assert_allclose(film.eps, film_of(material), atol=1e-12)


def test_the_real_part_of_a_band_is_its_kramers_kronig_partner() -> None:
    # The oscillator's own real part, from the Faddeeva function, is exact.
    band = oscillator(1650.0, 50.0, 0.3)
    found = kramers_kronig(band.imag[None])[0]
    np.testing.assert_allclose(found[MIDDLE], band.real[MIDDLE], atol=0.01 * np.abs(band).max())


@pytest.mark.parametrize("by", [-22.0, -6.0, 1.0, 12.0])
def test_a_moved_band_is_the_oscillator_at_its_new_place(by: float) -> None:
    band, there = oscillator(1100.0, 22.0, 0.35), oscillator(1100.0 + by, 22.0, 0.35)
    # The part from negative wavenumbers stays behind, hence not exact.
    np.testing.assert_allclose(moved(band, by)[MIDDLE], there[MIDDLE], atol=0.003 * np.abs(band).max())


def test_an_edit_changes_its_band_and_nothing_else() -> None:
    film = film_in_bands("polyether")
    shift, height = np.zeros(film.positions.size), np.ones(film.positions.size)
    np.testing.assert_array_equal(edited(film, shift, height), film.eps)
    shift[6], height[6] = 12.0, 0.5
    changed = edited(film, shift, height) - film.eps
    expected = 0.5 * oscillator(1112.0, 22.0, 0.35) - oscillator(1100.0, 22.0, 0.35)
    np.testing.assert_allclose(changed[MIDDLE], expected[MIDDLE], atol=0.005)
    np.testing.assert_allclose(
        split(film, 6, 1.0, 12.0)[MIDDLE],
        (oscillator(1112.0, 22.0, 0.35) - oscillator(1100.0, 22.0, 0.35))[MIDDLE],
        atol=0.005,
    )


def test_specimens_share_the_variance_that_lies_between_them() -> None:
    rng, scene = np.random.default_rng(1), Scene("protein", ("polylactide",))
    drawn = [specimen_of(scene, rng, between=0.7) for _ in range(300)]
    assert drawn[0].scatter ** 2 == pytest.approx(0.3 * scene.scatter**2)
    between = np.var([one.strengths[0] for one in drawn], axis=0).mean()
    assert between == pytest.approx(0.7 * scene.scatter**2, rel=0.05)  # 4,200 draws: 2.2 % of a variance
    assert np.std(np.log([one.touch for one in drawn])) == pytest.approx(0.7**0.5 * 0.05, rel=0.15)


def test_bounds_fall_with_the_root_of_the_spots_and_rise_under_the_substrate() -> None:
    one, four = (visible(usual_scene(PAIR), 20.0, n, n) for n in (1, 4))
    np.testing.assert_allclose(one.shift, 2.0 * four.shift)
    assert thickness_bound(usual_scene(PAIR), 1.0, 1, 1) == pytest.approx(
        2.0 * thickness_bound(usual_scene(PAIR), 1.0, 4, 4)
    )
    # The protein's weak 1080 lies under polylactide's 1083; on polyolefin nothing is near.
    free = visible(Scene("protein", ("polyolefin",)), 20.0, 4, 4)
    assert four.height[8] > 2.0 * free.height[8]
    assert four.strength.sum() == pytest.approx(1.0)
    assert (residue_bounds(usual_scene(PAIR), 60.0, ("acetic acid", 0.15), 4, 6) > 0).all()


def test_no_stranger_is_the_coating_or_its_substrate_by_another_name() -> None:
    names = every_material()
    assert len(names) == len(set(names)) >= 34
    assert kind("terephthalate") == kind("PET") == kind("polyethylene_terephthalate__Zhang")
    assert kind("PMMA") == kind("poly_methyl_methacrylate__Tsuda-BB") != kind("PC")


@pytest.mark.parametrize("cell", ["moved-1.5", "moved-2", "moved-3"])
def test_one_band_moves_by_so_many_margins(cell: str) -> None:
    sample = CELLS[cell](draw_bench(PAIR, False, np.random.default_rng(2)), np.random.default_rng(2))
    assert sample is not None
    assert np.flatnonzero(sample.shift).tolist() == [sample.target]
    assert abs(sample.shift).max() == float(cell.split("-")[1]) * MARGIN


def test_every_cell_of_every_plan_can_be_drawn_on_every_kind_of_pair() -> None:
    for designs, _ in PLANS.values():
        assert {cell for cells in designs.values() for cell in cells} <= set(CELLS)
    for pair in (PAIR, "SiO2 on PS"):
        bench = draw_bench(pair, True, np.random.default_rng(3))
        drawn = {name: cell(bench, np.random.default_rng(4)) for name, cell in CELLS.items()}
        undrawn = {name for name, sample in drawn.items() if sample is None and not name.startswith("as ")}
        assert undrawn <= {"broad-3", "halved", "lost"}
        rows, names = measure(bench, drawn["unchanged-30"], np.random.default_rng(5))
        assert names == ["s1"] * 3 + ["s2"] * 3 + ["s3"] * 3
        assert np.isfinite(rows).all()


def test_a_film_of_the_scene_measures_what_the_scene_says() -> None:
    scene = replace(usual_scene(PAIR), scatter=0.0, contact=0.0, noise=0.0, drift=0.0, vapour=0.0)
    bench = Bench(PAIR, replace(scene, jitter=0.0, moisture=0.0), 0.95, False)
    sample = CELLS["unchanged-60"](bench, np.random.default_rng(1))
    rows, _ = measure(bench, sample, np.random.default_rng(1))
    assert np.ptp(rows, axis=0).max() == pytest.approx(0.0, abs=1e-12)
    assert BACKGROUND == 2.25


# -- counting ----------------------------------------------------------------------------------------

RECORD = {
    "cell": "moved-3", "pair": PAIR, "design": "flat", "repeat": 0, "seed": 1, "nm": 60.0, "layer": None,
    "presence": PRESENT, "chemistry": CHANGED, "first_is_target": True, "found_nm": [60.0, 50.0, 70.0],
    "unexplained": [], "residue": None, "substrate": UNCHANGED, "seconds": 0.1,
    "bands": [{"low": -1.0, "high": 1.0, "true_shift": 0.0}, {"low": 11.0, "high": 11.5, "true_shift": 12.0}],
}  # fmt: skip


def test_shares_have_their_exact_interval_and_their_goal() -> None:
    wrong = RECORD | {"chemistry": UNCHANGED, "first_is_target": False}
    lines = list(fatefigures.report([RECORD, RECORD, RECORD, wrong]))
    row = next(line for line in lines if line.startswith("by 3 margins: called changed"))
    ends = binomtest(3, 4).proportion_ci()  # scipy: Clopper and Pearson
    assert f"3 /     4   75.0 % [ {100 * ends.low:.1f},  {100 * ends.high:.1f}]" in row
    assert row.endswith("MISSED")
    unmoved, shifted = (next(line for line in lines if f"truth, {what}" in line) for what in ("unm", "mov"))
    assert "4 /     4" in unmoved
    assert "0 /     4" in shifted


def test_two_versions_are_compared_sample_by_sample() -> None:
    other = RECORD | {"repeat": 1}
    assert list(fatefigures.differences([RECORD], [RECORD, other])) == []
    (line,) = fatefigures.differences([RECORD, other], [RECORD, other | {"chemistry": UNCHANGED}])
    assert line.endswith("chemistry: changed -> unchanged")


def test_the_first_reason_names_a_band_or_none() -> None:
    moved_band, other = Reason("shifted", {"position": 1650.0}), Reason("lost-band", {"position": 1540.0})
    assert first_named(Chemistry(CHANGED, (moved_band, other))) == 1650.0
    assert first_named(Chemistry(CHANGED, (Reason("presence-open"), moved_band))) is None


# -- a small share of the trial ------------------------------------------------------------------------


def small(*cells: str, pairs: tuple[str, ...] = (PAIR, "polyether on terephthalate")) -> list[dict]:
    tasks = [Task(pair, "flat", cells, 0, 7) for pair in pairs]
    return [record for task in tasks for record in fatetrial.run(task)]


def test_nothing_is_found_where_nothing_is_and_no_stranger_is_the_coating() -> None:
    records = small("bare", "other", "unchanged-60")
    assert [r["presence"] == PRESENT for r in records] == [False, False, True] * 2
    assert CHANGED not in {r["chemistry"] for r in records}
    assert json.loads(json.dumps(records)) == records


def test_the_same_task_sees_the_same_spectra_whatever_else_is_asked() -> None:
    (alone,) = small("bare", pairs=(PAIR,))
    _, beside = small("unchanged-1", "bare", pairs=(PAIR,))
    assert {k: v for k, v in alone.items() if k != "seconds"} == {
        k: v for k, v in beside.items() if k != "seconds"
    }
