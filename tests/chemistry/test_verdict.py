"""The classical decision on data with known truth, errors counted."""

from __future__ import annotations

import numpy as np
import pytest

from spectra.chemistry.band_tests import look_for_bands
from spectra.chemistry.shifts import measure_shift
from spectra.chemistry.verdict import Judged, band_finding, judge_bands_at_rest
from spectra.decision import DecisionSettings
from spectra.findings import CANNOT_TELL, CHANGED, NOT_SHOWN, PRESENT, UNCHANGED, Assigned
from spectra.peaks.reference import measure_reference
from spectra.peaks.settings import PeakSettings
from spectra.peaks.window_fit import (
    COATING_SPREAD,
    SUBSTRATE_SPREAD,
    Others,
    agreement,
    fit_rows,
    window_around,
)
from spectra.replicates import Units, units_of
from spectra.spectrum import Stack
from tests.bandrule import presence_by_bands

GRID = np.arange(900.0, 1900.0, 2.0)
SUBSTRATE = ((1730, 20, 1.0), (1170, 30, 0.8), (1450, 18, 0.3), (1040, 25, 0.4))
COATING = ((1655, 45, 0.30), (1540, 40, 0.22), (1235, 40, 0.10), (1080, 30, 0.08))
FOREIGN = ((1655, 45, 0.30), (1600, 30, 0.25), (1330, 30, 0.25), (980, 30, 0.2))


def drawn(
    bands: tuple[tuple[float, float, float], ...], moved: float = 0.0, scatter: np.ndarray | None = None
) -> np.ndarray:
    sizes = np.ones(len(bands)) if scatter is None else scatter
    return sum(
        size * h * np.exp(-4 * np.log(2) * ((GRID - c - moved) / w) ** 2)
        for size, (c, w, h) in zip(sizes, bands, strict=True)
    )


def spots(
    rng: np.random.Generator, count: int, film: np.ndarray, scatter: float = 0.02, noise: float = 2e-4
) -> Stack:
    """Substrate bands that vary on their own by ``scatter``, plus a film, plus noise."""
    rows = [
        drawn(SUBSTRATE, scatter=1 + scatter * rng.normal(size=4)) + film + noise * rng.normal(size=GRID.size)
        for _ in range(count)
    ]
    names = tuple(f"s{i}" for i in range(count))
    return Stack(GRID, rows, names, names)


def judged(rng: np.random.Generator, film: np.ndarray, bare: int = 5, coated: int = 3, **settings: float):
    decision = DecisionSettings(**settings)
    neat = Stack(GRID, [drawn(COATING)] * 2, ("n1", "n2"), ("n1", "n2"))
    reference = measure_reference(neat, "neat", PeakSettings())
    bare_stack = spots(rng, bare, 0.0)
    others = Others(bare_stack.mean[:, None], np.array([SUBSTRATE_SPREAD]))
    sample, nothing = units_of(spots(rng, coated, film)), units_of(bare_stack)
    evidence = look_for_bands(sample, nothing, reference, others, bare_stack, decision)
    differences = sample.rows - nothing.rows.mean(axis=0)
    shifts = [measure_shift(e, differences, reference, others, GRID, decision) for e in evidence]
    bands = [band_finding(Judged(e, s, Assigned()), decision) for e, s in zip(evidence, shifts, strict=True)]
    return (
        presence_by_bands(evidence, sample, nothing, coated, decision),
        judge_bands_at_rest(bands, decision),
        bands,
    )


def test_bare_samples_are_hardly_ever_called_present() -> None:
    rng = np.random.default_rng(1)
    verdicts = [judged(rng, 0.0)[0].verdict for _ in range(200)]
    assert verdicts.count(PRESENT) <= 1  # two bands after Holm at 1 %: far below one in a hundred
    assert verdicts.count(NOT_SHOWN) >= 180


def test_coated_samples_are_found() -> None:
    rng = np.random.default_rng(2)
    verdicts = [judged(rng, 0.1 * drawn(COATING))[0].verdict for _ in range(60)]
    assert verdicts.count(PRESENT) >= 58


def test_wrong_coatings_that_share_one_band_are_not_called_present() -> None:
    rng = np.random.default_rng(3)
    verdicts = [judged(rng, 0.1 * drawn(FOREIGN))[0].verdict for _ in range(100)]
    assert verdicts.count(PRESENT) <= 2


def test_interval_of_the_amount_covers_the_truth() -> None:
    rng = np.random.default_rng(4)
    found = [judged(rng, 0.1 * drawn(COATING))[0] for _ in range(200)]
    covered = sum(p.amount_low <= 0.1 <= p.amount_high for p in found)
    assert covered >= 186  # 95 % of 200 is 190, its 1 % point 182; the wider of two scatters errs upward


def test_detection_at_the_detectable_amount_has_the_power() -> None:
    # The joint amount, tested alone, at exactly its stated detectable amount: 95 % power stated.
    rng = np.random.default_rng(5)
    limit = float(np.median([judged(rng, 0.0)[0].detectable_amount for _ in range(60)]))
    calls = [judged(rng, limit * drawn(COATING))[0] for _ in range(120)]
    assert 0.85 <= np.mean([p.amount > p.critical_amount for p in calls]) <= 0.995


def test_an_unchanged_coating_is_unchanged_and_a_moved_one_changed() -> None:
    rng = np.random.default_rng(6)
    same = [judged(rng, 0.3 * drawn(COATING))[1].verdict for _ in range(60)]
    moved = [judged(rng, 0.3 * drawn(COATING, moved=8.0))[1].verdict for _ in range(60)]
    assert same.count(CHANGED) == 0
    assert same.count(UNCHANGED) >= 50
    assert moved.count(CHANGED) >= 58
    assert moved.count(UNCHANGED) == 0


def test_measured_shifts_are_true_and_their_intervals_cover() -> None:
    rng = np.random.default_rng(7)
    true, rows = 2.5, []
    for _ in range(100):
        _, _, bands = judged(rng, 0.3 * drawn(COATING, moved=true))
        rows += [b for b in bands if b.shift is not None]
    assert len(rows) > 250
    assert np.mean([b.shift for b in rows]) == pytest.approx(true, abs=0.15)
    assert np.mean([b.shift_low <= true <= b.shift_high for b in rows]) > 0.93


def test_what_changed_names_a_band_that_was_moved_and_what_is_open_gives_its_interval() -> None:
    rng = np.random.default_rng(8)
    one = drawn(COATING) - drawn((COATING[1],)) + drawn((COATING[1],), moved=-9.0)
    found = [judged(rng, 0.3 * one)[1] for _ in range(30)]
    assert sum(c.verdict == CHANGED for c in found) >= 28
    named = [r for c in found if c.verdict == CHANGED for r in c.reasons]
    assert {(r.code, round(r.values["position"], -1)) for r in named} == {("shifted", 1540.0)}
    assert np.mean([r.values["shift"] for r in named]) == pytest.approx(-9.0, abs=0.3)
    dim = [judged(rng, 0.3 * drawn(COATING, moved=3.5))[1] for _ in range(30)]
    assert {c.verdict for c in dim} <= {CANNOT_TELL, UNCHANGED}
    assert {r.code for c in dim if c.verdict == CANNOT_TELL for r in c.reasons} == {"interval-too-wide"}


def test_subtracted_coating_is_not_merely_not_shown() -> None:
    rng = np.random.default_rng(9)
    presence = judged(rng, -0.2 * drawn(COATING))[0]
    assert presence.verdict == CANNOT_TELL
    assert presence.reasons[0].code == "negative-amount"


def test_masked_everywhere_cannot_tell() -> None:
    presence = judged(np.random.default_rng(10), 0.0, mask_amount=1e-9, mask_never=0.0)[0]
    assert (presence.verdict, presence.reasons[0].code) == (CANNOT_TELL, "all-masked")


def test_local_fit_agrees_with_a_plain_least_squares_fit() -> None:
    # numpy.linalg.lstsq on the written-out model as the slow, obvious version
    rng = np.random.default_rng(11)
    window = window_around(GRID, np.ones(GRID.size, bool), 1655.0, 45.0)
    assert window is not None
    row = 0.07 * drawn(COATING) + 0.01 * drawn(SUBSTRATE) + 1e-5 * GRID + 1e-4 * rng.normal(size=GRID.size)
    others = Others(drawn(SUBSTRATE)[:, None], np.array([1e6]))  # a prior too wide to matter
    found = fit_rows(row[None, :], GRID, drawn(COATING), others, window)[0, 0]
    at = window.points
    design = np.column_stack([drawn(COATING)[at], drawn(SUBSTRATE)[at], np.ones(at.size), GRID[at]])
    assert found == pytest.approx(np.linalg.lstsq(design, row[at], rcond=None)[0][0], rel=1e-6)


def test_agreement_tells_the_expected_band_from_another() -> None:
    window = window_around(GRID, np.ones(GRID.size, bool), 1655.0, 45.0)
    assert window is not None
    others = Others(drawn(SUBSTRATE)[:, None], np.array([COATING_SPREAD]))
    assert agreement(0.01 * drawn(COATING), drawn(COATING), others, GRID, window) == pytest.approx(1.0)
    assert agreement(drawn(((1615, 20, 1.0),)), drawn(COATING), others, GRID, window) < 0.7


def test_one_unit_more_or_less_is_not_needed_for_the_same_amount() -> None:
    rng = np.random.default_rng(12)
    two = judged(rng, 0.2 * drawn(COATING), bare=2)[0]
    assert two.critical_amount > judged(rng, 0.2 * drawn(COATING), bare=8)[0].critical_amount
    assert isinstance(units_of(spots(rng, 2, 0.0)), Units)
